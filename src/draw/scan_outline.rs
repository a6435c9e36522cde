//! The outline of a scan: too many triangles to unite, so they are first laid on a fine grid of the paper.

use nalgebra::{Isometry3, Point3};

use crate::geometry::Scan;

use super::display::{Frame, Spot};
use super::project::Projection;
use super::silhouette::{Area, disc, hull};

/// Cells of the grid along the longer side of the scan: about a third of a millimetre in a view that fills the sheet.
const CELLS: f64 = 420.0;

/// Convex areas that together cover what the scan covers, grown by `margin` \[m\]: one for each run of covered cells.
pub(crate) fn runs(
    scan: &Scan,
    motion: &Isometry3<f64>,
    margin: f64,
    projection: &Projection,
) -> Vec<Vec<Spot>> {
    let motion = motion * scan.placed;
    let spot = |p: &Point3<f64>| projection.spot(&(motion * p));
    let spots = scan.surface.pieces().flatten().map(spot);
    let Some(frame) = Frame::around(spots.collect::<Vec<_>>().iter()) else {
        return Vec::new();
    };
    let dot = scan.surface.allowance() * projection.scale;
    let (left, top) = (frame.x - dot, frame.y - dot);
    let (right, bottom) = (frame.right() + dot, frame.bottom() + dot);
    let cell = (right - left).max(bottom - top) / CELLS;
    if !(cell.is_finite() && cell > 0.0) {
        return vec![disc([frame.x, frame.y], margin * projection.scale)];
    }
    let mut grid = Grid::new([left, top], [right, bottom], cell);
    for corners in scan.surface.pieces() {
        match corners {
            [a, b, c] => grid.triangle([spot(a), spot(b), spot(c)]),
            [p] => grid.dot(spot(p), dot),
            _ => {}
        }
    }
    grid.runs(margin * projection.scale)
}

/// Covered cells.
struct Grid {
    start: Spot,
    cell: f64,
    across: usize,
    covered: Vec<bool>,
}

impl Grid {
    fn new(start: Spot, end: Spot, cell: f64) -> Self {
        let [across, down] = [0, 1].map(|i| index((end[i] - start[i]) / cell) + 1);
        Self {
            start,
            cell,
            across,
            covered: vec![false; across * down],
        }
    }

    fn down(&self) -> usize {
        self.covered.len() / self.across
    }

    /// A spot in cells.
    fn place(&self, s: Spot) -> Spot {
        [0, 1].map(|i| (s[i] - self.start[i]) / self.cell)
    }

    /// Covers row `row` from `from` to `to`, in cells.
    fn cover(&mut self, row: usize, from: f64, to: f64) {
        if row < self.down() {
            let (from, to) = (index(from), index(to).min(self.across - 1));
            if from <= to {
                self.covered[row * self.across + from..=row * self.across + to].fill(true);
            }
        }
    }

    /// Covers every cell that a triangle touches.
    fn triangle(&mut self, corners: [Spot; 3]) {
        let corners = corners.map(|s| self.place(s));
        let low = corners.iter().map(|s| s[1]).fold(f64::INFINITY, f64::min);
        let high = corners
            .iter()
            .map(|s| s[1])
            .fold(f64::NEG_INFINITY, f64::max);
        if !(low.is_finite() && high.is_finite()) {
            return;
        }
        for row in index(low)..=index(high) {
            let (top, bottom) = (row as f64, row as f64 + 1.0);
            let (mut from, mut to) = (f64::INFINITY, f64::NEG_INFINITY);
            for i in 0..3 {
                let (a, b) = (corners[i], corners[(i + 1) % 3]);
                // The part of the edge that is in the row.
                let rise = b[1] - a[1];
                let share = |y: f64| {
                    if rise.abs() > 0.0 {
                        ((y - a[1]) / rise).clamp(0.0, 1.0)
                    } else {
                        0.0
                    }
                };
                if a[1].max(b[1]) < top || a[1].min(b[1]) > bottom {
                    continue;
                }
                let shares = if rise.abs() > 0.0 {
                    [share(top), share(bottom)]
                } else {
                    [0.0, 1.0]
                };
                for share in shares {
                    let x = a[0] + (b[0] - a[0]) * share;
                    from = from.min(x);
                    to = to.max(x);
                }
            }
            self.cover(row, from, to);
        }
    }

