//! Limits that the file overrides.

use crate::quantity::{Accepts, Kind, parse_diameters};
use crate::route::{LimitOverride, LimitValue};

use super::fields::{Fields, entries, suggest};
use super::syntax::{Node, Value};
use super::value::Reading;

/// A key of `limits`.
struct Key {
    name: &'static str,
    /// Kinds that its value may have, the usual one first.
    kinds: &'static [Kind],
    /// Whether it may be given in diameters of the branch.
    diameters: bool,
    /// Whether a check uses it.
    checked: bool,
}

const fn key(name: &'static str, kinds: &'static [Kind]) -> Key {
    Key {
        name,
        kinds,
        diameters: false,
        checked: true,
    }
}

const fn radius(name: &'static str) -> Key {
    Key {
        diameters: true,
        ..key(name, &[Kind::Length])
    }
}

const fn kept(name: &'static str, kinds: &'static [Kind]) -> Key {
    Key {
        checked: false,
        ..key(name, kinds)
    }
}

const KEYS: [Key; 15] = [
    radius("bend radius moving"),
    radius("bend radius still"),
    radius("bend radius connector"),
    key("slack least", &[Kind::Length]),
    kept("slack most", &[Kind::Length]),
    key("stretch most", &[Kind::Ratio]),
    key("twist", &[Kind::TwistRate, Kind::Angle]),
    key("hot distance", &[Kind::Length]),
    kept("hot temperature", &[Kind::Temperature]),
    key("pinch squeeze", &[Kind::Ratio]),
    key("strap pressure", &[Kind::Pressure]),
    key("strap squeeze", &[Kind::Ratio]),
    kept("edge distance", &[Kind::Length]),
    key("support distance", &[Kind::Length]),
    key("steering drag", &[Kind::Torque]),
];
/// The one key whose value is a voltage or a share of the supply's.
const VOLTAGE_DROP: Key = kept("voltage drop", &[Kind::Voltage, Kind::Ratio]);

fn keys() -> impl Iterator<Item = &'static Key> + Clone {
    KEYS.iter().chain(std::iter::once(&VOLTAGE_DROP))
}

/// Reads the field `limits`.
pub(super) fn read(reading: &mut Reading<'_>, node: &Node) -> Vec<LimitOverride> {
    let mut limits = Vec::new();
    for (name, at, node) in entries(&mut reading.notes, node, "(value: .., why: ..)") {
        let Some(key) = keys().find(|key| key.name == name) else {
            reading.notes.fault(
                at,
                format!("there is no limit \"{name}\""),
                suggest(name, keys().map(|key| key.name), "limits are"),
            );
            continue;
        };
        let fields = Fields::of(&mut reading.notes, node, "a limit", &["value", "why"]);
        let Some(fields) = fields else {
            continue;
        };
        let value = fields
            .need(&mut reading.notes, "value", "write value: the limit to use")
            .and_then(|node| value(reading, node, key));
        let why = fields
            .need(
                &mut reading.notes,
                "why",
                "write why: \"the reason\"; it stands beside the limit in every report",
            )
            .and_then(|node| Some((reading.text(node, "why")?, node.at)));
        if let Some((why, at)) = why.filter(|(why, _)| why.trim().is_empty()) {
            reading
                .notes
                .fault(at, format!("`why` is empty: \"{why}\""), "write the reason");
        }
        if !key.checked {
            reading.warnings.push(format!(
                "limit \"{name}\" is kept but not checked yet: check it by hand"
            ));
        }
        if let (Some(value), Some((why, _))) = (value, why) {
            limits.push(LimitOverride {
                key: name.to_owned(),
                value,
                why: why.to_owned(),
            });
        }
    }
    limits
}

fn value(reading: &mut Reading<'_>, node: &Node, key: &Key) -> Option<LimitValue> {
    if let Value::Text(text) = &node.value {
        if let Some(number) = parse_diameters(text) {
            if !key.diameters {
                reading.notes.fault(
                    node.at,
                    format!("\"{}\" cannot be given in diameters (OD)", key.name),
                    key.kinds[0].cure(),
                );
                return None;
            }
            if !(number > 0.0 && number.is_finite()) {
                reading.notes.fault(
                    node.at,
                    format!("\"{text}\" is not above zero"),
                    "write diameters of the branch, such as \"10 OD\"",
                );
                return None;
            }
            return Some(LimitValue::Diameters(number));
        }
        // The kind that fits decides; where none does, the message speaks of the usual one.
        for &kind in &key.kinds[1..] {
            if let Ok(value) = crate::quantity::parse(text, kind, Accepts::NotNegative) {
                return Some(LimitValue::Value(value, kind));
            }
        }
    }
    let kind = key.kinds[0];
    let accepts = if key.diameters {
        Accepts::Positive
    } else {
        Accepts::NotNegative
    };
    let value = reading.quantity(node, "value", kind, accepts)?;
    Some(LimitValue::Value(value, kind))
}
