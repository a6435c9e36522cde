//! Branches: what a bundle is made of and how it is laid.

use crate::harness::{Cover, Stiffness, WireId, bundle_diameter};
use crate::quantity::{Accepts, Kind};

use super::bodies::Bodies;
use super::breakouts::Announced;
use super::fields::{Fields, Names, items, unknown};
use super::fixings::{RawFixing, lay};
use super::points::Points;
use super::tree::{Node, Value};
use super::value::Reading;
use super::wires::{Wires, cover};

/// A branch as far as it could be read.
#[derive(Debug)]
pub(super) struct RawBranch {
    pub(super) name: Option<String>,
    pub(super) wires: Vec<WireId>,
    pub(super) diameter: Option<f64>,
    pub(super) cover: Option<Cover>,
    pub(super) pitch: Option<f64>,
    pub(super) stiffness: Option<Stiffness>,
    pub(super) lay: Vec<RawFixing>,
}

/// More branches than this are not read: a harness has some dozens.
const MOST_BRANCHES: usize = 500;

/// Reads the field `branches`. Faults apart, every branch of the file is in the result.
pub(super) fn read<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    bodies: &Bodies<'n>,
    points: &mut Points<'n>,
    wires: &Wires<'n>,
    fixings: &mut Vec<&'n str>,
) -> Vec<RawBranch> {
    let known = [
        "name",
        "wires",
        "diameter",
        "cover",
        "pitch",
        "stiffness",
        "lay",
    ];
    let list = items(&mut reading.notes, node, "(name: .., lay: [..])");
    if list.is_empty() && matches!(node.value, Value::List(_)) && !reading.notes.cut {
        reading.notes.fault(
            node.at,
            "there is no branch",
            "write at least one (name: .., diameter: .., lay: [..])",
        );
    }
    if let Some(item) = list.get(MOST_BRANCHES) {
        reading.notes.fault(
            item.at,
            format!("more than {MOST_BRANCHES} branches are given"),
            "give those of one harness; other harnesses stand in files of their own",
        );
        return Vec::new();
    }
    let announced = Announced::of(node);
    let (mut branches, mut names, mut taken) = (Vec::new(), Names::default(), Names::default());
    let mut breakouts = Vec::new();
    for item in list {
        let Some(fields) = Fields::of(&mut reading.notes, item, "a branch", &known) else {
            continue;
        };
        let name = fields
            .need(
                &mut reading.notes,
                "name",
                "write name: \"neck\", or what you call it",
            )
            .and_then(|node| Some((reading.text(node, "name")?, node.at)));
        if let Some((name, at)) = name {
            names.add(&mut reading.notes, name, at, "branch");
        }
        let bundle = bundle(reading, &fields, wires, name.map_or("", |(name, _)| name));
        let lay = fields
            .need(
                &mut reading.notes,
                "lay",
                "write lay: [ ] with its fixings in order, from start to end",
            )
            .map(|node| {
                let joined = announced.joined(name.map_or("", |(name, _)| name), Some(node));
                let taken = (&mut taken, &mut breakouts);
                lay(reading, node, bodies, points, taken, fixings, joined)
            });
        branches.push(RawBranch {
            name: name.map(|(name, _)| name.to_owned()),
            lay: lay.unwrap_or_default(),
            ..bundle
        });
    }
    if !reading.notes.cut {
        announced.check(reading, &branches);
    }
    branches
}

