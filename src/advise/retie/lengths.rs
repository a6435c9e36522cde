//! What the straight ways alone say of a route tied otherwise: how the branch is drawn through a fixing so that both sides
//! have what they need, and whether length, slack and support can hold at all. No solve.

use crate::check::{LimitKey, Limits};
use crate::harness::{FixingKind, LengthRule};
use crate::machine::Stance;
use crate::route::Route;

/// Length over the smooth path that a still span gets, as a share of it and beyond that \[m\].
const EASE: (f64, f64) = (0.001, 0.0008);
/// Two ways to draw the branch through that differ by less are one \[m\].
const SAME: f64 = 0.0025;

/// At least and at most so much is drawn from spans farther off \[m\], through so many fixings.
const FARTHER: (f64, f64, usize) = (1e-3, 0.04, 3);

/// A span by its straight ways.
#[derive(Debug, Clone, Copy)]
struct Way {
    length: f64,
    /// Longest straight way over the sweep \[m\].
    most: f64,
    moving: bool,
    /// Length along the smooth path at rest \[m\].
    smooth: f64,
    /// Whether both its ends hold the branch fast.
    fast: bool,
}

/// The straight ways of a route over a sweep.
#[derive(Debug)]
pub(super) struct Lengths<'a> {
    /// All poses.
    pub(super) stances: &'a [Stance],
    /// Slack that a moving span needs beside its limit, for what hand measuring may put it off \[m\].
    pub(super) doubt: f64,
}

