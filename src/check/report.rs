//! The report as JSON: format 1 of the report's contract. Lengths in millimetres, angles in degrees; a key's
//! ending names the unit.

use serde_json::{Map, Value, json};

use crate::harness::{Branch, BranchId, LengthRule, Section};
use crate::machine::Joint;
use crate::quantity::{Kind, Units};
use crate::rod::Solution;
use crate::route::{Route, Span};

use super::curvature::is_straight;
use super::warnings::warnings;
use super::wording::{fixing_stations, pose_in_words};
use super::{Finding, Findings, Verdict, hanging, tie_pinch};

const MM: f64 = 1e3;

/// The worst verdict of all findings.
pub(super) fn worst(findings: &Findings) -> Verdict {
    let verdicts = findings.findings.iter().map(|finding| finding.verdict);
    verdicts.max().unwrap_or(Verdict::Within)
}

/// The exit status of a checked route: 3 where some pose was not solved, else 1 where a limit is broken, else 0.
pub fn exit_status(solution: &Solution, findings: &Findings) -> u8 {
    let mut shapes = solution.branches.iter().flat_map(|branch| &branch.shapes);
    if shapes.any(|shape| !shape.converged) {
        3
    } else if worst(findings) == Verdict::Over {
        1
    } else {
        0
    }
}

/// What the checks and the reading of the file filled in, each as a sentence.
pub fn assumed(route: &Route) -> Vec<String> {
    let mut assumed = route.assumed.clone();
    assumed.extend(tie_pinch::assumptions(route));
    assumed
}

/// The report of a checked route.
pub fn report(route: &Route, solution: &Solution, findings: &Findings) -> Value {
    let mut report = rounded(json!({
        "format": 1,
        "title": route.title,
        "verdict": verdict_word(worst(findings)),
        "assumed": assumed(route),
        "warnings": warnings(route, solution),
        "poses": poses(route, solution),
        "branches": (0..route.branches.len())
            .map(|index| branch(route, solution, findings, BranchId(index)))
            .collect::<Vec<_>>(),
        "findings": findings
            .findings
            .iter()
            .map(|finding| entry(route, solution, finding))
            .collect::<Vec<_>>(),
        "blanks": findings
            .blanks
            .iter()
            .map(|blank| {
                json!({
                    "check": blank.check,
                    "branch": route.branches[blank.branch.0].name,
                    "why": blank.why,
                })
            })
            .collect::<Vec<_>>(),
    }));
    if let Value::Object(fields) = &mut report {
        let breakouts = hanging::breakouts(route, solution);
        fields.insert("breakouts".to_owned(), json!(breakouts));
    }
    report
}

/// A report with every number to a millionth of its unit: what is finer comes from the arithmetic.
pub(crate) fn rounded(report: Value) -> Value {
    match report {
        Value::Number(number) => match number.as_f64().filter(|_| number.is_f64()) {
            Some(value) => json!(to_millionth(value)),
            None => Value::Number(number),
        },
        Value::Array(values) => values.into_iter().map(rounded).collect(),
        Value::Object(fields) => fields
            .into_iter()
            .map(|(key, value)| (key, rounded(value)))
            .collect(),
        other => other,
    }
}

/// To a millionth. What is so large that it has no digits there stays as it is; -0 becomes a plain 0.
pub(crate) fn to_millionth(value: f64) -> f64 {
    const MILLION: f64 = 1e6;
    if value.abs() < 1e9 {
        (value * MILLION).round() / MILLION + 0.0
    } else {
        value
    }
}

pub(crate) fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Within => "within",
        Verdict::Close => "close",
        Verdict::Over => "over",
    }
}

/// Joint values by the body's name: degrees for a turning joint, millimetres for a sliding one.
fn poses(route: &Route, solution: &Solution) -> Vec<Value> {
    let poses = solution.sweep.poses.iter().enumerate();
    poses
        .map(|(id, pose)| {
            let mut joints = Map::new();
            for (body, &value) in route.machine.bodies.iter().zip(&pose.joints) {
                let value = match body.joint {
                    Joint::Fixed => continue,
                    Joint::Turns { .. } => value.to_degrees(),
                    Joint::Slides { .. } => value * MM,
                };
                joints.insert(body.name.clone(), json!(value));
            }
            json!({
                "id": id,
                "joints": joints,
                "in_words": pose_in_words(&route.machine, &solution.sweep, id, Units::METRIC),
            })
        })
        .collect()
}

