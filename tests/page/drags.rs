//! What is dragged in a view: a waypoint, a part; and how finely is drawn meanwhile.

use serde_json::{Value, json};

use super::chromium::Page;
use super::client::SMALL;
use super::opened::{
    CHECKED, INKED, STOCK, choose, enlarge, fixing, opened, photo, press, radius, radius_in_report,
    save,
};
use crate::cli::run::Folder;

const BESIDE_AN_EDGE: &str = include_str!("../../routes/edge_distance_within.ron");

/// What is dragged is kept and checked; then it is saved.
fn dragged(page: &mut Page, from: (f64, f64), by: (f64, f64)) {
    page.drag(from, (from.0 + by.0, from.1 + by.1));
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    save(page);
}

/// The numbers of the first place that a text gives after some words.
fn place_after(text: &str, words: &str) -> [f64; 3] {
    let rest = text.split_once(words).unwrap().1;
    let rest = rest.split_once('(').unwrap().1.split_once(')').unwrap().0;
    // What was dragged is written with its unit: "-58.2 mm".
    let number = |x: &str| {
        x.trim()
            .trim_matches('"')
            .trim_end_matches("mm")
            .trim()
            .parse()
            .unwrap()
    };
    let numbers: Vec<f64> = rest.split(',').map(number).collect();
    numbers.try_into().unwrap()
}

