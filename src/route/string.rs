//! The length of a span from string and gathered slack, reconciled with where its fixings are.
//!
//! Slack is gathered by hand with the steering at a stop or straight ahead until the span runs straight between its
//! two fixings; the straight distance there follows from the points, and both together give the length. Distances
//! are as good as `tolerance` on both points and as the angle of the stop.

use nalgebra::{Point3, UnitVector3, Vector3};

use crate::geometry::{FittedLength, LengthReading, fit_length, suspect_length};
use crate::harness::{Branch, StringReading, StringReadings, string_sd};
use crate::machine::{Joint, Stance};

use super::Route;

/// Standard deviation of a steering angle that was measured by hand \[rad\]: 1°, from memory.
const ANGLE_SD: f64 = std::f64::consts::PI / 180.0;

/// The length of a span from its readings.
#[derive(Debug, Clone, PartialEq)]
pub struct StringFit {
    /// The length \[m\].
    pub length: f64,
    /// Its standard deviation \[m\].
    pub sd: f64,
    /// What of that comes from string and hand, the fixings taken to be where they are \[m\].
    pub own_sd: f64,
    /// Every reading against that length.
    pub readings: Vec<StringOff>,
    /// Whether the readings miss each other by more than their errors explain, the one set aside counted.
    pub disagree: bool,
    /// The reading that is not counted, since all others agree without it.
    pub suspect: Option<StringReading>,
}

/// A reading against the fitted length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StringOff {
    /// Which reading.
    pub at: StringReading,
    /// What was read \[m\].
    pub read: f64,
    /// What the fitted length would have made it \[m\].
    pub expected: f64,
    /// Straight distance between the two fixings in that position of the steering \[m\]; `None` for a length.
    pub distance: Option<f64>,
}

impl StringOff {
    /// Read less expected \[m\].
    pub fn off(&self) -> f64 {
        self.read - self.expected
    }
}

impl Route {
    /// Fits the length of the span that leads to the fixing `lay` of `branch`. `None` where nothing was read.
    pub fn string_fit(
        &self,
        branch: &Branch,
        lay: usize,
        readings: &StringReadings,
    ) -> Option<StringFit> {
        let all = self.length_readings(branch, lay, readings);
        let fit = |kept: &dyn Fn(StringReading) -> bool| -> Option<FittedLength> {
            let kept: Vec<_> = all
                .iter()
                .filter(|(at, ..)| kept(*at))
                .map(|r| r.2)
                .collect();
            fit_length(&kept, self.tolerance)
        };
        let whole = fit(&|_| true)?;
        let aside = readings.set_aside;
        let fitted = fit(&|at| Some(at) != aside)?;
        Some(StringFit {
            length: fitted.length,
            sd: fitted.sd,
            own_sd: fitted.own_sd,
            readings: all
                .iter()
                .map(|&(at, distance, reading)| {
                    let read = reading.value - distance.unwrap_or(0.0);
                    StringOff {
                        at,
                        read,
                        expected: fitted.length - distance.unwrap_or(0.0),
                        distance,
                    }
                })
                .collect(),
            disagree: whole.disagree(),
            suspect: aside,
        })
    }

    /// The one reading of a span that disagrees with all others, which agree among themselves.
    pub fn suspect_reading(
        &self,
        branch: &Branch,
        lay: usize,
        readings: &StringReadings,
    ) -> Option<StringReading> {
        let all = self.length_readings(branch, lay, readings);
        let plain: Vec<_> = all.iter().map(|reading| reading.2).collect();
        suspect_length(&plain, self.tolerance).map(|index| all[index].0)
    }

    /// Every reading that was taken, with the straight distance of the fixings where it was, as a length.
    fn length_readings(
        &self,
        branch: &Branch,
        lay: usize,
        readings: &StringReadings,
    ) -> Vec<(StringReading, Option<f64>, LengthReading)> {
        let taken = |at: StringReading| {
            let read = readings.read(at)?;
            let Some(angle) = self.angle_of(readings, at) else {
                let reading = LengthReading {
                    value: read,
                    sd: string_sd(read),
                    by_points: [0.0; 6],
                };
                return Some((at, None, reading));
            };
            let stance = self.turned(readings, angle);
            let (from, to) = self.ends(branch, lay, &stance);
            let distance = (to - from).norm();
            let along = UnitVector3::try_new(to - from, 0.0).map_or_else(Vector3::zeros, |u| *u);
            let in_body = |lay: usize| {
                let on = branch.lay[lay].fixing.on;
                stance.bodies[on.0].rotation.inverse() * along
            };
            let (a, b) = (-in_body(lay - 1), in_body(lay));
            let by_angle = ANGLE_SD * self.distance_rate(branch, lay, readings, angle);
            let reading = LengthReading {
                value: distance + read,
                sd: string_sd(read).hypot(by_angle),
                by_points: [a.x, a.y, a.z, b.x, b.y, b.z],
            };
            Some((at, Some(distance), reading))
        };
        StringReading::ALL.into_iter().filter_map(taken).collect()
    }

    /// The joint's value in a reading of slack \[rad\]; `None` for a length, which no angle changes. Left is the
    /// upper stop, unless the axis points down.
    fn angle_of(&self, readings: &StringReadings, at: StringReading) -> Option<f64> {
        let joint = self.machine.bodies.get(readings.joint.0)?.joint;
        let (from, to) = joint.stops();
        let upright = !matches!(joint, Joint::Turns { axis, .. } if axis.z < 0.0);
        match at {
            StringReading::Length => None,
            StringReading::Straight => Some(joint.rest()),
            StringReading::Left => Some(if upright { to } else { from }),
            StringReading::Right => Some(if upright { from } else { to }),
        }
    }

    /// Where the bodies are with one joint at `value` and the others at rest.
    fn turned(&self, readings: &StringReadings, value: f64) -> Stance {
        let mut joints = self.machine.rest();
        if let Some(joint) = joints.get_mut(readings.joint.0) {
            *joint = value;
        }
        self.machine.stance(&joints)
    }

    fn ends(&self, branch: &Branch, lay: usize, stance: &Stance) -> (Point3<f64>, Point3<f64>) {
        (
            self.fixing_position(branch, lay - 1, stance),
            self.fixing_position(branch, lay, stance),
        )
    }

    /// How fast the straight distance grows with the joint's angle \[m/rad\]: the central difference over a
    /// hundredth of a degree, where its error is far below that of any reading.
    fn distance_rate(
        &self,
        branch: &Branch,
        lay: usize,
        readings: &StringReadings,
        angle: f64,
    ) -> f64 {
        const STEP: f64 = 0.01 * ANGLE_SD;
        let at = |angle: f64| {
            let (from, to) = self.ends(branch, lay, &self.turned(readings, angle));
            (to - from).norm()
        };
        (at(angle + STEP) - at(angle - STEP)) / (2.0 * STEP)
    }
}
