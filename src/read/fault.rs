//! What is wrong with a file: every fault, each with its place, what was seen and the cure.

use std::fmt;

/// So many faults of one file are listed; who mends a thousand will run the program again before the next.
const MOST: usize = 1000;

/// One fault of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// The file that it is in, where that is another than the one that was asked for.
    pub file: Option<String>,
    /// Line and column, both from 1; `None` where the file could not be read at all.
    pub place: Option<(usize, usize)>,
    /// What was seen and why it cannot stand.
    pub message: String,
    /// What to do about it.
    pub cure: String,
}

/// Every fault of a file, in the order of their places.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Faults {
    /// Name of the file, as the person gave it.
    pub file: String,
    /// The faults, at least one.
    pub faults: Vec<Fault>,
}

impl Faults {
    /// A fault of the file as a whole.
    pub(super) fn of_file(file: &str, message: impl Into<String>, cure: impl Into<String>) -> Self {
        Self::single(file, None, message.into(), cure.into())
    }

    /// A fault that keeps a file from being read on, at a line and column.
    pub(super) fn at(
        file: &str,
        place: (usize, usize),
        message: impl Into<String>,
        cure: impl Into<String>,
    ) -> Self {
        Self::single(file, Some(place), message.into(), cure.into())
    }

    fn single(file: &str, place: Option<(usize, usize)>, message: String, cure: String) -> Self {
        Self {
            file: file.to_owned(),
            faults: vec![Fault {
                file: None,
                place,
                message,
                cure,
            }],
        }
    }
}

impl fmt::Display for Faults {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, fault) in self.faults.iter().enumerate() {
            if index > 0 {
                writeln!(f)?;
            }
            let file = fault.file.as_ref().unwrap_or(&self.file);
            match fault.place {
                Some((line, column)) => write!(f, "{file}:{line}:{column}: ")?,
                None => write!(f, "{file}: ")?,
            }
            write!(f, "{}", fault.message)?;
            if !fault.cure.is_empty() {
                write!(f, "\n    {}", fault.cure)?;
            }
        }
        Ok(())
    }
}

impl std::error::Error for Faults {}

/// The text of another file that is read along. Its offsets follow those of the texts before it.
#[derive(Debug)]
struct Other {
    start: usize,
    file: String,
    text: String,
}

/// Collects the faults of one text, and of those that it names, while it is read.
#[derive(Debug)]
pub(super) struct Notes<'s> {
    text: &'s str,
    others: Vec<Other>,
    faults: Vec<(usize, String, String)>,
    /// The text could not be read to its end: what is missing from it says nothing.
    pub(super) cut: bool,
}

impl<'s> Notes<'s> {
    pub(super) fn new(text: &'s str) -> Self {
        Self {
            text,
            others: Vec::new(),
            faults: Vec::new(),
            cut: false,
        }
    }

    /// Takes in the text of another file, and gives the offset at which it begins.
    pub(super) fn add_text(&mut self, file: &str, text: String) -> usize {
        let end = match self.others.last() {
            Some(last) => last.start + last.text.len(),
            None => self.text.len(),
        };
        self.others.push(Other {
            start: end + 1,
            file: file.to_owned(),
            text,
        });
        end + 1
    }

    /// The other file in which an offset lies, and line and column there.
    fn found(&self, at: usize) -> (Option<&str>, (usize, usize)) {
        let other = self.others.iter().rev().find(|other| other.start <= at);
        match other {
            Some(other) => (Some(&other.file), place(&other.text, at - other.start)),
            None => (None, place(self.text, at)),
        }
    }

    /// Notes a fault at a byte offset of the text.
    pub(super) fn fault(&mut self, at: usize, message: impl Into<String>, cure: impl Into<String>) {
        self.faults.push((at, message.into(), cure.into()));
    }

    /// How many were noted so far.
    pub(super) fn count(&self) -> usize {
        self.faults.len()
    }

    /// Whether more faults are noted than are listed: what they say no longer matters.
    pub(super) fn full(&self) -> bool {
        self.faults.len() > MOST
    }

    /// "line 12": for messages that point at a second place.
    pub(super) fn line(&self, at: usize) -> String {
        if self.full() {
            return "an earlier line".to_owned();
        }
        match self.found(at) {
            (Some(file), (line, _)) => format!("line {line} of {file}"),
            (None, (line, _)) => format!("line {line}"),
        }
    }

    /// The faults in the order of their places.
    pub(super) fn finish(mut self, file: &str) -> Faults {
        self.faults.sort_by_key(|(at, ..)| *at);
        self.faults.dedup();
        let more = self.faults.len().saturating_sub(MOST);
        self.faults.truncate(MOST);
        let listed = std::mem::take(&mut self.faults);
        let mut faults: Vec<Fault> = listed
            .into_iter()
            .map(|(at, message, cure)| {
                let (file, place) = self.found(at);
                Fault {
                    file: file.map(str::to_owned),
                    place: Some(place),
                    message,
                    cure,
                }
            })
            .collect();
        if more > 0 {
            faults.push(Fault {
                file: None,
                place: None,
                message: format!("{more} more faults are not listed"),
                cure: "mend these first".to_owned(),
            });
        }
        Faults {
            file: file.to_owned(),
            faults,
        }
    }
}

/// Line and column, both from 1, of a byte offset; columns count characters.
pub(super) fn place(text: &str, at: usize) -> (usize, usize) {
    let before = text.get(..at).unwrap_or(text);
    let line = 1 + before.bytes().filter(|&b| b == b'\n').count();
    let start = before.rfind('\n').map_or(0, |newline| newline + 1);
    (line, 1 + before[start..].chars().count())
}
