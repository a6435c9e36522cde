//! One view of the machine with its harness.

use nalgebra::Point3;

use crate::harness::FixingKind;
use crate::machine::Joint;
use crate::quantity::{LengthUnit, Units};

use super::bodies;
use super::display::{Frame, Group, Line, Mark, Spot};
use super::harness;
use super::ink::{HEADING, Ink, MEDIUM, Pattern, SMALL, Stroke, THIN};
use super::naming;
use super::project::Projection;
use super::scene::Scene;
use super::symbols;
use super::words;

/// What a view shows and where.
#[derive(Debug, Clone)]
pub(crate) struct View {
    /// Beginning of the ids of its groups.
    pub(crate) id: &'static str,
    /// From where it is seen, in plain words.
    pub(crate) caption: &'static str,
    /// Its projection; the frame is that of the picture.
    pub(crate) projection: Projection,
    /// The scale in words.
    pub(crate) scale: String,
    /// What labels may use, the picture included.
    pub(crate) cell: Frame,
    /// Whether parts and branches are named here.
    pub(crate) names: bool,
    /// Whether this is an enlarged part of the machine, cut off at its frame.
    pub(crate) detail: bool,
}

/// Height kept for a view's caption \[mm\].
pub(crate) const CAPTION: f64 = 6.0;

/// Draws a view: what it shows, cut to its cell, and its labels.
pub(crate) fn view(scene: &Scene<'_>, view: &View) -> Mark {
    let (id, projection) = (view.id, &view.projection);
    let seen = bodies::seen(scene, projection);
    let keep_away = bodies::keep_away_outline(scene, projection);
    let swept = harness::swept(scene, projection);
    let drawn = harness::drawn(scene, projection);
    let axes = axes(scene, view);
    let fixings = fixings(scene, projection);

    let mut picture = vec![bodies::parts(scene, &seen, projection, id)];
    picture.extend(harness::swept_mark(swept, id));
    picture.extend(bodies::keep_away_mark(&keep_away, id));
    picture.extend(bodies::ghosts(scene, projection, id));
    picture.extend(axis_mark(&axes, id));
    picture.extend(super::compare::ghost(scene, view));
    picture.push(harness::lines(scene, &drawn, projection, id));
    picture.extend(harness::stressed(scene, projection, id, view.detail));
    let symbols = fixings.iter().flat_map(|f| f.symbol.clone()).collect();
    picture.push(Mark::group(format!("{id}-fixings"), "fixings", symbols));

    let labels = naming::labels(
        scene,
        view,
        &naming::Shown {
            seen: &seen,
            keep_away: &keep_away,
            drawn: &drawn,
            axes: &axes,
            fixings: &fixings,
        },
    );
    let mut marks = vec![
        Mark::Group(Group {
            id: format!("{id}-picture"),
            title: None,
            clip: Some(view.cell),
            marks: picture,
        }),
        Mark::group(format!("{id}-labels"), "labels", labels),
        caption(view, scene.units),
    ];
    if view.detail {
        marks.push(Mark::frame(
            view.cell,
            Some(Stroke::solid(Ink::Grey, THIN)),
            None,
        ));
    }
    Mark::group(id, view.caption, marks)
}

fn caption(view: &View, units: Units) -> Mark {
    let y = view.cell.bottom() + CAPTION - 1.6;
    let line = Line::new([view.cell.x, y], 0.85 * HEADING, view.caption).bold();
    let after = line.frame().right() + 2.0;
    let scale = Line::new([after, y], SMALL, view.scale.as_str()).ink(Ink::Grey);
    let bar_from = scale.frame().right() + 4.0;
    let mut marks = vec![Mark::Line(line), Mark::Line(scale)];
    marks.extend(scale_bar(
        [bar_from, y],
        view.projection.scale,
        view.cell.right(),
        units,
    ));
    Mark::group(format!("{}-caption", view.id), "caption", marks)
}

/// A bar as long as a round length of the machine, with that length; nothing where there is no room.
fn scale_bar(at: Spot, scale: f64, right: f64, units: Units) -> Vec<Mark> {
    const LONGEST: f64 = 26.0;
    let unit = match units.length {
        LengthUnit::Mm => 1e-3,
        LengthUnit::Inch => 0.0254,
    };
    let most = LONGEST / (scale * unit);
    let decade = 10_f64.powf(most.log10().floor());
    let count = [5.0, 2.0, 1.0]
        .into_iter()
        .map(|m| m * decade)
        .find(|c| *c <= most);
    let Some(length) = count.map(|c| c * unit).filter(|l| l.is_finite()) else {
        return Vec::new();
    };
    let (from, to) = (at[0], at[0] + length * scale);
    let text = Line::new([to + 1.5, at[1]], SMALL, words::length(length, units)).ink(Ink::Grey);
    if text.frame().right() > right {
        return Vec::new();
    }
    let y = at[1] - 0.9;
    let line = |a: Spot, b: Spot| Mark::line(vec![a, b], Stroke::solid(Ink::Grey, MEDIUM));
    vec![
        line([from, y], [to, y]),
        line([from, y - 0.8], [from, y + 0.8]),
        line([to, y - 0.8], [to, y + 0.8]),
        Mark::Line(text),
    ]
}

