//! A point from taped distances: which readings give one, which of two mirror places is meant, and how far to
//! trust it. The places themselves come from [`super::trilateration`].

use nalgebra::{Point3, SymmetricEigen, Vector3};

use super::trilateration::{
    Plane, descend, misfits, normal_equations, root_mean_square, sum_of_squares,
};

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

impl Side {
    /// Its name, as in a route file.
    pub fn name(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Above => "above",
            Self::Below => "below",
            Self::Front => "front",
            Self::Rear => "rear",
        }
    }

    /// How far `p` lies to this side \[m\].
    fn reach(self, p: &Point3<f64>) -> f64 {
        match self {
            Self::Left => p.y,
            Self::Right => -p.y,
            Self::Above => p.z,
            Self::Below => -p.z,
            Self::Front => p.x,
            Self::Rear => -p.x,
        }
    }
}

impl std::fmt::Display for Side {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::Above => "above",
            Self::Below => "below",
            Self::Front => "front",
            Self::Rear => "rear",
        })
    }
}

/// A point found from taped distances.
#[derive(Debug, Clone, PartialEq)]
pub struct TapeFix {
    /// Where it is \[m\].
    pub at: Point3<f64>,
    /// Measured less computed distance, one per reading \[m\].
    pub misfits: Vec<f64>,
    /// Half-width that holds the true position in 95 of 100 cases along the direction that the readings tell
    /// worst \[m\]: the step along that direction at which the sum of squared misfits has grown by (1.96 sd)²,
    /// sd that of a reading. Where the distances change evenly this is 1.96 √λ, λ the greatest eigenvalue of
    /// the covariance sd² (JᵀJ)⁻¹; near the plane of the references, where it would be infinite, it is not.
    /// The references themselves are taken as exact.
    pub error95: f64,
}

impl TapeFix {
    /// Root mean square of the misfits \[m\].
    pub fn rms(&self) -> f64 {
        root_mean_square(&self.misfits)
    }
}

/// Why taped distances give no point. Readings are counted from 0; lengths in metres, shown in millimetres.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum TapeError {
    /// Fewer than three distances.
    #[error("three or more distances are needed, {given} given")]
    TooFew {
        /// How many were given.
        given: usize,
    },
    /// A distance that is negative, or a number that is not finite.
    #[error("distance {} is {:.1} mm, which is no distance", .reading + 1, .distance * 1e3)]
    NoDistance {
        /// Which reading.
        reading: usize,
        /// What it says \[m\].
        distance: f64,
    },
    /// Fewer than three different references.
    #[error(
        "the {given} distances are taken from only {different} different points; three or more are needed"
    )]
    Coincident {
        /// Number of readings.
        given: usize,
        /// Number of references that differ.
        different: usize,
    },
    /// References on a line: the point could be anywhere on a circle about it.
    #[error(
        "the points taped from lie on a line to within {:.1} mm, so the distances fit anywhere on a circle \
         about it; tape from one more point well off that line",
        .off_line * 1e3
    )]
    OnALine {
        /// Greatest distance of a reference from the line \[m\].
        off_line: f64,
    },
    /// Two distances that no point can have.
    #[error(
        "distances {} and {} cannot meet: their points are {:.1} mm apart, and {:.1} mm are {}; one of the two \
         is misread, or taken from another point",
        .first + 1, .second + 1, .apart * 1e3, .off_by * 1e3,
        if *.too_short { "missing between them" } else { "too many in the longer one" }
    )]
    CannotClose {
        /// One reading.
        first: usize,
        /// The other.
        second: usize,
        /// Distance between their references \[m\].
        apart: f64,
        /// By how much they miss each other \[m\].
        off_by: f64,
        /// Together too short; otherwise one is longer than the other and the way between them.
        too_short: bool,
    },
    /// Two places fit the readings, and nothing says which is meant.
    #[error(
        "the distances fit in two places, ({:.1}, {:.1}, {:.1}) and ({:.1}, {:.1}, {:.1}) mm, to within {:.1} \
         and {:.1} mm; say which side is meant",
        .places[0].x * 1e3, .places[0].y * 1e3, .places[0].z * 1e3,
        .places[1].x * 1e3, .places[1].y * 1e3, .places[1].z * 1e3,
        .rms[0] * 1e3, .rms[1] * 1e3
    )]
    TwoPlaces {
        /// Both places \[m\], the better fit first.
        places: [Point3<f64>; 2],
        /// Root mean square of the misfit at each \[m\].
        rms: [f64; 2],
    },
    /// The side named does not tell the two places apart.
    #[error(
        "\"{side}\" does not tell the two places apart that fit the distances, ({:.1}, {:.1}, {:.1}) and \
         ({:.1}, {:.1}, {:.1}) mm; name a side on which they differ",
        .places[0].x * 1e3, .places[0].y * 1e3, .places[0].z * 1e3,
        .places[1].x * 1e3, .places[1].y * 1e3, .places[1].z * 1e3
    )]
    SideTellsNothing {
        /// The side named.
        side: Side,
        /// Both places \[m\].
        places: [Point3<f64>; 2],
    },
}

