//! The draft beside the file: every step as it is made, so that nothing is lost when the power goes.
//!
//! A line of JSON a step, added at the end and brought to disk before the step counts. A line that was cut off by a power
//! cut is dropped when the draft is read again. The draft of `bike.ron` is `.bike.ron.draft`; it is made with the first
//! step, is locked as long as a page has the file open, and stays, so that what was done can still be undone tomorrow.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use serde::{Deserialize, Serialize};

use super::history::History;
use crate::page::wrong::Wrong;

/// More is not read: a draft of ours that large was never made.
const LARGEST: u64 = 256 * 1024 * 1024;

/// What the state says where there is nothing for a draft to lie beside.
const NO_FILE: &str =
    "there is no file yet, so steps stand in memory alone: save under a name to keep them";

/// One line of the draft.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Line {
    /// The first: what the file held, or nothing where there was none, and the first text.
    Begun {
        format: u32,
        on_disk: Option<String>,
        text: String,
    },
    /// The text from byte `at` on, `cut` bytes long, gave way to `put`.
    Edit {
        says: String,
        at: usize,
        cut: usize,
        put: String,
    },
    /// This step became the present one.
    Go(usize),
    /// The present text was written to the file.
    Saved,
}

impl Line {
    /// What turns one text into another.
    pub(super) fn edit(says: &str, old: &str, new: &str) -> Self {
        let mut at = old
            .bytes()
            .zip(new.bytes())
            .take_while(|(a, b)| a == b)
            .count();
        while !(old.is_char_boundary(at) && new.is_char_boundary(at)) {
            at -= 1;
        }
        let (a, b) = (&old[at..], &new[at..]);
        let mut same = a
            .bytes()
            .rev()
            .zip(b.bytes().rev())
            .take_while(|(a, b)| a == b)
            .count();
        while !(a.is_char_boundary(a.len() - same) && b.is_char_boundary(b.len() - same)) {
            same -= 1;
        }
        Self::Edit {
            says: says.to_owned(),
            at,
            cut: a.len() - same,
            put: b[..b.len() - same].to_owned(),
        }
    }
}

/// What a draft held.
#[derive(Debug)]
pub(super) struct Taken {
    /// Each step's words and text.
    pub(super) texts: Vec<(String, String)>,
    /// The present one.
    pub(super) at: usize,
    /// The text that the file had when it was last read or written.
    pub(super) saved: String,
}

/// The draft of the opened file.
#[derive(Debug)]
pub(super) struct Draft {
    /// Where it is; none where there is no file to lie beside.
    path: Option<PathBuf>,
    /// Open and locked, once there is one, with its length.
    file: Option<(File, u64)>,
    fault: Option<String>,
}

impl Draft {
    /// No draft: there is no file yet.
    pub(super) fn none() -> Self {
        Self {
            path: None,
            file: None,
            fault: Some(NO_FILE.to_owned()),
        }
    }

    /// The draft beside a file, with what it holds.
    pub(super) fn beside(path: &Path) -> Result<(Self, Option<Taken>), Wrong> {
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let own = path.with_file_name(format!(".{name}.draft"));
        let mut draft = Self {
            path: Some(own.clone()),
            file: None,
            fault: None,
        };
        // Only a file of its own is read or written, never what a link leads to.
        match std::fs::symlink_metadata(&own) {
            Err(_) => return Ok((draft, None)),
            Ok(meta) if !meta.is_file() || meta.len() > LARGEST => {
                draft.path = None;
                draft.fault = Some(format!(
                    "{} is no draft of ours: steps are kept in memory alone",
                    own.display()
                ));
                return Ok((draft, None));
            }
            Ok(_) => {}
        }
        let mut file = match locked(&own, false) {
            Ok(file) => file,
            Err(Locked::Elsewhere) => return Err(elsewhere()),
            Err(Locked::Cannot(why)) => {
                draft.path = None;
                draft.fault = Some(why);
                return Ok((draft, None));
            }
        };
        let mut bytes = Vec::new();
        if let Err(error) = file.read_to_end(&mut bytes) {
            draft.fault = Some(format!("the draft cannot be read: {error}"));
            draft.path = None;
            return Ok((draft, None));
        }
        let (taken, good) = replay(&bytes);
        draft.file = Some((file, good));
        Ok((draft, taken))
    }

    /// Why steps are not brought to disk, if they are not.
    pub(super) fn fault(&self) -> Option<&str> {
        self.fault.as_deref()
    }

    /// Adds a line; before the first one the draft is begun. Where the disk does not take it the step counts all the same,
    /// and the state says that it stands in memory alone.
    pub(super) fn append(
        &mut self,
        history: &History,
        on_disk: Option<&str>,
        line: &Line,
    ) -> Result<(), Wrong> {
        if self.path.is_none() {
            return Ok(());
        }
        if self.file.as_ref().is_none_or(|(_, length)| *length == 0) || self.fault.is_some() {
            self.begin(history, on_disk)?;
        }
        self.write(std::slice::from_ref(line));
        Ok(())
    }

