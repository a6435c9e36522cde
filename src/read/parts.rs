//! Parts and their shapes.

use nalgebra::{Matrix3, Point3, Rotation3, UnitVector3, Vector3};

use crate::geometry::Shape;
use crate::machine::{Edge, Fluid, Part};
use crate::quantity::{Accepts, Kind};

use super::bodies::Bodies;
use super::fields::{Fields, Names, items, suggest};
use super::points::Points;
use super::tree::{Node, Value};
use super::value::Reading;

const KNOWN: [&str; 7] = [
    "name",
    "on",
    "shape",
    "surface",
    "emissivity",
    "edge",
    "carries",
];

const FLUIDS: [Fluid; 4] = [Fluid::Fuel, Fluid::Oil, Fluid::BrakeFluid, Fluid::Coolant];

/// Reads the field `parts`. A part with a fault is left out, but its name counts.
pub(super) fn read<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    bodies: &Bodies<'n>,
    points: &mut Points<'n>,
    names: &mut Vec<&'n str>,
) -> Vec<Part> {
    let mut parts = Vec::new();
    let mut taken = Names::default();
    for item in items(&mut reading.notes, node, "(name: .., on: .., shape: ..)") {
        let Some(fields) = Fields::of(&mut reading.notes, item, "a part", &KNOWN) else {
            continue;
        };
        let name = fields
            .need(&mut reading.notes, "name", "write name: \"what it is\"")
            .and_then(|node| Some((reading.text(node, "name")?, node.at)));
        if let Some((name, at)) = name
            && taken.add(&mut reading.notes, name, at, "part")
        {
            names.push(name);
        }
        let on = bodies.on(reading, &fields);
        let shape = fields
            .need(
                &mut reading.notes,
                "shape",
                "write shape: Tube(..), Box(..), Ball(..), Cylinder(..), Slab(..) or Scan(..)",
            )
            .and_then(|node| shape(reading, node, points));
        let surface = fields
            .get("surface")
            .and_then(|node| reading.quantity(node, "surface", Kind::Temperature, Accepts::Any));
        let emissivity = fields.get("emissivity").and_then(|node| {
            let value = reading.quantity(node, "emissivity", Kind::Ratio, Accepts::NotNegative)?;
            if value > 1.0 {
                reading.notes.fault(
                    node.at,
                    format!("`emissivity` is {value}, above 1"),
                    "it lies between 0 (a mirror) and 1 (soot); rusty or painted steel has about 0.9",
                );
            }
            Some(value)
        });
        let edge = fields.get("edge").and_then(|node| {
            reading.choice(
                node,
                "edge",
                &[
                    ("Sharp", Edge::Sharp),
                    ("Rolled", Edge::Rolled),
                    ("Grommet", Edge::Grommet),
                ],
            )
        });
        let carries = fields.get("carries").and_then(|node| {
            let fluids = FLUIDS.map(|fluid| (fluid.name(), fluid));
            reading.choice(node, "carries", &fluids)
        });
        let part = || {
            Some(Part {
                name: name?.0.to_owned(),
                on: on?,
                shape: shape?,
                surface,
                emissivity,
                edge,
                carries,
            })
        };
        parts.extend(part());
    }
    parts
}

/// One shape.
fn shape<'n>(reading: &mut Reading<'_>, node: &'n Node, points: &mut Points<'n>) -> Option<Shape> {
    const SHAPES: [&str; 6] = ["Tube", "Box", "Ball", "Cylinder", "Slab", "Scan"];
    let Value::Struct(Some(kind), _) = &node.value else {
        if node.value != Value::Broken {
            reading.notes.fault(
                node.at,
                format!("`shape` is a shape, found {}", node.value.phrase()),
                "write Tube(..), Box(..), Ball(..), Cylinder(..), Slab(..) or Scan(..)",
            );
        }
        return None;
    };
    match kind.as_str() {
        "Tube" => tube(reading, node, points),
        "Box" => block(reading, node, points),
        "Ball" => ball(reading, node, points),
        "Cylinder" => cylinder(reading, node, points),
        "Slab" => slab(reading, node, points),
        "Scan" => super::scan::scan(reading, node, points),
        other => {
            reading.notes.fault(
                node.at,
                format!("there is no shape `{other}`"),
                suggest(other, SHAPES.into_iter(), "shapes are"),
            );
            None
        }
    }
}

fn diameter(reading: &mut Reading<'_>, fields: &Fields<'_>) -> Option<f64> {
    let node = fields.need(
        &mut reading.notes,
        "diameter",
        "write diameter: as measured with calipers",
    )?;
    reading.quantity(node, "diameter", Kind::Length, Accepts::Positive)
}

fn point<'n>(
    reading: &mut Reading<'_>,
    fields: &Fields<'n>,
    points: &mut Points<'n>,
    name: &str,
) -> Option<Point3<f64>> {
    let cure = format!("write {name}: (x, y, z) or the \"name\" of a point");
    let node = fields.need(&mut reading.notes, name, &cure)?;
    points.point(reading, node, name)
}

