//! Distances from the harness to the parts: what cannot be near falls away by a k-d tree over samples of the parts'
//! surfaces (on a body with very few parts by the balls around them), the rest is measured exactly.

use std::cmp::Ordering;
use std::f64::consts::PI;
use std::sync::Arc;

use kiddo::{ImmutableKdTree, SquaredEuclidean};
use nalgebra::{Point3, UnitQuaternion};

use crate::geometry::{Curve, Eased, Shape, Slope};

use super::nearest::{self, Searched};
use super::{Machine, PartId, Stance};

/// A body with more parts than this gets a k-d tree over samples of their surfaces. Up to here one look at the ball
/// around each part is as good as a query, and needs no index.
const FEW: usize = 3;

/// A look at one part costs as much as so many samples in a query.
const MEASURED: f64 = 2.0;

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
    bodies: Vec<Arc<BodySurfaces>>,
    /// For each part, the convex shapes that it is made of; none for a scan.
    pub(super) pieces: Vec<Arc<[Shape]>>,
}

/// The surfaces that one body carries.
#[derive(Debug, Default, Clone)]
struct BodySurfaces {
    parts: Vec<Extent>,
    samples: Option<Arc<Samples>>,
    /// Of the body's parts those that are no longer where they were sampled.
    moved: Vec<usize>,
}

/// Samples of the surfaces of one body's parts.
#[derive(Debug)]
struct Samples {
    tree: ImmutableKdTree<f64, 3>,
    /// For each sample the index in the body's parts of its part.
    owners: Vec<usize>,
    /// For each part the spacing of its samples \[m\]; `None` where it has none.
    spacing: Vec<Option<f64>>,
    /// The widest of them \[m\].
    widest: f64,
}

/// Bounds on where a part is, in its body's frame.
#[derive(Debug, Clone)]
struct Extent {
    part: PartId,
    centre: Point3<f64>,
    radius: f64,
    depth: f64,
}

impl Extent {
    fn of(machine: &Machine, part: PartId) -> Self {
        let shape = &machine.parts[part.0].shape;
        let (centre, radius) = shape.bounds();
        Self {
            part,
            centre,
            radius,
            depth: shape.depth(),
        }
    }

    /// Whether a point can be within reach at all, by the ball around the part; a part without such a ball can always.
    #[inline]
    fn may_reach(&self, local: &Point3<f64>, reach: f64) -> bool {
        let away = (local - self.centre).norm_squared();
        let far = (self.radius + reach).max(0.0);
        // Written so that what is not a number counts as near.
        away.partial_cmp(&(far * far * (1.0 + 1e-12))) != Some(Ordering::Greater)
    }
}

impl BodySurfaces {
    /// Samples all parts, where there are so many that a tree over the samples pays.
    fn index(&mut self, machine: &Machine) {
        if self.parts.len() <= FEW {
            return;
        }
        let mut samples: Vec<[f64; 3]> = Vec::new();
        let mut owners = Vec::new();
        let mut spacings = Vec::new();
        for (own, extent) in self.parts.iter().enumerate() {
            let shape = &machine.parts[extent.part.0].shape;
            let spacing = SPACING
                .max((shape.area() / (2.0 * MOST_SAMPLES)).sqrt())
                .max(extent.radius / MOST_SAMPLES);
            let sound = !matches!(shape, Shape::Scan(_))
                && extent.radius.is_finite()
                && extent.centre.iter().all(|c| c.is_finite());
            let points = if sound {
                shape.surface_samples(spacing)
            } else {
                Vec::new()
            };
            owners.extend(std::iter::repeat_n(own, points.len()));
            samples.extend(points.iter().map(|p| [p.x, p.y, p.z]));
            spacings.push((!points.is_empty()).then_some(spacing));
        }
        // An empty tree answers as if all were clear.
        if samples.is_empty() {
            return;
        }
        if let Ok(tree) = ImmutableKdTree::new_from_slice(&samples) {
            self.samples = Some(Arc::new(Samples {
                tree,
                owners,
                widest: spacings.iter().flatten().copied().fold(0.0, f64::max),
                spacing: spacings,
            }));
        }
    }

