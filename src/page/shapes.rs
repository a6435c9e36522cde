//! Where the harness lies in every pose, as rows of numbers to draw from.

use nalgebra::Isometry3;
use serde_json::{Map, Value, json};

use crate::harness::BranchId;
use crate::machine::Stance;
use crate::rod::{BranchSolution, Shape, Solution, Station};
use crate::route::Route;

use super::packed;

const MM: f64 = 1e3;
/// Distance between the points of a drawn line \[m\], where that does not make too many.
const APART: f64 = 4e-3;
/// Points of a drawn line.
const POINTS: std::ops::RangeInclusive<usize> = 24..=240;
/// A bend wider than this is straight to the eye \[m\].
const STRAIGHT: f64 = 10.0;

/// The shapes of all branches in all poses.
pub(super) fn shapes(route: &Route, solution: &Solution, rev: u64) -> Value {
    let all: Vec<BranchId> = (0..route.branches.len()).map(BranchId).collect();
    some(route, solution, rev, &all, true)
}

/// The shapes of some branches in all poses, with the stances of the bodies where they are asked for.
pub(super) fn some(
    route: &Route,
    solution: &Solution,
    rev: u64,
    branches: &[BranchId],
    with_stances: bool,
) -> Value {
    let found = |pose: usize| {
        let mut solved = branches.iter().map(|b| &solution.branches[b.0]);
        solved.all(|branch| branch.shapes[pose].converged)
    };
    let poses: Vec<Value> = solution
        .stances
        .iter()
        .enumerate()
        .map(|(id, stance)| {
            let mut pose = json!({ "id": id, "converged": found(id) });
            if with_stances {
                pose["stances"] = stances(route, stance);
            }
            pose
        })
        .collect();
    let branches: Vec<Value> = branches
        .iter()
        .map(|id| branch(&route.branches[id.0].name, &solution.branches[id.0]))
        .collect();
    json!({ "rev": rev, "poses": poses, "branches": branches })
}

/// Every body's motion from where it was drawn, column by column, in millimetres.
pub(super) fn stances(route: &Route, stance: &Stance) -> Value {
    let bodies = route.machine.bodies.iter().zip(&stance.bodies);
    let all: Map<String, Value> = bodies
        .map(|(body, motion)| (body.name.clone(), json!(matrix(motion))))
        .collect();
    Value::Object(all)
}

fn matrix(motion: &Isometry3<f64>) -> Vec<f64> {
    let mut matrix = motion.to_homogeneous();
    for row in 0..3 {
        matrix[(row, 3)] *= MM;
    }
    matrix.as_slice().to_vec()
}

fn branch(name: &str, solved: &BranchSolution) -> Value {
    let length = solved.spans.last().map_or(0.0, |span| span.end());
    let stations = stations(length);
    let lines: Vec<String> = solved
        .shapes
        .iter()
        .map(|shape| {
            let points = stations.iter().map(|at| shape.curve.position(*at) * MM);
            packed::floats(points.flat_map(|p| [p.x, p.y, p.z]))
        })
        .collect();
    let radii: Vec<String> = solved
        .shapes
        .iter()
        .map(|shape| packed::floats(radii(shape, &stations)))
        .collect();
    json!({
        "name": name,
        "stations_mm": packed::floats(stations.iter().map(|at| at * MM)),
        "lines": lines,
        "radius_mm": radii,
    })
}

/// Places along a branch, evenly.
pub(super) fn stations(length: f64) -> Vec<f64> {
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a length over a few millimetres, bounded below"
    )]
    let count = ((length / APART).ceil() as usize).clamp(*POINTS.start(), *POINTS.end());
    #[allow(clippy::cast_precision_loss, reason = "at most 240")]
    let share = |i: usize| i as f64 / (count - 1) as f64;
    (0..count).map(|i| length * share(i)).collect()
}

/// Radius of the centreline at each place \[mm\]; what is straight is 10 m.
fn radii<'s>(shape: &'s Shape, stations: &'s [f64]) -> impl Iterator<Item = f64> + 's {
    stations
        .iter()
        .map(|at| MM / curvature(&shape.stations, *at).max(1.0 / STRAIGHT))
}

/// Curvature at a place, straight between what the solver gives \[1/m\].
fn curvature(stations: &[Station], at: f64) -> f64 {
    let above = stations.partition_point(|station| station.at < at);
    let (Some(next), before) = (
        stations.get(above).or(stations.last()),
        above.checked_sub(1),
    ) else {
        return 0.0;
    };
    let Some(before) = before.and_then(|index| stations.get(index)) else {
        return next.curvature;
    };
    let run = next.at - before.at;
    let share = if run > 0.0 {
        ((at - before.at) / run).clamp(0.0, 1.0)
    } else {
        0.0
    };
    before.curvature + share * (next.curvature - before.curvature)
}
