//! The findings, worst first.

use crate::check::{Finding, Verdict};

use super::display::{Frame, Line, Mark};
use super::ink::{BODY, HEADING, Ink, SMALL, Stroke, THIN};
use super::lettering;
use super::scene::Scene;
use super::symbols;
use super::words;

/// Distance between baselines, as a part of the type's height.
pub(crate) const LEADING: f64 = 1.24;

/// Draws as many findings as fit, and says how many more there are. Gives also how many fitted.
pub(crate) fn findings(scene: &Scene<'_>, frame: Frame) -> (Mark, usize) {
    let mut marks = vec![Mark::Line(
        Line::new(
            [frame.x, frame.y + 0.75 * HEADING],
            HEADING,
            "Findings, the worst first",
        )
        .bold(),
    )];
    let mut y = frame.y + HEADING + 2.2;
    let all = &scene.findings.findings;
    if all.is_empty() {
        let text = "The checks found nothing to report.";
        marks.push(Mark::Line(Line::new(
            [frame.x, y + BODY * 0.75],
            BODY,
            text,
        )));
        y += BODY * LEADING + 1.0;
    }
    let mut shown = 0;
    for (index, finding) in all.iter().enumerate() {
        let (entry, height) = entry(scene, index + 1, finding, [frame.x, y], frame.w);
        let last = index + 1 == all.len();
        let need = height + if last { 0.0 } else { SMALL * LEADING + 1.0 };
        if y + need > frame.bottom() {
            break;
        }
        marks.push(Mark::group(
            format!("finding-{}", index + 1),
            format!("finding {}", index + 1),
            entry,
        ));
        y += height;
        shown += 1;
    }
    if shown < all.len() {
        let text = rest_in_words(&all[shown..]);
        let text = lettering::fit(&text, SMALL, true, frame.w);
        marks.push(Mark::Line(
            Line::new([frame.x, y + SMALL * 0.75], SMALL, text).bold(),
        ));
    }
    (
        Mark::group("findings", "findings, the worst first", marks),
        shown,
    )
}

/// What is not shown, counted by verdict.
fn rest_in_words(rest: &[Finding]) -> String {
    let count = |verdict: Verdict| rest.iter().filter(|f| f.verdict == verdict).count();
    let words: Vec<String> = [
        (Verdict::Over, "over the limit"),
        (Verdict::Close, "too close to call"),
        (Verdict::Within, "within limits"),
    ]
    .into_iter()
    .filter_map(|(verdict, what)| match count(verdict) {
        0 => None,
        n => Some(format!("{n} more {what}")),
    })
    .collect();
    format!("and {}", words.join(", "))
}

/// One finding, and the height that it takes.
fn entry(
    scene: &Scene<'_>,
    number: usize,
    finding: &Finding,
    at: [f64; 2],
    width: f64,
) -> (Vec<Mark>, f64) {
    let mut marks = Vec::new();
    let number = number.to_string();
    let tag = symbols::tag_size(&number);
    let indent = 8.0_f64.max(tag[0] + 2.0);
    let tag_frame = Frame::new(at[0], at[1], tag[0].max(5.6), tag[1]);
    marks.extend(symbols::tag(finding.verdict, tag_frame, &number));
    let left = at[0] + indent;
    let room = width - indent;

    let mut baseline = at[1] + 0.5 * tag[1] + 0.36 * BODY;
    marks.extend(symbols::verdict(
        finding.verdict,
        [left + 1.6, at[1] + 0.5 * tag[1]],
        3.2,
    ));
    let branch = scene
        .route
        .branches
        .get(finding.branch.0)
        .map_or("", |b| b.name.as_str());
    let head = format!(
        "{}: {}",
        capital(finding.check),
        symbols::verdict_word(finding.verdict)
    );
    let ink = if finding.verdict == Verdict::Over {
        Ink::Rust
    } else {
        Ink::Black
    };
    let head = Line::new([left + 4.6, baseline], BODY, head)
        .bold()
        .ink(ink);
    let beside = left + room - head.frame().right() - 3.0;
    let (mut figures, chance) = figures(scene, finding);
    // The chance stands there where it has room; a number is never cut.
    if lettering::width(&format!("{figures}{chance}"), BODY, false) <= beside {
        figures.push_str(&chance);
    }
    let figures = lettering::fit(&figures, BODY, false, beside);
    let figures =
        Line::new([left + room, baseline], BODY, figures).anchor(super::display::Anchor::End);
    marks.push(Mark::Line(head));
    marks.push(Mark::Line(figures));
    baseline += BODY * LEADING;

    let place = format!("{branch}, {} · {}", finding.place, scene.pose(finding.pose));
    for text in lettering::wrap(&place, SMALL, false, room) {
        marks.push(Mark::Line(
            Line::new([left, baseline], SMALL, text).ink(Ink::Grey),
        ));
        baseline += SMALL * LEADING;
    }
    for text in lettering::wrap(&finding.advice, SMALL, false, room) {
        marks.push(Mark::Line(Line::new([left, baseline], SMALL, text)));
        baseline += SMALL * LEADING;
    }
    let bottom = baseline - SMALL * LEADING + 1.5;
    marks.push(Mark::line(
        vec![[at[0], bottom], [at[0] + width, bottom]],
        Stroke::solid(Ink::Pale, THIN),
    ));
    (marks, bottom + 1.7 - at[1])
}

/// Value and limit: "31 mm, at least 45 mm"; and the chance, where it is close: " (20 % likely over)".
fn figures(scene: &Scene<'_>, finding: &Finding) -> (String, String) {
    let chance = match (finding.verdict, finding.chance_over) {
        (Verdict::Close, Some(chance)) => {
            format!(" ({} % likely over)", words::rounded(100.0 * chance, 0))
        }
        _ => String::new(),
    };
    (words::value_and_limit(finding, scene.units), chance)
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}
