//! Kinds of wire, and the cover of a branch.

use std::collections::HashMap;

use crate::harness::{Cover, CoverKind, InsulationClass, Wire, WireId, WireMarks};
use crate::quantity::{Accepts, Kind};

use super::branches::RawBranch;
use super::fields::{Fields, entries, items, unknown};
use super::tree::{Body, Node, Value};
use super::value::Reading;

/// Strands of a wire for which none are given: what is common in thin vehicle wire (AC 43.13-1B Table 11-13 counts
/// in 19 strands for AWG 24 to 14).
const USUAL_STRANDS: u32 = 19;

/// The kinds of wire and their names.
#[derive(Debug, Default)]
pub(super) struct Wires<'n> {
    pub(super) list: Vec<Wire>,
    index: HashMap<&'n str, Option<WireId>>,
    /// For each wire of the list the branches that it says it runs through, and where that stands.
    runs: Vec<Vec<(&'n str, usize)>>,
}

impl<'n> Wires<'n> {
    /// Reads the field `wires`. A wire with a fault is left out, but its name counts.
    pub(super) fn read(reading: &mut Reading<'_>, node: &'n Node) -> Self {
        let mut wires = Self::default();
        for (name, _, node) in entries(&mut reading.notes, node, "(size: .., outside: ..)") {
            let wire = wire(reading, name, node);
            let id = wire.is_some().then_some(WireId(wires.list.len()));
            if wire.is_some() {
                wires.runs.push(runs(reading, node));
            }
            wires.list.extend(wire);
            wires.index.insert(name, id);
        }
        wires
    }

    /// Names of the wires.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> + Clone {
        self.index.keys().copied()
    }

    /// The wires that say that they run through a branch.
    pub(super) fn running_through(&self, branch: &str) -> impl Iterator<Item = WireId> {
        let runs = self.runs.iter().enumerate();
        runs.filter(move |(_, runs)| runs.iter().any(|(name, _)| *name == branch))
            .map(|(i, _)| WireId(i))
    }

    /// For each wire that says so, the branches that it runs through as indices of `branches`; notes those that do not
    /// exist.
    pub(super) fn runs(
        &self,
        reading: &mut Reading<'_>,
        branches: &[RawBranch],
    ) -> Vec<(String, Vec<usize>)> {
        let names = || branches.iter().filter_map(|branch| branch.name.as_deref());
        let mut found = Vec::new();
        for (wire, runs) in self.list.iter().zip(&self.runs) {
            let mut through = Vec::new();
            for (name, at) in runs {
                match names().position(|branch| branch == *name) {
                    Some(branch) => through.push(branch),
                    None => unknown(&mut reading.notes, *at, "branch", name, names()),
                }
            }
            found.push((wire.name.clone(), through));
        }
        found
    }

    /// The wire of this name; the inner option is empty where that wire has a fault.
    pub(super) fn get(&self, name: &str) -> Option<Option<WireId>> {
        self.index.get(name).copied()
    }
}

/// The branches of the field `runs`.
fn runs<'n>(reading: &mut Reading<'_>, node: &'n Node) -> Vec<(&'n str, usize)> {
    let Value::Struct(_, Body::Fields(fields)) = &node.value else {
        return Vec::new();
    };
    let Some(field) = fields.iter().find(|field| field.name == "runs") else {
        return Vec::new();
    };
    items(&mut reading.notes, &field.value, "names of branches")
        .iter()
        .filter_map(|item| Some((reading.text(item, "runs")?, item.at)))
        .collect()
}

