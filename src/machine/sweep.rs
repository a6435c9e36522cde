//! The poses of a sweep, and the order in which to walk them.

use super::{BodyId, Joint, Machine};

/// Widest step of a turning joint \[rad\]: 2°.
const TURN_STEP: f64 = std::f64::consts::PI / 90.0;

/// Fewest steps of a sliding joint from end to end.
const SLIDE_STEPS: f64 = 5.0;

/// Most steps on one side of rest. A joint would have to turn ten times about itself to need more; beyond,
/// the steps get wider.
const MOST_STEPS: f64 = 1800.0;

/// Most joints of which every combination of ends is a pose: 2^6 corners.
pub(crate) const MOST_CORNER_JOINTS: usize = 6;

/// One value a body's joint: radians for a turning one, metres for a sliding one, zero for a fixed one.
#[derive(Debug, Clone, PartialEq)]
pub struct Pose {
    /// Joint values, in the order of [`super::Machine::bodies`].
    pub joints: Vec<f64>,
}

/// One step of the walk: go to `to` starting from the solution at `from`.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseStep {
    /// Index into [`Sweep::poses`], already solved. The first step of the walk has none: it is rest.
    pub from: Option<usize>,
    /// Index into [`Sweep::poses`].
    pub to: usize,
    /// The step continues the same joint in the same direction as the step that reached `from`, which
    /// lets the walk extrapolate.
    pub straight_on: bool,
}

/// The poses that are reported, and a walk that reaches each from a neighbour.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// The poses; their index is the pose's `id` in the report.
    pub poses: Vec<Pose>,
    /// Index of the rest pose in `poses`.
    pub rest: usize,
    /// Every pose exactly once, rest first.
    pub walk: Vec<PoseStep>,
}

impl Sweep {
    /// The default sweep of a machine: each joint on its own from stop to stop with the others at rest
    /// (turning joints in steps of at most 2°, sliding ones in at least five steps; both stops and rest are
    /// always among them), then every combination of stops.
    ///
    /// Ids: the poses of the first turning joint with its value rising, then those of the other joints in the
    /// order of the file, then the combinations. No pose stands twice. Of more than six moving joints the
    /// first six are combined; [`Sweep::with_corners`] combines those that are asked for.
    pub fn of(machine: &Machine) -> Self {
        Self::with_corners(machine, &[machine.moving()])
    }

    /// As [`Sweep::of`], but combined are the joints of the bodies in each of `groups` in turn (of each, the
    /// first six that move), with the joints outside that group at rest.
    pub fn with_corners(machine: &Machine, groups: &[Vec<BodyId>]) -> Self {
        Self::with_steps(machine, groups, 1.0)
    }

    /// As [`Sweep::with_corners`], with steps `stride` times as wide between the stops.
    pub fn with_steps(machine: &Machine, groups: &[Vec<BodyId>], stride: f64) -> Self {
        let rest = machine.rest();
        let mut order = machine.moving();
        let turns = |id: &BodyId| matches!(machine.bodies[id.0].joint, Joint::Turns { .. });
        if let Some(first) = order.iter().position(turns) {
            order[..=first].rotate_right(1);
        }

        let mut sweep = Self {
            poses: Vec::new(),
            rest: 0,
            walk: Vec::new(),
        };
        let mut strides = vec![1.0; rest.len()];
        let mut runs = Vec::new();
        for (nth, &id) in order.iter().enumerate() {
            let (below, above) = values(&machine.bodies[id.0].joint, stride);
            strides[id.0] = step_of(rest[id.0], &below, &above);
            let below = sweep.add_run(&rest, id, &below);
            if nth == 0 {
                sweep.rest = sweep.add(rest.clone());
            }
            let above = sweep.add_run(&rest, id, &above);
            runs.push((below, above));
        }
        if order.is_empty() {
            sweep.rest = sweep.add(rest.clone());
        }

        sweep.walk.push(PoseStep {
            from: None,
            to: sweep.rest,
            straight_on: false,
        });
        for (below, above) in runs {
            sweep.walk_outward(below.rev());
            sweep.walk_outward(above);
        }
        sweep.add_corners(machine, groups, &rest, &strides);
        sweep
    }

    fn add(&mut self, joints: Vec<f64>) -> usize {
        self.poses.push(Pose { joints });
        self.poses.len() - 1
    }

    /// Adds the poses in which one joint has each of `values`, and returns their ids.
    fn add_run(&mut self, rest: &[f64], id: BodyId, values: &[f64]) -> std::ops::Range<usize> {
        let start = self.poses.len();
        for &value in values {
            let mut joints = rest.to_vec();
            joints[id.0] = value;
            self.add(joints);
        }
        start..self.poses.len()
    }

    /// Walks from rest through `ids`.
    fn walk_outward(&mut self, ids: impl Iterator<Item = usize>) {
        let mut from = self.rest;
        for to in ids {
            self.walk.push(PoseStep {
                from: Some(from),
                to,
                straight_on: from != self.rest,
            });
            from = to;
        }
    }

