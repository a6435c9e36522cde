//! What the strip charts show, worked out by the checks so that a drawing decides nothing.

use rayon::prelude::*;

use crate::harness::BranchId;
use crate::machine::{BodyId, Joint, PartId};

use super::LimitKey;
use super::asked::Asked;
use super::bend_radius::limit_at;
use super::curvature::{curvature_at, is_straight};
use super::job::{Job, joints_across, poses_of_joint};
use super::steering_drag::load;

/// The least gap between a branch and a part over the sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeastGap {
    /// The part.
    pub part: PartId,
    /// Surface to surface \[m\], negative where they overlap.
    pub gap: f64,
    /// Where along the branch, from its first fixing \[m\].
    pub at: f64,
    /// Pose id; the lowest where several tie.
    pub pose: usize,
}

/// The worst over all poses at each place along a branch.
#[derive(Debug, Clone, PartialEq)]
pub struct AlongBranch {
    /// The branch.
    pub branch: BranchId,
    /// Distance from the branch's first fixing \[m\], never falling.
    pub at: Vec<f64>,
    /// Least inside radius \[m\] at each place (infinite where straight).
    pub inside_radius: Vec<f64>,
    /// Limit of the inside radius \[m\] at each place.
    pub radius_limit: Vec<f64>,
    /// Least gap to a hot part \[m\] at each place; empty where the machine has none.
    pub hot_gap: Vec<f64>,
    /// Limit of the gap to that hot part \[m\] at each place; empty like `hot_gap`.
    pub hot_limit: Vec<f64>,
}

/// What changes with one joint while the others rest, for one branch that bridges it.
#[derive(Debug, Clone, PartialEq)]
pub struct AgainstJoint {
    /// The branch.
    pub branch: BranchId,
    /// The body whose joint turns or slides.
    pub joint: BodyId,
    /// Pose ids, joint value rising.
    pub poses: Vec<usize>,
    /// Joint values (rad or m).
    pub values: Vec<f64>,
    /// Least slack of the branch's moving spans \[m\].
    pub slack: Vec<f64>,
    /// Least inside radius of its moving spans \[m\].
    pub inside_radius: Vec<f64>,
    /// Torque of the branch about the joint's axis (positive drives the joint value up) \[N m\]; for a
    /// sliding joint the force along it \[N\].
    pub load: Vec<f64>,
}

/// One chart for each branch.
pub(super) fn along(job: &Job<'_>) -> Vec<AlongBranch> {
    job.branches
        .par_iter()
        .map(|&branch| along_branch(job, branch))
        .collect()
}

fn along_branch(job: &Job<'_>, branch: BranchId) -> AlongBranch {
    let solved = job.solved(branch);
    let half_diameter = 0.5 * job.branch(branch).diameter;
    let mut chart = AlongBranch {
        branch,
        at: Vec::new(),
        inside_radius: Vec::new(),
        radius_limit: Vec::new(),
        hot_gap: Vec::new(),
        hot_limit: Vec::new(),
    };
    // The stations at rest, and the tightest place of every span in every pose, so that the chart's lowest
    // point is the value that the finding names.
    let rest = solved.shapes.get(job.rest()).into_iter();
    chart
        .at
        .extend(rest.flat_map(|shape| shape.stations.iter().map(|s| s.at)));
    for shape in &solved.shapes {
        chart.at.extend(shape.spans.iter().map(|s| s.curvature_at));
    }
    chart.at.sort_by(f64::total_cmp);
    chart.at.dedup_by(|b, a| (*b - *a).abs() < 1e-6);
    let each = solved.shapes.iter().flat_map(|shape| &shape.spans);
    let mut peaks: Vec<(f64, f64)> = each.map(|s| (s.curvature_at, s.curvature)).collect();
    peaks.sort_by(|a, b| a.0.total_cmp(&b.0));
    for &at in &chart.at {
        let first = solved.spans.partition_point(|span| span.end() < at);
        let span = solved.spans.get(first).or(solved.spans.last());
        let from = peaks.partition_point(|(place, _)| *place <= at - 1e-6);
        let here = peaks[from..]
            .iter()
            .take_while(|(place, _)| *place < at + 1e-6);
        let between = solved.shapes.iter().map(|shape| curvature_at(shape, at));
        let curvature = here.map(|peak| peak.1).chain(between).fold(0.0, f64::max);
        let radius = match span {
            Some(span) if !is_straight(curvature, span.length) => 1.0 / curvature - half_diameter,
            _ => f64::INFINITY,
        };
        chart.inside_radius.push(radius);
        chart
            .radius_limit
            .push(span.map_or(0.0, |span| limit_at(job, branch, span, at)));
    }
    hot_gaps(job, branch, &mut chart);
    chart
}

