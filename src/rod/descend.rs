//! Going downhill in energy, for starts that are far from equilibrium: the first guess, and a branch that
//! snaps over.
//!
//! Newton's method on the energy with the tension taken from the strain, the matrix shifted until it is
//! positive definite, and a backtracking line search. The stretch begins soft and hardens, so that the
//! length comes right while the shape still finds its way.

use nalgebra::{UnitVector3, Vector3};

use super::chain::{Six, dot};
use super::contact::Contacts;
use super::held::Target;
use super::newton::{Outcome, Scratch, Stop, newton, relative_force};
use super::strand::{State, Strand};
use super::twist::across;

/// EA L²/EI of the first, softest level, and the factor from one level to the next.
const SOFTEST: f64 = 2e3;
const HARDER: f64 = 20.0;

/// From a level that is not the last, equilibrium counts as found where so much of what is allowed is left: from the last one
/// the shape is so near that no less comes out.
const WELL: f64 = 1e-2;

/// Most steps on one level. Levels are left early once the forces are small.
const STEPS: usize = 400;

/// Goes downhill from `state`, then finishes with [`newton`]; falls off saddles, to sides that the machine's `axes` tell.
pub(super) fn settle(
    strand: &Strand,
    state: &mut State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    (stop, axes): (&Stop, &[Vector3<f64>; 3]),
    scratch: &mut Scratch,
) -> Outcome {
    let mut steps = 0;
    let mut last = None;
    for attempt in 0..3 {
        if stop.halt.asked() || scratch.patience.is_lost() {
            break;
        }
        if attempt > 0 {
            nudge(strand, state, attempt, axes);
        }
        let (taken, found) = descend(strand, state, target, contacts, stop, scratch);
        steps += taken;
        if let Some(found) = found {
            return Outcome { steps, ..found };
        }
        // A slope that went over on the way down is turned back: what is not found is left as it lies here.
        strand.face(state, target);
        let lowest = state.clone();
        let mut outcome = newton(strand, state, target, contacts, stop, scratch);
        steps += outcome.steps;
        if !outcome.converged {
            // Full steps that led nowhere may have led far away; what lies lowest is kept, with its own residual.
            *state = lowest;
            strand.pushed(state, contacts, &mut scratch.pushed);
            let (force, missing) = (&mut scratch.force, &mut scratch.missing);
            strand.forces(state, &scratch.pushed, force, missing);
            strand.free(target, &mut scratch.force);
            outcome.residual = relative_force(strand, &scratch.force);
        }
        let outcome = Outcome { steps, ..outcome };
        if outcome.converged && outcome.stable {
            return outcome;
        }
        last = Some(outcome);
    }
    last.unwrap_or(Outcome {
        converged: false,
        stable: false,
        steps,
        residual: f64::INFINITY,
    })
}

/// Pushes a state off a saddle: a small bulge to one side.
fn nudge(strand: &Strand, state: &mut State, attempt: usize, axes: &[Vector3<f64>; 3]) {
    let last = strand.at.len() - 1;
    let chord = state.nodes[last].r - state.nodes[0].r;
    let along = UnitVector3::try_new(chord, 0.0).unwrap_or(UnitVector3::new_unchecked(axes[0]));
    let first = across(&along, axes);
    let side = if attempt == 1 {
        first
    } else {
        // A cross product is not mirrored with its factors.
        let hand = axes[0].cross(&axes[1]).dot(&axes[2]).signum();
        along.cross(&first) * hand
    };
    bulge(strand, state, (0, last), &side, 0.01 * strand.length());
}

/// Moves what lies between two nodes to one side, by `far` \[m\] in the middle, the two and their directions staying.
pub(super) fn bulge(
    strand: &Strand,
    state: &mut State,
    (first, last): (usize, usize),
    side: &Vector3<f64>,
    far: f64,
) {
    let (start, length) = (strand.at[first], strand.at[last] - strand.at[first]);
    let nodes = first..=last;
    for (node, at) in state.nodes[nodes.clone()].iter_mut().zip(&strand.at[nodes]) {
        let u = std::f64::consts::PI * (at - start) / length;
        node.r += side * (far * u.sin().powi(2));
        node.t += side * (far * std::f64::consts::PI / length * (2.0 * u).sin());
    }
}

