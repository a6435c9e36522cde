//! The files of the page, compiled in.

use axum::body::Bytes;
use axum::http::header;
use axum::response::{IntoResponse, Response};

use super::wrong::Wrong;

/// One file of the page.
struct Asset {
    name: &'static str,
    bytes: &'static [u8],
}

/// The files of `desk/` that are served, by their names there.
macro_rules! desk {
    ($($name:literal,)*) => {
        &[$(Asset { name: $name, bytes: include_bytes!(concat!("desk/", $name)) },)*]
    };
}

/// A new file of the page is added here.
const DESK: &[Asset] = desk! {
    "index.html",
};

/// A file of the page.
pub(super) fn asset(name: &str) -> Response {
    // While the page itself is worked on its files are read anew each time; no release has this.
    #[cfg(feature = "desk-from-folder")]
    if let Some(bytes) = from_folder(name) {
        return served(name, bytes.into());
    }
    match DESK.iter().find(|asset| asset.name == name) {
        Some(asset) => served(name, Bytes::from_static(asset.bytes)),
        None => Wrong::missing(format!("the page has no file \"{name}\"")).into_response(),
    }
}

#[cfg(feature = "desk-from-folder")]
fn from_folder(name: &str) -> Option<Vec<u8>> {
    let folder = std::path::PathBuf::from(std::env::var_os("NECKLOOM_DESK")?);
    let folder = folder.canonicalize().ok()?;
    let path = folder.join(name).canonicalize().ok()?;
    path.starts_with(&folder)
        .then(|| std::fs::read(path).ok())
        .flatten()
}

fn served(name: &str, bytes: Bytes) -> Response {
    ([(header::CONTENT_TYPE, kind(name))], bytes).into_response()
}

/// The media type by a name's ending.
fn kind(name: &str) -> &'static str {
    match name.rsplit('.').next().unwrap_or_default() {
        "html" => "text/html; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "woff2" => "font/woff2",
        "ttf" => "font/ttf",
        "json" | "webmanifest" => "application/json",
        _ => "text/plain; charset=utf-8",
    }
}
