//! Contact: parts press on the branch where it would sink into them.
//!
//! At four places of every element the signed distance to each part nearby gives a one-sided potential: zero
//! until [`ONSET`] before touching, then cubic, then quadratic, so that force and stiffness are continuous.

use std::borrow::Cow;
use std::sync::Arc;

use nalgebra::{Matrix3, Point3, Vector3};

use crate::geometry::{Eased, outer};
use crate::machine::{PartId, Stance, Surroundings};

use super::element::{Element, Four, combine};
use super::near::Lists;

/// Where along an element contact is looked at; each place stands for a quarter of it.
pub(super) const PLACES: [f64; 4] = [0.125, 0.375, 0.625, 0.875];

/// How long before touching the potential begins \[m\]. Small against the 0.2 mm that the branch may sink in.
pub(super) const ONSET: f64 = 0.1e-3;

/// Over how much the distance to a hollow part is smoothed \[m\], so that the branch finds rest in the hollow; and by how much
/// that brings it nearer at most where many pieces meet. Small against the 0.2 mm that the branch may sink in.
const HOLLOW: f64 = 10e-6;
const HOLLOWEST: f64 = 4.0 * HOLLOW;

/// Two parts are opposite each other where the cosine between their normals is below this.
pub(super) const OPPOSITE: f64 = -0.5;

/// How far from a fixing the depth at which it sits in its part fades out, in diameters of the branch.
const FADING: f64 = 8.0;

/// A fixing that sits on a part. Positions are taped, so it may well lie a few millimetres inside: there the branch may
/// sink in at will, and farther along it less and less.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seated {
    /// Index of the fixing in the branch's lay.
    pub(super) lay: usize,
    pub(super) part: PartId,
    /// Place of the fixing along the branch \[m\].
    pub(super) at: f64,
    /// How deep the branch sits in the part there \[m\]; not below zero.
    pub(super) depth: f64,
}

impl Seated {
    /// How deep the branch may sink in at `at`.
    fn allows(&self, at: f64, radius: f64) -> f64 {
        let beyond = (at - self.at).abs() / (2.0 * radius) - 1.0;
        if beyond <= 0.0 {
            f64::INFINITY
        } else {
            self.depth * (1.0 - beyond / FADING).max(0.0)
        }
    }
}

/// The parts around one branch in one pose.
#[derive(Debug)]
pub(super) struct Contacts<'m> {
    pub(super) surroundings: &'m Surroundings<'m>,
    pub(super) stance: Stance,
    /// Half the diameter of the branch \[m\].
    pub(super) radius: f64,
    /// Force per length and depth \[N/m²\].
    pub(super) stiffness: f64,
    pub(super) seated: Cow<'m, [Seated]>,
    lists: Arc<Lists>,
    /// How far a part has moved at most since it was listed \[m\].
    shifted: f64,
}

/// Derivatives of the potential at one place.
struct Push {
    energy: f64,
    force: Vector3<f64>,
    stiffness: Matrix3<f64>,
}

/// What presses on one place of an element.
#[derive(Debug, Clone)]
pub(super) struct Pushed {
    pub(super) element: usize,
    /// Which of [`PLACES`] it is.
    place: usize,
    /// What the place has of each of the element's four vectors.
    weights: [f64; 4],
    force: Vector3<f64>,
    stiffness: Matrix3<f64>,
}

impl Pushed {
    /// Which place of which element it is.
    pub(super) fn place(&self) -> (usize, usize) {
        (self.element, self.place)
    }

    /// Adds the force to that of its element.
    pub(super) fn add_force(&self, force: &mut Four) {
        for (force, n) in force.iter_mut().zip(self.weights) {
            *force += self.force * n;
        }
    }

    /// The place, and the force per length there \[N/m\], on an element of length `h`.
    pub(super) fn pressure(&self, h: f64) -> (usize, f64) {
        (self.place, self.force.norm() / (0.25 * h))
    }

