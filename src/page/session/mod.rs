//! The session: the opened file, its revisions, the draft beside it. One a server; every tab sees the same.

mod draft;
mod examples;
mod folder;
mod history;
mod opened;
mod opening;
mod saving;
mod version;

use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use serde_json::{Value, json};

use crate::read::files_named;
use crate::rod::Halting;

use super::wrong::{Wrong, listed};

pub(super) use folder::Folder;
pub(super) use version::{Version, settings};

use draft::Line;
use opened::Opened;

/// Everything that calls share.
#[derive(Debug)]
pub(super) struct Session {
    folder: Folder,
    inner: Mutex<Inner>,
    /// The try that goes on; a newer one ends it.
    trying: Mutex<Option<Arc<Halting>>>,
}

/// The present revision and all that is known of it.
#[derive(Debug)]
pub(super) struct Now {
    pub(super) rev: u64,
    version: Arc<Version>,
}

impl std::ops::Deref for Now {
    type Target = Arc<Version>;

    fn deref(&self) -> &Arc<Version> {
        &self.version
    }
}

#[derive(Debug)]
struct Inner {
    /// The last revision that was given out.
    last: u64,
    opened: Option<Opened>,
    /// Revisions that were solved lately, latest first.
    versions: Vec<Arc<Version>>,
}

/// So many revisions are kept solved.
const KEPT: usize = 6;

impl Session {
    pub(super) fn new(folder: Folder) -> Self {
        Self {
            folder,
            inner: Mutex::new(Inner {
                last: 0,
                opened: None,
                versions: Vec::new(),
            }),
            trying: Mutex::new(None),
        }
    }

    /// A new try begins: the one before ends.
    pub(super) fn try_anew(&self) -> Arc<Halting> {
        let new = Arc::new(Halting::new());
        let mut trying = self.trying.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(old) = trying.replace(Arc::clone(&new)) {
            old.ask();
        }
        new
    }

    fn inner(&self) -> MutexGuard<'_, Inner> {
        // A panic elsewhere leaves whole values here: each is replaced in one go.
        self.inner.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// The state as the page shows it.
    pub(super) fn state(&self) -> Value {
        let (mut state, version) = {
            let mut inner = self.inner();
            (inner.state(), inner.now())
        };
        // Read outside the lock: a scan may take its time.
        let faults = version.and_then(|now| now.route().err());
        if let Some(fields) = state.as_object_mut() {
            fields.insert("folder".to_owned(), json!(self.folder.name()));
            fields.insert(
                "faults".to_owned(),
                faults.as_ref().map_or(Value::Null, listed),
            );
        }
        state
    }

    /// The present revision.
    pub(super) fn now(&self) -> Result<Now, Wrong> {
        self.inner().now().ok_or_else(nothing_open)
    }

    /// Whether a revision is one of what is open, of now or of before. No number is given twice, so those of what was open
    /// before are lower than the first.
    pub(super) fn has_seen(&self, rev: u64) -> bool {
        let inner = self.inner();
        let first = inner.opened.as_ref().map(|opened| opened.history.first());
        first.is_some_and(|first| rev >= first)
    }

    /// A step that can be gone back to, as it was then. What is worked out for the present one goes on.
    pub(super) fn step(&self, rev: u64) -> Result<Now, Wrong> {
        let inner = self.inner();
        let opened = inner.opened.as_ref().ok_or_else(nothing_open)?;
        let history = &opened.history;
        let step = history.index_of(rev).map(|index| &history.steps()[index]);
        let step = step.ok_or_else(|| Wrong::missing(format!("there is no revision {rev}")))?;
        let file = opened.name.display().to_string();
        Ok(Now {
            rev,
            version: Arc::new(Version::new(Arc::clone(&step.text), file)),
        })
    }

    /// Keeps what was found out about a text that may become the next revision.
    pub(super) fn remember(&self, version: &Arc<Version>) {
        let mut inner = self.inner();
        if !inner.versions.iter().any(|v| v.text == version.text) {
            let at = inner.versions.len().min(1);
            inner.versions.insert(at, Arc::clone(version));
            inner.versions.truncate(KEPT);
        }
    }

    /// Makes a new revision with this text, if `rev` is still the present one.
    pub(super) fn push(&self, rev: u64, says: &str, text: String) -> Result<(), Wrong> {
        let done = self.inner().push(rev, says, text);
        done.map_err(|wrong| wrong.with_state_of(self))
    }

    /// Goes back or forth by so many steps.
    pub(super) fn go(&self, by: isize) -> Result<(), Wrong> {
        let mut inner = self.inner();
        let opened = inner.opened.as_mut().ok_or_else(nothing_open)?;
        let Some(to) = opened.history.at().checked_add_signed(by) else {
            return Err(Wrong::conflict("there is nothing to undo"));
        };
        opened.go(to)
    }

    /// Goes to a revision.
    pub(super) fn go_to(&self, rev: u64) -> Result<(), Wrong> {
        let mut inner = self.inner();
        let opened = inner.opened.as_mut().ok_or_else(nothing_open)?;
        let to = opened.history.index_of(rev);
        let to = to.ok_or_else(|| Wrong::missing(format!("there is no revision {rev}")))?;
        opened.go(to)
    }

