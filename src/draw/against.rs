//! The strip chart against the joint that moves: slack, inside radius and what the harness does to the joint.

use crate::check::{AgainstJoint, LimitKey};
use crate::machine::Joint;
use crate::quantity::Kind;

use super::along::{VALUES, unit};
use super::chart::{Axis, Forbidden, Panel, bare_length, radius_axis, worth};
use super::display::{Anchor, Frame, Line, Mark};
use super::ink::{BODY, HEADING, Ink, Pattern, SMALL, Stroke, THIN};
use super::lettering;
use super::scene::Scene;
use super::words;

/// Draws the chart of the worst branch against the joint that the views show; says so where there is none.
pub(crate) fn against(scene: &Scene<'_>, frame: Frame) -> Mark {
    let marks = chart(scene).map_or_else(
        || {
            let text = "No chart against a joint: no branch bridges one that moves.";
            vec![Mark::Line(
                Line::new([frame.x, frame.y + BODY], BODY, text).ink(Ink::Grey),
            )]
        },
        |chart| panels(scene, chart, frame),
    );
    Mark::group("chart-against", "What changes as the joint moves", marks)
}

fn chart<'a>(scene: &Scene<'a>) -> Option<&'a AgainstJoint> {
    let charts = scene.findings.against.iter().filter(|c| c.values.len() > 1);
    let joint = scene.motion.as_ref().map(|m| m.joint);
    let worst = scene.worst_branch();
    // The worst branch on the joint of the views; else any branch on it; else any.
    charts.min_by_key(|c| (Some(c.joint) != joint, c.branch.0 != worst, c.branch.0))
}

fn panels(scene: &Scene<'_>, chart: &AgainstJoint, frame: Frame) -> Vec<Mark> {
    let body = &scene.route.machine.bodies[chart.joint.0];
    let steering = words::steering(&scene.route.machine) == Some(chart.joint);
    let turns = matches!(body.joint, Joint::Turns { .. });
    let branch = scene
        .route
        .branches
        .get(chart.branch.0)
        .map_or("", |b| b.name.as_str());
    let what = if steering {
        "Against the steering angle".to_owned()
    } else {
        format!("As {} moves", body.name)
    };
    let heading = Line::new(
        [frame.x, frame.y + 0.75 * HEADING],
        HEADING,
        lettering::fit(&what, HEADING, true, frame.w * 0.7),
    )
    .bold();
    let after = heading.frame().right() + 2.0;
    let of = lettering::fit(
        &format!("branch {branch}, the rest still"),
        SMALL,
        false,
        frame.right() - after,
    );
    let mut marks = vec![
        Mark::Line(heading),
        Mark::Line(Line::new([after, frame.y + 0.75 * HEADING], SMALL, of).ink(Ink::Grey)),
    ];
    let (low, high) = (chart.values[0], chart.values[chart.values.len() - 1]);
    // The rider's left stands on the left: positive steering is to the left unless the axis points down.
    let down = matches!(body.joint, Joint::Turns { axis, .. } if axis.z < 0.0);
    let x = if steering && !down {
        Axis::even(high, low)
    } else {
        Axis::even(low, high)
    };
    let (title, axis) = (4.4, 8.2);
    let upper = frame.y + HEADING + 1.5 + title;
    let each = (frame.bottom() - axis - upper - 2.0 * (title + 1.0)) / 3.0;
    let width = frame.w - VALUES - 3.0;
    let place = |row: f64| {
        Frame::new(
            frame.x + VALUES,
            upper + row * (each + title + 1.0),
            width,
            each,
        )
    };
    let length = unit(scene.units);
    let limits = &scene.findings.limits;

    let slack_limit = vec![limits.get(LimitKey::SlackLeast).value()];
    let slack = strip(
        place(0.0),
        x,
        values_axis(&chart.slack, &slack_limit),
        chart,
        &slack_limit,
    );
    let radius_limit = radius_limit(scene, chart);
    let radius = strip(
        place(1.0),
        x,
        radius_axis(&chart.inside_radius, &radius_limit),
        chart,
        &radius_limit,
    );
    let load_kind = if turns { Kind::Torque } else { Kind::Force };
    let load_limit = if turns {
        vec![limits.get(LimitKey::SteeringDrag).value()]
    } else {
        Vec::new()
    };
    let both: Vec<f64> = load_limit.iter().flat_map(|l| [*l, -*l]).collect();
    let load = strip(place(2.0), x, values_axis(&chart.load, &both), chart, &[]);

    let show_length = |v: f64| bare_length(v, scene.units);
    let mut rows = [slack, radius, load];
    let per_length = worth(Kind::Length, scene.units);
    let per_load = worth(load_kind, scene.units);
    let ticks = [
        rows[0].y.ticks(2.5, per_length),
        rows[1].y.ticks(3.0, per_length),
        rows[2].y.ticks(2.5, per_load),
    ];
    rows[0].axes(
        "slack",
        &format!("{length}, least of the moving spans"),
        &ticks[0],
        show_length,
    );
    rows[1].axes(
        "inside radius",
        &format!("{length}, tightest of the moving spans"),
        &ticks[1],
        show_length,
    );
    let (name, how) = if turns {
        ("torque", "on the joint")
    } else {
        ("force", "along the joint")
    };
    let unit = scene.units.convert(0.0, load_kind).1.trim();
    rows[2].axes(name, &format!("{unit}, {how}"), &ticks[2], |v| {
        let shown = v / per_load;
        words::rounded(shown, decimals(shown))
    });
    for l in &load_limit {
        for side in [*l, -*l] {
            let (a, b) = (rows[2].spot(x.from, side), rows[2].spot(x.to, side));
            let inside = rows[2].y.part(side);
            if (0.0..=1.0).contains(&inside) {
                rows[2].marks.push(Mark::line(
                    vec![a, b],
                    Stroke::with(Ink::Rust, super::ink::MEDIUM, Pattern::LongDash),
                ));
            }
        }
    }
    let data = [&chart.slack, &chart.inside_radius, &chart.load];
    for (row, values) in rows.iter_mut().zip(data) {
        row.uprights(&[0.0], Stroke::with(Ink::Grey, THIN, Pattern::DashDot));
        row.curve(&chart.values, values);
    }
    let worst = [
        least(&chart.slack),
        least(&chart.inside_radius),
        most(&chart.load),
    ];
    for (i, at) in worst.into_iter().enumerate() {
        let Some(at) = at else { continue };
        let kind = if i == 2 { load_kind } else { Kind::Length };
        let text = words::value(data[i][at], kind, scene.units);
        rows[i].mark(chart.values[at], data[i][at], &text);
    }
    let show = |v: f64| {
        if turns {
            format!("{}°", words::rounded(v.to_degrees().abs(), 0))
        } else {
            bare_length(v, scene.units)
        }
    };
    let ticks: Vec<f64> = if turns {
        Axis::even(low.to_degrees(), high.to_degrees())
            .ticks(8.0, 1.0)
            .into_iter()
            .map(f64::to_radians)
            .collect()
    } else {
        x.ticks(8.0, per_length)
    };
    rows[2].level_values(&ticks, show);
    marks.extend(ends(
        scene,
        chart,
        &rows[2].frame,
        frame.bottom(),
        x.from > x.to,
    ));
    let ids = [
        "chart-against-slack",
        "chart-against-radius",
        "chart-against-load",
    ];
    for (row, id) in rows.into_iter().zip(ids) {
        marks.push(Mark::group(
            id,
            id.trim_start_matches("chart-against-"),
            row.marks,
        ));
    }
    marks
}