impl Lengths<'_> {
    fn ways(&self, route: &Route, b: usize) -> Vec<Way> {
        let rest = route.machine.stance(&route.machine.rest());
        let branch = &route.branches[b];
        let mut smooth = branch.clone();
        for entry in &mut smooth.lay {
            entry.length = LengthRule::SmoothPath;
        }
        let smooth = route.spans(&smooth, &rest);
        let fast = |lay: usize| {
            !matches!(
                branch.lay[lay].fixing.kind,
                FixingKind::Grommet | FixingKind::Breakout | FixingKind::Tie { loose: true, .. }
            )
        };
        let spans = route.spans(branch, &rest);
        spans
            .iter()
            .enumerate()
            .map(|(i, span)| {
                let straight = |stance: &Stance| {
                    let from = route.fixing_position(branch, i, stance);
                    (route.fixing_position(branch, i + 1, stance) - from).norm()
                };
                Way {
                    length: span.length,
                    most: if span.moving {
                        self.stances.iter().map(straight).fold(0.0, f64::max)
                    } else {
                        straight(&rest)
                    },
                    moving: span.moving,
                    smooth: smooth[i].length,
                    fast: fast(i) && fast(i + 1),
                }
            })
            .collect()
    }

    /// By how much limits of length, slack and support fail at least, as shares of them: zero where they may hold.
    pub(super) fn short(&self, route: &Route) -> f64 {
        let limits = Limits::new(&route.limits);
        let slack = limits.get(LimitKey::SlackLeast).value();
        let support = limits.get(LimitKey::SupportDistance).value();
        let mut short = 0.0;
        for b in 0..route.branches.len() {
            for way in self.ways(route, b).iter().filter(|way| way.fast) {
                let left = way.length - way.most;
                let least = if way.moving { slack } else { 0.0 };
                short += ((least - left) / slack).max(0.0);
                short += (way.length / support - 1.0).max(0.0);
            }
        }
        short
    }

    /// Where both sides of a fixing together are too short to lie well: how much is drawn through which of the fixings beside
    /// it, toward the branch's end \[m\], so that the nearest span with length to spare gives what is wanting; once from
    /// behind, once from before.
    pub(super) fn drawn_from_beside(
        &self,
        route: &Route,
        (b, lay): (usize, usize),
    ) -> Vec<Vec<(usize, f64)>> {
        let ways = self.ways(route, b);
        let limits = Limits::new(&route.limits);
        let need = limits.get(LimitKey::SlackLeast).value() + EASE.1;
        let spare = |way: &Way| {
            let wanted = if way.moving {
                way.most + need
            } else {
                way.smooth * (1.0 + EASE.0) + EASE.1
            };
            way.length - wanted
        };
        let Some(sides) = lay.checked_sub(1).and_then(|left| ways.get(left..=lay)) else {
            return Vec::new();
        };
        let wanting = -sides.iter().map(spare).sum::<f64>();
        if !(FARTHER.0..FARTHER.1).contains(&wanting) {
            return Vec::new();
        }
        let firm = |at: usize| {
            let kind = route.branches[b].lay[at].fixing.kind;
            matches!(
                kind,
                FixingKind::Clamp | FixingKind::Tie { loose: false, .. }
            )
        };
        // At the least what the straight ways want; what lies well wants more, and gets it where there is so much.
        let total = sides.iter().map(|way| way.length).sum::<f64>();
        let straight = sides.iter().map(|way| way.most + 3e-4).sum::<f64>();
        let least = (straight - total).max(FARTHER.0);
        let gives = |at: usize| {
            let there = ways.get(at).map(spare)?;
            (there >= least).then_some(there.min(wanting))
        };
        let behind = (1..=FARTHER.2).find_map(|n| {
            let by = gives(lay + n)?;
            let through = (lay + 1)..=(lay + n);
            Some(through.map(|at| (at, by)).collect::<Vec<_>>())
        });
        let before = (1..=FARTHER.2).find_map(|n| {
            let by = gives(lay.checked_sub(n + 1)?)?;
            Some(((lay - n)..lay).map(|at| (at, -by)).collect())
        });
        [behind, before]
            .into_iter()
            .flatten()
            .filter(|through: &Vec<(usize, f64)>| through.iter().all(|(at, _)| firm(*at)))
            .collect()
    }

    /// By how much the two sides of a fixing together are too short to lie well \[m\]; below zero where they have some to
    /// spare.
    pub(super) fn wanting_at(&self, route: &Route, (b, lay): (usize, usize)) -> f64 {
        let ways = self.ways(route, b);
        let sides = ways
            .iter()
            .enumerate()
            .filter(|(i, _)| *i + 1 == lay || *i == lay);
        sides.map(|(_, way)| self.wanting(route, way)).sum()
    }

    /// By how much each span of a branch is too short to lie well \[m\], with the fixings at its ends.
    pub(super) fn wanting_in(&self, route: &Route, b: usize) -> Vec<f64> {
        let ways = self.ways(route, b);
        ways.iter().map(|way| self.wanting(route, way)).collect()
    }

    fn wanting(&self, route: &Route, way: &Way) -> f64 {
        let slack = Limits::new(&route.limits).get(LimitKey::SlackLeast).value();
        let wanted = if way.moving {
            way.most + slack + self.doubt
        } else {
            way.smooth * (1.0 + EASE.0) + EASE.1
        };
        wanted - way.length
    }

    /// How much of the branch may be drawn through a fixing, toward the branch's end, so that both sides have what they
    /// need \[m\]: a few that differ, the most promising first. Empty where both sides together are too short.
    pub(super) fn through(&self, route: &Route, (b, lay): (usize, usize)) -> Vec<f64> {
        let ways = self.ways(route, b);
        let (Some(left), Some(right)) =
            (lay.checked_sub(1).and_then(|i| ways.get(i)), ways.get(lay))
        else {
            return vec![0.0];
        };
        let limits = Limits::new(&route.limits);
        let need = limits.get(LimitKey::SlackLeast).value() + self.doubt;
        let total = left.length + right.length;
        let eased = |way: &Way| way.smooth * (1.0 + EASE.0) + EASE.1;
        let mut lengths: Vec<f64> = match (left.moving, right.moving) {
            (true, true) => {
                let spare = total - left.most - right.most;
                let ends = left.most + 0.5 * spare;
                vec![ends, left.length]
            }
            (false, false) => {
                let spare = total - left.smooth - right.smooth;
                vec![left.smooth + spare * left.smooth / (left.smooth + right.smooth)]
            }
            // What is over goes to the side that moves; or it gets what it needs and no more.
            (false, true) => vec![eased(left), left.length, total - right.most - need],
            (true, false) => vec![total - eased(right), left.length, left.most + need],
        };
        let fits = |length: &f64| {
            let other = total - length;
            let least = |way: &Way| way.most + if way.moving { need - self.doubt } else { 3e-4 };
            *length >= least(left) && other >= least(right)
        };
        lengths.retain(fits);
        let mut kept: Vec<f64> = Vec::new();
        for length in lengths {
            if kept.iter().all(|other| (other - length).abs() > SAME) {
                kept.push(length);
            }
        }
        kept.iter().map(|length| length - left.length).collect()
    }
}
