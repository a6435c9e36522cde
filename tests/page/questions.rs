//! Questions asked on the page: how far they are, stopped with the best so far, proposals kept and refused.

use super::client::SHARP;
use super::opened::{CHECKED, STOCK, opened, photo, pick, press, stamp};

const SHARP_WIRED: &str = include_str!("../../routes/flex_life_over.ron");

#[test]
fn a_search_that_was_stopped_leaves_all_as_it_was() {
    let Some((folder, server, mut page)) = opened(STOCK, 1920, 1080) else {
        return;
    };
    page.click("#tab-ask");
    page.click("[data-keep='question reroute']");
    page.click("[data-keep=work]");
    page.until("document.querySelector('[data-keep=stop]')");
    page.click("[data-keep=stop]");
    page.until("document.querySelector('.leaf').textContent.includes('Stopped.')");
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
    page.click("#tab-ask");
    press(&mut page, "Where must the ties go?");
    press(&mut page, "Work it out");
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
