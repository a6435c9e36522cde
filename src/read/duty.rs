//! How the machine is used.

use crate::harness::Duty;
use crate::quantity::{Accepts, Kind};

use super::bodies::Bodies;
use super::fields::{Fields, entries, unknown};
use super::tree::Node;
use super::value::Reading;

/// Reads the field `duty`.
pub(super) fn read<'n>(reading: &mut Reading<'_>, node: &'n Node, bodies: &Bodies<'n>) -> Duty {
    let mut duty = Duty::default();
    let Some(fields) = Fields::of(&mut reading.notes, node, "a duty", &["sweeps", "halving"])
    else {
        return duty;
    };
    if let Some(node) = fields.get("sweeps") {
        for (name, at, node) in entries(&mut reading.notes, node, "6000") {
            let count = reading.quantity(node, "sweeps", Kind::Ratio, Accepts::NotNegative);
            match (bodies.named(name), count) {
                (Some(body), Some(count)) if bodies.list[body.0].joint.moves() => {
                    duty.sweeps.push((body, count));
                }
                (Some(_), Some(_)) => reading.notes.fault(
                    at,
                    format!("\"{name}\" does not move, so nothing sweeps it"),
                    "name a body that turns or slides, such as the steering",
                ),
                (None, _) => unknown(&mut reading.notes, at, "body", name, bodies.names()),
                (Some(_), None) => {}
            }
        }
    }
    duty.halving = fields
        .get("halving")
        .and_then(|node| reading.quantity(node, "halving", Kind::Ratio, Accepts::Positive));
    duty
}
