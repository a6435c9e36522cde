//! One length from several readings of it: a string laid along the span, and slack gathered by hand with the span
//! pulled straight between two points that were themselves measured.
//!
//! Every reading of slack says: length = distance of the two points + slack. The distances share the errors of the
//! points, so their errors go together and the readings are weighed by generalised least squares (A. C. Aitken,
//! "On least squares and linear combination of observations", Proc. R. Soc. Edinburgh 55, 1935, 42–48): with
//! `C = diag(sd²) + point_sd²·A·Aᵀ`, length = `(1ᵀC⁻¹y) / (1ᵀC⁻¹1)`. The weighted sum of squares of what is left
//! over follows the χ² distribution with one degree of freedom fewer than there are readings.

use nalgebra::{DMatrix, DVector};

/// Readings that agree as badly as this by chance alone are taken to disagree.
const DISAGREE: f64 = 0.01;
/// Readings that agree this badly by chance or less are no good agreement: none of the readings that were left out
/// to get there can be the only wrong one.
const AGREE: f64 = 0.05;

/// One reading of a length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LengthReading {
    /// The length that it gives \[m\].
    pub value: f64,
    /// Its own standard deviation \[m\], above zero.
    pub sd: f64,
    /// By how much it changes when each of the two points moves, per metre along each axis of that point's own
    /// frame: the first point's three, then the second's. Zeros where it does not depend on them.
    pub by_points: [f64; 6],
}

/// The length that fits several readings best.
#[derive(Debug, Clone, PartialEq)]
pub struct FittedLength {
    /// The length \[m\].
    pub length: f64,
    /// Its standard deviation \[m\].
    pub sd: f64,
    /// What of that comes from the readings' own errors, the points taken to be where they are \[m\].
    pub own_sd: f64,
    /// Each reading less the length \[m\].
    pub off: Vec<f64>,
    /// How likely readings of a right model are to miss each other at least so far, 0 to 1; 1 for a single one.
    pub chance: f64,
}

impl FittedLength {
    /// Whether the readings miss each other by more than their errors explain, at 1 %.
    pub fn disagree(&self) -> bool {
        self.chance < DISAGREE
    }
}

/// The best length for readings that depend on points known to `point_sd` \[m\] along each axis. `None` without a
/// reading, or where a number is not finite.
pub fn fit_length(readings: &[LengthReading], point_sd: f64) -> Option<FittedLength> {
    let n = readings.len();
    let a = DMatrix::from_fn(n, 6, |i, k| readings[i].by_points[k]);
    let own = DVector::from_fn(n, |i, _| readings[i].sd.powi(2));
    let covariance = DMatrix::from_diagonal(&own) + &a * a.transpose() * point_sd.powi(2);
    let factor = covariance.cholesky()?;
    let values = DVector::from_fn(n, |i, _| readings[i].value);
    let weights = factor.solve(&DVector::from_element(n, 1.0));
    let information = weights.sum();
    let length = weights.dot(&values) / information;
    if n == 0 || !length.is_finite() {
        return None;
    }
    let off = values.add_scalar(-length);
    let chi_squared = off.dot(&factor.solve(&off));
    Some(FittedLength {
        length,
        sd: information.sqrt().recip(),
        own_sd: weights.component_mul(&weights).dot(&own).sqrt() / information,
        off: off.iter().copied().collect(),
        chance: chi_squared_chance(chi_squared, n - 1),
    })
}

/// The one reading that is wrong, where the readings disagree, the others agree without it, and leaving out any
/// other single one does not help. Two readings can disagree, but not say which is wrong.
pub fn suspect_length(readings: &[LengthReading], point_sd: f64) -> Option<usize> {
    if readings.len() < 3 || !fit_length(readings, point_sd)?.disagree() {
        return None;
    }
    let agrees_without = |leave: usize| {
        let mut others = readings.to_vec();
        others.remove(leave);
        fit_length(&others, point_sd).is_some_and(|fit| fit.chance > AGREE)
    };
    let mut one = (0..readings.len()).filter(|&leave| agrees_without(leave));
    let suspect = one.next();
    suspect.filter(|_| one.next().is_none())
}