    /// Writes the draft anew from a history.
    pub(super) fn begin(&mut self, history: &History, on_disk: Option<&str>) -> Result<(), Wrong> {
        let Some(path) = self.path.clone() else {
            return Ok(());
        };
        if self.file.is_none() {
            match locked(&path, true) {
                Ok(file) => self.file = Some((file, 0)),
                Err(Locked::Elsewhere) => return Err(elsewhere()),
                Err(Locked::Cannot(why)) => {
                    self.fault = Some(why);
                    return Ok(());
                }
            }
        }
        let steps = history.steps();
        let mut lines = vec![Line::Begun {
            format: 1,
            on_disk: on_disk.map(str::to_owned),
            text: steps[0].text.to_string(),
        }];
        for pair in steps.windows(2) {
            lines.push(Line::edit(&pair[1].says, &pair[0].text, &pair[1].text));
        }
        if history.at() + 1 < steps.len() {
            lines.push(Line::Go(history.at()));
        }
        if let Some((_, length)) = &mut self.file {
            *length = 0;
        }
        self.fault = None;
        self.write(&lines);
        Ok(())
    }

    fn write(&mut self, lines: &[Line]) {
        let Some((file, length)) = &mut self.file else {
            return;
        };
        let mut bytes = Vec::new();
        for line in lines {
            if serde_json::to_writer(&mut bytes, line).is_ok() {
                bytes.push(b'\n');
            }
        }
        // What a failed write left behind is written over by the next.
        let mut add = || -> std::io::Result<()> {
            file.set_len(*length)?;
            file.seek(SeekFrom::Start(*length))?;
            file.write_all(&bytes)?;
            file.sync_data()
        };
        match add() {
            Ok(()) => *length += bytes.len() as u64,
            Err(error) => {
                self.fault = Some(format!(
                    "the draft cannot be written, so the last steps stand in memory alone: {error}; save soon"
                ));
            }
        }
    }
}

enum Locked {
    Elsewhere,
    Cannot(String),
}

fn elsewhere() -> Wrong {
    Wrong::conflict("this file is open in another page of this machine")
        .cure("close that one (Ctrl-C where it runs), or work on a copy")
}

/// The draft, opened and locked as long as it stays open.
fn locked(path: &Path, make: bool) -> Result<File, Locked> {
    let cannot = |error: &std::io::Error| {
        Locked::Cannot(format!(
            "no draft can be kept beside the file, so steps stand in memory alone: {error}; save often"
        ))
    };
    let mut options = OpenOptions::new();
    options.read(true).write(true);
    if make {
        options.create(true).truncate(false);
    }
    let file = options.open(path).map_err(|error| cannot(&error))?;
    match file.try_lock() {
        Ok(()) => Ok(file),
        Err(TryLockError::WouldBlock) => Err(Locked::Elsewhere),
        Err(TryLockError::Error(error)) => Err(cannot(&error)),
    }
}

/// Goes through the lines again; gives what they come to, and how many bytes of them are whole.
fn replay(bytes: &[u8]) -> (Option<Taken>, u64) {
    let mut taken: Option<Taken> = None;
    let mut good = 0;
    for line in bytes.split_inclusive(|byte| *byte == b'\n') {
        let whole = line.ends_with(b"\n");
        let read = serde_json::from_slice::<Line>(line).ok();
        let (true, Some(line_read)) = (whole, read) else {
            break;
        };
        if step(&mut taken, line_read).is_none() {
            break;
        }
        good += line.len() as u64;
    }
    (taken, good)
}

fn step(taken: &mut Option<Taken>, line: Line) -> Option<()> {
    if let Line::Begun {
        format: 1,
        on_disk,
        text,
    } = line
    {
        *taken = Some(Taken {
            texts: vec![("opened".to_owned(), text)],
            at: 0,
            saved: on_disk.unwrap_or_default(),
        });
        return Some(());
    }
    let taken = taken.as_mut()?;
    match line {
        Line::Begun { .. } => return None,
        Line::Edit { says, at, cut, put } => {
            let old = &taken.texts[taken.at].1;
            let (head, tail) = (old.get(..at)?, old.get(at.checked_add(cut)?..)?);
            let new = format!("{head}{put}{tail}");
            taken.texts.truncate(taken.at + 1);
            taken.texts.push((says, new));
            taken.at += 1;
        }
        Line::Go(to) => {
            taken.texts.get(to)?;
            taken.at = to;
        }
        Line::Saved => taken.saved.clone_from(&taken.texts[taken.at].1),
    }
    Some(())
}
