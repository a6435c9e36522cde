//! A value put at a place of a text, named by its way through the tree: a field's name, an entry's name, an item's number.
//!
//! What is put is written as it stands in a route file. Comments and order stay; a field, entry or item that is missing is
//! added where a person would, with the field that holds it.

use std::fmt;

use crate::read::fault::Notes;
use crate::read::syntax::tree;
use crate::read::tree::{Body, Node, Value};

use super::script::Script;
use super::show::quoted;
use super::{EditError, cannot};

/// One step of the way to a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum At {
    /// A field of ( ) or an entry of { }.
    Name(String),
    /// An item of a list, or of values in ( ), from 0.
    Item(usize),
}

impl fmt::Display for At {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Name(name) => write!(f, "{name}"),
            Self::Item(item) => write!(f, "{item}"),
        }
    }
}

/// Fields of a route file whose values have names in quotes.
const MAPS: [&str; 7] = [
    "points", "bodies", "wires", "circuits", "limits", "changes", "sweeps",
];

/// The text with `value` (as it stands in a route file) at a place, or with what stands there taken out.
///
/// # Errors
/// The text or the value cannot be read, the way leads nowhere, or what stands there cannot be taken out.
pub fn put_text(text: &str, way: &[At], value: Option<&str>) -> Result<String, EditError> {
    let root = read(text)?;
    if let Some(value) = value {
        alone(value)?;
    }
    let mut script = Script::new(text);
    let Some((last, before)) = way.split_last() else {
        return Err(cannot("nothing named"));
    };
    let mut node = &root;
    for (depth, step) in before.iter().enumerate() {
        match (child(node, step), value) {
            (Some(found), _) => node = found,
            (None, Some(value)) => {
                // The field that holds it is missing too.
                let name = match step {
                    At::Name(name) => name.as_str(),
                    At::Item(_) => "",
                };
                let inner = wrapped(name, &way[depth + 1..], value)?;
                put(&mut script, node, step, Some(&inner), way)?;
                return made(script);
            }
            (None, None) => return Ok(text.to_owned()),
        }
    }
    put(&mut script, node, last, value, way)?;
    made(script)
}

/// What stands at a place of a text; `None` where nothing does.
pub fn value_text<'t>(text: &'t str, way: &[At]) -> Option<&'t str> {
    let root = read(text).ok()?;
    let mut node = &root;
    for step in way {
        node = child(node, step)?;
    }
    text.get(node.at..node.end)
}

fn made(script: Script<'_>) -> Result<String, EditError> {
    script.made().ok_or_else(|| cannot("so much at one place"))
}

/// The tree of a text without a fault in its syntax.
fn read(text: &str) -> Result<Node, EditError> {
    let mut notes = Notes::new(text);
    match tree(text, &mut notes) {
        Some(root) if notes.count() == 0 => Ok(root),
        _ => Err(EditError::Faults(notes.finish("the route file"))),
    }
}

/// That a text is one whole value and nothing else, so that it cannot reach beyond its place.
fn alone(value: &str) -> Result<(), EditError> {
    let wrapped = format!("(v: {value}\n)");
    let one = read(&wrapped).ok().is_some_and(|node| {
        let fields = node.fields();
        fields.len() == 1 && node.end == wrapped.len() && fields[0].value.end <= wrapped.len() - 2
    });
    // A comment in it could swallow what comes behind.
    if one && strings_only(value) {
        Ok(())
    } else {
        Err(cannot(format!("\"{value}\" is no value, and so")))
    }
}

/// Whether what looks like a comment stands within quotes: then the value reads the same with the quotes' insides gone.
fn strings_only(value: &str) -> bool {
    let mut bare = String::new();
    let (mut quoted, mut escaped) = (false, false);
    for c in value.chars() {
        match (quoted, c) {
            (true, _) if escaped => escaped = false,
            (true, '\\') => escaped = true,
            (_, '"') => quoted = !quoted,
            (true, _) => {}
            (false, c) => bare.push(c),
        }
    }
    !quoted && !bare.contains("//") && !bare.contains("/*")
}