    /// The parts that may be within reach of a point in the body's frame.
    fn candidates(
        &self,
        machine: &Machine,
        local: &Point3<f64>,
        reach: f64,
        found: &mut Vec<PartId>,
    ) {
        let possible = || {
            self.parts
                .iter()
                .filter(|part| part.may_reach(local, reach))
        };
        let widest = self.samples.as_ref().map(|s| (s, reach + s.widest));
        // Samples found at most, about: those of a flat surface through the middle of the reach.
        let pays = |widest: f64| {
            let most = 1.0 + PI * (widest / SPACING).powi(2);
            possible().map(|_| MEASURED).sum::<f64>() > most
        };
        let Some((samples, widest)) = widest.filter(|(_, widest)| pays(*widest)) else {
            let exact = possible().filter(|extent| {
                // Written so that a distance that is not a number counts as near.
                machine.parts[extent.part.0]
                    .shape
                    .distance(local)
                    .partial_cmp(&reach)
                    != Some(Ordering::Greater)
            });
            found.extend(exact.map(|extent| extent.part));
            return;
        };
        // Samples lie within their spacing of every surface point, so a surface within reach has a sample
        // within reach + spacing. kiddo takes and gives squared distances here.
        if widest >= 0.0 {
            let hits = samples
                .tree
                .query(&[local.x, local.y, local.z])
                .within::<SquaredEuclidean<f64>>(widest * widest * (1.0 + 1e-12))
                .unsorted()
                .execute();
            let mut last = usize::MAX;
            for hit in &hits {
                let item = usize::try_from(hit.item).ok();
                let Some(&owner) = item.and_then(|item| samples.owners.get(item)) else {
                    continue;
                };
                let within = reach + samples.spacing[owner].unwrap_or(f64::INFINITY);
                if owner != last
                    && !self.moved.contains(&owner)
                    && hit.distance <= within * within * (1.0 + 1e-12)
                {
                    last = owner;
                    found.push(self.parts[owner].part);
                }
            }
        }
        // Deep inside a solid no surface is near. Only solids deeper than the reach can hide a point so.
        for (own, (part, spacing)) in self.parts.iter().zip(&samples.spacing).enumerate() {
            let inside = || {
                part.may_reach(local, reach)
                    && part.depth > reach
                    && machine.parts[part.part.0].shape.distance(local) <= reach
            };
            let shape = &machine.parts[part.part.0].shape;
            let is_near = match (shape, spacing) {
                // A scan has an index of its own. Written so that a distance that is not a number counts as near.
                _ if matches!(shape, Shape::Scan(_)) || self.moved.contains(&own) => {
                    part.may_reach(local, reach)
                        && shape.distance(local).partial_cmp(&reach) != Some(Ordering::Greater)
                }
                (_, None) => true,
                (_, Some(_)) => inside(),
            };
            if is_near {
                found.push(part.part);
            }
        }
    }
}

impl<'m> Surroundings<'m> {
    /// Indexes a machine.
    pub fn new(machine: &'m Machine) -> Self {
        let mut bodies = Vec::new();
        bodies.resize_with(machine.bodies.len(), BodySurfaces::default);
        for (i, part) in machine.parts.iter().enumerate() {
            let Some(body) = bodies.get_mut(part.on.0) else {
                continue;
            };
            body.parts.push(Extent::of(machine, PartId(i)));
        }
        bodies.iter_mut().for_each(|body| body.index(machine));
        let pieces = machine.parts.iter().map(|p| p.shape.convex_pieces());
        Self {
            machine,
            bodies: bodies.into_iter().map(Arc::new).collect(),
            pieces: pieces.map(Arc::from).collect(),
        }
    }

