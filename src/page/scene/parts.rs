//! Parts to draw: their surface as triangles or points, their shape's own numbers, and what makes them dangerous.

use serde_json::{Value, json};

use crate::geometry::Shape;
use crate::machine::{Edge, Part};
use crate::read::{At, value_text};
use crate::route::Route;

use super::{MM, at};
use crate::page::mesh::{Drawn, drawn};
use crate::page::packed;

/// One part; `text` is the route file's.
pub(super) fn of_part(route: &Route, text: &str, index: usize, part: &Part) -> Value {
    let (mesh, points, left) = match drawn(&part.shape) {
        Drawn::Mesh(mesh, left) => {
            let corners = mesh.corners.iter().flat_map(at);
            let mesh = json!({
                "at": packed::floats(corners),
                "triangles": packed::indices(mesh.triangles.iter().flatten().copied()),
            });
            (mesh, Value::Null, left)
        }
        Drawn::Points(points, left) => {
            let packed = packed::floats(points.iter().flat_map(at));
            (Value::Null, json!(packed), left)
        }
    };
    let thinned = match &part.shape {
        Shape::Scan(scan) if left > 0 => {
            let all = scan.surface.count();
            let kind = if scan.surface.spacing().is_some() {
                "points"
            } else {
                "triangles"
            };
            let drawn = all - left;
            Some(format!(
                "drawn with {drawn} {kind}; all its {all} are reckoned with, and touched"
            ))
        }
        _ => None,
    };
    let (kind, mut spec) = spec(&part.shape);
    if kind == "scan" {
        // Only the file knows where the scan comes from and in what unit its own numbers are.
        for name in ["file", "unit"] {
            spec[name] = json!(scan_value(text, index, name));
        }
    }
    json!({
        "name": part.name,
        "body": route.machine.bodies[part.on.0].name,
        "kind": kind,
        "spec": spec,
        "mesh": mesh,
        "points": points,
        "thinned": thinned,
        "hot_c": part.surface,
        "emissivity": part.emissivity,
        "edge": part.edge.map(|edge| match edge {
            Edge::Sharp => "sharp",
            Edge::Rolled => "rolled",
            Edge::Grommet => "grommet",
        }),
        "sharp": part.edge == Some(Edge::Sharp),
        "fluid": part.carries.map(|fluid| fluid.name()),
        "path": ["parts", index],
    })
}

/// A shape's kind and its numbers in millimetres.
fn spec(shape: &Shape) -> (&'static str, Value) {
    match shape {
        Shape::Tube { along, diameter } => (
            "tube",
            json!({ "along_mm": along.iter().map(at).collect::<Vec<_>>(), "diameter_mm": diameter * MM }),
        ),
        Shape::Block {
            centre,
            size,
            turned,
        } => (
            "box",
            json!({
                "centre_mm": at(centre),
                "size_mm": (size * MM).as_slice(),
                "axes": turned.matrix().as_slice(),
            }),
        ),
        Shape::Ball { centre, diameter } => (
            "ball",
            json!({ "centre_mm": at(centre), "diameter_mm": diameter * MM }),
        ),
        Shape::Cylinder { from, to, diameter } => (
            "cylinder",
            json!({ "from_mm": at(from), "to_mm": at(to), "diameter_mm": diameter * MM }),
        ),
        Shape::Scan(scan) => {
            let (low, high) = scan.surface.frame();
            (
                "scan",
                json!({
                    "pieces": scan.surface.count(),
                    "bare_points": scan.surface.spacing().is_some(),
                    "spacing_mm": scan.surface.spacing().map(|s| s * MM),
                    "low_mm": at(&low), "high_mm": at(&high),
                    "placed": scan.placed.to_homogeneous().as_slice(),
                }),
            )
        }
    }
}

/// What the file says of a scan.
fn scan_value(text: &str, index: usize, name: &str) -> Option<String> {
    let named = |name: &str| At::Name(name.to_owned());
    let way = [named("parts"), At::Item(index), named("shape"), named(name)];
    Some(value_text(text, &way)?.trim_matches('"').to_owned())
}
