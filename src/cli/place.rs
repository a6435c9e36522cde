//! `place`: taped distances to coordinates.

use std::io::Write;

use serde_json::{Value, json};

use crate::check::rounded;
use crate::quantity::{Kind, LengthUnit, Units};
use crate::read::{TapedPoint, TapedPoints, places_file};

use super::arguments::{Place, Shared};
use super::failure::Failure;
use super::terminal::Paper;

pub(super) fn run(command: &Place, shared: &Shared) -> Result<u8, Failure> {
    let taped = places_file(&command.file)?;
    if command.json {
        let mut out = std::io::stdout().lock();
        serde_json::to_writer_pretty(&mut out, &rounded(report(&taped)))?;
        writeln!(out)?;
        return Ok(0);
    }
    let mut paper = Paper::of_terminal(shared.units());
    if let (Some(title), false) = (&taped.title, shared.quiet) {
        paper.heading(title)?;
        paper.blank()?;
    }
    table(&mut paper, &taped, shared.units())?;
    if !shared.quiet {
        for point in &taped.points {
            doubts(&mut paper, point, shared.units())?;
        }
        paper.list("Weaker than it could be", &taped.warnings)?;
        paper.list("Assumed", &taped.assumed)?;
    }
    Ok(0)
}

/// The report of the contract: coordinates, misfit and 95 % error of every taped point, in millimetres.
pub(super) fn report(taped: &TapedPoints) -> Value {
    let mm = |metres: f64| metres * 1e3;
    let points: Vec<Value> = taped
        .points
        .iter()
        .map(|point| {
            let readings: Vec<Value> = point
                .readings
                .iter()
                .map(|reading| {
                    json!({
                        "from": reading.from,
                        "distance_mm": mm(reading.distance),
                        "misfit_mm": mm(reading.misfit),
                    })
                })
                .collect();
            json!({
                "name": point.name,
                "at_mm": [mm(point.at.x), mm(point.at.y), mm(point.at.z)],
                "residual_mm": mm(point.residual),
                "error95_mm": mm(point.error95),
                "readings": readings,
                "suspect": point.suspect.map(|suspect| json!({
                    "from": point.readings[suspect.reading].from,
                    "residual_without_mm": mm(suspect.residual_without),
                })),
            })
        })
        .collect();
    json!({
        "format": 1,
        "title": taped.title,
        "assumed": taped.assumed,
        "warnings": taped.warnings,
        "points": points,
    })
}

fn table(paper: &mut Paper, taped: &TapedPoints, units: Units) -> Result<(), Failure> {
    let head = ["point", "forward", "left", "up", "misfit", "error (95 %)"];
    let rows: Vec<[String; 6]> = taped
        .points
        .iter()
        .map(|point| {
            let at = [point.at.x, point.at.y, point.at.z].map(|value| bare(value, units));
            let [x, y, z] = at;
            let spread = [point.residual, point.error95].map(|value| bare(value, units));
            let [residual, error] = spread;
            [point.name.clone(), x, y, z, residual, error]
        })
        .collect();
    let mut widths = head.map(str::len);
    for row in &rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = cell.chars().count().max(*width);
        }
    }
    let line = |cells: [&str; 6]| {
        let mut text = format!("{:<1$}", cells[0], widths[0]);
        for (cell, width) in cells.iter().zip(widths).skip(1) {
            text.push_str(&format!("  {cell:>width$}"));
        }
        text
    };
    paper.heading(&line(head))?;
    for row in &rows {
        let cells = [&row[0], &row[1], &row[2], &row[3], &row[4], &row[5]].map(String::as_str);
        paper.plain("", &line(cells))?;
    }
    let unit = match units.length {
        LengthUnit::Mm => "millimetres",
        LengthUnit::Inch => "inches",
    };
    paper.plain("", &format!("All in {unit}."))
}

/// A length without its unit, to a tenth of a millimetre or a hundredth of an inch.
fn bare(length: f64, units: Units) -> String {
    let (value, _) = units.convert(length, Kind::Length);
    let places = match units.length {
        LengthUnit::Mm => 1,
        LengthUnit::Inch => 2,
    };
    let text = format!("{value:.places$}");
    match text.trim_start_matches(['-', '0', '.']) {
        "" => text.trim_start_matches('-').to_owned(),
        _ => text,
    }
}

/// What to measure again.
fn doubts(paper: &mut Paper, point: &TapedPoint, units: Units) -> Result<(), Failure> {
    let Some(suspect) = point.suspect else {
        return Ok(());
    };
    let reading = &point.readings[suspect.reading];
    paper.blank()?;
    paper.plain(
        "",
        &format!(
            "{}: tape the distance from {} again. It was read as {}; without it the other readings agree to {}.",
            point.name,
            reading.from,
            units.show_to(reading.distance, Kind::Length, 1),
            units.show_to(suspect.residual_without, Kind::Length, 1)
        ),
    )
}