    /// The same of a machine that differs from the one indexed by its joints alone and by where on its body one part is: as good
    /// as a new index, and made at once.
    pub fn with_moved<'n>(&self, machine: &'n Machine, part: Option<PartId>) -> Surroundings<'n> {
        let mut bodies = self.bodies.clone();
        let mut pieces = self.pieces.clone();
        if let Some(part) = part
            && let Some(body) = bodies.get_mut(machine.parts[part.0].on.0)
        {
            let body = Arc::make_mut(body);
            if let Some(own) = body.parts.iter().position(|own| own.part == part) {
                body.parts[own] = Extent::of(machine, part);
                body.moved.push(own);
            }
            pieces[part.0] = machine.parts[part.0].shape.convex_pieces().into();
        }
        Surroundings {
            machine,
            bodies,
            pieces,
        }
    }

    /// The machine that was indexed.
    pub fn machine(&self) -> &'m Machine {
        self.machine
    }

    /// The shapes that a part is made of, each convex but for a scan, which is one.
    pub fn pieces_of(&self, part: PartId) -> &[Shape] {
        match &*self.pieces[part.0] {
            [] => std::slice::from_ref(&self.machine.parts[part.0].shape),
            pieces => pieces,
        }
    }

    /// Every part whose signed distance from `p` is at most `reach` \[m\] in `stance`, by rising id; may hold a
    /// few that are somewhat farther (on a body with many parts, by less than the spacing of the samples, 10 mm for
    /// parts of ordinary size). What `found` held before is dropped. A point or reach that is not a number finds every part:
    /// what cannot be told is never clear.
    pub fn near(&self, stance: &Stance, p: &Point3<f64>, reach: f64, found: &mut Vec<PartId>) {
        found.clear();
        if !p.iter().all(|c| c.is_finite()) || !reach.is_finite() {
            found.extend((0..self.machine.parts.len()).map(PartId));
            return;
        }
        for (body, motion) in self.bodies.iter().zip(&stance.bodies) {
            if !body.parts.is_empty() {
                let local = motion.inverse_transform_point(p);
                body.candidates(self.machine, &local, reach, found);
            }
        }
        found.sort_unstable();
        found.dedup();
    }

    /// For each part, which of some points (machine frame, finite) has the nearest sample of that part's surface, as
    /// far as samples of it were the nearest of all anywhere. The exact search begins there.
    pub(super) fn nearest_samples(
        &self,
        stance: &Stance,
        points: &[Point3<f64>],
    ) -> Vec<Option<usize>> {
        let mut best: Vec<(f64, Option<usize>)> =
            vec![(f64::INFINITY, None); self.machine.parts.len()];
        for (body, motion) in self.bodies.iter().zip(&stance.bodies) {
            let Some(samples) = &body.samples else {
                continue;
            };
            for (i, p) in points.iter().enumerate() {
                let local = motion.inverse_transform_point(p);
                let hit = samples
                    .tree
                    .query(&[local.x, local.y, local.z])
                    .nearest_one::<SquaredEuclidean<f64>>()
                    .execute();
                let item = usize::try_from(hit.item).ok();
                let Some(&owner) = item.and_then(|item| samples.owners.get(item)) else {
                    continue;
                };
                let best = &mut best[body.parts[owner].part.0];
                if hit.distance < best.0 {
                    *best = (hit.distance, Some(i));
                }
            }
        }
        best.into_iter().map(|(_, point)| point).collect()
    }

    /// Signed distance from `p` to the surface of `part` in `stance` \[m\], negative inside.
    #[inline]
    pub fn distance(&self, stance: &Stance, part: PartId, p: &Point3<f64>) -> f64 {
        let part = &self.machine.parts[part.0];
        part.shape
            .distance(&stance.bodies[part.on.0].inverse_transform_point(p))
    }

    /// Whether the signed distance from `p` to the surface of `part` in `stance` is less than `than` \[m\].
    #[inline]
    pub fn is_nearer(&self, stance: &Stance, part: PartId, p: &Point3<f64>, than: f64) -> bool {
        let part = &self.machine.parts[part.0];
        let local = stance.bodies[part.on.0].inverse_transform_point(p);
        part.shape.is_nearer(&local, than)
    }

    /// Signed distance from `p` to the surface of `part` with its derivatives, all in the machine frame of `stance`, smoothed
    /// over so many metres where the part is hollow ([`Shape::eased`]).
    pub fn eased(&self, stance: &Stance, part: PartId, p: &Point3<f64>, over: f64) -> Eased {
        let part = &self.machine.parts[part.0];
        let motion = &stance.bodies[part.on.0];
        let eased = part.shape.eased(&motion.inverse_transform_point(p), over);
        if motion.rotation == UnitQuaternion::identity() {
            return eased;
        }
        eased.turned(&motion.rotation.to_rotation_matrix())
    }

    /// Signed distance from `p` to the surface of `part` in `stance` \[m\], and the normal there.
    pub fn slope(&self, stance: &Stance, part: PartId, p: &Point3<f64>) -> Slope {
        let part = &self.machine.parts[part.0];
        let motion = &stance.bodies[part.on.0];
        let mut slope = part.shape.slope(&motion.inverse_transform_point(p));
        slope.normal = motion.rotation * slope.normal;
        slope
    }

    /// The least distance from `curve` to every part in `stance`, in the order of the parts, to 10⁻⁷ m. Where
    /// several places are equally near one of them is taken, always the same.
    ///
    /// A curve that is not finite is infinitely deep inside every part: what cannot be told is never clear.
    pub fn nearest(&self, stance: &Stance, curve: &Curve) -> Vec<Nearest> {
        nearest::to_parts(self, stance, curve)
    }

    /// As [`Surroundings::nearest`], to one part, the search beginning at the place `at` \[m\] along the curve: quick where
    /// that is near the nearest place.
    pub fn nearest_from(
        &self,
        stance: &Stance,
        curve: &Searched<'_>,
        part: PartId,
        at: f64,
    ) -> Nearest {
        nearest::to_part(self, stance, curve, part, at)
    }

    /// The least distance from `curve` to each part that comes nearer than `least` tells of it, in the order of the parts: a
    /// place along the curve where the search begins \[m\], and a distance \[m\]. `None` where it does not, or by less than
    /// 10⁻⁷ m: quick where that is so of most.
    pub fn nearer(
        &self,
        stance: &Stance,
        curve: &Curve,
        least: &[(f64, f64)],
    ) -> Vec<Option<Nearest>> {
        nearest::nearer(self, stance, curve, least)
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