    /// Covers the cells around a spot.
    fn dot(&mut self, s: Spot, radius: f64) {
        let (s, radius) = (self.place(s), radius / self.cell);
        for row in index(s[1] - radius)..=index(s[1] + radius) {
            self.cover(row, s[0] - radius, s[0] + radius);
        }
    }

    /// The runs of covered cells of each row, as rectangles, or as hulls of discs where they are grown.
    fn runs(&self, margin: f64) -> Vec<Vec<Spot>> {
        let mut runs = Vec::new();
        for (row, cells) in self.covered.chunks(self.across).enumerate() {
            let mut at = 0;
            while at < cells.len() {
                if !cells[at] {
                    at += 1;
                    continue;
                }
                let first = at;
                while at < cells.len() && cells[at] {
                    at += 1;
                }
                let x = [first, at].map(|i| self.start[0] + i as f64 * self.cell);
                let y = [row, row + 1].map(|i| self.start[1] + i as f64 * self.cell);
                let corners = [[x[0], y[0]], [x[1], y[0]], [x[0], y[1]], [x[1], y[1]]];
                let grown = corners.iter().flat_map(|&s| disc(s, margin)).collect();
                runs.push(hull(grown));
            }
        }
        runs
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "cells of a grid of a few hundred; what lies before it counts as its start"
)]
fn index(x: f64) -> usize {
    x.max(0.0) as usize
}

/// Takes the steps of the grid out of an outline: corners cut to the middles of the sides, then all that lies within a
/// fifth of a cell of a straight line dropped. Specks of a cell or two go.
pub(crate) fn smooth(area: Area) -> Area {
    let Some(frame) = Frame::around(area.iter().flatten()) else {
        return area;
    };
    let cell = (frame.right() - frame.x).max(frame.bottom() - frame.y) / CELLS;
    area.into_iter()
        .filter(|contour| area_of(contour).abs() > 6.0 * cell * cell)
        .map(|contour| {
            let next = contour.iter().cycle().skip(1);
            let cut: Vec<Spot> = contour
                .iter()
                .zip(next)
                .flat_map(|(a, b)| {
                    // A long side keeps its ends.
                    let length = (b[0] - a[0]).hypot(b[1] - a[1]);
                    let share = (0.75 * cell / length).min(0.5);
                    let toward = |t: f64| [a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t];
                    [toward(share), toward(1.0 - share)]
                })
                .collect();
            thinned(&cut, 0.3 * cell)
        })
        .filter(|contour| contour.len() > 2)
        .collect()
}

/// Twice the area inside a contour, by the shoelace formula.
fn area_of(contour: &[Spot]) -> f64 {
    let next = contour.iter().cycle().skip(1);
    contour
        .iter()
        .zip(next)
        .map(|(a, b)| a[0] * b[1] - a[1] * b[0])
        .sum()
}

/// The contour without the spots that lie within `error` of the line between those that stay (Douglas & Peucker 1973).
fn thinned(contour: &[Spot], error: f64) -> Vec<Spot> {
    let Some(first) = contour.first() else {
        return Vec::new();
    };
    let far = |a: &Spot, b: &Spot| (a[0] - b[0]).hypot(a[1] - b[1]);
    let split = (0..contour.len())
        .max_by(|&a, &b| far(&contour[a], first).total_cmp(&far(&contour[b], first)))
        .unwrap_or(0);
    let mut keep = vec![false; contour.len() + 1];
    let at = |i: usize| contour[i % contour.len()];
    keep[0] = true;
    keep[split] = true;
    let mut open = vec![(0, split), (split, contour.len())];
    while let Some((from, to)) = open.pop() {
        let (a, b) = (at(from), at(to));
        let length = far(&a, &b);
        let off = |i: usize| {
            let s = at(i);
            if length > 0.0 {
                ((b[0] - a[0]) * (s[1] - a[1]) - (b[1] - a[1]) * (s[0] - a[0])).abs() / length
            } else {
                far(&s, &a)
            }
        };
        let worst = (from + 1..to).max_by(|&i, &j| off(i).total_cmp(&off(j)));
        if let Some(worst) = worst.filter(|&i| off(i) > error) {
            keep[worst] = true;
            open.push((from, worst));
            open.push((worst, to));
        }
    }
    (0..contour.len())
        .filter(|&i| keep[i])
        .map(|i| contour[i])
        .collect()
}
