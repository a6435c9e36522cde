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
        let pieces = self.curve.knots().len() - 1;
        let mut inside = false;
        let knots = self.curve.knots();
        for (i, knot) in knots.iter().enumerate() {
            let Some((distance, is_inside)) = self.signed(scan, &knot.position) else {
                self.least = f64::NEG_INFINITY;
                return;
            };
            inside |= is_inside;
            self.offer(
                distance,
                i.min(pieces - 1),
                if i == pieces { 1.0 } else { 0.0 },
            );
        }
        for piece in 0..pieces {
            self.part(scan, piece, &bezier(self.curve, piece), 0.0, 1.0);
        }
        if scan.has_inside() && (inside || self.least <= ACCURACY) {
            for piece in 0..pieces {
                self.depth(scan, piece, &bezier(self.curve, piece), 0.0, 1.0);
            }
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
