//! A route beside solved ones that differ from it in places and parts: what hangs together and lies in one of them as it
//! must lie here is taken over, all else is solved from nothing.
//!
//! What is taken over is what a solve from nothing would find again: its fixings, lengths and stiffness are the same, and
//! every part that moved is out of its reach, before and after.

use rayon::prelude::*;

use crate::harness::{BranchId, Held};
use crate::machine::{PartId, Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::Settings;
use super::cluster::{Cluster, Solved};
use super::cutting::{clusters, pieces, seated};
use super::middle::from_its_middle;
use super::resolve::FIRST_CONTACT;
use super::solution::{BranchSolution, Solution};
use super::solve::{Moved, spans};
use super::together::{branch_solution, strands_of};

/// A solved route that the one to be solved stands beside: it has the same branches, breakouts and parts.
#[derive(Debug, Clone, Copy)]
pub struct Beside<'s> {
    /// Its solution.
    pub solution: &'s Solution,
    /// The parts that are elsewhere in the route to be solved, by so much each \[m\]; no joint is another.
    pub moved: &'s [(PartId, f64)],
    /// Of each branch whether it is made of the same, and held in the same way at every fixing, wherever those are.
    pub alike: &'s [bool],
}

/// A solution to take from, and where the bodies are in its poses with breakouts where it has them.
struct Known<'s> {
    /// Which of those given it is.
    given: usize,
    beside: Beside<'s>,
    stances: Vec<Stance>,
}

