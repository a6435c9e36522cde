//! A browser, driven over its own debugging wire: a few calls of its developers' protocol, JSON over a web socket.

use std::io::{BufRead, BufReader};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::{Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::{Value, json};
use tempfile::TempDir;
use tungstenite::stream::MaybeTlsStream;
use tungstenite::{Message, WebSocket};

/// The longest that anything on the page may take, on a machine that is busy with other tests.
const PATIENCE: Duration = Duration::from_secs(120);

/// A page in a browser of its own; both end with this.
pub(crate) struct Page {
    child: Child,
    socket: WebSocket<MaybeTlsStream<TcpStream>>,
    session: String,
    next: u64,
    /// What the page wrote to its console as an error, and what it threw.
    pub(crate) complaints: Vec<String>,
    _profile: TempDir,
    _turn: MutexGuard<'static, ()>,
}

/// One browser at a time: each draws in software and takes what processors there are.
static TURN: Mutex<()> = Mutex::new(());

/// The browser's program; installed where it is missing and that can be done. `None`: the test did not run.
fn program() -> Option<&'static str> {
    static FOUND: OnceLock<Option<&str>> = OnceLock::new();
    *FOUND.get_or_init(|| {
        let there = |name: &&str| {
            let asked = Command::new(name)
                .arg("--version")
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status();
            asked.is_ok_and(|status| status.success())
        };
        let names = ["chromium", "chromium-browser"];
        names.into_iter().find(there).or_else(|| {
            let installed = Command::new("apt-get")
                .args(["install", "-y", "chromium"])
                .env("DEBIAN_FRONTEND", "noninteractive")
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .status();
            if installed.is_ok_and(|status| status.success()) {
                return names.into_iter().find(there);
            }
            println!("DID NOT RUN: there is no chromium here, and `apt-get install chromium` could not put one");
            None
        })
    })
}

impl Page {
    /// A browser with an empty page of this size.
    pub(crate) fn open(width: u32, height: u32) -> Option<Self> {
        Self::open_with(
            width,
            height,
            &["--use-angle=swiftshader", "--enable-unsafe-swiftshader"],
        )
    }

    /// The same with options of the browser of its own.
    pub(crate) fn open_with(width: u32, height: u32, options: &[&str]) -> Option<Self> {
        let program = program()?;
        let turn = TURN.lock().unwrap_or_else(PoisonError::into_inner);
        let profile = TempDir::new().unwrap();
        let mut child = Command::new(program)
            .args([
                "--headless",
                "--no-sandbox",
                "--disable-quic",
                "--no-first-run",
                "--disable-background-networking",
                "--disable-component-update",
                "--disable-sync",
                "--remote-debugging-port=0",
                "--lang=en",
            ])
            .args(options)
            .arg(format!("--user-data-dir={}", profile.path().display()))
            .stdout(Stdio::null())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        let mut told = BufReader::new(child.stderr.take().unwrap());
        let address = loop {
            let mut line = String::new();
            assert!(told.read_line(&mut line).unwrap() > 0, "the browser ended");
            if let Some((_, address)) = line.split_once("listening on ") {
                break address.trim().to_owned();
            }
        };
        // What it goes on to say must be read, or it waits.
        std::thread::spawn(move || told.lines().for_each(drop));
        let (socket, _) = tungstenite::connect(&address).unwrap();
        if let MaybeTlsStream::Plain(stream) = socket.get_ref() {
            stream.set_read_timeout(Some(PATIENCE)).unwrap();
        }
        let mut page = Self {
            child,
            socket,
            session: String::new(),
            next: 0,
            complaints: Vec::new(),
            _profile: profile,
            _turn: turn,
        };
        let target = page.call("Target.createTarget", json!({ "url": "about:blank" }));
        let attach = json!({ "targetId": target["targetId"], "flatten": true });
        let session = page.call("Target.attachToTarget", attach);
        page.session = session["sessionId"].as_str().unwrap().to_owned();
        for domain in ["Page.enable", "Runtime.enable", "Log.enable"] {
            page.call(domain, json!({}));
        }
        // A page in the background gets no keys and hardly any frames.
        page.call("Page.bringToFront", json!({}));
        page.call(
            "Emulation.setFocusEmulationEnabled",
            json!({ "enabled": true }),
        );
        page.size(width, height);
        Some(page)
    }

    /// One call of the protocol, answered.
    pub(crate) fn call(&mut self, method: &str, params: Value) -> Value {
        self.next += 1;
        let id = self.next;
        let mut asked = json!({ "id": id, "method": method, "params": params });
        if !self.session.is_empty() {
            asked["sessionId"] = json!(self.session);
        }
        self.socket.send(Message::text(asked.to_string())).unwrap();
        loop {
            let Message::Text(text) = self.socket.read().unwrap() else {
                continue;
            };
            let told: Value = serde_json::from_str(&text).unwrap();
            if told["id"] == json!(id) {
                assert!(told["error"].is_null(), "{method}: {}", told["error"]);
                return told["result"].clone();
            }
            self.hear(&told);
        }
    }

    fn hear(&mut self, told: &Value) {
        let params = &told["params"];
        match told["method"].as_str() {
            Some("Runtime.exceptionThrown") => {
                self.complaints.push(params["exceptionDetails"].to_string());
            }
            Some("Log.entryAdded") if params["entry"]["level"] == json!("error") => {
                // An answer that another edit overtook is refused as it should be, and the page asks again.
                let entry = params["entry"].to_string();
                if !entry.contains("status of 409") {
                    self.complaints.push(entry);
                }
            }
            _ => {}
        }
    }