/// Upper tail of the χ² distribution (closed forms: M. Abramowitz, I. A. Stegun, Handbook of Mathematical Functions,
/// 1964, 26.4.4 and 26.4.5).
fn chi_squared_chance(chi_squared: f64, freedom: usize) -> f64 {
    let half = 0.5 * chi_squared.max(0.0);
    // Each two degrees of freedom add one term of a series to the tail of zero or of one degree.
    let (mut chance, mut term, mut k) = if freedom.is_multiple_of(2) {
        (0.0, (-half).exp(), 0.0)
    } else {
        let first = 2.0 * (half / std::f64::consts::PI).sqrt() * (-half).exp();
        (libm::erfc(half.sqrt()), first, 0.5)
    };
    if freedom == 0 {
        return 1.0;
    }
    for _ in 0..freedom / 2 {
        chance += term;
        k += 1.0;
        term *= half / k;
    }
    chance
}

#[cfg(test)]
mod tests {
    #![allow(
        clippy::unwrap_used,
        reason = "a test that cannot go on should say so and stop"
    )]

    use super::*;

    /// Upper 5 % and 1 % points: NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.4, table of upper-tail
    /// critical values of the χ² distribution.
    #[test]
    fn chances_are_those_of_the_table() {
        let table = [
            (1, 3.841, 6.635),
            (2, 5.991, 9.210),
            (3, 7.815, 11.345),
            (4, 9.488, 13.277),
            (5, 11.070, 15.086),
        ];
        for (freedom, five, one) in table {
            let chance = |x| chi_squared_chance(x, freedom);
            assert!(
                (chance(five) - 0.05).abs() < 2e-5,
                "{freedom}: {}",
                chance(five)
            );
            assert!(
                (chance(one) - 0.01).abs() < 1e-5,
                "{freedom}: {}",
                chance(one)
            );
        }
        assert!((chi_squared_chance(3.0, 0) - 1.0).abs() < 1e-15);
    }

    fn plain(value: f64, sd: f64) -> LengthReading {
        LengthReading {
            value,
            sd,
            by_points: [0.0; 6],
        }
    }

    /// Independent readings: the weighted mean, its standard deviation, and the sum of squares by hand.
    #[test]
    fn independent_readings_give_the_weighted_mean() {
        let fit = fit_length(&[plain(0.200, 0.003), plain(0.206, 0.006)], 0.005).unwrap();
        assert!(
            (fit.length - (0.2 * 4.0 + 0.206) / 5.0).abs() < 1e-12,
            "{fit:?}"
        );
        assert!((fit.sd - 0.006 / 5.0_f64.sqrt()).abs() < 1e-12);
        let chi_squared = 0.006_f64.powi(2) / (0.003_f64.powi(2) + 0.006_f64.powi(2));
        assert!((fit.chance - libm::erfc((0.5 * chi_squared).sqrt())).abs() < 1e-12);
    }

    /// An error that all readings share moves the length and is no disagreement: here the points' distance counts
    /// alike in both readings, so that the spread of their mean keeps it in full.
    #[test]
    fn a_shared_error_stays_in_the_spread() {
        let mut reading = plain(0.2, 0.003);
        reading.by_points = [-1.0, 0.0, 0.0, 1.0, 0.0, 0.0];
        for point_sd in [0.0, 0.001, 0.003, 0.01] {
            let fit = fit_length(&[reading, reading], point_sd).unwrap();
            let expected = (0.003_f64.powi(2) / 2.0 + 2.0 * point_sd.powi(2)).sqrt();
            assert!((fit.sd - expected).abs() < 1e-12, "{} {expected}", fit.sd);
            assert!((fit.own_sd - 0.003 / 2.0_f64.sqrt()).abs() < 1e-12);
            assert!(fit.chance > 0.999);
        }
    }

    #[test]
    fn two_that_disagree_name_nobody() {
        let two = [plain(0.2, 0.003), plain(0.25, 0.003)];
        assert!(fit_length(&two, 0.0).unwrap().disagree());
        assert_eq!(suspect_length(&two, 0.0), None);
        assert_eq!(suspect_length(&[plain(0.2, 0.003)], 0.0), None);
        // Two against two: no single one is to blame.
        let four = [two[0], two[0], two[1], two[1]];
        assert_eq!(suspect_length(&four, 0.0), None);
        assert_eq!(fit_length(&[], 0.0), None);
        assert_eq!(fit_length(&[plain(f64::NAN, 0.003)], 0.0), None);
    }
}
