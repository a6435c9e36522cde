//! Slack gathered by hand at full left, straight and full right: `spare: (left: 30, straight: 42, right: 18)`.

use crate::harness::{LengthRule, StringReading, StringReadings};
use crate::machine::{BodyId, Joint, Machine};
use crate::quantity::{Accepts, Kind, Units};
use crate::route::{Route, StringFit, StringOff};

use super::branches::RawBranch;
use super::fields::Fields;
use super::fixings::RawFixing;
use super::value::Reading;

/// What was gathered, not yet tied to the joint that was turned.
#[derive(Debug, Clone, Copy)]
pub(super) struct RawSpare {
    /// Where it stands in the text.
    at: usize,
    /// At full left, straight, full right \[m\].
    readings: [Option<f64>; 3],
}

/// Reads the field `spare` of a fixing.
pub(super) fn read(
    reading: &mut Reading<'_>,
    fixing: &Fields<'_>,
    first: bool,
) -> Option<RawSpare> {
    let node = fixing.get("spare")?;
    let names = ["left", "straight", "right"];
    if first {
        reading.notes.fault(
            node.at,
            "the first fixing has a `spare`, but nothing comes before it",
            "give it at the next fixing: it is gathered between that and the fixing before",
        );
    }
    if let Some(slack) = fixing.get("slack") {
        reading.notes.fault(
            slack.at,
            "both `slack` and `spare` are given",
            "delete `slack` and write it as spare: (straight: ..): both are what is over the straight distance",
        );
    }
    let before = reading.notes.count();
    let fields = Fields::of(&mut reading.notes, node, "a `spare`", &names)?;
    let readings = names.map(|name| {
        let node = fields.get(name)?;
        reading.quantity(node, name, Kind::Length, Accepts::NotNegative)
    });
    if readings == [None; 3] && reading.notes.count() == before {
        reading.notes.fault(
            node.at,
            "`spare` has no reading in it",
            "write spare: (left: 30, straight: 42, right: 18), with those that you took",
        );
    }
    Some(RawSpare {
        at: node.at,
        readings,
    })
}

/// Finds the joint that was turned for each `spare`, and puts its readings in the place of the span's length.
pub(super) fn resolve(reading: &mut Reading<'_>, machine: &Machine, branches: &mut [RawBranch]) {
    for branch in branches {
        for index in 1..branch.lay.len() {
            let (from, to) = (&branch.lay[index - 1], &branch.lay[index]);
            let Some(spare) = to.spare else { continue };
            let Some(joint) = turned_joint(reading, machine, (from, to), spare.at) else {
                continue;
            };
            let length = match to.length {
                Some(LengthRule::Measured(length)) => Some(length),
                _ => None,
            };
            branch.lay[index].length = Some(LengthRule::Strung(StringReadings {
                joint,
                length,
                spare: spare.readings,
                set_aside: None,
            }));
        }
    }
}

/// The one joint that turns between two fixings, about an axis for which left and right have a meaning.
fn turned_joint(
    reading: &mut Reading<'_>,
    machine: &Machine,
    (from, to): (&RawFixing, &RawFixing),
    at: usize,
) -> Option<BodyId> {
    let turning: Vec<(BodyId, bool)> = machine
        .joints_between(from.on?, to.on?)
        .into_iter()
        .filter_map(|id| match machine.bodies[id.0].joint {
            Joint::Turns { axis, .. } => Some((id, axis.z.abs() > 0.5)),
            _ => None,
        })
        .collect();
    let name = |fixing: &RawFixing| fixing.name.clone().unwrap_or_default();
    let (a, b) = (name(from), name(to));
    match turning.as_slice() {
        [(joint, true)] => return Some(*joint),
        [(joint, false)] => reading.notes.fault(
            at,
            format!(
                "between \"{a}\" and \"{b}\" turns \"{}\", about an axis that does not point up: left and right say \
                 nothing there",
                machine.bodies[joint.0].name
            ),
            "write length: as laid off with a string along the span",
        ),
        [] => reading.notes.fault(
            at,
            format!("nothing turns between \"{a}\" and \"{b}\": their `spare` is the same left and right"),
            "write slack: what is over the straight distance, or length: along the span",
        ),
        many => {
            let names: Vec<&str> = many
                .iter()
                .map(|(joint, _)| machine.bodies[joint.0].name.as_str())
                .collect();
            reading.notes.fault(
                at,
                format!(
                    "between \"{a}\" and \"{b}\" turn \"{}\": which of them was turned for `spare` is not told",
                    names.join("\" and \"")
                ),
                "write length: as laid off with a string along the span",
            );
        }
    }
    None
}