/// At each place the gap to the hot part whose keep-away distance is used up most, over all poses.
fn hot_gaps(job: &Job<'_>, branch: BranchId, chart: &mut AlongBranch) {
    let parts = job.route.machine.parts.iter().enumerate();
    let hot: Vec<(PartId, f64)> = parts
        .filter_map(|(index, part)| {
            let surface = part.surface?;
            let keep_away = job.limit(LimitKey::HotDistance).distance(surface);
            Some((PartId(index), keep_away))
        })
        .collect();
    if hot.is_empty() {
        return;
    }
    let (shapes, stances) = (&job.solved(branch).shapes, &job.solution.stances);
    let mut asked = vec![Asked::of_none(hot.len()); shapes.len()];
    for &at in &chart.at {
        let half_diameter = 0.5 * job.route.diameter_at(branch, at);
        let (mut worst, mut least) = (f64::INFINITY, (f64::INFINITY, 0.0));
        for (pose, (shape, stance)) in shapes.iter().zip(stances).enumerate() {
            let position = shape.curve.position(at);
            let machine = (job.surroundings, stance);
            for (index, &(part, keep_away)) in hot.iter().enumerate() {
                let reach = worst + half_diameter + keep_away;
                let Some(away) = asked[pose].within(machine, (index, part), &position, reach)
                else {
                    continue;
                };
                let gap = away - half_diameter;
                if gap - keep_away < worst {
                    worst = gap - keep_away;
                    least = (gap, keep_away);
                }
            }
        }
        chart.hot_gap.push(least.0);
        chart.hot_limit.push(least.1);
    }
}

/// One chart for each branch and each joint that one of its spans bridges.
pub(super) fn against(job: &Job<'_>) -> Vec<AgainstJoint> {
    let mut charts = Vec::new();
    for &branch in job.branches {
        for (index, body) in job.route.machine.bodies.iter().enumerate() {
            if !matches!(body.joint, Joint::Fixed) {
                charts.extend(against_joint(job, branch, BodyId(index)));
            }
        }
    }
    charts
}

fn against_joint(job: &Job<'_>, branch: BranchId, joint: BodyId) -> Option<AgainstJoint> {
    let (bundle, solved) = (job.branch(branch), job.solved(branch));
    let across: Vec<usize> = (0..solved.spans.len())
        .filter(|&span| joints_across(job.route, bundle, &solved.spans[span]).contains(&joint))
        .collect();
    if across.is_empty() {
        return None;
    }
    let poses = poses_of_joint(job.solution, joint);
    let least = |value: &dyn Fn(usize) -> f64| {
        let values = across.iter().map(|&span| value(span));
        values.fold(f64::INFINITY, f64::min)
    };
    Some(AgainstJoint {
        branch,
        joint,
        values: poses.iter().map(|pose| pose.1).collect(),
        slack: poses
            .iter()
            .map(|&(pose, _)| least(&|span| solved.shapes[pose].spans[span].slack))
            .collect(),
        inside_radius: poses
            .iter()
            .map(|&(pose, _)| {
                least(&|span| {
                    let curvature = solved.shapes[pose].spans[span].curvature;
                    if is_straight(curvature, solved.spans[span].length) {
                        f64::INFINITY
                    } else {
                        1.0 / curvature - 0.5 * bundle.diameter
                    }
                })
            })
            .collect(),
        load: poses
            .iter()
            .map(|&(pose, _)| load(job, branch, joint, pose))
            .collect(),
        poses: poses.into_iter().map(|pose| pose.0).collect(),
    })
}
