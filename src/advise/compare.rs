//! Two routes side by side: which findings came, went, got worse or better, and the numbers behind them.

use crate::check::{Finding, Verdict, is_straight};
use crate::quantity::Kind;

use super::Solved;
use super::margin::excess;

/// A use of the limit that differs by less than this share of the limit is the same.
const SAME: f64 = 0.01;

/// What became of a finding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Difference {
    /// It holds its limit before, or is not there, and no longer does (or not at 95 %).
    Appeared,
    /// Over or close before and after, and more so.
    Worse,
    /// Over or close before and after, as it was.
    Same,
    /// Over or close before and after, and less so.
    Better,
    /// It is over or close before, and holds its limit after, or is not there.
    Vanished,
    /// It holds its limit before and after.
    Holds,
}

/// A finding before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// Before, where it is there.
    pub before: Option<Finding>,
    /// After, where it is there.
    pub after: Option<Finding>,
    /// What became of it.
    pub difference: Difference,
    /// The fixing nearest to it.
    pub nearest: String,
}

/// A number of a span before and after; `None` where there is none (a span that is straight has no radius).
#[derive(Debug, Clone, PartialEq)]
pub struct KeyNumber {
    /// Name of the branch.
    pub branch: String,
    /// Names of the fixings between which the span lies.
    pub span: (String, String),
    /// What it is.
    pub name: &'static str,
    /// Its kind.
    pub kind: Kind,
    /// Before.
    pub before: Option<f64>,
    /// After.
    pub after: Option<f64>,
}

/// What differs between two routes.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// Worst verdict before and after.
    pub verdicts: (Verdict, Verdict),
    /// Every finding of either, those that appeared first.
    pub findings: Vec<Compared>,
    /// The numbers that changed, span by span.
    pub numbers: Vec<KeyNumber>,
}

/// Compares two routes. Findings are the same where check, branch and subject are, and of several the one at the same
/// fixing.
pub fn compare(before: &Solved, after: &Solved) -> Comparison {
    let mut used = vec![false; before.findings.findings.len()];
    let mut findings = Vec::new();
    for new in &after.findings.findings {
        let near = nearest(after, new);
        let candidates = before.findings.findings.iter().enumerate();
        let same = |&(index, old): &(usize, &Finding)| {
            !used[index]
                && old.check == new.check
                && old.subject == new.subject
                && before.route.branches[old.branch.0].name
                    == after.route.branches[new.branch.0].name
        };
        let matching: Vec<(usize, &Finding)> = candidates.filter(same).collect();
        let old = matching
            .iter()
            .find(|(_, old)| nearest(before, old) == near)
            .or(matching.first())
            .copied();
        if let Some((index, _)) = old {
            used[index] = true;
        }
        let old = old.map(|(_, old)| old.clone());
        findings.push(Compared {
            difference: difference(old.as_ref(), Some(new)),
            before: old,
            after: Some(new.clone()),
            nearest: near,
        });
    }
    for (old, _) in before
        .findings
        .findings
        .iter()
        .zip(&used)
        .filter(|(_, used)| !**used)
    {
        findings.push(Compared {
            difference: difference(Some(old), None),
            nearest: nearest(before, old),
            before: Some(old.clone()),
            after: None,
        });
    }
    // Within one kind the order is that of the reports: worst first.
    findings.sort_by_key(|compared| compared.difference);
    Comparison {
        verdicts: (before.verdict(), after.verdict()),
        findings,
        numbers: numbers(before, after),
    }
}

fn difference(before: Option<&Finding>, after: Option<&Finding>) -> Difference {
    let told = |finding: &&Finding| finding.verdict != Verdict::Within;
    match (before.filter(told), after.filter(told)) {
        (None, None) => Difference::Holds,
        (None, Some(_)) => Difference::Appeared,
        (Some(_), None) => Difference::Vanished,
        (Some(old), Some(new)) if old.verdict != new.verdict => {
            if new.verdict > old.verdict {
                Difference::Worse
            } else {
                Difference::Better
            }
        }
        (Some(old), Some(new)) => {
            let change = excess_of_value(new) - excess_of_value(old);
            if change > SAME {
                Difference::Worse
            } else if change < -SAME {
                Difference::Better
            } else {
                Difference::Same
            }
        }
    }
}

