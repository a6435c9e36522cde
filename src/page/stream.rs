//! Answers that come line by line: JSON, one value a line. Whoever stops listening ends the work.

use std::pin::Pin;
use std::sync::Arc;
use std::task::{Context, Poll};

use axum::body::{Body, Bytes};
use axum::http::header;
use axum::response::{IntoResponse, Response};
use futures_core::Stream;
use serde_json::{Value, json};
use tokio::sync::mpsc;

use crate::read::Faults;
use crate::rod::Halting;

use super::answering::blocking;
use super::wrong::Wrong;

/// Lines that wait to be taken.
const WAITING: usize = 8;

/// Where lines are told.
#[derive(Debug, Clone)]
pub(super) struct Teller(mpsc::Sender<Bytes>);

/// Nobody listens any more.
#[derive(Debug)]
pub(super) struct Gone;

impl Teller {
    /// Tells a line; waits while the listener is behind.
    pub(super) fn tell(&self, value: &Value) -> Result<(), Gone> {
        let mut line = value.to_string();
        line.push('\n');
        self.0.blocking_send(line.into()).map_err(|_| Gone)
    }
}

/// The lines as they are told. Dropped, finished or not, it ends the work.
struct Lines {
    told: mpsc::Receiver<Bytes>,
    halting: Option<Arc<Halting>>,
}

impl Stream for Lines {
    type Item = Result<Bytes, std::convert::Infallible>;

    fn poll_next(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<Option<Self::Item>> {
        self.told.poll_recv(context).map(|line| line.map(Ok))
    }
}

impl Drop for Lines {
    fn drop(&mut self) {
        if let Some(halting) = &self.halting {
            halting.ask();
        }
    }
}

/// An answer line by line. The work ends with `{"done": true}` or `{"error": ..}`, unless nobody listens.
pub(super) fn lines(
    halting: Arc<Halting>,
    work: impl FnOnce(&Teller) -> Result<(), Stopped> + Send + 'static,
) -> Response {
    let (sender, told) = mpsc::channel(WAITING);
    let teller = Teller(sender);
    tokio::spawn(async move {
        let last = teller.clone();
        let done = blocking(move || match work(&teller) {
            Err(Stopped::Wrong(wrong)) => Err(wrong),
            Ok(()) | Err(Stopped::Gone) => Ok(()),
        })
        .await;
        let line = match done {
            Ok(()) => json!({ "done": true }),
            Err(wrong) => json!({ "error": wrong.to_json() }),
        };
        // Where nobody listens any more there is nobody to tell.
        let _told = last.0.send(format!("{line}\n").into()).await;
    });
    answered(Lines {
        told,
        halting: Some(halting),
    })
}

/// Lines that go on whether anybody listens or not.
pub(super) fn rows(told: mpsc::Receiver<Bytes>) -> Response {
    answered(Lines {
        told,
        halting: None,
    })
}

fn answered(lines: Lines) -> Response {
    let body = Body::from_stream(lines);
    ([(header::CONTENT_TYPE, "application/x-ndjson")], body).into_response()
}

/// Why a stream ends early.
#[derive(Debug)]
pub(super) enum Stopped {
    /// Nobody listens.
    Gone,
    /// Something is wrong.
    Wrong(Wrong),
}

impl From<Gone> for Stopped {
    fn from(_: Gone) -> Self {
        Self::Gone
    }
}

impl From<Wrong> for Stopped {
    fn from(wrong: Wrong) -> Self {
        Self::Wrong(wrong)
    }
}

impl From<Faults> for Stopped {
    fn from(faults: Faults) -> Self {
        Self::Wrong(faults.into())
    }
}
