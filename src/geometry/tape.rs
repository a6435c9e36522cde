//! A point from taped distances.

use nalgebra::Point3;

/// Which of two mirror solutions is meant, by the rider's side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Larger y.
    Left,
    /// Smaller y.
    Right,
    /// Larger z.
    Above,
    /// Smaller z.
    Below,
    /// Larger x.
    Front,
    /// Smaller x.
    Rear,
}

/// A point found from taped distances.
#[derive(Debug, Clone, PartialEq)]
pub struct TapeFix {
    /// Where it is \[m\].
    pub at: Point3<f64>,
    /// Measured less computed distance, one per reading \[m\].
    pub misfits: Vec<f64>,
    /// Half-width that holds the true position in 95 of 100 cases \[m\].
    pub error95: f64,
}

/// Why taped distances give no point.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TapeError {
    /// Fewer than three distances.
    #[error("three or more distances are needed, {given} given")]
    TooFew {
        /// How many were given.
        given: usize,
    },
}

/// The point whose distances to known points fit the readings best in the least-squares sense.
///
/// # Errors
/// See [`TapeError`].
pub fn fix_from_tape(
    _from: &[(Point3<f64>, f64)],
    _side: Option<Side>,
    _tape_sd: f64,
) -> Result<TapeFix, TapeError> {
    todo!()
}