/// The excess by the number alone, whatever the verdict.
fn excess_of_value(finding: &Finding) -> f64 {
    let over = Finding {
        verdict: Verdict::Over,
        ..finding.clone()
    };
    let within = Finding {
        verdict: Verdict::Within,
        ..finding.clone()
    };
    excess(&over) + excess(&within)
}

/// Name of the fixing of the finding's branch that is nearest to it along the branch.
pub(super) fn nearest(solved: &Solved, finding: &Finding) -> String {
    let branch = &solved.route.branches[finding.branch.0];
    let spans = &solved.solution.branches[finding.branch.0].spans;
    let stations = std::iter::once(0.0).chain(spans.iter().map(|span| span.end()));
    let near = branch.lay.iter().zip(stations).min_by(|a, b| {
        (a.1 - finding.at)
            .abs()
            .total_cmp(&(b.1 - finding.at).abs())
    });
    near.map_or_else(String::new, |(entry, _)| entry.fixing.name.clone())
}

/// The key numbers of every span that has changed.
fn numbers(before: &Solved, after: &Solved) -> Vec<KeyNumber> {
    let mut numbers = Vec::new();
    for (b, branch) in after.route.branches.iter().enumerate() {
        let old = before
            .route
            .branches
            .iter()
            .position(|o| o.name == branch.name);
        for (index, span) in after.solution.branches[b].spans.iter().enumerate() {
            let ends = (
                branch.lay[span.from].fixing.name.clone(),
                branch.lay[span.from + 1].fixing.name.clone(),
            );
            let old = old.and_then(|old| {
                let lay = &before.route.branches[old].lay;
                let spans = before.solution.branches[old].spans.iter();
                let same = spans.enumerate().find(|(_, span)| {
                    lay[span.from].fixing.name == ends.0 && lay[span.from + 1].fixing.name == ends.1
                });
                same.map(|(index, _)| key(before, old, index))
            });
            let new = key(after, b, index);
            for (i, (name, kind, value)) in new.into_iter().enumerate() {
                let was = old.and_then(|old| old[i].2);
                let (a, z) = (was.unwrap_or(-1.0), value.unwrap_or(-1.0));
                if (a - z).abs() > 1e-3 * a.abs().max(z.abs()).max(1e-3) {
                    numbers.push(KeyNumber {
                        branch: branch.name.clone(),
                        span: ends.clone(),
                        name,
                        kind,
                        before: was,
                        after: value,
                    });
                }
            }
        }
    }
    numbers
}

/// The key numbers of one span.
fn key(solved: &Solved, branch: usize, index: usize) -> [(&'static str, Kind, Option<f64>); 5] {
    let solution = &solved.solution.branches[branch];
    let span = &solution.spans[index];
    let states = || solution.shapes.iter().map(|shape| shape.spans[index]);
    let curvature = states().map(|s| s.curvature).fold(0.0, f64::max);
    let radius = (!is_straight(curvature, span.length)).then(|| 1.0 / curvature);
    let slack = states().map(|s| s.slack).fold(f64::INFINITY, f64::min);
    let tension = states()
        .map(|s| s.tension)
        .fold(f64::NEG_INFINITY, f64::max);
    let twist = states().map(|s| s.twist.abs()).fold(0.0, f64::max);
    [
        ("length", Kind::Length, Some(span.length)),
        ("least slack", Kind::Length, Some(slack)),
        ("tightest radius", Kind::Length, radius),
        ("greatest tension", Kind::Force, Some(tension)),
        ("greatest twist", Kind::Angle, Some(twist)),
    ]
}