    pub(crate) fn size(&mut self, width: u32, height: u32) {
        let metrics =
            json!({ "width": width, "height": height, "deviceScaleFactor": 1, "mobile": false });
        self.call("Emulation.setDeviceMetricsOverride", metrics);
    }

    pub(crate) fn go(&mut self, url: &str) {
        self.call("Page.navigate", json!({ "url": url }));
        self.until("document.readyState === 'complete'");
    }

    /// The value of an expression, awaited.
    #[track_caller]
    pub(crate) fn value(&mut self, expression: &str) -> Value {
        let asked =
            json!({ "expression": expression, "awaitPromise": true, "returnByValue": true });
        let told = self.call("Runtime.evaluate", asked);
        assert!(
            told["exceptionDetails"].is_null(),
            "{expression}: {}",
            told["exceptionDetails"]
        );
        told["result"]["value"].clone()
    }

    #[track_caller]
    pub(crate) fn text(&mut self, expression: &str) -> String {
        let value = self.value(expression);
        value
            .as_str()
            .unwrap_or_else(|| panic!("{expression}: {value}"))
            .to_owned()
    }

    /// Waits until an expression holds.
    #[track_caller]
    pub(crate) fn until(&mut self, expression: &str) {
        let begun = Instant::now();
        while self.value(&format!("Boolean({expression})")) != json!(true) {
            if begun.elapsed() > PATIENCE {
                let seen = self.value("document.body.innerText");
                panic!("never: {expression}\n{seen}\n{:?}", self.complaints);
            }
            std::thread::sleep(Duration::from_millis(50));
        }
    }

    /// Middle of the first element that a selector finds.
    #[track_caller]
    pub(crate) fn middle(&mut self, selector: &str) -> (f64, f64) {
        let at = self.value(&format!(
            "(() => {{ const e = document.querySelector({}); e.scrollIntoView({{block: 'nearest'}}); const r = e.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; }})()",
            json!(selector)
        ));
        (at[0].as_f64().unwrap(), at[1].as_f64().unwrap())
    }

    pub(crate) fn mouse(&mut self, kind: &str, x: f64, y: f64) {
        let pressed = if kind == "mouseReleased" { 0 } else { 1 };
        let event = json!({ "type": kind, "x": x, "y": y, "button": "left", "buttons": pressed, "clickCount": 1 });
        self.call("Input.dispatchMouseEvent", event);
    }

    #[track_caller]
    pub(crate) fn click(&mut self, selector: &str) {
        let (x, y) = self.middle(selector);
        self.mouse("mousePressed", x, y);
        self.mouse("mouseReleased", x, y);
    }

    /// Drags from one place to another in some steps.
    pub(crate) fn drag(&mut self, (x, y): (f64, f64), (to_x, to_y): (f64, f64)) {
        self.mouse("mousePressed", x, y);
        for step in 1..=6 {
            let share = f64::from(step) / 6.0;
            self.mouse("mouseMoved", x + share * (to_x - x), y + share * (to_y - y));
        }
        self.mouse("mouseReleased", to_x, to_y);
    }

    /// A key, with `Control` held where `held` says so.
    pub(crate) fn key(&mut self, key: &str, held: bool) {
        let (code, number, text) = match key {
            "Tab" => ("Tab", 9, None),
            "Enter" => ("Enter", 13, Some("\r")),
            "End" => ("End", 35, None),
            "ArrowRight" => ("ArrowRight", 39, None),
            "ArrowDown" => ("ArrowDown", 40, None),
            "Escape" => ("Escape", 27, None),
            " " => ("Space", 32, Some(" ")),
            "s" => ("KeyS", 83, None),
            "z" => ("KeyZ", 90, None),
            _ => panic!("no key {key}"),
        };
        for kind in ["keyDown", "keyUp"] {
            let mut event = json!({
                "type": kind, "key": key, "code": code, "windowsVirtualKeyCode": number,
                "modifiers": if held { 2 } else { 0 },
            });
            if let (Some(text), "keyDown") = (text, kind) {
                event["text"] = json!(text);
            }
            self.call("Input.dispatchKeyEvent", event);
        }
    }

    /// Goes on with Tab until the element that has the focus matches.
    #[track_caller]
    pub(crate) fn tab_to(&mut self, selector: &str) {
        for _ in 0..120 {
            self.key("Tab", false);
            let found = format!("document.activeElement.matches({})", json!(selector));
            if self.value(&found) == json!(true) {
                return;
            }
        }
        panic!("the Tab key never comes to {selector}");
    }

    pub(crate) fn photograph(&mut self, to: &Path) {
        let taken = self.call("Page.captureScreenshot", json!({ "format": "png" }));
        std::fs::create_dir_all(to.parent().unwrap()).unwrap();
        std::fs::write(to, decoded(&taken["data"])).unwrap();
    }

    pub(crate) fn printed(&mut self) -> Vec<u8> {
        decoded(&self.call("Page.printToPDF", json!({ "printBackground": true }))["data"])
    }

    /// What is downloaded goes into this folder.
    pub(crate) fn keep_in(&mut self, folder: &Path) {
        let to = json!({ "behavior": "allow", "downloadPath": folder });
        self.call("Browser.setDownloadBehavior", to);
    }
}

fn decoded(data: &Value) -> Vec<u8> {
    STANDARD.decode(data.as_str().unwrap()).unwrap()
}

impl Drop for Page {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
