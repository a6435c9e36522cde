//! Sections of the bundles: how the wires of each branch lie beside each other, many times life size.
//!
//! Wires of one kind carry one number; the list beside the section says what each number is.

use crate::harness::{Branch, Section, WireId};
use crate::quantity::{Kind, Units};
use crate::route::Route;

use super::display::{Anchor, Frame, Line, Mark, Ring, Sheet};
use super::ink::{BODY, HEADING, Ink, MEDIUM, SMALL, Stroke, THIN, TITLE};
use super::lettering;

/// Width of the sheet: A4 standing \[mm\].
const WIDTH: f64 = 210.0;
const MARGIN: f64 = 12.0;
/// Room for one section, square \[mm\].
const CELL: f64 = 62.0;
/// Between baselines of the list \[mm\].
const LEADING: f64 = 1.3 * SMALL;
/// Between one branch and the next \[mm\].
const APART: f64 = 6.0;
/// Between two columns \[mm\].
const GUTTER: f64 = 8.0;
/// Magnifications that a ruler can follow.
const SCALES: [f64; 7] = [10.0, 8.0, 6.0, 5.0, 4.0, 3.0, 2.0];

/// One entry of a section's list: wires of one kind.
struct Row {
    number: usize,
    wire: WireId,
    count: usize,
}

/// The sections of all branches whose wires are known, as a display list; its height follows from them.
pub(crate) fn compose(route: &Route, units: Units) -> Sheet {
    let named: Vec<&Branch> = route
        .branches
        .iter()
        .filter(|b| !b.wires.is_empty())
        .collect();
    let mut marks = vec![Mark::Line(
        Line::new(
            [MARGIN, MARGIN + TITLE * 0.75],
            TITLE,
            "Sections of the bundles",
        )
        .bold(),
    )];
    let under = format!(
        "{}. Wires lie as close as they can; a bundle laid by hand is a few per cent thicker.",
        route.title
    );
    let mut y = MARGIN + TITLE + 3.0;
    for text in lettering::wrap(&under, SMALL, false, WIDTH - 2.0 * MARGIN) {
        marks.push(Mark::Line(
            Line::new([MARGIN, y], SMALL, text).ink(Ink::Grey),
        ));
        y += LEADING;
    }
    if named.is_empty() {
        let text = "No branch names its wires: give each its `wires`, or each wire the branches it `runs` through.";
        marks.push(Mark::Line(Line::new([MARGIN, y + BODY], BODY, text)));
        y += 2.0 * BODY;
    }
    for (index, branch) in named.iter().enumerate() {
        let (entry, height) = entry(route, branch, [MARGIN, y + 2.0], WIDTH - MARGIN, units);
        marks.push(grouped(index, branch, entry));
        y += height + APART;
    }
    Sheet {
        width: WIDTH,
        height: y + MARGIN,
        title: format!("{}: sections of the bundles", route.title),
        description: "How the wires of each branch lie beside each other, with their list."
            .to_owned(),
        marks,
    }
}

/// The sections of all branches whose wires are known, on pages with so much room, in two columns.
pub(super) fn pages(route: &Route, room: Frame, units: Units) -> Vec<Vec<Mark>> {
    let wide = 0.5 * (room.w - GUTTER);
    let mut pages: Vec<Vec<Mark>> = Vec::new();
    let (mut column, mut y) = (1, room.bottom());
    let named = route.branches.iter().filter(|b| !b.wires.is_empty());
    for (index, branch) in named.enumerate() {
        let set = |column: u8, y| {
            let x = room.x + f64::from(column) * (wide + GUTTER);
            entry(route, branch, [x, y], x + wide, units)
        };
        let (mut marks, height) = set(column, y);
        if y + height > room.bottom() {
            if column == 1 {
                pages.push(Vec::new());
            }
            (column, y) = (1 - column, room.y);
            marks = set(column, y).0;
        }
        if let Some(page) = pages.last_mut() {
            page.push(grouped(index, branch, marks));
        }
        y += height + APART;
    }
    pages
}

fn grouped(index: usize, branch: &Branch, marks: Vec<Mark>) -> Mark {
    let title = format!("section of {}", branch.name);
    Mark::group(format!("section-{}", index + 1), title, marks)
}

