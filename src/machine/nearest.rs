//! The least distance from a whole curve to each part, by branch and bound.
//!
//! The curve's pieces stand in a binary tree of balls. A signed distance changes by at most the way gone, so
//! no point of the curve in a ball of radius R about c is nearer than f(c) − R: whole stretches fall away.
//! Within a piece the bound is of second order: the signed distance f to a convex solid is a convex function
//! (outside as the distance to a convex set, inside as the greatest of the signed distances to the planes that
//! bound it), so f(q) ≥ f(m) + ∇f(m)·(q − m); and the curve lies in the convex hull of its Bézier points q_i.
//! Tubes with bends are searched as the convex pieces that they are the union of.

use nalgebra::{Matrix3, Point3, Vector3};

use crate::geometry::{Curve, Shape};

use super::clearance::{Nearest, Surroundings};
use super::{PartId, Stance};

/// The distance found is at most this far above the least one \[m\].
const ACCURACY: f64 = 1e-7;

/// A share of a piece below which it is not halved further. Reached only where coordinates are so large that
/// rounding exceeds the accuracy.
const SHORTEST: f64 = 1e-9;

/// The least distance from `curve` to every part, in the order of the parts.
pub(super) fn to_parts(around: &Surroundings<'_>, stance: &Stance, curve: &Curve) -> Vec<Nearest> {
    let tree = BallTree::over(curve);
    let parts = around.machine().parts.iter().zip(&around.pieces);
    parts
        .enumerate()
        .map(|(i, (part, pieces))| {
            let motion = &stance.bodies[part.on.0];
            let mut search = Search {
                curve,
                tree: &tree,
                turn: motion
                    .rotation
                    .to_rotation_matrix()
                    .into_inner()
                    .transpose(),
                shift: motion.translation.vector,
                least: f64::INFINITY,
                at: curve.start(),
            };
            if tree.finite {
                for piece in pieces {
                    search.descend(piece, 0, f64::NEG_INFINITY);
                }
            } else {
                search.least = f64::NEG_INFINITY;
            }
            let p = curve.position(search.at);
            let contact = around.contact(stance, PartId(i), &p);
            let on_part = if contact.distance.is_finite() {
                p - contact.normal.into_inner() * contact.distance
            } else {
                p
            };
            Nearest {
                part: PartId(i),
                distance: search.least,
                at: search.at,
                on_part,
            }
        })
        .collect()
}

/// Balls about runs of a curve's pieces; the children of node n are 2n + 1 and 2n + 2.
struct BallTree {
    nodes: Vec<Ball>,
    finite: bool,
}

#[derive(Clone, Copy)]
struct Ball {
    centre: Point3<f64>,
    radius: f64,
    /// First piece and one past the last.
    pieces: (usize, usize),
}

impl BallTree {
    fn over(curve: &Curve) -> Self {
        let pieces = curve.knots().len() - 1;
        let mut tree = Self {
            nodes: vec![
                Ball {
                    centre: Point3::origin(),
                    radius: 0.0,
                    pieces: (0, 0),
                };
                2 * pieces.next_power_of_two() - 1
            ],
            finite: true,
        };
        tree.fill(curve, 0, (0, pieces));
        tree.finite = tree.nodes[0].radius.is_finite();
        tree
    }

    fn fill(&mut self, curve: &Curve, node: usize, pieces: (usize, usize)) -> Ball {
        let (first, end) = pieces;
        let ball = if end - first == 1 {
            let bezier = bezier(curve, first, 0.0, 1.0);
            let middle = bezier_middle(&bezier);
            let reach = bezier.iter().map(|q| (q - middle).norm());
            Ball {
                centre: middle,
                // NaN must not vanish in a maximum: the curve would seem sound.
                radius: reach.fold(0.0, |r, d| if d > r || d.is_nan() { d } else { r }),
                pieces,
            }
        } else {
            // The left child takes the larger half, so that indices stay within the next power of two.
            let split = first + (end - first).div_ceil(2);
            let a = self.fill(curve, 2 * node + 1, (first, split));
            let b = self.fill(curve, 2 * node + 2, (split, end));
            Ball {
                pieces,
                ..enclosing(&a, &b)
            }
        };
        self.nodes[node] = ball;
        ball
    }
}

/// The least ball that holds two.
fn enclosing(a: &Ball, b: &Ball) -> Ball {
    let apart = b.centre - a.centre;
    let d = apart.norm();
    if d + b.radius <= a.radius {
        return *a;
    }
    if d + a.radius <= b.radius {
        return *b;
    }
    let radius = 0.5 * (d + a.radius + b.radius);
    let centre = a.centre + apart * ((radius - a.radius) / d);
    Ball {
        centre,
        radius: radius * (1.0 + 1e-14),
        pieces: a.pieces,
    }
}

