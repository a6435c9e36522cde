//! Wires, the circuits that they make, and where they are joined.

use serde_json::{Value, json};

use crate::harness::{CircuitKind, InsulationClass, Wire, WireId};
use crate::route::Route;

use super::MM;

pub(super) fn circuits(route: &Route) -> Vec<Value> {
    let names = |ids: &[WireId]| -> Vec<String> {
        let named = ids.iter().map(|id| route.wires[id.0].name.clone());
        named.collect()
    };
    let one = |circuit: &crate::harness::Circuit| match &circuit.kind {
        CircuitKind::Load(load) => json!({
            "name": circuit.name, "kind": "load",
            "there": names(&load.there), "back": names(&load.back),
            "current_a": load.current, "fuse_a": load.fuse, "drop_v": load.drop,
            "path": ["circuits", circuit.name],
        }),
        CircuitKind::Pair(pair) => json!({
            "name": circuit.name, "kind": "pair",
            "supply": names(&[pair.supply]), "ground": names(&[pair.ground]),
            "signals": names(&pair.signals),
            "sum_v": pair.sum, "allowed_v": pair.allowed,
            "path": ["circuits", circuit.name],
        }),
    };
    route.circuits.iter().map(one).collect()
}

pub(super) fn wire(wire: &Wire) -> Value {
    json!({
        "name": wire.name,
        "size_mm2": wire.area * MM * MM,
        "strands": wire.strands,
        "outside_mm": wire.outside * MM,
        "class": wire.class.map(class),
        "safety": wire.safety,
        "current_a": wire.current,
        "colour": wire.marks.colour,
        "from": wire.marks.from,
        "to": wire.marks.to,
        "path": ["wires", wire.name],
    })
}

fn class(class: InsulationClass) -> &'static str {
    match class {
        InsulationClass::A => "A",
        InsulationClass::B => "B",
        InsulationClass::C => "C",
        InsulationClass::D => "D",
        InsulationClass::E => "E",
        InsulationClass::F => "F",
        InsulationClass::G => "G",
        InsulationClass::H => "H",
    }
}
