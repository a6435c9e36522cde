//! How a call is answered: what was asked is read as JSON, worked out on a thread that may block, and told as JSON; a panic is
//! caught.

use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::http::header;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use serde_json::Value;

use crate::quantity::Units;

use super::wrong::Wrong;

/// The body of a call, as it came.
pub(super) type Asked = Result<Bytes, BytesRejection>;

/// What was worked out, as JSON.
pub(super) fn told(answer: Result<Value, Wrong>) -> Response {
    match answer {
        Ok(value) => {
            let kind = [(header::CONTENT_TYPE, "application/json")];
            (kind, value.to_string()).into_response()
        }
        Err(wrong) => wrong.into_response(),
    }
}

/// Work on a thread that may block. A panic is ours to be ashamed of, and no reason for the page to stop.
pub(super) async fn blocking<T: Send + 'static>(
    work: impl FnOnce() -> Result<T, Wrong> + Send + 'static,
) -> Result<T, Wrong> {
    match tokio::task::spawn_blocking(work).await {
        Ok(done) => done,
        Err(_) => Err(Wrong::ours("the program made a mistake here, and goes on")
            .cure("undo the last step; nothing of what you did is lost")),
    }
}

/// What was asked, as JSON.
pub(super) fn asked<T: for<'de> Deserialize<'de>>(body: Asked) -> Result<T, Wrong> {
    let body = body.map_err(|_| {
        Wrong::too_large("what was sent is too large, or was cut off").cure("16 MB are taken")
    })?;
    serde_json::from_slice(&body)
        .map_err(|error| Wrong::asked(format!("what was asked cannot be read: {error}")))
}

/// Units by their name on the command line.
pub(super) fn units_of(name: Option<&str>) -> Result<Units, Wrong> {
    match name {
        None | Some("mm") => Ok(Units::METRIC),
        Some("inch") => Ok(Units::INCH),
        Some(other) => {
            Err(Wrong::asked(format!("there are no units \"{other}\""))
                .cure("ask for `mm` or `inch`"))
        }
    }
}
