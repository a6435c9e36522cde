//! The least distance from a curve to a scan.
//!
//! Every triangle, and every ball about a point of a cloud, is convex, so the bounds of the search for one convex solid
//! hold for each of them. The curve is halved until its parts are short against the least distance found; a part that
//! the distance at its middle does not rule out meets the triangles whose boxes are near, one by one. That finds a place
//! where the curve passes through a surface exactly: the distance there is zero, whatever the knots say.
//!
//! Inside a closed mesh no single triangle bounds how deep a place is from above, but each bounds it from below: the
//! depth at q is at most the distance from q to the triangle that is nearest to m, which is convex in q and so greatest
//! at a corner of the hull.

use nalgebra::Point3;

use crate::geometry::Scan;

use super::nearest::{ACCURACY, Bezier, SHORTEST, Search, bezier, halves};

/// Parts of the curve longer than this share of the least distance are halved before triangles are looked at: shorter
/// ones meet few triangles, longer ones need fewer looks.
const SHORT: f64 = 0.5;
/// Parts shorter than this \[m\] are not halved further, however near the scan is.
const SHORT_ENOUGH: f64 = 2e-4;

impl Search<'_> {
    /// Searches a scan; the search is in the scan's own frame.
    pub(super) fn scan(&mut self, scan: &Scan) {
        if self.least.is_infinite() {
            let Some((distance, _)) = self.signed(scan, &self.curve.knots()[0].position) else {
                self.least = f64::NEG_INFINITY;
                return;
            };
            self.offer(distance, 0, 0.0);
        }
        self.run(scan, 0, f64::NEG_INFINITY);
        // A curve that goes in or out has been found to cross the surface.
        if scan.has_inside() && self.least <= ACCURACY {
            for piece in 0..self.curve.knots().len() - 1 {
                self.depth(scan, piece, &bezier(self.curve, piece), 0.0, 1.0);
            }
        }
    }

    /// Searches a run of the curve, of which `bound` is known to be a lower bound of the distance from the surface.
    fn run(&mut self, scan: &Scan, node: usize, bound: f64) {
        if bound > self.least - ACCURACY {
            return;
        }
        let (first, after) = self.runs.nodes[node].pieces;
        if after - first == 1 {
            self.part(scan, first, &bezier(self.curve, first), 0.0, 1.0);
            return;
        }
        let (left, right) = (2 * node + 1, 2 * node + 2);
        let least_in = |node: usize| {
            let run = &self.runs.nodes[node];
            let half = (run.end - run.start) * 0.5;
            let (distance, inside) = self.signed(scan, &(run.start + half))?;
            let from_surface = if inside { -distance } else { distance };
            // It changes by no more than the way gone.
            Some(from_surface - half.norm() - run.strays)
        };
        let (Some(a), Some(b)) = (least_in(left), least_in(right)) else {
            self.least = f64::NEG_INFINITY;
            return;
        };
        if a <= b {
            self.run(scan, left, a);
            self.run(scan, right, b);
        } else {
            self.run(scan, right, b);
            self.run(scan, left, a);
        }
    }

    /// Signed distance from a place of the machine frame; `None` where it cannot be told.
    fn signed(&self, scan: &Scan, p: &Point3<f64>) -> Option<(f64, bool)> {
        let p = self.local(p);
        let (piece, inside) = scan.nearest_piece(&p)?;
        let (distance, _) = piece.slope(&p);
        Some((if inside { -distance } else { distance }, inside))
    }

    /// Searches a part of a piece, as if there were no inside.
    fn part(&mut self, scan: &Scan, piece: usize, q: &Bezier, u0: f64, u1: f64) {
        let u = 0.5 * (u0 + u1);
        let (before, after) = halves(q);
        let middle = before[3];
        let Some((distance, inside)) = self.signed(scan, &middle) else {
            self.least = f64::NEG_INFINITY;
            return;
        };
        self.offer(distance, piece, u);
        let reach = span(q, &middle);
        let from_surface = if inside { -distance } else { distance };
        if from_surface - reach > self.least - ACCURACY || u1 - u0 < SHORTEST {
            return;
        }
        if reach > SHORT_ENOUGH.max(SHORT * self.least) {
            self.part(scan, piece, &before, u0, u);
            self.part(scan, piece, &after, u, u1);
            return;
        }
        let local = q.map(|p| self.local(&p));
        let (low, high) = local.iter().fold((local[0], local[0]), |(low, high), p| {
            (low.inf(p), high.sup(p))
        });
        let least = self.least.max(0.0);
        scan.near_box((&low, &high), least, &mut |triangle| {
            self.refine(triangle, piece, q, u0, u1);
            self.least - ACCURACY
        });
    }

    /// Searches a part of a piece for the deepest place inside.
    fn depth(&mut self, scan: &Scan, piece: usize, q: &Bezier, u0: f64, u1: f64) {
        let u = 0.5 * (u0 + u1);
        let (before, after) = halves(q);
        let middle = before[3];
        let local = self.local(&middle);
        let Some((nearest, inside)) = scan.nearest_piece(&local) else {
            self.least = f64::NEG_INFINITY;
            return;
        };
        let away = nearest.slope(&local).0;
        let distance = if inside { -away } else { away };
        self.offer(distance, piece, u);
        let mut bound = distance - span(q, &middle);
        let deepest = q.iter().map(|p| nearest.slope(&self.local(p)).0);
        bound = bound.max(-deepest.fold(0.0, f64::max));
        if bound > self.least - ACCURACY || u1 - u0 < SHORTEST {
            return;
        }
        self.depth(scan, piece, &before, u0, u);
        self.depth(scan, piece, &after, u, u1);
    }
}

/// No point of a part is farther from its middle than this \[m\].
fn span(q: &Bezier, middle: &Point3<f64>) -> f64 {
    q.iter().map(|p| (p - middle).norm()).fold(0.0, f64::max)
}
