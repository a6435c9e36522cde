//! From a route to the shapes of all its branches in all poses.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::geometry::{Curve, Knot};
use crate::harness::Branch;
use crate::machine::{PartId, Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::Settings;
use super::contact::Seated;
use super::keep::NearBranch;
use super::newton::Stop;
use super::piece::{Piece, Solved};
use super::resolve::FIRST_CONTACT;
use super::solution::{BranchSolution, Resolution, Shape, Snap, Solution};

/// A fixing sits on a part if the branch's surface comes this close to it \[m\].
const ON_PART: f64 = 1e-3;

/// Solves every branch of a route in every pose of the machine's sweep.
pub fn solve(route: &Route, settings: &Settings) -> Solution {
    run(route, &Surroundings::new(&route.machine), None, settings)
}

/// Solves a route that differs from a solved one by small displacements, starting from that solution.
pub fn solve_near(route: &Route, solution: &Solution, settings: &Settings) -> Solution {
    let near = Near {
        solution,
        moved: Moved::Joint,
    };
    run(
        route,
        &Surroundings::new(&route.machine),
        Some(near),
        settings,
    )
}

/// In what one thing alone a route differs from a solved one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Moved {
    /// Places: no part and no joint.
    Places,
    /// One part, by so much \[m\].
    Part(PartId, f64),
    /// A joint, and all that it carries.
    Joint,
}

/// As [`solve_near`], where it is known what moved: a strand whose fixings and parts stayed where they were keeps its
/// shape without a solve. The `surroundings` are those of the changed route's machine.
pub fn solve_near_in(
    route: &Route,
    surroundings: &Surroundings<'_>,
    solution: &Solution,
    moved: Moved,
    settings: &Settings,
) -> Solution {
    let near = Near { solution, moved };
    run(route, surroundings, Some(near), settings)
}

/// A solution close by.
#[derive(Clone, Copy)]
struct Near<'s> {
    solution: &'s Solution,
    moved: Moved,
}

fn run(
    route: &Route,
    surroundings: &Surroundings<'_>,
    near: Option<Near<'_>>,
    settings: &Settings,
) -> Solution {
    let sweep = near.map_or_else(
        || Sweep::with_corners(&route.machine, &route.corner_groups()),
        |near| near.solution.sweep.clone(),
    );
    let stances: Vec<Stance> = sweep
        .poses
        .iter()
        .map(|pose| route.machine.stance(&pose.joints))
        .collect();
    let branches = (0..route.branches.len())
        .into_par_iter()
        .map(|b| {
            let near = near.and_then(|near| {
                Some(NearBranch {
                    solved: near.solution.branches.get(b)?,
                    moved: near.moved,
                })
            });
            branch_solution(
                route,
                &route.branches[b],
                (&sweep, &stances),
                surroundings,
                near,
                settings,
            )
        })
        .collect();
    Solution {
        sweep,
        stances,
        branches,
    }
}

