//! A server that was started, and a client of a few lines: one request a connection.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use serde_json::{Value, json};

use crate::cli::run::Folder;

/// A small machine, checked in no time: one lead across a steering head.
pub(crate) const SMALL: &str = include_str!("../../routes/bend_radius_within.ron");
/// The same with a limit broken.
pub(crate) const SHARP: &str = include_str!("../../routes/bend_radius_over.ron");

/// The program, serving; it ends with this.
pub(crate) struct Server {
    child: Child,
    pub(crate) address: String,
    pub(crate) token: String,
}

/// An answer.
pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: Vec<u8>,
}

impl Answer {
    pub(crate) fn json(&self) -> Value {
        serde_json::from_slice(&self.body)
            .unwrap_or_else(|_| panic!("no JSON: {}", String::from_utf8_lossy(&self.body)))
    }

    /// The JSON of an answer that went well.
    #[track_caller]
    pub(crate) fn good(&self) -> Value {
        let text = String::from_utf8_lossy(&self.body);
        assert_eq!(self.status, 200, "{text}");
        self.json()
    }

    /// What a refused call says, with this status.
    #[track_caller]
    pub(crate) fn refused(&self, status: u16) -> String {
        let text = String::from_utf8_lossy(&self.body);
        assert_eq!(self.status, status, "{text}");
        self.json()["error"]["says"].as_str().unwrap().to_owned()
    }
}

impl Server {
    /// Serves a file of a folder, or the folder.
    pub(crate) fn start(folder: &Folder, file: Option<&str>) -> Self {
        Self::start_in(&folder.path("."), file)
    }

    pub(crate) fn start_in(folder: &Path, file: Option<&str>) -> Self {
        let mut command = Command::new(env!("CARGO_BIN_EXE_neckloom"));
        command.current_dir(folder).args(["page", "--quiet"]);
        command.args(file);
        let mut child = command
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut line = String::new();
        let out = child.stdout.take().unwrap();
        BufReader::new(out).read_line(&mut line).unwrap();
        let rest = line.trim().strip_prefix("http://").unwrap_or_else(|| {
            panic!("one line with the address is printed, not {line:?}");
        });
        let (address, token) = rest.split_once('/').unwrap();
        Self {
            child,
            address: address.to_owned(),
            token: token.trim_matches('/').to_owned(),
        }
    }

    /// Ends it as a power cut would: without a word.
    pub(crate) fn kill(mut self) {
        self.child.kill().unwrap();
        self.child.wait().unwrap();
    }

    pub(crate) fn get(&self, call: &str) -> Answer {
        self.send(&self.request("GET", call, ""))
    }

    pub(crate) fn post(&self, call: &str, body: &Value) -> Answer {
        self.send(&self.request("POST", call, &body.to_string()))
    }

    pub(crate) fn state(&self) -> Value {
        self.get("api/state").good()
    }

    pub(crate) fn rev(&self) -> u64 {
        self.state()["rev"].as_u64().unwrap()
    }

    pub(crate) fn text(&self) -> String {
        self.get("api/text").good()["text"]
            .as_str()
            .unwrap()
            .to_owned()
    }

    /// Makes one edit on the present revision.
    pub(crate) fn edit(&self, edit: &Value) -> Answer {
        self.post("api/edit", &json!({ "rev": self.rev(), "edits": [edit] }))
    }

    /// A request as the page makes it.
    pub(crate) fn request(&self, method: &str, call: &str, body: &str) -> String {
        format!(
            "{method} /{}/{call} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
            self.token,
            body.len(),
            host = self.address,
        )
    }

    pub(crate) fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.address).unwrap();
        stream
            .set_read_timeout(Some(Duration::from_secs(300)))
            .unwrap();
        stream
    }

    /// Sends a request as it stands.
    pub(crate) fn send(&self, request: &str) -> Answer {
        let mut stream = self.connect();
        // What is refused early may be answered before all of it was sent.
        let _sent = stream.write_all(request.as_bytes());
        let mut all = Vec::new();
        let _read = stream.read_to_end(&mut all);
        let end = all.windows(4).position(|w| w == b"\r\n\r\n");
        let end = end.unwrap_or_else(|| panic!("no answer: {}", String::from_utf8_lossy(&all)));
        let head = String::from_utf8_lossy(&all[..end]).to_lowercase();
        let status = head.split(' ').nth(1).unwrap().parse().unwrap();
        let body = &all[end + 4..];
        let body = if head.contains("transfer-encoding: chunked") {
            unchunked(body)
        } else {
            body.to_vec()
        };
        Answer { status, head, body }
    }

    /// The lines of an answer that comes line by line.
    pub(crate) fn lines(&self, request: &str) -> Vec<Value> {
        let answer = self.send(request);
        let text = String::from_utf8(answer.body).unwrap();
        assert_eq!(answer.status, 200, "{text}");
        text.lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // It may have been killed already.
        let _gone = self.child.kill();
        let _waited = self.child.wait();
    }
}

fn unchunked(mut rest: &[u8]) -> Vec<u8> {
    let mut body = Vec::new();
    while let Some(end) = rest.windows(2).position(|w| w == b"\r\n") {
        let size = std::str::from_utf8(&rest[..end]).unwrap();
        let size = usize::from_str_radix(size.split(';').next().unwrap().trim(), 16).unwrap();
        let from = end + 2;
        if size == 0 || rest.len() < from + size {
            break;
        }
        body.extend_from_slice(&rest[from..from + size]);
        rest = rest.get(from + size + 2..).unwrap_or_default();
    }
    body
}
