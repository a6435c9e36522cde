//! The harness in a view: where it lies at both ends of the motion and at rest, the space it sweeps, and the
//! spans that are over or close to a limit.

use nalgebra::Point3;

use crate::check::Verdict;

use super::display::{Mark, Spot};
use super::ink::{HEAVY, Ink, MEDIUM, Pattern, Stroke, THIN};
use super::project::Projection;
use super::scene::Scene;
use super::silhouette::{self, Area};

/// A span that moves less than this between two poses is drawn once \[m\].
const SAME: f64 = 1e-3;

/// Line pattern of the lowest joint value, of rest and of the highest.
pub(crate) fn stroke(scene: &Scene<'_>, pose: usize) -> Stroke {
    match &scene.motion {
        Some(motion) if pose == motion.low && pose != motion.rest => {
            Stroke::with(Ink::Black, 0.55, Pattern::Dots)
        }
        Some(motion) if pose == motion.high && pose != motion.rest => {
            Stroke::with(Ink::Black, 0.45, Pattern::LongDash)
        }
        _ => Stroke::solid(Ink::Black, HEAVY),
    }
}

/// A line of the harness on paper.
#[derive(Debug, Clone)]
pub(crate) struct Drawn {
    /// Index of the branch.
    pub(crate) branch: usize,
    /// Index of the span.
    pub(crate) span: usize,
    /// Pose id.
    pub(crate) pose: usize,
    /// Its centreline on paper.
    pub(crate) line: Vec<Spot>,
}

/// The lines to draw: every span at rest, and those that move also at both ends of the motion.
pub(crate) fn drawn(scene: &Scene<'_>, projection: &Projection) -> Vec<Drawn> {
    let rest = scene.solution.sweep.rest;
    let mut found = Vec::new();
    for pose in scene.drawn_poses() {
        for (branch, solved) in scene.solution.branches.iter().enumerate() {
            for span in 0..solved.spans.len() {
                if pose != rest && scene.span_travel(branch, span, pose, rest) < SAME {
                    continue;
                }
                let line = on_paper(scene.span_line(branch, span, pose), projection);
                found.push(Drawn {
                    branch,
                    span,
                    pose,
                    line,
                });
            }
        }
    }
    found
}

/// Draws the lines, with the true width of the harness at rest under them.
pub(crate) fn lines(scene: &Scene<'_>, drawn: &[Drawn], projection: &Projection, id: &str) -> Mark {
    let rest = scene.solution.sweep.rest;
    let mut marks: Vec<Mark> = drawn
        .iter()
        .filter(|d| d.pose == rest)
        .map(|d| {
            let width = scene.diameter(d.branch) * projection.scale;
            Mark::line(
                d.line.clone(),
                Stroke::solid(Ink::Band, width.max(HEAVY + 0.5)),
            )
        })
        .collect();
    marks.extend(
        drawn
            .iter()
            .map(|d| Mark::line(d.line.clone(), stroke(scene, d.pose))),
    );
    Mark::group(format!("{id}-harness"), "harness", marks)
}

/// The space that the harness sweeps over all poses, as seen: between every pose and the one it was reached
/// from, piece by piece of each span that moves.
pub(crate) fn swept(scene: &Scene<'_>, projection: &Projection) -> Area {
    let solution = scene.solution;
    let mut spans = Vec::new();
    for (branch, solved) in solution.branches.iter().enumerate() {
        let radius = 0.5 * scene.diameter(branch) * projection.scale;
        for span in 0..solved.spans.len() {
            let mut pieces = Vec::new();
            for step in &solution.sweep.walk {
                let Some(from) = step.from else { continue };
                let near = scene.span_line(branch, span, from);
                let far = scene.span_line(branch, span, step.to);
                if travel(near, far) < 0.2 * SAME {
                    continue;
                }
                pieces.extend(ribbon(near, far, radius, projection));
            }
            spans.extend(silhouette::merge(pieces));
        }
    }
    silhouette::merge(spans)
}

/// Points skipped between the edges of a ribbon's pieces.
const COARSE: usize = 5;

fn ribbon(
    near: &[Point3<f64>],
    far: &[Point3<f64>],
    radius: f64,
    projection: &Projection,
) -> Vec<Vec<Spot>> {
    let coarse = |line: &[Point3<f64>]| {
        let every: Vec<Point3<f64>> = line.iter().step_by(COARSE).copied().collect();
        on_paper(&every, projection)
    };
    let (near, far) = (coarse(near), coarse(far));
    near.windows(2)
        .zip(far.windows(2))
        .map(|(a, b)| {
            let corners = [a[0], a[1], b[0], b[1]];
            let octagon = |s: &Spot| {
                (0..8)
                    .map(|i| {
                        let (sin, cos) = (std::f64::consts::FRAC_PI_4 * f64::from(i)).sin_cos();
                        [s[0] + radius * cos, s[1] + radius * sin]
                    })
                    .collect::<Vec<Spot>>()
            };
            silhouette::hull(corners.iter().flat_map(octagon).collect())
        })
        .collect()
}

