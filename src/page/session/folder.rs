//! The opened folder: what may be read, and where may be written. Paths count after links are resolved.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use crate::page::wrong::Wrong;

/// So many files of the folder are listed.
const MOST: usize = 200;
/// A scan or table larger than this is not read by a page \[byte\].
const LARGEST: u64 = 512 * 1024 * 1024;

/// A folder, links resolved.
#[derive(Debug)]
pub(in crate::page) struct Folder {
    path: PathBuf,
}

impl Folder {
    /// # Errors
    /// There is no such folder.
    pub(in crate::page) fn new(path: &Path) -> std::io::Result<Self> {
        let path = path.canonicalize()?;
        if path.is_dir() {
            Ok(Self { path })
        } else {
            Err(std::io::ErrorKind::NotADirectory.into())
        }
    }

    pub(in crate::page) fn path(&self) -> &Path {
        &self.path
    }

    /// Its own name, without what it lies in.
    pub(super) fn name(&self) -> String {
        let name = self.path.file_name().unwrap_or(self.path.as_os_str());
        name.to_string_lossy().into_owned()
    }

    /// A route file of the folder by its plain name.
    pub(super) fn existing(&self, name: &str) -> Result<PathBuf, Wrong> {
        let path = self.path.join(plain(name)?);
        let missing = || {
            Wrong::missing(format!("there is no file \"{name}\" in the opened folder"))
                .cure("choose one that is listed")
        };
        let path = path.canonicalize().map_err(|_| missing())?;
        if path.starts_with(&self.path) && path.is_file() {
            Ok(path)
        } else {
            Err(missing())
        }
    }

    /// Where a file of this plain name goes. A link that leads out of the folder is refused.
    pub(super) fn new_file(&self, name: &str) -> Result<PathBuf, Wrong> {
        let path = self.path.join(plain(name)?);
        match std::fs::symlink_metadata(&path) {
            Err(_) => Ok(path),
            Ok(_) => match path.canonicalize() {
                Ok(real) if real.starts_with(&self.path) && real.is_file() => Ok(real),
                _ => Err(
                    Wrong::forbidden(format!("\"{name}\" is no file of the opened folder"))
                        .cure("choose another name"),
                ),
            },
        }
    }

    /// Whether a file that a route names may be read: it is a file in the folder, of a size that is taken. What is not
    /// there is left to the reader to say.
    pub(super) fn may_read(&self, route: &Path, file: &str) -> Result<(), Wrong> {
        let path = route.parent().unwrap_or(&self.path).join(file);
        let refused = |why: &str| {
            Wrong::forbidden(format!("the file \"{file}\" is not read: {why}"))
                .cure("copy it into the folder of the route file and name it without a folder")
        };
        match path.canonicalize() {
            Err(_) if Path::new(file).is_absolute() || file.contains("..") => {
                Err(refused("it lies outside the opened folder"))
            }
            Err(_) => Ok(()),
            Ok(real) if !real.starts_with(&self.path) => {
                Err(refused("it lies outside the opened folder"))
            }
            Ok(real) => match real.metadata() {
                Ok(meta) if meta.len() > LARGEST => Err(refused("it is larger than 512 MB")),
                _ => Ok(()),
            },
        }
    }

    /// The route files of the folder, by name.
    pub(super) fn files(&self) -> Value {
        let entries = std::fs::read_dir(&self.path).into_iter().flatten();
        let mut names: Vec<String> = entries
            .flatten()
            .filter_map(|entry| {
                let name = entry.file_name().into_string().ok()?;
                self.existing(&name).ok().map(|_| name)
            })
            .take(MOST)
            .collect();
        names.sort();
        json!(names)
    }
}

/// A name without a folder in it, of a route file that is not hidden.
fn plain(name: &str) -> Result<&str, Wrong> {
    let bad = name.is_empty()
        || name.len() > 200
        || name.starts_with('.')
        || name.contains(['/', '\\', '\0', ':'])
        || name.chars().any(char::is_control);
    if bad {
        return Err(
            Wrong::asked(format!("\"{}\" is no plain file name", name.escape_debug()))
                .cure("give a name without a folder, such as my-bike.ron"),
        );
    }
    let ends = Path::new(name)
        .extension()
        .is_some_and(|ending| ending.eq_ignore_ascii_case("ron"));
    if ends {
        Ok(name)
    } else {
        Err(Wrong::asked(format!("\"{name}\" does not end in .ron")).cure("end the name in .ron"))
    }
}