    /// The steps that can be undone and done again.
    pub(super) fn steps(&self) -> Result<Value, Wrong> {
        let inner = self.inner();
        let opened = inner.opened.as_ref().ok_or_else(nothing_open)?;
        Ok(opened.history.listed())
    }

    /// Takes the text that the file has now, as a step that can be undone.
    pub(super) fn take_disk(&self, rev: u64) -> Result<(), Wrong> {
        let mut inner = self.inner();
        let opened = inner.opened.as_ref().ok_or_else(nothing_open)?;
        let path = opened.path.clone();
        let path = path.ok_or_else(|| Wrong::conflict("there is no file yet"))?;
        let text = saving::text_of(&path)?;
        inner.push(rev, "as the file has it", text.clone())?;
        if let Some(opened) = inner.opened.as_mut() {
            opened.on_disk = Some(text.into());
            opened.mark_saved();
        }
        Ok(())
    }

    /// Saves the present text, to the opened file or to another name in the folder.
    pub(super) fn save(&self, rev: Option<u64>, to: Option<&str>, over: bool) -> Result<(), Wrong> {
        let target = to.map(|name| self.folder.new_file(name)).transpose()?;
        let mut inner = self.inner();
        let opened = inner.opened.as_mut().ok_or_else(nothing_open)?;
        if rev.is_some_and(|rev| rev != opened.history.rev()) {
            drop(inner);
            return Err(stale().with_state_of(self));
        }
        let text = opened.history.text();
        let done = match target.filter(|target| opened.path.as_ref() != Some(target)) {
            Some(target) => {
                if target.exists() && !over {
                    Err(
                        Wrong::conflict("there is such a file already, and it stays as it is")
                            .cure("choose another name"),
                    )
                } else {
                    saving::write(&target, &text).and_then(|()| opened.moves_to(&target))
                }
            }
            None => opened.save_over(&text, over),
        };
        done.map_err(|wrong| {
            drop(inner);
            wrong.with_state_of(self)
        })
    }

    /// Whether every file that a text names may be read: one of the folder, or named by the file as it was opened.
    pub(super) fn may_name(&self, text: &str) -> Result<(), Wrong> {
        let (name, known) = {
            let inner = self.inner();
            let opened = inner.opened.as_ref().ok_or_else(nothing_open)?;
            (opened.name.clone(), opened.named.clone())
        };
        for file in files_named(text) {
            if !known.contains(&file) {
                self.folder.may_read(&name, &file)?;
            }
        }
        Ok(())
    }
}

impl Session {
    /// That somebody else was faster.
    pub(super) fn stale(&self) -> Wrong {
        stale().with_state_of(self)
    }
}

impl Wrong {
    fn with_state_of(self, session: &Session) -> Self {
        self.with_state(session.state())
    }
}

fn nothing_open() -> Wrong {
    Wrong::missing("no route is open").cure("open a file, an example or a blank one")
}

fn stale() -> Wrong {
    Wrong::conflict("the route was changed elsewhere in the meantime, perhaps in another tab")
        .cure("look at what it is now, then do it again")
}

impl Inner {
    fn now(&mut self) -> Option<Now> {
        let opened = self.opened.as_ref()?;
        let (rev, text) = (opened.history.rev(), opened.history.text());
        let file = opened.name.display().to_string();
        Some(Now {
            rev,
            version: self.version_of(&text, &file),
        })
    }

    /// What is known of a text; the others stop what they are working on.
    fn version_of(&mut self, text: &Arc<str>, file: &str) -> Arc<Version> {
        let known = self.versions.iter().position(|v| v.text == *text);
        let version = match known {
            Some(0) => return Arc::clone(&self.versions[0]),
            Some(found) => self.versions.remove(found),
            None => Arc::new(Version::new(Arc::clone(text), file.to_owned())),
        };
        for old in &self.versions {
            old.give_up();
        }
        self.versions.insert(0, Arc::clone(&version));
        self.versions.truncate(KEPT);
        version
    }

    fn push(&mut self, rev: u64, says: &str, text: String) -> Result<(), Wrong> {
        let next = self.last + 1;
        let opened = self.opened.as_mut().ok_or_else(nothing_open)?;
        if rev != opened.history.rev() {
            return Err(stale());
        }
        if *opened.history.text() == *text {
            return Ok(());
        }
        let text: Arc<str> = text.into();
        opened.draft.append(
            &opened.history,
            opened.on_disk.as_deref(),
            &Line::edit(says, &opened.history.text(), &text),
        )?;
        opened.history.push(next, says, text);
        self.last = next;
        Ok(())
    }

    fn state(&self) -> Value {
        match &self.opened {
            Some(opened) => opened.told(),
            None => json!({
                "rev": 0, "file": null, "title": null, "has_file": false, "dirty": false, "undo": 0, "redo": 0,
                "undo_says": null, "redo_says": null, "draft": false, "changed_on_disk": false, "open": false,
            }),
        }
    }
}
