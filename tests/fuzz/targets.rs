//! What reads bytes that a person, a scanner or a page gives: one function a kind of input. None may panic, hang, or
//! take what cannot be used. `tests/fuzz/mod.rs` runs them over the corpus and its mutations; `cargo fuzz` runs them
//! for as long as one likes.

use std::io::{Read, Write};
use std::net::{SocketAddr, TcpStream};
use std::path::PathBuf;
use std::sync::OnceLock;
use std::sync::mpsc;
use std::time::{Duration, Instant};

use neckloom::check::{Options, check, report};
use neckloom::geometry::Surface;
use neckloom::page::{Listening, Serving, serve};
use neckloom::quantity::{Accepts, Kind, Units, parse};
use neckloom::read::{
    Faults, ScanFormat, changed_text, edited_text, files_named, named_points, places_table,
    places_text, route_text, scan_bytes, title_of,
};
use neckloom::rod::{Settings, solve};
use serde_json::Value;

/// Longer than any answer may take.
const LONGEST: Duration = Duration::from_secs(60);

/// The text of a route file; what is read as a route is written again and read the same.
pub(crate) fn route_file(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let _ = (title_of(text), files_named(text));
    let _ = named_points(text, "fuzzed.ron");
    if let Err(faults) = places_text(text, "fuzzed.ron") {
        sound(&faults, text);
    }
    match route_text(text, "fuzzed.ron") {
        Err(faults) => sound(&faults, text),
        Ok(route) => {
            let same = edited_text(text, "fuzzed.ron", &route);
            assert!(same.is_err() || same.is_ok_and(|same| same == text));
            for change in &route.changes {
                let _ = changed_text(text, "fuzzed.ron", change, 0.5);
            }
        }
    }
}

/// The text of a route file, checked: whatever machine it says, there is an answer before anyone would take it for stuck.
pub(crate) fn checked(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    let Ok(route) = route_text(text, "fuzzed.ron") else {
        return;
    };
    let begun = Instant::now();
    let solution = solve(&route, &Settings::default());
    let findings = check(&route, &solution, &Options::default());
    assert!(report(&route, &solution, &findings).is_object());
    assert!(begun.elapsed() < LONGEST, "{:?}", begun.elapsed());
}

/// Every fault says something, in order, at a place that is there.
fn sound(faults: &Faults, text: &str) {
    assert!(!faults.faults.is_empty());
    let lines = 1 + text.matches('\n').count();
    for fault in &faults.faults {
        assert!(!fault.message.is_empty());
        if let Some((line, column)) = fault.place {
            assert!((1..=lines).contains(&line) && column >= 1, "{faults}");
        }
    }
}

/// An STL.
pub(crate) fn stl(data: &[u8]) {
    scan(ScanFormat::Stl, data);
}

/// An OBJ.
pub(crate) fn obj(data: &[u8]) {
    scan(ScanFormat::Obj, data);
}

/// A PLY.
pub(crate) fn ply(data: &[u8]) {
    scan(ScanFormat::Ply, data);
}

/// A glTF or a GLB.
pub(crate) fn gltf(data: &[u8]) {
    scan(ScanFormat::Gltf, data);
}

/// What is read of a scan is finite, no larger than its file, and can be indexed.
fn scan(format: ScanFormat, data: &[u8]) {
    let Ok(soup) = scan_bytes(format, data, None) else {
        return;
    };
    assert!(soup.points.len() <= data.len());
    assert!(soup.points.iter().flatten().all(|c| c.is_finite()));
    let points: Vec<_> = soup.points.iter().map(|p| (*p).into()).collect();
    let surface = if soup.triangles.is_empty() {
        Surface::of_points(&points)
    } else {
        Surface::of_triangles(&points, &soup.triangles)
    };
    if let Ok(surface) = surface {
        let (low, high) = surface.frame();
        assert!(low.iter().chain(high.iter()).all(|c| c.is_finite()));
    }
}

/// A table of points and taped readings.
pub(crate) fn table(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    if let Err(faults) = places_table(text, "fuzzed.csv") {
        sound(&faults, text);
    }
}

/// A number with its unit, of every kind; what is taken is finite, as accepted, and can be shown.
pub(crate) fn quantities(data: &[u8]) {
    let Ok(text) = std::str::from_utf8(data) else {
        return;
    };
    for kind in [
        Kind::Length,
        Kind::Angle,
        Kind::Temperature,
        Kind::Force,
        Kind::Torque,
        Kind::Pressure,
        Kind::Ratio,
        Kind::Area,
        Kind::BendingStiffness,
        Kind::MassPerLength,
        Kind::Current,
        Kind::Voltage,
        Kind::Resistance,
        Kind::TwistRate,
    ] {
        for accepts in [Accepts::Any, Accepts::NotNegative, Accepts::Positive] {
            match parse(text, kind, accepts) {
                Ok(value) => {
                    assert!(value.is_finite());
                    // Below zero a temperature is as good as above.
                    let accepts = match kind {
                        Kind::Temperature => Accepts::Any,
                        _ => accepts,
                    };
                    let below = value < 0.0 && accepts != Accepts::Any;
                    assert!(!below && (value > 0.0 || accepts != Accepts::Positive));
                }
                Err(error) => assert!(!error.to_string().is_empty() && !error.cure().is_empty()),
            }
        }
    }
    if let Ok(length) = parse(text, Kind::Length, Accepts::Any) {
        for units in [Units::METRIC, Units::INCH] {
            assert!(!units.show(length, Kind::Length).is_empty());
        }
    }
}

