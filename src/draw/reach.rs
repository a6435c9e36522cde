//! How far one change can go for each share of another: the boundary, what is allowed and what is not, and which limit
//! decides along which stretch of it.

use crate::advise::{Amount, Chart, ChartRow};
use crate::quantity::{Kind, Units};

use super::display::{Anchor, Line, Mark, Sheet, Spot};
use super::hatch::hatch;
use super::ink::{BODY, HEADING, HEAVY, Ink, MEDIUM, Pattern, SMALL, Stroke, THIN};
use super::{SheetOptions, lettering, svg_out, words};

/// The sheet: A5 lying \[mm\].
const SHEET: [f64; 2] = [210.0, 148.0];
/// Where the field lies \[mm\].
const FIELD: [Spot; 2] = [[30.0, 26.0], [132.0, 122.0]];
/// Where the list of deciding limits begins \[mm\].
const LIST: f64 = 140.0;

/// Draws a chart of two changes as SVG.
pub fn reach_chart(chart: &Chart, title: &str, options: &SheetOptions) -> String {
    svg_out::svg_of_sheet(&compose(chart, title, options.units))
}

/// An amount of a change in words: "25 mm", "3°", "50 %".
fn show(of: Amount, share: f64, units: Units) -> String {
    match of.kind {
        Kind::Ratio => format!("{} %", words::rounded(100.0 * share, 0)),
        kind => units.show_to(
            of.value * share,
            kind,
            usize::from(of.value * share < 9.95e-3 && kind == Kind::Length),
        ),
    }
}

fn compose(chart: &Chart, title: &str, units: Units) -> Sheet {
    let [[left, top], [right, bottom]] = FIELD;
    let most_y = chart.rows.last().map_or(1.0, |row| row.share).max(1e-9);
    let x = |share: f64| left + (right - left) * (share / chart.most).clamp(0.0, 1.0);
    let y = |share: f64| bottom - (bottom - top) * (share / most_y).clamp(0.0, 1.0);
    let edge: Vec<Spot> = chart
        .rows
        .iter()
        .map(|row| [x(row.allowed.unwrap_or(0.0)), y(row.share)])
        .collect();
    let mut marks = vec![
        Mark::Line(Line::new([12.0, 13.0], HEADING, lettering::clean(title)).bold()),
        Mark::Line(Line::new(
            [12.0, 19.0],
            SMALL,
            "Plain: every limit holds. Hatched: some limit is broken. Solved and checked at every dot.",
        )),
    ];
    let mut forbidden = edge.clone();
    forbidden.extend([[right, top], [right, bottom]]);
    if edge.len() > 1 {
        let lines = hatch(&[forbidden], 2.4, std::f64::consts::FRAC_PI_4);
        marks.push(Mark::group(
            "forbidden",
            "some limit is broken",
            vec![Mark::lines(lines, Stroke::solid(Ink::Grey, THIN))],
        ));
    }
    marks.push(axes(chart, (&x, &y), units));
    let stretches = stretches(&chart.rows);
    let mut boundary = Vec::new();
    let mut list = vec![Mark::Line(
        Line::new([LIST, top], BODY, "What decides").bold(),
    )];
    let mut line_y = top + 6.0;
    for (number, (from, to)) in stretches.iter().enumerate() {
        let own = &edge[*from..=(to + 1).min(edge.len() - 1)];
        // Told apart by pattern and number.
        let patterns = [
            Pattern::Solid,
            Pattern::LongDash,
            Pattern::DashDot,
            Pattern::Dots,
        ];
        let pattern = patterns[number % patterns.len()];
        let stroke = Stroke::with(Ink::Black, HEAVY, pattern);
        boundary.push(Mark::line(own.to_vec(), stroke));
        let middle = edge[(from + to) / 2];
        let tag = Line::new(
            [middle[0] - 3.0, middle[1] - 1.2],
            SMALL,
            (number + 1).to_string(),
        );
        boundary.push(Mark::Line(tag.bold().anchor(Anchor::End).rim()));
        let text = format!("{}  {}", number + 1, decides(&chart.rows[*from]));
        list.push(Mark::line(
            vec![[LIST, line_y - 1.0], [LIST + 9.0, line_y - 1.0]],
            stroke,
        ));
        for text in lettering::wrap(&text, SMALL, false, SHEET[0] - LIST - 21.0) {
            list.push(Mark::Line(Line::new([LIST + 11.0, line_y], SMALL, text)));
            line_y += 3.6;
        }
        line_y += 2.0;
    }
    for spot in &edge {
        let dot = super::display::Ring {
            centre: *spot,
            radius: 0.7,
            stroke: None,
            fill: Some(Ink::Black),
        };
        boundary.push(Mark::Ring(dot));
    }
    marks.push(Mark::group("boundary", "how far it can go", boundary));
    marks.push(Mark::group("decides", "what decides", list));
    Sheet {
        width: SHEET[0],
        height: SHEET[1],
        title: lettering::clean(title),
        description: format!(
            "How far \"{}\" can go for each share of \"{}\"; {} stretches of the boundary, each named by the limit that decides there.",
            chart.changes[0],
            chart.changes[1],
            stretches.len()
        ),
        marks,
    }
}

