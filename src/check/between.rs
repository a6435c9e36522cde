//! The harness between two places that something holds: one span, or several in a row where it slides through a hole or
//! runs over a breakout that floats. What is spare there is spare for all of them together.

use crate::harness::{BranchId, Held};
use crate::machine::{BodyId, Stance};
use crate::rod::Solution;
use crate::route::Route;

use super::job::below;

/// Of more runs than this only the tightest through each span are looked at.
const MANY: usize = 64;

/// Spans in a row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Run {
    /// Branch and index of each span, in order.
    pub(super) spans: Vec<(BranchId, usize)>,
    /// The fixings on the way, first and last among them, each as branch and index in its lay.
    stops: Vec<(BranchId, usize)>,
    /// Unstretched length \[m\].
    pub(super) length: f64,
    /// Whether its ends move against each other.
    pub(super) moving: bool,
}

impl Run {
    /// Its fixings in words: "T1–T2", "T1–Y–L1".
    pub(super) fn words(&self, route: &Route) -> String {
        let names = self.stops.iter().map(|&(branch, lay)| {
            let lay = &route.branches[branch.0].lay[lay];
            lay.fixing.name.as_str()
        });
        names.collect::<Vec<_>>().join("–")
    }

    /// The span that stands for it in a finding: the last, where it leaves a breakout.
    pub(super) fn last(&self) -> (BranchId, usize) {
        self.spans[self.spans.len() - 1]
    }

    /// Its length less the straight distances between the places on its way that are known in a stance \[m\].
    pub(super) fn slack(&self, route: &Route, stance: &Stance) -> f64 {
        let known = self.stops.iter().filter_map(|&(branch, lay)| {
            let bundle = &route.branches[branch.0];
            let drawn = route.is_drawn_only(&bundle.lay[lay].fixing);
            (!drawn).then(|| route.fixing_position(bundle, lay, stance))
        });
        let known: Vec<_> = known.collect();
        let way: f64 = known.windows(2).map(|p| (p[1] - p[0]).norm()).sum();
        self.length - way
    }

    /// The least slack over the poses, and the first pose that has it.
    pub(super) fn least_slack(&self, route: &Route, solution: &Solution) -> (f64, usize) {
        let mut least = (f64::INFINITY, 0);
        for (pose, stance) in solution.stances.iter().enumerate() {
            let slack = self.slack(route, stance);
            if below(slack, least.0) {
                least = (slack, pose);
            }
        }
        least
    }

    /// The bodies that hold its ends.
    pub(super) fn ends(&self, route: &Route) -> [BodyId; 2] {
        let on = |&(branch, lay): &(BranchId, usize)| route.branches[branch.0].lay[lay].fixing.on;
        [on(&self.stops[0]), on(&self.stops[self.stops.len() - 1])]
    }
}

/// The runs that begin or end on one of the branches, between places that hold, each told once. Where `holes_hold` a hole
/// that the harness slides through is such a place too: it carries the harness, though it does not stop it.
pub(super) fn runs(
    route: &Route,
    solution: &Solution,
    branches: &[BranchId],
    holes_hold: bool,
) -> Vec<Run> {
    let finder = Finder {
        route,
        solution,
        branches,
        holes_hold,
    };
    let mut found: Vec<Run> = Vec::new();
    for &branch in branches {
        let lay = &route.branches[branch.0].lay;
        for from in 0..lay.len() {
            if finder.holds(branch, from) {
                for forward in [true, false] {
                    finder.go(vec![(branch, from)], Vec::new(), forward, &mut found);
                }
            }
        }
    }
    if found.len() > MANY {
        keep_tightest(route, solution, &mut found);
    }
    found
}

struct Finder<'a> {
    route: &'a Route,
    solution: &'a Solution,
    /// The branches that are looked at.
    branches: &'a [BranchId],
    holes_hold: bool,
}

impl Finder<'_> {
    /// Whether the harness is held at a fixing.
    fn holds(&self, branch: BranchId, lay: usize) -> bool {
        let all = &self.route.branches[branch.0].lay;
        let fixing = &all[lay].fixing;
        let end = lay == 0 || lay + 1 == all.len();
        let slides = fixing.slides() && !end && !self.holes_hold;
        !slides && !self.route.is_drawn_only(fixing)
    }

    /// Follows the harness on from the last of `stops`.
    fn go(
        &self,
        mut stops: Vec<(BranchId, usize)>,
        mut spans: Vec<(BranchId, usize)>,
        forward: bool,
        found: &mut Vec<Run>,
    ) {
        let Some(&(branch, lay)) = stops.last() else {
            return;
        };
        let last = self.route.branches[branch.0].lay.len() - 1;
        let (next, span) = if forward {
            (lay + 1, lay)
        } else {
            (lay.wrapping_sub(1), lay.wrapping_sub(1))
        };
        if next > last || spans.contains(&(branch, span)) {
            return;
        }
        stops.push((branch, next));
        spans.push((branch, span));
        if self.holds(branch, next) {
            // A run is found from both of its ends, where both are looked at; it is told from the first.
            if stops[0] < (branch, next) {
                found.push(self.run(stops, spans));
            } else if !self.branches.contains(&branch) {
                stops.reverse();
                spans.reverse();
                found.push(self.run(stops, spans));
            }
            return;
        }
        let on = self.route.branches[branch.0].lay[next].fixing.on;
        let floating = self
            .route
            .breakouts
            .iter()
            .find(|b| b.body == on && b.held == Held::Floats);
        let Some(breakout) = floating else {
            self.go(stops, spans, forward, found);
            return;
        };
        for meeting in &breakout.meets {
            for way in [true, false] {
                let back = meeting.branch == branch && way != forward;
                if back {
                    continue;
                }
                let mut stops = stops.clone();
                if meeting.branch != branch {
                    // The same breakout, as the other branch knows it.
                    stops.pop();
                    stops.push((meeting.branch, meeting.lay));
                }
                self.go(stops, spans.clone(), way, found);
            }
        }
    }

    fn run(&self, stops: Vec<(BranchId, usize)>, spans: Vec<(BranchId, usize)>) -> Run {
        let length = spans
            .iter()
            .map(|&(branch, span)| self.solution.branches[branch.0].spans[span].length)
            .sum();
        let mut run = Run {
            spans,
            stops,
            length,
            moving: false,
        };
        let [a, b] = run.ends(self.route);
        run.moving = self.route.machine.moves_against(a, b);
        run
    }
}

/// Keeps those that are the tightest through some span.
fn keep_tightest(route: &Route, solution: &Solution, runs: &mut Vec<Run>) {
    let slack: Vec<f64> = runs
        .iter()
        .map(|run| {
            let least = run.least_slack(route, solution).0;
            // What does not move is judged by its support, not by its slack.
            if run.moving { least } else { f64::MAX }
        })
        .collect();
    let mut best: std::collections::BTreeMap<(BranchId, usize), usize> =
        std::collections::BTreeMap::new();
    for (i, run) in runs.iter().enumerate() {
        for &span in &run.spans {
            let tightest = best.entry(span).or_insert(i);
            if slack[i] < slack[*tightest] {
                *tightest = i;
            }
        }
    }
    let keep: std::collections::BTreeSet<usize> = best.into_values().collect();
    let mut i = 0;
    runs.retain(|_| {
        i += 1;
        keep.contains(&(i - 1))
    });
}
