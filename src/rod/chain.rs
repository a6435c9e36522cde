//! A symmetric block-tridiagonal matrix with 6 × 6 blocks, one a node, and its L D Lᵀ factorisation.
//!
//! The cost of factorising and of solving grows linearly with the number of nodes. No pivoting: where the
//! matrix is positive definite none is needed, and where it is not the signs of the pivots still count its
//! negative eigenvalues (Sylvester's law of inertia), which tells a minimum from a saddle.

/// Six numbers of one node: position, then slope.
pub(super) type Six = [f64; 6];

/// One block, by columns: `block[column][row]`, so that inner loops run down columns.
pub(super) type Block = [Six; 6];

/// A zero block.
pub(super) const ZERO: Block = [[0.0; 6]; 6];

/// The matrix: `diagonal[j]` couples node j with itself, `below[j]` has the rows of node j + 1 and the
/// columns of node j.
#[derive(Debug, Clone, Default)]
pub(super) struct Chain {
    pub(super) diagonal: Vec<Block>,
    pub(super) below: Vec<Block>,
}

/// K = L D Lᵀ.
#[derive(Debug, Clone, Default)]
pub(super) struct Factor {
    /// Unit lower triangle inside each diagonal block.
    lower: Vec<Block>,
    /// Inverse pivots.
    inverse: Vec<Six>,
    /// Rows of node j + 1 of L, columns of node j.
    link: Vec<Block>,
    /// Number of negative pivots.
    pub(super) negative: usize,
}

impl Chain {
    /// Sets the size and all entries to zero, keeping memory.
    pub(super) fn reset(&mut self, nodes: usize) {
        self.diagonal.clear();
        self.diagonal.resize(nodes, ZERO);
        self.below.clear();
        self.below.resize(nodes.saturating_sub(1), ZERO);
    }

    /// Becomes a copy, keeping memory.
    pub(super) fn copy_from(&mut self, other: &Self) {
        self.diagonal.clone_from(&other.diagonal);
        self.below.clone_from(&other.below);
    }

    /// `y −= K d` where only the nodes in `at` have a part in d.
    pub(super) fn subtract_product(&self, at: &[usize], d: &[Six], y: &mut [Six]) {
        for &j in at {
            subtract(&self.diagonal[j], &d[j], &mut y[j]);
            if j + 1 < d.len() {
                subtract(&self.below[j], &d[j], &mut y[j + 1]);
            }
            if j > 0 {
                for (column, y) in self.below[j - 1].iter().zip(&mut y[j - 1]) {
                    *y -= dot(column, &d[j]);
                }
            }
        }
    }

    /// Factorises into `factor`, reusing its memory. Pivots count as negative below −`slack` (for positions and
    /// for slopes).
    pub(super) fn factorise(&self, slack: (f64, f64), factor: &mut Factor) {
        let nodes = self.diagonal.len();
        factor.lower.resize(nodes, ZERO);
        factor.inverse.resize(nodes, [0.0; 6]);
        factor.link.resize(nodes.saturating_sub(1), ZERO);
        factor.negative = 0;
        let mut rest = self.diagonal.first().copied().unwrap_or(ZERO);
        for j in 0..nodes {
            let lower = &mut factor.lower[j];
            let inverse = ldl(
                &mut rest,
                &self.diagonal[j],
                slack,
                &mut factor.negative,
                lower,
            );
            factor.inverse[j] = inverse;
            if let Some(below) = self.below.get(j) {
                // V Lᵀ = C column by column, then link = V D⁻¹ and rest = next − link Vᵀ.
                let mut v = *below;
                for k in 1..6 {
                    let (done, open) = v.split_at_mut(k);
                    for (m, column) in done.iter().enumerate() {
                        axpy(-lower[m][k], column, &mut open[0]);
                    }
                }
                let link = &mut factor.link[j];
                for ((column, v), inverse) in link.iter_mut().zip(&v).zip(inverse) {
                    for (x, v) in column.iter_mut().zip(v) {
                        *x = v * inverse;
                    }
                }
                rest = self.diagonal[j + 1];
                for (v, link) in v.iter().zip(link.iter()) {
                    let [a, b, c, d, e, f] = &mut rest;
                    axpy(-link[0], v, a);
                    axpy(-link[1], v, b);
                    // Only the lower triangle is ever read.
                    axpy_from::<2>(-link[2], v, c);
                    axpy_from::<2>(-link[3], v, d);
                    axpy_from::<4>(-link[4], v, e);
                    axpy_from::<4>(-link[5], v, f);
                }
            }
        }
    }
}

impl Factor {
    /// Solves K x = y in place.
    pub(super) fn solve(&self, y: &mut [Six]) {
        let nodes = self.lower.len();
        for j in 0..nodes {
            if j > 0 {
                let (before, here) = y.split_at_mut(j);
                subtract(&self.link[j - 1], &before[j - 1], &mut here[0]);
            }
            let y = &mut y[j];
            for k in 0..5 {
                let pivot = y[k];
                for r in k + 1..6 {
                    y[r] -= self.lower[j][k][r] * pivot;
                }
            }
        }
        for j in (0..nodes).rev() {
            let (here, after) = y.split_at_mut(j + 1);
            let y = &mut here[j];
            for (y, inverse) in y.iter_mut().zip(&self.inverse[j]) {
                *y *= inverse;
            }
            if let Some(next) = after.first() {
                for (column, y) in self.link[j].iter().zip(y.iter_mut()) {
                    *y -= dot(column, next);
                }
            }
            for k in (0..5).rev() {
                let mut sum = y[k];
                for r in k + 1..6 {
                    sum -= self.lower[j][k][r] * y[r];
                }
                y[k] = sum;
            }
        }
    }
}

/// Rounding of a pivot relative to the diagonal that it came from.
const ROUNDING: f64 = 1e-13;

/// L D Lᵀ of one block, which is used up; counts negative pivots. A pivot of exactly zero is nudged: the matrix
/// is singular there, and the step along it is decided by rounding anyway.
#[inline]
fn ldl(
    block: &mut Block,
    original: &Block,
    slack: (f64, f64),
    negative: &mut usize,
    lower: &mut Block,
) -> Six {
    let mut inverse = [0.0; 6];
    for k in 0..6 {
        let mut pivot = block[k][k];
        if pivot.abs() < f64::MIN_POSITIVE {
            pivot = f64::MIN_POSITIVE;
        }
        let slack = if k < 3 { slack.0 } else { slack.1 };
        *negative += usize::from(pivot < -slack.max(ROUNDING * original[k][k].abs()));
        inverse[k] = 1.0 / pivot;
        let column = block[k];
        for r in k + 1..6 {
            lower[k][r] = column[r] * inverse[k];
        }
        for c in k + 1..6 {
            axpy(-lower[k][c], &column, &mut block[c]);
        }
    }
    inverse
}

#[inline]
fn axpy(factor: f64, x: &Six, y: &mut Six) {
    for (y, x) in y.iter_mut().zip(x) {
        *y += factor * x;
    }
}

/// The same, in the rows from `FROM` on.
#[inline]
fn axpy_from<const FROM: usize>(factor: f64, x: &Six, y: &mut Six) {
    for r in FROM..6 {
        y[r] += factor * x[r];
    }
}

#[inline]
fn subtract(block: &Block, x: &Six, y: &mut Six) {
    for (column, x) in block.iter().zip(x) {
        axpy(-x, column, y);
    }
}

/// Dot product of two node vectors.
#[inline]
pub(super) fn dot(a: &Six, b: &Six) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}
