//! Limits that the file overrides.

use crate::check::LimitKey;
use crate::quantity::{Accepts, Kind, parse_diameters};
use crate::route::{LimitOverride, LimitValue};

use super::fields::{Fields, entries, suggest};
use super::tree::{Node, Value};
use super::value::Reading;

/// A key of `limits`.
#[derive(Clone)]
struct Key {
    name: &'static str,
    /// Kinds that its value may have, the usual one first.
    kinds: Vec<Kind>,
    /// Whether it may be given in diameters of the branch.
    diameters: bool,
    /// Whether a check uses it.
    checked: bool,
}

/// Limits whose check does not exist yet: their values are read and kept.
const KEPT: [(&str, &[Kind]); 0] = [];

/// Every key: those of the one table of limits, and those that are kept.
fn keys() -> impl Iterator<Item = Key> {
    let checked = LimitKey::all().map(|limit| Key {
        name: limit.name(),
        kinds: kinds(limit.kind()),
        diameters: limit.takes_diameters(),
        checked: true,
    });
    let kept = KEPT.iter().map(|(name, kinds)| Key {
        name,
        kinds: kinds.to_vec(),
        diameters: false,
        checked: false,
    });
    checked.chain(kept)
}

/// Kinds in which a limit of this kind may be given. A twist may also be given for the whole span.
fn kinds(kind: Kind) -> Vec<Kind> {
    match kind {
        Kind::TwistRate => vec![Kind::TwistRate, Kind::Angle],
        // Per cent of 14 V.
        Kind::Voltage => vec![Kind::Voltage, Kind::Ratio],
        kind => vec![kind],
    }
}

/// Reads the field `limits`.
pub(super) fn read(reading: &mut Reading<'_>, node: &Node) -> Vec<LimitOverride> {
    let mut limits = Vec::new();
    for (name, at, node) in entries(&mut reading.notes, node, "(value: .., why: ..)") {
        let Some(key) = keys().find(|key| key.name == name) else {
            let known: Vec<&str> = keys().map(|key| key.name).collect();
            reading.notes.fault(
                at,
                format!("there is no limit \"{name}\""),
                suggest(name, known.iter().copied(), "limits are"),
            );
            continue;
        };
        let fields = Fields::of(&mut reading.notes, node, "a limit", &["value", "why"]);
        let Some(fields) = fields else {
            continue;
        };
        let value = fields
            .need(&mut reading.notes, "value", "write value: the limit to use")
            .and_then(|node| value(reading, node, &key));
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
