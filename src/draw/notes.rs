//! What was assumed, what could not be computed, and the cautions.

use super::display::{Frame, Line, Mark};
use super::ink::{HEADING, Ink, SMALL, Stroke, THIN};
use super::lettering;
use super::list::LEADING;
use super::scene::Scene;

/// The cautions that stand on every sheet.
const CAUTIONS: [&str; 6] = [
    "Before riding, the steering must turn freely from stop to stop by hand.",
    "The throttle must snap shut by itself at every steering angle.",
    "Brake, throttle and airbag circuits belong to the maker’s manual and to licensed practice.",
    "Disconnect the battery, earth lead first. Let hot parts cool; they burn.",
    "The maker’s manual and local rules come before this sheet.",
    "A model is not proof: look at the harness in every position before and after the first ride.",
];

/// Height of the cautions in a column `width` \[mm\] wide.
pub(crate) fn cautions_height(width: f64) -> f64 {
    let lines: usize = CAUTIONS
        .iter()
        .map(|c| lettering::wrap(c, SMALL, false, width - 3.4).len())
        .sum();
    HEADING + 2.4 + SMALL * LEADING * lines as f64 + 3.0
}

/// Draws the cautions in a frame.
pub(crate) fn cautions(frame: Frame) -> Mark {
    let mut marks = vec![Mark::frame(
        frame,
        Some(Stroke::solid(Ink::Black, super::ink::MEDIUM)),
        None,
    )];
    let inner = Frame::new(frame.x + 2.2, frame.y + 2.0, frame.w - 4.4, frame.h - 4.0);
    let lines: Vec<String> = CAUTIONS.iter().map(|&c| c.to_owned()).collect();
    marks.extend(bullets("Cautions", &lines, inner));
    Mark::group("cautions", "cautions", marks)
}

/// What was assumed, not computed, or makes the result weaker: the gravest first.
fn assumptions(scene: &Scene<'_>) -> Vec<String> {
    let mut lines: Vec<String> = scene
        .findings
        .blanks
        .iter()
        .map(|blank| {
            let branch = scene
                .route
                .branches
                .get(blank.branch.0)
                .map_or("", |b| b.name.as_str());
            format!("Not computed: {} of {branch}: {}", blank.check, blank.why)
        })
        .collect();
    let unsolved = scene
        .solution
        .branches
        .iter()
        .flat_map(|b| &b.shapes)
        .filter(|s| !s.converged)
        .count();
    if unsolved > 0 {
        lines.push(format!("Not solved to the end: {unsolved} shapes of the harness. What is drawn of them is not an answer."));
    }
    lines.extend(crate::check::warnings(scene.route, scene.solution));
    lines.extend(crate::check::assumed(scene.route));
    if lines.is_empty() {
        lines.push("Nothing: every value stands in the route file.".to_owned());
    }
    lines
}

/// Height of what was assumed in a column `width` \[mm\] wide.
pub(crate) fn assumed_height(scene: &Scene<'_>, width: f64) -> f64 {
    let lines = assumptions(scene);
    let count: usize = lines
        .iter()
        .map(|l| lettering::wrap(l, SMALL, false, width - 3.0).len())
        .sum();
    HEADING + 0.9 + SMALL * LEADING * count as f64
}

/// Draws what was assumed, as much as fits.
pub(crate) fn assumed(scene: &Scene<'_>, frame: Frame) -> Mark {
    let lines = assumptions(scene);
    let marks = bullets("What was assumed", &lines, frame);
    Mark::group("assumed", "what was assumed", marks)
}

/// A heading and a list, cut where the frame ends with a count of what is left.
fn bullets(heading: &str, lines: &[String], frame: Frame) -> Vec<Mark> {
    let mut marks = vec![Mark::Line(
        Line::new([frame.x, frame.y + 0.75 * HEADING], HEADING, heading).bold(),
    )];
    let step = SMALL * LEADING;
    let mut y = frame.y + HEADING + 0.75 * SMALL + 0.9;
    for (index, line) in lines.iter().enumerate() {
        let wrapped = lettering::wrap(&lettering::clean(line), SMALL, false, frame.w - 3.0);
        let more = index + 1 < lines.len();
        let need = step * (wrapped.len() as f64 - 1.0 + if more { 1.0 } else { 0.0 });
        if y + need > frame.bottom() + 0.5 {
            let text = format!("and {} more, in the report", lines.len() - index);
            marks.push(Mark::Line(
                Line::new([frame.x + 3.0, y], SMALL, text).bold(),
            ));
            break;
        }
        let dash = y - 0.25 * SMALL;
        marks.push(Mark::line(
            vec![[frame.x, dash], [frame.x + 1.6, dash]],
            Stroke::solid(Ink::Black, 2.0 * THIN),
        ));
        for text in wrapped {
            marks.push(Mark::Line(Line::new([frame.x + 3.0, y], SMALL, text)));
            y += step;
        }
    }
    marks
}
