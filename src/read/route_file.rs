//! The route file as a whole: its fields in the order in which they need each other.

use std::path::Path;

use crate::harness::{Branch, Duty, Fixing, FixingKind, Lay, LengthRule};
use crate::machine::{BodyId, Joint, Machine, Stance};
use crate::quantity::{Accepts, Kind, LengthUnit, TemperatureUnit, Units};
use crate::route::Route;

use super::bodies::{Bodies, rest};
use super::branches::RawBranch;
use super::changes::Named;
use super::fault::Notes;
use super::fields::Fields;
use super::fixings::RawFixing;
use super::points::Points;
use super::points_from::{self, ImportedPoint};
use super::syntax::tree;
use super::tree::{Body, Node, Value};
use super::value::Reading;
use super::wires::Wires;
use super::{
    Faults, branches, breakouts, changes, circuits, duty, library, limits, parts, spare, splices,
};

/// The number of the format that is read here.
const FORMAT: f64 = 1.0;
/// Standard deviation of a position measured with a tape from the datum \[m\]: our own choice.
const TOLERANCE: f64 = 3e-3;
/// Largest misfit of taped distances that is let pass \[m\]: our own choice.
pub(super) const TAPE_ERROR: f64 = 6e-3;
/// Fixings closer than this stand at the same place \[m\]: far below what a tape can tell.
const SAME_PLACE: f64 = 1e-5;

const FIELDS: [&str; 17] = [
    "format",
    "title",
    "units",
    "tolerance",
    "tape_error",
    "points",
    "points_from",
    "bodies",
    "parts",
    "library",
    "wires",
    "circuits",
    "branches",
    "splices",
    "duty",
    "limits",
    "changes",
];

/// What stands at the head of a file, and is needed to read anything else in it.
#[derive(Debug)]
pub(super) struct Head<'n> {
    pub(super) fields: Fields<'n>,
    pub(super) title: Option<String>,
    pub(super) tolerance: f64,
    pub(super) tape_error: f64,
}

/// Reads the text of a route file.
pub(super) fn route(text: &str, file: &str) -> Result<Route, Faults> {
    let mut reading = Reading::new(text, file);
    let mut root = tree(text, &mut reading.notes);
    if let Some(root) = &mut root {
        library::fill(&mut reading, root);
    }
    let head = root.as_ref().and_then(|root| head(&mut reading, root));
    let imported = head.as_ref().map_or_else(Vec::new, |head| {
        points_from::read(&mut reading, &head.fields)
    });
    let route = head.and_then(|head| contents(&mut reading, &head, &imported, file));
    match route {
        Some(route) if reading.notes.count() == 0 => Ok(route),
        _ => Err(reading.notes.finish(file)),
    }
}

impl<'s> Reading<'s> {
    pub(super) fn new(text: &'s str, file: &str) -> Self {
        Self {
            notes: Notes::new(text),
            folder: Path::new(file).parent().unwrap_or(Path::new("")).to_owned(),
            units: Units::METRIC,
            assumed: Vec::new(),
            warnings: Vec::new(),
        }
    }
}

/// Reads what the rest of the file needs. `None` where the file is of another format or no route at all.
pub(super) fn head<'n>(reading: &mut Reading<'_>, root: &'n Node) -> Option<Head<'n>> {
    // A file of another format may hold anything: its own number is the one thing worth saying about it.
    if let Value::Struct(_, Body::Fields(all)) = &root.value
        && let Some(format) = all.iter().find(|field| field.name == "format")
    {
        let same = matches!(format.value.value, Value::Number(n) if (n - FORMAT).abs() <= 0.0);
        if !same && format.value.value != Value::Broken {
            reading.notes.fault(
                format.value.at,
                format!(
                    "`format` is {}; this program reads format 1",
                    format.value.value.phrase()
                ),
                "write format: 1, or use the release of this program that the file was made for",
            );
            return None;
        }
    }
    let fields = Fields::of(&mut reading.notes, root, "a route", &FIELDS)?;
    fields.need(&mut reading.notes, "format", "write format: 1 at the start");
    units(reading, &fields);
    let title = fields
        .get("title")
        .and_then(|node| reading.text(node, "title"))
        .map(str::to_owned);
    let tolerance = length_or(
        reading,
        &fields,
        "tolerance",
        TOLERANCE,
        Accepts::NotNegative,
    );
    let tape_error = length_or(
        reading,
        &fields,
        "tape_error",
        TAPE_ERROR,
        Accepts::Positive,
    );
    Some(Head {
        fields,
        title,
        tolerance,
        tape_error,
    })
}

