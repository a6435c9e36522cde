//! The whole sheet: title, views, charts, findings, notes.

use crate::check::Verdict;
use crate::quantity::LengthUnit;

use super::against::against;
use super::along::along;
use super::display::{Anchor, Frame, Line, Mark, Sheet};
use super::ink::{BODY, HEADING, Ink, MEDIUM, Stroke, THIN, TITLE};
use super::key;
use super::layout;
use super::lettering;
use super::list;
use super::notes;
use super::scene::Scene;
use super::symbols;
use super::view::view;

/// Width of the sheet: A3 lying \[mm\].
const WIDTH: f64 = 420.0;
/// Height of the sheet \[mm\].
const HEIGHT: f64 = 297.0;
/// Margin all round \[mm\].
const MARGIN: f64 = 10.0;
/// Between columns \[mm\].
const GUTTER: f64 = 7.0;
/// Width of the column of words \[mm\].
const COLUMN: f64 = 112.0;
/// Height of the title strip \[mm\].
const STRIP: f64 = 16.5;
/// Height of the charts \[mm\].
const CHARTS: f64 = 73.0;

/// Lays everything out.
pub(crate) fn compose(mut scene: Scene<'_>) -> Sheet {
    let right = WIDTH - MARGIN;
    let bottom = HEIGHT - MARGIN;
    let top = MARGIN + STRIP + 4.0;
    let words_x = right - COLUMN;
    let pictures = words_x - GUTTER - MARGIN;
    let charts_y = bottom - CHARTS;
    let bar_y = charts_y - 8.0;
    let cautions = notes::cautions_height(COLUMN - 4.4) + 1.5;
    let assumed = notes::assumed_height(&scene, COLUMN).min(38.0);
    let cautions_y = bottom - cautions;
    let assumed_y = cautions_y - 4.0 - assumed;
    let frame = Frame::new(words_x, top, COLUMN, assumed_y - 4.0 - top);
    let (findings, listed) = list::findings(&scene, frame);
    scene.listed = listed;
    let scene = &scene;

    let views = layout::views(scene, Frame::new(MARGIN, top, pictures, bar_y - 3.0 - top));

    let mut marks = vec![title(scene)];
    marks.extend(views.views.iter().map(|v| view(scene, v)));
    marks.push(key::key(scene, views.key));
    marks.push(key::check_bar([MARGIN, bar_y]));
    let rule = |a: [f64; 2], b: [f64; 2], stroke| Mark::line(vec![a, b], stroke);
    marks.push(Mark::group(
        "rules",
        "rules",
        vec![
            rule(
                [MARGIN, top - 3.2],
                [right, top - 3.2],
                Stroke::solid(Ink::Black, MEDIUM),
            ),
            rule(
                [MARGIN, charts_y - 3.4],
                [words_x - GUTTER, charts_y - 3.4],
                Stroke::solid(Ink::Black, THIN),
            ),
            rule(
                [words_x - 0.5 * GUTTER, top],
                [words_x - 0.5 * GUTTER, bottom],
                Stroke::solid(Ink::Pale, THIN),
            ),
        ],
    ));
    let share = (pictures - GUTTER) * 0.54;
    marks.push(along(scene, Frame::new(MARGIN, charts_y, share, CHARTS)));
    let against_x = MARGIN + share + GUTTER;
    marks.push(against(
        scene,
        Frame::new(against_x, charts_y, words_x - GUTTER - against_x, CHARTS),
    ));

    marks.push(findings);
    marks.push(notes::assumed(
        scene,
        Frame::new(words_x, assumed_y, COLUMN, assumed),
    ));
    marks.push(notes::cautions(Frame::new(
        words_x, cautions_y, COLUMN, cautions,
    )));
    Sheet {
        width: WIDTH,
        height: HEIGHT,
        title: lettering::clean(&scene.route.title),
        description: description(scene),
        marks,
    }
}

