//! Edits of a text: what is replaced, put in and taken out, with commas and line ends as a person would leave them.

use crate::read::tree::{Field, Node};

/// Edits of one text, in the order in which they were thought of.
#[derive(Debug)]
pub(super) struct Script<'t> {
    text: &'t str,
    /// Beginning and end of what goes \[byte\], and what comes.
    edits: Vec<(usize, usize, String)>,
}

impl<'t> Script<'t> {
    pub(super) fn new(text: &'t str) -> Self {
        Self {
            text,
            edits: Vec::new(),
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.edits.is_empty()
    }

    /// The text with the edits made. `None` where two of them meddle with the same place.
    pub(super) fn made(mut self) -> Option<String> {
        self.edits.sort_by_key(|edit| (edit.0, edit.1));
        let (mut text, mut at) = (String::with_capacity(self.text.len() + 256), 0);
        for (from, to, new) in &self.edits {
            if *from < at {
                return None;
            }
            text.push_str(self.text.get(at..*from)?);
            text.push_str(new);
            at = *to;
        }
        text.push_str(self.text.get(at..)?);
        Some(text)
    }

    pub(super) fn replace(&mut self, node: &Node, new: String) {
        self.edits.push((node.at, node.end, new));
    }

    /// Replaces a whole field, name and value.
    fn replace_field(&mut self, field: &Field, new: String) {
        self.edits.push((field.at, field.value.end, new));
    }

    pub(super) fn insert(&mut self, at: usize, new: String) {
        self.edits.push((at, at, new));
    }

    /// Sets a field of a struct with named fields.
    pub(super) fn set(&mut self, node: &Node, name: &str, value: &str) {
        self.set_instead(node, &[name], &format!("{name}: {value}"));
    }

    /// Puts a field in place of those named, of which any that is left over goes.
    pub(super) fn set_instead(&mut self, node: &Node, names: &[&str], new: &str) {
        let fields = node.fields();
        let mut old = fields
            .iter()
            .enumerate()
            .filter(|(_, field)| names.contains(&field.name.as_str()));
        match (old.next(), fields.last()) {
            (Some((_, field)), _) => self.replace_field(field, new.to_owned()),
            (None, Some(last)) => self.insert(last.value.end, format!(", {new}")),
            (None, None) => {
                // `Name()` or `()`.
                let at = node.end.saturating_sub(1);
                self.insert(at, new.to_owned());
            }
        }
        let rest: Vec<usize> = old.map(|(index, _)| index).collect();
        for index in rest {
            self.remove_at(fields, index);
        }
    }

    /// Takes a field out, where it is there.
    pub(super) fn unset(&mut self, node: &Node, name: &str) {
        let fields = node.fields();
        if let Some(index) = fields.iter().position(|field| field.name == name) {
            self.remove_at(fields, index);
        }
    }

    fn remove_at(&mut self, fields: &[Field], index: usize) {
        let field = &fields[index];
        let (from, to) = match (index.checked_sub(1), fields.get(index + 1)) {
            (Some(before), _) => (fields[before].value.end, field.value.end),
            (None, Some(next)) => (field.at, next.at),
            (None, None) => (field.at, field.value.end),
        };
        self.edits.push((from, to, String::new()));
    }

    /// The white space with which the line of a place begins.
    pub(super) fn indent(&self, at: usize) -> &'t str {
        let before = self.text.get(..at).unwrap_or_default();
        let start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let line = self.text.get(start..at).unwrap_or_default();
        let blank = line.len() - line.trim_start().len();
        &line[..blank]
    }

    /// Whether two places stand on different lines, each at the beginning of its own.
    pub(super) fn apart(&self, a: usize, b: usize) -> bool {
        let begins = |at: usize| {
            let before = self.text.get(..at).unwrap_or_default();
            let line = before.rsplit('\n').next().unwrap_or_default();
            line.trim().is_empty()
        };
        begins(a) && begins(b)
    }

    /// Puts an item behind another one of a list or a map; `end` is where that ends, `at` where it begins.
    pub(super) fn insert_after(&mut self, (at, end): (usize, usize), new: &str) {
        let indent = self.indent(at);
        let rest = self.text.get(end..).unwrap_or_default();
        let blank = rest.len() - rest.trim_start_matches([' ', '\t']).len();
        let Some(after) = rest[blank..].strip_prefix(',') else {
            self.insert(end, format!(",\n{indent}{new}"));
            return;
        };
        let comma = end + blank + 1;
        let line = after.lines().next().unwrap_or_default();
        // A comment at the end of the line stays with what it is about.
        if line.trim().is_empty() || line.trim_start().starts_with("//") {
            let line = line.trim_end_matches('\r');
            self.insert(comma + line.len(), format!("\n{indent}{new},"));
        } else {
            self.insert(comma, format!(" {new},"));
        }
    }

    /// Puts an item before another one.
    pub(super) fn insert_before(&mut self, at: usize, new: &str) {
        let indent = self.indent(at);
        self.insert(at, format!("{new},\n{indent}"));
    }

    /// Takes an item out of a list or a map, with its comma, and with its line where nothing else stands on it.
    pub(super) fn remove_item(&mut self, (at, end): (usize, usize)) {
        let rest = self.text.get(end..).unwrap_or_default();
        let blank = rest.len() - rest.trim_start().len();
        let mut to = end;
        if rest[blank..].starts_with(',') {
            to = end + blank + 1;
        }
        let indent = self.indent(at);
        let alone = self.text.get(..at).is_some_and(|before| {
            let line = before.strip_suffix(indent).unwrap_or(before);
            line.is_empty() || line.ends_with('\n')
        });
        let after = self.text.get(to..).unwrap_or_default();
        let line = after.lines().next().unwrap_or_default();
        if alone && line.trim().is_empty() && after.len() > line.len() {
            self.edits
                .push((at - indent.len(), to + line.len() + 1, String::new()));
        } else {
            self.edits.push((at, to, String::new()));
        }
    }
}