    /// Adds every combination of stops that is not yet a pose, and walks to each from the nearest pose
    /// already solved, the nearest first. `strides` are the joints' steps: the yardstick of "near".
    fn add_corners(
        &mut self,
        machine: &Machine,
        groups: &[Vec<BodyId>],
        rest: &[f64],
        strides: &[f64],
    ) {
        let first = self.poses.len();
        for group in groups {
            let mut combined = machine.moving();
            combined.retain(|id| group.contains(id));
            combined.truncate(MOST_CORNER_JOINTS);
            for corner in 0..1usize << combined.len() {
                let mut joints = rest.to_vec();
                // The first joint changes slowest, so that ids run as the joints stand in the file.
                for (bit, id) in combined.iter().rev().enumerate() {
                    let (from, to) = machine.bodies[id.0].joint.stops();
                    joints[id.0] = if corner >> bit & 1 == 0 { from } else { to };
                }
                let pose = Pose { joints };
                if !self.poses.contains(&pose) {
                    self.poses.push(pose);
                }
            }
        }

        let apart = |a: &Pose, b: &Pose| -> f64 {
            let steps = a.joints.iter().zip(&b.joints).zip(strides);
            steps.map(|((a, b), stride)| (a - b).abs() / stride).sum()
        };
        // For each corner still to come, how near the nearest solved pose is, and which it is.
        let mut open: Vec<(f64, usize, usize)> = (first..self.poses.len())
            .map(|corner| {
                let mut nearest = (f64::INFINITY, self.rest, corner);
                for solved in 0..first {
                    let steps = apart(&self.poses[solved], &self.poses[corner]);
                    if steps < nearest.0 {
                        nearest = (steps, solved, corner);
                    }
                }
                nearest
            })
            .collect();
        while let Some(next) = (0..open.len()).min_by(|&a, &b| open[a].0.total_cmp(&open[b].0)) {
            let (_, from, to) = open.remove(next);
            self.walk.push(PoseStep {
                from: Some(from),
                to,
                straight_on: false,
            });
            for corner in &mut open {
                let steps = apart(&self.poses[to], &self.poses[corner.2]);
                if steps < corner.0 {
                    *corner = (steps, to, corner.2);
                }
            }
        }
    }
}

/// The values of a joint below and above rest, rising, without rest itself. Zero, where it lies between the
/// stops, is rest.
fn values(joint: &Joint, stride: f64) -> (Vec<f64>, Vec<f64>) {
    let ((from, to), rest) = (joint.stops(), joint.rest());
    let steps = |side: f64| {
        let steps = match joint {
            Joint::Fixed => 0.0,
            // An angle that is a whole number of steps but for rounding needs no step more.
            Joint::Turns { .. } => (side / (stride * TURN_STEP) - 1e-9).ceil(),
            Joint::Slides { .. } => (SLIDE_STEPS / stride * side / (to - from) - 1e-9).ceil(),
        };
        if side > 0.0 {
            steps.clamp(1.0, MOST_STEPS)
        } else {
            0.0
        }
    };
    (
        run(from, rest, steps(rest - from)),
        run(to, rest, steps(to - rest)).into_iter().rev().collect(),
    )
}

/// From a stop toward rest in equal steps: the stop itself first, rest left out.
fn run(stop: f64, rest: f64, steps: f64) -> Vec<f64> {
    let mut values = Vec::new();
    if steps > 0.0 {
        // The stop as it is, not as rounding would have it.
        values.push(stop);
    }
    let mut left = steps - 1.0;
    while left > 0.0 {
        values.push(rest + (stop - rest) * (left / steps));
        left -= 1.0;
    }
    values
}

/// Length of one step of a joint, the longer of its two sides.
fn step_of(rest: f64, below: &[f64], above: &[f64]) -> f64 {
    let down = below.last().map_or(0.0, |last| rest - last);
    let up = above.first().map_or(0.0, |first| first - rest);
    down.max(up)
}

impl Pose {
    /// The pose in words: "steering 38° left", "steering straight", "steering 38° right, seat 12 mm".
    ///
    /// A joint that turns about a mostly upright axis (within 45° of it) is named by the side it turns to and
    /// always shown; any other is shown, by its number, where it is not where it was drawn. A pose with
    /// nothing to show is "at rest".
    pub fn label(&self, machine: &Machine) -> String {
        let mut words = Vec::new();
        for id in machine.moving() {
            let body = &machine.bodies[id.0];
            let value = self.joints.get(id.0).copied().unwrap_or(0.0);
            match body.joint {
                Joint::Fixed => {}
                Joint::Turns { axis, .. } if axis.z.abs() >= std::f64::consts::FRAC_1_SQRT_2 => {
                    let to_left = value.copysign(value * axis.z);
                    let angle = tenths(to_left.abs().to_degrees());
                    let side = if to_left > 0.0 { "left" } else { "right" };
                    words.push(if angle == "0" {
                        format!("{} straight", body.name)
                    } else {
                        format!("{} {angle}° {side}", body.name)
                    });
                }
                Joint::Turns { .. } => {
                    let angle = tenths(value.to_degrees());
                    if angle != "0" {
                        words.push(format!("{} {angle}°", body.name));
                    }
                }
                Joint::Slides { .. } => {
                    let travel = tenths(value * 1e3);
                    if travel != "0" {
                        words.push(format!("{} {travel} mm", body.name));
                    }
                }
            }
        }
        if words.is_empty() {
            "at rest".to_owned()
        } else {
            words.join(", ")
        }
    }
}

/// A number to a tenth, without a needless ".0" or "-0".
fn tenths(value: f64) -> String {
    let text = format!("{value:.1}");
    match text.strip_suffix(".0") {
        Some("-0") => "0".to_owned(),
        Some(whole) => whole.to_owned(),
        None => text,
    }
}
