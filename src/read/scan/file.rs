//! A scan file to its bytes.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use super::soup::ScanFault;

/// Largest scan that is read \[byte\]: some 20 million binary triangles.
const LARGEST: u64 = 1 << 30;

pub(super) fn bytes_of(path: &Path) -> Result<Vec<u8>, ScanFault> {
    let unreadable = |error: std::io::Error| match error.kind() {
        std::io::ErrorKind::NotFound => ScanFault::new(
            format!("there is no file {}", path.display()),
            "the name is relative to the route file: check the name and the folder",
        ),
        _ => ScanFault::new(
            format!("it cannot be read: {error}"),
            "check that the disk is there and the file may be read",
        ),
    };
    let meta = std::fs::metadata(path).map_err(unreadable)?;
    // A pipe may never end, a device may end the machine.
    if !meta.is_file() {
        return Err(ScanFault::new(
            format!("{} is no file", path.display()),
            "give the name of an STL, OBJ, PLY, glTF or GLB file",
        ));
    }
    let mut bytes = Vec::new();
    if meta.len() <= LARGEST {
        bytes.reserve_exact(usize::try_from(meta.len()).unwrap_or(0));
        File::open(path)
            .and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes))
            .map_err(unreadable)?;
    }
    let size = meta.len().max(bytes.len() as u64);
    if size > LARGEST {
        return Err(ScanFault::new(
            format!(
                "it has {} MB; a scan may have {} MB",
                size >> 20,
                LARGEST >> 20
            ),
            "cut out what lies near the harness, or export it coarser",
        ));
    }
    Ok(bytes)
}
