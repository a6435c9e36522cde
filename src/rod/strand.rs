//! A branch cut into elements: what the solver works on.

use std::borrow::Cow;

use nalgebra::{UnitVector3, Vector3};

use super::chain::{Chain, Six};
use super::contact::{Contacts, Pushed};
use super::element::{Element, Material, Node, scatter};
use super::held::Target;
use super::{tension, twist};

/// The piece of a branch from one fixing that holds direction to the next (or to the branch's end), cut into
/// elements. Nothing passes through such a fixing, so each strand is a problem of its own.
#[derive(Debug, Clone)]
pub(super) struct Strand {
    pub(super) material: Material,
    /// Place of each node along the branch \[m\].
    pub(super) at: Vec<f64>,
    /// Node of each fixing; the first and the last fixing are the strand's ends.
    pub(super) fixings: Vec<usize>,
    /// Length over GJ \[1/(N m)\] where both ends hold direction; otherwise the strand turns freely.
    pub(super) compliance: Option<f64>,
}

/// All unknowns.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct State {
    pub(super) nodes: Vec<Node>,
    /// Multiplier of the strain at each node \[N\].
    pub(super) end: Vec<f64>,
    /// Multiplier of the strain in the middle of each element \[N\].
    pub(super) middle: Vec<f64>,
    /// Twisting moment \[N m\].
    pub(super) moment: f64,
    /// Twist \[rad\] of the last equilibrium. While the next one is looked for, it tells which of the twists that
    /// differ by whole turns is meant; a step on the way there may overshoot, so it does not follow each.
    pub(super) angle: f64,
    /// Direction from which the twist is counted.
    pub(super) pole: UnitVector3<f64>,
    /// For each fixing, by how much more of the branch lies before it than in the strand as cut \[m\]; empty where nothing
    /// slides.
    pub(super) slid: Vec<f64>,
}

