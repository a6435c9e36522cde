//! What lies on the band and below it: splices, lengths of spans, hot stretches, the ruler.

use crate::draw::bench::paper::FINE;
use crate::draw::bench::{Bench, lists};
use crate::draw::display::{Anchor, Frame, Line, Mark, Spot};
use crate::draw::ink::{HEAVY, Ink, MEDIUM, Pattern, Stroke, THIN};
use crate::draw::lettering;
use crate::draw::scene::Scene;
use crate::quantity::LengthUnit;

pub(super) fn band(ends: [f64; 2], mid: f64, half: f64) -> Mark {
    Mark::frame(
        Frame::new(ends[0], mid - half, ends[1] - ends[0], 2.0 * half),
        Some(Stroke::solid(Ink::Black, MEDIUM)),
        Some(Ink::Paper),
    )
}

/// A splice: a cross over the band.
pub(super) fn cross(at: Spot, r: f64) -> Vec<Mark> {
    let pen = Stroke::solid(Ink::Black, HEAVY);
    let d = 0.8 * r;
    vec![Mark::lines(
        vec![
            vec![[at[0] - d, at[1] - d], [at[0] + d, at[1] + d]],
            vec![[at[0] - d, at[1] + d], [at[0] + d, at[1] - d]],
        ],
        pen,
    )]
}

/// What a span is: its length, whether it moves, what is added.
///
/// `x` is the stretch on paper, with whether the span begins and ends in it.
pub(super) fn span_words(
    bench: &Bench<'_>,
    scene: &Scene<'_>,
    (branch, index): (usize, usize),
    (x, whole): ([f64; 2], [bool; 2]),
    y: f64,
) -> Vec<Mark> {
    let span = &scene.solution.branches[branch].spans[index];
    let show = |metres: f64| lists::show(metres, scene.units);
    let added: f64 = bench.work.map_or(0.0, |work| {
        let of = work
            .done
            .adds
            .iter()
            .filter(|a| a.branch.0 == branch && a.span == index);
        of.map(|a| a.by).sum()
    });
    let mut texts = Vec::new();
    let length = show(span.length);
    match (span.moving, added > 0.0) {
        (true, true) => texts.push(format!(
            "{length}, {} of it new; moves: no splice, no tie",
            show(added)
        )),
        (true, false) => texts.push(format!("{length}; moves: no splice, no tie")),
        (false, true) => texts.push(format!("{length}, {} of it new", show(added))),
        (false, false) => {}
    }
    if span.moving {
        texts.push(format!("{length}; moves"));
    }
    texts.push(length);
    let room = x[1] - x[0];
    let Some(text) = texts
        .into_iter()
        .find(|t| lettering::width(t, FINE, false) <= room - 3.0)
    else {
        return Vec::new();
    };
    let pen = Stroke::solid(Ink::Grey, THIN);
    let middle = 0.5 * (x[0] + x[1]);
    let mut lines = vec![vec![[x[0] + 0.5, y], [x[1] - 0.5, y]]];
    for (ends, x) in [(whole[0], x[0] + 0.5), (whole[1], x[1] - 0.5)] {
        if ends {
            lines.push(vec![[x, y - 1.2], [x, y + 1.2]]);
        }
    }
    vec![
        Mark::lines(lines, pen),
        Mark::Line(Line::new([middle, y + 4.2], FINE, text).anchor(Anchor::Middle)),
    ]
}

/// Stretches nearer to a hot part than they may be, or than twice that.
pub(super) fn hot(
    scene: &Scene<'_>,
    branch: usize,
    from: f64,
    ends: [f64; 2],
    left: f64,
    y: f64,
) -> Vec<Mark> {
    let Some(chart) = scene
        .findings
        .along
        .iter()
        .find(|chart| chart.branch.0 == branch)
    else {
        return Vec::new();
    };
    let mut marks = Vec::new();
    let mut start: Option<f64> = None;
    let places = chart
        .at
        .iter()
        .zip(chart.hot_gap.iter().zip(&chart.hot_limit));
    let mut stretches = Vec::new();
    let mut last = 0.0;
    for (at, (gap, limit)) in places {
        if *gap < 2.0 * limit {
            start.get_or_insert(*at);
            last = *at;
        } else if let Some(from) = start.take() {
            stretches.push([from, last]);
        }
    }
    if let Some(from) = start {
        stretches.push([from, last]);
    }
    for [a, b] in stretches {
        let x = [
            (left + 1e3 * a - from).max(ends[0]),
            (left + 1e3 * b - from).min(ends[1]),
        ];
        if x[1] - x[0] < 1.0 {
            continue;
        }
        marks.push(Mark::line(
            vec![[x[0], y], [x[1], y]],
            Stroke::with(Ink::Rust, 1.1, Pattern::Dots),
        ));
        let text = "hot zone: nearer than twice the least distance; heat sleeve, no vinyl tape";
        let text = [text, "hot zone: heat sleeve", "hot"]
            .into_iter()
            .find(|t| lettering::width(t, FINE, false) <= x[1] - x[0])
            .unwrap_or("");
        if !text.is_empty() {
            marks.push(Mark::Line(Line::new([x[0], y + 4.0], FINE, text)));
        }
    }
    marks
}

/// Ticks with their distances from the datum.
pub(super) fn ruler(unit: LengthUnit, [from, to]: [f64; 2], left: f64, y: f64) -> Vec<Mark> {
    // Step of the ticks [mm], how many make a long one, how many a named one.
    let (step, long, named, scale) = match unit {
        LengthUnit::Mm => (5.0, 2u32, 4u32, 1.0),
        LengthUnit::Inch => (25.4 / 4.0, 4, 4, 1.0 / 25.4),
    };
    let mut ticks = [Vec::new(), Vec::new()];
    let mut marks = Vec::new();
    let mut index = 0u32;
    loop {
        let at = step * f64::from(index);
        if at > to + 1e-6 {
            break;
        }
        if at >= from - 1e-6 {
            let x = left + at - from;
            let is_long = index.is_multiple_of(long);
            ticks[usize::from(is_long)]
                .push(vec![[x, y], [x, y + if is_long { 2.2 } else { 1.2 }]]);
            if index.is_multiple_of(named) {
                let text = format!("{:.0}", at * scale);
                marks.push(Mark::Line(
                    Line::new([x, y + 5.4], 2.75, text)
                        .anchor(Anchor::Middle)
                        .ink(Ink::Grey),
                ));
            }
        }
        index += 1;
    }
    let [short, long] = ticks;
    marks.push(Mark::lines(short, Stroke::solid(Ink::Grey, THIN)));
    marks.push(Mark::lines(long, Stroke::solid(Ink::Black, 1.5 * THIN)));
    vec![Mark::group("ruler", "distance from the datum", marks)]
}