fn branch(route: &Route, solution: &Solution, findings: &Findings, id: BranchId) -> Value {
    let bundle = &route.branches[id.0];
    let solved = &solution.branches[id.0];
    let spans: Vec<Value> = (0..solved.spans.len())
        .map(|index| span(route, solution, id, index))
        .collect();
    let nearest: Vec<Value> = findings.nearest[id.0]
        .iter()
        .map(|gap| {
            json!({
                "part": route.machine.parts[gap.part.0].name,
                "gap_mm": gap.gap * MM,
                "at_mm": gap.at * MM,
                "pose": gap.pose,
            })
        })
        .collect();
    let snaps: Vec<Value> = solved
        .snaps
        .iter()
        .map(|snap| {
            json!({
                "from_pose": snap.from,
                "to_pose": snap.to,
                "jump_mm": snap.jump * MM,
                "at_mm": snap.at * MM,
            })
        })
        .collect();
    let fixings: Vec<Map<String, Value>> = bundle
        .lay
        .iter()
        .zip(fixing_stations(&solved.spans))
        .enumerate()
        .map(|(lay, (entry, at))| {
            let mut fixing = Map::new();
            fixing.insert("name".to_owned(), json!(entry.fixing.name));
            fixing.insert("at_mm".to_owned(), json!(at * MM));
            hanging::slides(route, solution, id.0, lay, &mut fixing);
            fixing
        })
        .collect();
    // Where nothing was found there is nothing whose error could be told.
    let any_found = solved.shapes.iter().any(|shape| shape.converged);
    json!({
        "name": bundle.name,
        "diameter_mm": bundle.diameter * MM,
        "section": section(route, bundle),
        "spans": spans,
        "nearest": nearest,
        "fixings": fixings,
        "snaps": snaps,
        "elements": solved.resolution.elements,
        "radius_error_pct": any_found.then_some(solved.resolution.radius_error * 100.0),
    })
}

/// The section of a bundle whose wires are known: each wire's place, copper, mass, and the bending stiffness from
/// slipping to bonded.
fn section(route: &Route, bundle: &Branch) -> Option<Value> {
    let wires: Vec<_> = bundle.wires.iter().map(|id| &route.wires[id.0]).collect();
    if wires.is_empty() {
        return None;
    }
    let section = Section::of(&wires, bundle.cover.as_ref(), bundle.pitch);
    let placed = section.wires.iter().zip(&wires).map(|(placed, wire)| {
        json!({
            "wire": wire.name,
            "at_mm": placed.at.map(|c| c * MM),
            "outside_mm": 2.0 * placed.radius * MM,
        })
    });
    Some(json!({
        "diameter_mm": section.outside * MM,
        "pitch_mm": bundle.pitch.map(|pitch| pitch * MM),
        "copper_mm2": section.copper * MM * MM,
        "mass_g_per_m": section.mass * 1e3,
        "bend_slipping_n_m2": section.slipping.bend,
        "bend_bonded_n_m2": section.bonded.bend,
        "wires": placed.collect::<Vec<_>>(),
    }))
}

/// Radius of a curvature in millimetres, none where the span is straight.
fn radius_mm(curvature: f64, span: &Span) -> Option<f64> {
    (!is_straight(curvature, span.length)).then(|| MM / curvature)
}