/// A fixing as it is seen.
#[derive(Debug, Clone)]
pub(crate) struct SeenFixing {
    /// Its name.
    pub(crate) name: String,
    /// Where it is.
    pub(crate) at: Spot,
    /// Its symbol.
    pub(crate) symbol: Vec<Mark>,
}

fn fixings(scene: &Scene<'_>, projection: &Projection) -> Vec<SeenFixing> {
    let mut found = Vec::new();
    let Some(rest) = scene.rest() else {
        return found;
    };
    for (index, branch) in scene.route.branches.iter().enumerate() {
        let solved = scene.solution.branches.get(index);
        for (lay, entry) in branch.lay.iter().enumerate() {
            // A breakout stands in every branch that meets there, and once on paper.
            let seen = |fixing: &SeenFixing| fixing.name == entry.fixing.name;
            if entry.fixing.kind == FixingKind::Breakout && found.iter().any(seen) {
                continue;
            }
            let point = scene.route.fixing_position(branch, lay, rest);
            let along = solved.and_then(|b| {
                let span = b.spans.get(lay.min(b.spans.len().checked_sub(1)?))?;
                let at = if lay < b.spans.len() {
                    span.start
                } else {
                    span.end()
                };
                Some(b.shapes.get(scene.solution.sweep.rest)?.curve.tangent(at))
            });
            let at = projection.spot(&point);
            let ahead = projection.spot(&(point + along.unwrap_or_else(nalgebra::Vector3::zeros)));
            // The last fixing faces its branch from the other side.
            let sign = if lay + 1 == branch.lay.len() {
                -1.0
            } else {
                1.0
            };
            let along = [sign * (ahead[0] - at[0]), sign * (ahead[1] - at[1])];
            if at.iter().all(|x| x.is_finite()) {
                found.push(SeenFixing {
                    name: entry.fixing.name.clone(),
                    at,
                    symbol: symbols::fixing(&entry.fixing.kind, at, along),
                });
            }
        }
    }
    found
}

/// Centrelines of the joints that turn, as seen: a line, or a spot where the view looks along it.
fn axes(scene: &Scene<'_>, view: &View) -> Vec<(String, [Spot; 2])> {
    let projection = &view.projection;
    let steering = words::steering(&scene.route.machine);
    let mut found = Vec::new();
    for (index, body) in scene.route.machine.bodies.iter().enumerate() {
        let Joint::Turns { through, axis, .. } = body.joint else {
            continue;
        };
        let name = if steering.is_some_and(|s| s.0 == index) {
            "steering axis".to_owned()
        } else {
            format!("axis of {}", body.name)
        };
        let parent = body
            .on
            .and_then(|on| scene.rest().map(|rest| rest.bodies[on.0]));
        let moved = |p: Point3<f64>| parent.map_or(p, |m| m * p);
        let (a, b) = (
            projection.spot(&moved(through)),
            projection.spot(&moved(through + axis.into_inner())),
        );
        let run = [b[0] - a[0], b[1] - a[1]];
        let length = run[0].hypot(run[1]);
        if length < 1e-3 * projection.scale {
            let r = 5.0;
            found.push((name.clone(), [[a[0] - r, a[1]], [a[0] + r, a[1]]]));
            found.push((name, [[a[0], a[1] - r], [a[0], a[1] + r]]));
        } else if let Some(line) = clipped(
            a,
            [run[0] / length, run[1] / length],
            &view.cell.grown(-2.0),
        ) {
            found.push((name, line));
        }
    }
    found
}

/// The part of an endless line that lies in a frame.
fn clipped(through: Spot, along: Spot, frame: &Frame) -> Option<[Spot; 2]> {
    let (low, high) = ([frame.x, frame.y], [frame.right(), frame.bottom()]);
    let (mut enter, mut leave) = (f64::NEG_INFINITY, f64::INFINITY);
    for i in 0..2 {
        if along[i].abs() < 1e-9 {
            if through[i] < low[i] || through[i] > high[i] {
                return None;
            }
            continue;
        }
        let (a, b) = (
            (low[i] - through[i]) / along[i],
            (high[i] - through[i]) / along[i],
        );
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    let at = |t: f64| [through[0] + t * along[0], through[1] + t * along[1]];
    (enter < leave && enter.is_finite() && leave.is_finite()).then(|| [at(enter), at(leave)])
}

fn axis_mark(axes: &[(String, [Spot; 2])], id: &str) -> Option<Mark> {
    let lines: Vec<Mark> = axes
        .iter()
        .map(|(_, line)| {
            Mark::line(
                line.to_vec(),
                Stroke::with(Ink::Black, MEDIUM, Pattern::DashDot),
            )
        })
        .collect();
    (!lines.is_empty()).then(|| Mark::group(format!("{id}-axes"), "axes of turning", lines))
}
