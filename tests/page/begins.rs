//! The beginning: without a file, with an example, with a blank that says what to measure.

use serde_json::json;

use super::chromium::Page;
use super::client::Server;
use super::opened::{CHECKED, photo, press, save, stamp, url};
use crate::cli::run::Folder;

fn begun() -> Option<(Folder, Server, Page)> {
    let mut page = Page::open(1920, 1080)?;
    let folder = Folder::new();
    let server = Server::start(&folder, None);
    page.go(&url(&server));
    page.until("document.querySelectorAll('.example').length > 3");
    Some((folder, server, page))
}

#[test]
fn an_example_is_chosen_looked_at_and_saved_as_a_file() {
    let Some((folder, _server, mut page)) = begun() else {
        return;
    };
    for (light, width, height) in [("day", 1920, 1080), ("shed", 800, 1280)] {
        page.size(width, height);
        if page.value("document.documentElement.dataset.light") != json!(light) {
            page.click(".tools button:last-child");
        }
        page.value("new Promise(done => setTimeout(done, 300))");
        page.photograph(&photo(&format!("begin_{light}_{width}")));
    }
    // Machines of several kinds, each said to be invented.
    let offered = page.text("document.querySelector('.leaf').innerText");
    for kind in [
        "tourer",
        "single",
        "Step-through",
        "Off-road",
        "all invented",
    ] {
        assert!(offered.contains(kind), "{kind}: {offered}");
    }
    press(&mut page, "Small single with a high lamp");
    page.until(CHECKED);
    assert!(stamp(&mut page).contains("broken"), "{}", stamp(&mut page));
    page.until("document.querySelectorAll('.leaf .finding').length > 0");
    // Nothing lies in the folder before it is saved.
    assert_eq!(
        folder
            .names()
            .iter()
            .filter(|name| !name.starts_with('.'))
            .count(),
        0
    );
    save(&mut page);
    let names = folder.names();
    assert!(
        names.iter().any(|name| name == "single_high_lamp.ron"),
        "{names:?}"
    );
    let ran = folder.run("check single_high_lamp.ron --quiet");
    assert_eq!(ran.status, 1, "{}", ran.err);
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

#[test]
fn a_blank_says_what_to_measure_and_leads_there() {
    let Some((folder, _server, mut page)) = begun() else {
        return;
    };
    press(&mut page, "Begin with a blank");
    page.until(CHECKED);
    // What to measure, in which order, is unfolded, and each step leads to where it is written down.
    page.until("document.querySelector('.guide')?.open");
    page.photograph(&photo("blank"));
    let steps = page.value("document.querySelectorAll('.guide li').length");
    assert!(steps.as_u64().unwrap() >= 5);
    press(&mut page, "2. Steering");
    page.until("[...document.querySelectorAll('.leaf details')].find(e => e.textContent.startsWith('Stops'))?.open");
    super::opened::write(&mut page, "steering, full left", "31");
    page.until("!document.querySelector('.tools button').disabled");
    page.until(CHECKED);
    save(&mut page);
    let saved = String::from_utf8(folder.read("new.ron")).unwrap();
    assert!(
        saved.contains("\"31 deg\"") || saved.contains("to: 31"),
        "{saved}"
    );
    assert!(saved.contains("//"), "its comments stay");
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}
