//! What the views show beside the machine: the room that is swept, the route as it was opened, the arrow that turns a fixing;
//! and the page where nothing can be drawn at all.

use std::collections::HashSet;

use nalgebra::Vector3;
use serde_json::json;

use super::chromium::Page;
use super::client::{SHARP, SMALL, Server};
use super::opened::{CHECKED, choose, enlarge, fixing, inked, opened, photo, press, save, url};
use crate::cli::run::Folder;

/// The outline of the swept room as it is drawn.
fn outline(page: &mut Page) -> Vec<(i64, i64)> {
    inked(page, "swept")
}

/// The room that is swept is drawn when asked for, and is that of what is being tried once that is checked.
#[test]
fn the_room_that_is_swept_is_shown_and_goes_along_while_one_drags() {
    let Some((_folder, _server, mut page)) = opened(SMALL, 1920, 1080) else {
        return;
    };
    enlarge(&mut page, "side");
    assert_eq!(outline(&mut page), []);
    press(&mut page, "Swept room");
    let at_rest = outline(&mut page);
    assert!(at_rest.len() > 300, "{}", at_rest.len());
    page.photograph(&photo("swept"));
    // Turned, the harness lies elsewhere in the same room.
    page.value("document.querySelector(\"input[aria-label^='steering, from']\").focus()");
    page.key("End", false);
    assert_eq!(outline(&mut page), at_rest);
    press(&mut page, "All at rest");
    // The clamp on the bars is held 24 pixels higher, and not let go.
    let (x, y) = fixing(&mut page, "K3");
    page.mouse("mousePressed", x, y);
    for step in 1..=6 {
        page.mouse("mouseMoved", x, y - 4.0 * f64::from(step));
    }
    page.until("document.querySelector('.stamp').textContent.includes('Trying')");
    page.until("document.querySelector('.stamp').dataset.verdict");
    let tried = outline(&mut page);
    assert_ne!(tried, at_rest);
    page.photograph(&photo("swept_tried"));
    page.mouse("mouseReleased", x, y - 24.0);
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    assert_eq!(outline(&mut page), tried, "kept, it is the same room");
    press(&mut page, "Undo");
    page.until("document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    assert_eq!(outline(&mut page), at_rest);
    press(&mut page, "Swept room");
    assert_eq!(outline(&mut page), []);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The route as it was opened is drawn dashed, where it lay then and not where it lies now.
#[test]
fn the_route_as_it_was_opened_is_where_it_was() {
    // Nothing hides the harness, so that all of it is seen in its own colour.
    let hides = |line: &&str| line.contains("head tube") || line.contains("backbone");
    let bare: Vec<&str> = SMALL.lines().filter(|line| !hides(line)).collect();
    let Some((_folder, _server, mut page)) = opened(&bare.join("\n"), 1920, 1080) else {
        return;
    };
    enlarge(&mut page, "side");
    // Where it is seen end on there is nothing but its edge.
    let drawn = |page: &mut Page| [inked(page, "band"), inked(page, "ink")].concat();
    let was = drawn(&mut page);
    press(&mut page, "As opened");
    assert_eq!(inked(&mut page, "ghost"), [], "nothing is otherwise yet");
    let (x, y) = fixing(&mut page, "K3");
    page.drag((x, y), (x + 70.0, y + 30.0));
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    let now = drawn(&mut page);
    let ghost = inked(&mut page, "ghost");
    page.photograph(&photo("as_opened"));
    assert!(ghost.len() > 300, "{}", ghost.len());
    // How much of it lies on the harness as it was drawn before and after, to the breadth of its inked edge.
    let lies_on = |drawn: &[(i64, i64)]| {
        let drawn: HashSet<_> = drawn.iter().copied().collect();
        let near = |&(x, y): &(i64, i64)| {
            (-4..=4).any(|dx| (-4..=4).any(|dy| drawn.contains(&(x + dx, y + dy))))
        };
        ghost.iter().filter(|&p| near(p)).count() * 100 / ghost.len()
    };
    let (before, after) = (lies_on(&was), lies_on(&now));
    assert!(
        before > 70 && after < 45,
        "{before} % where it was, {after} % where it is"
    );
    // As it was opened it lies where it is again, and nothing is left to show.
    press(&mut page, "Undo");
    page.until("document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    assert_eq!(inked(&mut page, "ghost"), []);
    press(&mut page, "Redo");
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    assert_eq!(inked(&mut page, "ghost"), ghost);
    press(&mut page, "As opened");
    assert_eq!(inked(&mut page, "ghost"), []);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The tip of a fixing's arrow is dragged; the file then says where it points.
#[test]
fn the_arrow_of_a_fixing_turns_it() {
    let Some((folder, _server, mut page)) = opened(SMALL, 1920, 1080) else {
        return;
    };
    choose(&mut page, "K3");
    enlarge(&mut page, "side");
    let (x, y) = fixing(&mut page, "K3");
    // Seen from the left forward is to the left. The arrow is 69 pixels long to where it is taken hold of.
    let arm = Vector3::new(0.0, 0.14, 0.99).normalize() * 69.0;
    let tip = (x - arm.x, y - arm.z);
    page.drag(tip, (tip.0 - 30.0, tip.1 + 8.0));
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    save(&mut page);
    let saved = String::from_utf8(folder.read("my.ron")).unwrap();
    let facing = saved.split_once("name: \"K3\"").unwrap().1;
    let facing = facing.split_once("facing: (").unwrap().1;
    let facing: Vec<f64> = facing
        .split_once(')')
        .unwrap()
        .0
        .split(',')
        .map(|x| x.trim().parse().unwrap())
        .collect();
    let wanted = (arm + Vector3::new(30.0, 0.0, -8.0)).normalize();
    let found = Vector3::new(facing[0], facing[1], facing[2]).normalize();
    let off = found.angle(&wanted).to_degrees();
    // A pixel of 69 is 0.8°.
    assert!(off < 2.0, "{found} is {off}° from {wanted}");
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// Four jumps of one branch, put into the report as the check tells them: they are one finding, which goes to each of them.
#[test]
fn jumps_of_one_branch_are_one_finding() {
    let Some(mut page) = Page::open(800, 1280) else {
        return;
    };
    let folder = Folder::new();
    folder.write("my.ron", SMALL);
    let server = Server::start(&folder, Some("my.ron"));
    let jumps = "const real = fetch; window.fetch = async (what, how) => { const told = await real(what, how); if (!String(what).includes('api/report')) return told; const report = await told.json(); report.verdict = 'over'; const jump = (pose, value, at_mm) => ({ ...report.findings[0], check: 'snap', branch: 'neck', place: `K2-K3 at ${at_mm} mm`, at_mm, point_mm: null, pose, pose_in_words: `jump at pose ${pose}`, value, limit: 0, unit: 'mm', at_most: true, verdict: 'over', advice: 'Flips over.', follows_from: null }); report.findings.unshift(jump(3, 60, 250), jump(9, 50, 251), jump(20, 40, 300), jump(30, 30, 250)); return new Response(JSON.stringify(report), { headers: { 'content-type': 'application/json' } }); };";
    page.call(
        "Page.addScriptToEvaluateOnNewDocument",
        json!({ "source": jumps }),
    );
    page.go(&url(&server));
    page.until(CHECKED);
    page.until("document.querySelector('.leaf .others')");
    assert_eq!(
        page.text("document.querySelector('.stamp span').textContent"),
        "A limit is broken"
    );
    let rows = "[...document.querySelectorAll('.leaf .finding')].filter(e => /Snap/.test(e.textContent)).length";
    assert_eq!(page.value(rows), json!(1));
    let places = "document.querySelectorAll('.leaf .others button').length";
    assert_eq!(page.value(places), json!(4));
    // One number, at each place that can be told from the others.
    page.until("document.querySelectorAll('.view.large .flag').length === 2");
    page.photograph(&photo("jumps"));
    press(&mut page, "jump at pose 20");
    let shown = page.value("document.querySelector('.pose-words').textContent");
    press(&mut page, "jump at pose 3,");
    page.until(&format!(
        "document.querySelector('.pose-words').textContent !== {shown}"
    ));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// Where the browser draws no solids, all else goes on: findings, changes, questions, lists.
#[test]
fn without_solids_the_rest_of_the_page_goes_on() {
    let Some(mut page) = Page::open_with(1920, 1080, &["--disable-3d-apis"]) else {
        return;
    };
    let folder = Folder::new();
    folder.write("my.ron", SHARP);
    let server = Server::start(&folder, Some("my.ron"));
    page.go(&url(&server));
    page.until(CHECKED);
    page.until("document.querySelector('.no-views').checkVisibility()");
    page.photograph(&photo("no_solids"));
    // A finding still goes to its angle.
    page.value("document.querySelector('.leaf .finding').click()");
    page.until("!document.querySelector('.pose-words').textContent.includes('at rest')");
    // A fixing is moved by its numbers, and what comes of it is told.
    choose(&mut page, "K3");
    press(&mut page, "Up");
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    page.until("document.querySelector('[data-span=\"K2\u{2013}K3\"]')");
    page.click("#tab-ask");
    press(&mut page, "Does the lead reach the new bars?");
    page.click("#tab-print");
    press(&mut page, "As seen, PNG");
    page.until("document.querySelector('#said.shown')?.textContent.includes('nothing is drawn')");
    save(&mut page);
    assert_ne!(String::from_utf8(folder.read("my.ron")).unwrap(), SHARP);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}
