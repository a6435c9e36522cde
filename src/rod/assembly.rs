//! A symmetric matrix of small blocks, one row of blocks for each breakout and each hole that the harness slides through,
//! and its solution.
//!
//! Two of them share a block where a strand runs between them. A harness is a tree, or nearly, so eliminating whatever has
//! the fewest neighbours first makes no new blocks (few where it is not), and the cost grows linearly with their number.

use std::collections::{BTreeMap, BTreeSet};

use nalgebra::{DMatrix, DVector, SymmetricEigen};

/// The matrix and the right-hand side: second and first derivatives of the energy.
#[derive(Debug, Clone)]
pub(super) struct Assembly {
    diagonal: Vec<DMatrix<f64>>,
    /// Blocks below the diagonal: rows of the greater index, columns of the lesser.
    below: BTreeMap<(usize, usize), DMatrix<f64>>,
    pub(super) gradient: Vec<DVector<f64>>,
}

/// A step against the gradient.
#[derive(Debug)]
pub(super) struct Descent {
    pub(super) step: Vec<DVector<f64>>,
    /// How many eigenvalues of the matrix are negative.
    pub(super) negative: usize,
}

impl Assembly {
    /// Zero, with rows of these sizes.
    pub(super) fn new(sizes: &[usize]) -> Self {
        Self {
            diagonal: sizes.iter().map(|&n| DMatrix::zeros(n, n)).collect(),
            below: BTreeMap::new(),
            gradient: sizes.iter().map(|&n| DVector::zeros(n)).collect(),
        }
    }

    /// Sets the gradient to zero.
    pub(super) fn forget_gradient(&mut self) {
        for gradient in &mut self.gradient {
            gradient.fill(0.0);
        }
    }

    /// Adds to the entry in row `row.1` of block row `row.0` and column `column.1` of block column `column.0`. Both halves
    /// of a pair are to be added; their mean is taken.
    pub(super) fn add(&mut self, row: (usize, usize), column: (usize, usize), value: f64) {
        if row.0 == column.0 {
            let block = &mut self.diagonal[row.0];
            block[(row.1, column.1)] += 0.5 * value;
            block[(column.1, row.1)] += 0.5 * value;
            return;
        }
        let (high, low) = if row.0 > column.0 {
            (row, column)
        } else {
            (column, row)
        };
        let size = (self.diagonal[high.0].nrows(), self.diagonal[low.0].nrows());
        let block = self
            .below
            .entry((high.0, low.0))
            .or_insert_with(|| DMatrix::zeros(size.0, size.1));
        block[(high.1, low.1)] += 0.5 * value;
    }

    /// The Newton step with `shift` added to the diagonal. An eigenvalue of a pivot that is not farther from zero than
    /// `neutral` belongs to a motion that costs nothing: the step has no part in it.
    pub(super) fn descent(&self, shift: f64, neutral: f64) -> Descent {
        let rows = self.diagonal.len();
        let mut diagonal = self.diagonal.clone();
        for block in &mut diagonal {
            for i in 0..block.nrows() {
                block[(i, i)] += shift;
            }
        }
        let mut links: Vec<BTreeMap<usize, DMatrix<f64>>> = vec![BTreeMap::new(); rows];
        for (&(high, low), block) in &self.below {
            links[low].insert(high, block.clone());
            links[high].insert(low, block.transpose());
        }
        let mut right: Vec<DVector<f64>> = self.gradient.iter().map(|g| -g).collect();
        let mut open: BTreeSet<(usize, usize)> = links
            .iter()
            .enumerate()
            .map(|(i, l)| (l.len(), i))
            .collect();
        let mut done = Vec::new();
        let mut negative = 0;
        while let Some((_, i)) = open.pop_first() {
            let (inverse, below_zero) = inverse(&diagonal[i], neutral);
            negative += below_zero;
            let neighbours = std::mem::take(&mut links[i]);
            for &a in neighbours.keys() {
                open.remove(&(links[a].len(), a));
                links[a].remove(&i);
            }
            for (&a, to_a) in &neighbours {
                let by = to_a * &inverse;
                right[a] = &right[a] - &by * &right[i];
                for (&b, to_b) in &neighbours {
                    let fill = &by * to_b.transpose();
                    if a == b {
                        diagonal[a] -= fill;
                    } else {
                        // links[b][a] has the rows of a.
                        links[b]
                            .entry(a)
                            .and_modify(|block| *block -= &fill)
                            .or_insert_with(|| -fill);
                    }
                }
            }
            for &a in neighbours.keys() {
                open.insert((links[a].len(), a));
            }
            done.push((i, inverse, neighbours));
        }
        let mut step: Vec<DVector<f64>> = right.iter().map(|r| DVector::zeros(r.len())).collect();
        for (i, inverse, neighbours) in done.iter().rev() {
            let mut rest = right[*i].clone();
            for (&a, to_a) in neighbours {
                rest -= to_a.transpose() * &step[a];
            }
            step[*i] = inverse * rest;
        }
        Descent { step, negative }
    }
}

/// Inverse of a symmetric block and its number of negative eigenvalues.
fn inverse(block: &DMatrix<f64>, neutral: f64) -> (DMatrix<f64>, usize) {
    if block.iter().any(|x| !x.is_finite()) {
        return (DMatrix::zeros(block.nrows(), block.ncols()), 1);
    }
    let eigen = SymmetricEigen::new(block.clone());
    let mut negative = 0;
    let mut inverse = DMatrix::zeros(block.nrows(), block.ncols());
    for (value, vector) in eigen
        .eigenvalues
        .iter()
        .zip(eigen.eigenvectors.column_iter())
    {
        if value.abs() <= neutral {
            continue;
        }
        negative += usize::from(*value < 0.0);
        inverse += vector * vector.transpose() / *value;
    }
    (inverse, negative)
}
