//! How much longer each span must be so that every limit that length can cure holds, with margin and over the whole sweep.
//!
//! Nothing here is a formula's guess: a trial is a route with longer spans, solved and checked again with its spread. The
//! first step comes from what a finding lacks, the last one from halving between the longest that does not do and the
//! shortest that does, on a grid of whole steps; at the end each span is tried with one step less, so that none is longer
//! than it must be. Branches that hang together through breakouts are tried together.
//!
//! Length is no cure for everything, and too much of it is a fault of its own: what fails after the change and did not
//! before, and what no length mends, is told with what does.

mod cuts;
mod drop;
mod longer;
mod splices;
mod trial;

use crate::check::{self, Finding, Findings, Verdict};
use crate::harness::BranchId;
use crate::quantity::Units;
use crate::rod::{self, Solution};
use crate::route::Route;

pub use cuts::{Cut, RETERMINATION, cuts};
pub use drop::{Drop, Resistance, VOLTAGE_DROP, drops, ohms_per_metre, voltage_drop};
pub use longer::{Add, longer};
pub use splices::{Join, NoSplice, Splice, SpliceRules, splices};

use trial::Trials;

/// How to lengthen.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// Lengths are added in whole steps of this \[m\].
    pub step: f64,
    /// Units in the findings' texts.
    pub units: Units,
    /// Settings of the rod.
    pub settings: rod::Settings,
    /// Count the spread of every finding: a limit must hold at 95 %. Without it the limit itself must hold.
    pub spread: bool,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            step: 0.01,
            units: Units::METRIC,
            settings: rod::Settings::default(),
            spread: true,
        }
    }
}

impl Options {
    fn checks(&self) -> check::Options {
        check::Options {
            spread: self.spread,
            units: self.units,
            settings: self.settings,
            charts: true,
            without: &[],
        }
    }
}

/// What lengthening comes to.
#[derive(Debug)]
pub struct Lengthened {
    /// What to add to which span, in the order of the route; spans that stay as they are do not stand here.
    pub adds: Vec<Add>,
    /// The route with that length in it.
    pub route: Route,
    /// How it lies.
    pub solution: Solution,
    /// What the checks find in it.
    pub findings: Findings,
    /// What length was to cure: the findings of the route as it was.
    pub asked: Vec<Finding>,
    /// Of these, what no length cures, with the finding of the lengthened route.
    pub uncured: Vec<Finding>,
    /// What holds in the route as it was, and no more with the added length.
    pub harmed: Vec<Finding>,
    /// Whether it was stopped before all lengths were found: then some of them may be more than is needed, or lack.
    pub stopped: bool,
}

/// Whether length is what may cure a finding.
pub fn is_about_length(finding: &Finding) -> bool {
    matches!(
        finding.check,
        "elongation" | "bend radius" | "steering drag"
    ) || (finding.check == "tie pinch" && finding.measure() == "inside radius")
}

/// Whether a finding calls for something.
pub(crate) fn calls(finding: &Finding) -> bool {
    finding.verdict > Verdict::Within
}

/// Whether two findings are of the same thing, in a route and a changed copy of it.
pub(crate) fn same(a: &Finding, b: &Finding) -> bool {
    (a.check, a.branch, &a.subject, a.kind, a.at_most)
        == (b.check, b.branch, &b.subject, b.kind, b.at_most)
}

/// Finds the least length to add.
///
/// Solves the route once with all its branches at the beginning and at the end, and between them only branches that need
/// length, a few times each.
pub fn lengthen(route: &Route, options: &Options) -> Lengthened {
    let checks = options.checks();
    let solution = rod::solve(route, &options.settings);
    let findings = check::check(route, &solution, &checks);
    lengthen_checked(route, solution, findings, options, &|_| {})
}

/// A value that stays on the wrong side of its limit is worse where it moved away from it by more than this part of it.
const WORSE: f64 = 0.05;

/// Whether what was over before is over by more.
fn is_worse(old: &Finding, new: &Finding) -> bool {
    let toward = if new.at_most { 1.0 } else { -1.0 };
    let more = toward * (new.value - old.value);
    new.verdict == Verdict::Over && more > WORSE * new.limit.abs()
}

/// The same for a route that is solved and checked already, with the settings and the spread of `options`; says meanwhile
/// how far it has come. Asked to leave off (`Settings::halt`), it gives the lengths that it has, solved and checked once
/// more.
pub fn lengthen_checked(
    route: &Route,
    solution: Solution,
    findings: Findings,
    options: &Options,
    say: &(dyn Fn(&str) + Sync),
) -> Lengthened {
    let checks = options.checks();
    let asked: Vec<Finding> = findings
        .findings
        .iter()
        .filter(|finding| calls(finding) && is_about_length(finding))
        .cloned()
        .collect();
    let mut groups: Vec<Vec<BranchId>> = asked
        .iter()
        .map(|finding| route.together(finding.branch))
        .collect();
    groups.sort();
    groups.dedup();
    let mut adds: Vec<Add> = groups
        .iter()
        .flat_map(|group| Trials::new(route, group, &checks, options.step, say).settle(&findings))
        .collect();
    adds.sort_by_key(|add| (add.branch, add.span));
    let stopped = options.settings.halt.asked();
    // Whoever stops the search waits for this: the best so far is worth it.
    let settings = rod::Settings {
        halt: rod::Halt::default(),
        ..options.settings
    };
    let checks = check::Options { settings, ..checks };
    if adds.is_empty() {
        return Lengthened {
            adds,
            route: route.clone(),
            solution,
            findings,
            uncured: asked.clone(),
            asked,
            harmed: Vec::new(),
            stopped,
        };
    }
    say("solving and checking the whole route with the lengths that were found");
    let new = longer(route, &adds);
    let solved = rod::solve(&new, &settings);
    let found = check::check(&new, &solved, &checks);
    let still = |old: &&Finding| {
        found
            .findings
            .iter()
            .find(|new| same(old, new) && calls(new))
    };
    let uncured = asked
        .iter()
        .filter_map(|old| still(&old))
        .cloned()
        .collect();
    let before = |new: &Finding| findings.findings.iter().find(|old| same(old, new));
    let harmed = found
        .findings
        .iter()
        .filter(|new| {
            calls(new)
                && before(new).is_none_or(|old| old.verdict < new.verdict || is_worse(old, new))
        })
        .cloned()
        .collect();
    Lengthened {
        adds,
        route: new,
        solution: solved,
        findings: found,
        asked,
        uncured,
        harmed,
        stopped,
    }
}