/// Wires, cover, diameter and stiffness, with what is missing worked out from the others.
fn bundle<'n>(
    reading: &mut Reading<'_>,
    fields: &Fields<'n>,
    wires: &Wires<'n>,
    name: &str,
) -> RawBranch {
    let before = reading.notes.count();
    let mut ids = Vec::new();
    let mut whole = true;
    if let Some(node) = fields.get("wires") {
        for item in items(&mut reading.notes, node, "names of wires") {
            let Some(wire) = reading.text(item, "wires") else {
                continue;
            };
            match wires.get(wire) {
                Some(id) => {
                    whole &= id.is_some();
                    ids.extend(id);
                }
                None => unknown(&mut reading.notes, item.at, "wire", wire, wires.names()),
            }
        }
    }
    // What is listed here and also runs here is one conductor.
    ids.extend(
        wires
            .running_through(name)
            .filter(|id| !ids.contains(id))
            .collect::<Vec<_>>(),
    );
    let cover = fields.get("cover").map(|node| cover(reading, node));
    let pitch = fields
        .get("pitch")
        .and_then(|node| reading.quantity(node, "pitch", Kind::Length, Accepts::Positive));
    let given = fields
        .get("diameter")
        .map(|node| reading.quantity(node, "diameter", Kind::Length, Accepts::Positive));
    whole &= reading.notes.count() == before;
    let cover = cover.flatten();
    let list = || ids.iter().map(|id| &wires.list[id.0]);
    let diameter = match given {
        Some(given) => given,
        None if !whole || reading.notes.cut => None,
        None if ids.is_empty() => {
            reading.notes.fault(
                fields.at,
                format!("the branch \"{name}\" has neither `diameter` nor `wires`"),
                "write diameter: as measured with calipers over the cover, or name its wires",
            );
            None
        }
        None => {
            let diameter = bundle_diameter(list(), cover.as_ref());
            let how = match (ids.len(), cover.is_some()) {
                (1, false) => "its one wire",
                (1, true) => "its one wire and the cover's wall twice",
                (_, false) => "its wires lying close, touching",
                (_, true) => "its wires lying close, touching, and the cover's wall twice",
            };
            let units = reading.units;
            let shown = units.show_to(diameter, Kind::Length, units.digits(Kind::Length) + 1);
            reading
                .assumed
                .push(format!("branch \"{name}\": diameter {shown}, from {how}"));
            Some(diameter)
        }
    };
    let estimate = diameter.filter(|_| whole).map(|diameter| {
        if ids.is_empty() {
            (
                Stiffness::of_diameter(diameter),
                "from the diameter alone, as if filled with 0.75 mm² wires of 24 strands",
            )
        } else {
            (
                Stiffness::of_bundle(list(), cover.as_ref(), diameter),
                "from its wires",
            )
        }
    });
    let stiffness = stiffness(reading, fields, name, estimate);
    RawBranch {
        name: None,
        wires: ids,
        diameter,
        cover,
        pitch,
        stiffness,
        lay: Vec::new(),
    }
}

/// The given stiffness, and what is missing of it from the estimate.
fn stiffness(
    reading: &mut Reading<'_>,
    branch: &Fields<'_>,
    name: &str,
    estimate: Option<(Stiffness, &str)>,
) -> Option<Stiffness> {
    let known = ["bend", "twist", "stretch", "mass"];
    let fields = match branch.get("stiffness") {
        Some(node) => Some(Fields::of(&mut reading.notes, node, "a stiffness", &known)?),
        None => None,
    };
    let before = reading.notes.count();
    let mut given = |field: &str, kind: Kind, accepts: Accepts| {
        let node = fields.as_ref().and_then(|fields| fields.get(field))?;
        reading.quantity(node, field, kind, accepts)
    };
    let bend = given("bend", Kind::BendingStiffness, Accepts::Positive);
    let twist = given("twist", Kind::BendingStiffness, Accepts::Positive);
    let stretch = given("stretch", Kind::Force, Accepts::Positive);
    let mass = given("mass", Kind::MassPerLength, Accepts::NotNegative);
    let (estimate, from) = estimate?;
    if reading.notes.count() > before {
        return None;
    }
    let units = reading.units;
    let mut assume = |text: String| {
        reading.assumed.push(format!("branch \"{name}\": {text}"));
    };
    let sure = bend.is_some();
    let bend = bend.unwrap_or_else(|| {
        let (least, most) = estimate.range;
        assume(format!(
            "bending stiffness {}, {from}: three times that of freely slipping strands, our own choice; the truth may \
             lie between {} and {}",
            units.show(estimate.bend, Kind::BendingStiffness),
            units.show(estimate.bend * least, Kind::BendingStiffness),
            units.show(estimate.bend * most, Kind::BendingStiffness),
        ));
        estimate.bend
    });
    let twist = twist.unwrap_or_else(|| {
        // A given bending stiffness tells more about the bundle's twisting than the estimate does.
        let twist = bend * (estimate.twist / estimate.bend);
        assume(format!(
            "twisting stiffness {}, {:.2} × the bending stiffness, as for round strands",
            units.show(twist, Kind::BendingStiffness),
            estimate.twist / estimate.bend
        ));
        twist
    });
    let stretch = stretch.unwrap_or_else(|| {
        assume(format!(
            "stretching stiffness {}, {from}: the copper laid straight, a loose lay gives less",
            units.show_to(estimate.stretch, Kind::Force, 0)
        ));
        estimate.stretch
    });
    let mass = mass.unwrap_or_else(|| {
        assume(format!(
            "mass {}, {from}",
            units.show(estimate.mass, Kind::MassPerLength)
        ));
        estimate.mass
    });
    Some(Stiffness {
        bend,
        twist,
        stretch,
        mass,
        range: if sure { (1.0, 1.0) } else { estimate.range },
    })
}
