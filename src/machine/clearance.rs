//! Distances from the harness to the parts: what is near is found with k-d trees over samples of the
//! surfaces, then measured exactly.

use kiddo::{ImmutableKdTree, SquaredEuclidean};
use nalgebra::Point3;

use crate::geometry::{Contact, Curve, Shape};

use super::{Machine, PartId, Stance, nearest};

/// Spacing of surface samples \[m\]. Closer samples make a query return fewer parts that are not near, and
/// cost memory and time; 10 mm is about the diameter of a harness.
const SPACING: f64 = 0.010;

/// A part so large that the spacing above would give it more samples than about this gets a wider one.
const MOST_SAMPLES: f64 = 20_000.0;

/// The least gap between a curve and a part.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Nearest {
    /// The part.
    pub part: PartId,
    /// Signed distance from the centreline to the part's surface \[m\].
    pub distance: f64,
    /// Where on the curve \[m\].
    pub at: f64,
    /// The nearest point on the part, in the pose's machine frame.
    pub on_part: Point3<f64>,
}

/// The machine's surfaces, indexed so that what is near a point is found fast and nothing is missed.
///
/// Each body has a tree of its own in the frame in which it was drawn; queries are moved into that frame, so
/// that one index serves every pose.
#[derive(Debug)]
pub struct Surroundings<'m> {
    machine: &'m Machine,
    bodies: Vec<BodySurfaces>,
    /// For each part, the convex shapes that it is made of.
    pub(super) pieces: Vec<Vec<Shape>>,
}

/// The surfaces that one body carries.
#[derive(Debug, Default)]
struct BodySurfaces {
    /// Samples of all of them; `None` where there are none, because an empty tree answers as if all were clear.
    tree: Option<ImmutableKdTree<f64, 3>>,
    /// For each sample the index in `parts` of its part.
    owners: Vec<usize>,
    parts: Vec<Extent>,
    /// Widest spacing of the parts' samples \[m\].
    spacing: f64,
}

/// Bounds on where a part is, in its body's frame.
#[derive(Debug)]
struct Extent {
    part: PartId,
    spacing: f64,
    centre: Point3<f64>,
    radius: f64,
    depth: f64,
    /// The part has no samples that a tree could hold, so that it counts as near everywhere.
    unsampled: bool,
}

impl<'m> Surroundings<'m> {
    /// Indexes a machine.
    pub fn new(machine: &'m Machine) -> Self {
        let mut bodies = Vec::new();
        bodies.resize_with(machine.bodies.len(), BodySurfaces::default);
        let mut samples: Vec<Vec<[f64; 3]>> = vec![Vec::new(); machine.bodies.len()];
        for (i, part) in machine.parts.iter().enumerate() {
            let Some(body) = bodies.get_mut(part.on.0) else {
                continue;
            };
            let (centre, radius) = part.shape.bounds();
            let spacing = SPACING
                .max((part.shape.area() / (2.0 * MOST_SAMPLES)).sqrt())
                .max(radius / MOST_SAMPLES);
            let sound = radius.is_finite() && centre.iter().all(|c| c.is_finite());
            let points = if sound {
                part.shape.surface_samples(spacing)
            } else {
                Vec::new()
            };
            body.owners
                .extend(std::iter::repeat_n(body.parts.len(), points.len()));
            samples[part.on.0].extend(points.iter().map(|p| [p.x, p.y, p.z]));
            body.spacing = body.spacing.max(spacing);
            body.parts.push(Extent {
                part: PartId(i),
                spacing,
                centre,
                radius,
                depth: part.shape.depth(),
                unsampled: points.is_empty(),
            });
        }
        for (body, samples) in bodies.iter_mut().zip(&samples) {
            if samples.is_empty() {
                continue;
            }
            body.tree = ImmutableKdTree::new_from_slice(samples).ok();
            if body.tree.is_none() {
                body.parts.iter_mut().for_each(|part| part.unsampled = true);
            }
        }
        let pieces = machine.parts.iter().map(|p| p.shape.convex_pieces());
        Self {
            machine,
            bodies,
            pieces: pieces.collect(),
        }
    }

