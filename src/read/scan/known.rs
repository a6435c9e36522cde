//! Scans that some route still holds: a file that did not change is not read and indexed again.
//!
//! Whoever edits a route file reads it many times; its scans stay. A scan is forgotten with the last route that has it.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError, Weak};
use std::time::SystemTime;

use crate::geometry::Surface;

/// What tells one reading of a file from another.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Key {
    path: PathBuf,
    length: u64,
    changed: SystemTime,
    /// Length of the file's unit \[m\].
    unit: f64,
}

struct Known {
    key: Key,
    surface: Weak<Surface>,
    notes: Vec<String>,
}

static KNOWN: Mutex<Vec<Known>> = Mutex::new(Vec::new());

impl Key {
    /// That of a file as it is now; `None` where the system does not tell when it was changed.
    pub(super) fn of(path: &Path, unit: f64) -> Option<Self> {
        let path = path.canonicalize().ok()?;
        let meta = path.metadata().ok().filter(std::fs::Metadata::is_file)?;
        Some(Self {
            length: meta.len(),
            changed: meta.modified().ok()?,
            path,
            unit,
        })
    }

    /// The surface with the notes of its reading, where some route still holds it.
    pub(super) fn known(&self) -> Option<(Arc<Surface>, Vec<String>)> {
        let known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        let found = known.iter().find(|known| known.key == *self)?;
        Some((found.surface.upgrade()?, found.notes.clone()))
    }

    /// Makes a surface known.
    pub(super) fn keep(self, surface: &Arc<Surface>, notes: &[String]) {
        let mut known = KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
        known.retain(|known| known.key != self && known.surface.strong_count() > 0);
        known.push(Known {
            key: self,
            surface: Arc::downgrade(surface),
            notes: notes.to_vec(),
        });
    }
}
