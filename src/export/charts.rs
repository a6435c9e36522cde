//! The numbers of the strip charts: along each branch the worst over all poses, and against each joint with the
//! others at rest.

use crate::check::Findings;
use crate::quantity::Kind;
use crate::route::Route;

use super::ExportOptions;
use super::poses::kind;
use super::table::{Cell, Table, column, value};

pub(super) fn along(route: &Route, findings: &Findings, options: &ExportOptions) -> Table {
    let units = options.units;
    let length = |name: &str| column(units, name, Kind::Length);
    let names = [
        "at",
        "inside_radius",
        "radius_limit",
        "hot_gap",
        "hot_limit",
    ];
    let mut table = Table::new(std::iter::once("branch".to_owned()).chain(names.map(length)));
    for chart in &findings.along {
        for (index, &at) in chart.at.iter().enumerate() {
            let cell = |values: &[f64]| {
                let found = values.get(index);
                found.map_or(Cell::Empty, |v| value(units, *v, Kind::Length))
            };
            table.lines.push(vec![
                route.branches[chart.branch.0].name.as_str().into(),
                value(units, at, Kind::Length),
                cell(&chart.inside_radius),
                cell(&chart.radius_limit),
                cell(&chart.hot_gap),
                cell(&chart.hot_limit),
            ]);
        }
    }
    table
}

pub(super) fn against(route: &Route, findings: &Findings, options: &ExportOptions) -> Table {
    let units = options.units;
    let length = |name: &str| column(units, name, Kind::Length);
    let mut table = Table::new([
        "branch".to_owned(),
        "joint".to_owned(),
        "pose".to_owned(),
        "joint_value".to_owned(),
        "joint_unit".to_owned(),
        length("slack"),
        length("inside_radius"),
        "load".to_owned(),
        "load_unit".to_owned(),
    ]);
    for chart in &findings.against {
        let motion = kind(route, chart.joint);
        // A turning joint feels a torque, a sliding one a force.
        let load = match motion {
            Kind::Angle => Kind::Torque,
            _ => Kind::Force,
        };
        let unit = |kind: Kind| Cell::from(units.convert(0.0, kind).1.trim());
        for (index, &pose) in chart.poses.iter().enumerate() {
            let cell = |values: &[f64], kind: Kind| {
                values
                    .get(index)
                    .map_or(Cell::Empty, |v| value(units, *v, kind))
            };
            table.lines.push(vec![
                route.branches[chart.branch.0].name.as_str().into(),
                route.machine.bodies[chart.joint.0].name.as_str().into(),
                pose.into(),
                cell(&chart.values, motion),
                unit(motion),
                cell(&chart.slack, Kind::Length),
                cell(&chart.inside_radius, Kind::Length),
                cell(&chart.load, load),
                unit(load),
            ]);
        }
    }
    table
}
