//! Positions: at the definition of a named point where all that stand on it move together, else where they are used.

use std::collections::BTreeMap;

use nalgebra::Point3;

use crate::read::tree::{Body, Node, Value};

use super::lay::SAME_LENGTH;
use super::show::quoted;
use super::{EditError, Editor};

/// A place where the text says where something is.
#[derive(Debug, Clone, Copy)]
pub(super) struct Use<'a> {
    /// The value of its `at`.
    node: Option<&'a Node>,
    /// Index among the places of the current route, and of the one that it should be.
    places: (usize, usize),
}

impl<'a> Use<'a> {
    pub(super) fn new(node: Option<&'a Node>, was: usize, is: usize) -> Self {
        Self {
            node,
            places: (was, is),
        }
    }
}

impl<'a> Editor<'a> {
    /// Writes where things are.
    pub(super) fn put(&mut self, uses: Vec<Use<'a>>) -> Result<(), EditError> {
        let mut groups: BTreeMap<usize, Vec<Use<'a>>> = BTreeMap::new();
        for one in uses {
            groups.entry(one.places.1).or_default().push(one);
        }
        let mut taken = Vec::new();
        for (place, group) in groups {
            let at = self.target.places[place].at;
            let stays =
                |one: &Use<'_>| (self.current.places[one.places.0].at - at).norm() <= SAME_LENGTH;
            if group.iter().all(stays) {
                continue;
            }
            let nodes: Vec<&Node> = group.iter().filter_map(|one| one.node).collect();
            self.put_together(&nodes, &at, &mut taken);
        }
        Ok(())
    }

    /// Writes that all of these are at one position.
    fn put_together(&mut self, nodes: &[&'a Node], at: &Point3<f64>, taken: &mut Vec<String>) {
        let position = self.show.point(at);
        let Some(first) = nodes.first() else {
            return;
        };
        let name = first.text();
        let together = name.is_some() && nodes.iter().all(|node| node.text() == name);
        let points = self.root.field("points");
        let defined = name.and_then(|name| points.and_then(|points| points.entry(name)));
        if let (true, Some(name), Some((_, value))) = (together, name, defined)
            && self.mentions(name) == nodes.len()
        {
            let new = self.with_comment(value, position);
            self.script.replace(value, new);
            return;
        }
        if let [only] = nodes {
            let new = self.with_comment(only, position);
            self.script.replace(only, new);
            return;
        }
        // Several stand on one point that cannot be moved where it is defined: they get a point of their own.
        let base = name.unwrap_or("shared point");
        let free = |name: &String| {
            !taken.contains(name) && points.is_none_or(|points| points.entry(name).is_none())
        };
        let numbered = (2..).map(|n| format!("{base}, moved {n}"));
        let mut names = std::iter::once(format!("{base}, moved")).chain(numbered);
        let Some(new) = names.find(free) else {
            return;
        };
        for node in nodes {
            self.script.replace(node, quoted(&new));
        }
        let entry = format!("{}: {position}", quoted(&new));
        match points.map(|points| &points.value) {
            Some(Value::Map(pairs)) if !pairs.is_empty() => {
                if let Some((key, value)) = pairs.last() {
                    self.script.insert_after((key.at, value.end), &entry);
                }
            }
            _ => {
                let all = format!("points: {{ {entry} }}");
                match (points, self.root.fields().first()) {
                    (Some(points), _) => self.script.replace(points, format!("{{ {entry} }}")),
                    (None, Some(first)) => {
                        self.script.insert_after((first.at, first.value.end), &all);
                    }
                    (None, None) => {}
                }
            }
        }
        taken.push(new);
    }

    /// Coordinates in place of something else, with a comment that says what stood there.
    pub(super) fn with_comment(&self, old: &Node, position: String) -> String {
        match &old.value {
            Value::Text(name) if !name.contains("*/") => {
                format!("{position} /* \"{name}\" until moved */")
            }
            Value::Struct(Some(kind), _) if kind == "Tape" => {
                format!("{position} /* taped until moved */")
            }
            _ => position,
        }
    }

    /// How often a name stands in the text where a point can stand.
    fn mentions(&self, name: &str) -> usize {
        let fields = self.root.fields().iter();
        let places = ["points", "bodies", "parts", "branches", "changes"];
        fields
            .filter(|field| places.contains(&field.name.as_str()))
            .map(|field| mentions(&field.value, name))
            .sum()
    }
}

fn mentions(node: &Node, name: &str) -> usize {
    match &node.value {
        Value::Text(text) => usize::from(text == name),
        Value::List(items) | Value::Struct(_, Body::Items(items)) => {
            items.iter().map(|item| mentions(item, name)).sum()
        }
        Value::Map(pairs) => pairs.iter().map(|(_, value)| mentions(value, name)).sum(),
        Value::Struct(_, Body::Fields(fields)) => fields
            .iter()
            // What these name is no point.
            .filter(|field| {
                !matches!(
                    field.name.as_str(),
                    "name" | "on" | "what" | "wires" | "branches"
                )
            })
            .map(|field| mentions(&field.value, name))
            .sum(),
        _ => 0,
    }
}
