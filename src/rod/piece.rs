//! One strand on its machine: rest, the walk, finer elements, every pose.

use nalgebra::Vector3;

use crate::harness::Branch;
use crate::machine::{Stance, Surroundings, Sweep};
use crate::route::{Route, Span};

use super::contact::{Contacts, REACH, Seated};
use super::descend::settle;
use super::element::{Material, Node};
use super::guess::guess;
use super::measure::{Measured, measure};
use super::newton::{Outcome, Scratch, Stop, newton};
use super::refine::Finer;
use super::solution::{BranchSolution, Shape};
use super::strand::{HeldAt, State, Strand, Target};
use super::walk::{Reached, Surround, walk};
use super::{Settings, refine, twist};

/// Acceleration of free fall \[m/s²\].
const GRAVITY: f64 = 9.80665;

/// Contact stiffness \[N/m²\]: where the branch sinks in deeper than [`DEEPEST`] \[m\] it grows by [`STIFFER`], up to the
/// last one, which still gives way where parts squeeze the branch: they must meet somewhere.
pub(super) const FIRST_CONTACT: f64 = 2e6;
const STIFFER: f64 = 8.0;
const LAST_CONTACT: f64 = 1024e6;
const DEEPEST: f64 = 0.2e-3;

/// Relative error of the radius that is enough where parts press on the branch.
const TOUCHING: f64 = 2e-3;

/// Most rounds of halving every element after the local refinement.
const MORE_ROUNDS: usize = 2;

/// The first guess may run through parts; contact grows from this stiffness \[N/m²\] by this factor, so that the branch is
/// pushed out to one side as a whole.
const SOFT_CONTACT: f64 = 2e3;
const HARDER: f64 = 10.0;

/// A strand with all that it needs to know of its branch and machine.
pub(super) struct Piece<'r> {
    pub(super) route: &'r Route,
    pub(super) branch: &'r Branch,
    /// Index in the lay of the strand's first fixing.
    pub(super) first: usize,
    pub(super) fixings: usize,
    pub(super) surroundings: &'r Surroundings<'r>,
    pub(super) seated: &'r [Seated],
    pub(super) contact: f64,
    /// When an equilibrium is good enough.
    pub(super) stop: Stop,
    /// Directors at the ends as drawn, riding on the bodies of the end fixings.
    pub(super) directors: (Vector3<f64>, Vector3<f64>),
}

impl<'r> Piece<'r> {
    fn around(&self, stance: Stance) -> Option<Contacts<'r>> {
        let radius = 0.5 * self.branch.diameter;
        (!self.route.machine.parts.is_empty())
            .then(|| Contacts::new(self.surroundings, stance, radius, self.contact, self.seated))
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

/// A strand in every pose.
pub(super) struct Solved {
    pub(super) strand: Strand,
    pub(super) reached: Vec<Reached>,
    pub(super) measured: Vec<Measured>,
    pub(super) radius_error: f64,
    /// Contact stiffness in the end \[N/m²\].
    pub(super) contact: f64,
    pub(super) steps: usize,
}

impl Solved {
    /// The accuracy worth resolving: where parts press on the branch, contact itself is no finer than this.
    fn worth(&self, accuracy: f64) -> f64 {
        let touching = self
            .measured
            .iter()
            .any(|m| m.stations.iter().any(|s| s.contact > 0.0));
        if touching {
            accuracy.max(TOUCHING)
        } else {
            accuracy
        }
    }
}

impl<'r> Piece<'r> {
    /// Solves the strand in every pose: from the smooth path, or from a solution close by.
    pub(super) fn solve(
        mut self,
        spans: &[Span],
        sweep: &Sweep,
        near: Option<&BranchSolution>,
        settings: &Settings,
    ) -> Solved {
        let mut scratch = Scratch::default();
        let mut strand = self.strand(spans, near, settings);
        let reached = match near {
            Some(near) => {
                let shapes = near.shapes.iter();
                let seeds = shapes
                    .map(|shape| self.seed(&strand, near, shape))
                    .collect();
                self.again(&mut strand, sweep, seeds, &mut scratch)
            }
            None => self.first(&mut strand, sweep, settings.accuracy, &mut scratch),
        };
        let measured = self.measure(&strand, sweep, &reached);
        let mut solved = Solved {
            radius_error: refine::error(&strand, &reached, &measured),
            contact: self.contact,
            steps: reached.iter().map(|r| r.steps).sum(),
            strand,
            reached,
            measured,
        };
        if near.is_none() {
            self.resolve(&mut solved, sweep, settings.accuracy, &mut scratch);
            solved.contact = self.contact;
        }
        solved
    }

