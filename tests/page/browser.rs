//! The page as a person meets it, in a real browser: seen, changed, undone, saved, printed, with the mouse and with the
//! keys alone, in both lights and at both sizes, and looked over for barriers.

use serde_json::{Value, json};

use super::chromium::Page;
use super::client::Server;
use super::opened::{
    AXE, CHECKED, LOOKS, LOWER, STOCK, choose, fixing, opened, photo, press, radius,
    radius_in_report, seen_in, stamp, url,
};
use crate::cli::run::Folder;

/// How many findings say that something is pinched.
const PINCHES: &str = "[...document.querySelectorAll('.leaf .finding .what')].filter(e => /Over the limit\\. Pinch/.test(e.textContent)).length";

/// A person opens the demo, brings the seat down, and sees where it pinches.
#[test]
fn a_lower_seat_pinches_before_it_is_bought() {
    let Some((_folder, _server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    assert_eq!(page.value(PINCHES), json!(0));
    // The change is tried while its slider moves, and kept only when asked.
    page.click("#tab-change");
    let slider = "[aria-label='How far: seat 16 mm lower']";
    page.until(&format!("document.querySelector({slider:?})"));
    let (x, y) = page.middle(slider);
    let half = page.value(&format!(
        "document.querySelector({slider:?}).getBoundingClientRect().width / 2"
    ));
    let half = half.as_f64().unwrap();
    // From nothing to two thirds of the slider, which is all of the change.
    page.drag((x - half + 12.0, y), (x + half / 3.0 - 3.0, y));
    page.until("document.querySelector('.stamp').textContent.includes('Trying') && document.querySelector('.stamp').dataset.verdict === 'over'");
    page.click("#tab-look");
    page.until(&format!("{PINCHES} > 0"));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The seat's own slider moves the machine between solved poses.
#[test]
fn the_seat_slider_moves_the_seat_and_the_finding_is_a_jump() {
    let Some((_folder, _server, mut page)) = opened(LOWER, 1920, 1080) else {
        return;
    };
    page.until(&format!("{PINCHES} > 0"));
    let seat = "input[aria-label^='seat, from']";
    let (x, y) = page.middle(seat);
    let half = page.value(&format!(
        "document.querySelector({seat:?}).getBoundingClientRect().width / 2"
    ));
    let half = half.as_f64().unwrap();
    page.drag((x - half + 11.0, y), (x + half - 2.0, y));
    page.until("document.querySelector('.pose-words').textContent.includes('seat at 8 mm')");
    page.click(".motions-head button");
    page.until("document.querySelector('.pose-words').textContent.includes('at rest')");
    // The finding goes to its angle, its place and its view.
    page.value("[...document.querySelectorAll('.leaf .finding')].find(e => /Pinch/.test(e.textContent)).click()");
    page.until("document.querySelector('.pose-words').textContent.includes('seat at 8 mm')");
    page.until("document.querySelector('.view.large').dataset.eye === 'side'");
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

#[test]
fn a_dragged_tie_changes_the_radius_as_the_saved_file_says() {
    let Some((folder, server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    // The chart against the steering has the limit of the bend, dashed, with its words.
    let (limit, words) = (
        "document.querySelector('.motion path.limit')",
        "document.querySelector('.motion .limit-words').textContent",
    );
    page.until(limit);
    assert_eq!(page.text(words), "at least 80 mm");
    let dashes = page.text(&format!("getComputedStyle({limit}).strokeDasharray"));
    assert!(dashes.contains(','), "{dashes}");
    // It lies where the scale has it: the curve comes down to it as near as the report says.
    let heights = page.value(&format!("(() => {{ const row = document.querySelector('.motion .strip'); const low = (e) => {{ const b = e.getBBox(); return b.y + b.height; }}; const zero = row.querySelector('.zero').y1.baseVal.value; return [zero - low(row.querySelector('.curve')), zero - low({limit})]; }})()"));
    let share = heights[0].as_f64().unwrap() / heights[1].as_f64().unwrap();
    let least = page.value("document.querySelector('.motion .chart-note').textContent.match(/least (\\d+) mm/)[1] / 80");
    assert!((share - least.as_f64().unwrap()).abs() < 0.02, "{share}");
    choose(&mut page, "K3");
    let before = radius(&mut page, "K2–K3");
    assert!(
        (before - radius_in_report(&folder, "K2", "K3")).abs() < 1e-6,
        "{before}"
    );
    let (x, y) = fixing(&mut page, "K3");
    page.drag((x, y), (x + 18.0, y - 14.0));
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    let changed =
        format!("document.querySelector('[data-span=\"K2–K3\"]').dataset.radius !== \"{before}\"");
    page.until(&changed);
    page.until("document.querySelector('.stamp').dataset.verdict");
    let after = radius(&mut page, "K2–K3");
    // Saved, the file says the same number, and keeps its comments.
    page.key("s", true);
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Saved'");
    let told = radius_in_report(&folder, "K2", "K3");
    assert!(
        (after - told).abs() < 1e-6,
        "{after} on the page, {told} in the report"
    );
    let saved = String::from_utf8(folder.read("my.ron")).unwrap();
    assert!(saved.contains("// The only span that moves") && saved != STOCK);
    // Loaded anew the step can still be undone; the file on disk stays until it is saved again.
    page.go(&url(&server));
    page.until(CHECKED);
    choose(&mut page, "K3");
    assert!((radius(&mut page, "K2–K3") - told).abs() < 1e-6);
    page.click(".tools button");
    page.until(&format!(
        "document.querySelector('[data-span=\"K2–K3\"]')?.dataset.radius === \"{before}\""
    ));
    page.key("s", true);
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Saved'");
    assert_eq!(String::from_utf8(folder.read("my.ron")).unwrap(), STOCK);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

#[test]
fn all_of_it_goes_with_the_keys_alone() {
    let Some((folder, _server, mut page)) = opened(LOWER, 1920, 1080) else {
        return;
    };
    page.tab_to("input[aria-label^='seat, from']");
    page.key("End", false);
    page.until("document.querySelector('.pose-words').textContent.includes('seat at 8 mm')");
    page.tab_to("[role=tab][aria-selected=true]");
    page.key("ArrowRight", false);
    page.until("document.querySelector('#tab-change').getAttribute('aria-selected') === 'true'");
    page.tab_to("[data-keep=chooser]");
    // Down the list to the first fixing that is tied to the steering.
    for _ in 0..6 {
        page.key("ArrowDown", false);
    }
    page.until("document.querySelector('.leaf h2')?.textContent === 'K3'");
    let before = radius(&mut page, "K2–K3");
    page.tab_to("[data-keep='nudge Up']");
    page.key("Enter", false);
    page.until("!document.querySelector('.tools button').disabled");
    page.until(&format!(
        "document.querySelector('[data-span=\"K2–K3\"]')?.dataset.radius !== \"{before}\""
    ));
    let after = radius(&mut page, "K2–K3");
    page.key("s", true);
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Saved'");
    let told = radius_in_report(&folder, "K2", "K3");
    assert!(
        (after - told).abs() < 1e-6,
        "{after} on the page, {told} in the report"
    );
    page.key("z", true);
    page.until(&format!(
        "document.querySelector('[data-span=\"K2–K3\"]')?.dataset.radius === \"{before}\""
    ));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

#[test]
fn a_broken_file_says_where_and_can_be_mended() {
    let Some(mut page) = Page::open(800, 1280) else {
        return;
    };
    let folder = Folder::new();
    let broken = super::client::SMALL.replacen("lay:", "lie:", 1);
    folder.write("my.ron", &broken);
    let server = Server::start(&folder, Some("my.ron"));
    page.go(&url(&server));
    page.until("document.querySelector('.faults')?.textContent.includes('lie')");
    page.until("document.querySelector('textarea').value.includes('lie:')");
    page.photograph(&photo("broken"));
    page.value("(() => { const t = document.querySelector('textarea'); t.value = t.value.replace('lie:', 'lay:'); })()");
    page.click(".leaf button.main");
    page.until(CHECKED);
    assert_eq!(stamp(&mut page), "\u{2713}Every limit holds");
}

/// What can be pressed and lies, as far as it is in view, under the strip that says what happened.
const COVERED: &str = "(() => { const strip = document.querySelector('#said').getBoundingClientRect(); const all = [...document.querySelectorAll('button, select, input, summary, textarea, .view')].filter(e => !e.closest('#said') && e.checkVisibility()); return all.filter(e => { const r = e.getBoundingClientRect(); const leaf = e.closest('.leaf')?.getBoundingClientRect(); const top = Math.max(r.top, leaf?.top ?? 0); const bottom = Math.min(r.bottom, leaf?.bottom ?? innerHeight); return bottom - top > 1 && r.left < strip.right && r.right > strip.left && top < strip.bottom - 1 && bottom > strip.top + 1; }).map(e => e.outerHTML); })()";
/// Names of the hot parts on the large view.
const HOT: &str = "[...document.querySelectorAll('.view.large .name.hot')].map(e => e.textContent.replace(/ \\d+ °C$/, ''))";

const LEAVES: [&str; 6] = ["look", "change", "measure", "ask", "print", "route"];

/// Both lights at both sizes: photographed to be looked at, nothing wider than the page, nothing too small for a thumb, and
/// no serious barrier that axe-core knows of.
#[test]
fn both_lights_and_both_sizes_have_no_barriers() {
    let Some((_folder, server, mut page)) = opened(LOWER, 1920, 1080) else {
        return;
    };
    page.value(AXE);
    let nearest_hot = nearest_hot(&server);
    for (light, width, height) in LOOKS {
        seen_in(&mut page, light, width, height);
        page.until(&format!(
            "document.documentElement.dataset.light === {light:?}"
        ));
        page.value("new Promise(done => setTimeout(done, 400))");
        let named = page.value(HOT);
        let named = named.as_array().unwrap();
        // On a small view few hot parts are named: that first which a finding comes nearest to.
        assert_eq!(named.len(), if width < 1000 { 2 } else { 4 }, "{named:?}");
        assert!(named.contains(&nearest_hot), "{nearest_hot} of {named:?}");
        for leaf in LEAVES {
            page.click(&format!("#tab-{leaf}"));
            page.value("new Promise(done => setTimeout(done, 400))");
            page.photograph(&photo(&format!("{leaf}_{light}_{width}")));
            if leaf == "print" {
                // What is said lies over nothing that can be pressed.
                press(&mut page, "As seen, PNG");
                page.until("document.querySelector('#said.shown')?.textContent.includes('handed')");
                page.photograph(&photo(&format!("said_{light}_{width}")));
                assert_eq!(page.value(COVERED), json!([]), "{light} {width}");
            }
            page.value(
                "document.querySelectorAll('.leaf details').forEach(one => (one.open = true))",
            );
            let found = page.value("axe.run(document, { resultTypes: ['violations'] }).then(r => r.violations.filter(v => ['serious', 'critical'].includes(v.impact)).map(v => `${v.id}: ${v.nodes.map(n => n.html).join(' ')}`))");
            assert_eq!(found, json!([]), "{leaf} {light} {width}");
            let small = page.value("[...document.querySelectorAll('button, select, input:not([type=checkbox]), summary')].filter(e => { const r = e.getBoundingClientRect(); return r.width > 0 && (r.height < 43.5 || r.width < 43.5); }).map(e => e.outerHTML)");
            assert_eq!(
                small,
                json!([]),
                "too small for a thumb: {leaf} {light} {width}"
            );
            let wide = page.value("document.querySelector('.leaf').scrollWidth > document.querySelector('.leaf').clientWidth + 1 || document.documentElement.scrollWidth > innerWidth");
            assert_eq!(
                wide,
                json!(false),
                "wider than the page: {leaf} {light} {width}"
            );
        }
    }
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The hot part that a finding comes nearest to its limit by, or goes farthest beyond it.
fn nearest_hot(server: &Server) -> Value {
    let scene = server.get("api/scene").good();
    let hot = |name: &Value| {
        let parts = scene["parts"].as_array().unwrap();
        parts
            .iter()
            .any(|p| p["name"] == *name && p["hot_c"].is_number())
    };
    let report = server.get("api/report").good();
    let findings = report["findings"].as_array().unwrap();
    let about = findings.iter().filter(|f| hot(&f["subject"]));
    let most = |f: &&Value| f["use_of_limit"].as_f64().unwrap_or(f64::INFINITY);
    let nearest = about.max_by(|a, b| most(a).total_cmp(&most(b)));
    nearest.unwrap()["subject"].clone()
}

/// Everything that the page loads is light, and comes from the program alone.
#[test]
fn the_page_is_light_and_asks_nobody_else() {
    let Some((_folder, server, mut page)) = opened(super::client::SMALL, 1920, 1080) else {
        return;
    };
    let loaded = page
        .value("performance.getEntriesByType('resource').map(e => [e.name, e.decodedBodySize])");
    let mut files = 0.0;
    for entry in loaded.as_array().unwrap() {
        let name = entry[0].as_str().unwrap();
        assert!(
            name.starts_with(&url(&server)) || name.starts_with("data:"),
            "{name}"
        );
        if name.contains("/desk/") {
            files += entry[1].as_f64().unwrap();
        }
    }
    assert!(files > 500_000.0 && files < 1_500_000.0, "{files} bytes");
}
