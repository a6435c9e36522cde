//! Many variants at once: every row of a table of changes on every route, solved, checked, one line of results each.

mod table;

use crate::check::{Options, Verdict, pose_in_words};
use crate::route::{Change, Route, Step, What};

use super::margin::{excess, margin};
use super::{Laid, Solved};

pub use table::{Column, StudyTable, StudyTableError};

/// What a column of results holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cell {
    /// Words.
    Text,
    /// A whole number.
    Count,
    /// A number.
    Number,
}

/// What was found for one variant, as cells of a line.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyRow {
    /// The cells, in the order of [`StudyRow::HEADER`].
    pub cells: Vec<String>,
}

impl StudyRow {
    /// What the cells are, after the variant's own, and what they hold; an empty cell says nothing.
    pub const HEADER: [(&'static str, Cell); 13] = [
        ("verdict", Cell::Text),
        ("over", Cell::Count),
        ("margin_pct", Cell::Number),
        ("check", Cell::Text),
        ("branch", Cell::Text),
        ("subject", Cell::Text),
        ("place", Cell::Text),
        ("pose", Cell::Text),
        ("value", Cell::Number),
        ("limit", Cell::Number),
        ("unit", Cell::Text),
        ("not_found", Cell::Count),
        ("why_not", Cell::Text),
    ];
}

/// The changes that move the machine, or change what runs in it: what they leave is the same for many variants, and is
/// solved once for all of them.
pub fn of_machine<'c>(route: &Route, changes: &[(&'c Change, f64)]) -> Vec<(&'c Change, f64)> {
    let of_harness = |step: &Step| match step {
        Step::Move { what, .. } | Step::Turn { what, .. } => {
            matches!(what, What::Fixing(_) | What::Point(_))
        }
        Step::Add(_) | Step::Remove { .. } | Step::Shift { .. } => true,
        Step::Hold { .. } | Step::Lengthen { .. } => true,
        Step::Travel { .. } | Step::Cover { .. } | Step::Wire { .. } => false,
    };
    let moves = |change: &Change| !change.steps.iter().all(of_harness);
    let some: Vec<_> = changes
        .iter()
        .filter(|(change, share)| *share > 0.0 && moves(change))
        .copied()
        .collect();
    // Made by themselves they may fail where all together do not.
    if some.len() < changes.len() && changed(route, &some).is_ok() {
        some
    } else {
        Vec::new()
    }
}

/// A route with a share of each of several changes, made in their order.
///
/// # Errors
/// The name of the change that cannot be made, and why.
pub fn changed(route: &Route, changes: &[(&Change, f64)]) -> Result<Route, String> {
    changes
        .iter()
        .try_fold(route.clone(), |route, (change, share)| {
            route
                .changed(change, *share)
                .map_err(|error| format!("{}: {error}", change.name))
        })
}

/// Solves and checks a route with a share of each of several changes, made in their order. `near` is the same route with
/// some of them, solved and checked with the same options; `others` are the same route with others of them: what they share
/// with the variant is not solved again. A variant that cannot be made says why.
pub fn study_row(
    base: &Route,
    near: &Solved,
    others: &[&Laid],
    changes: &[(&Change, f64)],
    options: &Options,
) -> StudyRow {
    let route = match changed(base, changes) {
        Ok(route) => route,
        Err(why) => {
            let mut cells = vec![String::new(); StudyRow::HEADER.len()];
            cells[12] = why;
            return StudyRow { cells };
        }
    };
    let solved = near.with_same_beside(others, route, options);
    let findings = &solved.findings.findings;
    let over = findings
        .iter()
        .filter(|f| f.verdict == Verdict::Over)
        .count();
    let not_found = solved.solution.branches.iter().flat_map(|b| &b.shapes);
    let not_found = not_found.filter(|shape| !shape.converged).count();
    let verdict = match solved.verdict() {
        Verdict::Over => "over",
        Verdict::Close => "close",
        Verdict::Within => "within",
    };
    // Where limits are broken the first of the report decides, else the one with the least room.
    let deciding = if over > 0 {
        findings.first()
    } else {
        findings
            .iter()
            .max_by(|a, b| excess(a).total_cmp(&excess(b)))
    };
    let mut cells = vec![verdict.to_owned(), over.to_string()];
    let margin = margin(&solved);
    cells.push(if margin.is_finite() {
        format!("{:.2}", 100.0 * margin)
    } else {
        String::new()
    });
    match deciding {
        Some(finding) => {
            let (factor, unit) = crate::check::reported_unit(finding.kind);
            cells.extend([
                finding.check.to_owned(),
                solved.route.branches[finding.branch.0].name.clone(),
                finding.subject.clone(),
                finding.place.clone(),
                pose_in_words(
                    &solved.route.machine,
                    &solved.solution.sweep,
                    finding.pose,
                    options.units,
                ),
                format!("{:.4}", finding.value * factor),
                format!("{:.4}", finding.limit * factor),
                unit.to_owned(),
            ]);
        }
        None => cells.extend(vec![String::new(); 8]),
    }
    cells.extend([not_found.to_string(), String::new()]);
    StudyRow { cells }
}
