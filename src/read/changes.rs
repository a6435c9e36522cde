//! Named what-ifs.

use crate::quantity::Accepts;
use crate::route::Change;

use super::fields::{Fields, entries, items, suggest};
use super::tree::{Node, Value};
use super::value::Reading;

/// What a change may move: each kind of thing with its names.
pub(super) struct Movable<'a> {
    pub(super) parts: &'a [&'a str],
    pub(super) points: Vec<&'a str>,
    pub(super) fixings: &'a [&'a str],
    pub(super) bodies: Vec<&'a str>,
}

impl Movable<'_> {
    /// The kinds of thing that have this name.
    fn kinds(&self, name: &str) -> Vec<&'static str> {
        let found = [
            (self.parts, "a part"),
            (&self.points, "a point"),
            (self.fixings, "a fixing"),
            (&self.bodies, "a body"),
        ];
        found
            .into_iter()
            .filter(|(names, _)| names.contains(&name))
            .map(|(_, kind)| kind)
            .collect()
    }

    fn names(&self) -> impl Iterator<Item = &str> + Clone {
        self.parts
            .iter()
            .chain(&self.points)
            .chain(self.fixings)
            .chain(&self.bodies)
            .copied()
    }
}

/// Reads the field `changes`.
pub(super) fn read(reading: &mut Reading<'_>, node: &Node, movable: &Movable<'_>) -> Vec<Change> {
    let mut changes = Vec::new();
    let example = "[Move(what: \"name\", by: (x, y, z))]";
    for (name, _, node) in entries(&mut reading.notes, node, example) {
        let list = items(
            &mut reading.notes,
            node,
            "Move(what: \"name\", by: (x, y, z))",
        );
        if list.is_empty() && matches!(node.value, Value::List(_)) {
            reading.notes.fault(
                node.at,
                format!("the change \"{name}\" moves nothing"),
                format!("write {example}"),
            );
        }
        let moves = list
            .iter()
            .filter_map(|item| {
                if let Value::Struct(Some(kind), _) = &item.value
                    && kind != "Move"
                {
                    reading.notes.fault(
                        item.at,
                        format!("there is no change `{kind}`"),
                        suggest(kind, std::iter::once("Move"), "changes are"),
                    );
                    return None;
                }
                let fields = Fields::of(&mut reading.notes, item, "a Move", &["what", "by"])?;
                let what = fields
                    .need(
                        &mut reading.notes,
                        "what",
                        "write what: the name of a part, a point, a fixing or a body",
                    )
                    .and_then(|node| moved(reading, node, movable));
                let by = fields
                    .need(&mut reading.notes, "by", "write by: (x, y, z)")
                    .and_then(|node| reading.lengths(node, "by", Accepts::Any));
                let by = by?;
                if by.norm() <= 0.0 {
                    reading.notes.fault(
                        item.at,
                        "this Move moves by (0, 0, 0)",
                        "write how far: forward, to the rider's left, up",
                    );
                }
                Some((what?.to_owned(), by))
            })
            .collect();
        changes.push(Change {
            name: name.to_owned(),
            moves,
        });
    }
    changes
}

fn moved<'n>(reading: &mut Reading<'_>, node: &'n Node, movable: &Movable<'_>) -> Option<&'n str> {
    let name = reading.text(node, "what")?;
    match movable.kinds(name).as_slice() {
        [] => {
            let what = "part, point, fixing or body";
            super::fields::unknown(&mut reading.notes, node.at, what, name, movable.names());
            None
        }
        [_] => Some(name),
        many => {
            reading.notes.fault(
                node.at,
                format!("\"{name}\" is the name of {}", many.join(" and of ")),
                "give one of them another name, so that it is clear what moves",
            );
            None
        }
    }
}
