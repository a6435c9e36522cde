//! The harness straightened and laid flat at its true size: one row after the other, to be cut out and joined.
//!
//! Every row is a stretch of one branch. A millimetre on paper is a millimetre along the branch; the band is as thick as
//! the branch. Distances count from the branch's datum: its first fixing.

mod band;
mod flags;

use crate::draw::display::{Line, Mark};
use crate::draw::hatch::hatch;
use crate::draw::ink::{Ink, MEDIUM, Pattern, Stroke, THIN};
use crate::draw::scene::Scene;
use crate::draw::{lettering, symbols};
use crate::harness::Meeting;

use super::paper::{FINE, MARGIN, Paper, TEXT};
use super::{Bench, Work};
use band::{band, cross, hot, ruler, span_words};
use flags::{Flag, levels};

/// How far a row is drawn beyond its ends, for the join \[mm\].
const OVER: f64 = 5.0;
/// Height of one row of labels \[mm\].
const LABEL: f64 = 4.6;
/// Below the band: ruler, span lengths, heat \[mm\].
const BELOW: f64 = 25.0;

/// A row that is ready: its height and its marks, with its upper left corner at zero.
struct Row {
    height: f64,
    marks: Vec<Mark>,
}

/// All rows, on as many pages as they need.
pub(crate) fn pages(bench: &Bench<'_>, scene: &Scene<'_>) -> Vec<(String, Vec<Mark>)> {
    let room = bench.options.paper.room();
    let name = "Harness at true size";
    let mut pages: Vec<(String, Vec<Mark>)> = Vec::new();
    let mut y = f64::INFINITY;
    let mut number = 0;
    for branch in 0..scene.route.branches.len() {
        for row in rows(bench, scene, branch) {
            if y + row.height > room.bottom() + 0.01 {
                let title = if pages.is_empty() {
                    name.to_owned()
                } else {
                    format!("{name}, continued")
                };
                pages.push((title, Vec::new()));
                y = room.y;
            }
            let marks = row
                .marks
                .into_iter()
                .map(|mark| mark.moved([0.0, y]))
                .collect();
            if let Some((_, page)) = pages.last_mut() {
                page.push(Mark::group(
                    format!("strip-{number}"),
                    format!("{} straightened", scene.route.branches[branch].name),
                    marks,
                ));
            }
            number += 1;
            y += row.height;
        }
    }
    pages
}

/// Length of a row \[mm\]: whole centimetres.
fn tile(paper: Paper) -> f64 {
    ((paper.room().w - 2.0 * OVER - 1.0) / 10.0).floor() * 10.0
}

fn rows(bench: &Bench<'_>, scene: &Scene<'_>, branch: usize) -> Vec<Row> {
    let spans = scene
        .solution
        .branches
        .get(branch)
        .map_or(&[][..], |b| &b.spans);
    let length = 1e3 * spans.last().map_or(0.0, |span| span.end());
    // Rows of about one length: a last row of a few millimetres would be lost.
    let most = tile(bench.options.paper);
    let count = (length / most).ceil().max(1.0);
    let tile = ((length / count / 10.0).ceil() * 10.0).min(most);
    let mut rows = Vec::new();
    let mut from = 0.0;
    while from < length - 1e-6 || rows.is_empty() {
        let to = (from + tile).min(length);
        rows.push(row(
            bench,
            scene,
            branch,
            [from, to],
            length,
            rows.len() + 1,
        ));
        from += tile;
    }
    rows
}

/// The other branches that meet a branch at a fixing.
fn leaving<'r>(scene: &Scene<'r>, branch: usize, lay: usize) -> Vec<&'r str> {
    let here = |meet: &&Meeting| meet.branch.0 == branch && meet.lay == lay;
    let breakouts = scene.route.breakouts.iter();
    let mut here = breakouts.filter(|breakout| breakout.meets.iter().any(|meet| here(&meet)));
    let meets = here.next().map_or(&[][..], |breakout| &breakout.meets);
    meets
        .iter()
        .filter(|meet| meet.branch.0 != branch)
        .map(|meet| scene.route.branches[meet.branch.0].name.as_str())
        .collect()
}