    /// Cuts elements, and stiffens contact, until both are good enough; then halves every element once to learn what
    /// error is left, and once or twice more where that shows it to be too great.
    fn resolve(
        &mut self,
        solved: &mut Solved,
        sweep: &Sweep,
        accuracy: f64,
        scratch: &mut Scratch,
    ) {
        for _ in 0..refine::ROUNDS {
            let accuracy = solved.worth(accuracy);
            let deepest = solved.measured.iter().map(|m| m.depth).fold(0.0, f64::max);
            let deep = deepest >= DEEPEST && self.contact < LAST_CONTACT;
            let finer = refine::finer(
                &solved.strand,
                &solved.reached,
                &solved.measured,
                accuracy,
                self.branch.diameter,
            );
            if finer.is_none() && !deep {
                break;
            }
            if deep {
                self.contact = (self.contact * STIFFER).min(LAST_CONTACT);
            }
            self.cut(solved, finer.as_ref(), sweep, scratch);
        }
        for round in 0..=MORE_ROUNDS {
            let halved = self.change_on_halving(solved, sweep, scratch);
            let local = refine::error(&solved.strand, &solved.reached, &solved.measured);
            solved.radius_error = halved.max(local);
            if halved <= solved.worth(accuracy) || round == MORE_ROUNDS {
                break;
            }
            let finer = refine::all_finer(&solved.strand, self.branch.diameter);
            if finer.is_none() {
                break;
            }
            self.cut(solved, finer.as_ref(), sweep, scratch);
        }
    }

    /// Every pose again on finer elements.
    fn cut(
        &mut self,
        solved: &mut Solved,
        finer: Option<&Finer>,
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) {
        let states = solved.reached.iter().map(|r| &r.state);
        let seeds = match finer {
            Some(finer) => states
                .map(|state| finer.prolong(&solved.strand, state))
                .collect(),
            None => states.cloned().collect(),
        };
        if let Some(finer) = finer {
            solved.strand = finer.strand(&solved.strand);
        }
        let jumps: Vec<_> = solved.reached.iter().map(|r| r.jump).collect();
        solved.reached = self.again(&mut solved.strand, sweep, seeds, scratch);
        for (reached, jump) in solved.reached.iter_mut().zip(jumps) {
            reached.jump = jump;
        }
        solved.steps += solved.reached.iter().map(|r| r.steps).sum::<usize>();
        solved.measured = self.measure(&solved.strand, sweep, &solved.reached);
    }

    /// By how much the tightest curvature of a span changes, relative to it, when every element is halved: solved
    /// again for the pose in which each span is tightest. The local estimate of [`refine`] does not see errors that
    /// gather along a span and show at one clamp.
    fn change_on_halving(&self, solved: &Solved, sweep: &Sweep, scratch: &mut Scratch) -> f64 {
        let Some(finer) = refine::all_finer(&solved.strand, self.branch.diameter) else {
            return 0.0;
        };
        let fine = finer.strand(&solved.strand);
        let mut worst = 0.0_f64;
        for (pose, spans) in
            refine::tightest_poses(&solved.strand, &solved.reached, &solved.measured)
        {
            let mut state = finer.prolong(&solved.strand, &solved.reached[pose].state);
            let (target, stance) = self.at(&sweep.poses[pose].joints);
            let contacts = self.contacts_around(&fine, &state, &stance, REACH);
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
                let coarse = solved.measured[pose].spans[span].curvature;
                worst = worst.max(refine::change(coarse, halved.spans[span].curvature));
            }
        }
        worst
    }

    /// Cuts the spans into elements: as the solved neighbour is cut, or evenly.
    pub(super) fn strand(
        &self,
        spans: &[Span],
        near: Option<&BranchSolution>,
        settings: &Settings,
    ) -> Strand {
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
        let mut rest = self.rest(strand, state.clone(), sweep, true, scratch);
        if !self.plausible(strand, sweep, &rest) {
            rest = self.rest_through_soft_parts(strand, state, rest, sweep, scratch);
        }
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
        let solved = seeds.into_iter().enumerate().map(|(pose, state)| {
            if pose == sweep.rest {
                return rest.clone();
            }
            let (target, stance) = self.at(&sweep.poses[pose].joints);
            self.relax(strand, state, &target, &stance, false, scratch)
        });
        solved.collect()
    }

