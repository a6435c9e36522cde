//! Newton's method on all unknowns at once: nodes, multipliers, twisting moment.
//!
//! The multipliers are eliminated element by element and the twisting moment by a border, so that one step costs one
//! factorisation of a chain. The force on the right-hand side takes the tension from the strain while the
//! matrix takes it from the multipliers: that is Newton's step of the mixed problem, and why the number of
//! steps does not depend on EA.

use super::chain::{Chain, Factor, Six};
use super::contact::{Contacts, Pushed};
use super::halt::Halt;
use super::held::Target;
use super::patience::Patience;
use super::step::{self, Border};
use super::strand::{State, Strand};

/// When to stop. Forces are relative to EI/L² with L the strand's length.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stop {
    /// Greatest force left on a free component.
    pub(super) residual: f64,
    /// Greatest difference between the strain and that which its multiplier makes.
    pub(super) strain_gap: f64,
    /// How far a fixing may be from where it is to be \[m\].
    pub(super) place: f64,
    /// Greatest difference between the twist and that which its moment makes \[rad\].
    pub(super) twist: f64,
    /// Most steps.
    pub(super) steps: usize,
    /// Whether a state that needs no step must still be shown to be a minimum.
    pub(super) prove: bool,
    /// Whether to leave off at once, with nothing found.
    pub(super) halt: Halt,
}

impl Stop {
    /// Fine enough for curvatures that are right to `accuracy`: how they are come by may change them by some hundredth of it.
    pub(super) fn for_accuracy(accuracy: f64) -> Self {
        Self {
            residual: (2e-3 * accuracy).clamp(1e-9, 1e-5),
            ..Self::FINE
        }
    }

    /// That of the default accuracy: what is left changes the shape by less than a part per million.
    pub(super) const FINE: Self = Self {
        residual: 2e-7,
        strain_gap: 1e-8,
        place: 1e-12,
        twist: 1e-9,
        steps: 14,
        prove: true,
        halt: Halt::NEVER,
    };

    /// For a route that differs little from a solved one: what did not move stays as it was.
    pub(super) const NEAR: Self = Self {
        residual: 1e-4,
        strain_gap: 1e-7,
        prove: false,
        ..Self::FINE
    };
}

/// How it ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Outcome {
    pub(super) converged: bool,
    /// Whether the last matrix was positive definite: the state is a minimum of the energy.
    pub(super) stable: bool,
    pub(super) steps: usize,
    pub(super) residual: f64,
}

impl Outcome {
    /// Nothing was looked for yet: what the outcomes of several strands are added to.
    pub(super) const NONE: Self = Self {
        converged: true,
        stable: true,
        steps: 0,
        residual: 0.0,
    };

    /// Adds the outcome of one strand to that of several.
    pub(super) fn add(&mut self, other: &Self) {
        self.converged &= other.converged;
        self.stable &= other.stable;
        self.steps += other.steps;
        self.residual = self.residual.max(other.residual);
    }

    /// Nothing was found.
    pub(super) const FAILED: Self = Self {
        converged: false,
        stable: false,
        steps: 0,
        residual: f64::INFINITY,
    };
}

/// Memory that is used again in every step.
#[derive(Debug, Default)]
pub(super) struct Scratch {
    pub(super) chain: Chain,
    /// The matrix before it is damped, where it is.
    pub(super) undamped: Chain,
    pub(super) factor: Factor,
    pub(super) force: Vec<Six>,
    pub(super) missing: Vec<Six>,
    pub(super) to_go: Vec<Six>,
    pub(super) step: Vec<Six>,
    pub(super) gradient: Vec<Six>,
    pub(super) border: Border,
    /// What presses on the strand where its forces were last worked out.
    pub(super) pushed: Vec<Pushed>,
    /// What work may still be done.
    pub(super) patience: Patience,
}

/// Brings `state` to equilibrium at `target`, starting from where it is.
pub(super) fn newton(
    strand: &Strand,
    state: &mut State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    stop: &Stop,
    scratch: &mut Scratch,
) -> Outcome {
    let mut outcome = Outcome {
        converged: false,
        stable: true,
        steps: 0,
        residual: f64::INFINITY,
    };
    let mut known_stable = !stop.prove;
    // The last step, and the state and what was left before it.
    let mut last: Option<Taken> = None;
    let mut rough_before = false;
    loop {
        let Look {
            gap,
            residual,
            settled,
            rough,
        } = look(strand, state, target, contacts, stop, scratch);
        let settled = settled || (rough && rough_before);
        rough_before = rough;
        outcome.residual = residual;
        if stop.halt.asked() {
            return outcome;
        }
        if settled && known_stable {
            outcome.converged = true;
            state.angle = state.moment * strand.compliance.unwrap_or(0.0);
            return outcome;
        }
        if let Some(taken) = &mut last
            && (!residual.is_finite() || residual > WILD * taken.left.max(1.0))
            && taken.part > SHORTEST
        {
            taken.part *= SHORTER;
            state.clone_from(&taken.from);
            taken.again(strand, state);
            continue;
        }
        if !residual.is_finite() {
            // From what is not a number nothing leads back; where the step began is left.
            if let Some(taken) = last {
                (*state, outcome.residual) = (taken.from, taken.left);
            }
            return outcome;
        }
        if outcome.steps == stop.steps || scratch.patience.is_done() {
            return outcome;
        }
        scratch
            .patience
            .step(strand.elements(), scratch.pushed.len());
        strand.stiffness(state, &scratch.pushed, &mut scratch.chain);
        let (stable, moment) = step::solve(strand, target, gap, scratch);
        outcome.stable = stable;
        if settled {
            // The state was an equilibrium already; the factorisation only told whether it is a minimum.
            outcome.converged = true;
            state.angle = state.moment * strand.compliance.unwrap_or(0.0);
            return outcome;
        }
        known_stable = true;
        outcome.steps += 1;
        let taken = match &mut last {
            Some(taken) => {
                taken.from.clone_from(state);
                taken
            }
            None => last.insert(Taken::from(state)),
        };
        std::mem::swap(&mut taken.step, &mut scratch.step);
        (taken.moment, taken.left, taken.part) = (moment, residual, 1.0);
        step::apply(strand, state, &taken.step, moment);
    }
}

