//! How far one change can go for each share of another: the boundary, what is allowed and what is not, and which limit
//! decides along which stretch of it.

use crate::advise::{Amount, Chart, ChartRow};
use crate::quantity::{Kind, LengthUnit, Units};

use super::display::{Anchor, Line, Mark, Sheet, Spot};
use super::hatch::hatch;
use super::ink::{BODY, HEADING, HEAVY, Ink, MEDIUM, Pattern, SMALL, Stroke, THIN};
use super::{SheetOptions, lettering, svg_out};

/// The sheet: A5 lying \[mm\].
const SHEET: [f64; 2] = [210.0, 148.0];
/// Where the field lies \[mm\].
const FIELD: [Spot; 2] = [[30.0, 34.0], [132.0, 128.0]];
/// Where the list of deciding limits begins \[mm\].
const LIST: f64 = 140.0;

/// Draws a chart of two changes as SVG.
pub fn reach_chart(chart: &Chart, title: &str, options: &SheetOptions) -> String {
    svg_out::svg_of_sheet(&compose(chart, title, options.units))
}

fn compose(chart: &Chart, title: &str, units: Units) -> Sheet {
    let [[left, top], [right, bottom]] = FIELD;
    let most = extent(chart);
    let [most_x, most_y] = most;
    let x = |share: f64| left + (right - left) * (share / most_x).clamp(0.0, 1.0);
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
    forbidden.extend([[left, top], [right, top], [right, bottom]]);
    if edge.len() > 1 {
        let lines = hatch(&[forbidden], 2.4, std::f64::consts::FRAC_PI_4);
        marks.push(Mark::group(
            "forbidden",
            "some limit is broken",
            vec![Mark::lines(lines, Stroke::solid(Ink::Grey, THIN))],
        ));
    }
    marks.push(axes(chart, (&x, &y), most, units));
    let stretches = stretches(&chart.rows);
    let mut boundary = Vec::new();
    let mut tags = Vec::new();
    let mut list = vec![Mark::Line(
        Line::new([LIST, top], BODY, "What decides").bold(),
    )];
    let mut line_y = top + 6.0;
    for (number, (from, to)) in stretches.iter().enumerate() {
        // Up to where the next limit decides; what closes the field decides along the whole line across it.
        let last = edge.len() - 1;
        let closes = |row: usize| row == last && chart.rows[row].allowed.is_none();
        let begin = if closes(*from) {
            from.saturating_sub(1)
        } else {
            *from
        };
        let end = if *to < last && !closes(to + 1) {
            to + 1
        } else {
            *to
        };
        let own = &edge[begin..=end];
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
        // Beside the middle of its stretch, on the side that is not allowed.
        let (a, b) = (own[(own.len() - 1) / 2], own[own.len() / 2]);
        let tag = Line::new(
            [0.5 * (a[0] + b[0]) + 2.5, 0.5 * (a[1] + b[1]) - 1.8],
            SMALL,
            (number + 1).to_string(),
        );
        tags.push(Mark::Line(tag.bold().rim()));
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
    boundary.extend(tags);
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

/// The shares that the field shows of each change: what is allowed and a quarter more.
fn extent(chart: &Chart) -> [f64; 2] {
    let allowed = chart.rows.iter().filter_map(|row| row.allowed);
    let most = allowed.fold(0.0, f64::max);
    let x = if most > 0.0 {
        (1.25 * most).min(chart.most)
    } else {
        chart.most
    };
    let y = chart.rows.last().map_or(1.0, |row| row.share);
    let closed = chart.rows.last().is_some_and(|row| row.allowed.is_none());
    [x.max(1e-9), (if closed { 1.25 * y } else { y }).max(1e-9)]
}

/// Round amounts of a change up to a share of it: the shares that they are, and their words, all with as many decimals.
/// Three to six, and zero.
fn ticks(of: Amount, most: f64, units: Units) -> Vec<(f64, String)> {
    // What a person reads: millimetres or inches, degrees, per cent.
    let scale = match (of.kind, units.length) {
        (Kind::Length, LengthUnit::Mm) => 1e3 * of.value,
        (Kind::Length, LengthUnit::Inch) => of.value / 0.0254,
        (Kind::Angle, _) => of.value.to_degrees(),
        _ => 100.0,
    };
    let whole = (scale * most).max(1e-9);
    let power = 10.0_f64.powf((whole / 4.0).log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0]
        .map(|m| m * power)
        .into_iter()
        .find(|step| whole / step <= 6.0)
        .unwrap_or(10.0 * power);
    let digits = (0..6)
        .find(|digits| step >= 0.999 * 10.0_f64.powi(-digits))
        .and_then(|digits| usize::try_from(digits).ok())
        .unwrap_or(6);
    let words = |share: f64| match of.kind {
        Kind::Ratio => format!("{:.digits$} %", 100.0 * share),
        kind => units.show_to(of.value * share, kind, digits),
    };
    (0..=6)
        .map(|i| step * f64::from(i) / scale)
        .filter(|share| *share <= most * (1.0 + 1e-9))
        .map(|share| (share, words(share)))
        .collect()
}

fn axes(
    chart: &Chart,
    (x, y): (&dyn Fn(f64) -> f64, &dyn Fn(f64) -> f64),
    most: [f64; 2],
    units: Units,
) -> Mark {
    let [[left, top], [right, bottom]] = FIELD;
    let frame = vec![[left, top], [left, bottom], [right, bottom]];
    let mut marks = vec![Mark::line(frame, Stroke::solid(Ink::Black, MEDIUM))];
    for (share, text) in ticks(chart.of[0], most[0], units) {
        let at = x(share);
        marks.push(Mark::line(
            vec![[at, bottom], [at, bottom + 1.5]],
            Stroke::solid(Ink::Black, MEDIUM),
        ));
        marks.push(Mark::Line(
            Line::new([at, bottom + 5.0], SMALL, text).anchor(Anchor::Middle),
        ));
    }
    for (share, text) in ticks(chart.of[1], most[1], units) {
        let at = y(share);
        marks.push(Mark::line(
            vec![[left - 1.5, at], [left, at]],
            Stroke::solid(Ink::Black, MEDIUM),
        ));
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
        Line::new([left - 18.0, top - 5.0], BODY, up).bold(),
    ));
    Mark::group("axes", "amounts of the two changes", marks)
}
