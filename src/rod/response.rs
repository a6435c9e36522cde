//! How a strand answers when its ends are moved a little or length slides through a hole: what the balance of several
//! strands is solved with.
//!
//! A strand in equilibrium depends on where its ends are held and on how long its spans are, and on nothing else. What it
//! asks of them, forces and moments at the ends and the pull along a span, is the derivative of its energy by them; the
//! derivative of that in turn is the Schur complement of the strand's own unknowns. Both come from the factorisation that
//! a Newton step makes anyway, with one more right-hand side for each way in which an end may move.

use super::chain::Six;
use super::contact::Contacts;
use super::held::Target;
use super::measure::end_holds;
use super::newton::{self, Scratch};
use super::solution::Hold;
use super::step;
use super::strand::{State, Strand};

/// What a strand asks of its surroundings.
#[derive(Debug, Clone)]
pub(super) struct Asks {
    /// What the first and the last fixing do to the strand.
    pub(super) holds: [Hold; 2],
    /// For each fixing, the derivative of the energy by the length that slides through it toward the span before \[N\];
    /// empty where nothing slides.
    pub(super) pulls: Vec<f64>,
}

/// One small change of what holds the strand.
#[derive(Debug, Clone)]
pub(super) struct Change {
    pub(super) target: Target,
    pub(super) slid: Vec<f64>,
}

/// The answer to some changes.
#[derive(Debug)]
pub(super) struct Response {
    /// Whether the strand alone is at a minimum of its energy.
    pub(super) stable: bool,
    /// The Newton step of the strand by itself, and what it asks after that.
    pub(super) polish: Follows,
    pub(super) asks: Asks,
    /// What it asks after each change, to first order, and how it follows.
    pub(super) changed: Vec<(Asks, Follows)>,
}

/// How the unknowns of a strand follow a change of what holds it.
#[derive(Debug, Clone)]
pub(super) struct Follows {
    pub(super) nodes: Vec<Six>,
    pub(super) moment: f64,
}

impl Follows {
    /// Nothing moves.
    pub(super) fn still(nodes: usize) -> Self {
        Self {
            nodes: vec![[0.0; 6]; nodes],
            moment: 0.0,
        }
    }

    /// So many times it.
    pub(super) fn times(mut self, times: f64) -> Self {
        self.nodes.iter_mut().flatten().for_each(|x| *x *= times);
        self.moment *= times;
        self
    }

    /// Adds `times` another.
    pub(super) fn add(&mut self, other: &Self, times: f64) {
        for (sum, own) in self.nodes.iter_mut().zip(&other.nodes) {
            for (sum, own) in sum.iter_mut().zip(own) {
                *sum += times * own;
            }
        }
        self.moment += times * other.moment;
    }
}

/// Forces and moments at the ends, and the pull along each span where anything slides.
pub(super) fn asks(strand: &Strand, state: &State, contacts: Option<&Contacts<'_>>) -> Asks {
    let laid = strand.laid(&state.slid);
    let holds = end_holds(&laid, state, contacts);
    let mut pulls = Vec::new();
    if !state.slid.is_empty() {
        let spans = strand.fixings.len() - 1;
        let of_spans: Vec<[f64; 2]> = (0..spans)
            .map(|span| laid.pulls(state, contacts, span))
            .collect();
        pulls = (0..=spans)
            .map(|fixing| {
                let before = fixing.checked_sub(1).map_or(0.0, |span| of_spans[span][1]);
                of_spans.get(fixing).map_or(0.0, |after| after[0]) - before
            })
            .collect();
    }
    Asks { holds, pulls }
}

/// One Newton step of `state` toward equilibrium at `target`, and the answer to each of `changes`, to first order.
pub(super) fn response(
    strand: &Strand,
    state: &State,
    target: &Target,
    contacts: Option<&Contacts<'_>>,
    changes: &[Change],
    scratch: &mut Scratch,
) -> Response {
    let laid = strand.laid(&state.slid);
    let carried = laid.compliance.map_or(0.0, |_| laid.carried(state));
    let mut sides = Vec::with_capacity(changes.len() + 1);
    let mut sides_of = |changed: &Strand, target: &Target, scratch: &mut Scratch, fresh: bool| {
        changed.to_go(state, target, &mut scratch.to_go);
        let gap = if fresh {
            newton::forces(changed, state, target, contacts, scratch)
        } else {
            changed.compliance.map_or(0.0, |compliance| {
                changed.twist_angle_from(carried, state, target) - compliance * state.moment
            })
        };
        step::right_side(&laid, target, scratch);
        let gap = gap + step::ahead(&laid, scratch);
        sides.push((gap, scratch.step.clone(), scratch.to_go.clone()));
    };
    // Those that slide first: their forces are not those of the strand as it is, which come last and stay.
    laid.pushed(state, contacts, &mut scratch.pushed);
    laid.stiffness(state, &scratch.pushed, &mut scratch.chain);
    for change in changes.iter().filter(|change| change.slid != state.slid) {
        sides_of(&strand.laid(&change.slid), &change.target, scratch, true);
    }
    sides_of(&laid, target, scratch, true);
    for change in changes.iter().filter(|change| change.slid == state.slid) {
        sides_of(&laid, &change.target, scratch, false);
    }
    let held = step::hold(&laid, target, scratch);
    let mut answers = sides.into_iter().map(|(gap, side, to_go)| {
        scratch.step = side;
        scratch.to_go = to_go;
        let moment = step::finish(&held, gap, scratch);
        (scratch.step.clone(), moment)
    });
    let mut moved = state.clone();
    let mut answer = |change: Option<&Change>| -> Option<(Asks, Follows)> {
        let (nodes, moment) = answers.next()?;
        if state.slid.is_empty() {
            // What it asks is seen at its ends.
            step::apply_at_ends(&laid, state, &mut moved, &nodes, moment);
        } else {
            moved.clone_from(state);
            if let Some(change) = change {
                moved.slid.clone_from(&change.slid);
            }
            step::apply(&strand.laid(&moved.slid), &mut moved, &nodes, moment);
        }
        let asks = asks(strand, &moved, contacts);
        Some((asks, Follows { nodes, moment }))
    };
    let mut changed: Vec<Option<(Asks, Follows)>> = vec![None; changes.len()];
    let slides = |change: &Change| change.slid != state.slid;
    for (change, own) in changes.iter().zip(&mut changed) {
        if slides(change) {
            *own = answer(Some(change));
        }
    }
    let polished = answer(None);
    for (change, own) in changes.iter().zip(&mut changed) {
        if !slides(change) {
            *own = answer(Some(change));
        }
    }
    let (asks, polish) = polished.unwrap_or_else(|| {
        let asks = asks(strand, state, contacts);
        (asks, Follows::still(state.nodes.len()))
    });
    // Each change was answered together with the polish.
    for (_, follows) in changed.iter_mut().flatten() {
        follows.add(&polish, -1.0);
    }
    Response {
        stable: held.stable,
        polish,
        asks,
        changed: changed.into_iter().flatten().collect(),
    }
}