    /// Adds the second derivative to the lower blocks of its element.
    pub(super) fn add_stiffness(&self, k: &mut [[Matrix3<f64>; 4]; 4]) {
        for a in 0..4 {
            for b in 0..=a {
                k[a][b] += self.stiffness * (self.weights[a] * self.weights[b]);
            }
        }
    }
}

impl<'m> Contacts<'m> {
    pub(super) fn new(
        surroundings: &'m Surroundings<'m>,
        stance: Stance,
        radius: f64,
        stiffness: f64,
        seated: Cow<'m, [Seated]>,
    ) -> Self {
        Self {
            surroundings,
            stance,
            radius,
            stiffness,
            seated,
            lists: Arc::default(),
            shifted: 0.0,
        }
    }

    /// What was listed.
    pub(super) fn lists(&self) -> Arc<Lists> {
        Arc::clone(&self.lists)
    }

    /// Takes what was listed before, of parts that have not moved by more than `shifted` \[m\] since.
    pub(super) fn take(&mut self, lists: Arc<Lists>, shifted: f64) {
        (self.lists, self.shifted) = (lists, shifted);
    }

    /// Whether the elements are where all that they may meet is listed.
    pub(super) fn reach_to(&self, elements: impl Iterator<Item = Element>) -> bool {
        self.lists.reach_to(elements, self.shifted)
    }

    /// Lists the parts that each element may meet before it has moved by `room` \[m\].
    pub(super) fn look_around(&mut self, elements: impl Iterator<Item = Element>, room: f64) {
        let lists = Lists::new(
            self.surroundings,
            &self.stance,
            elements,
            (self.radius, room),
        );
        self.take(Arc::new(lists), 0.0);
    }

    /// Whether any part is near element `j`.
    #[inline]
    pub(super) fn touches(&self, j: usize) -> bool {
        self.lists.has_any(j)
    }

