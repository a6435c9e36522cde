//! What the report says of breakouts and of holes that the harness slides through.

use serde_json::{Map, Value, json};

use crate::harness::{Breakout, Held};
use crate::machine::BodyId;
use crate::rod::Solution;
use crate::route::Route;

use super::job::poses_of_joint;

const MM: f64 = 1e3;

/// For each breakout where it is in each pose, and what every branch does to it there: force \[N\] and moment about the
/// breakout \[N m\], machine frame, with all their digits, so that their balance can be looked at; what they leave over; and
/// what the body bears that holds it.
pub(super) fn breakouts(route: &Route, solution: &Solution) -> Vec<Value> {
    route
        .breakouts
        .iter()
        .map(|breakout| {
            let by_pose: Vec<Value> = (0..solution.sweep.poses.len())
                .map(|pose| balance(route, solution, breakout, pose))
                .collect();
            json!({
                "name": breakout.name,
                "held": match breakout.held {
                    Held::Floats => "by its branches alone",
                    Held::Pivots => "in place",
                    Held::Firmly => "in place and direction",
                },
                "branches": breakout
                    .meets
                    .iter()
                    .map(|meeting| route.branches[meeting.branch.0].name.clone())
                    .collect::<Vec<_>>(),
                "by_pose": by_pose,
            })
        })
        .collect()
}

fn balance(route: &Route, solution: &Solution, breakout: &Breakout, pose: usize) -> Value {
    let stance = &solution.stances[pose];
    let at = stance.bodies[breakout.body.0] * route.places[breakout.place].at;
    let mut left = (nalgebra::Vector3::zeros(), nalgebra::Vector3::zeros());
    let branches: Vec<Value> = breakout
        .meets
        .iter()
        .map(|meeting| {
            let hold = &solution.branches[meeting.branch.0].shapes[pose].holds[meeting.lay];
            left.0 -= hold.force;
            left.1 -= hold.moment;
            json!({
                "branch": route.branches[meeting.branch.0].name,
                "force_n": (-hold.force).as_slice(),
                "moment_nm": (-hold.moment).as_slice(),
            })
        })
        .collect();
    let mut balance = json!({
        "pose": pose,
        "at_mm": (at.coords * MM).as_slice(),
        "branches": branches,
    });
    if let Value::Object(fields) = &mut balance {
        // What the branches leave over must be nothing where the breakout may move; where it is held, its body bears it.
        let (force, moment) = match breakout.held {
            Held::Floats => ("left_n", "left_nm"),
            Held::Pivots => ("support_n", "left_nm"),
            Held::Firmly => ("support_n", "support_nm"),
        };
        fields.insert(force.to_owned(), json!(left.0.norm()));
        fields.insert(moment.to_owned(), json!(left.1.norm()));
    }
    balance
}

/// How a branch slides through one of its fixings over the sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sliding {
    /// Least and greatest length that has gone through toward the fixing before, from where it was laid \[m\].
    pub(super) range: (f64, f64),
    /// Length that rubs through on one sweep of a joint from end to end \[m\], and that joint: the one that rubs most.
    pub(super) rubbed: Option<(f64, BodyId)>,
}

/// How a branch slides through the fixing `lay`; `None` where it does not.
pub(super) fn sliding(
    route: &Route,
    solution: &Solution,
    branch: usize,
    lay: usize,
) -> Option<Sliding> {
    let bundle = &route.branches[branch];
    let inner = lay > 0 && lay + 1 < bundle.lay.len();
    if !inner || !bundle.lay[lay].fixing.slides() {
        return None;
    }
    let shapes = &solution.branches[branch].shapes;
    let slid = |pose: usize| shapes[pose].slid_at(lay);
    let range = (0..shapes.len()).fold((f64::INFINITY, f64::NEG_INFINITY), |range, pose| {
        (range.0.min(slid(pose)), range.1.max(slid(pose)))
    });
    let rubbed = (0..route.machine.bodies.len())
        .map(BodyId)
        .filter_map(|joint| {
            let chain = poses_of_joint(solution, joint);
            let way: f64 = chain
                .windows(2)
                .map(|pair| (slid(pair[1].0) - slid(pair[0].0)).abs())
                .sum();
            (chain.len() > 1).then_some((way, joint))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0));
    Some(Sliding { range, rubbed })
}

/// The sliding of a fixing as the report tells it.
pub(super) fn slides(
    route: &Route,
    solution: &Solution,
    branch: usize,
    lay: usize,
    into: &mut Map<String, Value>,
) {
    let Some(sliding) = sliding(route, solution, branch, lay) else {
        return;
    };
    let shapes = &solution.branches[branch].shapes;
    let pulls: Vec<Value> = shapes
        .iter()
        .enumerate()
        .map(|(pose, shape)| {
            json!({
                "pose": pose,
                "slid_mm": shape.slid_at(lay) * MM,
                "pull_before_n": shape.spans[lay - 1].pulls.map(|[_, end]| end),
                "pull_after_n": shape.spans[lay].pulls.map(|[start, _]| start),
            })
        })
        .collect();
    into.insert("slides".to_owned(), json!(true));
    into.insert("slid_least_mm".to_owned(), json!(sliding.range.0 * MM));
    into.insert("slid_most_mm".to_owned(), json!(sliding.range.1 * MM));
    if let Some((way, joint)) = sliding.rubbed {
        into.insert("rubbed_mm".to_owned(), json!(way * MM));
        let name = &route.machine.bodies[joint.0].name;
        into.insert("rubbed_by".to_owned(), json!(name));
    }
    into.insert("by_pose".to_owned(), json!(pulls));
}