/// Reads `units`.
fn units(reading: &mut Reading<'_>, fields: &Fields<'_>) {
    let given = fields.get("units").and_then(|node| {
        let known = ["length", "temperature"];
        Fields::of(&mut reading.notes, node, "`units`", &known)
    });
    let unit = |name: &str| given.as_ref().and_then(|given| given.get(name));
    let (length, temperature) = (unit("length"), unit("temperature"));
    let broken = fields.get("units").is_some() && given.is_none();
    match length {
        Some(node) => {
            let lengths = [("mm", LengthUnit::Mm), ("in", LengthUnit::Inch)];
            if let Some(length) = reading.choice(node, "length", &lengths) {
                reading.units.length = length;
            }
        }
        None if broken => {}
        None => reading
            .assumed
            .push("lengths without a unit are in mm (no `units` given)".to_owned()),
    }
    match temperature {
        Some(node) => {
            let scales = [
                ("degC", TemperatureUnit::DegC),
                ("degF", TemperatureUnit::DegF),
            ];
            if let Some(temperature) = reading.choice(node, "temperature", &scales) {
                reading.units.temperature = temperature;
            }
        }
        None if broken => {}
        None => reading
            .assumed
            .push("temperatures without a unit are in degC (no `units` given)".to_owned()),
    }
}

/// A length that has a default.
fn length_or(
    reading: &mut Reading<'_>,
    fields: &Fields<'_>,
    name: &str,
    usual: f64,
    accepts: Accepts,
) -> f64 {
    match fields.get(name) {
        Some(node) => reading
            .quantity(node, name, Kind::Length, accepts)
            .unwrap_or(usual),
        None => {
            let shown = reading.units.show(usual, Kind::Length);
            reading.assumed.push(match name {
                "tolerance" => format!(
                    "positions were measured to ±{shown}, one standard deviation (no `tolerance` given)"
                ),
                _ => format!("taped distances may miss their point by {shown} (no `{name}` given)"),
            });
            usual
        }
    }
}

/// A standard deviation of one taped reading, from the largest misfit that is let pass.
pub(super) fn tape_sd(tape_error: f64) -> f64 {
    tape_error / 3.0
}

/// Reads the rest. `None` where a fault was noted that leaves a hole in the route.
fn contents<'n>(
    reading: &mut Reading<'_>,
    head: &Head<'n>,
    imported: &'n [ImportedPoint],
    file: &str,
) -> Option<Route> {
    let fields = &head.fields;
    let title = head.title.clone().unwrap_or_else(|| {
        reading.assumed.push(format!(
            "the title is the file's name, {file} (no `title` given)"
        ));
        file.to_owned()
    });
    let mut points = Points::new(
        reading,
        (fields.get("points"), imported),
        Some(head.tape_error),
        tape_sd(head.tape_error),
    );
    points.all(reading);
    let before_bodies = reading.notes.count();
    let mut bodies = fields
        .need(
            &mut reading.notes,
            "bodies",
            "write bodies: { \"frame\": Fixed } and what moves on it",
        )
        .map_or_else(Bodies::default, |node| {
            Bodies::read(reading, node, &mut points)
        });
    let bodies_are_sound = reading.notes.count() == before_bodies;
    let mut part_names = Vec::new();
    let parts = fields.get("parts").map_or_else(Vec::new, |node| {
        parts::read(reading, node, &bodies, &mut points, &mut part_names)
    });
    let wires = fields
        .get("wires")
        .map_or_else(Wires::default, |node| Wires::read(reading, node));
    let circuits = fields
        .get("circuits")
        .map_or_else(Vec::new, |node| circuits::read(reading, node, &wires));
    let mut fixings = Vec::new();
    let mut raw = fields
        .need(
            &mut reading.notes,
            "branches",
            "write branches: [ ] with at least one branch in it",
        )
        .map_or_else(Vec::new, |node| {
            branches::read(reading, node, &bodies, &mut points, &wires, &mut fixings)
        });
    let splices = fields
        .get("splices")
        .map_or_else(Vec::new, |node| splices::read(reading, node, &wires, &raw));
    let duty = fields
        .get("duty")
        .map_or_else(Duty::default, |node| duty::read(reading, node, &bodies));
    let limits = fields
        .get("limits")
        .map_or_else(Vec::new, |node| limits::read(reading, node));
    let changes = fields.get("changes").map_or_else(Vec::new, |node| {
        let branches = raw.iter().filter_map(|branch| branch.name.as_deref());
        let named = Named {
            parts: &part_names,
            fixings: &fixings,
            branches: branches.collect(),
            bodies: &bodies,
            wires: &wires,
        };
        changes::read(reading, node, &named, &mut points)
    });
    let (changes, changes_at): (Vec<_>, Vec<_>) = changes.into_iter().unzip();
    let runs = wires.runs(reading, &raw);
    let breakouts = breakouts::join(reading, &mut raw, &mut bodies, &mut points);
    let machine = Machine {
        bodies: bodies.list,
        parts,
    };
    let joints = rest(&machine.bodies);
    let stance = machine.stance(&joints);
    // A joint with a fault stands as fixed, and would be missed here.
    if bodies_are_sound {
        spare::resolve(reading, &machine, &mut raw);
    }
    spans_have_length(reading, &raw, &points, &stance);
    if reading.notes.count() > 0 {
        return None;
    }
    rest_is_not_zero(reading, &machine, &joints);
    let branches: Vec<Branch> = raw.into_iter().map(finish).collect::<Option<_>>()?;
    breakouts::wires_that_jump(reading, &runs, &branches, &breakouts);
    let route = Route {
        title,
        tolerance: head.tolerance,
        places: points.into_places(),
        machine,
        wires: wires.list,
        branches,
        breakouts,
        circuits,
        splices,
        duty,
        limits,
        changes,
        assumed: Vec::new(),
        warnings: std::mem::take(&mut reading.warnings),
    };
    let route = super::defaults::fill(reading, route, &stance)?;
    changes::can_be_made(reading, &route, &changes_at);
    Some(route)
}

