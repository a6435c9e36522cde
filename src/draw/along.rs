//! The strip chart along the worst branch.

use crate::check::{AlongBranch, Finding};
use crate::quantity::{Kind, LengthUnit, Units};

use super::chart::{Axis, Forbidden, Panel, bare_length, radius_axis, worth};
use super::display::{Anchor, Frame, Line, Mark};
use super::ink::{BODY, HEADING, Ink, Pattern, SMALL, Stroke, THIN};
use super::lettering;
use super::scene::Scene;
use super::words;

/// Room for the values of the upright axis \[mm\].
pub(crate) const VALUES: f64 = 11.0;

/// Draws the chart of the worst branch; says so where there is none.
pub(crate) fn along(scene: &Scene<'_>, frame: Frame) -> Mark {
    let branch = scene.worst_branch();
    let chart = scene.findings.along.iter().find(|c| c.branch.0 == branch);
    let marks = match (chart, scene.route.branches.get(branch)) {
        (Some(chart), Some(_)) if chart.at.len() > 1 => panels(scene, chart, frame),
        _ => vec![Mark::Line(
            Line::new(
                [frame.x, frame.y + BODY],
                BODY,
                "No chart along the harness: nothing was computed there.",
            )
            .ink(Ink::Grey),
        )],
    };
    Mark::group(
        "chart-along",
        "What the worst branch bears along its length",
        marks,
    )
}

fn panels(scene: &Scene<'_>, chart: &AlongBranch, frame: Frame) -> Vec<Mark> {
    let name = &scene.route.branches[chart.branch.0].name;
    let unit = unit(scene.units);
    let heading = lettering::fit(&format!("Along {name}"), HEADING, true, frame.w - 42.0);
    let heading = Line::new([frame.x, frame.y + 0.75 * HEADING], HEADING, heading).bold();
    let after = heading.frame().right() + 2.0;
    let mut marks = vec![
        Mark::Line(heading),
        Mark::Line(
            Line::new(
                [after, frame.y + 0.75 * HEADING],
                SMALL,
                "the worst over all poses",
            )
            .ink(Ink::Grey),
        ),
    ];
    let hot = chart.hot_gap.len() == chart.at.len();
    let (low, high) = (chart.at[0], chart.at[chart.at.len() - 1]);
    let x = Axis::even(low, high);
    let left = frame.x + VALUES;
    let width = frame.w - VALUES - 3.0;
    let ats = fixing_places(scene, chart.branch.0);
    let named = fixing_names(&ats, x, left, width);
    let rows = named.iter().map(|n| n.row + 1).max().unwrap_or(0);
    let (names, axis, title) = (0.8 + 3.1 * rows as f64, 8.2, 4.4);
    let upper = frame.y + HEADING + 1.5 + names + title;
    let room = frame.bottom() - axis - upper;
    let shares = if hot {
        ((room - title - 2.0) * 0.56, (room - title - 2.0) * 0.44)
    } else {
        (room, 0.0)
    };

    let mut radius = Panel::new(
        Frame::new(left, upper, width, shares.0),
        x,
        radius_axis(&chart.inside_radius, &chart.radius_limit),
    );
    radius.forbid(&Forbidden {
        at: &chart.at,
        limit: &chart.radius_limit,
        below: true,
    });
    let show = |v: f64| bare_length(v, scene.units);
    let worth = worth(Kind::Length, scene.units);
    let ticks = radius.y.ticks(4.0, worth);
    radius.axes(
        "inside radius",
        &format!("{unit}; hatched: too tight"),
        &ticks,
        show,
    );
    let places: Vec<f64> = ats.iter().map(|(at, _)| *at).collect();
    radius.uprights(&places, Stroke::with(Ink::Grey, THIN, Pattern::ShortDash));
    radius.curve(&chart.at, &chart.inside_radius);
    mark(
        scene,
        chart,
        "bend radius",
        &chart.inside_radius,
        &mut radius,
    );
    marks.extend(named.into_iter().map(|n| {
        let y = upper - title - 0.9 - 3.1 * n.row as f64;
        Mark::Line(Line::new([n.start, y], SMALL, n.text))
    }));

    let lowest = if hot {
        let top = radius.frame.bottom() + title + 2.0;
        let mut gap = Panel::new(
            Frame::new(left, top, width, shares.1),
            x,
            gap_axis(&chart.hot_gap, &chart.hot_limit),
        );
        gap.forbid(&Forbidden {
            at: &chart.at,
            limit: &chart.hot_limit,
            below: true,
        });
        let ticks = gap.y.ticks(3.0, worth);
        gap.axes(
            "gap to the hot part nearest its limit",
            &format!("{unit}; hatched: too near"),
            &ticks,
            show,
        );
        gap.uprights(&places, Stroke::with(Ink::Grey, THIN, Pattern::ShortDash));
        gap.curve(&chart.at, &chart.hot_gap);
        mark(scene, chart, "heat distance", &chart.hot_gap, &mut gap);
        marks.push(Mark::group(
            "chart-along-radius",
            "inside radius",
            radius.marks,
        ));
        gap
    } else {
        radius
    };
    let mut lowest = lowest;
    let ticks = x.ticks(8.0, worth);
    lowest.level_values(&ticks, show);
    let first = ats
        .first()
        .map_or("its first fixing", |(_, name)| name.as_str());
    let from = lettering::fit(&format!("{unit} from {first}"), SMALL, false, width);
    marks.push(Mark::Line(
        Line::new([lowest.frame.right(), frame.bottom()], SMALL, from)
            .ink(Ink::Grey)
            .anchor(Anchor::End),
    ));
    marks.push(Mark::group(
        if hot {
            "chart-along-heat"
        } else {
            "chart-along-radius"
        },
        "along the branch",
        lowest.marks,
    ));
    marks
}

