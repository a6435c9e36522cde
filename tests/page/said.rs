//! What a person chose or wrote and has not used yet stays: in the other light, in the other units, on another leaf meanwhile.

use serde_json::{Value, json};

use super::chromium::Page;
use super::client::{SHARP, SMALL};
use super::opened::{CHECKED, STOCK, choose, opened, pick, press, write};

const SHARP_WIRED: &str = include_str!("../../routes/flex_life_over.ron");

/// What stands in the fields of the leaf: the label of each with what is written, chosen or ticked.
const SAID: &str = "[...document.querySelectorAll('.leaf input, .leaf select')].filter(e => e.checkVisibility() && e.type !== 'range').map(e => [e.closest('.field, .tick')?.querySelector('.label')?.textContent ?? e.closest('label')?.textContent ?? '', e.type === 'checkbox' ? e.checked : e.selectedOptions?.[0]?.text ?? e.value])";

fn other_light(page: &mut Page) {
    let light = page.text("document.documentElement.dataset.light");
    page.click(".tools button:last-child");
    page.until(&format!(
        "document.documentElement.dataset.light !== {light:?}"
    ));
}

/// In the other units all is fetched anew; the leaf is looked at when that has come.
fn other_units(page: &mut Page) {
    page.value("import('./desk/bench/bench.js').then(({ bench }) => { window.told = 0; bench.on('scene', () => (window.told += 1)); })");
    page.click(".tools button:nth-last-child(2)");
    page.until("window.told > 0");
    page.value("new Promise(done => setTimeout(done, 100))");
}

fn away_and_back(page: &mut Page, leaf: &str) {
    page.click("#tab-route");
    page.until("document.querySelector('.leaf').innerText.includes('Another route')");
    page.click(leaf);
}

/// All three, twice, so that it comes back to where it was. `inch`: what is told in inches meanwhile.
#[track_caller]
fn stays(page: &mut Page, leaf: &str, inch: Option<&Value>) {
    let said = page.value(SAID);
    for round in 0..2 {
        other_light(page);
        let expected = if round == 1 {
            inch.unwrap_or(&said)
        } else {
            &said
        };
        assert_eq!(&page.value(SAID), expected, "in the other light");
        away_and_back(page, leaf);
        assert_eq!(&page.value(SAID), expected, "on another leaf meanwhile");
        other_units(page);
        let expected = if round == 0 {
            inch.unwrap_or(&said)
        } else {
            &said
        };
        assert_eq!(&page.value(SAID), expected, "in the other units");
    }
}

fn ask(page: &mut Page, question: &str) {
    page.click("#tab-ask");
    press(page, question);
}