fn wire(reading: &mut Reading<'_>, name: &str, node: &Node) -> Option<Wire> {
    let known = [
        "size", "strands", "outside", "class", "safety", "current", "runs", "colour", "from", "to",
    ];
    let fields = Fields::of(&mut reading.notes, node, "a wire", &known)?;
    let area = fields
        .need(
            &mut reading.notes,
            "size",
            "write size: \"0.5 mm2\" or \"20 AWG\", as printed on the wire or in the wiring diagram",
        )
        .and_then(|node| {
            let area = reading.quantity(node, "size", Kind::Area, Accepts::Positive)?;
            Some((area, node.at))
        });
    let strands = match fields.get("strands") {
        Some(node) => reading.count(node, "strands"),
        None => {
            reading.assumed.push(format!(
                "wire \"{name}\" has {USUAL_STRANDS} strands (no `strands` given)"
            ));
            Some(USUAL_STRANDS)
        }
    };
    let outside = fields
        .need(
            &mut reading.notes,
            "outside",
            "write outside: the diameter over its insulation, with calipers",
        )
        .and_then(|node| {
            let outside = reading.quantity(node, "outside", Kind::Length, Accepts::Positive)?;
            Some((outside, node.at))
        });
    let class = fields
        .get("class")
        .and_then(|node| reading.choice(node, "class", &CLASSES));
    let safety = fields
        .get("safety")
        .and_then(|node| reading.flag(node, "safety"));
    let current = fields
        .get("current")
        .and_then(|node| reading.quantity(node, "current", Kind::Current, Accepts::NotNegative));
    let mut mark = |field| {
        let node = fields.get(field)?;
        reading.text(node, field).map(str::to_owned)
    };
    let marks = WireMarks {
        colour: mark("colour"),
        from: mark("from"),
        to: mark("to"),
    };
    let ((area, _), (outside, at)) = (area?, outside?);
    if area > std::f64::consts::FRAC_PI_4 * outside * outside {
        let units = reading.units;
        reading.notes.fault(
            at,
            format!(
                "the wire \"{name}\" is {} thick outside, less than its {} of copper",
                units.show_to(outside, Kind::Length, 2),
                units.show(area, Kind::Area)
            ),
            "`outside` is the diameter over the insulation; check it and `size`",
        );
        return None;
    }
    Some(Wire {
        name: name.to_owned(),
        area,
        strands: strands?,
        outside,
        class,
        safety: safety.unwrap_or(false),
        current,
        marks,
    })
}

/// A wire with some of its fields replaced.
pub(super) fn rewired(reading: &mut Reading<'_>, fields: &Fields<'_>, old: &Wire) -> Option<Wire> {
    let mut new = old.clone();
    if let Some(node) = fields.get("size") {
        new.area = reading.quantity(node, "size", Kind::Area, Accepts::Positive)?;
    }
    if let Some(node) = fields.get("strands") {
        new.strands = reading.count(node, "strands")?;
    }
    if let Some(node) = fields.get("outside") {
        new.outside = reading.quantity(node, "outside", Kind::Length, Accepts::Positive)?;
    }
    if let Some(node) = fields.get("class") {
        new.class = Some(reading.choice(node, "class", &CLASSES)?);
    }
    if let Some(node) = fields.get("safety") {
        new.safety = reading.flag(node, "safety")?;
    }
    if let Some(node) = fields.get("current") {
        let current = reading.quantity(node, "current", Kind::Current, Accepts::NotNegative)?;
        new.current = Some(current);
    }
    if new.area > std::f64::consts::FRAC_PI_4 * new.outside * new.outside {
        reading.notes.fault(
            fields.at,
            format!(
                "the new wire \"{}\" would be thinner outside than its copper",
                old.name
            ),
            "give both `size` and `outside` of the new wire",
        );
        return None;
    }
    Some(new)
}

/// Temperature classes by their letter.
const CLASSES: [(&str, InsulationClass); 8] = [
    ("A", InsulationClass::A),
    ("B", InsulationClass::B),
    ("C", InsulationClass::C),
    ("D", InsulationClass::D),
    ("E", InsulationClass::E),
    ("F", InsulationClass::F),
    ("G", InsulationClass::G),
    ("H", InsulationClass::H),
];

/// A branch's cover: `(kind, wall, rated)`.
pub(super) fn cover(reading: &mut Reading<'_>, node: &Node) -> Option<Cover> {
    let known = ["kind", "wall", "rated"];
    let fields = Fields::of(&mut reading.notes, node, "a cover", &known)?;
    let kind = fields
        .need(
            &mut reading.notes,
            "kind",
            "write kind: \"braid\" or \"tape\"",
        )
        .and_then(|node| {
            let kinds = [
                ("braid", CoverKind::Braid),
                ("tape", CoverKind::Tape),
                ("tube", CoverKind::Tube),
                ("split tube", CoverKind::SplitTube),
                ("shrink", CoverKind::Shrink),
                ("heat sleeve", CoverKind::HeatSleeve),
            ];
            reading.choice(node, "kind", &kinds)
        });
    let wall = fields
        .need(&mut reading.notes, "wall", "write wall: its thickness")
        .and_then(|node| reading.quantity(node, "wall", Kind::Length, Accepts::Positive));
    let rated = fields
        .get("rated")
        .and_then(|node| reading.quantity(node, "rated", Kind::Temperature, Accepts::Any));
    Some(Cover {
        kind: kind?,
        wall: wall?,
        rated,
    })
}
