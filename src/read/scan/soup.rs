//! What comes out of a scan file before anything is believed: corners and triangles as they stand, then checked and
//! joined.

use std::collections::HashSet;
use std::hash::BuildHasher;

use nalgebra::Point3;
use rayon::prelude::*;

use crate::geometry::{Mixing, Surface, SurfaceError};

/// Why a scan file cannot be used: what was seen, and the cure.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct ScanFault {
    /// What was seen.
    pub message: String,
    /// What to do about it.
    pub cure: String,
}

impl ScanFault {
    pub(super) fn new(message: impl Into<String>, cure: impl Into<String>) -> Self {
        Self {
            message: message.into(),
            cure: cure.into(),
        }
    }

    /// A file that ends early or says what is not so.
    pub(super) fn damaged(message: impl Into<String>) -> Self {
        Self::new(
            message,
            "the file is damaged or was cut off: export or copy it again",
        )
    }
}

/// The content of a scan file, in its own unit and axes.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Soup {
    /// Corners, or points where there are no triangles.
    pub points: Vec<[f64; 3]>,
    /// Of each triangle its corners, counted from zero.
    pub triangles: Vec<[u32; 3]>,
    /// What was left out or mended, each as a phrase.
    pub notes: Vec<String>,
}

impl Soup {
    /// The number of the next corner.
    pub(super) fn next(&self) -> Result<u32, ScanFault> {
        u32::try_from(self.points.len()).map_err(|_| {
            ScanFault::new(
                "it has more points than can be counted here (4294967295)",
                "export it with fewer points",
            )
        })
    }

    /// A polygon as a fan of triangles.
    pub(super) fn polygon(&mut self, corners: &[u32]) {
        for pair in corners.get(1..).unwrap_or_default().windows(2) {
            self.triangles.push([corners[0], pair[0], pair[1]]);
        }
    }

    /// Leaves out what is not finite or has no size, joins corners that are the same place.
    pub(super) fn checked(mut self) -> Result<Self, ScanFault> {
        let count = self.points.len();
        if let Some(bad) = self
            .triangles
            .iter()
            .flatten()
            .find(|i| **i as usize >= count)
        {
            return Err(ScanFault::damaged(format!(
                "a triangle names corner {bad} (counted from 0), but there are only {count}"
            )));
        }
        let had_triangles = !self.triangles.is_empty();
        let finite: Vec<bool> = self
            .points
            .iter()
            .map(|p| p.iter().all(|c| c.is_finite()))
            .collect();
        if had_triangles {
            let before = self.triangles.len();
            self.triangles
                .retain(|t| t.iter().all(|&i| finite[i as usize]));
            let lost = before - self.triangles.len();
            if lost > 0 {
                self.notes.push(format!(
                    "{lost} triangles have a corner that is not a number and were left out: there is a hole of which \
                     nothing is known"
                ));
            }
            self.join();
            self.tidy();
        } else {
            self.lone(&finite);
        }
        if self.triangles.is_empty() && (had_triangles || self.points.is_empty()) {
            return Err(ScanFault::new(
                "there is no triangle and no point in it that can be used",
                "export the scan as a mesh or as points, and look at it in the program that made it",
            ));
        }
        Ok(self)
    }

    /// Points without triangles: left out are those that are no numbers, the zeros of missed returns, duplicates.
    fn lone(&mut self, finite: &[bool]) {
        let zero = |p: &[f64; 3]| p.iter().all(|c| c.abs() <= 0.0);
        let zeros = self.points.iter().filter(|p| zero(p)).count();
        let all = self.points.len();
        let mut seen: HashSet<[u64; 3], Mixing> = HashSet::with_capacity_and_hasher(all, Mixing);
        let mut kept = Vec::with_capacity(all);
        let (mut bad, mut same) = (0, 0);
        for (p, finite) in self.points.iter().zip(finite) {
            if !finite {
                bad += 1;
            } else if zeros > 1 && zero(p) {
            } else if seen.insert(bits(p)) {
                kept.push(*p);
            } else {
                same += 1;
            }
        }
        self.points = kept;
        if bad > 0 {
            self.notes
                .push(format!("{bad} points are not numbers and were left out"));
        }
        if zeros > 1 {
            self.notes.push(format!(
                "{zeros} points stand at exactly (0, 0, 0), as missed returns do, and were left out"
            ));
        }
        if same > 0 {
            self.notes.push(format!("{same} points are there twice"));
        }
    }

