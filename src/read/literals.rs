//! White space, comments, texts, numbers and names of a route file, as far as the `ron` crate reads them.

use serde::Deserialize;

use super::syntax::{Reader, Stop};
use super::tree::{Node, Value};

impl<'t> Reader<'_, '_, 't> {
    /// Skips white space and comments, and at the start of the text its header.
    pub(super) fn space(&mut self, start: bool) -> Result<(), Stop> {
        if !start && self.rest().starts_with("#!") {
            return self.stop(
                self.at,
                "`#!` stands in the middle of the file",
                "such a line belongs at the very start",
            );
        }
        // ron's own skipping costs a little; most values follow without any.
        let next = self.rest().bytes().next();
        if !start && next.is_some_and(|b| b.is_ascii_alphanumeric() || b"()[]{},:\"".contains(&b)) {
            return Ok(());
        }
        match ron::Deserializer::from_str(self.rest()) {
            Ok(deserializer) => {
                self.at = self.text.len() - deserializer.remainder().len();
                if !start && self.rest().starts_with("#!") {
                    return self.space(false);
                }
                Ok(())
            }
            Err(_) if start && self.rest().trim_start().starts_with("#!") => self.stop(
                self.at,
                "the line that begins with `#!` cannot be read",
                "delete it: a route file needs no such line",
            ),
            Err(_) => {
                let at = self.at + self.rest().find("/*").unwrap_or(0);
                self.stop(
                    at,
                    "a comment that begins with /* is not closed",
                    "close it with */",
                )
            }
        }
    }

    /// A text or a character, read by ron.
    pub(super) fn quoted(&mut self) -> Result<Node, Stop> {
        let at = self.at;
        let character = self.peek() == Some('\'');
        let read = ron::Deserializer::from_str(self.rest()).and_then(|mut inner| {
            let value = if character {
                char::deserialize(&mut inner).map(Value::Char)
            } else {
                String::deserialize(&mut inner).map(Value::Text)
            };
            value
                .map(|value| (value, inner.remainder().len()))
                .map_err(|code| inner.span_error(code))
        });
        match read {
            Ok((value, left)) => self.on_one_line(value, self.text.len() - left),
            Err(error) => {
                use ron::error::Error as Code;
                let (message, cure) = match error.code {
                    Code::ExpectedStringEnd | Code::Eof | Code::ExpectedString => (
                        "the text that begins here is not closed".to_owned(),
                        "put a quote \" at its end",
                    ),
                    code if character => (
                        format!("this character cannot be read: {code}"),
                        "a text stands in double quotes: \"text\"",
                    ),
                    code => (
                        format!("this text cannot be read: {code}"),
                        "a backslash begins an escape; write \\\\ for a backslash and \\\" for a quote",
                    ),
                };
                self.stop(at, message, cure)
            }
        }
    }

    /// A text that has been read up to `end`. Names and titles stand in reports and drawings, so a text stands on
    /// one line; one that does not has most likely lost its closing quote.
    fn on_one_line(&mut self, value: Value, end: usize) -> Result<Node, Stop> {
        let at = self.at;
        let broken = match &value {
            Value::Text(text) => text.chars().any(char::is_control),
            Value::Char(character) => character.is_control(),
            _ => false,
        };
        if !broken {
            self.at = end;
            return Ok(Node { at, end, value });
        }
        let Some(line) = self.text[at..end].find('\n') else {
            self.notes.fault(
                at,
                "this text holds a line break or another sign that cannot be printed",
                "delete it: a text stands on one line",
            );
            self.at = end;
            return Ok(Node {
                at,
                end: self.at,
                value: Value::Broken,
            });
        };
        let (message, cure) = (
            "this text runs over the end of its line",
            "put the missing quote \" at its end; a text stands on one line",
        );
        // Where the line ends in a comma, that is where the quote belongs, and reading can go on.
        let text = self.text[at..at + line].trim_end();
        if text.ends_with(',') {
            self.notes.fault(at, message, cure);
            self.at = at + text.len() - 1;
            return Ok(Node {
                at,
                end: self.at,
                value: Value::Broken,
            });
        }
        self.stop(at, message, cure)
    }

    /// A number. One that cannot be read is noted and passed over.
    pub(super) fn number(&mut self) -> Node {
        let at = self.at;
        let rest = self.rest();
        let end = rest.find(|c| !part_of_number(c)).unwrap_or(rest.len());
        let text = &rest[..end];
        self.at += end;
        let plain = text.replace('_', "").replace('−', "-");
        // ron keeps a number that fits in 32 bits as such; the plain ones are read at full precision first.
        let number =
            plain
                .parse::<f64>()
                .ok()
                .or_else(|| match ron::from_str::<ron::Value>(text) {
                    Ok(ron::Value::Number(number)) => Some(number.into_f64()),
                    _ => None,
                });
        let value = match number {
            Some(number) => Value::Number(number),
            None => {
                let cure = match text.find(|c: char| c.is_alphabetic() || matches!(c, '%' | '/')) {
                    Some(unit) if unit > 0 => {
                        let (number, unit) = text.split_at(unit);
                        format!("a value with a unit stands in quotes: \"{number} {unit}\"")
                    }
                    _ => "write a number such as 12 or -3.5".to_owned(),
                };
                self.notes
                    .fault(at, format!("`{text}` is not a number"), cure);
                Value::Broken
            }
        };
        Node {
            at,
            end: self.at,
            value,
        }
    }

    pub(super) fn name(&mut self) -> &'t str {
        let rest = self.rest();
        let end = rest.find(|c| !part_of_name(c)).unwrap_or(rest.len());
        self.at += end;
        &rest[..end]
    }
}

pub(super) fn part_of_name(c: char) -> bool {
    c == '_' || c.is_alphanumeric()
}

pub(super) fn part_of_number(c: char) -> bool {
    c.is_alphanumeric() || matches!(c, '+' | '-' | '.' | '_' | '%' | '−')
}
