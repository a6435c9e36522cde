//! Every span in every pose.

use crate::check::is_straight;
use crate::quantity::Kind;
use crate::rod::Solution;
use crate::route::Route;

use super::ExportOptions;
use super::poses::words;
use super::table::{Cell, Table, column, value};

pub(super) fn spans(route: &Route, solution: &Solution, options: &ExportOptions) -> Table {
    let units = options.units;
    let length = |name: &str| column(units, name, Kind::Length);
    let mut table = Table::new([
        "branch".to_owned(),
        "from".to_owned(),
        "to".to_owned(),
        length("length"),
        "moving".to_owned(),
        "pose".to_owned(),
        "pose_in_words".to_owned(),
        length("radius"),
        length("radius_at"),
        length("slack"),
        column(units, "stretch", Kind::Ratio),
        column(units, "tension", Kind::Force),
        column(units, "twist", Kind::Angle),
        "converged".to_owned(),
    ]);
    let yes = |flag: bool| Cell::from(if flag { "yes" } else { "no" });
    for (branch, solved) in route.branches.iter().zip(&solution.branches) {
        for (index, span) in solved.spans.iter().enumerate() {
            for (pose, shape) in solved.shapes.iter().enumerate() {
                let state = &shape.spans[index];
                let straight = is_straight(state.curvature, span.length);
                let bend = |v: f64| {
                    if straight {
                        Cell::Empty
                    } else {
                        value(units, v, Kind::Length)
                    }
                };
                table.lines.push(vec![
                    branch.name.as_str().into(),
                    branch.lay[span.from].fixing.name.as_str().into(),
                    branch.lay[span.from + 1].fixing.name.as_str().into(),
                    value(units, span.length, Kind::Length),
                    yes(span.moving),
                    pose.into(),
                    words(route, solution, pose, options),
                    bend(state.curvature.recip()),
                    bend(state.curvature_at),
                    value(units, state.slack, Kind::Length),
                    value(units, state.strain, Kind::Ratio),
                    value(units, state.tension, Kind::Force),
                    value(units, state.twist, Kind::Angle),
                    yes(shape.converged),
                ]);
            }
        }
    }
    table
}
