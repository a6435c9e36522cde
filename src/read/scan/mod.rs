//! Scan files: STL, OBJ, PLY, glTF and GLB to corners and triangles, checked, and how a route file places them.
//!
//! Files come from everywhere and lie: counts that the file has no room for, corners that do not exist, numbers that are
//! none, triangles without a surface. Each is an error or is counted and told; none stops the program or is passed
//! over in silence.

mod file;
mod gltf;
mod gltf_document;
mod known;
mod obj;
mod part;
mod placing;
mod ply;
mod soup;
mod stl;
mod text;

use std::path::Path;

pub(super) use part::scan;
pub use soup::{ScanFault, Soup};

/// Formats of scan files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ScanFormat {
    /// STL, text or binary.
    Stl,
    /// OBJ.
    Obj,
    /// PLY, text or binary.
    Ply,
    /// glTF 2.0, or the same in one file (GLB).
    Gltf,
}

impl ScanFormat {
    /// The format that a file's name says.
    pub fn of(path: &Path) -> Option<Self> {
        let end = path.extension()?.to_str()?.to_ascii_lowercase();
        Some(match end.as_str() {
            "stl" => Self::Stl,
            "obj" => Self::Obj,
            "ply" => Self::Ply,
            "gltf" | "glb" => Self::Gltf,
            _ => return None,
        })
    }
}

/// Reads a scan file.
///
/// # Errors
/// A file that is missing, too large, of no known format, damaged or empty.
pub fn scan_file(path: &Path) -> Result<Soup, ScanFault> {
    let format = ScanFormat::of(path).ok_or_else(|| {
        ScanFault::new(
            format!(
                "\"{}\" does not end in .stl, .obj, .ply, .gltf or .glb",
                path.display()
            ),
            "export the scan in one of these formats",
        )
    })?;
    scan_bytes(format, &file::bytes_of(path)?, path.parent())
}

/// Reads the bytes of a scan file; `folder` is where a glTF may have further files.
///
/// # Errors
/// As [`scan_file`].
pub fn scan_bytes(
    format: ScanFormat,
    bytes: &[u8],
    folder: Option<&Path>,
) -> Result<Soup, ScanFault> {
    if bytes.is_empty() {
        return Err(ScanFault::damaged("it is empty"));
    }
    match format {
        ScanFormat::Stl => stl::read(bytes),
        ScanFormat::Obj => obj::read(bytes),
        ScanFormat::Ply => ply::read(bytes),
        ScanFormat::Gltf => gltf::read(bytes, folder),
    }?
    .checked()
}
