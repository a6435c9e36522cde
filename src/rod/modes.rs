//! An element's modes: the chord, the bow and the swing of its curve.
//!
//! A cubic Hermite piece that is moved as a whole stays what it is, so that what bends, stretches and twists it hangs on three
//! vectors alone: the chord c = (r₂ − r₁)/h, the bow b = c − (t₁ + t₂)/2, and the swing s = t₂ − t₁, with r the positions and
//! t the slopes at its ends. In them r″ is (s + 6 b (1 − 2ξ))/h, the slope in the middle c + b/2, and at the two places of
//! Gauss the slope is c ∓ s/(2√3) and r″ is (s ± 2√3 b)/h.

use nalgebra::{Matrix3, Vector3};

use super::chain::{Block, Chain, ZERO};
use super::element::Four;

/// 2√3; the places of Gauss lie a half and less 1/(2√3) along the element.
pub(super) const GAUSS: f64 = 3.464_101_615_137_754_6;

/// The three, or what works on each of them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Modes {
    pub(super) chord: Vector3<f64>,
    pub(super) bow: Vector3<f64>,
    pub(super) swing: Vector3<f64>,
}

impl Modes {
    /// Nothing works on any of them.
    pub(super) const fn none() -> Self {
        let zero = Vector3::new(0.0, 0.0, 0.0);
        Self {
            chord: zero,
            bow: zero,
            swing: zero,
        }
    }

    /// Those of an element of length `h` \[m\].
    #[inline(always)]
    pub(super) fn of(q: &Four, h: f64) -> Self {
        let chord = (q[2] - q[0]) * (1.0 / h);
        Self {
            chord,
            bow: chord - (q[1] + q[3]) * 0.5,
            swing: q[3] - q[1],
        }
    }

    /// The slope in the middle.
    #[inline(always)]
    pub(super) fn middle(&self) -> Vector3<f64> {
        self.chord + self.bow * 0.5
    }

    /// A force on the slope in the middle is one on these.
    #[inline(always)]
    pub(super) fn pull_middle(&mut self, force: &Vector3<f64>) {
        self.chord += force;
        self.bow += force * 0.5;
    }

    /// What works on the modes as what works on the positions and slopes at both ends.
    #[inline(always)]
    pub(super) fn onto_ends(&self, h: f64) -> Four {
        let r = (self.chord + self.bow) * (1.0 / h);
        let t = self.bow * 0.5;
        [-r, -(t + self.swing), r, self.swing - t]
    }
}

/// Second derivatives by the modes. Both by the bow, and both by the swing, are symmetric.
#[derive(Debug, Clone, Copy)]
pub(super) struct Curvatures {
    pub(super) chord_chord: Matrix3<f64>,
    /// Rows of the chord, columns of the bow.
    pub(super) chord_bow: Matrix3<f64>,
    pub(super) chord_swing: Matrix3<f64>,
    pub(super) bow_bow: Matrix3<f64>,
    /// Rows of the bow, columns of the swing.
    pub(super) bow_swing: Matrix3<f64>,
    pub(super) swing_swing: Matrix3<f64>,
}

impl Curvatures {
    /// Adds them to the blocks of nodes j and j + 1 of a chain whose blocks up to node j are there; those after are set.
    ///
    /// Moving both positions together changes nothing, so the blocks of the end's position are those of the start's with
    /// the sign turned; six blocks make the whole. `start` and `end` are further ones of the slopes there.
    #[inline(always)]
    pub(super) fn put(
        &self,
        h: f64,
        (start, end): (&Matrix3<f64>, &Matrix3<f64>),
        j: usize,
        chain: &mut Chain,
    ) {
        let one = 1.0 / h;
        // Of chord and bow together, which is what the positions move.
        let both_bow = self.chord_bow + self.bow_bow;
        let both_swing = self.chord_swing + self.bow_swing;
        let rr = (self.chord_chord + self.chord_bow.transpose() + both_bow) * (one * one);
        let (bow, swing) = (
            both_bow.transpose() * (0.5 * one),
            both_swing.transpose() * one,
        );
        // Rows of the slope at the start and at the end, columns of the position at the start.
        let (tr, ur) = (bow + swing, bow - swing);
        let (quarter, half) = (self.bow_bow * 0.25, self.bow_swing * 0.5);
        let same = half + half.transpose();
        let tt = quarter + same + self.swing_swing + start;
        let uu = quarter - same + self.swing_swing + end;
        let ut = quarter + half - half.transpose() - self.swing_swing;
        let here = &mut chain.diagonal[j];
        for c in 0..3 {
            for r in 0..3 {
                here[c][r] += rr[(r, c)];
                here[c][r + 3] += tr[(r, c)];
                here[c + 3][r] += tr[(c, r)];
                here[c + 3][r + 3] += tt[(r, c)];
            }
        }
        let mut below: Block = ZERO;
        let mut next: Block = ZERO;
        for c in 0..3 {
            for r in 0..3 {
                below[c][r] = -rr[(r, c)];
                below[c][r + 3] = ur[(r, c)];
                below[c + 3][r] = -tr[(c, r)];
                below[c + 3][r + 3] = ut[(r, c)];
                next[c][r] = rr[(r, c)];
                next[c][r + 3] = -ur[(r, c)];
                next[c + 3][r] = -ur[(c, r)];
                next[c + 3][r + 3] = uu[(r, c)];
            }
        }
        chain.below[j] = below;
        chain.diagonal[j + 1] = next;
    }
}
