//! What a search found is kept beside the route file, so that one of its ways can be written without searching once more,
//! also where it was stopped.
//!
//! It counts for the same text, the same files that the text names, and the same options alone.

use std::hash::{DefaultHasher, Hash, Hasher};
use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::read::files_named;

use super::arguments::Shared;
use super::failure::Failure;
use super::terminal::Paper;
use super::{files, print_json};

/// Where a search's answer is kept, and what it answers.
#[derive(Debug)]
pub(super) struct Kept {
    path: PathBuf,
    question: Value,
}

impl Kept {
    /// Beside a route file: the answer to what was `asked` of this text.
    pub(super) fn beside(route: &Path, text: &str, asked: Value) -> Self {
        let mut name = std::ffi::OsString::from(".");
        name.push(route.file_name().unwrap_or_default());
        name.push(".ways");
        let folder = route.parent().unwrap_or(Path::new(""));
        let others: Vec<Value> = files_named(text)
            .into_iter()
            .map(|named| {
                let mut sum = DefaultHasher::new();
                std::fs::read(folder.join(&named)).ok().hash(&mut sum);
                json!([named, format!("{:016x}", sum.finish())])
            })
            .collect();
        Self {
            path: route.with_file_name(name),
            question: json!({
                "program": env!("CARGO_PKG_VERSION"),
                "asked": asked,
                "text": text,
                "files": others,
            }),
        }
    }

    /// Keeps an answer that proposes something. Where it cannot be kept, it is searched for again when it is wanted.
    pub(super) fn put(&self, answer: &Value) {
        let proposes = answer["proposals"]
            .as_array()
            .is_some_and(|ways| !ways.is_empty());
        if proposes {
            let all = json!({ "question": self.question, "answer": answer });
            let _kept = files::replace(&self.path, all.to_string().as_bytes());
        }
    }

    /// The answer, where it was kept.
    pub(super) fn get(&self) -> Option<Value> {
        let bytes = std::fs::read(&self.path).ok()?;
        let mut all: Value = serde_json::from_slice(&bytes).ok()?;
        (all["question"] == self.question).then(|| all["answer"].take())
    }
}

/// Writes one of the ways that an answer proposes.
pub(super) fn save(answer: &Value, number: usize, output: &Path) -> Result<(), Failure> {
    let ways = answer["proposals"]
        .as_array()
        .map_or(&[][..], Vec::as_slice);
    let way = number.checked_sub(1).and_then(|nth| ways.get(nth));
    let text = way.and_then(|way| way["route"].as_str());
    let text = text.ok_or(Failure::NoProposal {
        number,
        count: ways.len(),
    })?;
    files::replace(output, text.as_bytes())
}

/// The same for an answer that was kept; tells so.
pub(super) fn write(
    answer: &Value,
    number: usize,
    output: &Path,
    (as_json, shared): (bool, &Shared),
) -> Result<u8, Failure> {
    save(answer, number, output)?;
    if as_json {
        print_json(answer)?;
    } else if !shared.quiet {
        let unfinished = if answer["stopped"] == json!(true) {
            ", which was stopped before all was tried"
        } else {
            ""
        };
        let text = format!(
            "{}: way {number} as it was found before{unfinished}; it was not searched for again.",
            output.display()
        );
        Paper::of_terminal(shared.units()).plain("", &text)?;
    }
    Ok(0)
}
