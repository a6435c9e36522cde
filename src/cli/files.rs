//! Writing files whole or not at all.

use std::io::Write;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::failure::Failure;

/// Writes a file: beside it first, then in its place, so that an interruption leaves the old one.
pub(super) fn replace(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    written_beside(path, bytes)?
        .persist(path)
        .map(|_| ())
        .map_err(|error| failure(path, error.error))
}

/// Writes a file that must not be there yet.
pub(super) fn create(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    written_beside(path, bytes)?
        .persist_noclobber(path)
        .map(|_| ())
        .map_err(|error| match error.error.kind() {
            std::io::ErrorKind::AlreadyExists => Failure::Exists(path.to_owned()),
            _ => failure(path, error.error),
        })
}

fn written_beside(path: &Path, bytes: &[u8]) -> Result<NamedTempFile, Failure> {
    if path.is_dir() {
        return Err(Failure::Folder(path.to_owned()));
    }
    let folder = match path.parent() {
        Some(folder) if folder != Path::new("") => folder,
        _ => Path::new("."),
    };
    if !folder.is_dir() {
        return Err(Failure::NoFolder {
            path: path.to_owned(),
            folder: folder.to_owned(),
        });
    }
    let mut builder = tempfile::Builder::new();
    builder.prefix(".neckloom-");
    // As an ordinary new file would be, not for the owner's eyes alone.
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let write = || {
        let mut file = builder.tempfile_in(folder)?;
        file.write_all(bytes)?;
        file.as_file().sync_all()?;
        Ok(file)
    };
    write().map_err(|error| failure(path, error))
}

fn failure(path: &Path, source: std::io::Error) -> Failure {
    Failure::Write {
        path: PathBuf::from(path),
        source,
    }
}
