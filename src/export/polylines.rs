//! The centrelines as polylines, one a branch and pose.

use nalgebra::Point3;

use crate::check::pose_in_words;
use crate::quantity::Units;
use crate::rod::Solution;
use crate::route::Route;

use super::poses::chosen;
use super::{ExportOptions, LineUnit};

/// The frame, as a comment.
pub(super) const FRAME: &str =
    "x forward, y to the rider's left, z up; zero is the datum of the route file";

/// Stations nearer than this are the same point \[m\]: the end of a span and the start of the next.
const SAME: f64 = 1e-9;

/// One branch in one pose.
#[derive(Debug)]
pub(super) struct Polyline {
    /// Name of the branch, in ASCII.
    pub(super) branch: String,
    pub(super) pose: usize,
    /// The pose in words, in ASCII.
    pub(super) words: String,
    /// Outside radius of the branch \[m\].
    pub(super) radius: f64,
    /// \[m\]
    pub(super) points: Vec<Point3<f64>>,
}

pub(super) fn polylines(
    route: &Route,
    solution: &Solution,
    options: &ExportOptions,
) -> Vec<Polyline> {
    let mut lines = Vec::new();
    for (branch, solved) in route.branches.iter().zip(&solution.branches) {
        for pose in chosen(route, solution, &options.poses) {
            let Some(shape) = solved.shapes.get(pose) else {
                continue;
            };
            let mut points: Vec<Point3<f64>> = shape.stations.iter().map(|s| s.position).collect();
            points.dedup_by(|b, a| (*b - *a).norm() < SAME);
            // Comments are in millimetres whatever the tables are in: they name the pose, they do not measure.
            let words = pose_in_words(&route.machine, &solution.sweep, pose, Units::METRIC);
            lines.push(Polyline {
                branch: ascii(&branch.name),
                pose,
                words: ascii(&words),
                radius: 0.5 * branch.diameter,
                points,
            });
        }
    }
    lines
}

impl LineUnit {
    /// Its name, in the plural.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Millimetre => "millimetres",
            Self::Metre => "metres",
        }
    }

    /// A length \[m\] in this unit, to a ten-thousandth of a millimetre.
    pub(super) fn text(self, length: f64) -> String {
        let (value, places) = match self {
            Self::Millimetre => (length * 1e3, 4),
            Self::Metre => (length, 7),
        };
        let text = format!("{value:.places$}");
        match text.strip_prefix('-') {
            // A rounded zero has no sign.
            Some(zero) if zero.bytes().all(|b| matches!(b, b'0' | b'.')) => zero.to_owned(),
            _ => text,
        }
    }
}

/// A text in the letters that every reader of these files knows.
fn ascii(text: &str) -> String {
    text.replace('°', " deg")
        .replace('−', "-")
        .chars()
        .map(|c| {
            if c.is_ascii() && !c.is_ascii_control() {
                c
            } else {
                '_'
            }
        })
        .collect()
}
