//! The report of a check as `check --json` has it, with where each finding is in space, the charts and what is swept.

use serde_json::{Value, json};

use crate::check::{AgainstJoint, Findings, LimitKey, report, reported_unit};
use crate::harness::BranchId;
use crate::machine::{BodyId, Joint};
use crate::quantity::Kind;
use crate::rod::Solution;
use crate::route::Route;

use super::envelope::envelope;

const MM: f64 = 1e3;

/// The report. Its own fields are those of the report's contract; added are `rev`, `spread_known`, `exit_status`, of each
/// finding `point_mm` and `use_of_limit`, then `charts` and `envelope`.
pub(super) fn told(
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    rev: u64,
    spread: bool,
) -> Value {
    let mut told = report(route, solution, findings);
    let Some(fields) = told.as_object_mut() else {
        return told;
    };
    if let Some(Value::Array(listed)) = fields.get_mut("findings") {
        for (entry, finding) in listed.iter_mut().zip(&findings.findings) {
            let point = point(solution, finding.branch, finding.pose, finding.at);
            if let Some(entry) = entry.as_object_mut() {
                entry.insert("point_mm".to_owned(), json!(point));
                entry.insert("measure".to_owned(), json!(finding.measure()));
                let used = finding.use_of_limit();
                let used = used.is_finite().then_some(used);
                entry.insert("use_of_limit".to_owned(), json!(used));
            }
        }
    }
    fields.insert("rev".to_owned(), json!(rev));
    fields.insert("spread_known".to_owned(), json!(spread));
    let status = crate::check::exit_status(solution, findings);
    fields.insert("exit_status".to_owned(), json!(status));
    fields.insert("charts".to_owned(), charts(route, findings));
    fields.insert("envelope".to_owned(), envelope(route, solution));
    told
}

/// Where a place along a branch is in a pose \[mm\].
fn point(solution: &Solution, branch: BranchId, pose: usize, at: f64) -> Option<Vec<f64>> {
    let shape = solution.branches.get(branch.0)?.shapes.get(pose)?;
    let p = shape.curve.position(at) * MM;
    Some(p.coords.as_slice().to_vec())
}

/// The numbers of the strip charts; `null` where straight.
fn charts(route: &Route, findings: &Findings) -> Value {
    let name = |branch: BranchId| route.branches[branch.0].name.as_str();
    let mm = |values: &[f64]| -> Vec<Option<f64>> {
        let scaled = values.iter().map(|value| value * MM);
        scaled
            .map(|value| value.is_finite().then_some(value))
            .collect()
    };
    let along: Vec<Value> = findings
        .along
        .iter()
        .map(|chart| {
            json!({
                "branch": name(chart.branch),
                "at_mm": mm(&chart.at),
                "inside_radius_mm": mm(&chart.inside_radius),
                "radius_limit_mm": mm(&chart.radius_limit),
                "hot_gap_mm": mm(&chart.hot_gap),
                "hot_limit_mm": mm(&chart.hot_limit),
            })
        })
        .collect();
    let against: Vec<Value> = findings
        .against
        .iter()
        .map(|chart| {
            let (motion, load) = kinds(route, chart.joint);
            let ((factor, unit), (_, load_unit)) = (reported_unit(motion), reported_unit(load));
            json!({
                "branch": name(chart.branch),
                "joint": route.machine.bodies[chart.joint.0].name,
                "poses": chart.poses,
                "values": chart.values.iter().map(|v| v * factor).collect::<Vec<_>>(),
                "unit": unit,
                "slack_mm": mm(&chart.slack),
                "inside_radius_mm": mm(&chart.inside_radius),
                "load": chart.load,
                "load_unit": load_unit,
                "limits": limits_of(route, findings, chart),
            })
        })
        .collect();
    json!({ "along": along, "against": against })
}

/// The limits of a chart's values, by the value's name in the chart; what no limit is set to is left out.
fn limits_of(route: &Route, findings: &Findings, chart: &AgainstJoint) -> Value {
    let limit = |key| findings.limits.get(key);
    let branch = &route.branches[chart.branch.0];
    let mut told = json!({
        "slack_mm": limit(LimitKey::SlackLeast).value() * MM,
        "inside_radius_mm": limit(LimitKey::BendRadiusMoving).radius(route, branch) * MM,
    });
    if kinds(route, chart.joint).1 == Kind::Torque
        && let Some(fields) = told.as_object_mut()
    {
        let most = limit(LimitKey::SteeringDrag).value();
        fields.insert("load".to_owned(), json!(most));
    }
    told
}

/// Kinds of a joint's motion and of what drives it.
fn kinds(route: &Route, joint: BodyId) -> (Kind, Kind) {
    match route.machine.bodies[joint.0].joint {
        Joint::Slides { .. } => (Kind::Length, Kind::Force),
        Joint::Fixed | Joint::Turns { .. } => (Kind::Angle, Kind::Torque),
    }
}
