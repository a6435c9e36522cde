//! Reading and writing the opened file: whole or not at all.

use std::fs::File;
use std::io::{Read, Write};
use std::path::Path;

use crate::page::wrong::Wrong;

/// As much as a route file may have.
const LARGEST: u64 = 16 * 1024 * 1024;

/// The text of a file.
pub(super) fn text_of(path: &Path) -> Result<String, Wrong> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let cannot = |why: String| Wrong::cannot(format!("{name} cannot be read: {why}"));
    let file = File::open(path).map_err(|error| cannot(error.to_string()))?;
    let meta = file.metadata().map_err(|error| cannot(error.to_string()))?;
    if !meta.is_file() {
        return Err(cannot("it is no file".to_owned()));
    }
    let mut bytes = Vec::new();
    file.take(LARGEST + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| cannot(error.to_string()))?;
    if bytes.len() as u64 > LARGEST {
        return Err(cannot("it is larger than 16 MB".to_owned()));
    }
    String::from_utf8(bytes).map_err(|_| cannot("it is no text".to_owned()))
}

/// Writes a file: beside it first and to disk, then in its place, so that a power cut leaves the old one or the new one.
pub(super) fn write(path: &Path, text: &str) -> Result<(), Wrong> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let go = || -> std::io::Result<()> {
        let folder = path.parent().unwrap_or(Path::new("."));
        let mut builder = tempfile::Builder::new();
        builder.prefix(".neckloom-");
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(path).map_or(0o666, |meta| meta.permissions().mode());
            builder.permissions(std::fs::Permissions::from_mode(mode & 0o777));
        }
        let mut file = builder.tempfile_in(folder)?;
        file.write_all(text.as_bytes())?;
        file.as_file().sync_all()?;
        file.persist(path)?;
        // The name too must reach the disk; where folders cannot be synced that is left to the system.
        let _named = File::open(folder).and_then(|folder| folder.sync_all());
        Ok(())
    };
    go().map_err(|error| {
        Wrong::cannot(format!("{name} cannot be written: {error}"))
            .cure("see to the folder's permissions and room; the old file stays as it is, and so does the draft")
    })
}