/// Sets aside the reading of a span that all others contradict, and says how well the readings agree.
pub(super) fn reconcile(reading: &mut Reading<'_>, route: &mut Route) {
    for index in 0..route.branches.len() {
        for lay in 1..route.branches[index].lay.len() {
            let branch = &route.branches[index];
            let LengthRule::Strung(mut readings) = branch.lay[lay].length else {
                continue;
            };
            readings.set_aside = route.suspect_reading(branch, lay, &readings);
            let Some(fit) = route.string_fit(branch, lay, &readings) else {
                continue;
            };
            let name = |lay: usize| &branch.lay[lay].fixing.name;
            let ends = (name(lay - 1).as_str(), name(lay).as_str());
            reading
                .assumed
                .push(length_in_words(ends, &fit, reading.units));
            reading
                .warnings
                .extend(disagreement(ends, &fit, reading.units));
            reading.warnings.extend(taut(ends, &fit));
            route.branches[index].lay[lay].length = LengthRule::Strung(readings);
        }
    }
}

fn show(units: Units, value: f64) -> String {
    units.show(value, Kind::Length)
}

/// Where a reading was taken, in words.
fn place(at: StringReading) -> &'static str {
    match at {
        StringReading::Length => "along the string",
        StringReading::Left => "at full left",
        StringReading::Straight => "straight ahead",
        StringReading::Right => "at full right",
    }
}

fn length_in_words((from, to): (&str, &str), fit: &StringFit, units: Units) -> String {
    let told: Vec<String> = fit
        .readings
        .iter()
        .map(|one| {
            let off = show(units, one.off().abs());
            let off = match one.off() {
                _ if off.starts_with("0 ") || off.starts_with("0.00 ") => "fits".to_owned(),
                more if more > 0.0 => format!("{off} more than fits"),
                _ => format!("{off} less than fits"),
            };
            let aside = if fit.suspect == Some(one.at) {
                ", not counted"
            } else {
                ""
            };
            format!("{} {} ({off}{aside})", show(units, one.read), place(one.at))
        })
        .collect();
    format!(
        "\"{from}\" to \"{to}\" is {} long, give or take {}, from string and gathered slack: {}; each reading is taken \
         to be good to 3 mm and 1 %, slack to be what is over the straight distance between the two",
        show(units, fit.length),
        show(units, fit.sd),
        told.join(", ")
    )
}

/// The readings that miss each other, which one looks wrong and what to measure again.
fn disagreement((from, to): (&str, &str), fit: &StringFit, units: Units) -> Option<String> {
    if !fit.disagree {
        return None;
    }
    let ends = format!("\"{from}\" to \"{to}\"");
    let given = |one: &StringOff| {
        let length = one.distance.unwrap_or(0.0) + one.read;
        format!("{} {}", show(units, length), place(one.at))
    };
    let suspect = fit.readings.iter().find(|one| Some(one.at) == fit.suspect);
    Some(match suspect {
        Some(one) if one.at == StringReading::Length => format!(
            "{ends}: the `length` of {} looks wrong: the slack gathered by hand agrees on {}, which is taken; lay the \
             string again, and if it stays, measure again where \"{from}\" and \"{to}\" are",
            show(units, one.read),
            show(units, fit.length)
        ),
        Some(one) => format!(
            "{ends}: the slack gathered {} looks wrong: {} was read, the other readings give {}; it is not counted, so \
             gather it again",
            place(one.at),
            show(units, one.read),
            show(units, one.expected)
        ),
        None => {
            let lengths: Vec<String> = fit.readings.iter().map(given).collect();
            let (why, cure) = if lengths.len() == 2 {
                (
                    "two readings cannot tell which is wrong",
                    "gather the slack in a third position of the steering, and the odd one shows",
                )
            } else {
                ("no single one is to blame", "gather all of them again")
            };
            format!(
                "{ends}: the readings give lengths of {}, further apart than string and tape explain, and {why}; {} is \
                 taken; {cure}; if it stays, measure again where \"{from}\" and \"{to}\" are and how far the steering \
                 turns",
                lengths.join(" and "),
                show(units, fit.length)
            )
        }
    })
}

/// Where nothing could be gathered the span may be taut before the stop: shorter than it seems.
fn taut((from, to): (&str, &str), fit: &StringFit) -> Option<String> {
    let taut = fit
        .readings
        .iter()
        .find(|one| one.distance.is_some() && one.read <= 0.0)?;
    Some(format!(
        "\"{from}\" to \"{to}\": nothing could be gathered {}; if it runs taut before the steering gets there, it is \
         shorter still than is taken here",
        place(taut.at)
    ))
}