    /// The machine that was indexed.
    pub fn machine(&self) -> &'m Machine {
        self.machine
    }

    /// Every part whose signed distance from `p` is at most `reach` \[m\] in `stance`, by rising id; may hold a
    /// few that are somewhat farther (by less than the spacing of the samples, 10 mm for parts of ordinary
    /// size). What `found` held before is dropped. A point or reach that is not a number finds every part:
    /// what cannot be told is never clear.
    pub fn near(&self, stance: &Stance, p: &Point3<f64>, reach: f64, found: &mut Vec<PartId>) {
        found.clear();
        if !p.iter().all(|c| c.is_finite()) || !reach.is_finite() {
            found.extend((0..self.machine.parts.len()).map(PartId));
            return;
        }
        for (body, motion) in self.bodies.iter().zip(&stance.bodies) {
            if body.parts.is_empty() {
                continue;
            }
            let local = motion.inverse_transform_point(p);
            // Whether the point can be within reach at all, by the part's bounding ball.
            let possible = |part: &Extent| {
                let away = (local - part.centre).norm_squared();
                let far = (part.radius + reach).max(0.0);
                part.unsampled || away <= far * far * (1.0 + 1e-12)
            };
            if !body.parts.iter().any(possible) {
                continue;
            }
            // Samples lie within their spacing of every surface point, so a surface within reach has a sample
            // within reach + spacing. kiddo takes and gives squared distances here.
            let widest = reach + body.spacing;
            if let (Some(tree), true) = (&body.tree, widest >= 0.0) {
                let hits = tree
                    .query(&[local.x, local.y, local.z])
                    .within::<SquaredEuclidean<f64>>(widest * widest * (1.0 + 1e-12))
                    .unsorted()
                    .execute();
                let mut last = usize::MAX;
                for hit in &hits {
                    let item = usize::try_from(hit.item).ok();
                    let Some(&owner) = item.and_then(|item| body.owners.get(item)) else {
                        continue;
                    };
                    let within = reach + body.parts[owner].spacing;
                    if owner != last && hit.distance <= within * within * (1.0 + 1e-12) {
                        last = owner;
                        found.push(body.parts[owner].part);
                    }
                }
            }
            // Deep inside a solid no surface is near. Only solids deeper than the reach can hide a point so.
            for part in body.parts.iter().filter(|part| possible(part)) {
                let shape = &self.machine.parts[part.part.0].shape;
                let inside = part.depth > reach && shape.distance(&local) <= reach;
                if part.unsampled || inside {
                    found.push(part.part);
                }
            }
        }
        found.sort_unstable();
        found.dedup();
    }

    /// The nearest place on `part` from `p`, all in the machine frame of `stance`. Signs and special cases as
    /// in [`Shape::contact`].
    pub fn contact(&self, stance: &Stance, part: PartId, p: &Point3<f64>) -> Contact {
        let part = &self.machine.parts[part.0];
        let motion = &stance.bodies[part.on.0];
        part.shape
            .contact(&motion.inverse_transform_point(p))
            .turned(&motion.rotation.to_rotation_matrix())
    }

    /// The least distance from `curve` to every part in `stance`, in the order of the parts, to 10⁻⁷ m. Where
    /// several places are equally near one of them is taken, always the same.
    ///
    /// A curve that is not finite is infinitely deep inside every part: what cannot be told is never clear.
    pub fn nearest(&self, stance: &Stance, curve: &Curve) -> Vec<Nearest> {
        nearest::to_parts(self, stance, curve)
    }

    /// Signed distance from the places `at` \[m\] along `curve` to the surface of `part` \[m\]; minus infinity
    /// where the curve is not finite.
    pub fn gaps_along(&self, stance: &Stance, part: PartId, curve: &Curve, at: &[f64]) -> Vec<f64> {
        let part = &self.machine.parts[part.0];
        let motion = &stance.bodies[part.on.0];
        at.iter()
            .map(|&at| {
                let local = motion.inverse_transform_point(&curve.position(at));
                let gap = part.shape.distance(&local);
                if gap.is_nan() { f64::NEG_INFINITY } else { gap }
            })
            .collect()
    }
}
