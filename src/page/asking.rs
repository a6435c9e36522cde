//! Questions that take their time: estimate, reach, lengthen, move ties, lay anew, locate, compare, place.
//!
//! The answers are those of the command line, which hands in how each question is answered. A question is a job: it says
//! how far it has come, can be listened to more than once (a page that was loaded anew finds it again), and ends when told
//! or when its time is up.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use axum::body::Bytes;
use axum::response::Response;
use serde::Deserialize;
use serde_json::{Map, Value, json};
use tokio::sync::{mpsc, watch};

use crate::advise::Solved;
use crate::check::Findings;
use crate::quantity::Units;
use crate::rod::{Halt, Halting, Solution};
use crate::route::Route;

use super::calls::blocking;
use super::session::{Now, Session, Version};
use super::shapes;
use super::stream::rows;
use super::wrong::Wrong;

/// So many jobs run at a time.
const AT_ONCE: usize = 3;
/// So many are remembered.
const KEPT: usize = 20;
/// No job takes longer.
const LONGEST: Duration = Duration::from_secs(15 * 60);

/// A question put to the opened route.
#[derive(Debug)]
pub struct Question<'q> {
    /// What is asked: the name of the command.
    pub what: &'q str,
    /// The command's options by their names, without the dashes.
    pub options: &'q Map<String, Value>,
    now: &'q Version,
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
    what: String,
    #[serde(default)]
    options: Map<String, Value>,
}

/// All jobs.
#[derive(Default)]
pub(super) struct Jobs {
    all: Mutex<(u64, BTreeMap<u64, Arc<Job>>)>,
}

/// One question and what was told of its answer.
struct Job {
    lines: Mutex<Vec<Bytes>>,
    /// Lines so far, and whether that is all.
    told: watch::Sender<(usize, bool)>,
    halting: Halting,
    cancelled: AtomicBool,
}

impl std::fmt::Debug for Jobs {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Jobs").finish_non_exhaustive()
    }
}

impl Job {
    fn lines(&self) -> MutexGuard<'_, Vec<Bytes>> {
        self.lines.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn tell(&self, value: &Value, last: bool) {
        let count = {
            let mut lines = self.lines();
            lines.push(format!("{value}\n").into());
            lines.len()
        };
        self.told.send_replace((count, last));
    }

    fn ended(&self) -> bool {
        self.told.borrow().1
    }
}

impl Jobs {
    fn all(&self) -> MutexGuard<'_, (u64, BTreeMap<u64, Arc<Job>>)> {
        self.all.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn job(&self, id: u64) -> Result<Arc<Job>, Wrong> {
        let found = self.all().1.get(&id).cloned();
        found.ok_or_else(|| Wrong::missing(format!("there is no job {id}")))
    }

    /// Begins a job; gives its number.
    pub(super) fn begin(
        &self,
        session: &Session,
        answers: Answers,
        ask: Ask,
    ) -> Result<Value, Wrong> {
        let now = session.now()?;
        let job = Arc::new(Job {
            lines: Mutex::new(Vec::new()),
            told: watch::Sender::new((0, false)),
            halting: Halting::new(),
            cancelled: AtomicBool::new(false),
        });
        let id = {
            let mut all = self.all();
            let running = all.1.values().filter(|job| !job.ended()).count();
            if running >= AT_ONCE {
                return Err(
                    Wrong::conflict("three questions are being answered already")
                        .cure("wait for one, or cancel it"),
                );
            }
            while all.1.len() >= KEPT {
                let old = all.1.iter().find(|(_, job)| job.ended()).map(|(id, _)| *id);
                let Some(old) = old else { break };
                all.1.remove(&old);
            }
            all.0 += 1;
            let id = all.0;
            all.1.insert(id, Arc::clone(&job));
            id
        };
        let rev = now.rev;
        let own = Arc::clone(&job);
        tokio::spawn(async move {
            let done = blocking(move || run(&own, &now, answers, &ask)).await;
            if let Err(wrong) = done {
                job.tell(&json!({ "error": wrong.to_json() }), true);
            }
        });
        Ok(json!({ "job": id, "rev": rev }))
    }

    /// Ends a job.
    pub(super) fn cancel(&self, id: u64) -> Result<Value, Wrong> {
        let job = self.job(id)?;
        job.cancelled.store(true, Ordering::Relaxed);
        job.halting.ask();
        Ok(json!({ "job": id }))
    }

    /// What was told of a job and what will be, line by line.
    pub(super) fn listen(&self, id: u64) -> Result<Response, Wrong> {
        let job = self.job(id)?;
        let (sender, told) = mpsc::channel(16);
        tokio::spawn(async move {
            let mut news = job.told.subscribe();
            let mut next = 0;
            loop {
                let (count, last) = *news.borrow_and_update();
                let lines: Vec<Bytes> = job.lines()[next..count].to_vec();
                next = count;
                for line in lines {
                    if sender.send(line).await.is_err() {
                        return;
                    }
                }
                if last || news.changed().await.is_err() {
                    return;
                }
            }
        });
        Ok(rows(told))
    }
}

/// Answers a question, and tells how it goes.
fn run(job: &Job, now: &Now, answers: Answers, ask: &Ask) -> Result<(), Wrong> {
    let begun = Instant::now();
    let until = begun + LONGEST;
    let cancelled = || job.cancelled.load(Ordering::Relaxed);
    let stop = || cancelled() || Instant::now() > until;
    let asker = Asker {
        halt: job.halting.halt(),
        stop: &stop,
        say: &|words| {
            let seconds = begun.elapsed().as_secs_f64();
            job.tell(&json!({ "progress": words, "at_s": seconds }), false);
        },
    };
    let question = Question {
        what: &ask.what,
        options: &ask.options,
        now,
    };
    let answer = (answers.answer)(&question, &asker);
    let last = match answer {
        // What gives the best so far says that it was stopped; of anything else that was ended nothing is left.
        Ok(best) if cancelled() && best["stopped"] == json!(true) => {
            json!({ "cancelled": true, "best": with_shapes(best, now) })
        }
        _ if cancelled() => json!({ "cancelled": true }),
        Ok(result) => {
            (asker.say)("drawing what was found");
            json!({ "result": with_shapes(result, now) })
        }
        Err(says) => return Err(Wrong::told(&says)),
    };
    job.tell(&last, true);
    Ok(())
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
fn with_shapes(mut answer: Value, now: &Now) -> Value {
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
