//! The least distance from a whole curve to each part: the k-d tree tells where to begin, branch and bound does the
//! rest exactly.
//!
//! The signed distance f to a convex solid is a convex function (outside as the distance to a convex set,
//! inside as the greatest of the signed distances to the planes that bound it), so f(q) ≥ f(m) + ∇f(m)·(q − m)
//! for all points q and m; and it changes by at most the way gone. Tubes with bends are searched as the convex
//! pieces that they are the union of; scans too, in `nearest_scan`.
//!
//! The curve's pieces stand in a binary tree of runs. Each run lies within some small distance of the chord
//! from its start to its end, so that one evaluation of f bounds it on the whole run from below, to
//! second order in its length: whole stretches fall away. A single piece lies in the convex hull of its Bézier
//! points, and is halved until the bound meets the least distance found.

use std::borrow::Cow;

use nalgebra::{Matrix3, Point3, Vector3};

use crate::geometry::{Curve, Knot, Piece, Shape, Slope};

use super::clearance::{Nearest, Surroundings};
use super::{PartId, Stance};

/// The distance found is at most this far above the least one \[m\].
pub(super) const ACCURACY: f64 = 1e-7;

/// A share of a piece below which it is not halved further. Reached only where coordinates are so large that
/// rounding exceeds the accuracy.
pub(super) const SHORTEST: f64 = 1e-9;

/// The least distance from `curve` to every part, in the order of the parts.
pub(super) fn to_parts(around: &Surroundings<'_>, stance: &Stance, curve: &Curve) -> Vec<Nearest> {
    let runs = Runs::of(curve);
    let knots: Vec<Point3<f64>> = curve.knots().iter().map(|k| k.position).collect();
    let begin = if runs.finite {
        around.nearest_samples(stance, &knots)
    } else {
        vec![None; around.machine().parts.len()]
    };
    (0..around.machine().parts.len())
        .map(|part| {
            let begin = begin[part].map(|knot| (curve.knots()[knot].at, knots[knot]));
            search(around, stance, (curve, &runs), PartId(part), begin)
        })
        .collect()
}

/// The least distance from `curve` to one part, the search beginning at the place `at` along it.
pub(super) fn to_part(
    around: &Surroundings<'_>,
    stance: &Stance,
    Searched { curve, runs }: &Searched<'_>,
    part: PartId,
    at: f64,
) -> Nearest {
    let at = at.clamp(curve.start(), curve.end());
    let begin = runs.finite.then(|| (at, curve.position(at)));
    search(around, stance, (curve, runs), part, begin)
}

/// The least distance from `curve` to each part that comes nearer than `least` tells of it, a place along the curve to begin
/// at and a distance; `None` where it does not.
pub(super) fn nearer(
    around: &Surroundings<'_>,
    stance: &Stance,
    curve: &Curve,
    least: &[(f64, f64)],
) -> Vec<Option<Nearest>> {
    let runs = Runs::of(curve);
    (0..around.machine().parts.len())
        .map(|part| {
            let &(at, least) = least.get(part)?;
            let at = at.clamp(curve.start(), curve.end());
            let mut search = Search::new(around, stance, (curve, &runs), PartId(part));
            (search.least, search.at) = (least, at);
            search.look(around, PartId(part));
            (search.least < least).then(|| search.found(around, stance, PartId(part)))
        })
        .collect()
}

/// Searches one part, beginning from a place of the curve.
fn search(
    around: &Surroundings<'_>,
    stance: &Stance,
    (curve, runs): (&Curve, &Runs),
    id: PartId,
    begin: Option<(f64, Point3<f64>)>,
) -> Nearest {
    let mut search = Search::new(around, stance, (curve, runs), id);
    if let Some((at, place)) = begin {
        // A distance that the curve has at one place: whatever cannot go below it falls away.
        search.least = around.distance(stance, id, &place);
        search.at = at;
    }
    search.look(around, id);
    search.found(around, stance, id)
}

/// A curve made ready to be searched once and again.
#[derive(Debug)]
pub struct Searched<'c> {
    curve: Cow<'c, Curve>,
    runs: Runs,
}

impl<'c> Searched<'c> {
    /// Looks at all of its pieces.
    pub fn new(curve: Cow<'c, Curve>) -> Self {
        let runs = Runs::of(&curve);
        Self { curve, runs }
    }
}

/// Runs of a curve's pieces; the halves of run n are 2n + 1 and 2n + 2.
#[derive(Debug)]
pub(super) struct Runs {
    pub(super) nodes: Vec<Run>,
    finite: bool,
}

