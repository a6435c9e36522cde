//! Places, poses and lengths in words.

use crate::harness::Branch;
use crate::machine::{Body, BodyId, Joint, Machine, Sweep};
use crate::quantity::{Kind, LengthUnit, Units};
use crate::route::Span;

/// A length \[m\] as text with its unit, with one decimal more where it is small.
pub(super) fn length(units: Units, length: f64) -> String {
    let (value, unit) = units.convert(length, Kind::Length);
    let places = match units.length {
        LengthUnit::Mm if value.abs() < 9.95 => 1,
        LengthUnit::Mm => 0,
        LengthUnit::Inch => 2,
    };
    format!("{}{unit}", trimmed(value, places))
}

/// A length \[m\] rounded up to a step that can be marked with a tape: 1 mm or 1/16 in.
pub(super) fn length_up(units: Units, length: f64) -> String {
    let (value, unit) = units.convert(length, Kind::Length);
    let (steps, places) = match units.length {
        LengthUnit::Mm => (1.0, 0),
        LengthUnit::Inch => (16.0, 4),
    };
    let up = (value * steps - 1e-6).ceil() / steps;
    format!("{}{unit}", trimmed(up, places))
}

/// An inside radius \[m\] that is too small, as a sentence without its full stop. Where the centreline bends more
/// tightly than half the diameter there is no inside radius left to tell.
pub(super) fn too_tight(units: Units, inside: f64) -> String {
    if inside > 0.0 {
        format!("Bent to an inside radius of {}", length(units, inside))
    } else {
        "Bent sharper than its own thickness".to_owned()
    }
}

/// A number with at most `places` decimals, without trailing zeros and without a minus before zero.
pub(super) fn trimmed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    match text {
        "-0" => "0".to_owned(),
        _ => text.to_owned(),
    }
}

/// An angle \[rad\] as text in degrees.
pub(super) fn degrees(angle: f64) -> String {
    let degrees = angle.to_degrees();
    if degrees.abs() < 9.95 {
        format!("{}°", trimmed(degrees, 1))
    } else {
        format!("{}°", trimmed(degrees, 0))
    }
}

/// A pose in words: "steering full left (38°), seat pressed 12 mm". Joints at rest are not named; a pose with all
/// joints at rest is "at rest". Left and right are those of the rider and stand only where the axis points up.
pub fn pose_in_words(machine: &Machine, sweep: &Sweep, pose: usize, units: Units) -> String {
    joints_in_words(machine, sweep, pose, units, &|_| true)
}

/// The same with the joints that `matter` alone.
pub(super) fn joints_in_words(
    machine: &Machine,
    sweep: &Sweep,
    pose: usize,
    units: Units,
    matter: &dyn Fn(BodyId) -> bool,
) -> String {
    let rest = &sweep.poses[sweep.rest].joints;
    let mut words = Vec::new();
    for (index, body) in machine.bodies.iter().enumerate() {
        let value = sweep.poses[pose].joints[index];
        if (value - rest[index]).abs() <= 1e-12 || !matter(BodyId(index)) {
            continue;
        }
        words.push(format!(
            "{} {}",
            body.name,
            joint_in_words(body, value, units)
        ));
    }
    if words.is_empty() {
        "at rest".to_owned()
    } else {
        words.join(", ")
    }
}

/// The value of a body's joint in words: "full left (38°)", "at 12 mm", "pressed 12 mm".
pub(crate) fn joint_in_words(body: &Body, value: f64, units: Units) -> String {
    if let (Some(said), true) = (&body.said, value.abs() > 1e-9) {
        let word = if value < 0.0 {
            &said.below
        } else {
            &said.above
        };
        let amount = match body.joint {
            Joint::Turns { .. } => degrees(value.abs()),
            _ => length(units, value.abs()),
        };
        return format!("{word} {amount}");
    }
    match body.joint {
        Joint::Fixed => String::new(),
        Joint::Slides { .. } => format!("at {}", length(units, value)),
        Joint::Turns { axis, from, to, .. } => {
            let stop = (value - from).abs() < 1e-9 || (value - to).abs() < 1e-9;
            let full = if stop && from < to { "full " } else { "" };
            if value.abs() < 1e-9 {
                "straight".to_owned()
            } else if axis.z > 0.5 {
                let side = if value > 0.0 { "left" } else { "right" };
                format!("{full}{side} ({})", degrees(value.abs()))
            } else {
                let sign = if value > 0.0 { "+" } else { "−" };
                format!("at {sign}{}", degrees(value.abs()))
            }
        }
    }
}

/// The body whose joint it is, as it stands after "of": "the steering".
pub(super) fn joint_name(machine: &Machine, joint: BodyId) -> String {
    format!("the {}", machine.bodies[joint.0].name)
}

/// "T1–T2".
pub(super) fn span_in_words(branch: &Branch, span: &Span) -> String {
    format!(
        "{}–{}",
        branch.lay[span.from].fixing.name,
        branch.lay[span.from + 1].fixing.name
    )
}

/// Distance along the branch of each fixing, in the order of the lay \[m\].
pub(super) fn fixing_stations(spans: &[Span]) -> Vec<f64> {
    spans
        .iter()
        .map(|span| span.start)
        .chain(spans.last().map(Span::end))
        .collect()
}

/// A place in a span in words, from the branch's first fixing and from the span's nearer one: "T1–T2 at 141 mm,
/// 29 mm before T2".
pub(super) fn place_in_words(branch: &Branch, span: &Span, at: f64, units: Units) -> String {
    let (fixing, offset) = if at - span.start <= span.end() - at {
        (span.from, at - span.start)
    } else {
        (span.from + 1, at - span.end())
    };
    format!(
        "{} at {}, {}",
        span_in_words(branch, span),
        length(units, at),
        beside(branch, fixing, offset, units)
    )
}

/// "29 mm before T2", "12 mm after T1", "at T1".
pub(super) fn beside(branch: &Branch, fixing: usize, offset: f64, units: Units) -> String {
    let name = &branch.lay[fixing].fixing.name;
    if offset.abs() < 0.5e-3 {
        format!("at {name}")
    } else if offset < 0.0 {
        format!("{} before {name}", length(units, -offset))
    } else {
        format!("{} after {name}", length(units, offset))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_short_and_round_up_where_they_must_suffice() {
        let mm = Units::METRIC;
        assert_eq!(length(mm, 0.1412), "141 mm");
        assert_eq!(length(mm, 0.0034), "3.4 mm");
        assert_eq!(length(mm, -0.000_01), "0 mm");
        assert_eq!(length_up(mm, 0.0111), "12 mm");
        assert_eq!(length_up(mm, 0.012), "12 mm");
        assert_eq!(length(Units::INCH, 0.0254), "1 in");
        assert_eq!(length_up(Units::INCH, 0.0255), "1.0625 in");
    }
}
