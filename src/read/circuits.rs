//! Circuits: `Load(..)` and `Pair(..)` by name.

use crate::harness::{Circuit, CircuitKind, Load, SignalPair, WireId};
use crate::quantity::{Accepts, Kind};

use super::fields::{Fields, entries, items, suggest, unknown};
use super::tree::{Node, Value};
use super::value::Reading;
use super::wires::Wires;

/// Voltage of a sensor's supply \[V\]: common practice, no source.
const SUM: f64 = 5.0;
/// Track of a throttle sensor and input of what reads it \[Ω\]: usual values, from memory.
const TRACK: f64 = 5e3;
/// See [`TRACK`].
const INPUT: f64 = 200e3;

/// Reads the field `circuits`.
pub(super) fn read(reading: &mut Reading<'_>, node: &Node, wires: &Wires<'_>) -> Vec<Circuit> {
    let mut circuits = Vec::new();
    for (name, at, node) in entries(&mut reading.notes, node, "Load(..) or Pair(..)") {
        if wires.get(name).is_some() {
            reading.notes.fault(
                at,
                format!("\"{name}\" names a wire and a circuit"),
                "give the circuit another name, so that `--failing` can tell them apart",
            );
        }
        let kind = match &node.value {
            Value::Struct(Some(kind), _) => match kind.as_str() {
                "Load" => load(reading, node, wires).map(CircuitKind::Load),
                "Pair" => pair(reading, name, node, wires).map(CircuitKind::Pair),
                other => {
                    let known = ["Load", "Pair"].into_iter();
                    reading.notes.fault(
                        node.at,
                        format!("there is no circuit `{other}`"),
                        suggest(other, known, "circuits are"),
                    );
                    None
                }
            },
            Value::Broken => None,
            other => {
                reading.notes.fault(
                    node.at,
                    format!("a circuit is wanted here, found {}", other.phrase()),
                    "write Load(there: [..], current: ..) or Pair(supply: .., ground: .., signals: [.., ..])",
                );
                None
            }
        };
        circuits.extend(kind.map(|kind| Circuit {
            name: name.to_owned(),
            kind,
        }));
    }
    circuits
}

fn wire(reading: &mut Reading<'_>, node: &Node, field: &str, wires: &Wires<'_>) -> Option<WireId> {
    let name = reading.text(node, field)?;
    match wires.get(name) {
        Some(id) => id,
        None => {
            unknown(&mut reading.notes, node.at, "wire", name, wires.names());
            None
        }
    }
}

/// A list of wires; one that is named twice on the way is a fault.
fn list(
    reading: &mut Reading<'_>,
    node: &Node,
    field: &str,
    wires: &Wires<'_>,
) -> Option<Vec<WireId>> {
    let before = reading.notes.count();
    let mut found: Vec<WireId> = Vec::new();
    for item in items(&mut reading.notes, node, "names of wires") {
        let Some(id) = wire(reading, item, field, wires) else {
            continue;
        };
        if found.contains(&id) {
            reading.notes.fault(
                item.at,
                format!("`{field}` names a wire twice"),
                "name every wire once, in the order in which the current goes through it",
            );
        }
        found.push(id);
    }
    (reading.notes.count() == before).then_some(found)
}

fn load(reading: &mut Reading<'_>, node: &Node, wires: &Wires<'_>) -> Option<Load> {
    let known = ["there", "back", "current", "fuse", "drop"];
    let fields = Fields::of(&mut reading.notes, node, "a Load", &known)?;
    let cure = "write there: [\"low beam\"], the wires from the battery's side to the load";
    let there = fields
        .need(&mut reading.notes, "there", cure)
        .and_then(|node| {
            let there = list(reading, node, "there", wires)?;
            if there.is_empty() {
                reading.notes.fault(node.at, "`there` names no wire", cure);
            }
            Some(there)
        });
    let back = match fields.get("back") {
        Some(node) => list(reading, node, "back", wires),
        None => Some(Vec::new()),
    };
    let current = fields
        .need(
            &mut reading.notes,
            "current",
            "write current: \"4.6 A\", its steady current: watts over volts, as printed on the load",
        )
        .and_then(|node| reading.quantity(node, "current", Kind::Current, Accepts::Positive));
    let mut given = |field: &str, kind: Kind| {
        fields
            .get(field)
            .and_then(|node| reading.quantity(node, field, kind, Accepts::Positive))
    };
    let fuse = given("fuse", Kind::Current);
    let drop = given("drop", Kind::Voltage);
    Some(Load {
        there: there?,
        back: back?,
        current: current?,
        fuse,
        drop,
    })
}

fn pair(
    reading: &mut Reading<'_>,
    name: &str,
    node: &Node,
    wires: &Wires<'_>,
) -> Option<SignalPair> {
    let known = [
        "supply", "ground", "signals", "sum", "allowed", "track", "input", "shared",
    ];
    let fields = Fields::of(&mut reading.notes, node, "a Pair", &known)?;
    let mut one = |field: &str| {
        let cure = format!("write {field}: \"name\" of its wire");
        fields
            .need(&mut reading.notes, field, &cure)
            .and_then(|node| wire(reading, node, field, wires))
    };
    let (supply, ground) = (one("supply"), one("ground"));
    let cure = "write signals: [\"sensor 1\", \"sensor 2\"], the wires of the two signals";
    let signals = fields
        .need(&mut reading.notes, "signals", cure)
        .and_then(|node| {
            let signals = list(reading, node, "signals", wires)?;
            let two = <[WireId; 2]>::try_from(signals).ok();
            if two.is_none() {
                reading
                    .notes
                    .fault(node.at, "`signals` names other than two wires", cure);
            }
            two
        });
    let mut given = |field: &str, kind: Kind, accepts: Accepts| {
        fields
            .get(field)
            .map(|node| reading.quantity(node, field, kind, accepts))
    };
    let sum = given("sum", Kind::Voltage, Accepts::Positive);
    let allowed = given("allowed", Kind::Voltage, Accepts::Positive);
    let track = given("track", Kind::Resistance, Accepts::Positive);
    let input = given("input", Kind::Resistance, Accepts::Positive);
    let shared = given("shared", Kind::Current, Accepts::NotNegative);
    let mut filled = Vec::new();
    let mut or = |given: Option<Option<f64>>, usual: f64, said: &str| {
        given.unwrap_or_else(|| {
            filled.push(said.to_owned());
            Some(usual)
        })
    };
    let sum = or(sum, SUM, "a supply of 5 V");
    let track = or(track, TRACK, "tracks of 5 kΩ");
    let input = or(input, INPUT, "inputs of 200 kΩ (from memory)");
    if !filled.is_empty() {
        reading
            .assumed
            .push(format!("circuit \"{name}\": {}", filled.join(", ")));
    }
    Some(SignalPair {
        supply: supply?,
        ground: ground?,
        signals: signals?,
        sum: sum?,
        allowed: allowed.unwrap_or(None),
        track: track?,
        input: input?,
        shared: shared.unwrap_or(Some(0.0))?,
    })
}