fn row(
    bench: &Bench<'_>,
    scene: &Scene<'_>,
    branch: usize,
    [from, to]: [f64; 2],
    length: f64,
    number: usize,
) -> Row {
    let bundle = &scene.route.branches[branch];
    let solved = &scene.solution.branches[branch];
    let left = MARGIN + OVER;
    let on_paper = |at: f64| left + (1e3 * at - from);
    let within = |x: f64| x >= left - 1e-6 && x <= left + (to - from) + 1e-6;
    let more = [from > 1e-6, to < length - 1e-6];
    let show = |metres: f64| super::lists::show(metres, scene.units);

    // Flags: fixings and splices.
    let stations: Vec<f64> = std::iter::once(0.0)
        .chain(solved.spans.iter().map(|s| s.end()))
        .collect();
    let mut flags: Vec<Flag> = Vec::new();
    for (index, (at, lay)) in stations.iter().zip(&bundle.lay).enumerate() {
        let x = on_paper(*at);
        if within(x) {
            let mut text = format!("{} · {}", lay.fixing.name, show(*at));
            let others = leaving(scene, branch, index);
            if !others.is_empty() {
                text.push_str(&format!(", to {}", others.join(", ")));
            }
            flags.push(Flag {
                x,
                text: lettering::fit(&lettering::clean(&text), FINE, true, 110.0),
                bold: true,
            });
        }
    }
    let splices: Vec<(f64, String)> = bench.work.map_or_else(Vec::new, |work: &Work<'_>| {
        let of = work
            .splices
            .iter()
            .enumerate()
            .filter(|(_, s)| s.branch.0 == branch);
        of.map(|(index, splice)| (splice.at, format!("S{} · {}", index + 1, show(splice.at))))
            .collect()
    });
    for (at, text) in &splices {
        let x = on_paper(*at);
        if within(x) {
            flags.push(Flag {
                x,
                text: text.clone(),
                bold: false,
            });
        }
    }
    let half = (0.5e3 * bundle.diameter).clamp(1.0, 25.0);
    let right_edge = bench.options.paper.size()[0] - MARGIN;
    let placed = levels(&flags, right_edge);
    let most = placed.iter().map(|p| p.level).max().unwrap_or(0);
    let head = 7.2;
    let mid = head + LABEL * (most as f64 + 1.0) + 3.2 + half.max(2.6);
    let mut marks = Vec::new();

    // Head of the row.
    let name = lettering::fit(&bundle.name, TEXT, true, 110.0);
    let title = Line::new([MARGIN, 4.2], TEXT, name).bold();
    let after = title.frame().right() + 3.0;
    marks.push(Mark::Line(title));
    let datum = bundle
        .lay
        .first()
        .map_or("", |lay| lay.fixing.name.as_str());
    let mut says = format!(
        "from {datum}, row {number}: {} to {}",
        show(1e-3 * from),
        show(1e-3 * to)
    );
    if more[1] {
        says.push_str(", goes on in the next row");
    }
    let says = lettering::fit(&lettering::clean(&says), FINE, false, right_edge - after);
    marks.push(Mark::Line(
        Line::new([after, 4.2], FINE, says).ink(Ink::Grey),
    ));

    // The band, with what moves hatched.
    let ends = [
        if more[0] { left - OVER } else { left },
        if more[1] {
            left + (to - from) + OVER
        } else {
            left + (to - from)
        },
    ];
    marks.push(band(ends, mid, half));
    for (index, span) in solved.spans.iter().enumerate() {
        let x = [
            on_paper(span.start).max(ends[0]),
            on_paper(span.end()).min(ends[1]),
        ];
        if x[1] - x[0] < 0.3 {
            continue;
        }
        if span.moving {
            let area = vec![vec![
                [x[0], mid - half],
                [x[1], mid - half],
                [x[1], mid + half],
                [x[0], mid + half],
            ]];
            let lines = hatch(&area, 1.6, std::f64::consts::FRAC_PI_4);
            marks.push(Mark::lines(lines, Stroke::solid(Ink::Black, THIN)));
        }
        let whole = [
            on_paper(span.start) >= ends[0],
            on_paper(span.end()) <= ends[1],
        ];
        marks.extend(span_words(
            bench,
            scene,
            (branch, index),
            (x, whole),
            mid + half.max(2.6) + 9.4,
        ));
    }
    marks.extend(hot(
        scene,
        branch,
        from,
        ends,
        left,
        mid + half.max(2.6) + 17.0,
    ));
    marks.extend(ruler(
        scene.units.length,
        [from, to],
        left,
        mid + half.max(2.6) + 1.2,
    ));

    // Poles and labels above, then the symbols on the band.
    for (flag, place) in flags.iter().zip(&placed) {
        let y = head + LABEL * (most - place.level) as f64;
        let pole = vec![[flag.x, y + 0.6], [flag.x, mid]];
        marks.push(Mark::line(pole, Stroke::solid(Ink::Grey, THIN)));
        let line = Line::new([place.text[0], y + 0.8 * FINE], FINE, flag.text.as_str());
        marks.push(Mark::Line(if flag.bold { line.bold() } else { line }));
    }
    for (at, lay) in stations.iter().zip(&bundle.lay) {
        let x = on_paper(*at);
        if within(x) {
            let across = vec![[x, mid - half], [x, mid + half]];
            marks.push(Mark::line(across, Stroke::solid(Ink::Black, MEDIUM)));
            marks.extend(symbols::fixing(&lay.fixing.kind, [x, mid], [1.0, 0.0]));
        }
    }
    for (at, _) in &splices {
        let x = on_paper(*at);
        if within(x) {
            marks.extend(cross([x, mid], half.max(2.0)));
        }
    }
    for (end, x) in [(more[0], left), (more[1], left + (to - from))] {
        if end {
            let pen = Stroke::with(Ink::Black, MEDIUM, Pattern::DashDot);
            marks.push(Mark::line(
                vec![[x, mid - half - 3.0], [x, mid + half.max(2.6) + 1.0]],
                pen,
            ));
        }
    }
    Row {
        height: mid + half.max(2.6) + BELOW,
        marks,
    }
}
