//! One element: a cubic Hermite piece with bending, tension, twist and weight put together.

use nalgebra::{Matrix3, Vector3};

use super::chain::{Block, Chain};
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
    /// Square of the stretch, from the multipliers of the step before.
    #[inline]
    fn stretch_squared(&self, stretch: f64) -> f64 {
        let mean =
            tension::END * (self.lambda[0] + self.lambda[2]) + tension::MIDDLE * self.lambda[1];
        tension::stretch_of(mean, stretch).powi(2)
    }

    /// Slope in the middle.
    #[inline]
    pub(super) fn middle_slope(&self) -> Vector3<f64> {
        combine(&tension::middle(self.h), &self.q)
    }

    /// Strain at the start, in the middle and at the end.
    #[inline]
    pub(super) fn strains(&self) -> [f64; 3] {
        [
            tension::strain(&self.q[1]),
            tension::strain(&self.middle_slope()),
            tension::strain(&self.q[3]),
        ]
    }

    /// First derivative of bending and weight energy.
    #[inline]
    fn force_of_bending(&self, material: &Material) -> Four {
        let h = self.h;
        let bend = bend::stiffness(material.bend / self.stretch_squared(material.stretch), h);
        let mut force: Four = std::array::from_fn(|a| combine(&bend[a], &self.q));
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

    /// First derivative of the energy with the element's own multipliers, but for twist.
    #[inline]
    pub(super) fn force_without_twist(&self, material: &Material) -> Four {
        let mut force = self.force_of_bending(material);
        self.add_tension(&self.lambda, &mut force);
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

    /// Adds the force of tension with multipliers `lambda`.
    #[inline]
    pub(super) fn add_tension(&self, lambda: &[f64; 3], force: &mut Four) {
        force[1] += self.q[1] * (tension::END * self.h * lambda[0]);
        force[3] += self.q[3] * (tension::END * self.h * lambda[2]);
        let pull = self.middle_slope() * (tension::MIDDLE * self.h * lambda[1]);
        for (force, c) in force.iter_mut().zip(tension::middle(self.h)) {
            *force += pull * c;
        }
    }

    /// Bending, tension (at its three places) and weight energy \[J\].
    pub(super) fn energy(&self, material: &Material) -> f64 {
        let bend = bend::stiffness(
            material.bend / self.stretch_squared(material.stretch),
            self.h,
        );
        let mut energy = 0.0;
        for (row, q) in bend.iter().zip(&self.q) {
            energy += 0.5 * q.dot(&combine(row, &self.q));
        }
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
        let bend = bend::by_length(material.bend / self.stretch_squared(material.stretch), h);
        let mut by = 0.0;
        for (row, q) in bend.iter().zip(&self.q) {
            by += 0.5 * q.dot(&combine(row, &self.q));
        }
        let weights = [tension::END, tension::MIDDLE, tension::END];
        for ((strain, lambda), weight) in self.strains().iter().zip(self.lambda).zip(weights) {
            let own = tension::strain_of(lambda, material.stretch);
            by += weight * (lambda * (strain - own) + tension::energy_of(own, material.stretch));
        }
        let chord = self.q[2] - self.q[0];
        let slope_by = chord * (-1.5 / (h * h));
        by += tension::MIDDLE * h * self.lambda[1] * self.middle_slope().dot(&slope_by);
        let mean = (self.q[0] + self.q[2]) * 0.5 + (self.q[1] - self.q[3]) * (h / 6.0);
        by -= material.weight.dot(&mean);
        if self.moment != 0.0 {
            for xi in twist::GAUSS {
                let (first, second) = twist::slopes(h, xi);
                let (first_by, second_by) = twist::slopes_by_length(h, xi);
                let (f, fu, fw) = twist::turn(
                    &self.pole,
                    &combine(&first, &self.q),
                    &combine(&second, &self.q),
                );
                let (u, w) = (combine(&first_by, &self.q), combine(&second_by, &self.q));
                by -= self.moment * 0.5 * (f + h * (fu.dot(&u) + fw.dot(&w)));
            }
        }
        by
    }

    /// How far a director turns along the element against the frames counted from the pole, and the
    /// derivative of that.
    #[inline]
    pub(super) fn turn(&self) -> (f64, Four) {
        let mut value = 0.0;
        let mut by = [Vector3::zeros(); 4];
        for xi in twist::GAUSS {
            let (first, second) = twist::slopes(self.h, xi);
            let (f, fu, fw) = twist::turn(
                &self.pole,
                &combine(&first, &self.q),
                &combine(&second, &self.q),
            );
            value += 0.5 * self.h * f;
            for (a, by) in by.iter_mut().enumerate() {
                *by += (fu * first[a] + fw * second[a]) * (0.5 * self.h);
            }
        }
        (value, by)
    }

    /// Adds the second derivative (with the steps of λ eliminated) at nodes j and j + 1.
    ///
    /// Moving both positions together changes nothing, so the blocks of the end's position are those of the start's with
    /// the sign turned; six blocks make the whole.
    #[inline]
    pub(super) fn add_stiffness(&self, material: &Material, j: usize, chain: &mut Chain) {
        let h = self.h;
        let bend = bend::stiffness(material.bend / self.stretch_squared(material.stretch), h);
        let c = tension::middle(h);
        let weight = tension::MIDDLE * h;
        let slope = self.middle_slope();
        let pull = slope
            * slope.transpose()
            * (weight * tension::modulus(self.lambda[1], material.stretch));
        // λ c cᵀ has the shape of the bending matrix: one scalar for all three axes.
        let along = weight * self.lambda[1];
        let block = |a: usize, b: usize| {
            let by = c[a] * c[b];
            let mut block = pull * by;
            let own = bend[a][b] + along * by;
            for i in 0..3 {
                block[(i, i)] += own;
            }
            block
        };
        let mut k = Six3 {
            rr: block(0, 0),
            tr: block(1, 0),
            tt: block(1, 1),
            ur: block(3, 0),
            ut: block(3, 1),
            uu: block(3, 3),
        };
        let end = tension::END * h;
        k.tt += tension::stiffness(end, self.lambda[0], material.stretch, &self.q[1]);
        k.uu += tension::stiffness(end, self.lambda[2], material.stretch, &self.q[3]);
        if self.moment != 0.0 {
            self.add_twist_stiffness(&mut k);
        }
        k.scatter(j, chain);
    }

    #[inline]
    fn add_twist_stiffness(&self, k: &mut Six3) {
        for xi in twist::GAUSS {
            let (n, m) = twist::slopes(self.h, xi);
            let (by_uu, by_uw) =
                twist::second(&self.pole, &combine(&n, &self.q), &combine(&m, &self.q));
            let scale = -0.5 * self.h * self.moment;
            let (uu, uw) = (by_uu * scale, by_uw * scale);
            let wu = uw.transpose();
            // Columns of n nᵀ uu + n mᵀ uw + m nᵀ wu, without the factors of the row.
            let column = |b: usize| (uu * n[b] + uw * m[b], wu * n[b]);
            let (r, t, u) = (column(0), column(1), column(3));
            let block = |a: usize, of: &(Matrix3<f64>, Matrix3<f64>)| of.0 * n[a] + of.1 * m[a];
            k.rr += block(0, &r);
            k.tr += block(1, &r);
            k.ur += block(3, &r);
            k.tt += block(1, &t);
            k.ut += block(3, &t);
            k.uu += block(3, &u);
        }
    }
}

/// The blocks of an element's matrix that make the others: r and t at the start, u the slope at the end.
struct Six3 {
    rr: Matrix3<f64>,
    tr: Matrix3<f64>,
    tt: Matrix3<f64>,
    ur: Matrix3<f64>,
    ut: Matrix3<f64>,
    uu: Matrix3<f64>,
}

impl Six3 {
    #[inline]
    fn scatter(&self, j: usize, chain: &mut Chain) {
        let here = &mut chain.diagonal[j];
        for c in 0..3 {
            for r in 0..3 {
                here[c][r] += self.rr[(r, c)];
                here[c][r + 3] += self.tr[(r, c)];
                here[c + 3][r] += self.tr[(c, r)];
                here[c + 3][r + 3] += self.tt[(r, c)];
            }
        }
        let below = &mut chain.below[j];
        for c in 0..3 {
            for r in 0..3 {
                below[c][r] -= self.rr[(r, c)];
                below[c][r + 3] += self.ur[(r, c)];
                below[c + 3][r] -= self.tr[(c, r)];
                below[c + 3][r + 3] += self.ut[(r, c)];
            }
        }
        let next = &mut chain.diagonal[j + 1];
        for c in 0..3 {
            for r in 0..3 {
                next[c][r] += self.rr[(r, c)];
                next[c][r + 3] -= self.ur[(r, c)];
                next[c + 3][r] -= self.ur[(c, r)];
                next[c + 3][r + 3] += self.uu[(r, c)];
            }
        }
    }
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