/// Readings that differ by this many standard deviations do not happen by chance (3 in 1000).
const BEYOND_CHANCE: f64 = 3.0;

/// Quantile of the normal distribution that leaves 2.5 % on each side.
const TWO_SIDED_95: f64 = 1.959_963_984_540_054;

/// Shortest length that counts as one \[m\]; keeps comparisons meaningful where `tape_sd` is zero.
const LEAST: f64 = 1e-9;

/// The point whose distances to known points fit the readings best in the least-squares sense. `from` holds
/// each reference \[m\] with the distance taped from it \[m\]; `tape_sd` is the standard deviation of a
/// reading \[m\].
///
/// References in a plane leave two mirror places; `side` picks one. Without a `side` the better fit is taken
/// where readings tell the two apart beyond chance, or where both are one to within it.
///
/// The misfit of a point that exists is not judged here: compare [`TapeFix::rms`] with what is allowed.
///
/// # Errors
/// See [`TapeError`].
pub fn fix_from_tape(
    from: &[(Point3<f64>, f64)],
    side: Option<Side>,
    tape_sd: f64,
) -> Result<TapeFix, TapeError> {
    refuse_bad_readings(from)?;
    let sd = if tape_sd.is_finite() {
        tape_sd.max(LEAST)
    } else {
        LEAST
    };
    let plane = Plane::through(from);
    if plane.off_line <= sd.max(1e-6 * plane.extent) {
        return Err(TapeError::OnALine {
            off_line: plane.off_line,
        });
    }
    refuse_open_pairs(from, sd)?;

    let mut places: Vec<Point3<f64>> = Vec::new();
    for start in plane.starts(from) {
        let place = descend(from, start);
        if places
            .iter()
            .all(|other| (other - place).norm() > 1e-6 * plane.extent)
        {
            places.push(place);
        }
    }
    places.sort_by(|a, b| sum_of_squares(from, a).total_cmp(&sum_of_squares(from, b)));
    // The mirror of the best place is the best one on the other side of the plane.
    let best = places[0];
    let height = |p: &Point3<f64>| plane.normal.dot(&(p - plane.middle));
    let mirror = places
        .iter()
        .copied()
        .find(|p| height(p) * height(&best) < 0.0);
    let at = match mirror {
        Some(mirror) => choose(from, best, mirror, side, sd)?,
        None => best,
    };
    Ok(TapeFix {
        at,
        misfits: misfits(from, &at),
        error95: error95(from, &at, sd),
    })
}

