//! Why a call was not answered, as the page shows it.

use axum::http::{StatusCode, header};
use axum::response::{IntoResponse, Response};
use serde_json::{Value, json};

use crate::read::Faults;

/// What was wrong with a call: what was seen, the cure, and the faults of the file where those are it.
#[derive(Debug)]
pub(super) struct Wrong {
    status: StatusCode,
    says: String,
    cure: Option<String>,
    faults: Option<Box<Value>>,
    state: Option<Box<Value>>,
}

impl Wrong {
    fn new(status: StatusCode, says: impl Into<String>) -> Self {
        Self {
            status,
            says: says.into(),
            cure: None,
            faults: None,
            state: None,
        }
    }

    /// What was asked makes no sense.
    pub(super) fn asked(says: impl Into<String>) -> Self {
        Self::new(StatusCode::BAD_REQUEST, says)
    }

    /// What was asked cannot be done with this route.
    pub(super) fn cannot(says: impl Into<String>) -> Self {
        Self::new(StatusCode::UNPROCESSABLE_ENTITY, says)
    }

    /// A fault as the command line tells it: what is wrong, and indented below it the cure.
    pub(super) fn told(text: &str) -> Self {
        match text.split_once("\n    ") {
            Some((says, cure)) => Self::cannot(says).cure(cure.replace("\n    ", "\n")),
            None => Self::cannot(text),
        }
    }

    /// There is no such thing.
    pub(super) fn missing(says: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, says)
    }

    /// Somebody else was faster.
    pub(super) fn conflict(says: impl Into<String>) -> Self {
        Self::new(StatusCode::CONFLICT, says)
    }

    /// Whoever asked may not.
    pub(super) fn forbidden(says: impl Into<String>) -> Self {
        Self::new(StatusCode::FORBIDDEN, says)
    }

    /// More than is taken.
    pub(super) fn too_large(says: impl Into<String>) -> Self {
        Self::new(StatusCode::PAYLOAD_TOO_LARGE, says)
    }

    /// The program's own fault.
    pub(super) fn ours(says: impl Into<String>) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, says)
    }

    /// With what to do about it.
    pub(super) fn cure(mut self, cure: impl Into<String>) -> Self {
        self.cure = Some(cure.into());
        self
    }

    /// With the state as it is, so that the page can catch up.
    pub(super) fn with_state(mut self, state: Value) -> Self {
        self.state = Some(Box::new(state));
        self
    }

    /// As JSON: `{"says", "cure", "faults"}`.
    pub(super) fn to_json(&self) -> Value {
        json!({ "says": self.says, "cure": self.cure, "faults": self.faults })
    }
}

impl std::fmt::Display for Wrong {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.says)?;
        match &self.cure {
            Some(cure) => write!(f, "\n    {cure}"),
            None => Ok(()),
        }
    }
}

impl From<Faults> for Wrong {
    fn from(faults: Faults) -> Self {
        let count = faults.faults.len();
        let says = match faults.faults.as_slice() {
            [only] => only.message.clone(),
            _ => format!("the route file has {count} faults"),
        };
        Self {
            faults: Some(Box::new(listed(&faults))),
            ..Self::cannot(says)
        }
    }
}

/// Faults of a file as the page lists them.
pub(super) fn listed(faults: &Faults) -> Value {
    let one = |fault: &crate::read::Fault| {
        json!({
            "file": fault.file,
            "line": fault.place.map(|place| place.0),
            "column": fault.place.map(|place| place.1),
            "says": fault.message,
            "cure": fault.cure,
        })
    };
    faults.faults.iter().map(one).collect()
}

impl IntoResponse for Wrong {
    fn into_response(self) -> Response {
        let mut body = json!({ "error": self.to_json() });
        if let (Some(state), Some(fields)) = (self.state, body.as_object_mut()) {
            fields.insert("state".to_owned(), *state);
        }
        (
            self.status,
            [(header::CONTENT_TYPE, "application/json")],
            body.to_string(),
        )
            .into_response()
    }
}
