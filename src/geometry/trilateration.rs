//! The places that fit distances to known points in the least-squares sense.
//!
//! Minimise Σ (d − |x − c|)² over the readings d from the references c. The start is in closed form:
//! subtracting the mean of d² = |x − c|² over the readings leaves equations linear in x, which give the place
//! within the plane that fits the references best; the height over that plane follows from the mean, with both
//! signs (trilateration, as in any textbook of surveying; no single source). From both, and where the
//! references are not in one plane also from the linear solution in space, Levenberg–Marquardt goes to the
//! least sum; the places found on the two sides of the plane are the mirror candidates.

use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

/// The plane that fits the references best.
pub(super) struct Plane {
    pub(super) middle: Point3<f64>,
    /// Directions in the plane, the longer extent first, and square to it.
    along: Vector3<f64>,
    across: Vector3<f64>,
    pub(super) normal: Vector3<f64>,
    /// Greatest distance of a reference from the middle \[m\].
    pub(super) extent: f64,
    /// The same from the long axis.
    pub(super) off_line: f64,
    /// The same from the plane.
    off_plane: f64,
}

impl Plane {
    pub(super) fn through(from: &[(Point3<f64>, f64)]) -> Self {
        let share = 1.0 / from.iter().map(|_| 1.0).sum::<f64>();
        let sum: Vector3<f64> = from.iter().map(|(p, _)| p.coords).sum();
        let middle = Point3::from(sum * share);
        let spread: Matrix3<f64> = from
            .iter()
            .map(|(p, _)| (p - middle) * (p - middle).transpose())
            .sum();
        let eigen = SymmetricEigen::new(spread);
        let along: Vector3<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imax()).into();
        let normal: Vector3<f64> = eigen.eigenvectors.column(eigen.eigenvalues.imin()).into();
        let greatest = |measure: &dyn Fn(Vector3<f64>) -> f64| {
            from.iter()
                .map(|(p, _)| measure(p - middle))
                .fold(0.0, f64::max)
        };
        Self {
            middle,
            along,
            across: normal.cross(&along),
            normal,
            extent: greatest(&|w| w.norm()),
            off_line: greatest(&|w| (w - along * along.dot(&w)).norm()),
            off_plane: greatest(&|w| normal.dot(&w).abs()),
        }
    }

    /// Where to start from: on both sides of the plane, and the linear solution in space where there is one.
    pub(super) fn starts(&self, from: &[(Point3<f64>, f64)]) -> Vec<Point3<f64>> {
        let share = 1.0 / from.iter().map(|_| 1.0).sum::<f64>();
        // With w = c − middle: d² = |x|² − 2 w·x + |w|², and the mean over all readings taken away,
        // 2 w·x = (|w|² − mean) − (d² − mean), as the w sum to zero.
        let rows = from.iter().map(|(p, d)| (p - self.middle, d * d));
        let right = |(w, d2): (Vector3<f64>, f64)| (w, 0.5 * (w.norm_squared() - d2));
        let mean = rows.clone().map(|r| right(r).1).sum::<f64>() * share;
        let (mut square, mut moment) = (Matrix3::zeros(), Vector3::zeros());
        for row in rows.clone() {
            let (w, half) = right(row);
            square += w * w.transpose();
            moment += w * (half - mean);
        }
        let mut starts = Vec::new();
        let flat = nalgebra::Matrix3x2::from_columns(&[self.along, self.across]);
        let within = (flat.transpose() * square * flat)
            .try_inverse()
            .map(|inverse| flat * (inverse * (flat.transpose() * moment)));
        if let Some(within) = within {
            let height2 = rows
                .map(|(w, d2)| d2 - (within - w).norm_squared())
                .sum::<f64>()
                * share;
            // A start in the plane itself would stay there, where the misfit changes with neither sign.
            let height = height2.max(0.0).sqrt().max(0.01 * self.extent);
            starts.push(self.middle + within + self.normal * height);
            starts.push(self.middle + within - self.normal * height);
        }
        if self.off_plane > 0.02 * self.extent
            && let Some(inverse) = square.try_inverse()
        {
            let x = inverse * moment;
            let mirrored = x - self.normal * (2.0 * self.normal.dot(&x));
            starts.extend([self.middle + x, self.middle + mirrored]);
        }
        if starts.is_empty() {
            starts.push(self.middle + self.normal * self.extent);
        }
        starts
    }
}

pub(super) fn misfits(from: &[(Point3<f64>, f64)], p: &Point3<f64>) -> Vec<f64> {
    from.iter().map(|(c, d)| d - (p - c).norm()).collect()
}

pub(super) fn root_mean_square(values: &[f64]) -> f64 {
    let count: f64 = values.iter().map(|_| 1.0).sum();
    (values.iter().map(|v| v * v).sum::<f64>() / count).sqrt()
}

pub(super) fn sum_of_squares(from: &[(Point3<f64>, f64)], p: &Point3<f64>) -> f64 {
    misfits(from, p).iter().map(|m| m * m).sum()
}

/// The products `JᵀJ` and `Jᵀ·misfit`, J the unit vectors from the references to `p`.
pub(super) fn normal_equations(
    from: &[(Point3<f64>, f64)],
    p: &Point3<f64>,
) -> (Matrix3<f64>, Vector3<f64>) {
    let (mut square, mut moment) = (Matrix3::zeros(), Vector3::zeros());
    for (c, d) in from {
        let away = p - c;
        // At a reference itself the distance has no direction; the others must decide.
        if let Some(u) = away.try_normalize(0.0) {
            square += u * u.transpose();
            moment += u * (d - away.norm());
        }
    }
    (square, moment)
}

/// Levenberg–Marquardt from `start` to the nearest least sum of squares. The damping starts small, is divided
/// by ten after a step that helps and multiplied by ten after one that does not; the search ends when a step
/// is below rounding or no step helps, after at most 200 tries.
pub(super) fn descend(from: &[(Point3<f64>, f64)], start: Point3<f64>) -> Point3<f64> {
    let mut p = start;
    let mut sum = sum_of_squares(from, &p);
    let mut damping = 1e-6;
    for _ in 0..200 {
        let (square, moment) = normal_equations(from, &p);
        let damped = square + Matrix3::identity() * damping;
        let Some(step) = damped.cholesky().map(|c| c.solve(&moment)) else {
            damping = 1e-3f64.max(damping * 10.0);
            continue;
        };
        let next = p + step;
        let next_sum = sum_of_squares(from, &next);
        let settled = step.norm() <= 1e-14 * (1.0 + p.coords.norm());
        if next_sum <= sum {
            p = next;
            sum = next_sum;
            damping = 1e-15f64.max(damping * 0.1);
        } else {
            damping *= 10.0;
        }
        if settled || damping > 1e12 {
            break;
        }
    }
    p
}
