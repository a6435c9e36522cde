//! Fields of a struct and names of things: unknown, missing and repeated ones are faults with the nearest known
//! name as the cure.

use std::collections::HashMap;

use super::fault::Notes;
use super::tree::{Body, Field, Node, Value};

/// The fields of one struct, checked against those that it may have.
#[derive(Debug)]
pub(super) struct Fields<'n> {
    /// Where the struct begins.
    pub(super) at: usize,
    /// What it is, with its article: "a tie".
    what: String,
    fields: Vec<&'n Field>,
}

impl<'n> Fields<'n> {
    /// The fields of `node`, which is `what` ("a tie") and may have the fields `known`. `None`, with a fault
    /// noted, where it is no struct with named fields.
    pub(super) fn of(
        notes: &mut Notes<'_>,
        node: &'n Node,
        what: &str,
        known: &[&str],
    ) -> Option<Self> {
        let named: &'n [Field] = match &node.value {
            Value::Struct(_, Body::Fields(fields)) => fields,
            Value::Struct(_, Body::Empty) => &[],
            Value::Broken => return None,
            other => {
                notes.fault(
                    node.at,
                    format!("{what} is wanted here, found {}", other.phrase()),
                    format!(
                        "write ( ) with fields in it: {}",
                        list(known.iter().copied())
                    ),
                );
                return None;
            }
        };
        let mut fields: Vec<&Field> = Vec::new();
        for field in named {
            if !known.contains(&field.name.as_str()) {
                let known = known.iter().copied();
                notes.fault(
                    field.at,
                    format!("{what} has no field `{}`", field.name),
                    suggest(&field.name, known, "its fields are"),
                );
            } else if let Some(first) = fields.iter().find(|first| first.name == field.name) {
                let line = notes.line(first.at);
                notes.fault(
                    field.at,
                    format!("`{}` is given twice, first on {line}", field.name),
                    "delete one of the two",
                );
            } else {
                fields.push(field);
            }
        }
        Some(Self {
            at: node.at,
            what: what.to_owned(),
            fields,
        })
    }

    /// A field that may be left out.
    pub(super) fn get(&self, name: &str) -> Option<&'n Node> {
        self.fields
            .iter()
            .find(|field| field.name == name)
            .map(|field| &field.value)
            .filter(|node| node.value != Value::Nothing)
    }

    /// A field that must be there; its absence is noted with `cure`.
    pub(super) fn need(&self, notes: &mut Notes<'_>, name: &str, cure: &str) -> Option<&'n Node> {
        let found = self.get(name);
        if found.is_none() && !notes.cut {
            notes.fault(
                self.at,
                format!("{} lacks its `{name}`", self.what),
                cure.to_owned(),
            );
        }
        found
    }
}

/// The entries of a map in `{ }` by their names, in the order of the file; repeated and empty names are noted and
/// passed over.
pub(super) fn entries<'n>(
    notes: &mut Notes<'_>,
    node: &'n Node,
    what: &str,
) -> Vec<(&'n str, usize, &'n Node)> {
    let pairs = match &node.value {
        Value::Map(pairs) => pairs,
        Value::Broken | Value::Nothing => return Vec::new(),
        other => {
            notes.fault(
                node.at,
                format!("named entries are wanted here, found {}", other.phrase()),
                format!("write {{ \"name\": {what}, … }}"),
            );
            return Vec::new();
        }
    };
    let mut found = Vec::new();
    let mut names = Names::default();
    for (key, value) in pairs {
        let name = match &key.value {
            Value::Text(name) => name,
            Value::Struct(Some(name), Body::Empty) => {
                notes.fault(
                    key.at,
                    format!("the name {name} stands without quotes"),
                    format!("write \"{name}\""),
                );
                name
            }
            Value::Broken => continue,
            other => {
                notes.fault(
                    key.at,
                    format!("a name is wanted here, found {}", other.phrase()),
                    "a name is a text in quotes",
                );
                continue;
            }
        };
        if names.add(notes, name, key.at, "name") {
            found.push((name.as_str(), key.at, value));
        }
    }
    found
}

/// The items of a list in `[ ]`.
pub(super) fn items<'n>(notes: &mut Notes<'_>, node: &'n Node, what: &str) -> &'n [Node] {
    match &node.value {
        Value::List(items) => items,
        Value::Broken | Value::Nothing => &[],
        other => {
            notes.fault(
                node.at,
                format!("a list is wanted here, found {}", other.phrase()),
                format!("write [ ] with {what} in it"),
            );
            &[]
        }
    }
}

/// Names that must differ from each other, each with where it first stands.
#[derive(Debug, Default)]
pub(super) struct Names {
    first: HashMap<String, usize>,
}

impl Names {
    /// Adds a name; notes a fault and returns false where it is empty or taken.
    pub(super) fn add(&mut self, notes: &mut Notes<'_>, name: &str, at: usize, what: &str) -> bool {
        if name.trim().is_empty() {
            notes.fault(at, "this name is empty", "give it a name");
            return false;
        }
        if let Some(&first) = self.first.get(name) {
            let line = notes.line(first);
            notes.fault(
                at,
                format!("the {what} \"{name}\" is given twice, first on {line}"),
                "give one of the two another name",
            );
            return false;
        }
        self.first.insert(name.to_owned(), at);
        true
    }
}

/// Notes that `name` names no `what` of those `known`.
pub(super) fn unknown<'k>(
    notes: &mut Notes<'_>,
    at: usize,
    what: &str,
    name: &str,
    known: impl Iterator<Item = &'k str> + Clone,
) {
    // What stands after the place where reading had to stop may well define it.
    if !notes.cut && !notes.full() {
        notes.fault(
            at,
            format!("there is no {what} \"{name}\""),
            suggest(name, known, "known are"),
        );
    }
}

/// "did you mean `x`? known are …"
pub(super) fn suggest<'k>(
    name: &str,
    known: impl Iterator<Item = &'k str> + Clone,
    lead: &str,
) -> String {
    if known.clone().next().is_none() {
        return "none is defined in this file".to_owned();
    }
    let low = name.to_lowercase();
    let nearest = known
        .clone()
        .take(2000)
        .map(|k| (strsim::damerau_levenshtein(&low, &k.to_lowercase()), k))
        .min_by_key(|(distance, _)| *distance)
        .filter(|(distance, k)| 3 * distance <= name.chars().count().max(k.chars().count()) + 1);
    match nearest {
        Some((_, nearest)) => format!("did you mean \"{nearest}\"? {lead}: {}", list(known)),
        None => format!("{lead}: {}", list(known)),
    }
}

/// "a, b, c", at most two dozen.
fn list<'k>(known: impl Iterator<Item = &'k str>) -> String {
    let names: Vec<&str> = known.take(25).collect();
    if names.len() == 25 {
        format!("{}, …", names[..24].join(", "))
    } else {
        names.join(", ")
    }
}
