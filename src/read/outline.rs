//! What a text says at a glance, without being read as a route: it may be full of faults.

use super::fault::Notes;
use super::syntax::tree;
use super::tree::{Body, Node, Value};

/// The title, where one stands there.
pub fn title_of(text: &str) -> Option<String> {
    let mut notes = Notes::new(text);
    let root = tree(text, &mut notes)?;
    root.field("title")?.text().map(str::to_owned)
}

/// The files beside it that a route file names: scans, and tables of points.
pub fn files_named(text: &str) -> Vec<String> {
    let mut notes = Notes::new(text);
    let mut found = Vec::new();
    if let Some(root) = tree(text, &mut notes) {
        if let Some(node) = root.field("points_from") {
            texts(node, &mut found);
        }
        scans(&root, &mut found);
    }
    found
}

/// Every text below a node.
fn texts(node: &Node, found: &mut Vec<String>) {
    if let Some(text) = node.text() {
        found.push(text.to_owned());
    }
    for below in below(node) {
        texts(below, found);
    }
}

/// The field `file` of every `Scan`, wherever it stands.
fn scans(node: &Node, found: &mut Vec<String>) {
    if node.kind() == "Scan" {
        found.extend(node.field("file").and_then(Node::text).map(str::to_owned));
    }
    for below in below(node) {
        scans(below, found);
    }
}

/// What stands in a node.
fn below(node: &Node) -> Vec<&Node> {
    match &node.value {
        Value::List(items) | Value::Struct(_, Body::Items(items)) => items.iter().collect(),
        Value::Struct(_, Body::Fields(fields)) => fields.iter().map(|field| &field.value).collect(),
        Value::Map(pairs) => pairs.iter().flat_map(|(key, value)| [key, value]).collect(),
        _ => Vec::new(),
    }
}
