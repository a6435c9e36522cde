//! Taped points alone: where each is, how well its readings agree, and which reading is suspicious.

use std::path::Path;

use nalgebra::Point3;

use crate::geometry::{Side, fix_from_tape};
use crate::quantity::{Kind, Units};

use super::points::{Points, Taped};
use super::points_from::{self, ImportedPoint};
use super::route_file::{TAPE_ERROR, head, tape_sd};
use super::syntax::tree;
use super::tree::Node;
use super::value::Reading;
use super::{Faults, source};

/// The taped points of a file.
#[derive(Debug, Clone, PartialEq)]
pub struct TapedPoints {
    /// Title of the file, where it has one.
    pub title: Option<String>,
    /// The file's own units.
    pub units: Units,
    /// The points, in the order of the file.
    pub points: Vec<TapedPoint>,
    /// What was filled in by default, each as a sentence.
    pub assumed: Vec<String>,
    /// What makes the result weaker, each as a sentence.
    pub warnings: Vec<String>,
}

/// A point found from taped distances.
#[derive(Debug, Clone, PartialEq)]
pub struct TapedPoint {
    /// Its name.
    pub name: String,
    /// Where it is \[m\].
    pub at: Point3<f64>,
    /// Root mean square of the misfits \[m\].
    pub residual: f64,
    /// Half-width that holds the true position in 95 of 100 cases \[m\]. The points that it was taped from are
    /// taken to be where they are said to be.
    pub error95: f64,
    /// The readings, in the order of the file.
    pub readings: Vec<TapedReading>,
    /// The reading that spoils the fit, where leaving out that one alone makes the others agree.
    pub suspect: Option<Suspect>,
}

/// One taped distance.
#[derive(Debug, Clone, PartialEq)]
pub struct TapedReading {
    /// Name of the point that it was taped from, or its coordinates where it has none.
    pub from: String,
    /// The distance that was read \[m\].
    pub distance: f64,
    /// Measured less computed distance \[m\].
    pub misfit: f64,
}

/// A reading that spoils the fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suspect {
    /// Index of the reading.
    pub reading: usize,
    /// The residual of the others without it \[m\].
    pub residual_without: f64,
}

/// Works out the taped points of a file: a route file, or one that has `points` and what they need (`units`,
/// `tape_error`) alone. Readings that do not agree are no fault here but a warning: the point of asking is to see
/// which one is wrong.
///
/// # Errors
/// Every fault of the text as such, of its head and of its points; a file without a taped point.
pub fn places_file(path: &Path) -> Result<TapedPoints, Faults> {
    let file = path.display().to_string();
    if path
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("csv"))
    {
        return places_table(&source::text_of(path, "CSV file")?, &file);
    }
    places_text(&source::text_of(path, "route file")?, &file)
}

/// The same for the text of a table of points and taped distances. Bare numbers are in millimetres.
///
/// # Errors
/// As for [`places_file`].
pub fn places_table(text: &str, file: &str) -> Result<TapedPoints, Faults> {
    let mut reading = Reading::new("", file);
    reading
        .assumed
        .push("lengths without a unit are in mm".to_owned());
    let imported = points_from::of_text(&mut reading, file, text);
    let taped = taped(&mut reading, (None, &imported), TAPE_ERROR);
    if taped.is_empty() && reading.notes.count() == 0 {
        reading.notes.fault(
            1,
            "there is no taped point here",
            "write lines with name,from,distance: three or more for each point",
        );
    }
    finish(reading, file, Some((None, TAPE_ERROR, taped)))
}

/// The same for a text; `file` is the name that faults carry.
///
/// # Errors
/// As for [`places_file`].
pub fn places_text(text: &str, file: &str) -> Result<TapedPoints, Faults> {
    let mut reading = Reading::new(text, file);
    let root = tree(text, &mut reading.notes);
    let found = root
        .as_ref()
        .and_then(|root| head(&mut reading, root))
        .and_then(|head| {
            let node = match head.fields.get("points") {
                None if head.fields.get("points_from").is_some() => None,
                _ => Some(head.fields.need(
                    &mut reading.notes,
                    "points",
                    "write points: { \"name\": (x, y, z), … } with the known points and the taped ones",
                )?),
            };
            let imported = points_from::read(&mut reading, &head.fields);
            let taped = taped(&mut reading, (node, &imported), head.tape_error);
            if taped.is_empty() && reading.notes.count() == 0 {
                reading.notes.fault(
                    node.map_or(head.fields.at, |node| node.at),
                    "there is no taped point here",
                    "write \"name\": Tape(from: [(\"known point\", distance), …], side: \"left\")",
                );
            }
            Some((head.title, head.tape_error, taped))
        });
    finish(reading, file, found)
}

/// A named point of a route file.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedPoint {
    /// Its name.
    pub name: String,
    /// Where it is with every joint at zero \[m\].
    pub at: Point3<f64>,
    /// How it was found, where it was taped.
    pub taped: Option<TapedPoint>,
    /// Which of the two mirrored places, where the file says.
    pub side: Option<Side>,
    /// Whether it comes from a table beside the route file.
    pub imported: bool,
}

