//! Jobs: questions that are being answered or were. A job says how far it has come, can be listened to more than once, so
//! that a page that was loaded anew finds it again, and ends when told or when its time is up.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use axum::body::Bytes;
use axum::response::Response;
use serde_json::{Value, json};
use tokio::sync::{mpsc, watch};

use crate::rod::Halting;

use super::answering::blocking;
use super::asking::{Answers, Ask, Asker, Question, with_shapes};
use super::session::{Now, Session};
use super::stream::rows;
use super::wrong::Wrong;

/// So many jobs run at a time.
const AT_ONCE: usize = 3;
/// So many are remembered.
const KEPT: usize = 20;
/// No job takes longer.
const LONGEST: Duration = Duration::from_secs(15 * 60);

/// All jobs.
#[derive(Default)]
pub(super) struct Jobs {
    all: Mutex<(u64, BTreeMap<u64, Arc<Job>>)>,
}

/// One question and what was told of its answer.
struct Job {
    ask: Ask,
    /// The revision that it is asked of.
    rev: u64,
    begun: Instant,
    took: OnceLock<Duration>,
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
        if last {
            // A second last line would be a mistake that the first one outlives.
            let _known = self.took.set(self.begun.elapsed());
        }
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
            ask,
            rev: now.rev,
            begun: Instant::now(),
            took: OnceLock::new(),
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
            let done = blocking(move || run(&own, &now, answers)).await;
            if let Err(wrong) = done {
                job.tell(&json!({ "error": wrong.to_json() }), true);
            }
        });
        Ok(json!({ "job": id, "rev": rev }))
    }

    /// The jobs about what is open, the oldest first: what was asked, of which revision, for how long \[s\].
    pub(super) fn listed(&self, session: &Session) -> Value {
        let all: Vec<(u64, Arc<Job>)> = {
            let all = self.all();
            let jobs = all.1.iter().map(|(id, job)| (*id, Arc::clone(job)));
            jobs.collect()
        };
        let ours = all.iter().filter(|(_, job)| session.has_seen(job.rev));
        let listed = ours.map(|(id, job)| {
            json!({
                "job": id,
                "what": job.ask.what,
                "options": job.ask.options,
                "rev": job.rev,
                "running": !job.ended(),
                "at_s": job.took.get().copied().unwrap_or_else(|| job.begun.elapsed()).as_secs_f64(),
            })
        });
        json!({ "jobs": listed.collect::<Vec<_>>() })
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
fn run(job: &Job, now: &Now, answers: Answers) -> Result<(), Wrong> {
    let until = job.begun + LONGEST;
    let cancelled = || job.cancelled.load(Ordering::Relaxed);
    let stop = || cancelled() || Instant::now() > until;
    let asker = Asker {
        halt: job.halting.halt(),
        stop: &stop,
        say: &|words| {
            let seconds = job.begun.elapsed().as_secs_f64();
            job.tell(&json!({ "progress": words, "at_s": seconds }), false);
        },
    };
    let question = Question {
        what: &job.ask.what,
        options: &job.ask.options,
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
