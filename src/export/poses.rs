//! The poses: what each is called, and the value of every joint.

use crate::check::pose_in_words;
use crate::machine::{BodyId, Joint};
use crate::quantity::{Kind, Units};
use crate::rod::Solution;
use crate::route::Route;

use super::table::{Cell, Table, column, value};
use super::{ExportOptions, PoseChoice};

pub(super) fn poses(route: &Route, solution: &Solution, options: &ExportOptions) -> Table {
    let joints = joint_columns(route, options.units);
    let mut table = Table::new(
        ["pose", "in_words", "rest"]
            .map(str::to_owned)
            .into_iter()
            .chain(joints),
    );
    for id in 0..solution.sweep.poses.len() {
        let rest = if id == solution.sweep.rest {
            "yes"
        } else {
            "no"
        };
        let mut line = vec![id.into(), words(route, solution, id, options), rest.into()];
        line.extend(joint_cells(route, solution, id, options.units));
        table.lines.push(line);
    }
    table
}

pub(super) fn words(
    route: &Route,
    solution: &Solution,
    pose: usize,
    options: &ExportOptions,
) -> Cell {
    pose_in_words(&route.machine, &solution.sweep, pose, options.units).into()
}

/// The ids of the poses that were chosen, rising.
pub(super) fn chosen(route: &Route, solution: &Solution, choice: &PoseChoice) -> Vec<usize> {
    let poses = solution.sweep.poses.iter().enumerate();
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    poses
        .filter(|(id, pose)| match choice {
            PoseChoice::All => true,
            PoseChoice::Rest => *id == solution.sweep.rest,
            PoseChoice::These(ids) => ids.contains(id),
            PoseChoice::Ends => {
                pose.joints
                    .iter()
                    .zip(&route.machine.bodies)
                    .all(|(&value, body)| {
                        let (from, to) = body.joint.stops();
                        [from, to, body.joint.rest()]
                            .iter()
                            .any(|&end| same(value, end))
                    })
            }
        })
        .map(|(id, _)| id)
        .collect()
}

/// A column for each joint that moves: `joint steering_deg`.
pub(super) fn joint_columns(route: &Route, units: Units) -> Vec<String> {
    let named = |id: &BodyId| {
        let name = format!("joint {}", route.machine.bodies[id.0].name);
        column(units, &name, kind(route, *id))
    };
    route.machine.moving().iter().map(named).collect()
}

pub(super) fn joint_cells(
    route: &Route,
    solution: &Solution,
    pose: usize,
    units: Units,
) -> Vec<Cell> {
    let joints = &solution.sweep.poses[pose].joints;
    let cell = |id: &BodyId| value(units, joints[id.0], kind(route, *id));
    route.machine.moving().iter().map(cell).collect()
}

pub(super) fn kind(route: &Route, joint: BodyId) -> Kind {
    match route.machine.bodies[joint.0].joint {
        Joint::Slides { .. } => Kind::Length,
        _ => Kind::Angle,
    }
}
