//! A page that is open in a browser, and how a person finds things on it.

use std::path::{Path, PathBuf};

use serde_json::{Value, json};

use super::chromium::Page;
use super::client::Server;
use crate::cli::run::Folder;

pub(crate) const STOCK: &str = include_str!("../../routes/tourer_stock.ron");
pub(crate) const LOWER: &str = include_str!("../../routes/tourer_lower_seat.ron");

/// The program serving a file, and a browser that has it open. `None`: there is no browser here.
pub(crate) fn opened(text: &str, width: u32, height: u32) -> Option<(Folder, Server, Page)> {
    let mut page = Page::open(width, height)?;
    let folder = Folder::new();
    folder.write("my.ron", text);
    let server = Server::start(&folder, Some("my.ron"));
    page.go(&url(&server));
    page.until(CHECKED);
    Some((folder, server, page))
}

pub(crate) fn url(server: &Server) -> String {
    format!("http://{}/{}/", server.address, server.token)
}

/// The report with its spread is there, and nothing is going on.
pub(crate) const CHECKED: &str = "document.querySelector('.stamp')?.dataset.verdict && !document.querySelector('.stamp').textContent.includes('Trying')";
/// Chooses in the list of all things, as a person does who cannot see the views.
pub(crate) fn choose(page: &mut Page, name: &str) {
    page.click("#tab-change");
    page.until("document.querySelector('[data-keep=chooser]')");
    page.value(&format!(
        "(() => {{ const s = document.querySelector('[data-keep=chooser]'); s.value = [...s.options].find(o => o.text === {name:?}).value; s.dispatchEvent(new Event('change')); }})()"
    ));
    page.until(&format!(
        "document.querySelector('.leaf h2')?.textContent === {name:?}"
    ));
}

/// The tightest bend \[mm\] that the page tells for a span of the chosen fixing.
pub(crate) fn radius(page: &mut Page, span: &str) -> f64 {
    let cell = format!(
        "document.querySelector('[data-span={}]')?.dataset.radius",
        json!(span)
    );
    page.until(&cell);
    page.text(&cell).parse().unwrap()
}

/// The same as `check --json` has it for the file as it lies in the folder.
pub(crate) fn radius_in_report(folder: &Folder, from: &str, to: &str) -> f64 {
    let ran = folder.run("check --json my.ron");
    let report: Value = serde_json::from_str(&ran.out).unwrap();
    let branches = report["branches"].as_array().unwrap();
    let spans = branches.iter().flat_map(|b| b["spans"].as_array().unwrap());
    let span = spans
        .into_iter()
        .find(|s| s["from"] == from && s["to"] == to)
        .unwrap();
    span["tightest_bend"]["radius_mm"].as_f64().unwrap()
}

/// Where the hairline of a name begins: on the fixing.
pub(crate) fn fixing(page: &mut Page, name: &str) -> (f64, f64) {
    let found = format!(
        "(() => {{ const n = [...document.querySelectorAll('.view.large .name')].find(e => e.textContent === {name:?}); if (!n) return null; const m = /translate\\(([\\d.]+)px, ([\\d.]+)px/.exec(n.nextElementSibling.style.transform); const r = document.querySelector('.view.large').getBoundingClientRect(); return [r.x + Number(m[1]), r.y + Number(m[2])]; }})()"
    );
    page.until(&found);
    let at = page.value(&found);
    (at[0].as_f64().unwrap(), at[1].as_f64().unwrap())
}

/// A function of the page: all points of the large view that are drawn in a colour of the style sheet, `[x, y]` in pixels.
pub(crate) const INKED: &str = "((name) => {
    const canvas = document.querySelector('.views canvas');
    const copy = document.createElement('canvas');
    [copy.width, copy.height] = [canvas.width, canvas.height];
    const drawn = copy.getContext('2d');
    drawn.drawImage(canvas, 0, 0);
    const [view, all] = [document.querySelector('.view.large'), canvas].map(e => e.getBoundingClientRect());
    const fine = canvas.width / all.width;
    const width = Math.round(view.width * fine);
    const data = drawn.getImageData((view.left - all.left) * fine, (view.top - all.top) * fine, width, view.height * fine).data;
    const probe = document.createElement('i');
    probe.style.setProperty('color', `var(--${name})`);
    document.body.append(probe);
    const ink = getComputedStyle(probe).color.match(/\\d+/g).map(Number);
    probe.remove();
    const found = [];
    for (let i = 0; i < data.length; i += 4) if (Math.abs(data[i] - ink[0]) + Math.abs(data[i + 1] - ink[1]) + Math.abs(data[i + 2] - ink[2]) < 4) found.push([(i / 4) % width, Math.floor(i / 4 / width)]);
    return found;
})";