/// Draws the space that the harness sweeps.
pub(crate) fn swept_mark(area: Area, id: &str) -> Option<Mark> {
    (!area.is_empty()).then(|| {
        let outline = Stroke::solid(Ink::Grey, THIN);
        Mark::group(
            format!("{id}-swept"),
            "space that the harness sweeps",
            vec![Mark::area(area, Some(outline), Some(Ink::Swept))],
        )
    })
}

/// Draws the spans that are over a limit or close to it, each in the pose where it is worst: a heavy line
/// with barbs where it is over, a double line where it is close.
pub(crate) fn stressed(
    scene: &Scene<'_>,
    projection: &Projection,
    id: &str,
    detail: bool,
) -> Option<Mark> {
    // Small views take a finer pen, or the barbs run together.
    let pen = if detail { 1.0 } else { 0.65 };
    let mut done: Vec<(usize, usize, usize)> = Vec::new();
    let mut marks = Vec::new();
    for flag in &scene.flags {
        let key = (flag.finding.branch.0, flag.span, flag.finding.pose);
        if done.contains(&key) {
            continue;
        }
        done.push(key);
        let line = on_paper(scene.span_line(key.0, key.1, key.2), projection);
        let over = flag.finding.verdict == Verdict::Over;
        let ink = if over { Ink::Rust } else { Ink::Black };
        if over {
            marks.push(Mark::lines(
                barbs(&line, pen),
                Stroke::solid(ink, pen * MEDIUM),
            ));
            marks.push(Mark::line(line, Stroke::solid(ink, pen * 1.6 * HEAVY)));
        } else {
            marks.push(Mark::line(
                line.clone(),
                Stroke::solid(ink, pen * 2.0 * HEAVY),
            ));
            marks.push(Mark::line(
                line,
                Stroke::solid(Ink::Paper, pen * 0.7 * HEAVY),
            ));
        }
    }
    (!marks.is_empty()).then(|| {
        Mark::group(
            format!("{id}-stressed"),
            "spans over or close to a limit",
            marks,
        )
    })
}

/// Short strokes across a line, evenly spaced.
fn barbs(line: &[Spot], pen: f64) -> Vec<Vec<Spot>> {
    let (spacing, half) = (1.9 * pen.max(0.8), 1.25 * pen);
    let mut found = Vec::new();
    let mut left = 0.5 * spacing;
    for ends in line.windows(2) {
        let [a, b] = [ends[0], ends[1]];
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        if length < 1e-9 {
            continue;
        }
        let along = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
        let mut at = left;
        while at <= length {
            let s = [a[0] + at * along[0], a[1] + at * along[1]];
            let across = [
                half * (0.5 * along[0] - along[1]),
                half * (0.5 * along[1] + along[0]),
            ];
            found.push(vec![
                [s[0] - across[0], s[1] - across[1]],
                [s[0] + across[0], s[1] + across[1]],
            ]);
            at += spacing;
        }
        left = at - length;
    }
    found
}

fn travel(a: &[Point3<f64>], b: &[Point3<f64>]) -> f64 {
    a.iter()
        .zip(b)
        .map(|(p, q)| (p - q).norm())
        .fold(0.0, f64::max)
}

/// A line of points as a line on paper, with no more spots than the eye needs.
pub(crate) fn on_paper(points: &[Point3<f64>], projection: &Projection) -> Vec<Spot> {
    let spots: Vec<Spot> = points.iter().map(|p| projection.spot(p)).collect();
    thinned(&spots, 0.012)
}

/// The line with spots left out that lie within `error` of it (Douglas–Peucker).
pub(crate) fn thinned(spots: &[Spot], error: f64) -> Vec<Spot> {
    if spots.len() < 3 {
        return spots.to_vec();
    }
    let (a, b) = (spots[0], spots[spots.len() - 1]);
    let run = [b[0] - a[0], b[1] - a[1]];
    let square = run[0] * run[0] + run[1] * run[1];
    let off = |s: &Spot| {
        let to = [s[0] - a[0], s[1] - a[1]];
        let t = if square > 0.0 {
            ((to[0] * run[0] + to[1] * run[1]) / square).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (to[0] - t * run[0]).hypot(to[1] - t * run[1])
    };
    let (mut worst, mut most) = (0, error);
    for (i, s) in spots.iter().enumerate().skip(1).take(spots.len() - 2) {
        if off(s) > most {
            (worst, most) = (i, off(s));
        }
    }
    if worst == 0 {
        return vec![a, b];
    }
    let mut line = thinned(&spots[..=worst], error);
    line.pop();
    line.extend(thinned(&spots[worst..], error));
    line
}