/// The calls that take a body. The first byte of the data says which; the first `"rev":0` becomes the present revision.
const CALLS: [&str; 9] = [
    "open",
    "edit",
    "try",
    "undo",
    "redo",
    "undo_to",
    "save",
    "take_disk",
    "ask",
];

/// A request of the page, put to a server in this process that has the starter route open. The server's own word that it
/// made a mistake (a panic that was caught) is one.
pub(crate) fn requests(data: &[u8]) {
    let Some((&call, body)) = data.split_first() else {
        return;
    };
    let call = CALLS[usize::from(call) % CALLS.len()];
    let page = Page::here();
    let state = page.post("open", br#"{"blank":true}"#);
    let state: Value = serde_json::from_slice(&state.1).expect("the state is JSON");
    let now = format!("\"rev\":{}", state["rev"]);
    let body = match body.windows(7).position(|w| w == b"\"rev\":0") {
        Some(at) => [&body[..at], now.as_bytes(), &body[at + 7..]].concat(),
        None => body.to_vec(),
    };
    let (status, answer) = page.post(call, &body);
    mistaken(call, status, &answer);
    if call == "ask" && status == 200 {
        let job: Value = serde_json::from_slice(&answer).expect("a job is JSON");
        let id = job["job"].as_u64().expect("a job has a number");
        // What takes long is not waited for; that it ends when told is part of the test.
        if !body.windows(10).any(|w| w == b"\"estimate\"") {
            page.post(&format!("job/{id}/cancel"), b"{}");
        }
        let (status, answer) = page.send("GET", &format!("job/{id}"), b"");
        mistaken("job", status, &answer);
    }
    if matches!(call, "edit" | "open") && status == 200 {
        let (status, answer) = page.send("GET", "scene", b"");
        mistaken("scene", status, &answer);
    }
}

fn mistaken(call: &str, status: u16, answer: &[u8]) {
    let text = String::from_utf8_lossy(answer);
    assert!(
        (200..500).contains(&status) && !text.contains("the program made a mistake"),
        "{call}: {status} {text}"
    );
}

/// The server of this process, in a folder that is empty.
struct Page {
    address: SocketAddr,
    token: String,
}

impl Page {
    fn here() -> &'static Self {
        static PAGE: OnceLock<Page> = OnceLock::new();
        PAGE.get_or_init(|| {
            let folder =
                std::env::temp_dir().join(format!("neckloom-requests-{}", std::process::id()));
            std::fs::create_dir_all(&folder).expect("a folder for the page");
            let route = folder.join("a.ron");
            std::fs::write(&route, neckloom::read::starter()).expect("a route file for the page");
            let (told, listening) = mpsc::channel();
            std::thread::spawn(move || Self::serve(route, &told));
            let Listening { address, url } = listening.recv().expect("the page listens");
            let token = url.trim_end_matches('/').rsplit('/').next();
            Self {
                address,
                token: token.unwrap_or_default().to_owned(),
            }
        })
    }

    fn serve(route: PathBuf, told: &mpsc::Sender<Listening>) {
        let serving = Serving {
            route: Some(route),
            ..Serving::default()
        };
        let ready = |listening: &Listening| told.send(listening.clone()).expect("someone waits");
        serve(
            &serving,
            neckloom::cli::answers(),
            ready,
            std::future::pending(),
        )
        .expect("the page is served");
    }

    fn post(&self, call: &str, body: &[u8]) -> (u16, Vec<u8>) {
        self.send("POST", call, body)
    }

    /// Status and what follows the head of an answer.
    fn send(&self, method: &str, call: &str, body: &[u8]) -> (u16, Vec<u8>) {
        let host = self.address;
        let head = format!(
            "{method} /{}/api/{call} HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nConnection: close\r\n\
             Content-Type: application/json\r\nContent-Length: {}\r\n\r\n",
            self.token,
            body.len(),
        );
        let mut stream = TcpStream::connect(host).expect("the page is reached");
        stream
            .set_read_timeout(Some(LONGEST))
            .expect("a limit of time is set");
        stream
            .write_all(&[head.as_bytes(), body].concat())
            .expect("the page takes what is sent");
        let mut answer = Vec::new();
        stream
            .read_to_end(&mut answer)
            .unwrap_or_else(|error| panic!("{call} was not answered in time: {error}"));
        let end = answer.windows(4).position(|w| w == b"\r\n\r\n");
        let end = end.expect("an answer has a head") + 4;
        let status = String::from_utf8_lossy(&answer[9..12]).parse();
        (
            status.expect("an answer has a status"),
            answer[end..].to_vec(),
        )
    }
}