    /// Rest: an equilibrium that carries no twist, stable with the twist that the fixings then hold. The
    /// directors at the ends become those that make it so.
    fn rest(
        &mut self,
        strand: &mut Strand,
        mut seed: State,
        sweep: &Sweep,
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        let stance = self.route.machine.stance(&sweep.poses[sweep.rest].joints);
        let mut steps = 0;
        if from_afar || strand.compliance.is_none() {
            self.untwist(strand, &mut seed, &stance);
            let near = self.relax(
                strand,
                seed,
                &self.target(&stance),
                &stance,
                from_afar,
                scratch,
            );
            if strand.compliance.is_none() {
                return near;
            }
            steps = near.steps;
            seed = near.state;
        }
        // An equilibrium without twist that the twist then stabilises will do (a planar loop that would roll out of
        // its plane if it could); failing that, a minimum even without the twist.
        let mut best = None;
        for free in [false, true] {
            let compliance = strand.compliance.take();
            let mut flat = seed.clone();
            (flat.moment, flat.angle) = (0.0, 0.0);
            let target = self.target(&stance);
            let flat = if free {
                self.relax(strand, flat, &target, &stance, true, scratch)
            } else {
                let contacts = self.contacts_around(strand, &flat, &stance, REACH);
                let outcome = newton(
                    strand,
                    &mut flat,
                    &target,
                    contacts.as_ref(),
                    &self.stop,
                    scratch,
                );
                if !outcome.converged {
                    strand.compliance = compliance;
                    steps += outcome.steps;
                    continue;
                }
                Reached::from(flat, outcome)
            };
            strand.compliance = compliance;
            steps += flat.steps;
            let mut state = flat.state;
            self.untwist(strand, &mut state, &stance);
            let contacts = self.contacts_around(strand, &state, &stance, REACH);
            let target = self.target(&stance);
            let prove = Stop {
                prove: true,
                ..self.stop
            };
            let outcome = newton(
                strand,
                &mut state,
                &target,
                contacts.as_ref(),
                &prove,
                scratch,
            );
            steps += outcome.steps;
            let rest = Reached {
                steps,
                ..Reached::from(state, outcome)
            };
            if rest.converged {
                return rest;
            }
            best = Some(rest);
        }
        best.unwrap_or_else(|| Reached::from(seed, Outcome::FAILED))
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
            twist::any_across(&held)
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

    /// One solve with everything tried: straight to equilibrium (unless `from_afar`), else downhill.
    #[allow(
        clippy::too_many_arguments,
        reason = "one solve needs the whole situation"
    )]
    fn relax(
        &self,
        strand: &Strand,
        mut state: State,
        target: &Target,
        stance: &Stance,
        from_afar: bool,
        scratch: &mut Scratch,
    ) -> Reached {
        state.pole = twist::pole(state.nodes.iter().map(|n| n.t), Some(state.pole));
        let before = state.clone();
        let length = strand.at[strand.at.len() - 1] - strand.at[0];
        let mut steps = 0;
        let mut outcome = Outcome::FAILED;
        // The parts nearby are listed once a round; a state that moved beyond the lists needs another.
        for round in 0..3 {
            let afar = from_afar && round == 0;
            let room = if afar { length.max(REACH) } else { REACH };
            let contacts = self.contacts_around(strand, &state, stance, room);
            let start = state.clone();
            if !from_afar || round > 0 {
                outcome = newton(
                    strand,
                    &mut state,
                    target,
                    contacts.as_ref(),
                    &self.stop,
                    scratch,
                );
                steps += outcome.steps;
            }
            if !(outcome.converged && outcome.stable) {
                if !outcome.converged {
                    state = before.clone();
                }
                outcome = settle(
                    strand,
                    &mut state,
                    target,
                    contacts.as_ref(),
                    &self.stop,
                    scratch,
                );
                steps += outcome.steps;
            }
            let pairs = start.nodes.iter().zip(&state.nodes);
            let moved = pairs.map(|(a, b)| (a.r - b.r).norm()).fold(0.0, f64::max);
            if contacts.is_none() || moved < REACH {
                break;
            }
        }
        Reached {
            steps,
            ..Reached::from(state, outcome)
        }
    }

    /// Whether rest was found, and without a kink: a guess that runs through a part may end up caught on both of its
    /// sides.
    fn plausible(&self, strand: &Strand, sweep: &Sweep, rest: &Reached) -> bool {
        let measured = self.measure_one(strand, sweep, sweep.rest, rest);
        let tightest = measured
            .spans
            .iter()
            .map(|s| s.curvature)
            .fold(0.0, f64::max);
        rest.converged && tightest * 0.5 * self.branch.diameter < 1.0
    }

    /// Rest from a guess that runs through parts, with the parts soft at first; `hard` is what was found with them
    /// hard at once, and stays where it lies lower.
    fn rest_through_soft_parts(
        &mut self,
        strand: &mut Strand,
        mut state: State,
        hard: Reached,
        sweep: &Sweep,
        scratch: &mut Scratch,
    ) -> Reached {
        let stance = self.route.machine.stance(&sweep.poses[sweep.rest].joints);
        let full = self.contact;
        self.contact = SOFT_CONTACT;
        while self.contact < full && self.touches(strand, &state, &stance) {
            state = self.rest(strand, state, sweep, true, scratch).state;
            self.contact *= HARDER;
        }
        self.contact = full;
        let soft = self.rest(strand, state, sweep, true, scratch);
        let lies_at = |rest: &Reached| {
            let contacts = self.contacts_around(strand, &rest.state, &stance, REACH);
            strand.energy(&rest.state, &self.target(&stance), contacts.as_ref())
        };
        if hard.converged && (!soft.converged || lies_at(&hard) < lies_at(&soft)) {
            return self.rest(strand, hard.state, sweep, false, scratch);
        }
        soft
    }

    /// Whether any part presses on the strand.
    fn touches(&self, strand: &Strand, state: &State, stance: &Stance) -> bool {
        let contacts = self.contacts_around(strand, state, stance, REACH);
        contacts.is_some_and(|contacts| {
            strand.each(state).any(|(j, element)| {
                contacts.touches(j) && contacts.energy(j, strand.at[j], &element) > 0.0
            })
        })
    }

    /// The contacts of a stance with the parts listed that the strand may meet before it has moved by `room` \[m\].
    pub(super) fn contacts_around(
        &self,
        strand: &Strand,
        state: &State,
        stance: &Stance,
        room: f64,
    ) -> Option<Contacts<'r>> {
        let mut contacts = self.around(stance.clone())?;
        contacts.look_around(strand.each(state).map(|(_, element)| element), room);
        Some(contacts)
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
        let stance = self.route.machine.stance(&sweep.poses[pose].joints);
        let contacts = self.contacts_around(strand, &reached.state, &stance, REACH);
        measure(strand, &reached.state, contacts.as_ref())
    }

    /// The state of this strand in a shape solved before.
    pub(super) fn seed(&self, strand: &Strand, near: &BranchSolution, shape: &Shape) -> State {
        let first = near.spans[self.first].start;
        let knots = shape.curve.knots();
        let start = knots.partition_point(|k| k.at < first - 1e-9);
        // One node stands for the end of a strand and the start of the next; their multipliers stand twice.
        let strands_before = (1..=self.first)
            .filter(|&lay| self.branch.lay[lay].fixing.holds_direction())
            .count();
        let nodes: Vec<Node> = knots
            .iter()
            .skip(start)
            .take(strand.at.len())
            .map(|k| Node {
                r: k.position.coords,
                t: k.slope,
            })
            .collect();
        let spans = self.first..self.first + self.fixings - 1;
        let twist: f64 = shape.spans[spans].iter().map(|s| s.twist).sum();
        let mut state = State {
            end: vec![0.0; nodes.len()],
            middle: vec![0.0; nodes.len().saturating_sub(1)],
            pole: twist::pole(nodes.iter().map(|n| n.t), None),
            nodes,
            moment: strand.compliance.map_or(0.0, |c| twist / c),
            angle: twist,
        };
        let from = 2 * start + strands_before;
        if let Some(known) = shape.multipliers.get(from..from + 2 * strand.at.len() - 1) {
            state.end = known.iter().step_by(2).copied().collect();
            state.middle = known.iter().skip(1).step_by(2).copied().collect();
        } else {
            strand.strain_multipliers(&mut state);
        }
        state
    }
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