/// What fails, when, and what was written to find it among many; none of it asked yet.
#[test]
fn what_is_ticked_and_not_asked_yet_stays() {
    let more: String = (1..=12)
        .map(|nth| format!("\"spare lead {nth}\": (size: \"0.35 mm2\", strands: 19, outside: 1.3, class: \"C\", runs: [\"neck\"]),\n        "))
        .collect();
    let many = SHARP_WIRED.replacen("\"low beam\": (", &format!("{more}\"low beam\": ("), 1);
    let Some((_folder, _server, mut page)) = opened(&many, 1920, 1080) else {
        return;
    };
    ask(&mut page, "Where is the broken wire?");
    page.value("['horn', 'low beam'].forEach(name => document.querySelector(`.ticks input[value='${name}']`).click())");
    page.value("[...document.querySelectorAll('.leaf .tick input')].at(-1).click()");
    let angle = page.text("document.querySelector('.leaf label.field select').options[1].text");
    pick(&mut page, "It fails with", &angle);
    page.value("document.querySelector('[data-keep=narrow]').focus()");
    page.call("Input.insertText", json!({ "text": "lead 1" }));
    let said = page.value(SAID).to_string();
    assert!(said.contains("lead 1") && said.contains(&angle), "{said}");
    assert_eq!(said.matches("true").count(), 3, "{said}");
    // Looked at and found, the two that are ticked, and what is narrowed to.
    assert_eq!(said.matches("spare lead").count(), 4, "{said}");
    stays(&mut page, "#tab-ask", None);
    // Another question in between.
    press(&mut page, "Another question");
    press(&mut page, "How much longer must it be?");
    pick(&mut page, "Join wires by", "solder sleeves");
    stays(&mut page, "#tab-ask", None);
    press(&mut page, "Another question");
    press(&mut page, "Where is the broken wire?");
    assert_eq!(page.value(SAID).to_string(), said);
    press(&mut page, "Work it out");
    page.until("/Worked out|No answer/.test(document.querySelector('.leaf').innerText)");
    let asked =
        page.value("fetch('api/jobs').then(r => r.json()).then(r => r.jobs.at(-1).options)");
    assert_eq!(asked["failing"], json!(["low beam", "horn"]));
    assert_eq!(asked["hot"], json!(true));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// A length that was written is told in the other units and comes back as it was written; one that cannot be read stays too.
#[test]
fn what_is_written_and_not_asked_yet_stays() {
    let Some((_folder, _server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    ask(&mut page, "Does the lead reach the new bars?");
    write(&mut page, "Length of the lead, tie to tie", "18.53 cm");
    write(&mut page, "Slack full left", "62,5");
    write(&mut page, "Slack full right", "some");
    pick(&mut page, "The lead goes to", "the rider's right");
    let mut inch = page.value(SAID);
    for line in inch.as_array_mut().unwrap() {
        line[1] = match line[1].as_str().unwrap() {
            "18.53 cm" => json!("7.2953"),
            "62,5" => json!("2.4606"),
            _ => line[1].clone(),
        };
    }
    stays(&mut page, "#tab-ask", Some(&inch));
    let wrong = "[...document.querySelectorAll('.leaf input')].filter(e => e.getAttribute('aria-invalid') === 'true').map(e => e.value)";
    assert_eq!(page.value(wrong), json!(["some"]));
    write(&mut page, "Slack full right", "31");
    // Asked in inches it is what was written in millimetres, to the last of them.
    other_units(&mut page);
    press(&mut page, "Work it out");
    page.until("/Worked out|No answer/.test(document.querySelector('.leaf').innerText)");
    let asked =
        page.value("fetch('api/jobs').then(r => r.json()).then(r => r.jobs.at(-1).options)");
    let told = ["length", "spare-left", "spare-right", "side"].map(|key| asked[key].clone());
    assert_eq!(
        told,
        [
            json!("185.3 mm"),
            json!("62.5 mm"),
            json!("31 mm"),
            json!("right")
        ]
    );
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// From where to where another way is looked for, of each branch.
#[test]
fn the_ends_of_another_way_stay() {
    let Some((_folder, _server, mut page)) = opened(STOCK, 800, 1280) else {
        return;
    };
    ask(&mut page, "Which other way could it go?");
    pick(&mut page, "From", "K2");
    pick(&mut page, "To", "K3");
    write(&mut page, "At most", "45");
    stays(&mut page, "#tab-ask", None);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// Readings that are typed on the measure leaf, what is added on the change leaf, a work order.
#[test]
fn what_is_written_on_the_other_leaves_stays() {
    let Some((_folder, server, mut page)) = opened(SMALL, 800, 1280) else {
        return;
    };
    page.click("#tab-print");
    write(&mut page, "Work order", "17 b");
    pick(&mut page, "Paper", "Letter");
    stays(&mut page, "#tab-print", None);
    page.click("#tab-measure");
    press(&mut page, "A new point, by tape");
    press(&mut page, "One more distance");
    write(&mut page, "Name", "lamp");
    write(&mut page, "Slack, full left", "25.4");
    page.until("document.querySelector('.leaf details[open]')");
    let said = page.value(SAID);
    assert_eq!(said.to_string().matches("Distance").count(), 5, "{said}");
    let inch = "[...document.querySelectorAll('.leaf .field')].filter(e => e.querySelector('.label').textContent === 'Slack, full left').map(e => e.querySelector('input').value)[0]";
    other_light(&mut page);
    assert_eq!(page.value(SAID), said);
    other_units(&mut page);
    assert_eq!(page.text(inch), "1");
    other_units(&mut page);
    assert_eq!(page.value(SAID), said);
    // Used, they are in the file, and the fields say what the file says.
    press(&mut page, "Use these readings");
    page.until("!document.querySelector('.tools button').disabled");
    assert!(server.text().contains("spare: (left: \"25.4 mm\")"));
    press(&mut page, "Undo");
    page.until("document.querySelector('.tools button').disabled");
    page.until(&format!("{inch} === ''"));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// What is being tried goes on in the other light and in the other units, told in them.
#[test]
fn what_is_tried_stays() {
    let Some((_folder, server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    page.click("#tab-change");
    let slider = "document.querySelector(\"[aria-label='How far: seat 16 mm lower']\")";
    page.value(&format!(
        "(() => {{ const s = {slider}; s.value = 0.5; s.dispatchEvent(new Event('input')); }})()"
    ));
    let trying = |amount: &str| {
        format!(
            "document.querySelector('.stamp').textContent.includes('Trying') && document.querySelector('.tried').innerText.includes('seat 16 mm lower, {amount}')"
        )
    };
    page.until(&trying("8.0 mm (50 %)"));
    let told = format!("{slider}.closest('.told').querySelector('output').textContent");
    assert_eq!(page.text(&told), "8.0 mm (50 %)");
    other_light(&mut page);
    assert_eq!(page.text(&told), "8.0 mm (50 %)");
    other_units(&mut page);
    page.until(&trying("0.31 in (50 %)"));
    page.until(&format!("{told} === '0.31 in (50 %)'"));
    assert_eq!(page.value(&format!("{slider}.value")), json!("0.5"));
    press(&mut page, "Keep it");
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    assert_ne!(server.text(), STOCK);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// A check that comes before the first answer to a slider paints the leaf anew: the slider stays where it was pushed.
#[test]
fn what_is_about_to_be_tried_stays() {
    let Some((_folder, _server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    page.click("#tab-change");
    let slider = "document.querySelector(\"[aria-label='How far: seat 16 mm lower']\")";
    page.until(slider);
    let told = page.value(&format!(
        "import('./desk/bench/bench.js').then(({{ bench }}) => {{ const s = {slider}; s.value = 0.5; s.dispatchEvent(new Event('input')); const before = Boolean(bench.tried); bench.tell('report'); return [before, {slider} !== s, {slider}.value, {slider}.closest('.told').querySelector('output').textContent]; }})"
    ));
    assert_eq!(told, json!([false, true, "0.5", "8.0 mm (50 %)"]));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// What is being written waits for nobody: the check comes meanwhile, and the field keeps its text and its place.
#[test]
fn what_is_being_written_is_not_painted_over() {
    let Some((_folder, _server, mut page)) = opened(SHARP, 1920, 1080) else {
        return;
    };
    let field = "[...document.querySelectorAll('.leaf .field')].find(e => e.querySelector('.label').textContent === 'Above zero').querySelector('input')";
    choose(&mut page, "K3");
    let before = page.text(&format!("{field}.value"));
    page.value(&format!("{field}.focus()"));
    page.call("Input.insertText", json!({ "text": "9" }));
    let now = page.text(&format!("{field}.value"));
    assert_ne!(now, before);
    page.value("import('./desk/bench/bench.js').then(({ bench }) => bench.tell('report'))");
    assert_eq!(page.text(&format!("{field}.value")), now);
    assert_eq!(
        page.value(&format!("{field} === document.activeElement")),
        json!(true)
    );
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}
