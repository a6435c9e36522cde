//! From a route to the shapes of all its branches in all poses.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::geometry::{Curve, Knot};
use crate::harness::Branch;
use crate::machine::{PartId, Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::contact::{Contacts, Exempt};
use super::element::Material;
use super::guess::guess;
use super::measure::{Measured, measure};
use super::newton::{Scratch, Stop, newton};
use super::solution::{BranchSolution, Resolution, Shape, Snap, Solution};
use super::strand::{HeldAt, State, Strand, Target};
use super::walk::{Reached, Surround, walk};
use super::{Settings, descend, refine};

/// Acceleration of free fall \[m/s²\].
const GRAVITY: f64 = 9.80665;

/// Contact stiffness to begin with \[N/m²\], and the factor by which it grows where the branch sinks in deeper than
/// [`DEEPEST`] \[m\].
const FIRST_CONTACT: f64 = 2e6;
const STIFFER: f64 = 8.0;
const DEEPEST: f64 = 0.2e-3;

/// A fixing sits on a part if the branch's surface comes this close to it \[m\].
const ON_PART: f64 = 1e-3;

/// Most rounds of halving every element after the local refinement.
const MORE_ROUNDS: usize = 3;

/// Most rounds in which rest is looked for: settle with the twist held, let the twist go, hold it again.
const REST_ROUNDS: usize = 4;

/// Solves every branch of a route in every pose of the machine's sweep.
pub fn solve(route: &Route, settings: &Settings) -> Solution {
    run(route, None, settings)
}

/// Solves a route that differs from a solved one by small displacements, starting from that solution.
pub fn solve_near(route: &Route, solution: &Solution, settings: &Settings) -> Solution {
    run(route, Some(solution), settings)
}

fn run(route: &Route, near: Option<&Solution>, settings: &Settings) -> Solution {
    let sweep = near.map_or_else(|| Sweep::of(&route.machine), |near| near.sweep.clone());
    let stances: Vec<Stance> = sweep
        .poses
        .iter()
        .map(|pose| route.machine.stance(&pose.joints))
        .collect();
    let surroundings = Surroundings::new(&route.machine);
    let branches = (0..route.branches.len())
        .into_par_iter()
        .map(|b| {
            let near = near.and_then(|near| near.branches.get(b));
            branch_solution(
                route,
                &route.branches[b],
                &sweep,
                &stances,
                &surroundings,
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

/// A strand with all that it needs to know of its branch and machine.
struct Piece<'r> {
    route: &'r Route,
    branch: &'r Branch,
    /// Index in the lay of the strand's first fixing.
    first: usize,
    fixings: usize,
    surroundings: &'r Surroundings<'r>,
    exempt: &'r [Exempt],
    contact: f64,
    /// When an equilibrium is good enough.
    stop: Stop,
    /// Directors at the ends as drawn, riding on the bodies of the end fixings.
    directors: (Vector3<f64>, Vector3<f64>),
}

impl<'r> Piece<'r> {
    fn around(&self, stance: Stance) -> Option<Contacts<'r>> {
        let radius = 0.5 * self.branch.diameter;
        (!self.route.machine.parts.is_empty())
            .then(|| Contacts::new(self.surroundings, stance, radius, self.contact, self.exempt))
    }

    fn target(&self, stance: &Stance) -> Target {
        let holds = (self.first..self.first + self.fixings)
            .map(|lay| HeldAt {
                position: self.route.fixing_position(self.branch, lay, stance).coords,
                facing: self.route.fixing_facing(self.branch, lay, stance),
            })
            .collect();
        let turn =
            |lay: usize, d: &Vector3<f64>| stance.bodies[self.branch.lay[lay].fixing.on.0] * d;
        let last = self.first + self.fixings - 1;
        Target {
            holds,
            directors: (
                turn(self.first, &self.directors.0),
                turn(last, &self.directors.1),
            ),
        }
    }
}

impl Surround for Piece<'_> {
    fn at(&self, joints: &[f64]) -> (Target, Stance) {
        let stance = self.route.machine.stance(joints);
        (self.target(&stance), stance)
    }

    fn contacts(&self, stance: Stance) -> Option<Contacts<'_>> {
        self.around(stance)
    }
}

/// Solves one branch: cut it at the fixings that hold direction, walk each piece, put them together.
fn branch_solution(
    route: &Route,
    branch: &Branch,
    sweep: &Sweep,
    stances: &[Stance],
    surroundings: &Surroundings<'_>,
    near: Option<&BranchSolution>,
    settings: &Settings,
) -> BranchSolution {
    let rest = route.machine.stance(&route.machine.rest());
    let spans = route.spans(branch, &rest);
    let exempt = exempt(route, branch, &spans);
    let solved: Vec<Solved> = cuts(branch)
        .windows(2)
        .collect::<Vec<_>>()
        .into_par_iter()
        .map(|ends| {
            let piece = Piece {
                route,
                branch,
                first: ends[0],
                fixings: ends[1] - ends[0] + 1,
                surroundings,
                exempt: &exempt,
                contact: FIRST_CONTACT,
                stop: Stop::for_accuracy(settings.accuracy),
                directors: (Vector3::zeros(), Vector3::zeros()),
            };
            piece.solve(&spans[ends[0]..ends[1]], sweep, near, settings)
        })
        .collect();
    let shapes = (0..sweep.poses.len())
        .map(|pose| shape(&solved, stances, pose))
        .collect();
    BranchSolution {
        spans,
        shapes,
        snaps: snaps(sweep, &solved),
        resolution: Resolution {
            elements: solved.iter().map(|s| s.strand.elements()).sum(),
            radius_error: solved.iter().map(|s| s.radius_error).fold(0.0, f64::max),
            newton_steps: solved.iter().map(|s| s.steps).sum(),
        },
    }
}

/// Index in the lay of the first fixing of each strand, and of the last of all.
fn cuts(branch: &Branch) -> Vec<usize> {
    let last = branch.lay.len() - 1;
    (0..=last)
        .filter(|&lay| lay == 0 || lay == last || branch.lay[lay].fixing.holds_direction())
        .collect()
}

/// The stretches that may sink into a part: a fixing there sits on it.
fn exempt(route: &Route, branch: &Branch, spans: &[Span]) -> Vec<Exempt> {
    let mut exempt = Vec::new();
    for (lay, entry) in branch.lay.iter().enumerate() {
        let at = if lay == 0 { 0.0 } else { spans[lay - 1].end() };
        for (part, shape) in route.machine.parts.iter().enumerate() {
            if shape.on == entry.fixing.on
                && shape.shape.distance(&route.places[entry.fixing.place].at)
                    < 0.5 * branch.diameter + ON_PART
            {
                let (from, to) = (at - branch.diameter, at + branch.diameter);
                exempt.push(Exempt {
                    part: PartId(part),
                    from,
                    to,
                });
            }
        }
    }
    exempt
}

/// A strand in every pose.
struct Solved {
    strand: Strand,
    reached: Vec<Reached>,
    measured: Vec<Measured>,
    radius_error: f64,
    steps: usize,
}

impl Piece<'_> {
    fn solve(
        mut self,
        spans: &[Span],
        sweep: &Sweep,
        near: Option<&BranchSolution>,
        settings: &Settings,
    ) -> Solved {
        let mut scratch = Scratch::default();
        let mut strand = self.strand(spans, near, settings);
        let mut reached = match near {
            Some(near) => {
                let seeds = near
                    .shapes
                    .iter()
                    .map(|shape| self.seed(&strand, near, shape))
                    .collect();
                self.again(&mut strand, sweep, seeds, &mut scratch)
            }
            None => self.first(&mut strand, sweep, settings.accuracy, &mut scratch),
        };
        let mut steps: usize = reached.iter().map(|r| r.steps).sum();
        let mut measured = self.measure(&strand, sweep, &reached);
        if near.is_none() {
            for _ in 0..refine::ROUNDS {
                let deepest = measured.iter().map(|m| m.depth).fold(0.0, f64::max);
                let finer = refine::finer(
                    &strand,
                    &reached,
                    &measured,
                    settings.accuracy,
                    self.branch.diameter,
                );
                if finer.is_none() && deepest < DEEPEST {
                    break;
                }
                if deepest >= DEEPEST {
                    self.contact *= STIFFER;
                }
                let mut seeds: Vec<State> = reached.iter().map(|r| r.state.clone()).collect();
                if let Some(finer) = finer {
                    seeds = seeds
                        .iter()
                        .map(|state| finer.prolong(&strand, state))
                        .collect();
                    strand = finer.strand(&strand);
                }
                let jumps: Vec<_> = reached.iter().map(|r| r.jump).collect();
                reached = self.again(&mut strand, sweep, seeds, &mut scratch);
                reached
                    .iter_mut()
                    .zip(jumps)
                    .for_each(|(r, jump)| r.jump = jump);
                steps += reached.iter().map(|r| r.steps).sum::<usize>();
                measured = self.measure(&strand, sweep, &reached);
            }
        }
        let mut radius_error = refine::error(&strand, &reached, &measured);
        if near.is_none() {
            for round in 0..=MORE_ROUNDS {
                let halved =
                    self.change_on_halving(&strand, sweep, &reached, &measured, &mut scratch);
                radius_error = halved.max(refine::error(&strand, &reached, &measured));
                let finer = refine::all_finer(&strand, self.branch.diameter);
                let Some(finer) =
                    finer.filter(|_| halved > settings.accuracy && round < MORE_ROUNDS)
                else {
                    break;
                };
                let seeds = reached
                    .iter()
                    .map(|r| finer.prolong(&strand, &r.state))
                    .collect();
                strand = finer.strand(&strand);
                let jumps: Vec<_> = reached.iter().map(|r| r.jump).collect();
                reached = self.again(&mut strand, sweep, seeds, &mut scratch);
                reached
                    .iter_mut()
                    .zip(jumps)
                    .for_each(|(r, jump)| r.jump = jump);
                steps += reached.iter().map(|r| r.steps).sum::<usize>();
                measured = self.measure(&strand, sweep, &reached);
            }
        }
        Solved {
            strand,
            reached,
            measured,
            radius_error,
            steps,
        }
    }

    /// By how much the tightest curvature of a span changes, relative to it, when every element is halved: solved
    /// again for the pose in which each span is tightest. The local estimate of [`refine`] does not see errors that
    /// gather along a span and show at one clamp.
    fn change_on_halving(
        &self,
        strand: &Strand,
        sweep: &Sweep,
        reached: &[Reached],
        measured: &[Measured],
        scratch: &mut Scratch,
    ) -> f64 {
        let Some(finer) = refine::all_finer(strand, self.branch.diameter) else {
            return 0.0;
        };
        let fine = finer.strand(strand);
        let mut worst = 0.0_f64;
        for (pose, spans) in refine::tightest_poses(strand, reached, measured) {
            let mut state = finer.prolong(strand, &reached[pose].state);
            let (target, stance) = self.at(&sweep.poses[pose].joints);
            let mut contacts = self.around(stance);
            if let Some(contacts) = &mut contacts {
                contacts.look_around(
                    fine.each(&state).map(|(_, element)| element),
                    super::contact::REACH,
                );
            }
            let outcome = newton(
                &fine,
                &mut state,
                &target,
                contacts.as_ref(),
                &self.stop,
                scratch,
            );
            if !outcome.converged {
                continue;
            }
            let halved = measure(&fine, &state, contacts.as_ref());
            for span in spans {
                let (coarse, fine) = (
                    measured[pose].spans[span].curvature,
                    halved.spans[span].curvature,
                );
                worst = worst.max(refine::change(coarse, fine));
            }
        }
        worst
    }

    /// Cuts the spans into elements: as the solved neighbour is cut, or evenly.
    fn strand(&self, spans: &[Span], near: Option<&BranchSolution>, settings: &Settings) -> Strand {
        let mut at = vec![spans[0].start];
        let mut fixings = vec![0];
        for (i, span) in spans.iter().enumerate() {
            let old = near.map(|near| (&near.spans[self.first + i], near.shapes[0].curve.knots()));
            if let Some((old, knots)) = old {
                let inside = knots
                    .iter()
                    .map(|k| k.at)
                    .filter(|at| *at > old.start + 1e-9 && *at < old.end() - 1e-9);
                at.extend(
                    inside.map(|at| span.start + (at - old.start) / old.length * span.length),
                );
                at.push(span.end());
            } else {
                let fine = if self.route.machine.parts.is_empty() {
                    f64::INFINITY
                } else {
                    2.0 * self.branch.diameter
                };
                let pieces = settings.elements.max(count(span.length / fine));
                at.extend((1..pieces).map(|k| span.start + span.length * ratio(k, pieces)));
                at.push(span.end());
            }
            fixings.push(at.len() - 1);
        }
        let stiffness = self.branch.stiffness;
        let held = |lay: usize| self.branch.lay[lay].fixing.holds_direction();
        let both = held(self.first) && held(self.first + self.fixings - 1);
        let length = at[at.len() - 1] - at[0];
        Strand {
            material: Material {
                bend: stiffness.bend,
                stretch: stiffness.stretch,
                weight: Vector3::new(0.0, 0.0, -stiffness.mass * GRAVITY),
            },
            at,
            fixings,
            compliance: both.then(|| length / stiffness.twist),
        }
    }

    /// Rest from the smooth path, resolved, then the walk.
    fn first(
        &mut self,
        strand: &mut Strand,
        sweep: &Sweep,
        accuracy: f64,
        scratch: &mut Scratch,
    ) -> Vec<Reached> {
        let stance = self.route.machine.stance(&sweep.poses[sweep.rest].joints);
        let (path, knots) = self.route.smooth_path(self.branch, &stance);
        let target = self.target(&stance);
        let knots = &knots[self.first..self.first + self.fixings];
        let state = guess(strand, &path, knots, &target);
        let mut rest = self.rest(strand, state, sweep, true, scratch);
        for _ in 0..refine::ROUNDS {
            let measured = self.measure_one(strand, sweep, sweep.rest, &rest);
            let one = (std::slice::from_ref(&rest), std::slice::from_ref(&measured));
            let Some(finer) = refine::finer(strand, one.0, one.1, accuracy, self.branch.diameter)
            else {
                break;
            };
            let state = finer.prolong(strand, &rest.state);
            *strand = finer.strand(strand);
            rest = self
                .rest(strand, state, sweep, false, scratch)
                .after(rest.steps);
        }
        walk(strand, self, sweep, rest, &self.stop, scratch)
    }

    /// Every pose again from a state close to it.
    fn again(
        &mut self,
        strand: &mut Strand,
        sweep: &Sweep,
        seeds: Vec<State>,
        scratch: &mut Scratch,
    ) -> Vec<Reached> {
        let rest = self.rest(strand, seeds[sweep.rest].clone(), sweep, false, scratch);
        let mut reached = Vec::with_capacity(seeds.len());
        for (pose, state) in seeds.into_iter().enumerate() {
            if pose == sweep.rest {
                reached.push(rest.clone());
                continue;
            }
            let (target, stance) = self.at(&sweep.poses[pose].joints);
            reached.push(self.relax(strand, state, &target, stance, false, scratch));
        }
        reached
    }

    /// Rest: an equilibrium that carries no twist, stable with the twist that the fixings then hold. The
    /// directors at the ends become those that make it so.
    fn rest(
        &mut self,
        strand: &mut Strand,
        state: State,
        sweep: &Sweep,
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        let (_, stance) = self.at(&sweep.poses[sweep.rest].joints);
        let mut rest = Reached {
            state: State {
                moment: 0.0,
                angle: 0.0,
                ..state
            },
            converged: false,
            residual: f64::INFINITY,
            steps: 0,
            jump: None,
        };
        for round in 0..REST_ROUNDS {
            if round > 0 || from_afar {
                self.untwist(strand, &mut rest.state, &stance);
                rest = self
                    .relax(
                        strand,
                        rest.state,
                        &self.target(&stance),
                        stance.clone(),
                        round == 0,
                        scratch,
                    )
                    .after(rest.steps);
            }
            let Some(compliance) = strand.compliance else {
                break;
            };
            // Without the twist the shape may be a saddle (a planar loop rolls out of its plane), so only the
            // last solve, with it, decides whether it stands. Where it does not, the harness is let roll until it is
            // at ease, and then held.
            strand.compliance = None;
            rest.state.moment = 0.0;
            rest.state.angle = 0.0;
            let mut contacts = self.around(stance.clone());
            if let Some(contacts) = &mut contacts {
                contacts.look_around(
                    strand.each(&rest.state).map(|(_, element)| element),
                    super::contact::REACH,
                );
            }
            let target = self.target(&stance);
            let before = rest.state.clone();
            let find = if round == 0 { newton } else { descend::settle };
            let flat = find(
                strand,
                &mut rest.state,
                &target,
                contacts.as_ref(),
                &self.stop,
                scratch,
            );
            if !flat.converged {
                rest.state.clone_from(&before);
            }
            strand.compliance = Some(compliance);
            self.untwist(strand, &mut rest.state, &stance);
            let held = newton(
                strand,
                &mut rest.state,
                &self.target(&stance),
                contacts.as_ref(),
                &self.stop,
                scratch,
            );
            if !held.converged {
                rest.state = before;
            }
            rest.converged = flat.converged && held.converged && held.stable;
            rest.residual = held.residual;
            rest.steps += flat.steps + held.steps;
            if rest.converged {
                break;
            }
        }
        if strand.compliance.is_none() && !from_afar {
            rest = self
                .relax(
                    strand,
                    rest.state,
                    &self.target(&stance),
                    stance,
                    false,
                    scratch,
                )
                .after(rest.steps);
        }
        rest
    }

    /// Sets the directors so that this state carries no twist.
    fn untwist(&mut self, strand: &Strand, state: &mut State, stance: &Stance) {
        state.moment = 0.0;
        state.angle = 0.0;
        if strand.compliance.is_none() {
            return;
        }
        let mut target = self.target(stance);
        let ends = (0, strand.fixings.len() - 1);
        let across = |end: usize| {
            let held = target.holds[end]
                .facing
                .map_or_else(|| state.nodes[strand.fixings[end]].t, |f| f.into_inner());
            super::twist::any_across(&held)
        };
        target.directors = (across(ends.0), across(ends.1));
        let end = strand.untwisted_end(state, &target);
        let back = |lay: usize, d: &Vector3<f64>| {
            stance.bodies[self.branch.lay[lay].fixing.on.0].inverse() * d
        };
        self.directors = (
            back(self.first, &target.directors.0),
            back(self.first + ends.1, &end),
        );
    }

    /// One solve with everything tried: straight to equilibrium, else downhill.
    fn relax(
        &self,
        strand: &Strand,
        mut state: State,
        target: &Target,
        stance: Stance,
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        state.pole = super::twist::pole(state.nodes.iter().map(|n| n.t), Some(state.pole));
        let mut contacts = self.contacts(stance);
        let before = state.clone();
        let mut outcome = None;
        let length = strand.at[strand.at.len() - 1] - strand.at[0];
        for round in 0..3 {
            if let Some(contacts) = &mut contacts {
                let afar = if from_afar && round == 0 { length } else { 0.0 };
                contacts.look_around(
                    strand.each(&state).map(|(_, element)| element),
                    afar.max(super::contact::REACH),
                );
            }
            let start = state.clone();
            let mut now = if from_afar && round == 0 {
                descend::settle(
                    strand,
                    &mut state,
                    target,
                    contacts.as_ref(),
                    &self.stop,
                    scratch,
                )
            } else {
                newton(
                    strand,
                    &mut state,
                    target,
                    contacts.as_ref(),
                    &self.stop,
                    scratch,
                )
            };
            if !(now.converged && now.stable) {
                if !now.converged {
                    state = before.clone();
                }
                now = descend::settle(
                    strand,
                    &mut state,
                    target,
                    contacts.as_ref(),
                    &self.stop,
                    scratch,
                );
            }
            outcome = Some(now);
            let moved = start
                .nodes
                .iter()
                .zip(&state.nodes)
                .map(|(a, b)| (a.r - b.r).norm())
                .fold(0.0, f64::max);
            if contacts.is_none() || moved < super::contact::REACH {
                break;
            }
        }
        let (converged, residual, steps) = outcome.map_or((false, f64::INFINITY, 0), |o| {
            (o.converged && o.stable, o.residual, o.steps)
        });
        Reached {
            state,
            converged,
            residual,
            steps,
            jump: None,
        }
    }

    fn measure(&self, strand: &Strand, sweep: &Sweep, reached: &[Reached]) -> Vec<Measured> {
        reached
            .iter()
            .enumerate()
            .map(|(pose, reached)| self.measure_one(strand, sweep, pose, reached))
            .collect()
    }

    fn measure_one(
        &self,
        strand: &Strand,
        sweep: &Sweep,
        pose: usize,
        reached: &Reached,
    ) -> Measured {
        let contacts = self
            .around(self.route.machine.stance(&sweep.poses[pose].joints))
            .map(|mut contacts| {
                contacts.look_around(
                    strand.each(&reached.state).map(|(_, element)| element),
                    super::contact::REACH,
                );
                contacts
            });
        measure(strand, &reached.state, contacts.as_ref())
    }

    /// The state of this strand in a shape solved before.
    fn seed(&self, strand: &Strand, near: &BranchSolution, shape: &Shape) -> State {
        let ends = (
            near.spans[self.first].start,
            near.spans[self.first + self.fixings - 2].end(),
        );
        let inside = shape
            .curve
            .knots()
            .iter()
            .filter(|k| k.at > ends.0 - 1e-9 && k.at < ends.1 + 1e-9);
        let nodes: Vec<_> = inside
            .map(|k| super::element::Node {
                r: k.position.coords,
                t: k.slope,
            })
            .collect();
        let twist: f64 = shape.spans[self.first..self.first + self.fixings - 1]
            .iter()
            .map(|s| s.twist)
            .sum();
        let mut state = State {
            end: vec![0.0; nodes.len()],
            middle: vec![0.0; nodes.len().saturating_sub(1)],
            pole: super::twist::pole(nodes.iter().map(|n| n.t), None),
            nodes,
            moment: strand.compliance.map_or(0.0, |c| twist / c),
            angle: twist,
        };
        strand.strain_multipliers(&mut state);
        state
    }
}

/// Puts the strands of one pose together.
fn shape(solved: &[Solved], _stances: &[Stance], pose: usize) -> Shape {
    let mut knots: Vec<Knot> = Vec::new();
    let mut shape = Shape {
        curve: Curve::straight(),
        stations: Vec::new(),
        spans: Vec::new(),
        holds: Vec::new(),
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
            let (jump, node) = s.reached[step.to].jump?;
            Some(Snap {
                from,
                to: step.to,
                jump,
                at: s.strand.at[node],
            })
        });
        snaps.extend(jumps.max_by(|a, b| a.jump.total_cmp(&b.jump)));
    }
    snaps
}

/// Number of pieces of at most unit size; at least one.
fn count(size: f64) -> usize {
    // A span of more than a million diameters does not exist.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 1…1e6"
    )]
    let pieces = size.ceil().clamp(1.0, 1e6) as usize;
    pieces
}

fn ratio(k: usize, of: usize) -> f64 {
    #[allow(clippy::cast_precision_loss, reason = "a few thousand at most")]
    let ratio = k as f64 / of as f64;
    ratio
}
