//! The findings, worst first.

use crate::check::{Findings, Verdict};
use crate::quantity::Kind;
use crate::rod::Solution;
use crate::route::Route;

use super::ExportOptions;
use super::poses::words;
use super::table::{Cell, Table, column, value};

pub(super) fn findings(
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    options: &ExportOptions,
) -> Table {
    let units = options.units;
    let at = column(units, "at", Kind::Length);
    let mut table = Table::new([
        "verdict",
        "check",
        "subject",
        "branch",
        "place",
        &at,
        "pose",
        "pose_in_words",
        "measure",
        "value",
        "bound",
        "limit",
        "spread",
        "unit",
        "chance_over_pct",
        "source",
        "advice",
        "follows_from",
    ]);
    for finding in &findings.findings {
        let verdict = match finding.verdict {
            Verdict::Within => "within",
            Verdict::Close => "close",
            Verdict::Over => "over",
        };
        let bound = if finding.at_most {
            "at most"
        } else {
            "at least"
        };
        let own = |v: f64| value(units, v, finding.kind);
        // A spread is a difference: it has no zero to shift.
        let spread = finding.spread.map(|spread| {
            units.convert(spread, finding.kind).0 - units.convert(0.0, finding.kind).0
        });
        table.lines.push(vec![
            verdict.into(),
            finding.check.into(),
            finding.subject.as_str().into(),
            route.branches[finding.branch.0].name.as_str().into(),
            finding.place.as_str().into(),
            value(units, finding.at, Kind::Length),
            finding.pose.into(),
            words(route, solution, finding.pose, options),
            finding.measure().into(),
            own(finding.value),
            bound.into(),
            own(finding.limit),
            spread.into(),
            units.convert(0.0, finding.kind).1.trim().into(),
            finding.chance_over.map(|chance| chance * 100.0).into(),
            finding.source.as_str().into(),
            finding.advice.as_str().into(),
            finding
                .follows_from
                .as_deref()
                .map_or(Cell::Empty, Cell::from),
        ]);
    }
    table
}