/// `Tube(along: [points], diameter)`.
fn tube<'n>(reading: &mut Reading<'_>, node: &'n Node, points: &mut Points<'n>) -> Option<Shape> {
    let fields = Fields::of(&mut reading.notes, node, "a tube", &["along", "diameter"])?;
    let diameter = diameter(reading, &fields);
    let along = fields.need(
        &mut reading.notes,
        "along",
        "write along: [(x, y, z), …] with two or more points of its centreline",
    )?;
    let list = items(&mut reading.notes, along, "(x, y, z)");
    let mut line: Vec<Point3<f64>> = Vec::new();
    let mut whole = matches!(along.value, Value::List(_));
    for item in list {
        match points.point(reading, item, "along") {
            Some(point) => {
                if line.last() == Some(&point) && whole {
                    reading.notes.fault(
                        item.at,
                        "this point of the tube is the same as the one before",
                        "delete one of the two",
                    );
                }
                line.push(point);
            }
            None => whole = false,
        }
    }
    if whole && line.len() < 2 && !reading.notes.cut {
        reading.notes.fault(
            along.at,
            format!("a tube needs two or more points, found {}", line.len()),
            "give the points of its centreline; a single round thing is a Ball",
        );
        return None;
    }
    (whole && line.len() >= 2).then_some(Shape::Tube {
        along: line,
        diameter: diameter?,
    })
}

/// `Box(centre, size)`, its sides along the axes of the machine.
fn block<'n>(reading: &mut Reading<'_>, node: &'n Node, points: &mut Points<'n>) -> Option<Shape> {
    let fields = Fields::of(&mut reading.notes, node, "a box", &["centre", "size"])?;
    let centre = point(reading, &fields, points, "centre");
    let size = size(
        reading,
        &fields,
        "write size: (length, width, height), along x, y and z",
    );
    Some(Shape::Block {
        centre: centre?,
        size: size?,
        turned: Rotation3::identity(),
    })
}

fn size(reading: &mut Reading<'_>, fields: &Fields<'_>, cure: &str) -> Option<Vector3<f64>> {
    let node = fields.need(&mut reading.notes, "size", cure)?;
    reading.lengths(node, "size", Accepts::Positive)
}

/// `Ball(centre, diameter)`.
fn ball<'n>(reading: &mut Reading<'_>, node: &'n Node, points: &mut Points<'n>) -> Option<Shape> {
    let fields = Fields::of(&mut reading.notes, node, "a ball", &["centre", "diameter"])?;
    let centre = point(reading, &fields, points, "centre");
    let diameter = diameter(reading, &fields);
    Some(Shape::Ball {
        centre: centre?,
        diameter: diameter?,
    })
}

/// `Cylinder(from, to, diameter)`, with flat ends.
fn cylinder<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    points: &mut Points<'n>,
) -> Option<Shape> {
    let known = ["from", "to", "diameter"];
    let fields = Fields::of(&mut reading.notes, node, "a cylinder", &known)?;
    let from = point(reading, &fields, points, "from");
    let to = point(reading, &fields, points, "to");
    let diameter = diameter(reading, &fields);
    let (from, to) = (from?, to?);
    if (to - from).norm() <= 0.0 {
        reading.notes.fault(
            node.at,
            "this cylinder has no length: `from` and `to` are the same point",
            "give the middles of its two flat ends",
        );
        return None;
    }
    Some(Shape::Cylinder {
        from,
        to,
        diameter: diameter?,
    })
}

/// `Slab(centre, normal, along, size: (length, width, thickness))`: a plate at any angle. `normal` stands on the
/// plate; `along` is the direction of its length, as far as it lies in the plate.
fn slab<'n>(reading: &mut Reading<'_>, node: &'n Node, points: &mut Points<'n>) -> Option<Shape> {
    let known = ["centre", "normal", "along", "size"];
    let fields = Fields::of(&mut reading.notes, node, "a slab", &known)?;
    let centre = point(reading, &fields, points, "centre");
    let mut direction = |name: &str, cure: &str| {
        let node = fields.need(&mut reading.notes, name, cure)?;
        Some((reading.direction(node, name)?, node.at))
    };
    let normal = direction(
        "normal",
        "write normal: the direction that stands on the plate",
    );
    let along = direction("along", "write along: the direction of its length");
    let size = size(reading, &fields, "write size: (length, width, thickness)");
    let ((normal, _), (along, at)) = (normal?, along?);
    let flat = along.into_inner() - normal.into_inner() * along.dot(&normal);
    // Within a tenth of a degree of the normal the plate's length has no direction.
    let Some(along) = UnitVector3::try_new(flat, 2e-3) else {
        reading.notes.fault(
            at,
            "`along` points the same way as `normal`",
            "`along` lies in the plate: give the direction of its length",
        );
        return None;
    };
    let across = normal.cross(&along);
    let axes = Matrix3::from_columns(&[along.into_inner(), across, normal.into_inner()]);
    Some(Shape::Block {
        centre: centre?,
        size: size?,
        turned: Rotation3::from_matrix_unchecked(axes),
    })
}
