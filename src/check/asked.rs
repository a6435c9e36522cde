//! Distances to parts along a branch, asked for again only after the way to the part was gone.

use std::cmp::Ordering;

use nalgebra::Point3;

use crate::machine::{PartId, Stance, Surroundings};

/// For each of some parts where its distance was asked for last, and that distance \[m\]: from there it takes as long a way to
/// come near it.
#[derive(Debug, Clone)]
pub(super) struct Asked(Vec<(Point3<f64>, f64)>);

impl Asked {
    /// Nothing of so many parts.
    pub(super) fn of_none(parts: usize) -> Self {
        Self(vec![(Point3::origin(), f64::NAN); parts])
    }

    /// The distance \[m\] from `p` to `part`, the one at `index`, where it is no more than `reach`; one that is not a number
    /// counts as near.
    pub(super) fn within(
        &mut self,
        (surroundings, stance): (&Surroundings<'_>, &Stance),
        (index, part): (usize, PartId),
        p: &Point3<f64>,
        reach: f64,
    ) -> Option<f64> {
        let (place, away) = &mut self.0[index];
        if *away - (p - *place).norm() > reach {
            return None;
        }
        (*place, *away) = (*p, surroundings.distance(stance, part, p));
        let far = (*away).partial_cmp(&reach) == Some(Ordering::Greater);
        (!far).then_some(*away)
    }
}
