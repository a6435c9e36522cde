//! RON text to a tree in which every value knows its place in the text.
//!
//! White space, comments, strings and numbers are read by the `ron` crate; the brackets between them are read
//! here, since only so does every value keep its place and reading goes on after a slip. What is read is the
//! whole of RON but byte strings and raw identifiers, which no field of ours holds.

use super::fault::Notes;
use super::literals::{part_of_name, part_of_number};
use super::tree::{Body, Field, Node, Value};

/// Deepest nesting of brackets. A route needs about six.
const DEEPEST: usize = 48;

/// Reads a whole text. Faults go to `notes`; where reading had to stop before the end, `notes.cut` is set and the
/// tree holds what came before. `None` where there is no value at all.
pub(super) fn tree(text: &str, notes: &mut Notes<'_>) -> Option<Node> {
    let mut reader = Reader {
        text,
        at: if text.starts_with('\u{feff}') { 3 } else { 0 },
        notes,
    };
    // The first look also takes a header such as `#![enable(implicit_some)]`, which changes nothing for us.
    let read = reader.space(true).and_then(|()| {
        if reader.rest().is_empty() {
            reader.notes.fault(
                0,
                "this file is empty",
                "`neckloom start FILE` writes a route file to begin from",
            );
            return Err(Stop);
        }
        reader.value(0)
    });
    match read {
        Err(Stop) => {
            reader.notes.cut = true;
            None
        }
        Ok(node) if matches!(node.value, Value::Struct(Some(_), Body::Empty)) => {
            reader.notes.fault(
                node.at,
                format!("{} stands where the route should begin", node.value.phrase()),
                "a route file is one pair of ( ) with fields in it; `neckloom start FILE` writes one to begin from",
            );
            None
        }
        Ok(node) => {
            if !reader.notes.cut && reader.space(false).is_ok() && !reader.rest().is_empty() {
                let at = reader.at;
                reader.notes.fault(
                    at,
                    format!("{} stands after the end of the route", reader.seen()),
                    "the whole route stands in one pair of ( ); check for a bracket closed too early",
                );
            }
            Some(node)
        }
    }
}

/// Reading cannot go on; the fault is noted.
pub(super) struct Stop;

pub(super) struct Reader<'r, 's, 't> {
    pub(super) text: &'t str,
    pub(super) at: usize,
    pub(super) notes: &'r mut Notes<'s>,
}

