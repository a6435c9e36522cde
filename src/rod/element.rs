//! One element: a cubic Hermite piece with bending, tension, twist and weight put together.

use nalgebra::{Matrix3, Vector3};

use super::chain::{Block, Chain};
use super::modes::{Curvatures, GAUSS, Modes};
use super::{bend, tension, twist};

/// What the branch is made of.
#[derive(Debug, Clone, Copy)]
pub(super) struct Material {
    /// EI \[N m²\].
    pub(super) bend: f64,
    /// EA \[N\].
    pub(super) stretch: f64,
    /// Weight \[N/m\], machine frame.
    pub(super) weight: Vector3<f64>,
}

/// A node: position \[m\] and derivative of position by unstretched length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Node {
    pub(super) r: Vector3<f64>,
    pub(super) t: Vector3<f64>,
}

/// The four vectors of an element or the force on each.
pub(super) type Four = [Vector3<f64>; 4];

/// One element with all that its energy depends on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Element {
    /// Unstretched length \[m\].
    pub(super) h: f64,
    /// Position and slope at the start, position and slope at the end.
    pub(super) q: Four,
    /// Multipliers at the start, in the middle and at the end \[N\].
    pub(super) lambda: [f64; 3],
    /// Twisting moment \[N m\]; zero outside stretches held at both ends.
    pub(super) moment: f64,
    /// Direction from which the twist is counted.
    pub(super) pole: Vector3<f64>,
}

impl Element {
    /// The bending stiffness over the square of the stretch, from the multipliers of the step before.
    #[inline(always)]
    fn bend(&self, material: &Material) -> f64 {
        let mean =
            tension::END * (self.lambda[0] + self.lambda[2]) + tension::MIDDLE * self.lambda[1];
        let shrink = tension::shrink_of(mean, material.stretch);
        material.bend * (shrink * shrink)
    }

    /// Chord, bow and swing.
    #[inline(always)]
    pub(super) fn modes(&self) -> Modes {
        Modes::of(&self.q, self.h)
    }

    /// Slope in the middle.
    #[inline(always)]
    pub(super) fn middle_slope(&self) -> Vector3<f64> {
        self.modes().middle()
    }

    /// Strain at the start, in the middle and at the end.
    #[inline(always)]
    pub(super) fn strains(&self) -> [f64; 3] {
        [
            tension::strain(&self.q[1]),
            tension::strain(&self.middle_slope()),
            tension::strain(&self.q[3]),
        ]
    }

    /// First derivative of the energy with the element's own multipliers, but for twist.
    #[inline(always)]
    pub(super) fn force_without_twist(&self, material: &Material) -> Four {
        let h = self.h;
        let modes = self.modes();
        let (bow, swing) = bend::stiffness(self.bend(material), h);
        let mut works = Modes {
            bow: modes.bow * bow,
            swing: modes.swing * swing,
            ..Modes::none()
        };
        works.pull_middle(&(modes.middle() * (tension::MIDDLE * h * self.lambda[1])));
        let mut force = works.onto_ends(h);
        self.pull_ends(&self.lambda, &mut force);
        let (end, turn) = (
            material.weight * (0.5 * h),
            material.weight * (h * h / 12.0),
        );
        force[0] -= end;
        force[1] -= turn;
        force[2] -= end;
        force[3] += turn;
        force
    }

    /// First derivative of the whole energy, with the element's own multipliers.
    #[inline]
    pub(super) fn force(&self, material: &Material) -> Four {
        let mut force = self.force_without_twist(material);
        if self.moment != 0.0 {
            let (_, by) = self.turn();
            for (force, by) in force.iter_mut().zip(&by) {
                *force -= by * self.moment;
            }
        }
        force
    }

    /// The force of tension with multipliers `lambda`.
    #[inline(always)]
    pub(super) fn tension(&self, lambda: &[f64; 3]) -> Four {
        let mut works = Modes::none();
        works.pull_middle(&(self.middle_slope() * (tension::MIDDLE * self.h * lambda[1])));
        let mut force = works.onto_ends(self.h);
        self.pull_ends(lambda, &mut force);
        force
    }