    /// The parts that may be within `reach` \[m\] of a place on an element, each with how deep a fixing lets the branch
    /// sink into it.
    fn candidates(
        &self,
        element: usize,
        at: f64,
        p: &Point3<f64>,
        reach: f64,
    ) -> impl Iterator<Item = (PartId, f64)> + '_ {
        let parts = self.lists.within(element, p, reach, self.shifted);
        parts.filter_map(move |part| {
            let own = self.seated.iter().filter(|seated| seated.part == part);
            let allowed = own
                .map(|seated| seated.allows(at, self.radius))
                .fold(0.0, f64::max);
            allowed.is_finite().then_some((part, allowed))
        })
    }

    /// Whether any part is within `reach` \[m\] of a place on an element, as far as a fixing does not let the branch sink
    /// in.
    fn meets(&self, element: usize, at: f64, p: &Point3<f64>, reach: f64) -> bool {
        self.candidates(element, at, p, reach)
            .any(|(part, allowed)| {
                self.surroundings
                    .is_nearer(&self.stance, part, p, reach - allowed)
            })
    }

    /// The parts within `reach` \[m\] of a place on an element, as far as a fixing does not let the branch sink in.
    pub(super) fn touches_at(
        &self,
        element: usize,
        at: f64,
        p: &Point3<f64>,
        reach: f64,
    ) -> impl Iterator<Item = (PartId, Eased)> {
        self.candidates(element, at, p, reach)
            .map(|(part, allowed)| {
                let mut contact = self.surroundings.eased(&self.stance, part, p, HOLLOW);
                contact.distance += allowed;
                (part, contact)
            })
            .filter(move |(_, contact)| contact.distance < reach)
    }

    /// What presses on a place. Between two parts that leave less than the diameter the branch gives way: it is pressed to
    /// the middle of the gap and no further (how far it is squeezed is for the checks to say).
    fn push(&self, element: usize, at: f64, p: &Vector3<f64>, length: f64) -> Option<Push> {
        let p = Point3::from(*p);
        if !self.meets(element, at, &p, self.radius + ONSET + HOLLOWEST) {
            return None;
        }
        let touches = self.touches_at(element, at, &p, 2.0 * self.radius + ONSET);
        let touches: Vec<Eased> = touches.map(|(_, contact)| contact).collect();
        let mut sum = Push {
            energy: 0.0,
            force: Vector3::zeros(),
            stiffness: Matrix3::zeros(),
        };
        for touch in &touches {
            let n = touch.gradient;
            let opposite = touches
                .iter()
                .filter(|other| other.gradient.dot(&n) < OPPOSITE);
            let across = opposite.min_by(|a, b| a.distance.total_cmp(&b.distance));
            let squeezed = across.filter(|a| a.distance + touch.distance < 2.0 * self.radius);
            let (depth, slope, bend) = match squeezed {
                Some(across) => (
                    0.5 * (across.distance - touch.distance) + ONSET,
                    (across.gradient - n) * 0.5,
                    (across.bend - touch.bend) * 0.5,
                ),
                None => (self.radius + ONSET - touch.distance, -n, -touch.bend),
            };
            if depth <= 0.0 {
                continue;
            }
            let (energy, force, second) = potential(depth, self.stiffness * length);
            sum.energy += energy;
            sum.force += slope * force;
            sum.stiffness += outer(&(slope * second), &slope) + bend * force;
        }
        Some(sum)
    }

    /// Contact energy of element `j` that starts at `start` along the branch.
    pub(super) fn energy(&self, j: usize, start: f64, element: &Element) -> f64 {
        let places = PLACES.iter().filter_map(|&xi| {
            let p = combine(&shape(element.h, xi), &element.q);
            self.push(j, start + xi * element.h, &p, 0.25 * element.h)
        });
        places.map(|push| push.energy).sum()
    }

    /// What presses on element `j`.
    pub(super) fn pushes<'c>(
        &'c self,
        j: usize,
        start: f64,
        element: &'c Element,
    ) -> impl Iterator<Item = Pushed> + 'c {
        PLACES
            .into_iter()
            .enumerate()
            .filter_map(move |(place, xi)| {
                let weights = shape(element.h, xi);
                let p = combine(&weights, &element.q);
                let push = self.push(j, start + xi * element.h, &p, 0.25 * element.h)?;
                Some(Pushed {
                    element: j,
                    place,
                    weights,
                    force: push.force,
                    stiffness: push.stiffness,
                })
            })
    }

    /// Derivative of the contact energy of element `j` by the element's length, its four vectors held \[N\].
    pub(super) fn by_length(&self, j: usize, start: f64, element: &Element) -> f64 {
        let places = PLACES.iter().filter_map(|&xi| {
            let p = combine(&shape(element.h, xi), &element.q);
            let push = self.push(j, start + xi * element.h, &p, 0.25 * element.h)?;
            let (x, y) = (xi, 1.0 - xi);
            let moved = element.q[1] * (x * y * y) - element.q[3] * (x * x * y);
            Some(push.energy / element.h + push.force.dot(&moved))
        });
        places.sum()
    }

    /// How deep the branch sinks in \[m\] where a force per length \[N/m\] presses on it.
    pub(super) fn depth(&self, pressure: f64) -> f64 {
        pressure / self.stiffness - 0.5 * ONSET
    }
}

/// Energy, force and stiffness at a depth counted from [`ONSET`] before touching.
fn potential(depth: f64, k: f64) -> (f64, f64, f64) {
    if depth < ONSET {
        let (energy, force) = (depth.powi(3) / (6.0 * ONSET), depth * depth / (2.0 * ONSET));
        (k * energy, k * force, k * depth / ONSET)
    } else {
        let energy = 0.5 * depth * (depth - ONSET) + ONSET * ONSET / 6.0;
        (k * energy, k * (depth - 0.5 * ONSET), k)
    }
}

/// Hermite shape functions at ξ of an element of length `h`.
#[inline]
pub(super) fn shape(h: f64, xi: f64) -> [f64; 4] {
    let (x, y) = (xi, 1.0 - xi);
    [
        y * y * (1.0 + 2.0 * x),
        h * x * y * y,
        x * x * (1.0 + 2.0 * y),
        -h * x * x * y,
    ]
}
