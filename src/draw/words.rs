//! Values and poses in words.

use crate::machine::{BodyId, Joint, Machine};
use crate::quantity::Kind;
use crate::route::Route;

use super::scene::{Motion, Units};

/// A length with its unit: whole millimetres from 10 mm on, tenths below; hundredths of an inch.
pub fn length(metres: f64, units: Units) -> String {
    match units {
        Units::Millimetre => format!("{} mm", rounded(metres * 1e3, usize::from((metres * 1e3).abs() < 9.95))),
        Units::Inch => format!("{} in", rounded(metres / 0.0254, 2)),
    }
}

/// A value of some kind with its unit.
pub fn value(x: f64, kind: Kind, units: Units) -> String {
    let with = |x: f64, unit: &str| format!("{}{unit}", three_figures(x));
    match kind {
        Kind::Length => length(x, units),
        Kind::Angle => format!("{}°", rounded(x.to_degrees(), 1)),
        Kind::Temperature => format!("{} °C", rounded(x, 0)),
        Kind::Force => with(x, " N"),
        Kind::Torque => with(x, " N m"),
        Kind::Pressure => with(x * 1e-3, " kPa"),
        Kind::Ratio => with(x * 100.0, " %"),
        Kind::Area => with(x * 1e6, " mm²"),
        Kind::BendingStiffness => with(x, " N m²"),
        Kind::MassPerLength => with(x * 1e3, " g/m"),
        Kind::Current => with(x, " A"),
        Kind::Voltage => with(x, " V"),
        Kind::TwistRate => format!("{}° per 100 mm", rounded(x.to_degrees() * 0.1, 1)),
    }
}

/// A number with fixed decimals and a true minus sign; "without limit" where it is infinite.
pub fn rounded(x: f64, decimals: usize) -> String {
    if x.is_nan() {
        return "not known".to_owned();
    }
    if x.is_infinite() {
        return "without limit".to_owned();
    }
    if x.abs() >= 1e7 {
        return format!("{x:.2e}");
    }
    let text = format!("{x:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().any(|c| ('1'..='9').contains(&c)) => format!("−{rest}"),
        Some(rest) => rest.to_owned(),
        None => text,
    }
}

/// A number with about three figures.
fn three_figures(x: f64) -> String {
    let decimals = match x.abs() {
        a if a >= 100.0 => 0,
        a if a >= 10.0 => 1,
        a if a >= 0.1 || a < 1e-9 => 2,
        _ => 3,
    };
    rounded(x, decimals)
}

/// What a pose is called: "full left (38°)", "straight ahead", "12° right, seat at 20 mm".
pub fn pose(route: &Route, joints: &[f64], rest: &[f64], units: Units) -> String {
    let steering = steering(&route.machine);
    let mut words = Vec::new();
    for (index, body) in route.machine.bodies.iter().enumerate() {
        let (Some(&at), Some(&rest)) = (joints.get(index), rest.get(index)) else {
            continue;
        };
        let moved = (at - rest).abs() > 1e-9;
        match body.joint {
            Joint::Fixed => {}
            Joint::Turns { from, to, axis, .. } if steering == Some(BodyId(index)) => {
                words.push(steered(at, from, to, axis.z < 0.0));
            }
            Joint::Turns { .. } if moved => {
                words.push(format!("{} turned {}°", body.name, rounded(at.to_degrees(), 1)));
            }
            Joint::Slides { .. } if moved => {
                words.push(format!("{} moved {}", body.name, length(at, units)));
            }
            Joint::Turns { .. } | Joint::Slides { .. } => {}
        }
    }
    if words.is_empty() {
        "at rest".to_owned()
    } else {
        words.join(", ")
    }
}

/// Which way and how far the steering is turned.
fn steered(at: f64, from: f64, to: f64, axis_down: bool) -> String {
    let near = |x: f64| (at - x).abs() < 1e-6;
    let degrees = rounded(at.abs().to_degrees(), usize::from(!whole(at.to_degrees())));
    let side = if (at > 0.0) == axis_down { "right" } else { "left" };
    if at.abs() < 1e-9 {
        "straight ahead".to_owned()
    } else if near(from) || near(to) {
        format!("full {side} ({degrees}°)")
    } else {
        format!("{degrees}° {side}")
    }
}

fn whole(x: f64) -> bool {
    (x - x.round()).abs() < 0.05
}

/// The body that steers: the first that turns about an axis nearer to upright than to level.
pub fn steering(machine: &Machine) -> Option<BodyId> {
    machine
        .bodies
        .iter()
        .position(|body| matches!(body.joint, Joint::Turns { axis, .. } if axis.z.abs() > 0.5))
        .map(BodyId)
}

/// What the two ends and the middle of a motion are called: least, rest, greatest.
pub fn ends(route: &Route, motion: &Motion) -> [String; 3] {
    let body = &route.machine.bodies[motion.joint.0];
    match body.joint {
        Joint::Turns { axis, .. } if steering(&route.machine) == Some(motion.joint) => {
            let (low, high) = if axis.z < 0.0 { ("full left", "full right") } else { ("full right", "full left") };
            [low.to_owned(), "straight ahead".to_owned(), high.to_owned()]
        }
        Joint::Turns { from, to, .. } => [from, 0.0, to]
            .map(|angle| format!("{} at {}°", body.name, rounded(angle.to_degrees(), 0))),
        Joint::Fixed | Joint::Slides { .. } => [
            format!("{} fully in", body.name),
            format!("{} at rest", body.name),
            format!("{} fully out", body.name),
        ],
    }
}
