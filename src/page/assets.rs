//! The files of the page, compiled in: all that lies in `desk/`, and the typeface that the drawings use.

use std::borrow::Cow;

use axum::body::Bytes;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use rust_embed::RustEmbed;

use super::wrong::Wrong;

/// The folder of the page. A build for debugging reads it anew each time.
#[derive(RustEmbed)]
#[folder = "src/page/desk/"]
struct Desk;

/// The typeface of the drawings, which the page shares.
#[derive(RustEmbed)]
#[folder = "src/draw/font/"]
struct Typeface;

/// Where the page's head names every module, so that none waits until another that asks for it has come.
const MODULES: &str = "<!-- modules -->";

/// The page itself.
pub(super) fn page() -> Response {
    let name = "index.html";
    let Some(bytes) = bytes(name) else {
        return asset(name);
    };
    let modules = Desk::iter().filter(|file| file.ends_with(".js"));
    let links: String = modules
        .map(|file| format!("<link rel=\"modulepreload\" href=\"desk/{file}\">\n"))
        .collect();
    let text = String::from_utf8_lossy(&bytes).replace(MODULES, links.trim_end());
    served(name, text.into())
}

/// A file of the page, by its name below `desk/`.
pub(super) fn asset(name: &str) -> Response {
    match bytes(name) {
        Some(Cow::Borrowed(bytes)) => served(name, Bytes::from_static(bytes)),
        Some(Cow::Owned(bytes)) => served(name, bytes.into()),
        None => Wrong::missing(format!("the page has no file \"{name}\"")).into_response(),
    }
}

fn bytes(name: &str) -> Option<Cow<'static, [u8]>> {
    if let Some(font) = name.strip_prefix("font/") {
        return Typeface::get(font).map(|file| file.data);
    }
    // While the page itself is worked on, a program built for that reads another folder; no other has this.
    #[cfg(feature = "desk-from-folder")]
    if let Some(bytes) = from_folder(name) {
        return Some(bytes.into());
    }
    Desk::get(name).map(|file| file.data)
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