/// Solves one branch: cut it at the fixings that hold direction, walk each piece, put them together.
fn branch_solution(
    route: &Route,
    branch: &Branch,
    (sweep, stances): (&Sweep, &[Stance]),
    surroundings: &Surroundings<'_>,
    near: Option<NearBranch<'_>>,
    settings: &Settings,
) -> BranchSolution {
    let rest = route.machine.stance(&route.machine.rest());
    let spans = route.spans(branch, &rest);
    let seated = seated(route, branch, &spans);
    let solved: Vec<Solved> = branch
        .stretches()
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|(first, last)| {
            let piece = Piece {
                route,
                branch,
                first,
                fixings: last - first + 1,
                surroundings,
                seated: &seated,
                // As stiff as in the solution close by: a softer contact would shift what presses on a part.
                contact: near.map_or(FIRST_CONTACT, |near| {
                    near.solved.resolution.contact.max(FIRST_CONTACT)
                }),
                stop: near.map_or_else(|| Stop::for_accuracy(settings.accuracy), |_| Stop::NEAR),
                directors: (Vector3::zeros(), Vector3::zeros()),
            };
            let spans = &spans[first..last];
            let kept = near.and_then(|near| piece.kept(spans, stances, &near));
            kept.unwrap_or_else(|| {
                piece.solve(spans, sweep, near.map(|near| near.solved), settings)
            })
        })
        .collect();
    let shapes = (0..sweep.poses.len())
        .map(|pose| shape(&solved, pose))
        .collect();
    BranchSolution {
        spans,
        shapes,
        snaps: near.map_or_else(|| snaps(sweep, &solved), |near| near.solved.snaps.clone()),
        resolution: Resolution {
            elements: solved.iter().map(|s| s.strand.elements()).sum(),
            radius_error: solved.iter().map(|s| s.radius_error).fold(0.0, f64::max),
            contact: solved.iter().map(|s| s.contact).fold(0.0, f64::max),
            newton_steps: solved.iter().map(|s| s.steps).sum(),
        },
    }
}

/// The fixings that sit on parts of their own body.
fn seated(route: &Route, branch: &Branch, spans: &[Span]) -> Vec<Seated> {
    let mut seated = Vec::new();
    for (lay, entry) in branch.lay.iter().enumerate() {
        let at = if lay == 0 { 0.0 } else { spans[lay - 1].end() };
        for (part, shape) in route.machine.parts.iter().enumerate() {
            let above = shape.shape.distance(&route.places[entry.fixing.place].at);
            let depth = 0.5 * branch.diameter - above;
            if shape.on == entry.fixing.on && depth > -ON_PART {
                seated.push(Seated {
                    part: PartId(part),
                    at,
                    depth: depth.max(0.0),
                });
            }
        }
    }
    seated
}

/// Puts the strands of one pose together.
fn shape(solved: &[Solved], pose: usize) -> Shape {
    let mut knots: Vec<Knot> = Vec::new();
    let mut shape = Shape {
        curve: Curve::straight(),
        stations: Vec::new(),
        spans: Vec::new(),
        holds: Vec::new(),
        multipliers: Vec::new(),
        converged: true,
        residual: 0.0,
    };
    for solved in solved {
        let (reached, measured) = (&solved.reached[pose], &solved.measured[pose]);
        for (at, node) in solved
            .strand
            .at
            .iter()
            .zip(&reached.state.nodes)
            .skip(usize::from(!knots.is_empty()))
        {
            knots.push(Knot {
                at: *at,
                position: node.r.into(),
                slope: node.t,
            });
        }
        let state = &reached.state;
        for (end, middle) in state
            .end
            .iter()
            .zip(state.middle.iter().map(Some).chain([None]))
        {
            shape.multipliers.push(*end);
            shape.multipliers.extend(middle);
        }
        shape.stations.extend_from_slice(&measured.stations);
        shape.spans.extend_from_slice(&measured.spans);
        let mut holds = measured.holds.iter();
        if let Some(last) = shape.holds.last_mut()
            && let Some(first) = holds.next()
        {
            last.force += first.force;
            last.moment += first.moment;
        }
        shape.holds.extend(holds);
        shape.converged &= reached.converged;
        shape.residual = shape.residual.max(reached.residual);
    }
    if let Some(curve) = Curve::new(knots) {
        shape.curve = curve;
    }
    shape
}

fn snaps(sweep: &Sweep, solved: &[Solved]) -> Vec<Snap> {
    let mut snaps = Vec::new();
    for step in &sweep.walk {
        let Some(from) = step.from else { continue };
        let jumps = solved.iter().filter_map(|s| {
            let (jump, at) = s.reached[step.to].jump?;
            Some(Snap {
                from,
                to: step.to,
                jump,
                at,
            })
        });
        snaps.extend(jumps.max_by(|a, b| a.jump.total_cmp(&b.jump)));
    }
    snaps
}