/// Where the fixings of a branch are along it, and their names.
fn fixing_places(scene: &Scene<'_>, branch: usize) -> Vec<(f64, String)> {
    let spans = scene
        .solution
        .branches
        .get(branch)
        .map_or(&[][..], |b| &b.spans);
    let starts = spans.iter().map(|s| s.start);
    let at: Vec<f64> = starts.chain(spans.last().map(|s| s.end())).collect();
    let lay = &scene.route.branches[branch].lay;
    at.into_iter()
        .zip(lay)
        .map(|(at, l)| (at, l.fixing.name.clone()))
        .collect()
}

/// A fixing's name above the panel: where it begins, in which row from below, what it says.
struct Named {
    start: f64,
    row: usize,
    text: String,
}

/// Names in as few rows as keep them apart; a name without room is left to the views.
fn fixing_names(ats: &[(f64, String)], x: Axis, left: f64, width: f64) -> Vec<Named> {
    const ROWS: usize = 3;
    let mut named = Vec::new();
    let mut ends = [f64::NEG_INFINITY; ROWS];
    for (at, name) in ats {
        let text = lettering::fit(&lettering::clean(name), SMALL, false, 34.0);
        let wide = lettering::width(&text, SMALL, false);
        let middle = left + width * x.part(*at);
        let start = (middle - 0.5 * wide).clamp(
            left - VALUES,
            (left + width + 3.0 - wide).max(left - VALUES),
        );
        let Some(row) = (0..ROWS).find(|r| start > ends[*r] + 1.5) else {
            continue;
        };
        ends[row] = start + wide;
        named.push(Named { start, row, text });
    }
    named
}

/// An axis of gaps: from zero (or the deepest overlap) to six times the greatest limit, and as far as the nearest place.
fn gap_axis(values: &[f64], limits: &[f64]) -> Axis {
    let known = |x: &&f64| x.is_finite();
    let least = values.iter().filter(known).copied().fold(0.0, f64::min);
    let most = limits.iter().filter(known).copied().fold(0.0, f64::max);
    let widest = values.iter().filter(known).copied().fold(0.0, f64::max);
    let nearest = values.iter().filter(known).copied().reduce(f64::min);
    let to = if most > 0.0 {
        (6.0 * most).min(widest.max(1.4 * most))
    } else {
        widest
    };
    let to = to.max(1.3 * nearest.unwrap_or(0.0));
    Axis::even(least, to.max(least + 0.01))
}

/// Marks the worst finding of a check that is a point of the curve.
fn mark(scene: &Scene<'_>, chart: &AlongBranch, check: &str, curve: &[f64], panel: &mut Panel) {
    let on_curve = |f: &&Finding| {
        let place = chart.at.partition_point(|at| *at < f.at - 1e-9);
        let around = curve.iter().skip(place.saturating_sub(1)).take(3);
        around
            .into_iter()
            .any(|v| (v - f.value).abs() <= 1e-3 + 0.01 * f.value.abs())
    };
    let findings = scene.findings.findings.iter();
    let mut found = findings
        .filter(|f| f.check == check && f.branch == chart.branch)
        .filter(on_curve);
    if let Some(f) = found.next() {
        panel.mark(f.at, f.value, &words::value(f.value, f.kind, scene.units));
    }
}

/// The unit of length in words.
pub(crate) fn unit(units: Units) -> &'static str {
    match units.length {
        LengthUnit::Mm => "mm",
        LengthUnit::Inch => "in",
    }
}