impl Strand {
    /// The strand with its nodes where they are along the branch once it has slid through its fixings: each span shares
    /// what it gained or lost evenly.
    pub(super) fn laid(&self, slid: &[f64]) -> Cow<'_, Self> {
        if slid.iter().all(|s| s.abs() <= 0.0) {
            return Cow::Borrowed(self);
        }
        let mut laid = self.clone();
        for (pair, moved) in self.fixings.windows(2).zip(slid.windows(2)) {
            let (from, to) = (self.at[pair[0]], self.at[pair[1]]);
            for j in pair[0]..=pair[1] {
                let u = (self.at[j] - from) / (to - from);
                laid.at[j] = self.at[j] + moved[0] * (1.0 - u) + moved[1] * u;
            }
        }
        laid.compliance = self
            .compliance
            .map(|compliance| compliance * laid.length() / self.length());
        Cow::Owned(laid)
    }

    /// Unstretched length \[m\].
    pub(super) fn length(&self) -> f64 {
        self.at[self.at.len() - 1] - self.at[0]
    }

    pub(super) fn elements(&self) -> usize {
        self.at.len() - 1
    }

    pub(super) fn h(&self, j: usize) -> f64 {
        self.at[j + 1] - self.at[j]
    }

    /// Element `j` in `state`.
    #[inline(always)]
    pub(super) fn element(&self, state: &State, j: usize) -> Element {
        let (a, b) = (&state.nodes[j], &state.nodes[j + 1]);
        Element {
            h: self.h(j),
            q: [a.r, a.t, b.r, b.t],
            lambda: [state.end[j], state.middle[j], state.end[j + 1]],
            moment: state.moment,
            pole: state.pole.into_inner(),
        }
    }

    /// All elements with their index.
    pub(super) fn each<'s>(
        &'s self,
        state: &'s State,
    ) -> impl Iterator<Item = (usize, Element)> + 's {
        (0..self.elements()).map(move |j| (j, self.element(state, j)))
    }

    /// What presses on each element, in their order.
    pub(super) fn pushed(
        &self,
        state: &State,
        contacts: Option<&Contacts<'_>>,
        pushed: &mut Vec<Pushed>,
    ) {
        pushed.clear();
        let Some(contacts) = contacts else { return };
        for (j, element) in self.each(state).filter(|(j, _)| contacts.touches(*j)) {
            pushed.extend(contacts.pushes(j, self.at[j], &element));
        }
    }

    /// First derivative of the energy by each node with the multipliers of `state`, and what is missing to
    /// the force with the multipliers that the strain asks for; `pushed` is what presses there.
    pub(super) fn forces(
        &self,
        state: &State,
        pushed: &[Pushed],
        force: &mut Vec<Six>,
        missing: &mut Vec<Six>,
    ) {
        self.forces_without_twist(state, pushed, force, missing);
        if state.moment != 0.0 {
            for (j, element) in self.each(state) {
                let (_, by) = element.turn();
                let by = by.map(|by| -by * state.moment);
                add(&mut force[j], &by[0], &by[1]);
                add(&mut force[j + 1], &by[2], &by[3]);
            }
        }
    }

    /// As [`Strand::forces`]; gives how far a director turns when carried from end to end, and less the derivative of that
    /// in `gradient`.
    pub(super) fn forces_and_turn(
        &self,
        state: &State,
        pushed: &[Pushed],
        force: &mut Vec<Six>,
        missing: &mut Vec<Six>,
        gradient: &mut Vec<Six>,
    ) -> f64 {
        self.forces_without_twist(state, pushed, force, missing);
        let carried = self.turn_gradient(state, gradient);
        for (force, gradient) in force.iter_mut().zip(gradient.iter()) {
            for (force, gradient) in force.iter_mut().zip(gradient) {
                *force += state.moment * gradient;
            }
        }
        carried
    }

    fn forces_without_twist(
        &self,
        state: &State,
        pushed: &[Pushed],
        force: &mut Vec<Six>,
        missing: &mut Vec<Six>,
    ) {
        let nodes = self.at.len();
        force.clear();
        force.resize(nodes, [0.0; 6]);
        missing.clear();
        missing.resize(nodes, [0.0; 6]);
        let mut pushed = pushed.iter().peekable();
        for (j, element) in self.each(state) {
            let mut own = element.force_without_twist(&self.material);
            while let Some(push) = pushed.next_if(|push| push.element == j) {
                push.add_force(&mut own);
            }
            let strains = element.strains();
            let ea = self.material.stretch;
            let [a, b, c] = element.lambda;
            let gap = [
                tension::growth_for(strains[0], a, ea),
                tension::growth_for(strains[1], b, ea),
                tension::growth_for(strains[2], c, ea),
            ];
            let rest = element.tension(&gap);
            add(&mut force[j], &own[0], &own[1]);
            add(&mut force[j + 1], &own[2], &own[3]);
            add(&mut missing[j], &rest[0], &rest[1]);
            add(&mut missing[j + 1], &rest[2], &rest[3]);
        }
    }

    /// What is missing to the force of `state` with the multipliers that its strain asks for, where slopes and moduli are
    /// those of the state `at`.
    pub(super) fn missing_from(&self, at: &State, state: &State, missing: &mut Vec<Six>) {
        let ea = self.material.stretch;
        missing.clear();
        missing.resize(self.at.len(), [0.0; 6]);
        for (j, element) in self.each(state) {
            let there = self.element(at, j);
            let strains = element.strains();
            let gap: [f64; 3] = std::array::from_fn(|i| {
                let off = strains[i] - tension::strain_of(element.lambda[i], ea);
                tension::modulus(there.lambda[i], ea) * off
            });
            let rest = there.tension(&gap);
            add(&mut missing[j], &rest[0], &rest[1]);
            add(&mut missing[j + 1], &rest[2], &rest[3]);
        }
    }

    /// Greatest difference between the strain and that which its multiplier makes.
    pub(super) fn strain_gap(&self, state: &State) -> f64 {
        let mut worst = 0.0_f64;
        for (_, element) in self.each(state) {
            for (strain, lambda) in element.strains().iter().zip(element.lambda) {
                worst =
                    worst.max((strain - tension::strain_of(lambda, self.material.stretch)).abs());
            }
        }
        worst
    }

    /// Second derivative of the energy, the steps of the multipliers eliminated; `pushed` is what presses there.
    pub(super) fn stiffness(&self, state: &State, pushed: &[Pushed], chain: &mut Chain) {
        chain.begin(self.at.len());
        let mut pushed = pushed.iter().peekable();
        for (j, element) in self.each(state) {
            element.put_stiffness(&self.material, j, chain);
            if pushed.peek().is_some_and(|push| push.element == j) {
                let mut k = [[nalgebra::Matrix3::zeros(); 4]; 4];
                while let Some(push) = pushed.next_if(|push| push.element == j) {
                    push.add_stiffness(&mut k);
                }
                scatter(&k, j, chain);
            }
        }
    }

    /// Energy with the tension taken from the strain, the twist from the angle \[J\].
    pub(super) fn energy(
        &self,
        state: &State,
        target: &Target,
        contacts: Option<&Contacts<'_>>,
    ) -> f64 {
        let mut energy = 0.0;
        for (j, element) in self.each(state) {
            energy += element.energy(&self.material);
            if let Some(contacts) = contacts.filter(|c| c.touches(j)) {
                energy += contacts.energy(j, self.at[j], &element);
            }
        }
        if let Some(compliance) = self.compliance {
            let angle = self.twist_angle(state, target);
            energy += 0.5 * angle * angle / compliance;
        }
        energy
    }

    /// Twist between the ends \[rad\]; of all its values 2π apart the one nearest to the state's own.
    pub(super) fn twist_angle(&self, state: &State, target: &Target) -> f64 {
        self.twist_angle_from(self.carried(state), state, target)
    }

    /// The same, where it is known how far a director turns when carried along.
    pub(super) fn twist_angle_from(&self, carried: f64, state: &State, target: &Target) -> f64 {
        let raw = self.end_angle(state, target) - carried;
        let turns = ((state.angle - raw) / std::f64::consts::TAU).round();
        raw + turns * std::f64::consts::TAU
    }

    /// Angle of the end director against the start director, each against the frame counted from the pole.
    fn end_angle(&self, state: &State, target: &Target) -> f64 {
        let against = |end: usize, director: &Vector3<f64>| {
            let held = target.holds[end].facing;
            let t = held
                .unwrap_or_else(|| UnitVector3::new_normalize(state.nodes[self.fixings[end]].t));
            twist::angle_about(&t, &twist::reference_director(&state.pole, &t), director)
        };
        against(self.fixings.len() - 1, &target.directors.1) - against(0, &target.directors.0)
    }

    /// The director at the end that makes the twist zero in this state.
    pub(super) fn untwisted_end(&self, state: &State, target: &Target) -> Vector3<f64> {
        let missing = self.twist_angle(state, target);
        let t = state.nodes[self.at.len() - 1].t;
        nalgebra::Rotation3::from_axis_angle(&UnitVector3::new_normalize(t), -missing)
            * target.directors.1
    }

    /// How far a director turns when carried from end to end without twist, against the frames counted from
    /// the pole.
    pub(super) fn carried(&self, state: &State) -> f64 {
        self.each(state).map(|(_, element)| element.turn().0).sum()
    }

    /// Derivative of the twist by each node.
    pub(super) fn twist_gradient(&self, state: &State, gradient: &mut Vec<Six>) {
        self.turn_gradient(state, gradient);
    }

    fn turn_gradient(&self, state: &State, gradient: &mut Vec<Six>) -> f64 {
        gradient.clear();
        gradient.resize(self.at.len(), [0.0; 6]);
        let mut carried = 0.0;
        for (j, element) in self.each(state) {
            let (value, by) = element.turn();
            carried += value;
            add(&mut gradient[j], &-by[0], &-by[1]);
            add(&mut gradient[j + 1], &-by[2], &-by[3]);
        }
        carried
    }

    /// How far below zero a pivot (of a position, of a slope) may be and still belong to a motion that costs
    /// nothing: a branch between clamps in line turns freely about its chord. A ten-thousandth of the pivot of its
    /// softest bending.
    pub(super) fn neutral(&self) -> (f64, f64) {
        let length = self.at[self.at.len() - 1] - self.at[0];
        let bend = self.material.bend;
        (0.05 * bend / length.powi(3), 0.005 * bend / length)
    }

    /// Multipliers that belong to the strain of a state.
    pub(super) fn strain_multipliers(&self, state: &mut State) {
        for j in 0..self.elements() {
            let strains = self.element(state, j).strains();
            state.middle[j] = tension::multiplier_of(strains[1], self.material.stretch);
        }
        for (end, node) in state.end.iter_mut().zip(&state.nodes) {
            *end = tension::multiplier_of(tension::strain(&node.t), self.material.stretch);
        }
    }
}