/// Solves a route, taking over from solved ones what they share with it; gives also the branches of which anything was
/// solved anew.
pub fn solve_beside(
    route: &Route,
    known: &[Beside<'_>],
    settings: &Settings,
) -> (Solution, Vec<BranchId>) {
    let solutions: Vec<&Solution> = known.iter().map(|beside| beside.solution).collect();
    let (mut solution, taken) = from_its_middle(route, &solutions, |route, solutions| {
        let known: Vec<Beside<'_>> = known
            .iter()
            .zip(solutions)
            .map(|(&beside, solution)| Beside { solution, ..beside })
            .collect();
        run(route, &known, settings)
    });
    let mut anew = Vec::new();
    for (b, taken) in taken.into_iter().enumerate() {
        match taken {
            // The very shapes, where positions were rounded once.
            Some(from) => {
                let known = &known[from].solution.branches[b];
                solution.branches[b].shapes.clone_from(&known.shapes);
            }
            None => anew.push(BranchId(b)),
        }
    }
    (solution, anew)
}

/// The solution, and of each branch the known one that it is taken over from as a whole.
fn run(route: &Route, known: &[Beside<'_>], settings: &Settings) -> (Solution, Vec<Option<usize>>) {
    let surroundings = &Surroundings::new(&route.machine);
    let sweep = Sweep::with_steps(&route.machine, &route.corner_groups(), settings.stride);
    let mut stances: Vec<Stance> = sweep
        .poses
        .iter()
        .map(|pose| route.machine.stance(&pose.joints))
        .collect();
    let known: Vec<Known<'_>> = known
        .iter()
        .enumerate()
        .filter(|(_, beside)| beside.solution.sweep == sweep)
        .map(|(given, &beside)| Known {
            given,
            beside,
            stances: with_breakouts(route, stances.clone(), beside.solution),
        })
        .collect();
    let spans = spans(route);
    let seated: Vec<_> = route
        .branches
        .iter()
        .zip(&spans)
        .map(|(branch, spans)| seated(route, branch, spans, None))
        .collect();
    let clusters = clusters(route, pieces(route, surroundings, &seated, None, settings));
    // For each cluster the known solutions that have it, those first in which its whole branches are.
    let have: Vec<Vec<usize>> = clusters
        .par_iter()
        .map(|cluster| {
            let spans = spans_of(cluster, &spans);
            let all = known.iter().enumerate();
            all.filter(|(_, known)| known.holds(cluster, &spans))
                .map(|(k, _)| k)
                .collect()
        })
        .collect();
    let has_branch = |k: usize, branch: BranchId| {
        let own = clusters.iter().zip(&have);
        let mut own = own.filter(|(cluster, _)| cluster.pieces.iter().any(|p| p.id == branch));
        own.all(|(_, have)| have.contains(&k))
    };
    let mut from: Vec<Option<usize>> = clusters
        .iter()
        .zip(&have)
        .map(|(cluster, have)| {
            let mut all = have.iter().copied();
            let whole = all.find(|&k| cluster.pieces.iter().all(|p| has_branch(k, p.id)));
            whole.or(have.first().copied())
        })
        .collect();
    // A branch that stays as a whole is what it was; of the others each strand is put together again, where that can be.
    let whole = loop {
        let whole: Vec<Option<usize>> = (0..route.branches.len())
            .map(|b| whole(&clusters, &from, b))
            .collect();
        let mut again = false;
        for (cluster, from) in clusters.iter().zip(&mut from) {
            let Some(known) = from.map(|from| &known[from]) else {
                continue;
            };
            let mut parted = cluster.pieces.iter().filter(|p| whole[p.id.0].is_none());
            if parted.any(|piece| !known.tells_strands(piece.id)) {
                (*from, again) = (None, true);
            }
        }
        if !again {
            break whole;
        }
    };
    let solved: Vec<(Cluster<'_>, Option<Solved>)> = clusters
        .into_par_iter()
        .zip(&from)
        .map(|(mut cluster, from)| {
            let spans = spans_of(&cluster, &spans);
            let known = from.map(|from| &known[from]);
            let kept = match known {
                Some(_) if cluster.pieces.iter().all(|p| whole[p.id.0].is_some()) => {
                    return (cluster, None);
                }
                Some(known) => known.take(&mut cluster, &spans),
                None => None,
            };
            let solved = kept.unwrap_or_else(|| cluster.solve(&spans, &sweep, None, settings));
            (cluster, Some(solved))
        })
        .collect();
    for ((cluster, solved), from) in solved.iter().zip(&from) {
        if let Some(solved) = solved {
            for (stance, reached) in stances.iter_mut().zip(&solved.reached) {
                cluster.place_floats(stance, &reached.whole);
            }
        } else if let Some(from) = from {
            for float in &cluster.floats {
                for (stance, known) in stances.iter_mut().zip(&known[*from].stances) {
                    stance.bodies[float.body.0] = known.bodies[float.body.0];
                }
            }
        }
    }
    let solved: Vec<(Cluster<'_>, Solved)> = solved
        .into_iter()
        .filter_map(|(cluster, solved)| Some((cluster, solved?)))
        .collect();
    let branches = (0..route.branches.len())
        .map(|b| {
            if let Some(from) = whole[b] {
                return BranchSolution {
                    // A length rule may be another and the length the same.
                    spans: spans[b].clone(),
                    ..known[from].beside.solution.branches[b].clone()
                };
            }
            branch_solution(&sweep, &spans[b], &strands_of(&solved, BranchId(b)), None)
        })
        .collect();
    let solution = Solution {
        sweep,
        stances,
        branches,
    };
    let taken = whole.iter().map(|from| Some(known[(*from)?].given));
    (solution, taken.collect())
}

/// The known solution in which a branch lies as a whole as it must, if it does in one.
fn whole(clusters: &[Cluster<'_>], from: &[Option<usize>], branch: usize) -> Option<usize> {
    let has = |cluster: &Cluster<'_>| cluster.pieces.iter().any(|piece| piece.id.0 == branch);
    let mut own = clusters
        .iter()
        .zip(from)
        .filter(|(cluster, _)| has(cluster));
    let first = own.next().and_then(|(_, from)| *from)?;
    own.all(|(_, from)| *from == Some(first)).then_some(first)
}

fn spans_of<'s>(cluster: &Cluster<'_>, spans: &'s [Vec<Span>]) -> Vec<&'s [Span]> {
    let own = cluster.pieces.iter();
    own.map(|p| &spans[p.id.0][p.first..p.first + p.fixings - 1])
        .collect()
}

/// The stances with the breakouts that nothing holds firmly where a solution has them.
fn with_breakouts(route: &Route, mut stances: Vec<Stance>, solution: &Solution) -> Vec<Stance> {
    for (stance, found) in stances.iter_mut().zip(&solution.stances) {
        for breakout in route.breakouts.iter().filter(|b| b.held != Held::Firmly) {
            stance.bodies[breakout.body.0] = found.bodies[breakout.body.0];
        }
    }
    stances
}

impl Known<'_> {
    /// Whether a cluster lies here as it must lie in the route to be solved.
    fn holds(&self, cluster: &Cluster<'_>, spans: &[&[Span]]) -> bool {
        let Beside {
            solution,
            moved,
            alike,
        } = self.beside;
        let mut ids = cluster.pieces.iter().map(|piece| piece.id.0);
        ids.all(|id| alike.get(id) == Some(&true))
            && cluster.stays(spans, &self.stances, solution, Moved::Parts(moved))
    }

    /// Whether the solution tells of each strand of a branch how it was found: it does where all were, in every pose.
    fn tells_strands(&self, branch: BranchId) -> bool {
        let branch = &self.beside.solution.branches[branch.0];
        branch.shapes.iter().all(|shape| shape.converged)
    }

    /// The cluster as it lies here; `None` where the solution does not tell enough.
    fn take(&self, cluster: &mut Cluster<'_>, spans: &[&[Span]]) -> Option<Solved> {
        for piece in &mut cluster.pieces {
            let known = piece.of(self.beside.solution);
            let contact = known.contact_of(piece.strands_before());
            piece.contact = contact.max(FIRST_CONTACT);
        }
        let kept = cluster.kept(spans, &self.stances, self.beside.solution);
        if kept.is_none() {
            for piece in &mut cluster.pieces {
                piece.contact = FIRST_CONTACT;
            }
        }
        kept
    }
}
