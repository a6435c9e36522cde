//! What is to be drawn: the finished results, and which of their poses and places a sheet shows.

use nalgebra::Point3;

use crate::check::{self, Finding, Findings, Verdict};
use crate::machine::{BodyId, Joint, Stance};
use crate::quantity::Units;
use crate::rod::{BranchSolution, Shape, Solution};
use crate::route::{Route, Span};

use super::words;

/// Finished results, ready to be drawn.
#[derive(Debug)]
pub(crate) struct Scene<'a> {
    /// The route.
    pub(crate) route: &'a Route,
    /// Where the harness lies.
    pub(crate) solution: &'a Solution,
    /// What the checks found.
    pub(crate) findings: &'a Findings,
    /// Units of length.
    pub(crate) units: Units,
    /// The motion whose ends are drawn; `None` where nothing moves.
    pub(crate) motion: Option<Motion>,
    /// Findings that are flagged in the views.
    pub(crate) flags: Vec<Flag<'a>>,
    /// Numbers up to this one stand in the list beside the views; only these are shown in them.
    pub(crate) listed: usize,
    /// Where the harness lay before a change, where that is to be seen too.
    pub(crate) before: Option<super::compare::Ghost>,
    /// Centrelines by branch, span and pose \[m\].
    lines: Vec<Vec<Vec<Vec<Point3<f64>>>>>,
}

/// One joint from end to end while the others rest.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Motion {
    /// The body whose joint moves.
    pub(crate) joint: BodyId,
    /// Pose id at the least joint value.
    pub(crate) low: usize,
    /// Pose id at rest.
    pub(crate) rest: usize,
    /// Pose id at the greatest joint value.
    pub(crate) high: usize,
    /// What the three are called, in the same order.
    pub(crate) names: [String; 3],
}

/// A finding that is flagged in the views.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Flag<'a> {
    /// Its number in the list of findings.
    pub(crate) number: usize,
    /// The finding.
    pub(crate) finding: &'a Finding,
    /// Index of the span where it is.
    pub(crate) span: usize,
    /// Where it is in its pose \[m\].
    pub(crate) place: Point3<f64>,
}

impl<'a> Scene<'a> {
    /// Looks up what a sheet shows.
    pub(crate) fn new(
        route: &'a Route,
        solution: &'a Solution,
        findings: &'a Findings,
        units: Units,
    ) -> Self {
        let flags = findings
            .findings
            .iter()
            .enumerate()
            .filter(|(_, finding)| finding.verdict > Verdict::Within)
            .filter_map(|(index, finding)| flag(solution, index + 1, finding))
            .collect();
        Self {
            route,
            solution,
            findings,
            units,
            motion: motion(route, solution),
            flags,
            listed: usize::MAX,
            before: None,
            lines: solution.branches.iter().map(lines).collect(),
        }
    }

    /// Where the bodies are at rest.
    pub(crate) fn rest(&self) -> Option<&'a Stance> {
        self.solution.stances.get(self.solution.sweep.rest)
    }

    /// What a pose is called.
    pub(crate) fn pose(&self, id: usize) -> String {
        let (machine, sweep) = (&self.route.machine, &self.solution.sweep);
        if id == sweep.rest && words::steering(machine).is_some() {
            return "straight ahead".to_owned();
        }
        if sweep.poses.get(id).is_none() {
            return "in no pose".to_owned();
        }
        check::pose_in_words(machine, sweep, id, self.units)
    }

    /// The poses whose shape is drawn in full: rest last, so that it lies on top.
    pub(crate) fn drawn_poses(&self) -> Vec<usize> {
        let rest = self.solution.sweep.rest;
        self.motion
            .as_ref()
            .map_or_else(|| vec![rest], |m| vec![m.low, m.high, rest])
    }

    /// The centreline of one span of a branch in a pose \[m\].
    pub(crate) fn span_line(&self, branch: usize, span: usize, pose: usize) -> &[Point3<f64>] {
        let spans = self.lines.get(branch).and_then(|spans| spans.get(span));
        spans
            .and_then(|poses| poses.get(pose))
            .map_or(&[], Vec::as_slice)
    }

    /// The centreline at rest of the branch of this name \[m\].
    pub(crate) fn rest_line(&self, name: &str) -> Vec<Point3<f64>> {
        let found = self
            .route
            .branches
            .iter()
            .position(|branch| branch.name == name);
        let solved = found.and_then(|index| self.solution.branches.get(index));
        solved.map_or_else(Vec::new, |solved| line_at(solved, self.solution.sweep.rest))
    }

    /// How far a span moves between two poses at most \[m\].
    pub(crate) fn span_travel(&self, branch: usize, span: usize, a: usize, b: usize) -> f64 {
        self.span_line(branch, span, a)
            .iter()
            .zip(self.span_line(branch, span, b))
            .map(|(p, q)| (p - q).norm())
            .fold(0.0, f64::max)
    }

    /// Diameter of a branch \[m\].
    pub(crate) fn diameter(&self, branch: usize) -> f64 {
        self.route.branches.get(branch).map_or(0.0, |b| b.diameter)
    }

    /// The branch whose charts are shown: that of the worst finding.
    pub(crate) fn worst_branch(&self) -> usize {
        self.findings.findings.first().map_or(0, |f| f.branch.0)
    }

    /// The worst verdict; within limits where nothing was found.
    pub(crate) fn verdict(&self) -> Verdict {
        let verdicts = self.findings.findings.iter().map(|f| f.verdict);
        verdicts.max().unwrap_or(Verdict::Within)
    }
}