#[derive(Debug, Clone, Copy)]
pub(super) struct Run {
    pub(super) start: Point3<f64>,
    pub(super) end: Point3<f64>,
    /// No point of the run is farther than this from the chord from `start` to `end` \[m\].
    pub(super) strays: f64,
    /// First piece and one past the last.
    pub(super) pieces: (usize, usize),
}

impl Runs {
    fn of(curve: &Curve) -> Self {
        let pieces = curve.knots().len() - 1;
        let nothing = Run {
            start: Point3::origin(),
            end: Point3::origin(),
            strays: 0.0,
            pieces: (0, 0),
        };
        let mut runs = Self {
            nodes: vec![nothing; 2 * pieces.next_power_of_two() - 1],
            finite: true,
        };
        runs.fill(curve, 0, (0, pieces));
        let finite = |k: &Knot| {
            k.position
                .iter()
                .chain(k.slope.iter())
                .all(|c| c.is_finite())
        };
        runs.finite = curve.knots().iter().all(finite);
        runs
    }

    fn fill(&mut self, curve: &Curve, node: usize, pieces: (usize, usize)) -> Run {
        let (first, after) = pieces;
        let run = if after - first == 1 {
            let [start, a, b, end] = bezier(curve, first);
            Run {
                start,
                end,
                // The distance from a chord is convex: greatest at a corner of the hull.
                strays: off_chord(&a, &start, &end).max(off_chord(&b, &start, &end)),
                pieces,
            }
        } else {
            // The first half is the larger one, so that indices stay within the next power of two.
            let split = first + (after - first).div_ceil(2);
            let a = self.fill(curve, 2 * node + 1, (first, split));
            let b = self.fill(curve, 2 * node + 2, (split, after));
            Run {
                start: a.start,
                end: b.end,
                // Both halves' chords end on this chord and at the point between them.
                strays: off_chord(&a.end, &a.start, &b.end) + a.strays.max(b.strays),
                pieces,
            }
        };
        self.nodes[node] = run;
        run
    }
}

/// Distance of `p` from the segment from `a` to `b`.
fn off_chord(p: &Point3<f64>, a: &Point3<f64>, b: &Point3<f64>) -> f64 {
    let (chord, w) = (b - a, p - a);
    let share = w.dot(&chord) / chord.norm_squared();
    // A chord without length gives no share; then, as anywhere, the distance from an end is an upper bound.
    let share = if share.is_finite() {
        share.clamp(0.0, 1.0)
    } else {
        0.0
    };
    (w - chord * share).norm()
}

pub(super) type Bezier = [Point3<f64>; 4];

/// Bézier points of a curve's piece.
pub(super) fn bezier(curve: &Curve, piece: usize) -> Bezier {
    let (a, b) = (&curve.knots()[piece], &curve.knots()[piece + 1]);
    let third = (b.at - a.at) / 3.0;
    [
        a.position,
        a.position + a.slope * third,
        b.position - b.slope * third,
        b.position,
    ]
}

/// Both halves of a Bézier piece (de Casteljau); the first ends and the second starts in the middle.
pub(super) fn halves(q: &Bezier) -> (Bezier, Bezier) {
    let mid = |a: &Point3<f64>, b: &Point3<f64>| Point3::from((a.coords + b.coords) * 0.5);
    let (ab, bc, cd) = (mid(&q[0], &q[1]), mid(&q[1], &q[2]), mid(&q[2], &q[3]));
    let (abc, bcd) = (mid(&ab, &bc), mid(&bc, &cd));
    let middle = mid(&abc, &bcd);
    ([q[0], ab, abc, middle], [middle, bcd, cd, q[3]])
}

/// A convex solid in a frame of its own.
pub(super) trait Convex {
    /// The signed distance at `p` and its gradient.
    fn slope(&self, p: &Point3<f64>) -> (f64, Vector3<f64>);
}

impl Convex for Shape {
    fn slope(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        let Slope { distance, normal } = self.slope(p);
        (distance, normal.into_inner())
    }
}

impl Convex for Piece<'_> {
    fn slope(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        Piece::slope(self, p)
    }
}

/// The search for one part.
pub(super) struct Search<'a> {
    pub(super) curve: &'a Curve,
    pub(super) runs: &'a Runs,
    /// From the machine frame to the part's: turn · (p − shift).
    turn: Matrix3<f64>,
    shift: Vector3<f64>,
    /// Least distance so far.
    pub(super) least: f64,
    at: f64,
}

impl<'a> Search<'a> {
    /// Nothing found yet.
    fn new(
        around: &Surroundings<'_>,
        stance: &Stance,
        (curve, runs): (&'a Curve, &'a Runs),
        id: PartId,
    ) -> Self {
        let part = &around.machine().parts[id.0];
        let mut motion = stance.bodies[part.on.0];
        // A scan is searched in its own frame.
        if let Shape::Scan(scan) = &part.shape {
            motion *= scan.placed;
        }
        Self {
            curve,
            runs,
            turn: motion
                .rotation
                .to_rotation_matrix()
                .into_inner()
                .transpose(),
            shift: motion.translation.vector,
            least: f64::INFINITY,
            at: curve.start(),
        }
    }