/// Bézier points of the part from `u0` to `u1` (0 to 1) of a curve's piece.
fn bezier(curve: &Curve, piece: usize, u0: f64, u1: f64) -> [Point3<f64>; 4] {
    let (a, b) = (&curve.knots()[piece], &curve.knots()[piece + 1]);
    let h = b.at - a.at;
    let third = h / 3.0;
    let whole = [
        a.position,
        a.position + a.slope * third,
        b.position - b.slope * third,
        b.position,
    ];
    if u0 <= 0.0 && u1 >= 1.0 {
        return whole;
    }
    // Blossom: each point is the polar form at (u0,u0,u0), (u0,u0,u1), (u0,u1,u1), (u1,u1,u1).
    let mix = |p: &Point3<f64>, q: &Point3<f64>, t: f64| p + (q - p) * t;
    let polar = |r: f64, s: f64, t: f64| {
        let [p0, p1, p2, p3] = &whole;
        let (q0, q1, q2) = (mix(p0, p1, r), mix(p1, p2, r), mix(p2, p3, r));
        let (r0, r1) = (mix(&q0, &q1, s), mix(&q1, &q2, s));
        mix(&r0, &r1, t)
    };
    [
        polar(u0, u0, u0),
        polar(u0, u0, u1),
        polar(u0, u1, u1),
        polar(u1, u1, u1),
    ]
}

/// The point of a Bézier piece half way.
fn bezier_middle(q: &[Point3<f64>; 4]) -> Point3<f64> {
    Point3::from((q[0].coords + q[3].coords + (q[1].coords + q[2].coords) * 3.0) * 0.125)
}

/// The search for one part.
struct Search<'a> {
    curve: &'a Curve,
    tree: &'a BallTree,
    /// From the machine frame to the part's: turn · (p − shift).
    turn: Matrix3<f64>,
    shift: Vector3<f64>,
    /// Least distance so far.
    least: f64,
    at: f64,
}

impl Search<'_> {
    fn local(&self, p: &Point3<f64>) -> Point3<f64> {
        Point3::from(self.turn * (p.coords - self.shift))
    }

    /// Searches a node of the tree, of which `bound` is known to be a lower bound.
    fn descend(&mut self, shape: &Shape, node: usize, bound: f64) {
        if bound > self.least - ACCURACY {
            return;
        }
        let (first, end) = self.tree.nodes[node].pieces;
        if end - first == 1 {
            let knots = self.curve.knots();
            for (knot, u) in [(first, 0.0), (end, 1.0)] {
                let distance = shape.distance(&self.local(&knots[knot].position));
                self.offer(distance, first, u);
            }
            self.refine(shape, first, 0.0, 1.0);
            return;
        }
        let child_bound = |child: usize| {
            let ball = &self.tree.nodes[child];
            shape.distance(&self.local(&ball.centre)) - ball.radius
        };
        let (left, right) = (2 * node + 1, 2 * node + 2);
        let (a, b) = (child_bound(left), child_bound(right));
        if a <= b {
            self.descend(shape, left, a);
            self.descend(shape, right, b);
        } else {
            self.descend(shape, right, b);
            self.descend(shape, left, a);
        }
    }

    /// Searches the part from `u0` to `u1` of a piece.
    fn refine(&mut self, shape: &Shape, piece: usize, u0: f64, u1: f64) {
        let q = bezier(self.curve, piece, u0, u1);
        let middle = bezier_middle(&q);
        let contact = shape.contact(&self.local(&middle));
        let u = 0.5 * (u0 + u1);
        if contact.distance.is_nan() {
            self.least = f64::NEG_INFINITY;
            return;
        }
        self.offer(contact.distance, piece, u);
        // An empty shape is infinitely far; and a part so short is a point, whatever rounding makes of bounds.
        if contact.distance.is_infinite() || u1 - u0 < SHORTEST {
            return;
        }
        // Both bounds hold; the second is the sharper one as the part gets short.
        let normal = self.turn.tr_mul(&contact.normal);
        let (mut reach, mut nearest) = (0f64, f64::INFINITY);
        for point in &q {
            let away = point - middle;
            reach = reach.max(away.norm_squared());
            nearest = nearest.min(normal.dot(&away));
        }
        let bound = contact.distance + nearest.max(-reach.sqrt());
        if bound > self.least - ACCURACY {
            return;
        }
        // The half toward which the distance falls first: its find spares much of the other.
        let falls_ahead = normal.dot(&(q[3] - q[0])) < 0.0;
        let (near, far) = if falls_ahead {
            ((u, u1), (u0, u))
        } else {
            ((u0, u), (u, u1))
        };
        self.refine(shape, piece, near.0, near.1);
        self.refine(shape, piece, far.0, far.1);
    }

    fn offer(&mut self, distance: f64, piece: usize, u: f64) {
        if distance < self.least {
            let knots = self.curve.knots();
            self.least = distance;
            self.at = knots[piece].at + u * (knots[piece + 1].at - knots[piece].at);
        }
    }
}