    #[inline(always)]
    fn pull_ends(&self, lambda: &[f64; 3], force: &mut Four) {
        force[1] += self.q[1] * (tension::END * self.h * lambda[0]);
        force[3] += self.q[3] * (tension::END * self.h * lambda[2]);
    }

    /// Bending, tension (at its three places) and weight energy \[J\].
    pub(super) fn energy(&self, material: &Material) -> f64 {
        let bend = self.bend(material);
        let mut energy = bend::energy(bend, self.h, &self.modes());
        let weights = [tension::END, tension::MIDDLE, tension::END];
        for (strain, weight) in self.strains().iter().zip(weights) {
            energy += weight * self.h * tension::energy_of(*strain, material.stretch);
        }
        let mean = (self.q[0] + self.q[2]) * (0.5 * self.h)
            + (self.q[1] - self.q[3]) * (self.h * self.h / 12.0);
        energy - material.weight.dot(&mean)
    }

    /// Derivative of the energy by the element's unstretched length, with its four vectors, multipliers and twisting
    /// moment held \[N\]. At equilibrium nothing else changes the energy to first order.
    pub(super) fn by_length(&self, material: &Material) -> f64 {
        let h = self.h;
        let modes = self.modes();
        let bend = self.bend(material);
        let mut by = bend::by_length(bend, h, &modes);
        let weights = [tension::END, tension::MIDDLE, tension::END];
        for ((strain, lambda), weight) in self.strains().iter().zip(self.lambda).zip(weights) {
            let own = tension::strain_of(lambda, material.stretch);
            by += weight * (lambda * (strain - own) + tension::energy_of(own, material.stretch));
        }
        // The chord, and with it the bow, grows by −chord/h.
        by -= tension::MIDDLE * self.lambda[1] * 1.5 * modes.middle().dot(&modes.chord);
        let mean = (self.q[0] + self.q[2]) * 0.5 + (self.q[1] - self.q[3]) * (h / 6.0);
        by -= material.weight.dot(&mean);
        if self.moment != 0.0 {
            let (mut value, mut grows) = (0.0, 0.0);
            for (sign, (u, w)) in [1.0, -1.0].into_iter().zip(gauss(&modes, h)) {
                let (f, fu, fw) = twist::turn(&self.pole, &u, &w);
                value += f;
                let w_by = w + modes.chord * (sign * GAUSS / h);
                grows -= fu.dot(&modes.chord) + fw.dot(&w_by);
            }
            by -= self.moment * 0.5 * (value + grows);
        }
        by
    }

    /// How far a director turns along the element against the frames counted from the pole, and the
    /// derivative of that.
    #[inline]
    pub(super) fn turn(&self) -> (f64, Four) {
        let h = self.h;
        let half = 0.5 * h;
        let [(u, w), (v, x)] = gauss(&self.modes(), h);
        let (f, fu, fw) = twist::turn(&self.pole, &u, &w);
        let (g, gu, gw) = twist::turn(&self.pole, &v, &x);
        let works = Modes {
            chord: (fu + gu) * half,
            bow: (fw - gw) * (0.5 * GAUSS),
            swing: (fw + gw) * 0.5 + (gu - fu) * (half / GAUSS),
        };
        (half * (f + g), works.onto_ends(h))
    }

