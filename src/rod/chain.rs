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
    /// Sets the size, keeping memory; nothing is in it yet but for the first node's block, which is zero.
    pub(super) fn begin(&mut self, nodes: usize) {
        self.diagonal.resize(nodes, ZERO);
        self.below.resize(nodes.saturating_sub(1), ZERO);
        if let Some(first) = self.diagonal.first_mut() {
            *first = ZERO;
        }
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
                rest = self.diagonal[j + 1];
                eliminate(below, lower, &inverse, &mut factor.link[j], &mut rest);
            }
        }
    }
}

impl Factor {
    /// Solves K x = y in place, for several right-hand sides in one pass over the factor.
    pub(super) fn solve<const N: usize>(&self, mut ys: [&mut [Six]; N]) {
        let nodes = self.lower.len();
        for j in 0..nodes {
            for y in &mut ys {
                let mut here = y[j];
                if j > 0 {
                    subtract(&self.link[j - 1], &y[j - 1], &mut here);
                }
                let lower = &self.lower[j];
                for k in 0..5_usize {
                    let pivot = here[k];
                    // What the pair has above the row after k is zero in `lower`.
                    for pair in k.div_ceil(2)..3 {
                        less(&mut here, pair, pivot, two(&lower[k], pair));
                    }
                }
                y[j] = here;
            }
        }
        for j in (0..nodes).rev() {
            for y in &mut ys {
                let mut here = y[j];
                for k in 0..6 {
                    here[k] *= self.inverse[j][k];
                }
                if j + 1 < nodes {
                    for k in 0..6 {
                        here[k] -= dot(&self.link[j][k], &y[j + 1]);
                    }
                }
                let lower = &self.lower[j];
                for k in (0..5).rev() {
                    for r in k + 1..6 {
                        here[k] -= lower[k][r] * here[r];
                    }
                }
                y[j] = here;
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
    let mut pivot = Pivot {
        block,
        original,
        negative,
        lower,
        inverse: &mut inverse,
    };
    pivot.take::<0>(slack.0);
    pivot.take::<1>(slack.0);
    pivot.take::<2>(slack.0);
    pivot.take::<3>(slack.1);
    pivot.take::<4>(slack.1);
    pivot.take::<5>(slack.1);
    inverse
}

/// The pivots of one block, one after the other. Each is known when this is compiled, so that its columns stay in registers.
struct Pivot<'b> {
    block: &'b mut Block,
    original: &'b Block,
    negative: &'b mut usize,
    lower: &'b mut Block,
    inverse: &'b mut Six,
}

impl Pivot<'_> {
    #[inline(always)]
    fn take<const K: usize>(&mut self, slack: f64) {
        let column = self.block[K];
        let mut pivot = column[K];
        if pivot.abs() < f64::MIN_POSITIVE {
            pivot = f64::MIN_POSITIVE;
        }
        let least = -slack.max(ROUNDING * self.original[K][K].abs());
        *self.negative += usize::from(pivot < least);
        let inverse = 1.0 / pivot;
        self.inverse[K] = inverse;
        for c in K + 1..6 {
            let factor = column[c] * inverse;
            self.lower[K][c] = factor;
            // Only the lower triangle is ever read.
            for pair in c / 2..3 {
                less(&mut self.block[c], pair, factor, two(&column, pair));
            }
        }
    }
}

/// V Lᵀ = C for the block below, then link = V D⁻¹ and rest −= link Vᵀ: two rows of V at a time, which stay in registers.
#[inline(always)]
fn eliminate(below: &Block, lower: &Block, inverse: &Six, link: &mut Block, rest: &mut Block) {
    let mut v = [[[0.0; 2]; 6]; 3];
    for pair in 0..3 {
        for k in 0..6 {
            let mut x = two(&below[k], pair);
            for m in 0..k {
                let [a, b] = v[pair][m];
                x = [x[0] - lower[m][k] * a, x[1] - lower[m][k] * b];
            }
            v[pair][k] = x;
            link[k][2 * pair] = x[0] * inverse[k];
            link[k][2 * pair + 1] = x[1] * inverse[k];
        }
    }
    for c in 0..6 {
        // Only the lower triangle is ever read.
        for pair in c / 2..3 {
            let mut x = two(&rest[c], pair);
            for k in 0..6 {
                let [a, b] = v[pair][k];
                x = [x[0] - link[k][c] * a, x[1] - link[k][c] * b];
            }
            rest[c][2 * pair] = x[0];
            rest[c][2 * pair + 1] = x[1];
        }
    }
}

/// Two rows of a column.
#[inline(always)]
fn two(column: &Six, pair: usize) -> [f64; 2] {
    [column[2 * pair], column[2 * pair + 1]]
}

#[inline(always)]
fn less(column: &mut Six, pair: usize, factor: f64, [a, b]: [f64; 2]) {
    column[2 * pair] -= factor * a;
    column[2 * pair + 1] -= factor * b;
}

#[inline(always)]
fn subtract(block: &Block, x: &Six, y: &mut Six) {
    for k in 0..6 {
        for pair in 0..3 {
            less(y, pair, x[k], two(&block[k], pair));
        }
    }
}

/// Dot product of two node vectors.
#[inline(always)]
pub(super) fn dot(a: &Six, b: &Six) -> f64 {
    let even = a[0] * b[0] + a[2] * b[2] + a[4] * b[4];
    let odd = a[1] * b[1] + a[3] * b[3] + a[5] * b[5];
    even + odd
}
