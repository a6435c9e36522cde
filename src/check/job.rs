//! What every check is given, and what it gives back.

use crate::harness::{Branch, BranchId};
use crate::machine::{BodyId, Joint, Machine, Surroundings};
use crate::quantity::{Kind, Units};
use crate::rod::{BranchSolution, Shape, Solution, Station};
use crate::route::{Route, Span};

use super::reach::Reach;
use super::spread::has_spread;
use super::wording::{
    joints_in_words, length, length_up, place_in_words, pose_in_words, span_in_words,
};
use super::{Blank, Finding, LeastGap, Limit, LimitKey, Limits, Verdict};

/// What every check is given.
#[derive(Debug)]
pub(super) struct Job<'a> {
    pub(super) route: &'a Route,
    pub(super) solution: &'a Solution,
    pub(super) surroundings: &'a Surroundings<'a>,
    pub(super) limits: &'a Limits,
    /// The branches to look at; the others only add to what is summed over all.
    pub(super) branches: &'a [BranchId],
    /// Least gap to every part, by branch of the route; empty for a branch that is not looked at, infinite for a part
    /// that is not wanted.
    pub(super) nearest: Vec<Vec<LeastGap>>,
    /// Of a nudged route, what was told of the route as it is: its solution holds only the poses in which some finding of
    /// that is worst.
    pub(super) told: Option<Told<'a>>,
    pub(super) units: Units,
}

/// What was told of a route before it was nudged.
#[derive(Debug, Clone, Copy)]
pub(super) struct Told<'a> {
    /// Those findings that the nudge can change.
    pub(super) findings: &'a [&'a Finding],
    /// The pose of the whole sweep that each pose is.
    pub(super) poses: &'a [usize],
    /// How far along the branches the nudge can change anything: nothing is told of the rest.
    pub(super) reaches: &'a [Reach],
}

/// What a check gives back.
#[derive(Debug, Default)]
pub(super) struct Outcome {
    pub(super) findings: Vec<Finding>,
    pub(super) blanks: Vec<Blank>,
}

impl<'a> Job<'a> {
    pub(super) fn new(
        route: &'a Route,
        solution: &'a Solution,
        surroundings: &'a Surroundings<'a>,
        limits: &'a Limits,
        branches: &'a [BranchId],
        nearest: Vec<Vec<LeastGap>>,
        units: Units,
    ) -> Self {
        Self {
            route,
            solution,
            surroundings,
            limits,
            branches,
            nearest,
            told: None,
            units,
        }
    }

    /// Whether the solution holds every pose of the sweep.
    pub(super) fn is_whole(&self) -> bool {
        self.told.is_none()
    }

    /// Whether anything is wanted of a check.
    pub(super) fn asks(&self, check: &str) -> bool {
        self.told.is_none_or(|told| {
            let mut within = told.findings.iter();
            within.any(|finding| finding.check == check && has_spread(finding))
        })
    }

    /// The poses in which `check` is to look at a branch: all, or of a nudged route those in which it found something
    /// worst.
    pub(super) fn poses_for(&self, check: &str, branch: BranchId) -> Vec<usize> {
        let Some(told) = self.told else {
            return (0..self.solution.stances.len()).collect();
        };
        let found = |pose: &usize| {
            let mut own = told.findings.iter();
            own.any(|f| f.check == check && f.branch == branch && f.pose == told.poses[*pose])
        };
        (0..told.poses.len()).filter(found).collect()
    }

    pub(super) fn branch(&self, branch: BranchId) -> &'a Branch {
        &self.route.branches[branch.0]
    }

    pub(super) fn solved(&self, branch: BranchId) -> &'a BranchSolution {
        &self.solution.branches[branch.0]
    }

    /// Every span of the branches to look at; of a nudged route, those that the nudge can change.
    pub(super) fn spans(&self) -> impl Iterator<Item = (BranchId, usize, &'a Span)> + '_ {
        self.branches.iter().flat_map(move |&branch| {
            let spans = self.solved(branch).spans.iter().enumerate();
            spans
                .filter(move |(index, _)| {
                    let reaches = self.told.map(|told| told.reaches.iter());
                    reaches.is_none_or(|mut all| all.any(|reach| reach.has_span(branch, *index)))
                })
                .map(move |(index, span)| (branch, index, span))
        })
    }

    pub(super) fn limit(&self, key: LimitKey) -> &'a Limit {
        self.limits.get(key)
    }

    pub(super) fn span_words(&self, branch: BranchId, span: &Span) -> String {
        span_in_words(self.branch(branch), span)
    }

    /// A place along a branch in words.
    pub(super) fn place_words(&self, branch: BranchId, at: f64) -> String {
        let spans = &self.solved(branch).spans;
        let span = spans.iter().find(|span| at <= span.end());
        match span.or(spans.last()) {
            Some(span) => self.place_in_span(branch, span, at),
            None => format!("at {}", self.show(at)),
        }
    }

    /// A place in a span in words, from the branch's first fixing and from the span's nearer one.
    pub(super) fn place_in_span(&self, branch: BranchId, span: &Span, at: f64) -> String {
        place_in_words(self.branch(branch), span, at, self.units)
    }

    pub(super) fn pose_words(&self, pose: usize) -> String {
        pose_in_words(&self.route.machine, &self.solution.sweep, pose, self.units)
    }

    /// The joints that move the ends of a span against each other, in a pose: what its straight distance depends on.
    pub(super) fn stretch_words(&self, branch: BranchId, span: &Span, pose: usize) -> String {
        let across = joints_across(self.route, self.branch(branch), span);
        let sweep = &self.solution.sweep;
        let words = joints_in_words(&self.route.machine, sweep, pose, self.units, &|joint| {
            across.contains(&joint)
        });
        // It stands after "with".
        if words == "at rest" {
            "all at rest".to_owned()
        } else {
            words
        }
    }

    /// A length \[m\] as text.
    pub(super) fn show(&self, value: f64) -> String {
        length(self.units, value)
    }

    /// A length \[m\] as text, rounded up.
    pub(super) fn show_up(&self, value: f64) -> String {
        length_up(self.units, value)
    }

    /// The rest pose's id.
    pub(super) fn rest(&self) -> usize {
        self.solution.sweep.rest
    }
}