/// Adds a pair of vectors to the six numbers of a node.
#[inline]
pub(super) fn add(six: &mut Six, r: &Vector3<f64>, t: &Vector3<f64>) {
    for i in 0..3 {
        six[i] += r[i];
        six[i + 3] += t[i];
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// A straight strand along x with a clamp at either end, of so many equal elements, and its state without strain.
    pub(in super::super) fn clamped(length: f64, elements: usize) -> (Strand, State) {
        let part = |j: usize| {
            length * super::super::piece::number(j) / super::super::piece::number(elements)
        };
        let at: Vec<f64> = (0..=elements).map(part).collect();
        let nodes = at.iter().map(|x| Node {
            r: Vector3::x() * *x,
            t: Vector3::x(),
        });
        let state = State {
            nodes: nodes.collect(),
            end: vec![0.0; elements + 1],
            middle: vec![0.0; elements],
            moment: 0.0,
            angle: 0.0,
            pole: Vector3::x_axis(),
            slid: Vec::new(),
        };
        let strand = Strand {
            material: Material {
                bend: 1.0,
                stretch: 2e4,
                weight: Vector3::new(0.0, 0.0, -50.0),
            },
            fixings: vec![0, elements],
            at,
            compliance: Some(length / 10.0),
        };
        (strand, state)
    }
}