/// Runs of rows that the same limit decides: first and last index of each.
fn stretches(rows: &[ChartRow]) -> Vec<(usize, usize)> {
    let same = |a: &ChartRow, b: &ChartRow| decides(a) == decides(b);
    let mut found: Vec<(usize, usize)> = Vec::new();
    for index in 0..rows.len() {
        match found.last_mut() {
            Some((from, to)) if same(&rows[*from], &rows[index]) => *to = index,
            _ => found.push((index, index)),
        }
    }
    found
}

/// The limit that decides a row in words.
fn decides(row: &ChartRow) -> String {
    row.decided_by.as_ref().map_or_else(
        || "no limit, as far as looked at".to_owned(),
        |limit| {
            format!(
                "{}: {}, {}",
                limit.finding.check, limit.branch, limit.finding.subject
            )
        },
    )
}

fn axes(chart: &Chart, (x, y): (&dyn Fn(f64) -> f64, &dyn Fn(f64) -> f64), units: Units) -> Mark {
    let [[left, top], [right, bottom]] = FIELD;
    let frame = vec![[left, top], [left, bottom], [right, bottom]];
    let mut marks = vec![Mark::line(frame, Stroke::solid(Ink::Black, MEDIUM))];
    for i in 0..=3 {
        let share = chart.most * f64::from(i) / 3.0;
        let at = x(share);
        marks.push(Mark::line(
            vec![[at, bottom], [at, bottom + 1.5]],
            Stroke::solid(Ink::Black, MEDIUM),
        ));
        let text = show(chart.of[0], share, units);
        marks.push(Mark::Line(
            Line::new([at, bottom + 5.0], SMALL, text).anchor(Anchor::Middle),
        ));
    }
    let most = chart.rows.last().map_or(1.0, |row| row.share);
    for i in 0..=3 {
        let share = most * f64::from(i) / 3.0;
        let at = y(share);
        marks.push(Mark::line(
            vec![[left - 1.5, at], [left, at]],
            Stroke::solid(Ink::Black, MEDIUM),
        ));
        let text = show(chart.of[1], share, units);
        marks.push(Mark::Line(
            Line::new([left - 2.5, at + 0.9], SMALL, text).anchor(Anchor::End),
        ));
    }
    let across = lettering::fit(&chart.changes[0], BODY, true, right - left);
    marks.push(Mark::Line(
        Line::new([0.5 * (left + right), bottom + 10.5], BODY, across)
            .bold()
            .anchor(Anchor::Middle),
    ));
    let up = lettering::fit(&chart.changes[1], BODY, true, right - left);
    marks.push(Mark::Line(
        Line::new([left - 18.0, top - 2.0], BODY, up).bold(),
    ));
    Mark::group("axes", "amounts of the two changes", marks)
}
