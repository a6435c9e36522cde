//! From a route to the shapes of all its branches in all poses.

use rayon::prelude::*;

use crate::harness::{BranchId, Held};
use crate::machine::{PartId, Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::Settings;
use super::cluster::{Cluster, Solved};
use super::contact::Seated;
use super::cutting::{clusters, pieces, seated};
use super::middle::from_its_middle;
use super::piece::Piece;
use super::solution::Solution;
use super::tangent::Neighbourhood;
use super::together::{branch_solution, strands_of};

/// Solves every branch of a route in every pose of the machine's sweep.
pub fn solve(route: &Route, settings: &Settings) -> Solution {
    let solved = from_its_middle(route, &[], |route, _| {
        let surroundings = Surroundings::new(&route.machine);
        (run(route, &surroundings, None, settings), ())
    });
    solved.0
}

/// Solves a route that differs from a solved one by small displacements, starting from that solution.
pub fn solve_near(route: &Route, solution: &Solution, settings: &Settings) -> Solution {
    let solved = from_its_middle(route, &[solution], |route, known| {
        let near = known.first().map(|&solution| Near {
            solution,
            moved: Moved::Anything,
            known: None,
            only: false,
        });
        let surroundings = Surroundings::new(&route.machine);
        (run(route, &surroundings, near, settings), ())
    });
    solved.0
}

/// In what alone a route differs from a solved one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moved<'m> {
    /// Places: no part and no joint.
    Places,
    /// One part, by so much \[m\].
    Part(PartId, f64),
    /// Places, and these parts by so much each \[m\].
    Parts(&'m [(PartId, f64)]),
    /// A joint, and all that it carries, by so much at most \[m\].
    Joint(f64),
    /// Anything.
    Anything,
}

/// Where in a neighbourhood a route is, of whose branches, and in whose poses, it may hold only some.
#[derive(Debug, Clone, Copy)]
pub struct KnownAround<'n> {
    /// What is known of the whole route.
    pub neighbourhood: &'n Neighbourhood,
    /// For each branch which of the whole route's it is.
    pub branches: &'n [BranchId],
    /// For each pose which of the neighbourhood's it is.
    pub poses: &'n [usize],
}

/// As [`solve_near`], where it is known what moved: a strand whose fixings and parts stayed where they were keeps its
/// shape without a solve; and branches that hang together are looked for in the neighbourhood alone, where another shape
/// would be of no use. The `surroundings` are those of the changed route's machine. Rest is asked for less finely
/// here, so that rounding of positions far away matters less: all is solved where it stands.
pub fn solve_near_in(
    route: &Route,
    surroundings: &Surroundings<'_>,
    solution: &Solution,
    moved: Moved<'_>,
    known: Option<KnownAround<'_>>,
    settings: &Settings,
) -> Solution {
    let near = Near {
        solution,
        moved,
        known,
        only: true,
    };
    run(route, surroundings, Some(near), settings)
}

/// A solution close by.
#[derive(Clone, Copy)]
struct Near<'s> {
    solution: &'s Solution,
    moved: Moved<'s>,
    known: Option<KnownAround<'s>>,
    /// Whether nothing is looked for farther away.
    only: bool,
}

