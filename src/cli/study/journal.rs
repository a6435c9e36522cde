//! The CSV of a study as its journal: a line is written as a whole when its variant is done, and what is there is not done
//! again.

use std::collections::HashSet;
use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use crate::cli::failure::Failure;

/// An opened journal.
#[derive(Debug)]
pub(super) struct Journal {
    path: PathBuf,
    file: Mutex<File>,
}

impl Journal {
    /// Opens a journal to go on with it: a last line that was cut short goes; gives the numbers of the rows that are there.
    /// A new one begins with the line of names, where it is wanted.
    pub(super) fn open(
        path: &Path,
        head: &[String],
        with_head: bool,
    ) -> Result<(Self, HashSet<usize>), Failure> {
        let failed = |source| write_failure(path, source);
        let mut file = OpenOptions::new()
            .read(true)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)
            .map_err(failed)?;
        let mut bytes = Vec::new();
        file.read_to_end(&mut bytes).map_err(failed)?;
        let mut done = HashSet::new();
        // Before anything is cut off: a file that is something else stays as it is.
        let whole = &bytes[..whole(&bytes)];
        for cells in rows(path, whole, head)? {
            done.insert(cells.0);
        }
        file.set_len(whole.len() as u64).map_err(failed)?;
        file.seek(SeekFrom::End(0)).map_err(failed)?;
        if whole.is_empty() && with_head {
            file.write_all(&line(head)?).map_err(failed)?;
        }
        let journal = Self {
            path: path.to_owned(),
            file: Mutex::new(file),
        };
        Ok((journal, done))
    }

    /// Adds a line.
    pub(super) fn add(&self, cells: &[String]) -> Result<(), Failure> {
        let bytes = line(cells)?;
        let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
        // One write a line: what is cut short by a sudden end is the last line at most.
        file.write_all(&bytes)
            .map_err(|source| write_failure(&self.path, source))
    }

    /// Brings all lines to the disk, and gives the rows that are there, by their number.
    pub(super) fn rows(&self, head: &[String]) -> Result<Vec<Row>, Failure> {
        let mut bytes = Vec::new();
        {
            let mut file = self.file.lock().unwrap_or_else(PoisonError::into_inner);
            let failed = |source| write_failure(&self.path, source);
            file.sync_all().map_err(failed)?;
            file.seek(SeekFrom::Start(0)).map_err(failed)?;
            file.read_to_end(&mut bytes).map_err(failed)?;
        }
        let mut rows = rows(&self.path, &bytes[..whole(&bytes)], head)?;
        rows.sort_by_key(|row| row.0);
        Ok(rows)
    }
}

/// The number of a row, and its cells.
pub(super) type Row = (usize, csv::StringRecord);

/// Bytes up to the end of the last whole line.
fn whole(bytes: &[u8]) -> usize {
    bytes
        .iter()
        .rposition(|b| *b == b'\n')
        .map_or(0, |at| at + 1)
}

/// The rows of a journal, as they stand there. The line of names may stand before them, and between those of parts that
/// were put one behind the other.
fn rows(path: &Path, bytes: &[u8], head: &[String]) -> Result<Vec<Row>, Failure> {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes);
    let mut all = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| Failure::Print(std::io::Error::other(error)))?;
        let is_head = record.iter().eq(head.iter().map(String::as_str));
        let row = record.get(0).and_then(|cell| cell.parse().ok());
        match row {
            Some(row) if record.len() == head.len() => all.push((row, record)),
            _ if is_head => {}
            _ => return Err(Failure::OtherStudy(path.to_owned())),
        }
    }
    Ok(all)
}

/// Cells as one line.
fn line(cells: &[String]) -> Result<Vec<u8>, Failure> {
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    writer
        .write_record(cells)
        .map_err(|error| Failure::Print(std::io::Error::other(error)))?;
    writer
        .into_inner()
        .map_err(|error| Failure::Print(std::io::Error::other(error.to_string())))
}

fn write_failure(path: &Path, source: std::io::Error) -> Failure {
    Failure::Write {
        path: path.to_owned(),
        source,
    }
}