/// Notes neighbouring fixings that stand at the same place when every joint is at rest.
fn spans_have_length(
    reading: &mut Reading<'_>,
    branches: &[RawBranch],
    points: &Points<'_>,
    stance: &Stance,
) {
    let position = |fixing: &RawFixing| {
        let (BodyId(on), place) = (fixing.on?, fixing.place?);
        Some(stance.bodies.get(on)? * points.at(place))
    };
    for pair in branches.iter().flat_map(|branch| branch.lay.windows(2)) {
        let (Some(a), Some(b)) = (position(&pair[0]), position(&pair[1])) else {
            continue;
        };
        if (b - a).norm() < SAME_PLACE {
            let name = |fixing: &RawFixing| fixing.name.clone().unwrap_or_default();
            reading.notes.fault(
                pair[1].at,
                format!(
                    "\"{}\" and \"{}\" stand at the same place: the span between them has no length",
                    name(&pair[0]),
                    name(&pair[1])
                ),
                "measure where each of them is, or delete one",
            );
        }
    }
}

/// Says where joints rest that cannot rest at zero.
fn rest_is_not_zero(reading: &mut Reading<'_>, machine: &Machine, joints: &[f64]) {
    for (body, rest) in machine.bodies.iter().zip(joints) {
        let kind = match body.joint {
            Joint::Turns { .. } => Kind::Angle,
            _ => Kind::Length,
        };
        if rest.abs() > 0.0 {
            let shown = reading.units.show_to(*rest, kind, 1);
            reading.assumed.push(format!(
                "\"{}\" rests at {shown}, the end of its range that is nearest to zero",
                body.name
            ));
        }
    }
}

/// A branch that was read without a fault; facings that were left out are still open.
fn finish(raw: RawBranch) -> Option<Branch> {
    let lay = raw
        .lay
        .into_iter()
        .map(|fixing| {
            Some(Lay {
                fixing: Fixing {
                    name: fixing.name?,
                    kind: fixing.kind,
                    on: fixing.on?,
                    place: fixing.place?,
                    facing: fixing.facing,
                    width: fixing.width,
                },
                vias: fixing.vias,
                length: fixing.length.unwrap_or(LengthRule::SmoothPath),
            })
        })
        .collect::<Option<_>>()?;
    Some(Branch {
        name: raw.name?,
        wires: raw.wires,
        diameter: raw.diameter?,
        cover: raw.cover,
        pitch: raw.pitch,
        stiffness: raw.stiffness?,
        lay,
    })
}

/// Whether a fixing of this kind always holds the branch's direction.
pub(super) fn always_holds_direction(kind: FixingKind) -> bool {
    matches!(
        kind,
        FixingKind::Clamp
            | FixingKind::Grommet
            | FixingKind::Breakout
            | FixingKind::Connector { .. }
    )
}
