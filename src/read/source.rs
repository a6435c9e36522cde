//! A file to its text, or a plain reason why not.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::Faults;
use super::fault::place;

/// Largest route file that is read \[byte\]. A route file written by hand has some ten thousand; this leaves room
/// for a generated one and still refuses a scan or a film given by mistake before it fills the memory.
const LARGEST: u64 = 16 * 1024 * 1024;

/// Reads a whole file as text.
///
/// # Errors
/// A missing or unreadable file, a folder, a file that is too large or not text. `what` names the kind of file.
pub(super) fn text_of(path: &Path, what: &str) -> Result<String, Faults> {
    let name = path.display().to_string();
    let refuse = |message: String, cure: &str| Faults::of_file(&name, message, cure);
    let unreadable = |error: &std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => refuse(
            "there is no such file".to_owned(),
            "check the name and the folder; `neckloom start FILE` writes a route file to begin from",
        ),
        std::io::ErrorKind::PermissionDenied => refuse(
            "this file may not be read".to_owned(),
            "check who owns the file and its permissions",
        ),
        _ => refuse(
            format!("this file cannot be read: {error}"),
            "check that the disk is there and the file is whole",
        ),
    };
    let meta = std::fs::metadata(path).map_err(|error| unreadable(&error))?;
    if meta.is_dir() {
        return Err(refuse(
            format!("this is a folder, not a {what}"),
            &format!("give the name of a {what} in it"),
        ));
    }
    // A pipe may never end, a device may end the machine.
    if !meta.is_file() {
        return Err(refuse(
            "this is a pipe or a device, not a file".to_owned(),
            "save what comes out of it as a file and give that",
        ));
    }
    let file = File::open(path).map_err(|error| unreadable(&error))?;
    let mut bytes = Vec::new();
    // A file may grow while it is read: what counts is how much comes out of it.
    if meta.len() <= LARGEST {
        file.take(LARGEST + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| unreadable(&error))?;
    }
    let size = meta.len().max(bytes.len() as u64);
    if size > LARGEST {
        return Err(refuse(
            format!(
                "this file has {} MB; a {what} has at most {} MB",
                size.div_ceil(1024 * 1024),
                LARGEST / (1024 * 1024)
            ),
            &format!("check that it is the {what} and not a scan or a picture"),
        ));
    }
    String::from_utf8(bytes).map_err(|error| {
        let good = error.utf8_error().valid_up_to();
        let bytes = error.as_bytes();
        let cure = if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
            "it looks like text in UTF-16: save it as UTF-8".to_owned()
        } else {
            format!("give a {what}; if it is one, save it as plain text in UTF-8")
        };
        let before = String::from_utf8_lossy(&bytes[..good]);
        Faults::at(
            &name,
            place(&before, good),
            format!("this file is not text (byte {} is not UTF-8)", good + 1),
            cure,
        )
    })
}
