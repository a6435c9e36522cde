//! What does not depend on the pose: bodies and joints, parts to draw, points, branches with their fixings, poses, limits.

mod branches;
mod limits;
mod parts;
mod points;
mod wires;

use serde_json::{Value, json};

use crate::advise::amount;
use crate::check::{CAUTIONS, Limits, assumed, pose_in_words, reported_unit, rounded};
use crate::machine::{Joint, Sweep};
use crate::quantity::{Kind, Units};
use crate::read::NamedPoint;
use crate::route::{Change, Route};

pub(super) use points::all as points;

const MM: f64 = 1e3;

/// The scene of a route. `text` is what it was read from: some of it is shown as it stands there.
pub(super) fn scene(
    route: &Route,
    text: &str,
    points: &[NamedPoint],
    rev: u64,
    units: Units,
) -> Value {
    let machine = &route.machine;
    let sweep = Sweep::with_corners(machine, &route.corner_groups());
    let rest = machine.stance(&machine.rest());
    let known = Limits::new(&route.limits);
    let poses: Vec<Value> = (0..sweep.poses.len())
        .map(|id| pose(route, &sweep, id, units))
        .collect();
    rounded(json!({
        "rev": rev,
        "title": route.title,
        "tolerance_mm": route.tolerance * MM,
        "bodies": bodies(route),
        "parts": machine.parts.iter().enumerate().map(|(i, part)| parts::of_part(route, text, i, part)).collect::<Vec<_>>(),
        "points": points::all(points),
        "branches": route.branches.iter().enumerate().map(|(i, b)| branches::branch(route, i, b, &rest)).collect::<Vec<_>>(),
        "breakouts": branches::breakouts(route),
        "poses": poses,
        "rest": sweep.rest,
        "limits": known.all().iter().map(|l| limits::limit(route, l)).collect::<Vec<_>>(),
        "changes": route.changes.iter().map(|c| change(c, units)).collect::<Vec<_>>(),
        "circuits": wires::circuits(route),
        "wires": route.wires.iter().map(wires::wire).collect::<Vec<_>>(),
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
