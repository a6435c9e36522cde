//! Who may ask: only the page itself, by its token, from this machine's own address.
//!
//! The token stands in the address, so that no other program's page can guess it. `Host` must be the address that the
//! server listens on: a foreign name that was made to lead here (DNS rebinding) is refused. A call that a browser makes
//! from another origin is refused by `Origin` and `Sec-Fetch-Site`; what changes something must also come as JSON, which a
//! foreign form cannot send.

use std::net::SocketAddr;

use axum::extract::{Request, State};
use axum::http::{HeaderMap, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::wrong::Wrong;

/// Bytes of the token; twice as many letters.
const TOKEN: usize = 20;

/// What a call must show.
#[derive(Debug, Clone)]
pub(super) struct Guard {
    token: String,
    hosts: Vec<String>,
}

impl Guard {
    /// A guard with a new random token, for a server at this address.
    pub(super) fn new(address: SocketAddr) -> Result<Self, getrandom::Error> {
        let mut random = [0_u8; TOKEN];
        getrandom::fill(&mut random)?;
        let token = random.iter().map(|byte| format!("{byte:02x}")).collect();
        let port = address.port();
        let mut hosts = vec![address.to_string()];
        if address.ip().is_loopback() {
            hosts.push(format!("localhost:{port}"));
        }
        Ok(Self { token, hosts })
    }

    pub(super) fn token(&self) -> &str {
        &self.token
    }

    fn check(&self, request: &Request) -> Result<(), Wrong> {
        let headers = request.headers();
        let host = one(headers, header::HOST);
        if !host.is_some_and(|host| self.hosts.iter().any(|own| own == host)) {
            return Err(Wrong::forbidden(
                "this is not the address that was asked for",
            ));
        }
        let path = request.uri().path();
        let token = path.trim_start_matches('/').split('/').next();
        if !same(token.unwrap_or_default().as_bytes(), self.token.as_bytes()) {
            return Err(Wrong::forbidden("the address lacks its token")
                .cure("use the whole address that the program printed"));
        }
        let own = |origin: &str| {
            origin
                .strip_prefix("http://")
                .is_some_and(|host| self.hosts.iter().any(|own| own == host))
        };
        if headers.contains_key(header::ORIGIN) && !one(headers, header::ORIGIN).is_some_and(own) {
            return Err(Wrong::forbidden("another page asked"));
        }
        let site = one(headers, header::HeaderName::from_static("sec-fetch-site"));
        // A person who follows a link or types the address asks for the page itself, and for nothing else.
        let opens = path == format!("/{}/", self.token);
        if site.is_some_and(|site| site != "same-origin" && !(opens && site == "none")) {
            return Err(Wrong::forbidden("another page asked"));
        }
        match *request.method() {
            Method::GET | Method::HEAD => Ok(()),
            Method::POST => {
                let kind = one(headers, header::CONTENT_TYPE).unwrap_or_default();
                if kind.split(';').next().map(str::trim) == Some("application/json") {
                    Ok(())
                } else {
                    Err(Wrong::forbidden("what changes something is asked in JSON"))
                }
            }
            _ => Err(Wrong::forbidden("only GET and POST are answered")),
        }
    }
}

/// The only value of a header; none where there is none, or more than one.
fn one(headers: &HeaderMap, name: header::HeaderName) -> Option<&str> {
    let mut all = headers.get_all(name).iter();
    match (all.next(), all.next()) {
        (Some(value), None) => value.to_str().ok(),
        _ => None,
    }
}

/// Whether two texts are the same, in a time that does not tell where they differ.
fn same(a: &[u8], b: &[u8]) -> bool {
    a.len() == b.len() && a.iter().zip(b).fold(0, |sum, (a, b)| sum | (a ^ b)) == 0
}

/// What every answer carries: nothing foreign is loaded, run or sent to, no frame shows it, nothing is guessed or kept.
const HEADERS: [(&str, &str); 8] = [
    (
        "content-security-policy",
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; \
         connect-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'; \
         object-src 'none'",
    ),
    ("x-content-type-options", "nosniff"),
    ("x-frame-options", "DENY"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    (
        "permissions-policy",
        "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
    ),
    ("cache-control", "no-store"),
];

/// Lets a call through, or says why not.
pub(super) async fn guarded(State(guard): State<Guard>, request: Request, next: Next) -> Response {
    let mut response = match guard.check(&request) {
        Ok(()) => next.run(request).await,
        Err(wrong) => wrong.into_response(),
    };
    let headers = response.headers_mut();
    for (name, value) in HEADERS {
        headers.insert(
            header::HeaderName::from_static(name),
            HeaderValue::from_static(value),
        );
    }
    response
}