/// A step taken, or a part of it.
struct Taken {
    from: State,
    step: Vec<Six>,
    moment: f64,
    /// What was left before it.
    left: f64,
    part: f64,
}

impl Taken {
    fn from(state: &State) -> Self {
        Self {
            from: state.clone(),
            step: Vec::new(),
            moment: 0.0,
            left: 0.0,
            part: 1.0,
        }
    }

    /// Takes the part of the step that is left of it.
    fn again(&self, strand: &Strand, state: &mut State) {
        let step: Vec<Six> = self.step.iter().map(|s| s.map(|x| self.part * x)).collect();
        step::apply(strand, state, &step, self.part * self.moment);
    }
}

/// A step after which this many times more is left than before (and than EI/L²) ran into a part that it did not see: it is
/// made shorter by this factor, until this part of it is left.
pub(super) const WILD: f64 = 30.0;
const SHORTER: f64 = 0.4;
const SHORTEST: f64 = 0.02;

/// How far a state is from equilibrium.
#[derive(Debug, Clone, Copy)]
pub(super) struct Look {
    /// The twist less what the twisting moment makes \[rad\].
    pub(super) gap: f64,
    /// Greatest force on a free component, relative to EI/L².
    pub(super) residual: f64,
    /// Whether it is near enough.
    pub(super) settled: bool,
    /// Whether it is as near as positions can tell. A step from there that leads there again was the last that is any use.
    pub(super) rough: bool,
}

/// Looks how far a state is from equilibrium; its forces, and what its fixings have to go, are left in `scratch`.
pub(super) fn look(
    strand: &Strand,
    state: &mut State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    stop: &Stop,
    scratch: &mut Scratch,
) -> Look {
    strand.face(state, target);
    let far = strand.to_go(state, target, &mut scratch.to_go);
    let gap = forces(strand, state, target, contacts, scratch);
    scratch.step.clone_from(&scratch.force);
    strand.free(target, &mut scratch.step);
    let residual = relative_force(strand, &scratch.step);
    let still = far < stop.place && gap.abs() < stop.twist;
    let enough = stop.residual.max(rounding(strand));
    let still = still && strand.strain_gap(state) < stop.strain_gap;
    let settled = still && residual < enough;
    Look {
        gap,
        residual,
        settled,
        rough: settled
            || (still && residual < roughest(strand).min(rounding(strand) * grain(strand, state))),
    }
}

/// The force, relative to EI/L², that rounding of the strain alone leaves in a very stiff and limp strand.
fn rounding(strand: &Strand) -> f64 {
    let length = strand.length();
    4.0 * f64::EPSILON * strand.material.stretch * length * length / strand.material.bend
}

/// Where more is left than this, relative to EI/L², nothing rests, whatever positions can tell: a hundred-millionth of the
/// weight, or where that is less than a ten-thousandth of EI/L², so much.
fn roughest(strand: &Strand) -> f64 {
    let length = strand.length();
    let material = &strand.material;
    (1e-8 * material.weight.norm() * length.powi(3) / material.bend).max(1e-4)
}

/// What is left of a strand between two parts, 9 m away, was up to twice what the strain alone explains.
const ADDED: f64 = 8.0;

/// How many times as much rounding of positions may leave: a strain is the difference of two of them over the length of an
/// element, and a machine may stand far from where its places are counted from. What presses, and the matrix, add theirs.
fn grain(strand: &Strand, state: &State) -> f64 {
    let shortest = (0..strand.elements())
        .map(|j| strand.h(j))
        .fold(f64::INFINITY, f64::min);
    let farthest = state
        .nodes
        .iter()
        .map(|node| node.r.amax())
        .fold(0.0, f64::max);
    ADDED * farthest / shortest
}

/// Forces, what presses, and the gradient of the twist, into `scratch`; gives the twist less what the twisting moment makes \[rad\].
pub(super) fn forces(
    strand: &Strand,
    state: &State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    scratch: &mut Scratch,
) -> f64 {
    strand.pushed(state, contacts, &mut scratch.pushed);
    let (force, missing) = (&mut scratch.force, &mut scratch.missing);
    let Some(compliance) = strand.compliance else {
        strand.forces(state, &scratch.pushed, force, missing);
        return 0.0;
    };
    let gradient = &mut scratch.gradient;
    let carried = strand.forces_and_turn(state, &scratch.pushed, force, missing, gradient);
    strand.twist_angle_from(carried, state, target) - compliance * state.moment
}

/// Greatest force relative to EI/L²; forces on slopes count by L.
pub(super) fn relative_force(strand: &Strand, force: &[Six]) -> f64 {
    let length = strand.at[strand.at.len() - 1] - strand.at[0];
    let unit = strand.material.bend / (length * length);
    // `f64::max` would lose what is not a number.
    if force.iter().flatten().any(|x| !x.is_finite()) {
        return f64::NAN;
    }
    let mut worst = 0.0_f64;
    for f in force {
        let (r, t) = f.split_at(3);
        let greatest = |x: &[f64]| x.iter().fold(0.0_f64, |m, x| m.max(x.abs()));
        worst = worst.max(greatest(r)).max(greatest(t) / length);
    }
    worst / unit
}