/// Goes downhill level by level; gives the number of steps, and what was found where a level led straight to equilibrium.
fn descend(
    strand: &Strand,
    state: &mut State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    stop: &Stop,
    scratch: &mut Scratch,
) -> (usize, Option<Outcome>) {
    let length = strand.at[strand.at.len() - 1] - strand.at[0];
    let mut soft = strand.clone();
    let softest = SOFTEST * strand.material.bend / (length * length);
    soft.material.stretch = strand.material.stretch.min(softest);
    let well = Stop {
        residual: WELL * stop.residual,
        strain_gap: WELL * stop.strain_gap,
        ..*stop
    };
    put_on_target(&soft, state, target, scratch);
    let mut steps = 0;
    loop {
        let last = soft.material.stretch >= strand.material.stretch;
        steps += level(
            &soft,
            state,
            target,
            contacts,
            if last { 1e-3 } else { 1e-2 },
            scratch,
        );
        if last {
            return (steps, None);
        }
        // Newton's method does not mind how stiff a strand is in tension, once its shape is about right.
        if soft.material.stretch > softest {
            let mut there = state.clone();
            let outcome = newton(strand, &mut there, target, contacts, &well, scratch);
            steps += outcome.steps;
            if outcome.converged && outcome.stable {
                *state = there;
                return (steps, Some(outcome));
            }
        }
        soft.material.stretch = strand.material.stretch.min(HARDER * soft.material.stretch);
    }
}

/// Moves the held components to the target at once.
fn put_on_target(strand: &Strand, state: &mut State, target: &Target, scratch: &mut Scratch) {
    strand.to_go(state, target, &mut scratch.to_go);
    let to_go = std::mem::take(&mut scratch.to_go);
    shift(state, &to_go, 1.0);
    scratch.to_go = to_go;
}

fn shift(state: &mut State, step: &[Six], by: f64) {
    for (node, step) in state.nodes.iter_mut().zip(step) {
        for i in 0..3 {
            node.r[i] += by * step[i];
            node.t[i] += by * step[i + 3];
        }
    }
}

/// Minimises the energy at one stretching stiffness until the forces are below `residual`.
fn level(
    strand: &Strand,
    state: &mut State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    residual: f64,
    scratch: &mut Scratch,
) -> usize {
    let length = strand.at[strand.at.len() - 1] - strand.at[0];
    let mut damping = 0.0;
    for taken in 0..STEPS {
        if scratch.patience.is_lost() {
            return taken;
        }
        strand.strain_multipliers(state);
        if let Some(compliance) = strand.compliance {
            state.moment = strand.twist_angle(state, target) / compliance;
        }
        strand.pushed(state, contacts, &mut scratch.pushed);
        let (force, missing) = (&mut scratch.force, &mut scratch.missing);
        strand.forces(state, &scratch.pushed, force, missing);
        let mut gradient = std::mem::take(&mut scratch.force);
        strand.free(target, &mut gradient);
        let small = relative_force(strand, &gradient) < residual;
        let stepped = !small
            && downhill(
                strand,
                state,
                target,
                contacts,
                &gradient,
                &mut damping,
                length,
                scratch,
            );
        scratch.force = gradient;
        if !stepped {
            return taken;
        }
    }
    STEPS
}

/// One damped Newton step; false where no step lowers the energy.
#[allow(
    clippy::too_many_arguments,
    reason = "one step of one loop; a struct would only rename the arguments"
)]
fn downhill(
    strand: &Strand,
    state: &mut State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    gradient: &[Six],
    damping: &mut f64,
    length: f64,
    scratch: &mut Scratch,
) -> bool {
    let scale = strand.material.bend / length.powi(3);
    let pressed = scratch.pushed.len();
    scratch.patience.glance(strand.elements(), pressed);
    let energy = strand.energy(state, target, contacts);
    strand.stiffness(state, &scratch.pushed, &mut scratch.undamped);
    for _ in 0..24 {
        scratch.patience.search(strand.elements());
        scratch.chain.copy_from(&scratch.undamped);
        for (j, block) in scratch.chain.diagonal.iter_mut().enumerate() {
            let h = strand.h(j.min(strand.elements() - 1));
            for i in 0..3 {
                block[i][i] += *damping * scale * h / length;
                block[i + 3][i + 3] += *damping * scale * h.powi(3) / length;
            }
        }
        strand.hold(target, &mut scratch.chain);
        scratch
            .chain
            .factorise(strand.neutral(), &mut scratch.factor);
        if scratch.factor.negative > 0 {
            *damping = (*damping * 4.0).max(100.0);
            continue;
        }
        for (step, gradient) in resized(&mut scratch.step, gradient.len())
            .iter_mut()
            .zip(gradient)
        {
            *step = gradient.map(|g| -g);
        }
        scratch.factor.solve([&mut scratch.step]);
        add_border(strand, state, target, scratch);
        let slope: f64 = gradient
            .iter()
            .zip(&scratch.step)
            .map(|(g, s)| dot(g, s))
            .sum();
        let longest = scratch
            .step
            .iter()
            .map(|s| s[..3].iter().map(|x| x * x).sum::<f64>().sqrt())
            .fold(0.0, f64::max);
        if !slope.is_finite() || slope >= 0.0 {
            return false;
        }
        // Beside parts no step may be so long that it leaps over one.
        let most = contacts.map_or(0.25 * length, |c| c.radius.min(0.25 * length));
        let mut by = (most / longest).min(1.0);
        let before = state.nodes.clone();
        for _ in 0..12 {
            let step = std::mem::take(&mut scratch.step);
            shift(state, &step, by);
            scratch.step = step;
            scratch.patience.glance(strand.elements(), pressed);
            let now = strand.energy(state, target, contacts);
            if now <= energy + 1e-4 * by * slope {
                *damping = if by > 0.5 {
                    *damping * 0.25
                } else {
                    *damping * 2.0
                };
                if *damping < 1.0 {
                    *damping = 0.0;
                }
                return true;
            }
            state.nodes.clone_from(&before);
            by *= 0.4;
        }
        *damping = (*damping * 10.0).max(100.0);
        if *damping > 1e12 {
            return false;
        }
    }
    false
}