/// Steps that a span is drawn in.
const SAMPLES: u32 = 60;

/// The whole centreline of a branch in a pose \[m\].
pub(crate) fn line_at(solved: &BranchSolution, pose: usize) -> Vec<Point3<f64>> {
    let spans = lines(solved);
    let of_pose = spans.into_iter().filter_map(|mut poses| {
        let there = pose < poses.len();
        there.then(|| poses.swap_remove(pose))
    });
    of_pose.flatten().collect()
}

/// The centrelines of a branch, by span and pose.
fn lines(solved: &BranchSolution) -> Vec<Vec<Vec<Point3<f64>>>> {
    let line = |span: &Span, shape: &Shape| {
        let (start, end) = (
            span.start.max(shape.curve.start()),
            span.end().min(shape.curve.end()),
        );
        (0..=SAMPLES)
            .map(|i| {
                shape
                    .curve
                    .position(start + (end - start) * f64::from(i) / f64::from(SAMPLES))
            })
            .filter(|p| p.coords.iter().all(|x| x.is_finite()))
            .collect()
    };
    solved
        .spans
        .iter()
        .map(|span| {
            solved
                .shapes
                .iter()
                .map(|shape| line(span, shape))
                .collect()
        })
        .collect()
}

fn flag<'a>(solution: &Solution, number: usize, finding: &'a Finding) -> Option<Flag<'a>> {
    let solved = solution.branches.get(finding.branch.0)?;
    let shape = solved.shapes.get(finding.pose)?;
    let place = shape.curve.position(finding.at);
    let span = solved
        .spans
        .iter()
        .position(|s| finding.at <= s.end())
        .unwrap_or(solved.spans.len().saturating_sub(1));
    place.coords.iter().all(|x| x.is_finite()).then_some(Flag {
        number,
        finding,
        span,
        place,
    })
}

/// The motion to draw: the steering where there is one, else the first joint that moves.
fn motion(route: &Route, solution: &Solution) -> Option<Motion> {
    let moves = |id: &BodyId| route.machine.bodies[id.0].joint != Joint::Fixed;
    let joint = words::steering(&route.machine)
        .or_else(|| (0..route.machine.bodies.len()).map(BodyId).find(moves))?;
    let sweep = &solution.sweep;
    let rest = sweep.poses.get(sweep.rest)?;
    let alone = |pose: &&(usize, &crate::machine::Pose)| {
        let others = pose.1.joints.iter().zip(&rest.joints).enumerate();
        others
            .filter(|(body, _)| *body != joint.0)
            .all(|(_, (a, b))| (a - b).abs() < 1e-9)
    };
    let value =
        |pose: &(usize, &crate::machine::Pose)| pose.1.joints.get(joint.0).copied().unwrap_or(0.0);
    let poses: Vec<(usize, &crate::machine::Pose)> = sweep.poses.iter().enumerate().collect();
    let low = poses
        .iter()
        .filter(alone)
        .min_by(|a, b| value(a).total_cmp(&value(b)))?
        .0;
    let high = poses
        .iter()
        .filter(alone)
        .max_by(|a, b| value(a).total_cmp(&value(b)))?
        .0;
    let mut motion = Motion {
        joint,
        low,
        rest: sweep.rest,
        high,
        names: Default::default(),
    };
    motion.names = words::ends(route, &motion);
    Some(motion)
}
