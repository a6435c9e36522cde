//! Where the views go on the sheet and at what scale.

use nalgebra::Point3;

use super::bodies;
use super::display::Frame;
use super::project::{Projection, Viewpoint};
use super::scene::Scene;
use super::silhouette;
use super::view::{CAPTION, View};
use super::words;
use crate::machine::Joint;

/// Room for labels beside a picture \[mm\].
const ROOM: f64 = 7.0;
/// Room for labels above and below a picture \[mm\].
const ROOM_UP: f64 = 2.5;
/// Between views \[mm\].
const GAP: f64 = 4.0;
/// Least width of the view along the axis \[mm\].
const LEAST_NECK: f64 = 80.0;
/// How far parts may reach beyond the harness before a view cuts them off \[m\].
const BEYOND: f64 = 0.55;

/// Views and the frame left for the key.
#[derive(Debug, Clone)]
pub(crate) struct Views {
    /// The views.
    pub(crate) views: Vec<View>,
    /// Room for the key.
    pub(crate) key: Frame,
}

/// A box in the machine \[m\].
#[derive(Debug, Clone, Copy)]
struct Extent {
    low: [f64; 3],
    high: [f64; 3],
}

impl Extent {
    fn size(&self, axis: usize) -> f64 {
        self.high[axis] - self.low[axis]
    }

    fn middle(&self) -> Point3<f64> {
        let mid = |i: usize| 0.5 * (self.low[i] + self.high[i]);
        Point3::new(mid(0), mid(1), mid(2))
    }
}

/// Lays the views out in `room`: side, front beside it and top below it at one scale, and the neck larger.
pub(crate) fn views(scene: &Scene<'_>, room: Frame) -> Views {
    let extent = extent(scene);
    let neck = neck(scene);
    let [x, y, z] = [0, 1, 2].map(|axis| extent.size(axis));
    let beside = if neck.is_some() {
        LEAST_NECK + GAP
    } else {
        0.0
    };
    let across = (room.w - beside - GAP - 4.0 * ROOM) / (x + y);
    let down = (room.h - 2.0 * CAPTION - GAP - 4.0 * ROOM_UP) / (z + y);
    let (scale, words) = nice_scale(across.min(down));
    // What the scale leaves over goes to the room round the pictures.
    let (side_w, front_w) = (x * scale + 2.0 * ROOM, y * scale + 2.0 * ROOM);
    let spare = (room.h - 2.0 * CAPTION - GAP - 4.0 * ROOM_UP - (z + y) * scale).max(0.0) / 2.0;
    let (upper_h, lower_h) = (
        z * scale + 2.0 * ROOM_UP + spare,
        y * scale + 2.0 * ROOM_UP + spare,
    );
    let lower_y = room.y + upper_h + CAPTION + GAP;

    let side = Frame::new(room.x, room.y, side_w, upper_h);
    let front = Frame::new(side.right() + GAP, room.y, front_w, upper_h);
    let top = Frame::new(room.x, lower_y, side_w, lower_h);
    let under_front = Frame::new(front.x, lower_y, front_w, lower_h + CAPTION);
    let place = |id, caption, viewpoint: Viewpoint, cell: Frame, names| View {
        id,
        caption,
        projection: Projection {
            viewpoint,
            scale,
            middle: viewpoint.flat(&extent.middle()),
            frame: cell,
        },
        scale: words.clone(),
        cell,
        names,
        detail: false,
    };
    let mut views = vec![
        place(
            "side",
            "Seen from the rider’s left",
            Viewpoint::side(),
            side,
            true,
        ),
        place("front", "From the front", Viewpoint::front(), front, false),
        place("top", "From above", Viewpoint::top(), top, false),
    ];
    let column = Frame::new(
        front.right() + GAP,
        room.y,
        room.right() - front.right() - GAP,
        room.h - CAPTION,
    );
    if let Some((viewpoint, low, high)) = neck {
        let fit =
            |i: usize, paper: f64| (paper - 2.0 * ROOM).max(10.0) / (high[i] - low[i]).max(1e-3);
        let (scale, words) = nice_scale(fit(0, column.w).min(fit(1, column.h)).min(1000.0));
        views.push(View {
            id: "neck",
            caption: "Along the steering axis",
            projection: Projection {
                viewpoint,
                scale,
                middle: [0.5 * (low[0] + high[0]), 0.5 * (low[1] + high[1])],
                frame: column,
            },
            scale: words,
            cell: column,
            names: true,
            detail: true,
        });
    }
    Views {
        views,
        key: under_front,
    }
}