/// Errors that readings show one by one.
fn refuse_bad_readings(from: &[(Point3<f64>, f64)]) -> Result<(), TapeError> {
    if from.len() < 3 {
        return Err(TapeError::TooFew { given: from.len() });
    }
    let bad = |(p, d): &(Point3<f64>, f64)| {
        !(d.is_finite() && *d >= 0.0 && p.iter().all(|c| c.is_finite()))
    };
    if let Some(reading) = from.iter().position(bad) {
        return Err(TapeError::NoDistance {
            reading,
            distance: from[reading].1,
        });
    }
    let mut different: Vec<Point3<f64>> = Vec::new();
    for (p, _) in from {
        if different.iter().all(|q| (q - p).norm() > LEAST) {
            different.push(*p);
        }
    }
    if different.len() < 3 {
        return Err(TapeError::Coincident {
            given: from.len(),
            different: different.len(),
        });
    }
    Ok(())
}

/// Two spheres that do not meet, beyond what chance explains: the worst pair.
fn refuse_open_pairs(from: &[(Point3<f64>, f64)], sd: f64) -> Result<(), TapeError> {
    let mut worst: Option<TapeError> = None;
    let mut worst_by = BEYOND_CHANCE * sd * std::f64::consts::SQRT_2;
    for (second, (q, e)) in from.iter().enumerate() {
        for (first, (p, d)) in from[..second].iter().enumerate() {
            let apart = (p - q).norm();
            let (missing, surplus) = (apart - d - e, (d - e).abs() - apart);
            let off_by = missing.max(surplus);
            if off_by > worst_by {
                worst_by = off_by;
                worst = Some(TapeError::CannotClose {
                    first,
                    second,
                    apart,
                    off_by,
                    too_short: missing >= surplus,
                });
            }
        }
    }
    worst.map_or(Ok(()), Err)
}

/// Which of two mirror places is meant.
fn choose(
    from: &[(Point3<f64>, f64)],
    best: Point3<f64>,
    mirror: Point3<f64>,
    side: Option<Side>,
    sd: f64,
) -> Result<Point3<f64>, TapeError> {
    let one_place = (best - mirror).norm() <= BEYOND_CHANCE * sd;
    let gain = sum_of_squares(from, &mirror) - sum_of_squares(from, &best);
    if gain > (2.0 * BEYOND_CHANCE * sd).powi(2) {
        // Four or more readings from points well out of one plane leave no doubt: both places may lie on the
        // side that was named, and only one of them fits.
        return Ok(best);
    }
    let Some(side) = side else {
        if one_place || gain > (BEYOND_CHANCE * sd).powi(2) {
            return Ok(best);
        }
        let rms = |p: &Point3<f64>| root_mean_square(&misfits(from, p));
        return Err(TapeError::TwoPlaces {
            places: [best, mirror],
            rms: [rms(&best), rms(&mirror)],
        });
    };
    let ahead = side.reach(&best) - side.reach(&mirror);
    if !one_place && ahead.abs() <= BEYOND_CHANCE * sd {
        return Err(TapeError::SideTellsNothing {
            side,
            places: [best, mirror],
        });
    }
    Ok(if ahead >= 0.0 { best } else { mirror })
}

/// See [`TapeFix::error95`].
fn error95(from: &[(Point3<f64>, f64)], p: &Point3<f64>, sd: f64) -> f64 {
    let (square, _) = normal_equations(from, p);
    let eigen = SymmetricEigen::new(square);
    let worst = eigen.eigenvalues.imin();
    let direction: Vector3<f64> = eigen.eigenvectors.column(worst).into();
    let allowed = sum_of_squares(from, p) + (TWO_SIDED_95 * sd).powi(2);
    // The misfit grows at most as the square of the step times the number of readings, so that the step is at
    // least this; it grows without end, so that doubling brackets it.
    let reach = |sign: f64| {
        let over = |t: f64| sum_of_squares(from, &(p + direction * (sign * t))) > allowed;
        let count: f64 = from.iter().map(|_| 1.0).sum();
        let mut high = TWO_SIDED_95 * sd / count.sqrt();
        for _ in 0..200 {
            if over(high) {
                break;
            }
            high *= 1.25;
        }
        let mut low = high / 1.25;
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if over(middle) {
                high = middle;
            } else {
                low = middle;
            }
        }
        high
    };
    reach(1.0).max(reach(-1.0))
}
