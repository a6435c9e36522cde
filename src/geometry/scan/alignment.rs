//! Rigid alignment of point pairs by least squares.
//!
//! Kabsch, "A discussion of the solution for the best rotation to relate two sets of vectors", Acta Cryst. A34 (1978):
//! the rotation from the singular value decomposition of the cross-covariance, a reflection excluded. The scale that
//! would fit best is that of Horn, "Closed-form solution of absolute orientation using unit quaternions", J. Opt. Soc.
//! Am. A 4 (1987), eq. for the symmetric scale: the ratio of the spreads. It is told, never used: a scan that wants
//! another scale was given the wrong unit.

use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, SVD, Translation3, UnitQuaternion, Vector3};

/// Pairs whose second direction spreads less than this share of the first lie in a line for all that a tape tells.
const IN_A_LINE: f64 = 0.02;

/// A point and where it is to go \[m\].
type Pair = (Point3<f64>, Point3<f64>);

/// Where a set of points goes.
#[derive(Debug, Clone, PartialEq)]
pub struct Alignment {
    /// From the first points of the pairs to the second.
    pub placed: Isometry3<f64>,
    /// Of each pair, how far the first point then is from the second \[m\].
    pub misfits: Vec<f64>,
    /// By how much the first points are larger than the second.
    pub too_large: f64,
}

impl Alignment {
    /// Root mean square of the misfits \[m\].
    pub fn rms(&self) -> f64 {
        let sum: f64 = self.misfits.iter().map(|m| m * m).sum();
        (sum / self.misfits.len().max(1) as f64).sqrt()
    }
}

/// Why points cannot be aligned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AlignmentError {
    /// Fewer than three.
    #[error("three or more pairs are needed")]
    TooFew,
    /// The first or the second points of all pairs lie in a line.
    #[error("the points lie in a line")]
    InALine,
    /// A number that is not finite.
    #[error("a coordinate is not a finite number")]
    NotFinite,
}

/// The rotation and translation that bring the first point of each pair nearest to the second, in the sense of least
/// squares \[m\].
///
/// # Errors
/// Fewer than three pairs, points in a line, numbers that are not finite.
pub fn align(pairs: &[(Point3<f64>, Point3<f64>)]) -> Result<Alignment, AlignmentError> {
    if pairs.len() < 3 {
        return Err(AlignmentError::TooFew);
    }
    let count = pairs.len() as f64;
    let middle = |side: fn(&Pair) -> Point3<f64>| {
        pairs
            .iter()
            .map(|pair| side(pair).coords)
            .sum::<Vector3<f64>>()
            / count
    };
    let (a, b) = (middle(|p| p.0), middle(|p| p.1));
    let mut cross = Matrix3::zeros();
    let mut own = [Matrix3::zeros(), Matrix3::zeros()];
    for (p, q) in pairs {
        let (p, q) = (p.coords - a, q.coords - b);
        cross += q * p.transpose();
        own[0] += p * p.transpose();
        own[1] += q * q.transpose();
    }
    let finite = |m: &Matrix3<f64>| m.iter().all(|x| x.is_finite());
    if !(finite(&cross) && finite(&own[0]) && finite(&own[1])) {
        return Err(AlignmentError::NotFinite);
    }
    for spread in &own {
        let mut along = spread.symmetric_eigenvalues();
        along.as_mut_slice().sort_by(f64::total_cmp);
        // Squared spreads.
        if along[1] <= IN_A_LINE * IN_A_LINE * along[2] || along[2] <= 0.0 {
            return Err(AlignmentError::InALine);
        }
    }
    let svd = SVD::new(cross, true, true);
    let (Some(u), Some(v_t)) = (svd.u, svd.v_t) else {
        return Err(AlignmentError::NotFinite);
    };
    // nalgebra gives singular values in falling order; the last direction is the one to turn over.
    let mut turned_over = Matrix3::identity();
    turned_over[(2, 2)] = (u * v_t).determinant().signum();
    let rotation = Rotation3::from_matrix_unchecked(u * turned_over * v_t);
    let rotation = UnitQuaternion::from_rotation_matrix(&rotation);
    let placed = Isometry3::from_parts(Translation3::from(b - rotation * a), rotation);
    Ok(Alignment {
        misfits: pairs.iter().map(|(p, q)| (placed * p - q).norm()).collect(),
        placed,
        too_large: (own[0].trace() / own[1].trace()).sqrt(),
    })
}
