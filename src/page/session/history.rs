//! Revisions in a row, with a mark at the present one: undo and redo without end.

use std::sync::Arc;

use serde_json::{Value, json};

/// One revision and how it came about.
#[derive(Debug, Clone)]
pub(super) struct Step {
    /// Its number; never given twice.
    pub(super) rev: u64,
    /// What was done, in words.
    pub(super) says: String,
    /// The whole text.
    pub(super) text: Arc<str>,
}

/// All revisions; never empty.
#[derive(Debug)]
pub(super) struct History {
    steps: Vec<Step>,
    at: usize,
}

impl History {
    /// A history that begins with a text.
    pub(super) fn new(rev: u64, text: Arc<str>) -> Self {
        let says = "opened".to_owned();
        Self {
            steps: vec![Step { rev, says, text }],
            at: 0,
        }
    }

    /// A history with these texts, numbered from `rev`; there is at least one.
    pub(super) fn of(rev: u64, texts: Vec<(String, String)>, at: usize) -> Self {
        let steps: Vec<Step> = (rev..)
            .zip(texts)
            .map(|(rev, (says, text))| Step {
                rev,
                says,
                text: text.into(),
            })
            .collect();
        let at = at.min(steps.len().saturating_sub(1));
        Self { steps, at }
    }

    /// A step behind the present one; those that could be done again go.
    pub(super) fn push(&mut self, rev: u64, says: &str, text: Arc<str>) {
        self.steps.truncate(self.at + 1);
        let says = says.to_owned();
        self.steps.push(Step { rev, says, text });
        self.at = self.steps.len() - 1;
    }

    /// Makes a step the present one; it must be there.
    pub(super) fn go(&mut self, to: usize) {
        self.at = to.min(self.steps.len() - 1);
    }

    fn now(&self) -> &Step {
        &self.steps[self.at]
    }

    pub(super) fn at(&self) -> usize {
        self.at
    }

    pub(super) fn len(&self) -> usize {
        self.steps.len()
    }

    pub(super) fn rev(&self) -> u64 {
        self.now().rev
    }

    pub(super) fn text(&self) -> Arc<str> {
        Arc::clone(&self.now().text)
    }

    /// All steps, in order.
    pub(super) fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// The number that it began with.
    pub(super) fn first(&self) -> u64 {
        self.steps[0].rev
    }

    /// The greatest number given.
    pub(super) fn last(&self) -> u64 {
        self.steps.iter().map(|step| step.rev).max().unwrap_or(0)
    }

    pub(super) fn index_of(&self, rev: u64) -> Option<usize> {
        self.steps.iter().position(|step| step.rev == rev)
    }

    /// The steps that can be undone.
    pub(super) fn undo(&self) -> &[Step] {
        &self.steps[1..=self.at]
    }

    /// The steps that can be done again.
    pub(super) fn redo(&self) -> &[Step] {
        &self.steps[self.at + 1..]
    }

    /// As the page lists them.
    pub(super) fn listed(&self) -> Value {
        let one = |step: &Step| json!({ "rev": step.rev, "says": step.says });
        json!({ "steps": self.steps.iter().map(one).collect::<Vec<_>>(), "now": self.rev() })
    }
}
