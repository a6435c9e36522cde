//! Where a conductor may be joined instead of made anew: one splice a conductor, and from there on a new piece to the end
//! of the branch, so that nothing is joined within what moves.
//!
//! Every rule is shop practice or second-hand; [`SpliceRules`] holds them, and the sheet shows them.

use crate::harness::{BranchId, FixingKind};
use crate::rod::Solution;
use crate::route::{Route, Span};

use super::{Add, Cut, RETERMINATION};

/// How conductors are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Join {
    /// A crimped splice under an adhesive-lined sleeve: preferred where things shake.
    #[default]
    Crimp,
    /// A solder sleeve; both sides are to be held for 25 mm, since solder makes the strands stiff.
    SolderSleeve,
}

impl Join {
    /// What it is called.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Crimp => "crimp under an adhesive-lined sleeve",
            Self::SolderSleeve => "solder sleeve, held for 25 mm on both sides",
        }
    }

    /// Length of the joint itself \[m\]: from memory.
    fn joint(self) -> f64 {
        match self {
            Self::Crimp => 0.010,
            Self::SolderSleeve => 0.014,
        }
    }

    /// Length of the sleeve as it is cut \[m\]: the joint, 10 mm of insulation on both sides, and 5 % that shrinks away,
    /// up to a whole 5 mm.
    pub fn sleeve(self) -> f64 {
        let covered = (self.joint() + 2.0 * COVER) * 1.05;
        (covered / 0.005).ceil() * 0.005
    }
}

/// Insulation that a sleeve covers on each side \[m\]: 6 to 10 mm, from memory.
const COVER: f64 = 0.010;

/// Where a splice may be. Lengths in metres along the branch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpliceRules {
    /// From the end of a span that moves, at least: shop practice, 75 to 100 mm beyond the nearest tie.
    pub from_moving: f64,
    /// From one splice to the next: 40 mm at least (a maker's repair manual, second-hand), 50 mm staggered.
    pub apart: f64,
    /// From breakouts and connectors (the same manual).
    pub from_ends: f64,
    /// From a strap or clamp to the end of the sleeve.
    pub from_fixing: f64,
}

impl Default for SpliceRules {
    fn default() -> Self {
        Self {
            from_moving: 0.075,
            apart: 0.050,
            from_ends: 0.040,
            from_fixing: 0.010,
        }
    }
}

/// One splice.
#[derive(Debug, Clone, PartialEq)]
pub struct Splice {
    /// The wire's name.
    pub wire: String,
    /// Which conductor of that name, from 1; 0 where there is one only.
    pub number: usize,
    /// The branch.
    pub branch: BranchId,
    /// Its middle, from the branch's first fixing \[m\].
    pub at: f64,
    /// The fixing nearest to it, and how far it is beyond it toward the branch's end \[m\] (negative: before it).
    pub from: (String, f64),
    /// Whether the new piece runs to the branch's end, or from its beginning.
    pub onward: bool,
    /// Length of the new piece from the splice to the branch's end \[m\].
    pub piece: f64,
    /// The same with half a joint, and with what is kept at a terminated end \[m\].
    pub piece_cut: f64,
    /// How it is joined.
    pub join: Join,
    /// Length of its sleeve \[m\].
    pub sleeve: f64,
}

/// A conductor for which there is no place, or that is not to be joined.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoSplice {
    /// The wire's name.
    pub wire: String,
    /// The branch.
    pub branch: BranchId,
    /// Why.
    pub why: &'static str,
}

const SAFETY: &str = "its loss can hurt someone: made anew from end to end, by licensed practice and the maker's manual";
const NO_ROOM: &str =
    "no place that is long enough, held still and clear of straps: made anew from end to end";

/// A place for every conductor of the cut list, and those that get none. `solution` is that of the lengthened route.
pub fn splices(
    route: &Route,
    solution: &Solution,
    adds: &[Add],
    cuts: &[Cut],
    join: Join,
    rules: &SpliceRules,
) -> (Vec<Splice>, Vec<NoSplice>) {
    let (mut placed, mut none) = (Vec::new(), Vec::new());
    for index in 0..route.branches.len() {
        let branch = BranchId(index);
        let of_branch: Vec<&Cut> = cuts.iter().filter(|cut| cut.branch == branch).collect();
        let wanted: Vec<&Cut> = of_branch
            .iter()
            .copied()
            .filter(|cut| !cut.safety)
            .collect();
        for cut in of_branch.iter().filter(|cut| cut.safety) {
            none.push(NoSplice {
                wire: cut.wire.clone(),
                branch,
                why: SAFETY,
            });
        }
        if wanted.is_empty() {
            continue;
        }
        let places = places(route, solution, adds, branch, join, rules, wanted.len());
        let mut places = places.into_iter();
        for cut in wanted {
            let Some((at, onward)) = places.next() else {
                none.push(NoSplice {
                    wire: cut.wire.clone(),
                    branch,
                    why: NO_ROOM,
                });
                continue;
            };
            placed.push(splice(route, solution, cut, at, onward, join));
        }
    }
    (placed, none)
}

