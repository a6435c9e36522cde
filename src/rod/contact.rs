//! Contact: parts press on the branch where it would sink into them.
//!
//! At four places of every element the signed distance to each part nearby gives a one-sided potential: zero
//! until [`ONSET`] before touching, then cubic, then quadratic, so that force and stiffness are continuous.

use nalgebra::{Matrix3, Point3, Vector3};

use crate::geometry::Contact;
use crate::machine::{PartId, Stance, Surroundings};

use super::element::{Element, Four, combine};

/// Where along an element contact is looked at; each place stands for a quarter of it.
pub(super) const PLACES: [f64; 4] = [0.125, 0.375, 0.625, 0.875];

/// How long before touching the potential begins \[m\]. Small against the 0.2 mm that the branch may sink in.
const ONSET: f64 = 0.1e-3;

/// Two parts are opposite each other where the cosine between their normals is below this.
const OPPOSITE: f64 = -0.5;

/// How far beyond an element parts are still listed \[m\]: the branch may move so much before the lists are
/// made again.
pub(super) const REACH: f64 = 10e-3;

/// How far from a fixing the depth at which it sits in its part fades out, in diameters of the branch.
const FADING: f64 = 8.0;

/// A fixing that sits on a part. Positions are taped, so it may well lie a few millimetres inside: there the branch may
/// sink in at will, and farther along it less and less.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Seated {
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
    pub(super) seated: &'m [Seated],
    /// Around each element.
    near: Vec<Around>,
}

/// The parts near one element.
#[derive(Debug)]
struct Around {
    /// Where the element's middle was when they were listed.
    middle: Vector3<f64>,
    /// Each part with its distance from there \[m\]: a place that is s away from it is at most s nearer to the part, so
    /// most parts need not be looked at again.
    parts: Vec<(PartId, f64)>,
}

/// Derivatives of the potential at one place.
struct Push {
    energy: f64,
    force: Vector3<f64>,
    stiffness: Matrix3<f64>,
}

impl<'m> Contacts<'m> {
    pub(super) fn new(
        surroundings: &'m Surroundings<'m>,
        stance: Stance,
        radius: f64,
        stiffness: f64,
        seated: &'m [Seated],
    ) -> Self {
        Self {
            surroundings,
            stance,
            radius,
            stiffness,
            seated,
            near: Vec::new(),
        }
    }

    /// Lists the parts that each element may meet before it has moved by `room` \[m\].
    pub(super) fn look_around(&mut self, elements: impl Iterator<Item = Element>, room: f64) {
        self.near.clear();
        let mut found = Vec::new();
        for element in elements {
            found.clear();
            let middle = (element.q[0] + element.q[2]) * 0.5;
            let reach = 0.6 * element.h + self.radius + ONSET + room;
            let p = Point3::from(middle);
            self.surroundings.near(&self.stance, &p, reach, &mut found);
            let with_distance = found.iter().map(|&part| {
                (
                    part,
                    self.surroundings.contact(&self.stance, part, &p).distance,
                )
            });
            // Written so that a distance that is not a number stays.
            let parts = with_distance
                .filter(|&(_, distance)| !(distance > reach))
                .collect();
            self.near.push(Around { middle, parts });
        }
    }

    /// Whether any part is near element `j`.
    #[inline]
    pub(super) fn touches(&self, j: usize) -> bool {
        self.near
            .get(j)
            .is_some_and(|around| !around.parts.is_empty())
    }

    /// The parts within `reach` \[m\] of a place on an element, as far as a fixing does not let the branch sink in.
    fn touches_at(&self, element: usize, at: f64, p: &Vector3<f64>, reach: f64) -> Vec<Contact> {
        let around = &self.near[element];
        let moved = (p - around.middle).norm();
        let mut touches = Vec::new();
        for &(part, distance) in &around.parts {
            if distance - moved > reach {
                continue;
            }
            let own = self.seated.iter().filter(|seated| seated.part == part);
            let allowed = own
                .map(|seated| seated.allows(at, self.radius))
                .fold(0.0, f64::max);
            if allowed.is_infinite() {
                continue;
            }
            let mut contact = self
                .surroundings
                .contact(&self.stance, part, &Point3::from(*p));
            contact.distance += allowed;
            if contact.distance < reach {
                touches.push(contact);
            }
        }
        touches
    }

    /// What presses on a place. Between two parts that leave less than the diameter the branch gives way: it is pressed to
    /// the middle of the gap and no further (how far it is squeezed is for the checks to say).
    fn push(&self, element: usize, at: f64, p: &Vector3<f64>, length: f64) -> Option<Push> {
        if self
            .touches_at(element, at, p, self.radius + ONSET)
            .is_empty()
        {
            return None;
        }
        let touches = self.touches_at(element, at, p, 2.0 * self.radius + ONSET);
        let mut sum = Push {
            energy: 0.0,
            force: Vector3::zeros(),
            stiffness: Matrix3::zeros(),
        };
        for touch in &touches {
            let n = touch.normal.into_inner();
            let opposite = touches
                .iter()
                .filter(|other| other.normal.dot(&n) < OPPOSITE);
            let across = opposite.min_by(|a, b| a.distance.total_cmp(&b.distance));
            let squeezed = across.filter(|a| a.distance + touch.distance < 2.0 * self.radius);
            let (depth, slope, bend) = match squeezed {
                Some(across) => (
                    0.5 * (across.distance - touch.distance) + ONSET,
                    (across.normal.into_inner() - n) * 0.5,
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
            sum.stiffness += slope * slope.transpose() * second + bend * force;
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

    /// Adds the force of contact on element `j`; true if there was any.
    pub(super) fn add_force(&self, j: usize, start: f64, element: &Element, force: &mut Four) {
        for xi in PLACES {
            let n = shape(element.h, xi);
            let p = combine(&n, &element.q);
            if let Some(push) = self.push(j, start + xi * element.h, &p, 0.25 * element.h) {
                for (force, n) in force.iter_mut().zip(n) {
                    *force += push.force * n;
                }
            }
        }
    }

    /// Adds the second derivative of contact on element `j` to its lower blocks.
    pub(super) fn add_stiffness(
        &self,
        j: usize,
        start: f64,
        element: &Element,
        k: &mut [[Matrix3<f64>; 4]; 4],
    ) {
        for xi in PLACES {
            let n = shape(element.h, xi);
            let p = combine(&n, &element.q);
            if let Some(push) = self.push(j, start + xi * element.h, &p, 0.25 * element.h) {
                for a in 0..4 {
                    for b in 0..=a {
                        k[a][b] += push.stiffness * (n[a] * n[b]);
                    }
                }
            }
        }
    }

    /// Force per length that presses on the branch at each place of element `j`, and how deep it sinks at
    /// most \[m\].
    pub(super) fn pressure(&self, j: usize, start: f64, element: &Element) -> ([f64; 4], f64) {
        let mut deepest = 0.0;
        let pressure = PLACES.map(|xi| {
            let p = combine(&shape(element.h, xi), &element.q);
            let force = self
                .push(j, start + xi * element.h, &p, 1.0)
                .map_or(0.0, |push| push.force.norm());
            deepest = f64::max(deepest, force / self.stiffness - 0.5 * ONSET);
            force
        });
        (pressure, deepest)
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
