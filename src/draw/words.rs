//! Values and the ends of motions in words.

use crate::check::Finding;
use crate::machine::{BodyId, Joint, Machine};
use crate::quantity::{Kind, LengthUnit, Units};
use crate::route::Route;

use super::scene::Motion;

/// A length with its unit: whole millimetres from 10 mm on, tenths below; hundredths of an inch.
pub(crate) fn length(metres: f64, units: Units) -> String {
    value(metres, Kind::Length, units)
}

/// A value of some kind with its unit.
pub(crate) fn value(x: f64, kind: Kind, units: Units) -> String {
    let (number, unit) = units.convert(x, kind);
    let fine = kind == Kind::Length && units.length == LengthUnit::Mm && number.abs() < 9.95;
    let text = rounded(number, units.digits(kind) + usize::from(fine));
    if number.is_finite() {
        format!("{text}{unit}")
    } else {
        text
    }
}

/// A number with fixed decimals and a true minus sign; "without limit" where it is infinite.
pub(crate) fn rounded(x: f64, decimals: usize) -> String {
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

/// The body that steers: the first that turns about an axis nearer to upright than to level.
pub(crate) fn steering(machine: &Machine) -> Option<BodyId> {
    machine
        .bodies
        .iter()
        .position(|body| matches!(body.joint, Joint::Turns { axis, .. } if axis.z.abs() > 0.5))
        .map(BodyId)
}

/// What the two ends and the middle of a motion are called: least, rest, greatest.
pub(crate) fn ends(route: &Route, motion: &Motion) -> [String; 3] {
    let body = &route.machine.bodies[motion.joint.0];
    match body.joint {
        Joint::Turns { axis, .. } if steering(&route.machine) == Some(motion.joint) => {
            let (low, high) = if axis.z < 0.0 {
                ("full left", "full right")
            } else {
                ("full right", "full left")
            };
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

/// Value and limit: "31 mm, at least 45 mm".
pub(super) fn value_and_limit(finding: &Finding, units: Units) -> String {
    let show = |x: f64| value(x, finding.kind, units);
    let own = if finding.has_no_inside() {
        "none".to_owned()
    } else {
        show(finding.value)
    };
    let bound = if finding.at_most {
        "at most"
    } else {
        "at least"
    };
    format!("{own}, {bound} {}", show(finding.limit))
}