fn resized(six: &mut Vec<Six>, len: usize) -> &mut Vec<Six> {
    six.clear();
    six.resize(len, [0.0; 6]);
    six
}

/// The stiffness of twist is a rank-one term: Sherman–Morrison.
fn add_border(strand: &Strand, state: &State, target: &Target, scratch: &mut Scratch) {
    let Some(compliance) = strand.compliance else {
        return;
    };
    strand.twist_gradient(state, &mut scratch.gradient);
    strand.free(target, &mut scratch.gradient);
    scratch.border.solved.clone_from(&scratch.gradient);
    scratch.factor.solve([&mut scratch.border.solved]);
    let along = |y: &[Six]| {
        scratch
            .gradient
            .iter()
            .zip(y)
            .map(|(g, y)| dot(g, y))
            .sum::<f64>()
    };
    let by = along(&scratch.step) / (compliance + along(&scratch.border.solved));
    for (step, border) in scratch.step.iter_mut().zip(&scratch.border.solved) {
        for (step, border) in step.iter_mut().zip(border) {
            *step -= by * border;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::held::HeldAt;
    use super::super::patience::Patience;
    use super::super::strand::tests::clamped;
    use super::*;

    /// A strand of a hair's length drawn out to hundreds of times that is never found; however early it is given up, what
    /// runs through its fixings runs the way they face.
    #[test]
    fn what_is_given_up_runs_with_its_fixings() {
        let axes = [Vector3::x(), Vector3::y(), Vector3::z()];
        let mut lost = 0;
        for far in [0.3, 3.0, 30.0, 300.0] {
            for turned in [0.0, 1.0, 2.0, 3.0, 3.1] {
                let length = 7e-5;
                let (strand, mut from) = clamped(length, 6);
                let facing = Vector3::new(f64::cos(turned), f64::sin(turned), 0.1);
                let target = Target {
                    holds: vec![
                        HeldAt {
                            position: Vector3::zeros(),
                            facing: Some(Vector3::x_axis()),
                        },
                        HeldAt {
                            position: Vector3::new(far * length, 0.1 * length, 0.0),
                            facing: Some(UnitVector3::new_normalize(facing)),
                        },
                    ],
                    directors: (Vector3::z(), Vector3::z()),
                };
                from.pole = UnitVector3::new_normalize(Vector3::new(0.1, 0.2, 1.0));
                for steps in 1..60 {
                    let mut state = from.clone();
                    let mut scratch = Scratch {
                        patience: Patience::of_steps(f64::from(steps) * 6.0),
                        ..Scratch::default()
                    };
                    let (stop, axes) = (&Stop::FINE, &axes);
                    let outcome = settle(
                        &strand,
                        &mut state,
                        &target,
                        None,
                        (stop, axes),
                        &mut scratch,
                    );
                    lost += u32::from(!outcome.converged);
                    for (&node, hold) in strand.fixings.iter().zip(&target.holds) {
                        let along = hold.facing.map_or(0.0, |f| f.dot(&state.nodes[node].t));
                        assert!(along >= 0.0, "{far} {turned} {steps}: {along}");
                    }
                }
            }
        }
        assert!(lost > 1000, "{lost} of 1180 were given up");
    }
}