/// A waypoint leads the smooth path whose length is assumed: dragged, it makes the span longer and the bend another, and the
/// page tells what the saved file gives.
#[test]
fn a_dragged_waypoint_leads_the_branch_another_way() {
    let led = SMALL.replace(", length: 219", "").replace(
        "Clamp(name: \"K3\"",
        "Via(on: \"frame\", at: (-70, 14, -10)),\n                Clamp(name: \"K3\"",
    );
    let Some((folder, _server, mut page)) = opened(&led, 1920, 1080) else {
        return;
    };
    choose(&mut page, "K3");
    let before = radius(&mut page, "K2\u{2013}K3");
    assert!((before - radius_in_report(&folder, "K2", "K3")).abs() < 1e-6);
    choose(&mut page, "waypoint 2");
    enlarge(&mut page, "side");
    let at = fixing(&mut page, "waypoint 2");
    dragged(&mut page, at, (-30.0, 24.0));
    page.photograph(&photo("waypoint"));
    choose(&mut page, "K3");
    let after = radius(&mut page, "K2\u{2013}K3");
    let told = radius_in_report(&folder, "K2", "K3");
    assert!(
        (after - told).abs() < 1e-6,
        "{after} on the page, {told} in the report"
    );
    assert!((after - before).abs() > 1.0, "{before} mm became {after}");
    // Seen from the left, the finger went forward and down: so did the waypoint, and nothing else.
    let saved = String::from_utf8(folder.read("my.ron")).unwrap();
    let [x, y, z] = place_after(&saved, "Via(");
    assert!(x > -70.0 + 5.0 && z < -10.0 - 5.0, "{x}, {z}");
    assert!((y - 14.0).abs() < 1e-3, "{y}");
    assert!(saved.contains("name: \"K3\", on: \"steering\", at: (-46, 5, 104)"));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The distance to the tray's edge [mm] that the file in the folder gives.
fn to_the_edge(folder: &Folder) -> f64 {
    let report: Value = serde_json::from_str(&folder.run("check --json my.ron").out).unwrap();
    let findings = report["findings"].as_array().unwrap();
    let found = findings.iter().find(|f| f["check"] == "edge distance");
    found.unwrap()["value"].as_f64().unwrap()
}

/// The same as a person reads it in the list of findings [mm].
fn to_the_edge_as_told(page: &mut Page) -> f64 {
    page.click("#tab-look");
    let row = "[...document.querySelectorAll('.leaf .finding .what')].map(e => /Edge distance:\\s([\\d.]+)\\smm/.exec(e.textContent)?.[1]).find(Boolean)";
    page.until(row);
    page.text(row).parse().unwrap()
}

/// A part is dragged by the handle in its middle: its place in the file is another, and so is what is measured to it.
#[test]
fn a_dragged_part_changes_what_is_measured_to_it() {
    let Some((folder, _server, mut page)) = opened(BESIDE_AN_EDGE, 1920, 1080) else {
        return;
    };
    let agrees = |page: &mut Page| {
        let (told, exact) = (to_the_edge_as_told(page), to_the_edge(&folder));
        let rounding = if told < 9.95 { 0.05 } else { 0.5 };
        assert!(
            (told - exact).abs() <= rounding + 1e-9,
            "{told} on the page, {exact} in the report"
        );
        exact
    };
    let before = agrees(&mut page);
    choose(&mut page, "battery tray");
    enlarge(&mut page, "side");
    let at = fixing(&mut page, "battery tray");
    // Not so far that nobody would ask for the distance any more.
    dragged(&mut page, at, (0.0, 8.0));
    let after = agrees(&mut page);
    assert!(after > before + 3.0, "{before} mm became {after}");
    let saved = String::from_utf8(folder.read("my.ron")).unwrap();
    let [x, y, z] = place_after(&saved, "centre: ");
    assert!(z < -98.0 - 3.0, "{z}");
    assert!((x + 250.0).abs() < 1e-3 && (y - 45.0).abs() < 1e-3);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// How many points of the large view differ much from those on both sides of them: lines of a single pixel, which a drawing
/// half as fine, drawn out, has not.
const FINE_LINES: &str = "(() => { const c = document.querySelector('.views canvas'); const d = document.createElement('canvas'); d.width = c.width; d.height = c.height; const g = d.getContext('2d'); g.drawImage(c, 0, 0); const v = document.querySelector('.view.large').getBoundingClientRect(); const r = c.getBoundingClientRect(); const [w, h] = [Math.round(v.width), Math.round(v.height)]; const p = g.getImageData(v.left - r.left, v.top - r.top, w, h).data; let n = 0; for (let y = 0; y < h; y += 1) for (let x = 1; x + 1 < w; x += 1) { const i = 4 * (y * w + x) + 1; const [a, b] = [p[i] - p[i - 4], p[i] - p[i + 4]]; if (a * b > 0 && Math.abs(a) > 60 && Math.abs(b) > 60) n += 1; } return n; })()";

/// Where the processor draws, it draws less finely while something is dragged on; a hand that rests and one that lets go both
/// see the fine drawing again.
#[test]
fn the_drawing_is_fine_again_after_a_drag() {
    let Some((_folder, _server, mut page)) = opened(STOCK, 800, 1280) else {
        return;
    };
    let (x, y) = fixing(&mut page, "K3");
    page.value("new Promise(done => setTimeout(done, 1500))");
    let lines = page.value(FINE_LINES).as_u64().unwrap();
    assert!(lines > 300, "{lines}");
    let coarse = format!("{FINE_LINES} < {}", lines / 4);
    // The harness lies a little otherwise.
    let fine = format!("{FINE_LINES} > {}", lines * 8 / 10);
    page.mouse("mousePressed", x, y);
    // From the first step on farther than a hand that only touches.
    let mut moved = 8.0;
    let mut go_on = |page: &mut Page| {
        // It is looked at between one move and the next, before the hand is taken to rest.
        for _ in 0..40 {
            moved += 1.0;
            page.mouse("mouseMoved", x + moved, y - moved / 2.0);
            let seen = format!(
                "new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => done({coarse}))))"
            );
            if page.value(&seen) == json!(true) {
                page.photograph(&photo("dragged_coarse"));
                return;
            }
        }
        panic!("never drawn less finely");
    };
    go_on(&mut page);
    // Held still.
    page.until(&fine);
    go_on(&mut page);
    page.mouse("mouseReleased", x + moved, y - moved / 2.0);
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    page.until(&fine);
    page.photograph(&photo("dragged_fine"));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// Goes on with small steps that leave the hand no time to rest, until something holds.
#[track_caller]
fn drag_until(page: &mut Page, (x, y): (f64, f64), holds: &str) -> (f64, f64) {
    for step in 0..600 {
        let turn = f64::from(step) / 12.0;
        let to = (x + 8.0 + 20.0 * turn.sin(), y - 12.0 * (1.0 - turn.cos()));
        page.mouse("mouseMoved", to.0, to.1);
        // Looking may take longer than the hand would stay.
        if step % 12 == 11 && page.value(&format!("Boolean({holds})")) == json!(true) {
            return to;
        }
    }
    panic!("never: {holds}");
}

/// While the hand never rests, the leaf waits, the route as opened is drawn as a ghost in the first drag already, and nothing is
/// said of the limits.
#[test]
fn a_hand_that_never_rests_sees_the_ghost() {
    let Some((_folder, _server, mut page)) = opened(STOCK, 800, 1280) else {
        return;
    };
    press(&mut page, "As opened");
    let from = fixing(&mut page, "K3");
    // Drawn out from a coarse picture few points keep the very colour.
    let ghost = format!("{INKED}('ghost').length > 0");
    assert_eq!(page.value(&ghost), json!(false));
    // How often the leaf was painted before the hand had rested.
    page.value("window.hasty = 0; window.moved = 0; window.down = false; for (const name of ['pointerdown', 'pointermove', 'pointerup']) addEventListener(name, (event) => { window.moved = performance.now(); window.down = event.buttons > 0; }, true); new MutationObserver(() => (window.hasty += window.down && performance.now() - window.moved < 200)).observe(document.querySelector('.leaf'), { childList: true })");
    page.mouse("mousePressed", from.0, from.1);
    // The last check was of where it was kept, and says nothing of here.
    let unchecked = "document.querySelector('.stamp').textContent.includes('not checked yet')";
    let to = drag_until(&mut page, from, &format!("{ghost} && {unchecked}"));
    page.photograph(&photo("dragged_ghost"));
    assert_eq!(page.value("window.hasty"), json!(0));
    page.mouse("mouseReleased", to.0, to.1);
    page.until("document.querySelector('.leaf h2').textContent === 'K3'");
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    // A fixing that is only held is shown while it is held.
    press(&mut page, "Findings");
    let at = fixing(&mut page, "K2");
    page.mouse("mousePressed", at.0, at.1);
    page.until("document.querySelector('.leaf h2').textContent === 'K2'");
    page.mouse("mouseReleased", at.0, at.1);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}
