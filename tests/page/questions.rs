//! Questions asked on the page: how far they are, stopped with the best so far, proposals kept and refused.

use serde_json::{Value, json};

use super::chromium::Page;
use super::client::{SHARP, SMALL};
use super::opened::{
    AXE, CHECKED, LOOKS, STOCK, came, choose, opened, photo, pick, press, seen_in, stamp, url,
};

const SHORT: &str = include_str!("../../routes/elongation_over.ron");
const SHARP_WIRED: &str = include_str!("../../routes/flex_life_over.ron");

/// Puts a question of the ask leaf, as it stands.
fn put(page: &mut Page, question: &str) {
    page.click("#tab-ask");
    press(page, question);
    press(page, "Work it out");
}

#[test]
fn a_search_that_was_stopped_leaves_all_as_it_was() {
    let Some((folder, server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    page.click("#tab-ask");
    page.click("[data-keep='question reroute']");
    page.click("[data-keep=work]");
    page.until("document.querySelectorAll('.outcome li').length > 1");
    // Loaded anew the page shows it again: it goes on, says how far it is, and can be stopped.
    let clock = "parseFloat(document.querySelector('.outcome .clock').textContent)";
    let before = page.value(clock).as_f64().unwrap();
    page.go(&url(&server));
    page.until("document.querySelector('[data-keep=stop]') && document.querySelectorAll('.outcome li').length > 1");
    assert!(page.value(clock).as_f64().unwrap() > before);
    assert_eq!(
        server.get("api/jobs").good()["jobs"][0]["running"],
        json!(true)
    );
    page.click("[data-keep=stop]");
    page.until("document.querySelector('.leaf').textContent.includes('Stopped.')");
    // That it was stopped is not forgotten either.
    page.go(&url(&server));
    page.until("document.querySelector('.outcome')?.textContent.includes('Stopped.')");
    page.until(CHECKED);
    assert_eq!(server.text(), STOCK);
    assert_eq!(String::from_utf8(folder.read("my.ron")).unwrap(), STOCK);
    // The page goes on.
    page.click("#tab-look");
    page.until("document.querySelector('.leaf h2').textContent === 'Every limit holds'");
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// Stopped in the middle, a search for other ties gives what it has found until then; that can be looked at, kept, undone.
#[test]
fn ties_found_so_far_are_kept_when_the_search_is_stopped() {
    let Some((_folder, server, mut page)) = opened(SHARP, 1920, 1080) else {
        return;
    };
    assert!(stamp(&mut page).contains("broken"));
    put(&mut page, "Where must the ties go?");
    // Stopped as soon as one way holds, before the rest of them is tried.
    page.until("/[1-9]\\d* hold so far/.test(document.querySelector('.leaf').innerText) && (document.querySelector('[data-keep=stop]').click(), true)");
    page.until(
        "document.querySelector('.leaf').innerText.includes('Stopped. This is the best so far.')",
    );
    page.photograph(&photo("ask_stopped"));
    press(&mut page, "Show as a ghost");
    page.until("[...document.querySelectorAll('.leaf button')].some(e => e.textContent === 'Hide the ghost')");
    press(&mut page, "Keep it");
    page.until("!document.querySelector('.tools button').disabled");
    // What was proposed holds every limit once it is kept.
    page.until("['within', 'close'].includes(document.querySelector('.stamp').dataset.verdict)");
    assert_ne!(server.text(), SHARP);
    press(&mut page, "Undo");
    page.until("document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    assert_eq!(server.text(), SHARP);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// The same for another way: one that holds is on offer when the search is stopped before all of them were looked at.
#[test]
fn a_way_found_so_far_is_kept_when_the_search_is_stopped() {
    let Some((_folder, server, mut page)) = opened(SHARP, 800, 1280) else {
        return;
    };
    put(&mut page, "Which other way could it go?");
    page.until("/[1-9]\\d* found; mending/.test(document.querySelector('.leaf').innerText) && (document.querySelector('[data-keep=stop]').click(), true)");
    page.until(
        "document.querySelector('.leaf').innerText.includes('Stopped. This is the best so far.')",
    );
    // The answer is in view, not below the question.
    let seen = page.value("(() => { const keep = [...document.querySelectorAll('.outcome button')].find(e => e.textContent === 'Keep it'); const r = keep.getBoundingClientRect(); return r.bottom <= document.querySelector('.leaf').getBoundingClientRect().bottom; })()");
    assert_eq!(seen, json!(true));
    page.photograph(&photo("reroute_stopped"));
    press(&mut page, "Keep it");
    page.until("document.querySelector('.outcome').innerText.includes('Kept.')");
    page.until("['within', 'close'].includes(document.querySelector('.stamp').dataset.verdict)");
    assert_ne!(server.text(), SHARP);
    // Taken back, it is on offer again.
    press(&mut page, "Undo it");
    page.until("[...document.querySelectorAll('.outcome button')].some(e => e.textContent === 'Keep it' && !e.disabled)");
    assert_eq!(server.text(), SHARP);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// What was made longer and kept holds; what to cut for it is printed all the same, of the harness as it was.
#[test]
fn what_was_made_longer_is_cut_by_what_it_was() {
    let wired = SHORT
        .replace(
            "branches: [",
            "wires: { \"switch\": (size: \"0.5 mm2\", strands: 19, outside: 1.6, class: \"B\") },\n    branches: [",
        )
        .replace("wires: []", "wires: [\"switch\"]");
    let Some((folder, server, mut page)) = opened(&wired, 800, 1280) else {
        return;
    };
    page.keep_in(&folder.path("."));
    put(&mut page, "How much longer must it be?");
    page.until("document.querySelector('.outcome').innerText.includes('Worked out')");
    press(&mut page, "Keep it");
    press(&mut page, "Print what to cut");
    page.until(
        "document.querySelector('.leaf select').selectedOptions[0].text.startsWith('as it was before')",
    );
    press(&mut page, "Its lists for a spreadsheet");
    page.value("[...document.querySelectorAll('.leaf button')].find(e => e.textContent === 'Cut list').click()");
    let cuts = came(&mut page, &folder, "my-cuts.csv");
    folder.write("was.ron", &wired);
    folder.run("sheet was.ron --tables lists -o was.pdf");
    assert_eq!(cuts, folder.read("lists/cuts.csv"));
    // Of the route as it is now there is nothing to cut.
    assert_eq!(server.get("api/sheet/cuts.csv").status, 404);
    assert_eq!(server.get("api/sheet/cuts.csv?of=9999").status, 404);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// How far a change can go is told as the command line tells it: the amount first, in the change's own unit, then how sure
/// that is, then the share. It is still there, with what was asked, when the page was loaded anew meanwhile.
#[test]
fn how_far_is_told_in_the_unit_of_the_change() {
    let lift = "changes: { \"bars up\": [Move(what: \"K3\", by: (0, 0, 10))], \"clamp up\": [Move(what: \"K3\", by: (0, 0, 60))] },\n    branches: [";
    let Some((folder, server, mut page)) =
        opened(&SMALL.replacen("branches: [", lift, 1), 800, 1280)
    else {
        return;
    };
    page.click("#tab-ask");
    press(&mut page, "How far can a change go?");
    pick(&mut page, "Change", "clamp up");
    press(&mut page, "Work it out");
    page.until(
        "document.querySelector('[data-keep=stop]') || document.querySelector('.outcome h2')",
    );
    page.go(&url(&server));
    page.until("document.querySelector('.outcome h2')");
    let told = page.text("document.querySelector('.outcome h2').textContent");
    let ran = folder.run_words(&["reach", "my.ron", "--change", "clamp up", "--json"]);
    let found: Value = serde_json::from_str(&ran.out).unwrap();
    let mm = |field: &str| {
        let value = found[field].as_f64().unwrap();
        if value < 9.95 {
            format!("{value:.1} mm")
        } else {
            format!("{value:.0} mm")
        }
    };
    let pct = found["reach_pct"].as_f64().unwrap();
    assert!(pct > 1.0 && pct < 99.0, "{pct} %");
    let wanted = format!(
        "{} of {}, give or take {} ({pct:.0} %)",
        mm("reach"),
        mm("of"),
        mm("spread")
    );
    assert_eq!(told, wanted);
    let asked = page.text("document.querySelector('.leaf select').selectedOptions[0].text");
    assert_eq!(asked, "clamp up");
    page.photograph(&photo("reach"));
    // Another tab of the same browser sees the answer too.
    page.value("sessionStorage.clear()");
    page.go(&url(&server));
    page.until(CHECKED);
    page.click("#tab-ask");
    page.until("document.querySelector('.outcome h2')");
    // What is taken out takes the changes along that need it, and says so.
    choose(&mut page, "K3");
    press(&mut page, "Add a fixing after it, or remove it");
    press(&mut page, "Remove K3");
    page.until("document.querySelector('#said.shown')");
    let told = page.text("document.querySelector('#said .what').textContent");
    assert_eq!(
        told,
        "\"bars up\" and \"clamp up\" cannot be made without K3 and went with it."
    );
    press(&mut page, "Undo");
    page.until("document.querySelector('.tools button').disabled");
    page.until("document.querySelector(\"[aria-label='How far: clamp up']\")");
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// Another route takes nothing along: no question, no answer, no ghost of the one before; and what was turned to meanwhile
/// stays open.
#[test]
fn another_route_takes_nothing_along() {
    let Some((folder, server, mut page)) = opened(SHARP, 800, 1280) else {
        return;
    };
    folder.write("other.ron", STOCK);
    put(&mut page, "Where must the ties go?");
    page.until("document.querySelector('.leaf').innerText.includes('tried')");
    page.click("#tab-route");
    press(&mut page, "other.ron");
    page.until("document.querySelector('.whose h1').textContent.includes('tourer')");
    page.click("#tab-ask");
    page.until(CHECKED);
    page.until("document.querySelector('.leaf .begin')");
    // Nor does it when the page is loaded anew: that was a question about another route.
    page.go(&url(&server));
    page.until(CHECKED);
    page.until("document.querySelector('.leaf .begin')");
    assert_eq!(server.get("api/jobs").good()["jobs"], json!([]));
    // The spread is known last; nothing turns the leaf when it is.
    page.value("new Promise(done => setTimeout(done, 3000))");
    assert_eq!(
        page.value("Boolean(document.querySelector('.leaf .begin'))"),
        json!(true)
    );
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// Every place that a fault is said to come with is one that the program knows.
#[test]
fn a_broken_wire_is_looked_for_at_any_angle_that_is_offered() {
    let Some((_folder, _server, mut page)) = opened(SHARP_WIRED, 1920, 1080) else {
        return;
    };
    page.click("#tab-ask");
    press(&mut page, "Where is the broken wire?");
    let offered = page.value("[...document.querySelectorAll('.leaf label.field select option')].map(e => e.text).slice(1)");
    let offered = offered.as_array().unwrap();
    assert!(offered.len() >= 3, "{offered:?}");
    page.click(".leaf fieldset input");
    for words in offered {
        pick(&mut page, "It fails with", words.as_str().unwrap());
        press(&mut page, "Work it out");
        page.until("/Worked out|No answer/.test(document.querySelector('.leaf').innerText)");
        let told = page.text("document.querySelector('.leaf').innerText");
        assert!(
            told.contains("Show it") && !told.contains("No answer"),
            "{words}: {told}"
        );
    }
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// What is shown of the names that can be ticked, in the order of the page.
const SHOWN: &str = "[...document.querySelectorAll('.leaf .ticks label')].filter(e => e.checkVisibility()).map(e => e.textContent)";

/// Among many names what fails is found by a part of its name, with the keys alone; what is ticked stays in sight; in both
/// lights and at both sizes the field has its name and its room.
#[test]
fn among_many_names_what_fails_is_found_by_a_part_of_it() {
    let more: String = (1..=40)
        .map(|nth| format!("\"spare lead {nth}\": (size: \"0.35 mm2\", strands: 19, outside: 1.3, class: \"C\", runs: [\"neck\"]),\n        "))
        .collect();
    let many = SHARP_WIRED.replacen("\"low beam\": (", &format!("{more}\"low beam\": ("), 1);
    let Some((_folder, _server, mut page)) = opened(&many, 1920, 1080) else {
        return;
    };
    page.value(AXE);
    for (light, width, height) in LOOKS {
        seen_in(&mut page, light, width, height);
        page.click("#tab-ask");
        if page.value("Boolean(document.querySelector('.leaf fieldset'))") == json!(false) {
            press(&mut page, "Where is the broken wire?");
        }
        let height = page
            .value("document.querySelector('[data-keep=narrow]').getBoundingClientRect().height");
        assert!(height.as_f64().unwrap() >= 44.0, "{height}");
        page.tab_to("[data-keep=narrow]");
        page.call("Input.insertText", json!({ "text": "INDICATOR le" }));
        assert_eq!(page.value(SHOWN), json!(["left indicator"]));
        page.photograph(&photo(&format!("narrow_{light}_{width}")));
        let found = page.value("axe.run(document, { resultTypes: ['violations'] }).then(r => r.violations.filter(v => ['serious', 'critical'].includes(v.impact)).map(v => `${v.id}: ${v.nodes.map(n => n.html).join(' ')}`))");
        assert_eq!(found, json!([]), "{light} {width}");
        let wide = page.value("document.querySelector('.leaf').scrollWidth > document.querySelector('.leaf').clientWidth + 1");
        assert_eq!(wide, json!(false), "{light} {width}");
        page.key("Escape", false);
        assert_eq!(page.value(SHOWN).as_array().unwrap().len(), 45);
    }
    // A screen reader tells the field's name and how many names are left.
    let tree = page.call("Accessibility.getFullAXTree", json!({}));
    let field = tree["nodes"].as_array().unwrap().iter().find(|node| {
        node["role"]["value"] == "textbox" && node["name"]["value"] == "Show only names with"
    });
    let told = &field.unwrap()["description"]["value"];
    assert_eq!(told, "45 names, none ticked");
    page.call("Input.insertText", json!({ "text": "horn" }));
    page.key("Enter", false);
    page.until("document.activeElement.value === 'horn'");
    page.key(" ", false);
    page.until(
        "document.querySelector('.leaf fieldset').innerText.includes('1 of 45 names, 1 ticked')",
    );
    // Something else is looked for, and nothing is found: what was ticked stays, and is what is asked for.
    page.value("document.querySelector('[data-keep=narrow]').select(), document.querySelector('[data-keep=narrow]').focus()");
    page.call("Input.insertText", json!({ "text": "beam" }));
    assert_eq!(page.value(SHOWN), json!(["horn", "low beam"]));
    page.call("Input.insertText", json!({ "text": "er" }));
    assert_eq!(page.value(SHOWN), json!(["horn"]));
    page.until("document.querySelector('.leaf fieldset').innerText.includes('No name holds that, 1 ticked')");
    press(&mut page, "Work it out");
    page.until("/Worked out|No answer/.test(document.querySelector('.leaf').innerText)");
    let asked = page
        .value("fetch('api/jobs').then(r => r.json()).then(r => r.jobs.at(-1).options.failing)");
    assert_eq!(asked, json!(["horn"]));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}
