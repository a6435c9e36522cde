//! Contact: parts press on the branch where it would sink into them.
//!
//! At four places of every element the signed distance to each part nearby gives a one-sided potential: zero
//! until [`ONSET`] before touching, then cubic, then quadratic, so that force and stiffness are continuous.

use nalgebra::{Matrix3, Point3, Vector3};

use crate::machine::{PartId, Stance, Surroundings};

use super::element::{Element, Four, combine};

/// Where along an element contact is looked at; each place stands for a quarter of it.
pub(super) const PLACES: [f64; 4] = [0.125, 0.375, 0.625, 0.875];

/// How long before touching the potential begins \[m\]. Small against the 0.2 mm that the branch may sink in.
const ONSET: f64 = 0.1e-3;

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
    /// Parts near each element.
    near: Vec<Vec<PartId>>,
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
        for element in elements {
            let mut found = Vec::new();
            let middle = (element.q[0] + element.q[2]) * 0.5;
            let reach = 0.6 * element.h + self.radius + ONSET + room;
            self.surroundings
                .near(&self.stance, &Point3::from(middle), reach, &mut found);
            self.near.push(found);
        }
    }

    /// Whether any part is near element `j`.
    #[inline]
    pub(super) fn touches(&self, j: usize) -> bool {
        self.near.get(j).is_some_and(|parts| !parts.is_empty())
    }

    fn push(&self, element: usize, at: f64, p: &Vector3<f64>, length: f64) -> Option<Push> {
        let mut sum: Option<Push> = None;
        for &part in &self.near[element] {
            let own = self.seated.iter().filter(|seated| seated.part == part);
            let allowed = own
                .map(|seated| seated.allows(at, self.radius))
                .fold(0.0, f64::max);
            if allowed.is_infinite() {
                continue;
            }
            let contact = self
                .surroundings
                .contact(&self.stance, part, &Point3::from(*p));
            let depth = self.radius + ONSET - allowed - contact.distance;
            if depth <= 0.0 {
                continue;
            }
            let k = self.stiffness * length;
            let (energy, slope, second) = if depth < ONSET {
                (
                    k * depth.powi(3) / (6.0 * ONSET),
                    k * depth * depth / (2.0 * ONSET),
                    k * depth / ONSET,
                )
            } else {
                let energy = k * (0.5 * depth * (depth - ONSET) + ONSET * ONSET / 6.0);
                (energy, k * (depth - 0.5 * ONSET), k)
            };
            let n = contact.normal.into_inner();
            let sum = sum.get_or_insert(Push {
                energy: 0.0,
                force: Vector3::zeros(),
                stiffness: Matrix3::zeros(),
            });
            sum.energy += energy;
            sum.force -= n * slope;
            sum.stiffness += n * n.transpose() * second - contact.bend * slope;
        }
        sum
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