fn span(route: &Route, solution: &Solution, id: BranchId, index: usize) -> Value {
    let bundle = &route.branches[id.0];
    let solved = &solution.branches[id.0];
    let span = &solved.spans[index];
    let states: Vec<_> = solved.shapes.iter().map(|s| s.spans[index]).collect();
    // Compared as they are reported, so that the lowest of the poses that tie in the report is the one named.
    let least = |value: &dyn Fn(usize) -> f64| {
        (1..states.len()).fold(0, |best, pose| {
            if to_millionth(value(pose)) < to_millionth(value(best)) {
                pose
            } else {
                best
            }
        })
    };
    let tight = least(&|pose| radius_mm(states[pose].curvature, span).unwrap_or(f64::INFINITY));
    let slack = least(&|pose| states[pose].slack * MM);
    let slackest = least(&|pose| -states[pose].slack * MM);
    let stretch = least(&|pose| -states[pose].strain * 100.0);
    let twist = least(&|pose| -states[pose].twist.abs().to_degrees());
    let by_pose: Vec<Value> = states
        .iter()
        .zip(&solved.shapes)
        .enumerate()
        .map(|(pose, (state, shape))| {
            json!({
                "pose": pose,
                "radius_mm": radius_mm(state.curvature, span),
                "length_mm": state.length * MM,
                "slack_mm": state.slack * MM,
                "tension_n": state.tension,
                "twist_deg": state.twist.to_degrees(),
                "converged": shape.converged,
            })
        })
        .collect();
    let mut entry = json!({
        "from": bundle.lay[span.from].fixing.name,
        "to": bundle.lay[span.from + 1].fixing.name,
        "length_mm": span.length * MM,
        "moving": span.moving,
        "tightest_bend": {
            "radius_mm": radius_mm(states[tight].curvature, span),
            "at_mm": states[tight].curvature_at * MM,
            "pose": tight,
        },
        "slack_least": { "slack_mm": states[slack].slack * MM, "pose": slack },
        "slack_most": { "slack_mm": states[slackest].slack * MM, "pose": slackest },
        "stretch_most": {
            "stretch_pct": states[stretch].strain * 100.0,
            "tension_n": states[stretch].tension,
            "pose": stretch,
        },
        "twist_most": { "twist_deg": states[twist].twist.to_degrees(), "pose": twist },
        "by_pose": by_pose,
    });
    let string = string(route, id, span);
    if let (Some(string), Some(fields)) = (string, entry.as_object_mut()) {
        fields.insert("string".to_owned(), string);
    }
    entry
}

/// What string and gathered slack say about the length of a span, where they were given.
fn string(route: &Route, id: BranchId, span: &Span) -> Option<Value> {
    let branch = &route.branches[id.0];
    let lay = span.from + 1;
    let LengthRule::Strung(readings) = branch.lay[lay].length else {
        return None;
    };
    let fit = route.string_fit(branch, lay, &readings)?;
    let entries = fit.readings.iter().map(|one| {
        let read = if one.distance.is_some() {
            "spare_mm"
        } else {
            "length_mm"
        };
        json!({
            "at": one.at.name(),
            read: one.read * MM,
            "expected_mm": one.expected * MM,
            "off_mm": one.off() * MM,
        })
    });
    Some(json!({
        "length_mm": fit.length * MM,
        "sd_mm": fit.sd * MM,
        "readings": entries.collect::<Vec<_>>(),
        "agree": !fit.disagree,
        "suspect": fit.suspect.map(|at| at.name()),
    }))
}

/// Factor from the SI unit of a kind to the unit that the report uses, and that unit.
pub(crate) fn reported_unit(kind: Kind) -> (f64, &'static str) {
    match kind {
        Kind::Length => (MM, "mm"),
        Kind::Angle => (180.0 / std::f64::consts::PI, "deg"),
        Kind::Temperature => (1.0, "degC"),
        Kind::Force => (1.0, "N"),
        Kind::Torque => (1.0, "N m"),
        Kind::Pressure => (1e-6, "MPa"),
        Kind::Ratio => (100.0, "%"),
        Kind::Area => (1e6, "mm2"),
        Kind::BendingStiffness => (1.0, "N m2"),
        Kind::MassPerLength => (1.0, "kg/m"),
        Kind::Current => (1.0, "A"),
        Kind::Voltage => (1.0, "V"),
        Kind::Resistance => (1.0, "ohm"),
        Kind::TwistRate => (18.0 / std::f64::consts::PI, "deg/100 mm"),
    }
}

pub(crate) fn entry(route: &Route, solution: &Solution, finding: &Finding) -> Value {
    let (factor, unit) = reported_unit(finding.kind);
    json!({
        "check": finding.check,
        "subject": finding.subject,
        "branch": route.branches[finding.branch.0].name,
        "place": finding.place,
        "at_mm": finding.at * MM,
        "pose": finding.pose,
        "pose_in_words": pose_in_words(&route.machine, &solution.sweep, finding.pose, Units::METRIC),
        "value": finding.value * factor,
        "limit": finding.limit * factor,
        "unit": unit,
        "at_most": finding.at_most,
        "verdict": verdict_word(finding.verdict),
        "spread": finding.spread.map(|spread| spread * factor),
        "chance_over_pct": finding.chance_over.map(|chance| chance * 100.0),
        "source": finding.source,
        "advice": finding.advice,
        "follows_from": finding.follows_from,
    })
}