/// One branch between its place and the right edge: its section, its list, and the height of both.
fn entry(
    route: &Route,
    branch: &Branch,
    at: [f64; 2],
    right: f64,
    units: Units,
) -> (Vec<Mark>, f64) {
    let wires: Vec<_> = branch.wires.iter().map(|id| &route.wires[id.0]).collect();
    let section = Section::of(&wires, branch.cover.as_ref(), branch.pitch);
    let scale = SCALES
        .into_iter()
        .find(|scale| scale * 1e3 * section.outside <= CELL)
        .unwrap_or(1.0);
    let rows = rows(branch);
    let rule = vec![at, [right, at[1]]];
    let mut marks = vec![Mark::line(rule, Stroke::solid(Ink::Pale, THIN))];
    let mut y = at[1] + HEADING + 1.0;
    let head = format!("{}: {} wires", branch.name, branch.wires.len());
    marks.push(Mark::Line(Line::new([at[0], y], HEADING, head).bold()));
    let times = format!("drawn {scale:.0} times life size");
    marks.push(Mark::Line(
        Line::new([right, y], SMALL, times)
            .ink(Ink::Grey)
            .anchor(Anchor::End),
    ));
    y += 2.0;
    let radius = 0.5e3 * scale * section.outside;
    let centre = [at[0] + 0.5 * CELL, y + radius + 1.0];
    marks.extend(discs(&section, &rows, branch, centre, 1e3 * scale));
    let left = at[0] + CELL + 8.0;
    let mut line = y + BODY;
    for text in facts(branch, &section, units) {
        for text in lettering::wrap(&text, SMALL, false, right - left) {
            marks.push(Mark::Line(Line::new([left, line], SMALL, text)));
            line += LEADING;
        }
    }
    line += 0.6 * LEADING;
    // Two columns where the list is long.
    let columns = if rows.len() > 12 { 2 } else { 1 };
    let width = (right - left) / f64::from(u8::from(columns == 2) + 1);
    let deep = rows.len().div_ceil(columns);
    let top = line;
    for (column, chunk) in rows.chunks(deep.max(1)).enumerate() {
        let x = left + if column == 0 { 0.0 } else { width };
        line = top;
        for row in chunk {
            let wire = &route.wires[row.wire.0];
            let times = if row.count > 1 {
                format!(" × {}", row.count)
            } else {
                String::new()
            };
            let text = format!(
                "{}  {}{times}, {}, {} over all",
                row.number,
                wire.name,
                units.show(wire.area, Kind::Area),
                units.show_to(wire.outside, Kind::Length, units.digits(Kind::Length) + 1)
            );
            let text = lettering::fit(&text, SMALL, false, width - 2.0);
            marks.push(Mark::Line(Line::new([x, line], SMALL, text)));
            line += LEADING;
        }
    }
    let list_ends = top + LEADING * deep_lines(deep);
    (marks, (centre[1] + radius).max(list_ends) - at[1])
}

fn deep_lines(count: usize) -> f64 {
    u32::try_from(count).map_or(0.0, f64::from)
}

fn rows(branch: &Branch) -> Vec<Row> {
    let mut rows: Vec<Row> = Vec::new();
    for &wire in &branch.wires {
        if let Some(row) = rows.iter_mut().find(|row| row.wire == wire) {
            row.count += 1;
        } else {
            rows.push(Row {
                number: rows.len() + 1,
                wire,
                count: 1,
            });
        }
    }
    rows
}

/// Cover, insulations, conductors and numbers, `scale` millimetres of paper a metre.
fn discs(
    section: &Section,
    rows: &[Row],
    branch: &Branch,
    centre: [f64; 2],
    scale: f64,
) -> Vec<Mark> {
    let ring = |centre, radius: f64, stroke, fill| {
        Mark::Ring(Ring {
            centre,
            radius: radius * scale,
            stroke,
            fill,
        })
    };
    let thin = Some(Stroke::solid(Ink::Black, THIN));
    let mut marks = Vec::new();
    if section.outside > section.inside {
        let medium = Some(Stroke::solid(Ink::Black, MEDIUM));
        marks.push(ring(centre, 0.5 * section.outside, medium, Some(Ink::Band)));
        marks.push(ring(centre, 0.5 * section.inside, thin, Some(Ink::Paper)));
    }
    for (placed, wire) in section.wires.iter().zip(&branch.wires) {
        let middle = [
            centre[0] + scale * placed.at[0],
            centre[1] - scale * placed.at[1],
        ];
        marks.push(ring(middle, placed.radius, thin, Some(Ink::Still)));
        marks.push(ring(middle, placed.conductor, thin, Some(Ink::Band)));
        let number = rows
            .iter()
            .find(|row| row.wire == *wire)
            .map_or(0, |row| row.number);
        let text = number.to_string();
        let room = 1.7 * placed.radius * scale;
        let size = SMALL.min(room / lettering::width(&text, 1.0, true).max(0.5));
        marks.push(Mark::Line(
            Line::new([middle[0], middle[1] + 0.36 * size], size, text)
                .bold()
                .anchor(Anchor::Middle),
        ));
    }
    marks
}

/// What stands beside the section.
fn facts(branch: &Branch, section: &Section, units: Units) -> Vec<String> {
    let finer = |value: f64| units.show_to(value, Kind::Length, units.digits(Kind::Length) + 1);
    let given = if (branch.diameter / section.outside - 1.0).abs() > 1e-3 {
        format!(" (the route file gives {})", finer(branch.diameter))
    } else {
        String::new()
    };
    let stiff = |value: f64| units.show(value, Kind::BendingStiffness);
    vec![
        format!("Diameter over all {}{given}.", finer(section.outside)),
        format!(
            "Copper {}, mass {}.",
            units.show(section.copper, Kind::Area),
            units.show(section.mass, Kind::MassPerLength)
        ),
        format!(
            "Bending stiffness {} with all strands slipping, {} were all of it bonded.",
            stiff(section.slipping.bend),
            stiff(section.bonded.bend)
        ),
    ]
}
