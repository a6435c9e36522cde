//! Answers made smaller on the way, where whoever asks can unpack them.
//!
//! Only what is there as a whole is: what is told line by line goes out as it comes.

use axum::body::{Body, HttpBody, to_bytes};
use axum::extract::Request;
use axum::http::header::{ACCEPT_ENCODING, CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_TYPE, VARY};
use axum::http::{HeaderMap, HeaderValue};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};
use miniz_oxide::deflate::compress_to_vec_zlib;

use super::wrong::Wrong;

/// Shorter answers fit into a few packets as they are.
const LEAST: u64 = 4096;
/// Longer ones are no text that a page would ask for.
const MOST: u64 = 256 << 20;
/// Of ten: most of what can be gained, at a hundred megabytes a second.
const LEVEL: u8 = 2;

/// Packs the answer to a request.
pub(super) async fn smaller(request: Request, next: Next) -> Response {
    let wanted = takes_deflate(request.headers());
    let answer = next.run(request).await;
    let length = answer.body().size_hint().exact();
    let packed = answer.headers().contains_key(CONTENT_ENCODING);
    let fits = length.is_some_and(|length| (LEAST..MOST).contains(&length));
    if !wanted || packed || !fits || !is_loose(answer.headers()) {
        return answer;
    }
    let (mut head, body) = answer.into_parts();
    let most = usize::try_from(MOST).unwrap_or(usize::MAX);
    let Ok(bytes) = to_bytes(body, most).await else {
        return Wrong::ours("an answer was cut off").into_response();
    };
    let work = tokio::task::spawn_blocking(move || compress_to_vec_zlib(&bytes, LEVEL));
    let Ok(bytes) = work.await else {
        return Wrong::ours("an answer could not be packed").into_response();
    };
    head.headers.remove(CONTENT_LENGTH);
    head.headers
        .insert(CONTENT_ENCODING, HeaderValue::from_static("deflate"));
    head.headers
        .append(VARY, HeaderValue::from_static("accept-encoding"));
    Response::from_parts(head, Body::from(bytes))
}

/// Whether the one who asks takes what is packed so (RFC 9110, section 12.5.3), and has not said that it does not.
fn takes_deflate(headers: &HeaderMap) -> bool {
    let given = headers.get_all(ACCEPT_ENCODING).iter();
    let words = given.filter_map(|value| value.to_str().ok());
    words.flat_map(|words| words.split(',')).any(|coding| {
        let mut parts = coding.split(';').map(str::trim);
        let name = parts.next().unwrap_or_default();
        let refused = parts.any(|part| {
            let weight = part.strip_prefix("q=");
            weight.is_some_and(|q| q.parse::<f32>().is_ok_and(|q| q <= 0.0))
        });
        name.eq_ignore_ascii_case("deflate") && !refused
    })
}

/// Whether an answer is of a kind that can be packed; pictures are already.
fn is_loose(headers: &HeaderMap) -> bool {
    let kind = headers
        .get(CONTENT_TYPE)
        .and_then(|kind| kind.to_str().ok());
    kind.is_some_and(|kind| {
        ["text/", "application/json", "image/svg+xml", "font/ttf"]
            .iter()
            .any(|loose| kind.starts_with(loose))
    })
}
