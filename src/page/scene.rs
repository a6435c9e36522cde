//! What does not depend on the pose: bodies and joints, parts to draw, points, branches with their fixings, poses, limits.

use serde_json::{Value, json};

use crate::advise::amount;
use crate::check::{
    CAUTIONS, Limit, LimitRule, Limits, assumed, pose_in_words, reported_unit, rounded,
};
use crate::geometry::Shape;
use crate::harness::{
    Branch, CircuitKind, CoverKind, Finish, Fixing, FixingKind, InsulationClass, LengthRule,
    StringReading, Via, Wire, WireId,
};
use crate::machine::{Edge, Joint, Part, Stance, Sweep};
use crate::quantity::{Kind, Units};
use crate::read::NamedPoint;
use crate::route::{Change, Route};

use super::mesh::{Drawn, drawn};
use super::packed;

const MM: f64 = 1e3;

/// The scene of a route.
pub(super) fn scene(route: &Route, points: &[NamedPoint], rev: u64, units: Units) -> Value {
    let machine = &route.machine;
    let sweep = Sweep::with_corners(machine, &route.corner_groups());
    let rest = machine.stance(&machine.rest());
    let limits = Limits::new(&route.limits);
    let poses: Vec<Value> = (0..sweep.poses.len())
        .map(|id| pose(route, &sweep, id, units))
        .collect();
    rounded(json!({
        "rev": rev,
        "title": route.title,
        "tolerance_mm": route.tolerance * MM,
        "bodies": bodies(route),
        "parts": machine.parts.iter().enumerate().map(|(i, part)| of_part(route, i, part)).collect::<Vec<_>>(),
        "points": points.iter().map(point).collect::<Vec<_>>(),
        "branches": route.branches.iter().enumerate().map(|(i, b)| branch(route, i, b, &rest)).collect::<Vec<_>>(),
        "breakouts": breakouts(route),
        "poses": poses,
        "rest": sweep.rest,
        "limits": limits.all().iter().map(|l| limit(route, l)).collect::<Vec<_>>(),
        "changes": route.changes.iter().map(|c| change(c, units)).collect::<Vec<_>>(),
        "circuits": circuits(route),
        "wires": route.wires.iter().map(wire).collect::<Vec<_>>(),
        "splices": route.splices.iter().map(|s| json!({
            "wire": route.wires[s.wire.0].name,
            "branch": route.branches[s.branch.0].name,
            "station_mm": s.at * MM,
        })).collect::<Vec<_>>(),
        "assumed": assumed(route),
        "warnings": route.warnings,
        "cautions": CAUTIONS,
    }))
}

fn at(point: &nalgebra::Point3<f64>) -> [f64; 3] {
    [point.x * MM, point.y * MM, point.z * MM]
}

fn bodies(route: &Route) -> Vec<Value> {
    let bodies = &route.machine.bodies;
    let one = |(index, body): (usize, &crate::machine::Body)| {
        let said = body.said.as_ref().map(|said| [&said.below, &said.above]);
        let joint = match body.joint {
            Joint::Fixed => Value::Null,
            Joint::Turns {
                through,
                axis,
                from,
                to,
            } => json!({
                "kind": "turns", "unit": "deg",
                "through_mm": at(&through),
                "axis": axis.as_slice(),
                "from": from.to_degrees(), "to": to.to_degrees(),
                "rest": body.joint.rest().to_degrees(),
                "said": said,
            }),
            Joint::Slides { along, from, to } => json!({
                "kind": "slides", "unit": "mm",
                "axis": along.as_slice(),
                "from": from * MM, "to": to * MM,
                "rest": body.joint.rest() * MM,
                "said": said,
            }),
        };
        let breakout = route.breakouts.iter().find(|b| b.body.0 == index);
        json!({
            "name": body.name,
            "on": body.on.map(|on| bodies[on.0].name.as_str()),
            "joint": joint,
            // A breakout that floats is a body too, with no part on it.
            "breakout": breakout.map(|b| b.name.as_str()),
            "path": breakout.is_none().then(|| json!(["bodies", body.name])),
        })
    };
    bodies.iter().enumerate().map(one).collect()
}