    /// Looks for what is nearer than the least distance so far.
    fn look(&mut self, around: &Surroundings<'_>, id: PartId) {
        if !self.runs.finite {
            self.least = f64::NEG_INFINITY;
            return;
        }
        if let Shape::Scan(scan) = &around.machine().parts[id.0].shape {
            self.scan(scan);
        }
        for piece in around.pieces[id.0].iter() {
            let bound = self.least_in(piece, 0);
            self.descend(piece, 0, bound);
        }
    }

    /// The nearest place found.
    fn found(&self, around: &Surroundings<'_>, stance: &Stance, id: PartId) -> Nearest {
        let p = self.curve.position(self.at);
        let contact = around.slope(stance, id, &p);
        let on_part = if contact.distance.is_finite() {
            p - contact.normal.into_inner() * contact.distance
        } else {
            p
        };
        Nearest {
            part: id,
            distance: self.least,
            at: self.at,
            on_part,
        }
    }

    pub(super) fn local(&self, p: &Point3<f64>) -> Point3<f64> {
        Point3::from(self.turn * (p.coords - self.shift))
    }

    /// The distance at `p` and its gradient, both of the machine frame.
    fn slope(&self, solid: &impl Convex, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        let (distance, gradient) = solid.slope(&self.local(p));
        (distance, self.turn.tr_mul(&gradient))
    }

    /// A lower bound on the distance of a run of the curve. What is not a number bounds nothing.
    fn least_in(&self, shape: &Shape, node: usize) -> f64 {
        let run = &self.runs.nodes[node];
        let half = (run.end - run.start) * 0.5;
        let (distance, gradient) = self.slope(shape, &(run.start + half));
        // Falls along the chord by no more than the gradient says, beside it by no more than the way.
        distance - gradient.dot(&half).abs() - run.strays
    }

    /// Searches a run of the curve, of which `bound` is known to be a lower bound.
    fn descend(&mut self, shape: &Shape, node: usize, bound: f64) {
        if bound > self.least - ACCURACY {
            return;
        }
        let (first, after) = self.runs.nodes[node].pieces;
        if after - first == 1 {
            let knots = self.curve.knots();
            for (knot, u) in [(first, 0.0), (after, 1.0)] {
                let distance = shape.distance(&self.local(&knots[knot].position));
                self.offer(distance, first, u);
            }
            self.refine(shape, first, &bezier(self.curve, first), 0.0, 1.0);
            return;
        }
        let (left, right) = (2 * node + 1, 2 * node + 2);
        let (a, b) = (self.least_in(shape, left), self.least_in(shape, right));
        if a <= b {
            self.descend(shape, left, a);
            self.descend(shape, right, b);
        } else {
            self.descend(shape, right, b);
            self.descend(shape, left, a);
        }
    }

    /// Searches the part from `u0` to `u1` of a piece, given by its Bézier points.
    pub(super) fn refine(
        &mut self,
        shape: &impl Convex,
        piece: usize,
        q: &Bezier,
        u0: f64,
        u1: f64,
    ) {
        let u = 0.5 * (u0 + u1);
        let (before, after) = halves(q);
        let middle = before[3];
        let (distance, gradient) = self.slope(shape, &middle);
        if distance.is_nan() {
            self.least = f64::NEG_INFINITY;
            return;
        }
        self.offer(distance, piece, u);
        // An empty shape is infinitely far; and a part so short is a point, whatever rounding makes of bounds.
        if distance.is_infinite() || u1 - u0 < SHORTEST {
            return;
        }
        let falls = q.iter().map(|point| gradient.dot(&(point - middle)));
        if distance + falls.fold(0.0, f64::min) > self.least - ACCURACY {
            return;
        }
        // The half toward which the distance falls first: what is found there spares much of the other.
        if gradient.dot(&(q[3] - q[0])) < 0.0 {
            self.refine(shape, piece, &after, u, u1);
            self.refine(shape, piece, &before, u0, u);
        } else {
            self.refine(shape, piece, &before, u0, u);
            self.refine(shape, piece, &after, u, u1);
        }
    }

    pub(super) fn offer(&mut self, distance: f64, piece: usize, u: f64) {
        if distance < self.least {
            let knots = self.curve.knots();
            self.least = distance;
            self.at = knots[piece].at + u * (knots[piece + 1].at - knots[piece].at);
        }
    }
}
