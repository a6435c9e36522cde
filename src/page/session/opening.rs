//! Opening: a file with what its draft has kept, a worked example, or the file to begin from.

use std::path::Path;
use std::sync::Arc;

use serde_json::{Value, json};

use crate::page::wrong::Wrong;
use crate::read::{files_named, starter};

use super::draft::{Draft, Line};
use super::history::History;
use super::opened::Opened;
use super::{Session, examples, saving};

impl Session {
    /// Opens a file of the folder.
    pub(in crate::page) fn open_file(&self, name: &str) -> Result<(), Wrong> {
        let path = self.folder.existing(name)?;
        self.open_path(&path)
    }

    /// Opens a file, links resolved. Work that was not saved last time is taken up again.
    pub(in crate::page) fn open_path(&self, path: &Path) -> Result<(), Wrong> {
        let already = self.inner().opened.as_ref().and_then(|o| o.path.clone());
        if already.as_deref() == Some(path) {
            // It stays as it is, with all that can be undone.
            return Ok(());
        }
        let text: Arc<str> = saving::text_of(path)?.into();
        let (mut draft, taken) = Draft::beside(path)?;
        let mut inner = self.inner();
        let last = inner.last;
        let mut history = History::new(last + 1, Arc::clone(&text));
        let mut taken_up = false;
        let mut on_disk = Arc::clone(&text);
        if let Some(taken) = taken {
            let unsaved = taken.texts[taken.at].1 != taken.saved;
            history = History::of(last + 1, taken.texts, taken.at);
            taken_up = unsaved && *history.text() != *text;
            if unsaved {
                // What the draft began from is what may be written over.
                on_disk = taken.saved.into();
            } else if *history.text() != *text {
                let says = "as changed outside the page";
                let line = Line::edit(says, &history.text(), &text);
                draft.append(&history, Some(&text), &line)?;
                history.push(history.last() + 1, says, Arc::clone(&text));
                draft.append(&history, Some(&text), &Line::Saved)?;
            }
        }
        inner.last = history.last();
        let named = files_named(&text);
        inner.opened = Some(Opened {
            path: Some(path.to_owned()),
            name: path.to_owned(),
            history,
            on_disk: Some(on_disk),
            draft,
            taken_up,
            named,
        });
        inner.versions.clear();
        Ok(())
    }

    /// Opens a worked example.
    pub(in crate::page) fn open_example(&self, name: &str) -> Result<(), Wrong> {
        let example = examples::named(name)
            .ok_or_else(|| Wrong::missing(format!("there is no example \"{name}\"")))?;
        self.open_text(example.text, &format!("{name}.ron"));
        Ok(())
    }

    /// Opens the commented file to begin from.
    pub(in crate::page) fn open_blank(&self) {
        self.open_text(starter(), "new.ron");
    }

    fn open_text(&self, text: &str, name: &str) {
        let mut inner = self.inner();
        inner.last += 1;
        let rev = inner.last;
        inner.opened = Some(Opened {
            path: None,
            name: self.folder.path().join(name),
            history: History::new(rev, text.into()),
            on_disk: None,
            draft: Draft::none(),
            taken_up: false,
            named: Vec::new(),
        });
        inner.versions.clear();
    }

    /// Worked examples, and the files of the folder.
    pub(in crate::page) fn offers(&self) -> Value {
        let opened = self.inner().opened.as_ref().and_then(|opened| {
            let name = opened.path.as_ref()?.file_name()?;
            Some(name.to_string_lossy().into_owned())
        });
        json!({ "examples": examples::all(), "files": self.folder.files(), "opened": opened })
    }
}