fn of_part(route: &Route, index: usize, part: &Part) -> Value {
    let (mesh, points, shown, left) = match drawn(&part.shape) {
        Drawn::Mesh(mesh, left) => {
            let corners = mesh.corners.iter().flat_map(at);
            let mesh = json!({
                "at": packed::floats(corners),
                "triangles": packed::indices(mesh.triangles.iter().flatten().copied()),
            });
            (mesh, Value::Null, 0, left)
        }
        Drawn::Points(points, left) => {
            let packed = packed::floats(points.iter().flat_map(at));
            (Value::Null, json!(packed), points.len(), left)
        }
    };
    let thinned = (left > 0).then(|| {
        let kind = if shown > 0 { "points" } else { "triangles" };
        format!(
            "{left} of {} {kind} of this scan are not drawn; all of them are reckoned with",
            left + shown
        )
    });
    let (kind, spec) = spec(&part.shape);
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

fn point(point: &NamedPoint) -> Value {
    let taped = point.taped.as_ref();
    json!({
        "name": point.name,
        "at_mm": at(&point.at),
        "how": if taped.is_some() { "taped" } else if point.imported { "table" } else { "given" },
        "tape": taped.map(|t| t.readings.iter().map(|r| json!([r.from, r.distance * MM])).collect::<Vec<_>>()),
        "side": point.side.map(|side| side.name()),
        "residual_mm": taped.map(|t| t.residual * MM),
        "residuals_mm": taped.map(|t| t.readings.iter().map(|r| r.misfit * MM).collect::<Vec<_>>()),
        "error95_mm": taped.map(|t| t.error95 * MM),
        "suspect": taped.and_then(|t| Some(t.readings[t.suspect?.reading].from.as_str())),
        "path": (!point.imported).then(|| json!(["points", point.name])),
    })
}

fn branch(route: &Route, index: usize, branch: &Branch, rest: &Stance) -> Value {
    let spans = route.spans(branch, rest);
    let mut lay = Vec::new();
    let mut raw = 0;
    for (nth, entry) in branch.lay.iter().enumerate() {
        for via in &entry.vias {
            lay.push(waypoint(route, (index, raw), via));
            raw += 1;
        }
        let station = match nth.checked_sub(1) {
            Some(before) => spans[before].end(),
            None => 0.0,
        };
        let length = nth.checked_sub(1).map(|before| spans[before].length);
        lay.push(fixing(route, branch, nth, (index, raw), station, length));
        raw += 1;
    }
    let cover = branch.cover.as_ref().map(|cover| {
        json!({
            "kind": match cover.kind {
                CoverKind::Braid => "braid",
                CoverKind::Tape => "tape",
                CoverKind::Tube => "tube",
                CoverKind::SplitTube => "split tube",
                CoverKind::Shrink => "shrink",
                CoverKind::HeatSleeve => "heat sleeve",
            },
            "wall_mm": cover.wall * MM,
            "rated_c": cover.rated,
        })
    });
    json!({
        "name": branch.name,
        "diameter_mm": branch.diameter * MM,
        "wires": branch.wires.iter().map(|id| route.wires[id.0].name.as_str()).collect::<Vec<_>>(),
        "cover": cover,
        "safety": branch.wires.iter().any(|id| route.wires[id.0].safety),
        "length_mm": spans.last().map_or(0.0, crate::route::Span::end) * MM,
        "lay": lay,
        "path": ["branches", index],
    })
}

fn waypoint(route: &Route, (branch, raw): (usize, usize), via: &Via) -> Value {
    let place = &route.places[via.place];
    json!({
        "name": Value::Null,
        "kind": "via",
        "waypoint": true,
        "body": route.machine.bodies[via.on.0].name,
        "at_mm": at(&place.at),
        "point": place.name,
        "path": ["branches", branch, "lay", raw],
    })
}

fn fixing(
    route: &Route,
    branch: &Branch,
    nth: usize,
    (index, raw): (usize, usize),
    station: f64,
    length: Option<f64>,
) -> Value {
    let entry = &branch.lay[nth];
    let fixing = &entry.fixing;
    let place = &route.places[fixing.place];
    let on = route.sits_on(branch, nth);
    let mut told = json!({
        "name": fixing.name,
        "waypoint": false,
        "body": route.machine.bodies[fixing.on.0].name,
        "at_mm": at(&place.at),
        "point": place.name,
        "facing": fixing.facing.map(|facing| [facing.x, facing.y, facing.z]),
        "width_mm": fixing.width.map(|width| width * MM),
        "station_mm": station * MM,
        "length_mm": length.map(|length| length * MM),
        "length_rule": length.map(|_| length_rule(&entry.length)),
        "spare_mm": length.map_or(Value::Null, |_| spare(&entry.length)),
        "slides_through": fixing.slides(),
        "floats": route.is_drawn_only(fixing),
        "slides_on": on.map(|part| route.machine.parts[part.0].name.as_str()),
        "path": ["branches", index, "lay", raw],
    });
    if let (Some(fields), Value::Object(more)) = (told.as_object_mut(), kind(fixing)) {
        fields.extend(more);
    }
    told
}

/// What a fixing is, and what only that kind has.
fn kind(fixing: &Fixing) -> Value {
    let finish = |finish: Option<Finish>| {
        finish.map(|finish| match finish {
            Finish::Tin => "tin",
            Finish::Silver => "silver",
            Finish::Gold => "gold",
        })
    };
    match fixing.kind {
        FixingKind::Tie { pull, loose, rated } => {
            json!({ "kind": "tie", "loose": loose, "pull_n": pull, "rated_c": rated })
        }
        FixingKind::Clamp => json!({ "kind": "clamp" }),
        FixingKind::Grommet => json!({ "kind": "grommet" }),
        FixingKind::Breakout => json!({ "kind": "breakout" }),
        FixingKind::Connector {
            finish: own,
            mated,
            rated,
        } => json!({
            "kind": "connector",
            "finish": finish(own), "mated": finish(mated), "rated_c": rated,
        }),
    }
}

/// How long the span is that leads to a fixing, as the file says it.
fn length_rule(rule: &LengthRule) -> Value {
    match rule {
        LengthRule::Measured(length) => json!({ "kind": "length", "length_mm": length * MM }),
        LengthRule::Slack(slack) => json!({ "kind": "slack", "slack_mm": slack * MM }),
        LengthRule::SmoothPath => json!({ "kind": "smooth path" }),
        LengthRule::Strung(readings) => {
            let length = readings.read(StringReading::Length).map(|l| l * MM);
            json!({ "kind": "spare", "length_mm": length })
        }
    }
}

/// Slack gathered by hand at each lock, where it was read.
fn spare(rule: &LengthRule) -> Value {
    let LengthRule::Strung(readings) = rule else {
        return Value::Null;
    };
    let read = |reading| readings.read(reading).map(|value| value * MM);
    json!({
        "left": read(StringReading::Left),
        "straight": read(StringReading::Straight),
        "right": read(StringReading::Right),
    })
}

fn breakouts(route: &Route) -> Vec<Value> {
    let one = |breakout: &crate::harness::Breakout| {
        json!({
            "name": breakout.name,
            "floats": breakout.floats(),
            "branches": breakout.meets.iter()
                .map(|m| route.branches[m.branch.0].name.as_str()).collect::<Vec<_>>(),
        })
    };
    route.breakouts.iter().map(one).collect()
}

fn pose(route: &Route, sweep: &Sweep, id: usize, units: Units) -> Value {
    let machine = &route.machine;
    let values = machine.bodies.iter().zip(&sweep.poses[id].joints);
    let values: serde_json::Map<String, Value> = values
        .filter_map(|(body, &value)| {
            let value = match body.joint {
                Joint::Fixed => return None,
                Joint::Turns { .. } => value.to_degrees(),
                Joint::Slides { .. } => value * MM,
            };
            Some((body.name.clone(), json!(value)))
        })
        .collect();
    json!({ "id": id, "words": pose_in_words(machine, sweep, id, units), "values": values })
}

fn limit(route: &Route, limit: &Limit) -> Value {
    let (factor, unit) = reported_unit(limit.kind);
    let name = limit.key.name();
    let own = route.limits.iter().find(|own| own.key == name);
    let (value, unit) = match limit.rule {
        LimitRule::Diameters(times) => (json!(times), "OD"),
        LimitRule::BranchOrWire { branch, .. } => (json!(branch), "OD"),
        LimitRule::Value(value) => (json!(value * factor), unit),
        LimitRule::BySurface(_) => (Value::Null, unit),
        LimitRule::ByEdge { sharp, .. } => (json!(sharp * factor), unit),
        LimitRule::Aside(aside) => (json!(aside * factor), unit),
    };
    let rule = match limit.rule {
        LimitRule::Diameters(_) => json!({ "kind": "diameters of the branch" }),
        LimitRule::BranchOrWire { branch, wire } => {
            json!({ "kind": "the larger of", "branch_od": branch, "largest_wire_od": wire })
        }
        LimitRule::Value(_) => json!({ "kind": "value" }),
        LimitRule::BySurface(rows) => json!({
            "kind": "by surface temperature",
            "rows": rows.iter().map(|(c, m)| json!({ "c": c, "mm": m * MM })).collect::<Vec<_>>(),
        }),
        LimitRule::ByEdge { sharp, rolled } => {
            json!({ "kind": "by edge", "sharp_mm": sharp * MM, "rolled_mm": rolled * MM })
        }
        LimitRule::Aside(_) => json!({ "kind": "how far aside it can be pulled" }),
    };
    json!({
        "name": name,
        "value": value,
        "unit": unit,
        "rule": rule,
        "source": limit.source,
        "status": limit.status.in_words(),
        "reason": limit.reason,
        "own": own.map(|own| own.why.as_str()),
        "path": ["limits", name],
    })
}

fn change(change: &Change, units: Units) -> Value {
    let size = amount(change);
    let (factor, unit) = reported_unit(size.kind);
    json!({
        "name": change.name,
        "steps": change.steps.iter().map(|step| step.in_words(units)).collect::<Vec<_>>(),
        "amount": {
            "kind": match size.kind { Kind::Length => "length", Kind::Angle => "angle", _ => "share" },
            "value": size.value * factor,
            "unit": unit,
        },
        "path": ["changes", change.name],
    })
}

fn circuits(route: &Route) -> Vec<Value> {
    let names = |ids: &[WireId]| -> Vec<String> {
        let named = ids.iter().map(|id| route.wires[id.0].name.clone());
        named.collect()
    };
    let one = |circuit: &crate::harness::Circuit| match &circuit.kind {
        CircuitKind::Load(load) => json!({
            "name": circuit.name, "kind": "load",
            "there": names(&load.there), "back": names(&load.back),
            "current_a": load.current, "fuse_a": load.fuse, "drop_v": load.drop,
            "path": ["circuits", circuit.name],
        }),
        CircuitKind::Pair(pair) => json!({
            "name": circuit.name, "kind": "pair",
            "supply": names(&[pair.supply]), "ground": names(&[pair.ground]),
            "signals": names(&pair.signals),
            "sum_v": pair.sum, "allowed_v": pair.allowed,
            "path": ["circuits", circuit.name],
        }),
    };
    route.circuits.iter().map(one).collect()
}

fn wire(wire: &Wire) -> Value {
    json!({
        "name": wire.name,
        "size_mm2": wire.area * MM * MM,
        "strands": wire.strands,
        "outside_mm": wire.outside * MM,
        "class": wire.class.map(class),
        "safety": wire.safety,
        "current_a": wire.current,
        "colour": wire.marks.colour,
        "from": wire.marks.from,
        "to": wire.marks.to,
        "path": ["wires", wire.name],
    })
}

fn class(class: InsulationClass) -> &'static str {
    match class {
        InsulationClass::A => "A",
        InsulationClass::B => "B",
        InsulationClass::C => "C",
        InsulationClass::D => "D",
        InsulationClass::E => "E",
        InsulationClass::F => "F",
        InsulationClass::G => "G",
        InsulationClass::H => "H",
    }
}