impl<'t> Reader<'_, '_, 't> {
    pub(super) fn rest(&self) -> &'t str {
        &self.text[self.at..]
    }

    pub(super) fn peek(&self) -> Option<char> {
        self.rest().chars().next()
    }

    /// What stands here, for messages.
    pub(super) fn seen(&self) -> String {
        match self.peek() {
            None => "the end of the file".to_owned(),
            Some(_) => {
                let word: String = self
                    .rest()
                    .chars()
                    .take_while(|&c| part_of_number(c) || part_of_name(c))
                    .take(24)
                    .collect();
                match (word.is_empty(), self.peek()) {
                    (true, Some(c)) => format!("`{}`", c.escape_debug()),
                    _ => format!("`{word}`"),
                }
            }
        }
    }

    pub(super) fn stop<T>(
        &mut self,
        at: usize,
        message: impl Into<String>,
        cure: &str,
    ) -> Result<T, Stop> {
        self.notes.fault(at, message, cure);
        self.notes.cut = true;
        Err(Stop)
    }

    /// The value that begins here.
    fn value(&mut self, depth: usize) -> Result<Node, Stop> {
        let mut node = self.begun(depth)?;
        // What stands in `Some( )` has its own end, and a bare name too.
        if node.end <= node.at {
            node.end = self.at;
        }
        Ok(node)
    }

    /// The same, its end not yet told.
    fn begun(&mut self, depth: usize) -> Result<Node, Stop> {
        let at = self.at;
        let node = |value| Node { at, end: 0, value };
        let Some(next) = self.peek() else {
            return self.stop(
                at,
                "the file ends where a value should stand",
                "check that the file is whole and every bracket is closed",
            );
        };
        if matches!(next, '(' | '[' | '{') && depth >= DEEPEST {
            return self.stop(
                at,
                format!("brackets stand more than {DEEPEST} deep"),
                "check for a bracket that is opened again and again",
            );
        }
        match next {
            '(' => {
                let body = self.body(depth)?;
                // Values in ( ) have a fixed number: those of a cut one would be counted wrongly.
                let cut = self.notes.cut && !matches!(body, Body::Fields(_));
                Ok(node(if cut {
                    Value::Broken
                } else {
                    Value::Struct(None, body)
                }))
            }
            '[' => {
                let items = self.items('[', ']', depth)?;
                Ok(node(Value::List(items)))
            }
            '{' => {
                let entries = self.entries(depth)?;
                Ok(node(Value::Map(entries)))
            }
            '"' | '\'' => self.quoted(),
            'r' if self.rest().starts_with("r\"") || self.rest().starts_with("r#") => self.quoted(),
            c if c.is_ascii_digit() || matches!(c, '+' | '-' | '.' | '−') => Ok(self.number()),
            c if part_of_name(c) => self.named(depth),
            '“' | '”' | '„' | '«' | '»' => self.stop(
                at,
                format!("`{next}` is not a plain quote"),
                "write \" before and after a text; a plain text editor leaves it as it is",
            ),
            _ => {
                let seen = self.seen();
                self.stop(
                    at,
                    format!("{seen} stands where a value should stand"),
                    "a value is a number, a \"text\", ( ), [ ] or { }; check the comma or bracket before it",
                )
            }
        }
    }

    /// `true`, `None`, `Name`, `Name(..)`.
    fn named(&mut self, depth: usize) -> Result<Node, Stop> {
        let at = self.at;
        let name = self.name();
        match name {
            "true" | "false" => {
                return Ok(Node {
                    at,
                    end: self.at,
                    value: Value::Bool(name == "true"),
                });
            }
            "inf" | "NaN" => {
                let number = if name == "inf" {
                    f64::INFINITY
                } else {
                    f64::NAN
                };
                return Ok(Node {
                    at,
                    end: self.at,
                    value: Value::Number(number),
                });
            }
            "None" => {
                return Ok(Node {
                    at,
                    end: self.at,
                    value: Value::Nothing,
                });
            }
            _ => {}
        }
        let mut bare_end = Some(self.at);
        self.space(false)?;
        let body = if self.peek() == Some('(') {
            bare_end = None;
            if depth >= DEEPEST {
                return self.value(depth);
            }
            self.body(depth)?
        } else {
            Body::Empty
        };
        // `Some(x)` is x: every field of ours that may be left out may also be written so.
        match body {
            Body::Items(mut items) if name == "Some" && items.len() == 1 => {
                Ok(items.swap_remove(0))
            }
            body => Ok(Node {
                at,
                end: bare_end.unwrap_or(0),
                value: Value::Struct(Some(name.to_owned()), body),
            }),
        }
    }

    /// Whether `name :` comes next.
    fn field_follows(&self) -> bool {
        let rest = self.rest();
        let end = rest.find(|c| !part_of_name(c)).unwrap_or(rest.len());
        let starts = rest.starts_with(|c: char| part_of_name(c) && !c.is_ascii_digit());
        starts
            && ron::Deserializer::from_str(&rest[end..])
                .is_ok_and(|after| after.remainder().starts_with(':'))
    }

    /// What stands in parentheses.
    fn body(&mut self, depth: usize) -> Result<Body, Stop> {
        let open = self.at;
        self.at += 1;
        self.space(false)?;
        if !self.field_follows() {
            self.at = open;
            let items = self.items('(', ')', depth)?;
            return Ok(if items.is_empty() {
                Body::Empty
            } else {
                Body::Items(items)
            });
        }
        let mut fields = Vec::new();
        loop {
            match self.field(depth) {
                Ok(field) => fields.push(field),
                Err(Stop) => return Ok(Body::Fields(fields)),
            }
            if self.notes.cut {
                return Ok(Body::Fields(fields));
            }
            match self.next_or_close(open, '(', ')') {
                Ok(true) => {}
                Ok(false) | Err(Stop) => return Ok(Body::Fields(fields)),
            }
        }
    }

    fn field(&mut self, depth: usize) -> Result<Field, Stop> {
        let at = self.at;
        if !self.field_follows() {
            let rest = self.rest();
            let name = rest.split(|c| !part_of_name(c)).next().unwrap_or_default();
            if rest[name.len()..]
                .trim_start()
                .starts_with(['(', '"', '[', '{'])
                && !name.is_empty()
            {
                return self.stop(
                    at,
                    format!("a colon is missing after `{name}`"),
                    &format!("write `{name}: `"),
                );
            }
            let seen = self.seen();
            return self.stop(
                at,
                format!("{seen} stands where a field should stand"),
                "fields are written `name: value`, with a comma between them",
            );
        }
        let name = self.name().to_owned();
        self.space(false)?;
        self.at += 1; // the colon
        self.space(false)?;
        let value = self.value(depth + 1)?;
        Ok(Field { name, at, value })
    }

    /// The values in a pair of brackets.
    fn items(&mut self, open: char, close: char, depth: usize) -> Result<Vec<Node>, Stop> {
        let start = self.at;
        self.at += 1;
        self.space(false)?;
        let mut items = Vec::new();
        match self.peek() {
            Some(next) if next == close => {
                self.at += 1;
                return Ok(items);
            }
            Some(_) => {}
            None => return self.never_closed(start, open),
        }
        loop {
            match self.value(depth + 1) {
                Ok(item) => items.push(item),
                Err(Stop) => return Ok(items),
            }
            if self.notes.cut {
                return Ok(items);
            }
            match self.next_or_close(start, open, close) {
                Ok(true) => {}
                Ok(false) | Err(Stop) => return Ok(items),
            }
        }
    }

    /// The entries in a pair of braces.
    fn entries(&mut self, depth: usize) -> Result<Vec<(Node, Node)>, Stop> {
        let start = self.at;
        self.at += 1;
        self.space(false)?;
        let mut entries = Vec::new();
        match self.peek() {
            Some('}') => {
                self.at += 1;
                return Ok(entries);
            }
            Some(_) => {}
            None => return self.never_closed(start, '{'),
        }
        loop {
            match self.entry(depth) {
                Ok(entry) => entries.push(entry),
                Err(Stop) => return Ok(entries),
            }
            if self.notes.cut {
                return Ok(entries);
            }
            match self.next_or_close(start, '{', '}') {
                Ok(true) => {}
                Ok(false) | Err(Stop) => return Ok(entries),
            }
        }
    }

    fn entry(&mut self, depth: usize) -> Result<(Node, Node), Stop> {
        let key = self.value(depth + 1)?;
        self.space(false)?;
        if self.peek() != Some(':') {
            let seen = self.seen();
            return self.stop(
                self.at,
                format!("{seen} stands where a `:` should stand"),
                "entries in { } are written `\"name\": value`, with a comma between them",
            );
        }
        self.at += 1;
        self.space(false)?;
        let value = self.value(depth + 1)?;
        Ok((key, value))
    }

    fn never_closed<T>(&mut self, start: usize, open: char) -> Result<T, Stop> {
        self.stop(
            start,
            format!("the `{open}` here is never closed"),
            "put the missing bracket where it belongs; check that the file is whole",
        )
    }

    /// After an item: goes past the comma to the next one (true) or past the closing bracket (false). A comma
    /// that is plainly missing is noted, and reading goes on.
    fn next_or_close(&mut self, start: usize, open: char, close: char) -> Result<bool, Stop> {
        let after = self.at;
        self.space(false)?;
        let Some(next) = self.peek() else {
            return self.never_closed(start, open);
        };
        if next == ',' {
            self.at += 1;
            self.space(false)?;
            return match self.peek() {
                Some(next) if next == close => {
                    self.at += 1;
                    Ok(false)
                }
                Some(_) => Ok(true),
                None => self.never_closed(start, open),
            };
        }
        if next == close {
            self.at += 1;
            return Ok(false);
        }
        let after_number = self.text[..after].ends_with(|c: char| c.is_ascii_digit());
        if after_number
            && (next.is_alphabetic() || matches!(next, '%' | '°'))
            && !self.field_follows()
        {
            let seen = self.seen();
            return self.stop(
                self.at,
                format!("{seen} stands after a bare number"),
                "a value with a unit stands in quotes: \"1.5 in\"",
            );
        }
        let between_numbers = after_number && (next.is_ascii_digit() || next == '-');
        let begins_another = match open {
            '(' => self.field_follows() || matches!(next, '(' | '[') || between_numbers,
            '{' => next == '"',
            _ => matches!(next, '(' | '"' | '[') || next.is_alphabetic(),
        };
        if begins_another {
            self.notes.fault(
                after,
                "a comma is missing here",
                format!("put a comma before {}", self.seen()),
            );
            return Ok(true);
        }
        if matches!(next, ')' | ']' | '}') {
            let line = self.notes.line(start);
            return self.stop(
                self.at,
                format!("`{next}` closes the `{open}` of {line}"),
                "check the brackets between: one is missing or of the wrong kind",
            );
        }
        if next == ':' && open == '(' {
            return self.stop(
                self.at,
                "`:` stands after a value",
                "entries with a name in quotes stand in { }, not in ( )",
            );
        }
        let seen = self.seen();
        self.stop(
            self.at,
            format!("{seen} stands where a comma or `{close}` should stand"),
            "check the comma, quote or bracket before it",
        )
    }
}
