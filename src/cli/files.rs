//! Writing files whole or not at all.

use std::io::Write;
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::failure::Failure;

/// Writes a file: beside it first, then in its place, so that an interruption leaves the old one. What is no file, such as
/// a pipe or a device, takes the bytes and stays what it is.
pub(super) fn replace(path: &Path, bytes: &[u8]) -> Result<(), Failure> {
    let special = |found: std::fs::Metadata| !found.is_file() && !found.is_dir();
    if std::fs::metadata(path).is_ok_and(special) {
        let written = std::fs::OpenOptions::new().write(true).open(path);
        return written
            .and_then(|mut file| file.write_all(bytes))
            .map_err(|error| failure(path, error));
    }
    written_beside(path, bytes)?
        .persist(path)
        .map(|_| ())
        .map_err(|error| failure(path, error.error))
}

/// Writes several files of one folder, which is made where it is missing: all beside first, then all in their
/// places, so that what cannot be written leaves everything as it was.
pub(super) fn replace_all(
    folder: &Path,
    files: &[(&str, Vec<u8>)],
) -> Result<Vec<PathBuf>, Failure> {
    if folder.exists() && !folder.is_dir() {
        return Err(Failure::NoRoom(folder.to_owned()));
    }
    let made = !folder.exists();
    if made {
        std::fs::create_dir(folder).map_err(|error| match (error.kind(), folder.parent()) {
            (std::io::ErrorKind::NotFound, Some(above)) => Failure::NoFolder {
                path: folder.to_owned(),
                folder: above.to_owned(),
            },
            _ => failure(folder, error),
        })?;
    }
    let staged: Result<Vec<_>, Failure> = files
        .iter()
        .map(|(name, bytes)| {
            let path = folder.join(name);
            Ok((written_beside(&path, bytes)?, path))
        })
        .collect();
    let staged = match staged {
        Ok(staged) => staged,
        Err(failure) => {
            if made {
                // It is empty again; if it cannot be taken away it does no harm.
                let _gone = std::fs::remove_dir(folder);
            }
            return Err(failure);
        }
    };
    let mut written = Vec::new();
    for (file, path) in staged {
        file.persist(&path)
            .map_err(|error| failure(&path, error.error))?;
        written.push(path);
    }
    Ok(written)
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