/// The largest usual scale not above `most` \[mm of paper per m\], and its words.
fn nice_scale(most: f64) -> (f64, String) {
    const STEPS: [f64; 22] = [
        0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0, 14.0,
        15.0, 16.0, 18.0, 20.0, 25.0,
    ];
    let least = 1000.0 / most.max(1e-9);
    let step = STEPS
        .into_iter()
        .find(|s| *s >= least - 1e-9)
        .unwrap_or_else(|| {
            let decade = 10_f64.powf(least.log10().floor());
            [1.0, 2.0, 5.0, 10.0]
                .into_iter()
                .map(|m| m * decade)
                .find(|s| *s >= least)
                .unwrap_or(least)
        });
    let words = if step < 1.0 {
        format!("{} : 1", words::rounded(1.0 / step, 0))
    } else {
        format!("1 : {step}")
    };
    (1000.0 / step, words)
}

/// The harness in every pose, and the parts at rest and at both stops as far as they are near it.
fn extent(scene: &Scene<'_>) -> Extent {
    let empty = Extent {
        low: [f64::INFINITY; 3],
        high: [f64::NEG_INFINITY; 3],
    };
    let mut harness = empty;
    for p in harness_points(scene, |_| true) {
        for i in 0..3 {
            harness.low[i] = harness.low[i].min(p[i]);
            harness.high[i] = harness.high[i].max(p[i]);
        }
    }
    let mut whole = harness;
    let views = [Viewpoint::side(), Viewpoint::top()];
    for stance in scene
        .drawn_poses()
        .into_iter()
        .filter_map(|pose| scene.solution.stances.get(pose))
    {
        for part in &scene.route.machine.parts {
            let margin = bodies::keep_away(scene, part).unwrap_or(0.0);
            for viewpoint in views {
                let projection = Projection {
                    viewpoint,
                    scale: 1.0,
                    middle: [0.0, 0.0],
                    frame: Frame::new(0.0, 0.0, 0.0, 0.0),
                };
                let motion = &stance.bodies[part.on.0];
                let outline = silhouette::pieces(&part.shape, motion, margin, &projection);
                for spot in outline.iter().flatten() {
                    // Both views have the front on the left; their heights are z and −y.
                    let (axis, sign) = if viewpoint.up.z > 0.5 {
                        (2, -1.0)
                    } else {
                        (1, 1.0)
                    };
                    for (i, at) in [(0, -spot[0]), (axis, sign * spot[1])] {
                        whole.low[i] = whole.low[i].min(at);
                        whole.high[i] = whole.high[i].max(at);
                    }
                }
            }
        }
    }
    for i in 0..3 {
        let known = harness.low[i] <= harness.high[i];
        if known {
            let reach = BEYOND.max(0.5 * harness.size(i));
            whole.low[i] = whole.low[i].max(harness.low[i] - reach);
            whole.high[i] = whole.high[i].min(harness.high[i] + reach);
        }
        if !(whole.low[i].is_finite() && whole.high[i].is_finite() && whole.low[i] <= whole.high[i])
        {
            (whole.low[i], whole.high[i]) = (-0.1, 0.1);
        }
        let short = 0.08 - whole.size(i);
        if short > 0.0 {
            whole.low[i] -= 0.5 * short;
            whole.high[i] += 0.5 * short;
        }
    }
    whole
}

/// The viewpoint along the steering axis, and what it frames: the spans that move, in every pose.
fn neck(scene: &Scene<'_>) -> Option<(Viewpoint, [f64; 2], [f64; 2])> {
    let steering = words::steering(&scene.route.machine)?;
    let Joint::Turns { axis, .. } = scene.route.machine.bodies[steering.0].joint else {
        return None;
    };
    let viewpoint = Viewpoint::along(&axis);
    let mut points = harness_points(scene, |span| span.moving);
    if points.is_empty() {
        points = harness_points(scene, |_| true);
    }
    let flat: Vec<[f64; 2]> = points.iter().map(|p| viewpoint.flat(p)).collect();
    let frame = Frame::around(&flat)?;
    let margin = 0.03;
    Some((
        viewpoint,
        [frame.x - margin, frame.y - margin],
        [frame.right() + margin, frame.bottom() + margin],
    ))
}

fn harness_points(
    scene: &Scene<'_>,
    which: impl Fn(&crate::route::Span) -> bool,
) -> Vec<Point3<f64>> {
    let mut points = Vec::new();
    for (index, branch) in scene.solution.branches.iter().enumerate() {
        for (span, _) in branch.spans.iter().enumerate().filter(|(_, s)| which(s)) {
            for pose in 0..branch.shapes.len() {
                points.extend(scene.span_line(index, span, pose).iter().step_by(6));
            }
        }
    }
    points
}
