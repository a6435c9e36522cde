//! Single values: quantities in the file's units, texts, directions.

use std::path::PathBuf;

use nalgebra::{UnitVector3, Vector3};

use crate::quantity::{self, Accepts, Kind, LengthUnit, TemperatureUnit, Units};

use super::fault::Notes;
use super::tree::{Body, Node, Value};

/// A bare number as it stands in a message: one with very many digits by its power of ten.
fn as_seen(number: f64) -> String {
    if number.is_finite() && number.abs() > 0.0 && !(1e-6..1e9).contains(&number.abs()) {
        format!("{number:e}")
    } else {
        number.to_string()
    }
}

/// What is carried along while a file is read.
#[derive(Debug)]
pub(super) struct Reading<'s> {
    pub(super) notes: Notes<'s>,
    /// The folder of the file: other files are named relative to it.
    pub(super) folder: PathBuf,
    /// Units of bare numbers.
    pub(super) units: Units,
    /// What was filled in.
    pub(super) assumed: Vec<String>,
    /// What is kept but not used.
    pub(super) warnings: Vec<String>,
}

impl Reading<'_> {
    /// A quantity of `kind` in SI. A bare number is in the file's units; only lengths, temperatures and ratios may
    /// stand bare.
    pub(super) fn quantity(
        &mut self,
        node: &Node,
        field: &str,
        kind: Kind,
        accepts: Accepts,
    ) -> Option<f64> {
        let result = match &node.value {
            Value::Text(text) => quantity::parse(text, kind, accepts),
            Value::Number(number) => {
                let number = *number;
                let value = match kind {
                    Kind::Length => match self.units.length {
                        LengthUnit::Mm => number * 1e-3,
                        LengthUnit::Inch => number * 0.0254,
                    },
                    Kind::Temperature => match self.units.temperature {
                        TemperatureUnit::DegC => number,
                        TemperatureUnit::DegF => (number - 32.0) * (5.0 / 9.0),
                    },
                    Kind::Ratio => number,
                    _ if number.is_finite() => {
                        let (example, kind) = (kind.example(), kind.phrase());
                        let unit = example.trim_start_matches(|c: char| !c.is_alphabetic());
                        self.notes.fault(
                            node.at,
                            format!("`{field}` is the bare number {number}, without a unit"),
                            format!(
                                "write {kind} with its unit in quotes, such as \"{number} {unit}\""
                            ),
                        );
                        return None;
                    }
                    _ => number,
                };
                quantity::check(value, &as_seen(number), kind, accepts)
            }
            Value::Broken => return None,
            other => {
                self.notes.fault(
                    node.at,
                    format!("`{field}` is {}, found {}", kind.phrase(), other.phrase()),
                    kind.cure(),
                );
                return None;
            }
        };
        match result {
            Ok(value) => Some(value),
            Err(error) => {
                self.notes
                    .fault(node.at, format!("`{field}`: {error}"), error.cure());
                None
            }
        }
    }

    /// A text.
    pub(super) fn text<'n>(&mut self, node: &'n Node, field: &str) -> Option<&'n str> {
        match &node.value {
            Value::Text(text) => Some(text),
            Value::Broken => None,
            other => {
                let cure = match other {
                    Value::Struct(Some(name), Body::Empty) => format!("write \"{name}\""),
                    _ => "write it in quotes".to_owned(),
                };
                self.notes.fault(
                    node.at,
                    format!("`{field}` is a text, found {}", other.phrase()),
                    cure,
                );
                None
            }
        }
    }

    /// One of several fixed texts.
    pub(super) fn choice<T: Copy>(
        &mut self,
        node: &Node,
        field: &str,
        choices: &[(&str, T)],
    ) -> Option<T> {
        let text = match &node.value {
            // Sharp and "sharp" are both understood.
            Value::Struct(Some(name), Body::Empty) => name,
            _ => self.text(node, field)?,
        };
        let found = choices
            .iter()
            .find(|(name, _)| name.eq_ignore_ascii_case(text));
        if found.is_none() {
            let names = choices.iter().map(|(name, _)| *name);
            self.notes.fault(
                node.at,
                format!("`{field}` cannot be \"{text}\""),
                super::fields::suggest(text, names, "it is one of"),
            );
        }
        found.map(|(_, value)| *value)
    }

    /// Yes or no.
    pub(super) fn flag(&mut self, node: &Node, field: &str) -> Option<bool> {
        match &node.value {
            Value::Bool(value) => Some(*value),
            Value::Broken => None,
            other => {
                self.notes.fault(
                    node.at,
                    format!("`{field}` is true or false, found {}", other.phrase()),
                    "write true or false, without quotes",
                );
                None
            }
        }
    }

    /// A whole number of at least one.
    pub(super) fn count(&mut self, node: &Node, field: &str) -> Option<u32> {
        let whole = match &node.value {
            Value::Broken => return None,
            Value::Number(number) if number.fract() == 0.0 && (1.0..=1e6).contains(number) => {
                format!("{number:.0}").parse().ok()
            }
            _ => None,
        };
        if whole.is_none() {
            self.notes.fault(
                node.at,
                format!(
                    "`{field}` is a whole number of at least 1, found {}",
                    node.value.phrase()
                ),
                "count them and write the number",
            );
        }
        whole
    }

    /// The three values of `(x, y, z)`.
    pub(super) fn three<'n>(&mut self, node: &'n Node, field: &str) -> Option<[&'n Node; 3]> {
        match &node.value {
            Value::Struct(None, Body::Items(items)) => {
                if let [x, y, z] = items.as_slice() {
                    return Some([x, y, z]);
                }
                self.notes.fault(
                    node.at,
                    format!("`{field}` needs three numbers, found {}", items.len()),
                    "write (x, y, z): forward, to the rider's left, up; with decimal points, not commas",
                );
            }
            Value::Broken => {}
            other => self.notes.fault(
                node.at,
                format!("`{field}` needs three numbers, found {}", other.phrase()),
                "write (x, y, z): forward, to the rider's left, up",
            ),
        }
        None
    }

    /// Three lengths \[m\].
    pub(super) fn lengths(
        &mut self,
        node: &Node,
        field: &str,
        accepts: Accepts,
    ) -> Option<Vector3<f64>> {
        let three = self.three(node, field)?;
        let [x, y, z] = three.map(|node| self.quantity(node, field, Kind::Length, accepts));
        Some(Vector3::new(x?, y?, z?))
    }

    /// A direction: three bare numbers that are not all zero.
    pub(super) fn direction(&mut self, node: &Node, field: &str) -> Option<UnitVector3<f64>> {
        let three = self.three(node, field)?;
        let numbers = three.map(|node| match &node.value {
            Value::Number(_) => self.quantity(node, field, Kind::Ratio, Accepts::Any),
            Value::Broken => None,
            other => {
                self.notes.fault(
                    node.at,
                    format!("`{field}` is a direction, found {} in it", other.phrase()),
                    "write three plain numbers, such as (1, 0, 0.2); only their ratio counts",
                );
                None
            }
        });
        let [Some(x), Some(y), Some(z)] = numbers else {
            return None;
        };
        let vector = Vector3::new(x, y, z);
        // Scaled first: the square of a large number must not overflow.
        let largest = vector.amax();
        if largest > 0.0 {
            let unit = UnitVector3::try_new(vector / largest, 0.0);
            if unit.is_some() {
                return unit;
            }
        }
        self.notes.fault(
            node.at,
            format!("`{field}` has no length: (0, 0, 0) points nowhere"),
            "write the direction as (x, y, z): forward, to the rider's left, up",
        );
        None
    }
}