    /// Adds the second derivative (with the steps of λ eliminated) at nodes j and j + 1 of a chain that is filled from its
    /// first node on.
    #[inline]
    pub(super) fn put_stiffness(&self, material: &Material, j: usize, chain: &mut Chain) {
        let h = self.h;
        let modes = self.modes();
        let (bow, swing) = bend::stiffness(self.bend(material), h);
        let middle = tension::stiffness(
            tension::MIDDLE * h,
            self.lambda[1],
            material.stretch,
            &modes.middle(),
        );
        let half = middle * 0.5;
        let mut k = Curvatures {
            chord_chord: middle,
            chord_bow: half,
            chord_swing: Matrix3::zeros(),
            bow_bow: half * 0.5,
            bow_swing: Matrix3::zeros(),
            swing_swing: Matrix3::zeros(),
        };
        for i in 0..3 {
            k.bow_bow[(i, i)] += bow;
            k.swing_swing[(i, i)] = swing;
        }
        if self.moment != 0.0 {
            self.add_twist_stiffness(&modes, &mut k);
        }
        let end = tension::END * h;
        let start = tension::stiffness(end, self.lambda[0], material.stretch, &self.q[1]);
        let end = tension::stiffness(end, self.lambda[2], material.stretch, &self.q[3]);
        k.put(h, (&start, &end), j, chain);
    }

    #[inline(always)]
    fn add_twist_stiffness(&self, modes: &Modes, k: &mut Curvatures) {
        let h = self.h;
        let [(u, w), (v, x)] = gauss(modes, h);
        let (f_uu, f_uw) = twist::second(&self.pole, &u, &w);
        let (g_uu, g_uw) = twist::second(&self.pole, &v, &x);
        let scale = -0.5 * h * self.moment;
        // Sum and difference over the two places; by w they have the factor 1/h.
        let (uu, uu_off) = ((f_uu + g_uu) * scale, (f_uu - g_uu) * (scale / GAUSS));
        let scale = -0.5 * self.moment;
        let (uw, uw_off) = ((f_uw + g_uw) * scale, (f_uw - g_uw) * (scale / GAUSS));
        k.chord_chord += uu;
        k.chord_bow += uw_off * (GAUSS * GAUSS);
        k.chord_swing += uw - uu_off;
        k.bow_swing -= uw.transpose();
        k.swing_swing += uu * (1.0 / (GAUSS * GAUSS)) - uw_off - uw_off.transpose();
    }
}

/// Slope and r″ at the two places of Gauss.
#[inline(always)]
pub(super) fn gauss(modes: &Modes, h: f64) -> [(Vector3<f64>, Vector3<f64>); 2] {
    let one = 1.0 / h;
    let (aside, bow) = (modes.swing * (1.0 / GAUSS), modes.bow * (GAUSS * one));
    let swing = modes.swing * one;
    [
        (modes.chord - aside, swing + bow),
        (modes.chord + aside, swing - bow),
    ]
}

/// Weighted sum of an element's four vectors.
#[inline]
pub(super) fn combine(weights: &[f64; 4], q: &Four) -> Vector3<f64> {
    q[0] * weights[0] + q[1] * weights[1] + q[2] * weights[2] + q[3] * weights[3]
}

/// Adds the lower blocks of an element's matrix to the chain.
#[inline]
pub(super) fn scatter(k: &[[Matrix3<f64>; 4]; 4], j: usize, chain: &mut Chain) {
    add_pair(
        &mut chain.diagonal[j],
        &k[0][0],
        &k[1][0],
        &k[1][0].transpose(),
        &k[1][1],
    );
    add_pair(&mut chain.below[j], &k[2][0], &k[3][0], &k[2][1], &k[3][1]);
    add_pair(
        &mut chain.diagonal[j + 1],
        &k[2][2],
        &k[3][2],
        &k[3][2].transpose(),
        &k[3][3],
    );
}

/// Adds four 3 × 3 matrices (upper left, lower left, upper right, lower right) to a block.
#[inline]
fn add_pair(
    block: &mut Block,
    ul: &Matrix3<f64>,
    ll: &Matrix3<f64>,
    ur: &Matrix3<f64>,
    lr: &Matrix3<f64>,
) {
    for c in 0..3 {
        for r in 0..3 {
            block[c][r] += ul[(r, c)];
            block[c][r + 3] += ll[(r, c)];
            block[c + 3][r] += ur[(r, c)];
            block[c + 3][r + 3] += lr[(r, c)];
        }
    }
}
