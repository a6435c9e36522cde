//! What is open: a text with its steps, the file that it came from, the draft beside it.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::{Value, json};

use crate::page::wrong::Wrong;
use crate::read::title_of;

use super::draft::{Draft, Line};
use super::history::History;
use super::saving;

/// What is open.
#[derive(Debug)]
pub(super) struct Opened {
    /// The file, links resolved; none for an example or a new one that was not saved yet.
    pub(super) path: Option<PathBuf>,
    /// The name that faults carry; what the text names lies beside it.
    pub(super) name: PathBuf,
    pub(super) history: History,
    /// The text as the file had it when it was last read or written by us; none where there is no file.
    pub(super) on_disk: Option<Arc<str>>,
    pub(super) draft: Draft,
    /// Whether unsaved work of last time was taken up.
    pub(super) taken_up: bool,
    /// Files that the text named when it was opened, wherever they lie.
    pub(super) named: Vec<String>,
}

impl Opened {
    /// As the page shows it.
    pub(super) fn told(&self) -> Value {
        let history = &self.history;
        let text = history.text();
        json!({
            "open": true,
            "rev": history.rev(),
            "file": self.name.file_name().map(|name| name.to_string_lossy()),
            "title": title_of(&text),
            "has_file": self.path.is_some(),
            "dirty": self.on_disk.as_deref() != Some(&*text),
            "undo": history.undo().len(),
            "redo": history.redo().len(),
            "undo_says": history.undo().last().map(|step| step.says.as_str()),
            "redo_says": history.redo().first().map(|step| step.says.as_str()),
            "draft": self.taken_up,
            "draft_fault": self.draft.fault(),
            "changed_on_disk": self.changed_on_disk(),
        })
    }

    pub(super) fn go(&mut self, to: usize) -> Result<(), Wrong> {
        if to >= self.history.len() {
            return Err(Wrong::conflict("there is nothing to do again"));
        }
        self.draft
            .append(&self.history, self.on_disk.as_deref(), &Line::Go(to))?;
        self.history.go(to);
        Ok(())
    }

    pub(super) fn changed_on_disk(&self) -> bool {
        match (&self.path, &self.on_disk) {
            (Some(path), Some(known)) => saving::text_of(path).ok().as_deref() != Some(&**known),
            _ => false,
        }
    }

    pub(super) fn save_over(&mut self, text: &Arc<str>, over: bool) -> Result<(), Wrong> {
        let Some(path) = self.path.clone() else {
            return Err(Wrong::conflict("there is no file yet").cure("give it a name"));
        };
        if self.changed_on_disk() && !over {
            return Err(Wrong::conflict(
                "the file was changed outside the page since it was opened; it was not written over",
            )
            .cure("save under another name, take what the file has now, or write over it knowingly"));
        }
        saving::write(&path, text)?;
        self.on_disk = Some(Arc::clone(text));
        self.mark_saved();
        Ok(())
    }

    /// The text was written to another file, which is the opened one from now on; the steps go along.
    pub(super) fn moves_to(&mut self, path: &Path) -> Result<(), Wrong> {
        let path = path
            .canonicalize()
            .map_err(|error| Wrong::cannot(format!("the new file cannot be found: {error}")))?;
        let (draft, _) = Draft::beside(&path)?;
        self.draft = draft;
        self.draft
            .begin(&self.history, Some(&self.history.text()))?;
        self.name.clone_from(&path);
        self.path = Some(path);
        self.on_disk = Some(self.history.text());
        self.taken_up = false;
        Ok(())
    }

    pub(super) fn mark_saved(&mut self) {
        self.taken_up = false;
        if self.history.len() == 1 {
            return;
        }
        // If this line is lost the draft is only taken for unsaved work, which then equals the file.
        let _kept = self
            .draft
            .append(&self.history, self.on_disk.as_deref(), &Line::Saved);
    }
}