    /// Corners that are the same place become the same corner; those of no triangle go.
    fn join(&mut self) {
        let mut places = Places::default();
        let mut now = vec![NONE; self.points.len()];
        for i in self.triangles.iter_mut().flatten() {
            let now = &mut now[*i as usize];
            if *now == NONE {
                *now = places.number(&self.points[*i as usize]);
            }
            *i = *now;
        }
        self.points = places.listed;
    }

    /// Triangles without a surface: one that is a point goes, one that is a line stays only where no other triangle has
    /// that edge.
    fn tidy(&mut self) {
        let is_line = |t: &[u32; 3]| t[0] == t[1] || t[1] == t[2] || t[2] == t[0];
        let mut flat = 0;
        if self.triangles.iter().any(is_line) {
            let edge = |a: u32, b: u32| (a.min(b), a.max(b));
            let mut edges: HashSet<(u32, u32), Mixing> = HashSet::default();
            for t in self.triangles.iter().filter(|t| !is_line(t)) {
                edges.extend([edge(t[0], t[1]), edge(t[1], t[2]), edge(t[2], t[0])]);
            }
            self.triangles.retain(|t| {
                if !is_line(t) {
                    return true;
                }
                flat += 1;
                let (a, b) = if t[0] == t[1] {
                    (t[1], t[2])
                } else {
                    (t[0], t[1])
                };
                a != b && !edges.contains(&edge(a, b))
            });
        }
        let p = |i: u32| Point3::from(self.points[i as usize]);
        let thin = |t: &[u32; 3]| {
            let (ab, ac) = (p(t[1]) - p(t[0]), p(t[2]) - p(t[0]));
            !is_line(t) && ab.cross(&ac).norm() <= 1e-12 * ab.norm_squared().max(ac.norm_squared())
        };
        flat += self.triangles.par_iter().filter(|t| thin(t)).count();
        if flat > 0 {
            self.notes.push(format!(
                "{flat} triangles have no surface: they count as lines"
            ));
        }
    }

    /// The surface, its numbers times `unit` \[m\].
    pub(super) fn surface(&self, unit: f64) -> Result<Surface, SurfaceError> {
        let points: Vec<Point3<f64>> = self
            .points
            .iter()
            .map(|p| Point3::from(*p) * unit)
            .collect();
        if self.triangles.is_empty() {
            Surface::of_points(&points)
        } else {
            Surface::of_triangles(&points, &self.triangles)
        }
    }
}

/// No number.
const NONE: u32 = u32::MAX;

/// Places, each once, and a table to find them by: their numbers, each at or soon after where its hash says. A table of
/// numbers alone is small enough to stay near the processor.
#[derive(Default)]
struct Places {
    listed: Vec<[f64; 3]>,
    table: Vec<u32>,
}

impl Places {
    /// The number of a place, a new one where it has none.
    fn number(&mut self, p: &[f64; 3]) -> u32 {
        if 2 * self.listed.len() >= self.table.len() {
            self.grow();
        }
        let wanted = bits(p);
        let mut at = self.slot(&wanted);
        loop {
            let number = self.table[at];
            if number == NONE {
                // No more than there were before, and those were counted.
                let number = u32::try_from(self.listed.len()).unwrap_or(NONE);
                self.table[at] = number;
                self.listed.push(*p);
                return number;
            }
            if bits(&self.listed[number as usize]) == wanted {
                return number;
            }
            at = (at + 1) & (self.table.len() - 1);
        }
    }

    /// Where to look first.
    fn slot(&self, bits: &[u64; 3]) -> usize {
        let hash = Mixing.hash_one(bits);
        // Products are mixed best at their upper end.
        #[allow(
            clippy::cast_possible_truncation,
            reason = "what is left is less than the length of the table"
        )]
        let slot = (hash >> (64 - self.table.len().trailing_zeros())) as usize;
        slot
    }

    fn grow(&mut self) {
        let room = (2 * self.table.len()).max(1 << 10);
        self.table = vec![NONE; room];
        for (p, number) in self.listed.iter().zip(0..) {
            let mut at = self.slot(&bits(p));
            while self.table[at] != NONE {
                at = (at + 1) & (room - 1);
            }
            self.table[at] = number;
        }
    }
}

/// A place as it can be looked up; zero with and without a sign is the same.
fn bits(p: &[f64; 3]) -> [u64; 3] {
    p.map(|c| (c + 0.0).to_bits())
}
