//! `Scan(file, unit, up, placed, known)` in a route file.

use std::path::Path;
use std::sync::Arc;

use crate::geometry::{Scan, Shape, Surface};
use crate::quantity::{Accepts, Kind};
use crate::read::fields::Fields;
use crate::read::points::Points;
use crate::read::tree::{Body, Node, Value};
use crate::read::value::Reading;

use super::known::Key;
use super::placing::{UNITS, as_it_is, by_pairs, by_up, scan_point, too_large};

const KNOWN: [&str; 5] = ["file", "unit", "up", "placed", "known"];

/// The longest side that a scan of a machine or a part of it has: outside these the unit is doubtful \[m\].
const SIZES: std::ops::RangeInclusive<f64> = 0.05..=4.0;
/// A known length may be off by this share, or by `tape_error`.
const KNOWN_OFF: f64 = 0.02;

/// Reads a scan and the file that it names.
pub(in crate::read) fn scan<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    points: &mut Points<'n>,
) -> Option<Shape> {
    let fields = Fields::of(&mut reading.notes, node, "a scan", &KNOWN)?;
    let name = fields
        .need(
            &mut reading.notes,
            "file",
            "write file: \"frame.stl\", relative to the route file",
        )
        .and_then(|node| Some((reading.text(node, "file")?, node.at)));
    let unit = fields
        .need(
            &mut reading.notes,
            "unit",
            "write unit: \"mm\" or \"m\" or \"in\": the file does not say in what its numbers are (even glTF, which \
             ought to be in metres, often is not)",
        )
        .and_then(|node| reading.choice(node, "unit", &UNITS));
    let up = fields.get("up");
    let placed = fields.get("placed");
    let (name, at) = name?;
    let unit = unit?;
    let what = format!("the scan \"{name}\"");
    let placed = match (placed, up) {
        (Some(node), _) => by_pairs(reading, node, points, unit, &what),
        (None, Some(node)) => by_up(reading, node, &what),
        (None, None) => Some(as_it_is(reading, &what)),
    };
    let known = fields
        .get("known")
        .is_none_or(|node| known_length(reading, node, unit, points.tape_error));
    let path = reading.folder.join(name);
    let (surface, notes) = surface_of(reading, (name, at), &path, unit)?;
    reading
        .warnings
        .extend(notes.iter().map(|note| format!("{what}: {note}")));
    tell(reading, &surface, &what);
    known.then_some(Shape::Scan(Scan {
        surface,
        placed: placed?,
    }))
}

/// The surface that a file holds, and the notes of its reading. `name` stands at `at`.
fn surface_of(
    reading: &mut Reading<'_>,
    (name, at): (&str, usize),
    path: &Path,
    unit: f64,
) -> Option<(Arc<Surface>, Vec<String>)> {
    let key = Key::of(path, unit);
    if let Some(known) = key.as_ref().and_then(Key::known) {
        return Some(known);
    }
    let soup = match super::scan_file(path) {
        Ok(soup) => soup,
        Err(fault) => {
            reading
                .notes
                .fault(at, format!("the scan \"{name}\": {fault}"), fault.cure);
            return None;
        }
    };
    let surface = match soup.surface(unit) {
        Ok(surface) => Arc::new(surface),
        Err(error) => {
            reading.notes.fault(
                at,
                format!("the scan \"{name}\": {error}"),
                "export the scan again, and look at it in the program that made it",
            );
            return None;
        }
    };
    if let Some(key) = key {
        key.keep(&surface, &soup.notes);
    }
    Some((surface, soup.notes))
}

/// Says what was read and what it can tell.
fn tell(reading: &mut Reading<'_>, surface: &Surface, what: &str) {
    let units = reading.units;
    let show = |length: f64| units.show_to(length, Kind::Length, 1);
    let (low, high) = surface.frame();
    let size = high - low;
    let sides = format!("{} × {} × {}", show(size.x), show(size.y), show(size.z));
    let count = surface.count();
    reading.assumed.push(match (surface.spacing(), surface.open()) {
        (Some(spacing), _) => format!(
            "{what} has {count} points, {sides}, about {} apart: gaps to it are counted {} less than to the nearest \
             point, since the surface between may be that much nearer; of its holes nothing is known",
            show(spacing),
            show(surface.allowance())
        ),
        (None, Some(open)) => format!(
            "{what} has {count} triangles, {sides}, and no inside ({open}): gaps are to its surface, from either side; \
             of its holes nothing is known"
        ),
        (None, None) => format!("{what} has {count} triangles, {sides}, and is closed: what is inside counts as inside"),
    });
    if !SIZES.contains(&size.norm()) {
        let cure = if size.norm() > *SIZES.end() {
            "is its `unit` right? A scan in mm read as m is 1000 times too large, in mm read as in 25.4 times"
        } else {
            "is its `unit` right? A scan in m read as mm is 1000 times too small, in in read as mm 25.4 times"
        };
        reading.warnings.push(format!(
            "{what} is {sides}, which no part of a motorcycle is: {cure}"
        ));
    }
}

/// Reads `known: ((x, y, z), (x, y, z), length)` and checks it; false where the scan is not to be believed.
fn known_length(
    reading: &mut Reading<'_>,
    node: &Node,
    unit: f64,
    tape_error: Option<f64>,
) -> bool {
    let three = match &node.value {
        Value::Struct(None, Body::Items(three)) if three.len() == 3 => three,
        Value::Broken => return false,
        other => {
            reading.notes.fault(
                node.at,
                format!(
                    "`known` is two points of the scan and the length between them, found {}",
                    other.phrase()
                ),
                "write known: ((x, y, z), (x, y, z), length)",
            );
            return false;
        }
    };
    let a = scan_point(reading, &three[0], "known", unit);
    let b = scan_point(reading, &three[1], "known", unit);
    let length = reading.quantity(&three[2], "known", Kind::Length, Accepts::Positive);
    let (Some(a), Some(b), Some(length)) = (a, b, length) else {
        return false;
    };
    let seen = (b - a).norm();
    let units = reading.units;
    let show = |length: f64| units.show_to(length, Kind::Length, 1);
    let allowed = (KNOWN_OFF * length).max(tape_error.unwrap_or(0.0));
    if (seen - length).abs() > allowed {
        reading.notes.fault(
            node.at,
            format!(
                "the known length is {}, in the scan it is {}: {}",
                show(length),
                show(seen),
                too_large("the scan", seen / length)
            ),
            "check `unit`, and measure the length again",
        );
        return false;
    }
    reading.assumed.push(format!(
        "the known length of {} is {} in the scan",
        show(length),
        show(seen)
    ));
    true
}