fn run(
    route: &Route,
    surroundings: &Surroundings<'_>,
    near: Option<Near<'_>>,
    settings: &Settings,
) -> Solution {
    let sweep = near.map_or_else(
        || Sweep::with_steps(&route.machine, &route.corner_groups(), settings.stride),
        |near| near.solution.sweep.clone(),
    );
    let mut stances: Vec<Stance> = sweep
        .poses
        .iter()
        .map(|pose| route.machine.stance(&pose.joints))
        .collect();
    if let Some(near) = near {
        // Breakouts are where they were found.
        for (stance, near) in stances.iter_mut().zip(&near.solution.stances) {
            for breakout in route.breakouts.iter().filter(|b| b.held == Held::Floats) {
                stance.bodies[breakout.body.0] = near.bodies[breakout.body.0];
            }
        }
    }
    let spans = spans(route);
    let seated: Vec<Vec<Seated>> = route
        .branches
        .iter()
        .zip(&spans)
        .enumerate()
        .map(|(b, (branch, spans))| {
            let before = near.and_then(|near| {
                let known = near.known?;
                known.neighbourhood.sat(known.branches[b], near.moved)
            });
            seated(route, branch, spans, before)
        })
        .collect();
    let known = near.map(|near| near.solution);
    let pieces = pieces(route, surroundings, &seated, known, settings);
    let solved: Vec<(Cluster<'_>, Option<Solved>)> = clusters(route, pieces)
        .into_par_iter()
        .map(|mut cluster| {
            let spans: Vec<&[Span]> = cluster
                .pieces
                .iter()
                .map(|p| &spans[p.id.0][p.first..p.first + p.fixings - 1])
                .collect();
            let Some(near) = near else {
                let solved = cluster.solve(&spans, &sweep, None, settings);
                return (cluster, Some(solved));
            };
            if let Some(known) = near.known {
                let KnownAround {
                    branches, poses, ..
                } = known;
                cluster.tangents = known.neighbourhood.tangents(&cluster, branches, poses);
                cluster.shifted = match near.moved {
                    Moved::Places => 0.0,
                    Moved::Part(_, by) | Moved::Joint(by) => by,
                    Moved::Parts(_) | Moved::Anything => f64::INFINITY,
                };
            }
            if cluster.stays(&spans, &stances, near.solution, near.moved) {
                return (cluster, None);
            }
            cluster.near_only = near.only;
            let solved = cluster.solve(&spans, &sweep, Some(near.solution), settings);
            (cluster, Some(solved))
        })
        .collect();
    // What stayed where it was is only needed where it goes on in what did not.
    let mut moved = vec![false; route.branches.len()];
    loop {
        let before = moved.clone();
        for (cluster, solved) in &solved {
            let mut ids = cluster.pieces.iter().map(|piece| piece.id.0);
            if solved.is_some() || ids.any(|id| moved[id]) {
                cluster.pieces.iter().for_each(|p| moved[p.id.0] = true);
            }
        }
        if moved == before {
            break;
        }
    }
    let solved: Vec<(Cluster<'_>, Solved)> = solved
        .into_iter()
        .filter_map(|(mut cluster, solved)| {
            let near = near.map(|near| near.solution);
            let solved = solved.or_else(|| {
                let near = near.filter(|_| cluster.pieces.iter().any(|p| moved[p.id.0]))?;
                let own = |p: &Piece<'_>| &spans[p.id.0][p.first..p.first + p.fixings - 1];
                let spans: Vec<&[Span]> = cluster.pieces.iter().map(own).collect();
                let kept = cluster.kept(&spans, &stances, near);
                Some(kept.unwrap_or_else(|| cluster.solve(&spans, &sweep, Some(near), settings)))
            });
            if let (None, Some(near)) = (&solved, near) {
                // Where its breakouts were they are.
                for float in &cluster.floats {
                    for (stance, near) in stances.iter_mut().zip(&near.stances) {
                        stance.bodies[float.body.0] = near.bodies[float.body.0];
                    }
                }
            }
            Some((cluster, solved?))
        })
        .collect();
    for (cluster, solved) in &solved {
        for (stance, reached) in stances.iter_mut().zip(&solved.reached) {
            cluster.place_floats(stance, &reached.whole);
        }
    }
    let branches = (0..route.branches.len())
        .map(|b| {
            let own = strands_of(&solved, BranchId(b));
            if let Some(near) = near.filter(|_| own.is_empty()) {
                return near.solution.branches[b].clone();
            }
            let near = near.and_then(|near| near.solution.branches.get(b));
            branch_solution(&sweep, &spans[b], &own, near)
        })
        .collect();
    Solution {
        sweep,
        stances,
        branches,
    }
}

/// The spans of every branch.
pub(super) fn spans(route: &Route) -> Vec<Vec<Span>> {
    let rest = route.machine.stance(&route.machine.rest());
    let branches = route.branches.iter();
    branches.map(|branch| route.spans(branch, &rest)).collect()
}