fn child<'n>(node: &'n Node, step: &At) -> Option<&'n Node> {
    match step {
        At::Name(name) => node
            .field(name)
            .or_else(|| node.entry(name).map(|(_, value)| value)),
        At::Item(item) => node.items().get(*item),
    }
}

/// The value in all that is missing about it; `name` is that of the field in which it goes.
fn wrapped(name: &str, way: &[At], value: &str) -> Result<String, EditError> {
    let Some((step, rest)) = way.split_first() else {
        return Ok(value.to_owned());
    };
    let own = match step {
        At::Name(own) => own.as_str(),
        At::Item(_) => "",
    };
    let inner = wrapped(own, rest, value)?;
    match step {
        At::Item(0) => Ok(format!("[{inner}]")),
        At::Item(item) => Err(cannot(format!("item {item} of a list that is empty"))),
        At::Name(own) if MAPS.contains(&name) => Ok(format!("{{ {}: {inner} }}", quoted(own))),
        At::Name(own) => Ok(format!("({}: {inner})", plain(own)?)),
    }
}

/// A field's name, which stands without quotes.
fn plain(name: &str) -> Result<&str, EditError> {
    let begins = name.starts_with(|c: char| c.is_ascii_alphabetic() || c == '_');
    if begins && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_') {
        Ok(name)
    } else {
        Err(cannot(format!("a field named \"{name}\"")))
    }
}

fn put(
    script: &mut Script<'_>,
    node: &Node,
    step: &At,
    value: Option<&str>,
    way: &[At],
) -> Result<(), EditError> {
    let nowhere = || {
        let way: Vec<String> = way.iter().map(ToString::to_string).collect();
        cannot(format!("a value at \"{}\"", way.join(" / ")))
    };
    match (step, &node.value) {
        (At::Name(name), Value::Map(pairs)) => match (node.entry(name), value) {
            (Some((_, old)), Some(value)) => script.replace(old, value.to_owned()),
            (Some((key, old)), None) => script.remove_item((key.at, old.end)),
            (None, Some(value)) => {
                let entry = format!("{}: {value}", quoted(name));
                match pairs.last() {
                    Some((key, old)) => script.insert_after((key.at, old.end), &entry),
                    None => script.replace(node, format!("{{ {entry} }}")),
                }
            }
            (None, None) => {}
        },
        (At::Name(name), Value::Struct(kind, Body::Fields(_) | Body::Empty)) => {
            match (node.field(name), value) {
                (Some(old), Some(value)) => script.replace(old, value.to_owned()),
                (Some(_), None) => script.unset(node, name),
                (None, Some(value)) if node.fields().is_empty() => {
                    let kind = kind.as_deref().unwrap_or("");
                    script.replace(node, format!("{kind}({}: {value})", plain(name)?));
                }
                (None, Some(value)) => match top_level(node, script) {
                    // A field of the file itself gets a line of its own.
                    Some(last) => {
                        script.insert_after(last, &format!("{}: {value}", plain(name)?));
                    }
                    None => script.set(node, plain(name)?, value),
                },
                (None, None) => {}
            }
        }
        (At::Item(item), Value::List(items)) => match (items.get(*item), value) {
            (Some(old), Some(value)) => script.replace(old, value.to_owned()),
            (Some(old), None) => script.remove_item((old.at, old.end)),
            (None, Some(value)) if *item == items.len() => match items.last() {
                Some(last) => script.insert_after((last.at, last.end), value),
                None => script.replace(node, format!("[{value}]")),
            },
            (None, None) => {}
            (None, Some(_)) => return Err(nowhere()),
        },
        (At::Item(item), Value::Struct(_, Body::Items(items))) => match (items.get(*item), value) {
            (Some(old), Some(value)) => script.replace(old, value.to_owned()),
            _ => return Err(nowhere()),
        },
        _ => return Err(nowhere()),
    }
    Ok(())
}

/// Where the last field of a struct stands, if its fields stand one a line.
fn top_level(node: &Node, script: &Script<'_>) -> Option<(usize, usize)> {
    let [.., before, last] = node.fields() else {
        return None;
    };
    script
        .apart(before.at, last.at)
        .then_some((last.at, last.value.end))
}
