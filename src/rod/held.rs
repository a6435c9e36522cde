//! Where a strand is held, and what that takes out of a step: the positions of its fixings, and where they hold direction all
//! of a slope but its length.

use nalgebra::{UnitVector3, Vector3};

use super::chain::{Chain, Six, dot};
use super::strand::{State, Strand, add};

/// Where the fixings are in one pose.
#[derive(Debug, Clone)]
pub(super) struct Target {
    pub(super) holds: Vec<HeldAt>,
    /// Directors at the start and the end: the same material line where it lies untwisted at rest.
    pub(super) directors: (Vector3<f64>, Vector3<f64>),
}

/// Fixings that differ by less are held alike \[m\].
const ALIKE: f64 = 1e-12;

impl Target {
    /// Whether everything is held as in `other`.
    pub(super) fn is_like(&self, other: &Self) -> bool {
        let holds = self.holds.iter().zip(&other.holds);
        let directors = [
            self.directors.0 - other.directors.0,
            self.directors.1 - other.directors.1,
        ];
        directors.iter().all(|off| off.norm() < ALIKE)
            && holds.into_iter().all(|(a, b)| {
                let turned = match (&a.facing, &b.facing) {
                    (Some(a), Some(b)) => (a.into_inner() - b.into_inner()).norm() < ALIKE,
                    (a, b) => a.is_none() && b.is_none(),
                };
                turned && (a.position - b.position).norm() < ALIKE
            })
    }
}

/// One fixing in one pose.
#[derive(Debug, Clone, Copy)]
pub(super) struct HeldAt {
    pub(super) position: Vector3<f64>,
    pub(super) facing: Option<UnitVector3<f64>>,
}

impl Strand {
    /// Takes the components that the fixings hold out of a vector over the nodes.
    pub(super) fn free(&self, target: &Target, y: &mut [Six]) {
        for (&node, hold) in self.fixings.iter().zip(&target.holds) {
            let y = &mut y[node];
            y[..3].fill(0.0);
            if let Some(facing) = &hold.facing {
                let along = facing.x * y[3] + facing.y * y[4] + facing.z * y[5];
                y[3..].copy_from_slice(&[facing.x * along, facing.y * along, facing.z * along]);
            }
        }
    }

    /// Takes the held components out of the matrix: their rows and columns become those of a unit matrix
    /// scaled like their neighbours.
    pub(super) fn hold(&self, target: &Target, chain: &mut Chain) {
        for (&node, hold) in self.fixings.iter().zip(&target.holds) {
            let facing = hold.facing.map(|f| [f.x, f.y, f.z]);
            let diagonal = &mut chain.diagonal[node];
            let scale = (diagonal[0][0].abs(), diagonal[3][3].abs());
            for column in diagonal.iter_mut() {
                keep_free(column, facing.as_ref());
            }
            transpose(diagonal);
            for column in diagonal.iter_mut() {
                keep_free(column, facing.as_ref());
            }
            for i in 0..3 {
                diagonal[i][i] = scale.0;
            }
            if let Some(f) = facing {
                for i in 0..3 {
                    for k in 0..3 {
                        diagonal[3 + i][3 + k] +=
                            scale.1 * (f64::from(u8::from(i == k)) - f[i] * f[k]);
                    }
                }
            }
            if node > 0 {
                for column in &mut chain.below[node - 1] {
                    keep_free(column, facing.as_ref());
                }
            }
            if let Some(below) = chain.below.get_mut(node) {
                transpose(below);
                for column in below.iter_mut() {
                    keep_free(column, facing.as_ref());
                }
                transpose(below);
            }
        }
    }

    /// Turns slopes round that a wild step turned against their fixing: they are as long as those that run with it, so no
    /// step of the strain would ever bring them back.
    pub(super) fn face(&self, state: &mut State, target: &Target) {
        for (&node, hold) in self.fixings.iter().zip(&target.holds) {
            let t = &mut state.nodes[node].t;
            if let Some(facing) = hold.facing.filter(|facing| facing.dot(t) < 0.0) {
                *t = facing.into_inner() * t.norm();
            }
        }
    }

    /// What the held components still have to move to reach the target.
    pub(super) fn to_go(&self, state: &State, target: &Target, d: &mut Vec<Six>) -> f64 {
        d.clear();
        d.resize(self.at.len(), [0.0; 6]);
        let mut worst = 0.0_f64;
        for (&node, hold) in self.fixings.iter().zip(&target.holds) {
            let here = &state.nodes[node];
            let r = hold.position - here.r;
            let t = hold.facing.map_or_else(Vector3::zeros, |f| {
                f.into_inner() * f.dot(&here.t).max(0.1) - here.t
            });
            add(&mut d[node], &r, &t);
            worst = worst.max(dot(&d[node], &d[node]).sqrt());
        }
        worst
    }
}

#[inline]
fn keep_free(column: &mut Six, facing: Option<&[f64; 3]>) {
    column[..3].fill(0.0);
    if let Some(f) = facing {
        let along = f[0] * column[3] + f[1] * column[4] + f[2] * column[5];
        column[3..].copy_from_slice(&[f[0] * along, f[1] * along, f[2] * along]);
    }
}

#[inline]
fn transpose(block: &mut [Six; 6]) {
    for i in 0..6 {
        for j in 0..i {
            let (a, b) = (block[i][j], block[j][i]);
            block[i][j] = b;
            block[j][i] = a;
        }
    }
}