/// What the ends and the middle of the level axis are called.
fn ends(
    scene: &Scene<'_>,
    chart: &AgainstJoint,
    panel: &Frame,
    bottom: f64,
    flipped: bool,
) -> Vec<Mark> {
    let Some(motion) = scene.motion.as_ref().filter(|m| m.joint == chart.joint) else {
        return Vec::new();
    };
    let [low, rest, high] = &motion.names;
    let (left, right) = if flipped { (high, low) } else { (low, high) };
    let room = panel.w / 3.0 - 2.0;
    let line = |x: f64, text: &str, anchor: Anchor| {
        Mark::Line(
            Line::new([x, bottom], SMALL, lettering::fit(text, SMALL, true, room))
                .bold()
                .anchor(anchor),
        )
    };
    vec![
        line(panel.x, left, Anchor::Start),
        line(panel.x + 0.5 * panel.w, rest, Anchor::Middle),
        line(panel.right(), right, Anchor::End),
    ]
}

/// A panel with what is forbidden at its foot.
fn strip(frame: Frame, x: Axis, y: Axis, chart: &AgainstJoint, limit: &[f64]) -> Panel {
    let mut panel = Panel::new(frame, x, y);
    if let Some(&limit) = limit.first() {
        let limits = vec![limit; chart.values.len()];
        panel.forbid(&Forbidden {
            at: &chart.values,
            limit: &limits,
            below: true,
        });
    }
    panel
}

/// The limit of the inside radius of the branch's moving spans: at most one value.
fn radius_limit(scene: &Scene<'_>, chart: &AgainstJoint) -> Vec<f64> {
    let branch = scene.route.branches.get(chart.branch.0);
    let limit = scene.findings.limits.get(LimitKey::BendRadiusMoving);
    branch
        .map(|b| limit.radius(scene.route, b))
        .into_iter()
        .collect()
}

/// An even axis that holds the values, zero and the limits, with a little room.
fn values_axis(values: &[f64], limits: &[f64]) -> Axis {
    let known = values.iter().filter(|v| v.is_finite());
    let (mut low, mut high) = known.fold((0.0_f64, 0.0_f64), |(l, h), v| (l.min(*v), h.max(*v)));
    let span = high - low;
    for limit in limits.iter().filter(|l| l.is_finite()) {
        // A limit far off the values would flatten them.
        if *limit <= high + 1.5 * span && *limit >= low - 1.5 * span {
            (low, high) = (low.min(*limit), high.max(*limit));
        }
    }
    let room = 0.12 * (high - low).max(1e-9);
    let low_room = if low < 0.0 { room } else { 0.0 };
    Axis::even(low - low_room, high + room)
}

fn decimals(v: f64) -> usize {
    match v.abs() {
        a if !(1e-12..10.0).contains(&a) => 0,
        a if a >= 0.99 => 1,
        a if a >= 0.099 => 2,
        _ => 3,
    }
}

fn least(values: &[f64]) -> Option<usize> {
    let known = values.iter().enumerate().filter(|(_, v)| v.is_finite());
    known.min_by(|a, b| a.1.total_cmp(b.1)).map(|(i, _)| i)
}

fn most(values: &[f64]) -> Option<usize> {
    let known = values.iter().enumerate().filter(|(_, v)| v.is_finite());
    known
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()).then(b.0.cmp(&a.0)))
        .map(|(i, _)| i)
}