/// Every named point of a route file: those of its field `points`, in order, then those of tables. `file` is the name
/// that faults carry.
///
/// # Errors
/// Every fault of the text as such, of its head and of its points.
pub fn named_points(text: &str, file: &str) -> Result<Vec<NamedPoint>, Faults> {
    let mut reading = Reading::new(text, file);
    let root = tree(text, &mut reading.notes);
    let head = root.as_ref().and_then(|root| head(&mut reading, root));
    let mut found = Vec::new();
    if let Some(head) = &head {
        let node = head.fields.get("points");
        let own = |name: &str| node.is_some_and(|node| node.entry(name).is_some());
        let imported = points_from::read(&mut reading, &head.fields);
        let sd = tape_sd(head.tape_error);
        let mut points = Points::new(&mut reading, (node, &imported), None, sd);
        for (name, placed) in points.all(&mut reading) {
            let Some(placed) = placed else { continue };
            found.push(NamedPoint {
                name: name.to_owned(),
                at: placed.at,
                side: placed.tape.as_ref().and_then(|tape| tape.side),
                taped: placed.tape.map(|tape| report(name, placed.at, tape, sd)),
                imported: !own(name),
            });
        }
    }
    if head.is_some() && reading.notes.count() == 0 {
        Ok(found)
    } else {
        Err(reading.notes.finish(file))
    }
}

/// Works out the taped points of a field `points` and of tables.
fn taped(
    reading: &mut Reading<'_>,
    points: (Option<&Node>, &[ImportedPoint]),
    tape_error: f64,
) -> Vec<TapedPoint> {
    let sd = tape_sd(tape_error);
    let mut points = Points::new(reading, points, None, sd);
    points
        .all(reading)
        .into_iter()
        .filter_map(|(name, placed)| Some((name, placed?)))
        .filter_map(|(name, placed)| Some(report(name, placed.at, placed.tape?, sd)))
        .collect()
}

/// The points with the title of their file and the largest misfit, or the faults that were noted.
fn finish(
    mut reading: Reading<'_>,
    file: &str,
    found: Option<(Option<String>, f64, Vec<TapedPoint>)>,
) -> Result<TapedPoints, Faults> {
    match found {
        Some((title, tape_error, points)) if reading.notes.count() == 0 => {
            let units = reading.units;
            // What a route needs beside its points says nothing here.
            reading.assumed.retain(|line| !line.contains("`tolerance`"));
            Ok(TapedPoints {
                title,
                warnings: points
                    .iter()
                    .filter_map(|point| warning(point, tape_error, units))
                    .collect(),
                units,
                points,
                assumed: reading.assumed,
            })
        }
        _ => Err(reading.notes.finish(file)),
    }
}

fn report(name: &str, at: Point3<f64>, tape: Taped, sd: f64) -> TapedPoint {
    let suspect = suspect(&tape, sd);
    let readings = tape.readings.into_iter().zip(&tape.fix.misfits);
    TapedPoint {
        name: name.to_owned(),
        at,
        residual: tape.residual,
        error95: tape.fix.error95,
        readings: readings
            .map(|((from, _, distance), misfit)| TapedReading {
                from,
                distance,
                misfit: *misfit,
            })
            .collect(),
        suspect,
    }
}

/// The one reading without which the others agree. Every reading is left out in turn: the evidence is clear where
/// the residual falls to a third, and no other single reading helps nearly as much. (Three readings fit whatever
/// they are, so with four the others must be unable to meet at all.)
fn suspect(tape: &Taped, sd: f64) -> Option<Suspect> {
    if tape.readings.len() < 4 || tape.residual < sd {
        return None;
    }
    let without = |leave: usize| {
        let kept: Vec<_> = tape
            .readings
            .iter()
            .enumerate()
            .filter(|(index, _)| *index != leave)
            .map(|(_, (_, at, distance))| (*at, *distance))
            .collect();
        without_one(&kept, tape.side, sd)
    };
    let mut residuals: Vec<_> = (0..tape.readings.len()).map(|i| (without(i), i)).collect();
    residuals.sort_by(|a, b| a.0.total_cmp(&b.0));
    let [(best, reading), (second, _), ..] = residuals.as_slice() else {
        return None;
    };
    let clear = *best < tape.residual / 3.0 && *second > 2.0 * best.max(0.5 * sd);
    clear.then_some(Suspect {
        reading: *reading,
        residual_without: *best,
    })
}

/// Residual of some readings \[m\]; infinite where they give no point.
fn without_one(kept: &[(Point3<f64>, f64)], side: Option<Side>, sd: f64) -> f64 {
    fix_from_tape(kept, side, sd).map_or(f64::INFINITY, |fix| fix.rms())
}

fn warning(point: &TapedPoint, tape_error: f64, units: Units) -> Option<String> {
    let show = |value: f64| units.show(value, Kind::Length);
    let reading = |index: usize| {
        let reading = &point.readings[index];
        format!(
            "the distance from \"{}\" ({})",
            reading.from,
            show(reading.distance)
        )
    };
    let over = point.residual > tape_error;
    match point.suspect {
        Some(suspect) => Some(format!(
            "\"{}\": the readings miss each other by {}; without {} the others agree to {}: measure that one again",
            point.name,
            show(point.residual),
            reading(suspect.reading),
            show(suspect.residual_without)
        )),
        None if over => Some(format!(
            "\"{}\": the readings miss each other by {}, more than `tape_error` ({}), and no single one is to blame: \
             measure again, from more points",
            point.name,
            show(point.residual),
            show(tape_error)
        )),
        None => None,
    }
}