/// Whether `new` is less than `best` by more than a rounding error, so that of several poses that tie the
/// first keeps its place.
pub(super) fn below(new: f64, best: f64) -> bool {
    if best.is_infinite() {
        new < best
    } else {
        // In SI: a tenth of a nanometre, of a nanoradian. Of values around zero no share would be small enough.
        new < best - 1e-9 * best.abs() - 1e-10
    }
}

/// Whether a value holds a limit; one that is equal but for rounding does.
pub(super) fn holds(value: f64, limit: f64, at_most: bool) -> bool {
    let rounding = 1e-9 * limit.abs();
    if at_most {
        value <= limit + rounding
    } else {
        value >= limit - rounding
    }
}

/// What was measured and with what it is compared; the verdict follows.
#[derive(Debug)]
pub(super) struct Measured<'l> {
    pub(super) check: &'static str,
    pub(super) subject: String,
    pub(super) branch: BranchId,
    pub(super) place: String,
    pub(super) at: f64,
    pub(super) pose: usize,
    pub(super) value: f64,
    pub(super) limit: f64,
    pub(super) kind: Kind,
    pub(super) at_most: bool,
    pub(super) from: &'l Limit,
}

impl Measured<'_> {
    /// The finding, with what to say where the limit does not hold and where it does.
    pub(super) fn judged(
        self,
        cure: impl FnOnce() -> String,
        room: impl FnOnce() -> String,
    ) -> Finding {
        let over = !holds(self.value, self.limit, self.at_most);
        Finding {
            check: self.check,
            subject: self.subject,
            branch: self.branch,
            place: self.place,
            at: self.at,
            pose: self.pose,
            value: self.value,
            limit: self.limit,
            kind: self.kind,
            at_most: self.at_most,
            verdict: if over { Verdict::Over } else { Verdict::Within },
            spread: None,
            chance_over: None,
            source: self.from.cited(),
            advice: if over { cure() } else { room() },
            follows_from: None,
        }
    }
}

/// The stations of a shape that lie in a span.
pub(super) fn stations_of<'s>(shape: &'s Shape, span: &Span) -> &'s [Station] {
    const SAME: f64 = 1e-9;
    let stations = &shape.stations;
    // Two stations share the place of an inner fixing: the first ends one span, the second starts the next.
    let start = span.start + shape.slid_at(span.from);
    let end = span.end() + shape.slid_at(span.from + 1);
    let first = stations
        .partition_point(|s| s.at <= start + SAME)
        .saturating_sub(1);
    let last = stations.partition_point(|s| s.at < end - SAME);
    stations.get(first..=last).unwrap_or_default()
}

/// Poses in which all joints but `body`'s are at rest, ids with that joint's value, value rising.
pub(super) fn poses_of_joint(solution: &Solution, body: BodyId) -> Vec<(usize, f64)> {
    let sweep = &solution.sweep;
    let rest = &sweep.poses[sweep.rest].joints;
    let mut poses: Vec<(usize, f64)> = sweep
        .poses
        .iter()
        .enumerate()
        .filter(|(_, pose)| {
            let others = pose.joints.iter().zip(rest).enumerate();
            others
                .filter(|&(index, _)| index != body.0)
                .all(|(_, (value, rest))| (value - rest).abs() <= 1e-12)
        })
        .map(|(id, pose)| (id, pose.joints[body.0]))
        .collect();
    poses.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    poses
}

/// Whether `body` moves with the joint of `joint`: it is that body or stands on it.
pub(super) fn is_beyond(machine: &Machine, joint: BodyId, body: BodyId) -> bool {
    let mut at = Some(body);
    while let Some(id) = at {
        if id == joint {
            return true;
        }
        at = machine.bodies[id.0].on;
    }
    false
}

/// The joints that move the two ends of a span against each other.
pub(super) fn joints_across(route: &Route, branch: &Branch, span: &Span) -> Vec<BodyId> {
    let carriers = |lay: usize| route.carriers(branch.lay[lay].fixing.on);
    let (from, to) = (carriers(span.from), carriers(span.from + 1));
    let pairs = from.iter().flat_map(|&a| to.iter().map(move |&b| [a, b]));
    let mut joints: Vec<BodyId> = pairs.flat_map(|pair| joints_between(route, pair)).collect();
    joints.sort_unstable();
    joints.dedup();
    joints
}

/// The joints that move two bodies against each other.
pub(super) fn joints_between(route: &Route, [a, b]: [BodyId; 2]) -> Vec<BodyId> {
    (0..route.machine.bodies.len())
        .map(BodyId)
        .filter(|&joint| {
            !matches!(route.machine.bodies[joint.0].joint, Joint::Fixed)
                && is_beyond(&route.machine, joint, a) != is_beyond(&route.machine, joint, b)
        })
        .collect()
}
