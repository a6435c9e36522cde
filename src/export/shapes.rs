//! How every branch lies: its stations in the chosen poses.

use crate::check::is_straight;
use crate::quantity::{Kind, LengthUnit};
use crate::rod::Solution;
use crate::route::Route;

use super::ExportOptions;
use super::poses::{chosen, joint_cells, joint_columns, words};
use super::table::{Cell, Table, column, value};

pub(super) fn shapes(route: &Route, solution: &Solution, options: &ExportOptions) -> Table {
    let units = options.units;
    let length = |name: &str| column(units, name, Kind::Length);
    let contact = match units.length {
        LengthUnit::Mm => "contact_n_per_m",
        LengthUnit::Inch => "contact_lbf_per_in",
    };
    let mut header: Vec<String> = ["branch", "pose", "pose_in_words"]
        .map(str::to_owned)
        .into();
    header.extend(joint_columns(route, units));
    header.extend(["at", "x", "y", "z"].map(length));
    header.extend(["tangent_x", "tangent_y", "tangent_z"].map(str::to_owned));
    header.extend([
        length("radius"),
        column(units, "tension", Kind::Force),
        contact.to_owned(),
    ]);
    let mut table = Table::new(header);
    for (branch, solved) in route.branches.iter().zip(&solution.branches) {
        let whole = solved.spans.last().map_or(0.0, crate::route::Span::end);
        for pose in chosen(route, solution, &options.poses) {
            let Some(shape) = solved.shapes.get(pose) else {
                continue;
            };
            for station in &shape.stations {
                let radius = if is_straight(station.curvature, whole) {
                    Cell::Empty
                } else {
                    value(units, station.curvature.recip(), Kind::Length)
                };
                // A force per metre of branch, over the shown unit of length.
                let per_length = match units.length {
                    LengthUnit::Mm => 1.0,
                    LengthUnit::Inch => 0.0254,
                };
                let mut line = vec![
                    branch.name.as_str().into(),
                    pose.into(),
                    words(route, solution, pose, options),
                ];
                line.extend(joint_cells(route, solution, pose, units));
                let p = station.position;
                line.extend([station.at, p.x, p.y, p.z].map(|v| value(units, v, Kind::Length)));
                line.extend(station.tangent.iter().map(|v| Cell::Number(*v)));
                line.extend([
                    radius,
                    value(units, station.tension, Kind::Force),
                    value(units, station.contact * per_length, Kind::Force),
                ]);
                table.lines.push(line);
            }
        }
    }
    table
}
