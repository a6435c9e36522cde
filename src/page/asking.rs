//! Questions that take their time: estimate, reach, lengthen, move ties, lay anew, locate, compare, place.
//!
//! The answers are those of the command line, which hands in how each question is answered. Who waits for them is told in
//! `jobs.rs`.

use std::sync::Arc;

use serde::Deserialize;
use serde_json::{Map, Value};

use crate::advise::Solved;
use crate::check::Findings;
use crate::quantity::Units;
use crate::rod::{Halt, Halting, Solution};
use crate::route::Route;

use super::session::{Now, Version};
use super::shapes;
use super::wrong::Wrong;

/// A question put to the opened route.
#[derive(Debug)]
pub struct Question<'q> {
    /// What is asked: the name of the command.
    pub what: &'q str,
    /// The command's options by their names, without the dashes.
    pub options: &'q Map<String, Value>,
    pub(super) now: &'q Version,
}

impl Question<'_> {
    /// The text of the route file as it now reads.
    pub fn text(&self) -> &str {
        &self.now.text
    }

    /// The name that faults carry.
    pub fn file(&self) -> &str {
        &self.now.file
    }

    /// The route.
    ///
    /// # Errors
    /// The text has faults.
    pub fn route(&self) -> Result<Arc<Route>, String> {
        self.now.route().map_err(|faults| faults.to_string())
    }

    /// The route, solved and checked without spread.
    ///
    /// # Errors
    /// The text has faults, or nobody wants the answer any more.
    pub fn solved(&self) -> Result<Arc<Solved>, String> {
        self.now.solved().map_err(|wrong| wrong.to_string())
    }

    /// Where the harness lies and what the checks find, in these units, with their spread if it is wanted.
    ///
    /// # Errors
    /// As for [`Question::solved`].
    pub fn checked(
        &self,
        spread: bool,
        units: Units,
    ) -> Result<(Arc<Solution>, Arc<Findings>), String> {
        let solution = self.now.solution();
        let findings = self.now.findings(spread, units);
        match (solution, findings) {
            (Ok(solution), Ok(findings)) => Ok((solution, findings)),
            (Err(wrong), _) | (_, Err(wrong)) => Err(wrong.to_string()),
        }
    }
}

/// What an answer is given from outside: whether it is still wanted, and where it tells how far it has come.
pub struct Asker<'h> {
    /// For what can be left off in the middle, with nothing to show.
    pub halt: Halt,
    /// For what gives the best so far.
    pub stop: &'h (dyn Fn() -> bool + Sync),
    /// How far it has come, in words.
    pub say: &'h (dyn Fn(&str) + Sync),
}

impl std::fmt::Debug for Asker<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Asker").finish_non_exhaustive()
    }
}

/// How questions are answered; the command line hands this in.
#[derive(Debug, Clone, Copy)]
pub struct Answers {
    /// The command's report, with `proposals` where it proposes something.
    pub answer: fn(&Question<'_>, &Asker<'_>) -> Result<Value, String>,
    /// The bench sheet as PDF.
    pub sheet: fn(&Question<'_>, &Asker<'_>) -> Result<Vec<u8>, String>,
    /// The tables of the bench sheet: names of their files, and their bytes as CSV.
    pub tables: fn(&Question<'_>, &Asker<'_>) -> Result<Vec<NamedBytes>, String>,
}

/// A file's name and its bytes.
pub type NamedBytes = (String, Vec<u8>);

/// A question as the page asks it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Ask {
    pub(super) what: String,
    #[serde(default)]
    pub(super) options: Map<String, Value>,
}

/// The bench sheet as PDF.
pub(super) fn sheet(
    now: &Now,
    answers: Answers,
    options: &Map<String, Value>,
    halting: &Halting,
) -> Result<Vec<u8>, Wrong> {
    about_sheet(answers.sheet, now, options, halting)
}

/// The tables of the bench sheet as CSV.
pub(super) fn sheet_tables(
    now: &Now,
    answers: Answers,
    options: &Map<String, Value>,
    halting: &Halting,
) -> Result<Vec<NamedBytes>, Wrong> {
    about_sheet(answers.tables, now, options, halting)
}

fn about_sheet<T>(
    made: fn(&Question<'_>, &Asker<'_>) -> Result<T, String>,
    now: &Now,
    options: &Map<String, Value>,
    halting: &Halting,
) -> Result<T, Wrong> {
    let asker = Asker {
        halt: halting.halt(),
        stop: &|| halting.halt().asked(),
        say: &|_| {},
    };
    let question = Question {
        what: "sheet",
        options,
        now,
    };
    made(&question, &asker).map_err(|says| Wrong::told(&says))
}

/// Every proposal with where its harness lies, for the page to draw.
pub(super) fn with_shapes(mut answer: Value, now: &Now) -> Value {
    let Some(Value::Array(proposals)) = answer.get_mut("proposals") else {
        return answer;
    };
    for proposal in proposals {
        let text = match (&proposal["text"], &proposal["edits"]) {
            (Value::String(text), _) => Some(text.clone()),
            (_, Value::Array(edits)) => {
                let edited = super::edits::edited(&now.text, &now.file, edits, Units::METRIC);
                edited.ok().map(|edited| edited.text)
            }
            _ => None,
        };
        let Some(text) = text else { continue };
        let version = Version::new(text.into(), now.file.clone());
        if let (Ok(route), Ok(solution)) = (version.route(), version.solution()) {
            proposal["shapes"] = shapes::shapes(&route, &solution, now.rev);
        }
    }
    answer
}
