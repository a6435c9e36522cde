//! One pose that is not in the sweep, from the nearest that is.

use crate::machine::{Pose, PoseStep, Sweep};
use crate::route::Route;

use super::Settings;
use super::solution::{BranchSolution, Solution};
use super::solve::solve_near;

/// A joint is led to its place in steps no wider than this share of the distance between its stops.
const STEP: f64 = 0.1;
/// Most steps.
const MOST: usize = 20;

/// Solves a route in one pose, led there from the nearest pose of its solution. Joint values \[rad or m\] one a body; they
/// are held within the stops. The solution that comes has that pose alone.
pub fn solve_pose(
    route: &Route,
    solution: &Solution,
    joints: &[f64],
    settings: &Settings,
) -> Solution {
    let bodies = &route.machine.bodies;
    let wanted: Vec<f64> = bodies
        .iter()
        .enumerate()
        .map(|(index, body)| {
            let (from, to) = body.joint.stops();
            let value = joints.get(index).copied().unwrap_or(0.0);
            value.max(from).min(to)
        })
        .collect();
    let share = |a: f64, b: f64, index: usize| {
        let (from, to) = bodies[index].joint.stops();
        let travel = to - from;
        if travel > 0.0 {
            (a - b).abs() / travel
        } else {
            0.0
        }
    };
    let apart = |pose: &Pose| {
        let both = pose.joints.iter().zip(&wanted).enumerate();
        both.map(|(index, (a, b))| share(*a, *b, index))
            .sum::<f64>()
    };
    let poses = solution.sweep.poses.iter().enumerate();
    let nearest = poses
        .min_by(|a, b| apart(a.1).total_cmp(&apart(b.1)))
        .map_or(solution.sweep.rest, |(id, _)| id);
    let start = solution.sweep.poses[nearest].joints.clone();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a share of a joint's travel over a tenth, bounded"
    )]
    let steps = ((apart(&solution.sweep.poses[nearest]) / STEP).ceil() as usize).clamp(1, MOST);
    let mut here = paired(route, solution, nearest, &start);
    for step in 1..=steps {
        #[allow(clippy::cast_precision_loss, reason = "at most 20")]
        let part = step as f64 / steps as f64;
        let between = start.iter().zip(&wanted);
        let joints: Vec<f64> = between.map(|(a, b)| a + part * (b - a)).collect();
        let from = paired(route, &here, 1, &joints);
        here = solve_near(route, &from, settings);
    }
    alone(here)
}

/// Rest, where the harness lies untwisted, and one more pose as a solution of their own; in that pose the joints are as
/// they are to be, and the shapes those of `pose`.
fn paired(route: &Route, solution: &Solution, pose: usize, joints: &[f64]) -> Solution {
    let rest = solution.sweep.rest;
    let mut stance = route.machine.stance(joints);
    // Breakouts are where they were found.
    for breakout in route.breakouts.iter().filter(|b| b.floats()) {
        stance.bodies[breakout.body.0] = solution.stances[pose].bodies[breakout.body.0];
    }
    let step = |from, to| PoseStep {
        from,
        to,
        straight_on: false,
    };
    Solution {
        sweep: Sweep {
            poses: vec![
                solution.sweep.poses[rest].clone(),
                Pose {
                    joints: joints.to_vec(),
                },
            ],
            rest: 0,
            walk: vec![step(None, 0), step(Some(0), 1)],
        },
        stances: vec![solution.stances[rest].clone(), stance],
        branches: solution
            .branches
            .iter()
            .map(|branch| BranchSolution {
                spans: branch.spans.clone(),
                shapes: vec![branch.shapes[rest].clone(), branch.shapes[pose].clone()],
                snaps: Vec::new(),
                resolution: branch.resolution,
                contact: branch.contact.clone(),
            })
            .collect(),
    }
}

/// The second pose without rest.
fn alone(mut pair: Solution) -> Solution {
    pair.sweep.poses.remove(0);
    pair.sweep.walk.truncate(1);
    pair.stances.remove(0);
    for branch in &mut pair.branches {
        branch.shapes.remove(0);
    }
    pair
}