fn title(scene: &Scene<'_>) -> Mark {
    let right = WIDTH - MARGIN;
    let verdict = verdict_in_words(scene);
    let size = 0.78 * TITLE;
    let verdict_line = Line::new([right, MARGIN + 6.0], size, verdict)
        .bold()
        .anchor(Anchor::End)
        .ink(if scene.verdict() == Verdict::Over {
            Ink::Rust
        } else {
            Ink::Black
        });
    let symbol_x = verdict_line.frame().x - 6.0;
    let room = symbol_x - 8.0 - MARGIN;
    let mut marks = symbols::verdict(scene.verdict(), [symbol_x, MARGIN + 3.9], 6.4);
    let counts = counts_in_words(scene);
    marks.push(Mark::Line(verdict_line));
    marks.push(Mark::Line(
        Line::new([right, MARGIN + 13.4], BODY, counts)
            .anchor(Anchor::End)
            .ink(Ink::Grey),
    ));
    // A long title takes smaller type before it takes an ellipsis.
    let text = lettering::clean(&scene.route.title);
    let sizes = [TITLE, 0.85 * TITLE, 0.7 * TITLE, HEADING];
    let size = sizes
        .into_iter()
        .find(|s| lettering::width(&text, *s, true) <= room)
        .unwrap_or(HEADING);
    let text = lettering::fit(&text, size, true, room);
    marks.push(Mark::Line(
        Line::new([MARGIN, MARGIN + 6.0], size, text).bold(),
    ));
    let facts = lettering::fit(&facts(scene), BODY, false, 200.0);
    marks.push(Mark::Line(
        Line::new([MARGIN, MARGIN + 13.4], BODY, facts).ink(Ink::Grey),
    ));
    Mark::group("title-strip", "title and verdict", marks)
}

/// How many findings have a verdict.
fn count(scene: &Scene<'_>, verdict: Verdict) -> usize {
    let findings = scene.findings.findings.iter();
    findings.filter(|f| f.verdict == verdict).count()
}

/// The verdict in words.
fn verdict_in_words(scene: &Scene<'_>) -> String {
    let count = |verdict| count(scene, verdict);
    match (scene.verdict(), count(Verdict::Over), count(Verdict::Close)) {
        (Verdict::Over, 1, _) => "Over 1 limit".to_owned(),
        (Verdict::Over, n, _) => format!("Over {n} limits"),
        (Verdict::Close, _, 1) => "Too close to call in 1 place".to_owned(),
        (Verdict::Close, _, n) => format!("Too close to call in {n} places"),
        (Verdict::Within, ..) if scene.findings.findings.is_empty() => {
            "Nothing was checked".to_owned()
        }
        (Verdict::Within, ..) => "Within every limit that was checked".to_owned(),
    }
}

fn counts_in_words(scene: &Scene<'_>) -> String {
    let count = |verdict| count(scene, verdict);
    let mut words = vec![
        format!("{} over", count(Verdict::Over)),
        format!("{} too close to call", count(Verdict::Close)),
        format!("{} within", count(Verdict::Within)),
    ];
    match scene.findings.blanks.len() {
        0 => {}
        1 => words.push("1 could not be computed".to_owned()),
        n => words.push(format!("{n} could not be computed")),
    }
    words.join(" · ")
}

/// What the sheet is of, in figures.
fn facts(scene: &Scene<'_>) -> String {
    let plural = |n: usize, one: &str, many: &str| {
        if n == 1 {
            format!("1 {one}")
        } else {
            format!("{n} {many}")
        }
    };
    let units = match scene.units.length {
        LengthUnit::Mm => "lengths in millimetres",
        LengthUnit::Inch => "lengths in inches",
    };
    format!(
        "{} · {} checked · {units} · scales hold on A3",
        plural(scene.route.branches.len(), "branch", "branches"),
        plural(
            scene.solution.sweep.poses.len(),
            "position of the machine",
            "positions of the machine"
        ),
    )
}

fn description(scene: &Scene<'_>) -> String {
    let mut text = format!("{}. {}.", verdict_in_words(scene), counts_in_words(scene));
    if let Some(worst) = scene.findings.findings.first() {
        text.push_str(&format!(
            " The worst: {} at {}, {}.",
            worst.check,
            worst.place,
            scene.pose(worst.pose)
        ));
    }
    text.push_str(" Views from the left, the front, above and along the steering axis; charts along the worst branch and against the steering angle; findings, assumptions and cautions in words.");
    lettering::clean(&text)
}