/// The same once what is drawn has come to rest.
pub(crate) fn inked(page: &mut Page, colour: &str) -> Vec<(i64, i64)> {
    let mut last = Value::Null;
    loop {
        page.value("new Promise(done => setTimeout(done, 400))");
        let now = page.value(&format!("{INKED}({colour:?})"));
        if now == last {
            break;
        }
        last = now;
    }
    let number = |point: &Value, i: usize| point[i].as_i64().unwrap();
    let points = last.as_array().unwrap().iter();
    points.map(|p| (number(p, 0), number(p, 1))).collect()
}

pub(crate) fn stamp(page: &mut Page) -> String {
    page.text("document.querySelector('.stamp').textContent")
}

pub(crate) fn photo(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/page");
    std::fs::create_dir_all(&folder).unwrap();
    folder.join(format!("{name}.png"))
}

/// Clicks the button, summary or label that begins with these words.
#[track_caller]
pub(crate) fn press(page: &mut Page, words: &str) {
    let found = format!(
        "(() => {{ const all = [...document.querySelectorAll('button, summary, label')].filter(e => e.checkVisibility()); const e = all.find(e => e.textContent.trim() === {words:?}) ?? all.find(e => e.textContent.trim().startsWith({words:?})); if (!e || e.disabled) return null; e.scrollIntoView({{block: 'nearest'}}); const r = e.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2]; }})()"
    );
    // A leaf may be drawn anew between one look and the next.
    let at = loop {
        page.until(&found);
        let at = page.value(&found);
        if at.is_array() {
            break at;
        }
    };
    let (x, y) = (at[0].as_f64().unwrap(), at[1].as_f64().unwrap());
    page.mouse("mousePressed", x, y);
    page.mouse("mouseReleased", x, y);
}

/// Chooses what is called so in the list with this label.
#[track_caller]
pub(crate) fn pick(page: &mut Page, label: &str, option: &str) {
    let picked = page.value(&format!(
        "(() => {{ const l = [...document.querySelectorAll('.leaf label.field')].find(e => e.checkVisibility() && e.querySelector('.label')?.textContent === {label:?}); const s = l?.querySelector('select'); const o = s && [...s.options].find(o => o.text === {option:?}); if (!o) return false; s.value = o.value; s.dispatchEvent(new Event('change', {{ bubbles: true }})); return true; }})()"
    ));
    assert_eq!(picked, json!(true), "{label}: {option}");
}

/// Writes into the field with this label, and leaves it.
#[track_caller]
pub(crate) fn write(page: &mut Page, label: &str, text: &str) {
    let there = page.value(&format!(
        "(() => {{ const f = [...document.querySelectorAll('.leaf .field')].find(e => e.checkVisibility() && e.querySelector('.label')?.textContent === {label:?}); const i = f?.querySelector('input'); i?.scrollIntoView({{block: 'nearest'}}); i?.focus(); i?.select(); return Boolean(i); }})()"
    ));
    assert_eq!(there, json!(true), "{label}");
    page.call("Input.insertText", json!({ "text": text }));
    page.value("document.activeElement.dispatchEvent(new Event('change'))");
}

/// Makes a view the large one, and waits until it is drawn.
pub(crate) fn enlarge(page: &mut Page, eye: &str) {
    page.click(&format!("[data-eye={eye}] .caption"));
    page.until(&format!(
        "document.querySelector('.view.large').dataset.eye === {eye:?}"
    ));
    page.value("new Promise(done => setTimeout(done, 400))");
}

/// Saves; what has no file yet under the name that is offered.
pub(crate) fn save(page: &mut Page) {
    page.key("s", true);
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Saved' || document.querySelector('#said input')");
    if page.value("Boolean(document.querySelector('#said input'))") == json!(true) {
        press(page, "Save it");
    }
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Saved'");
}

/// A file that the browser was handed, once it is whole.
#[track_caller]
pub(crate) fn came(page: &mut Page, folder: &Folder, name: &str) -> Vec<u8> {
    let begun = std::time::Instant::now();
    while !folder.names().iter().any(|one| one == name) {
        assert!(
            begun.elapsed().as_secs() < 120,
            "{name}: {:?}",
            folder.names()
        );
        page.value("new Promise(done => setTimeout(done, 200))");
    }
    folder.read(name)
}

/// What looks for barriers.
pub(crate) const AXE: &str = include_str!("axe/axe.min.js");

/// Both lights at both sizes.
pub(crate) const LOOKS: [(&str, u32, u32); 4] = [
    ("day", 1920, 1080),
    ("shed", 1920, 1080),
    ("day", 800, 1280),
    ("shed", 800, 1280),
];

/// Shows the page in this light and at this size.
pub(crate) fn seen_in(page: &mut Page, light: &str, width: u32, height: u32) {
    page.size(width, height);
    if page.value("document.documentElement.dataset.light") != json!(light) {
        page.click(".tools button:last-child");
    }
}