fn splice(
    route: &Route,
    solution: &Solution,
    cut: &Cut,
    at: f64,
    onward: bool,
    join: Join,
) -> Splice {
    let branch = &route.branches[cut.branch.0];
    let spans = &solution.branches[cut.branch.0].spans;
    let end = spans.last().map_or(0.0, Span::end);
    let piece = if onward { end - at } else { at };
    let far = if onward {
        branch.lay.last()
    } else {
        branch.lay.first()
    };
    let terminated = far.is_some_and(|lay| lay.fixing.kind != FixingKind::Breakout);
    let kept = if terminated { RETERMINATION } else { 0.0 };
    let stations = std::iter::once(0.0).chain(spans.iter().map(Span::end));
    let nearest = stations
        .zip(&branch.lay)
        .min_by(|a, b| (a.0 - at).abs().total_cmp(&(b.0 - at).abs()));
    let from = nearest.map_or_else(
        || (String::new(), at),
        |(station, lay)| (lay.fixing.name.clone(), at - station),
    );
    Splice {
        wire: cut.wire.clone(),
        number: cut.number,
        branch: cut.branch,
        at,
        from,
        onward,
        piece,
        piece_cut: piece + 0.5 * join.joint() + kept,
        join,
        sleeve: join.sleeve(),
    }
}

/// Places for `count` splices on one side of all that grows or moves beside it, the nearest first; fewer where there is no
/// room. Each with whether the new piece runs onward.
fn places(
    route: &Route,
    solution: &Solution,
    adds: &[Add],
    branch: BranchId,
    join: Join,
    rules: &SpliceRules,
    count: usize,
) -> Vec<(f64, bool)> {
    let spans = &solution.branches[branch.0].spans;
    let grown = adds
        .iter()
        .filter(|add| add.branch == branch)
        .map(|add| add.span);
    let (first, last) = grown.fold((usize::MAX, 0), |(a, b), span| (a.min(span), b.max(span)));
    let lay = &route.branches[branch.0].lay;
    let half = 0.5 * join.sleeve();
    let side = |before: bool| {
        let still = spans.iter().enumerate().filter(|(index, span)| {
            !span.moving
                && if before {
                    *index < first
                } else {
                    *index > last
                }
        });
        let mut free: Vec<(f64, f64)> = still
            .map(|(index, span)| {
                let clear = |lay_at: usize, neighbour: Option<&Span>| {
                    let fixing = &lay[lay_at].fixing;
                    let strap = 0.5 * fixing.width.unwrap_or(0.0) + rules.from_fixing + half;
                    let end = lay_at == 0 || lay_at + 1 == lay.len();
                    let at_end = end || fixing.kind == FixingKind::Breakout;
                    let moves = neighbour.is_some_and(|span| span.moving);
                    strap
                        .max(if at_end { rules.from_ends + half } else { 0.0 })
                        .max(if moves { rules.from_moving + half } else { 0.0 })
                };
                let before = index.checked_sub(1).and_then(|i| spans.get(i));
                let from = span.start + clear(index, before);
                let to = span.end() - clear(index + 1, spans.get(index + 1));
                (from, to)
            })
            .filter(|(from, to)| to >= from)
            .collect();
        // The new pieces are the shorter, the nearer the splices are to what grows.
        if before {
            free.reverse();
        }
        let mut found: Vec<(f64, bool)> = Vec::new();
        for (from, to) in free {
            let mut at = if before { to } else { from };
            while found.len() < count && at >= from - 1e-9 && at <= to + 1e-9 {
                let apart = found
                    .iter()
                    .all(|(other, _)| (other - at).abs() >= rules.apart - 1e-9);
                if apart {
                    found.push((at, before));
                }
                at += if before { -rules.apart } else { rules.apart };
            }
        }
        found
    };
    let (before, after) = (side(true), side(false));
    if after.len() > before.len() {
        after
    } else {
        before
    }
}
