//! On paper: the bench sheet and its lists, the picture, the tables, as the command line writes them and as the page hands
//! them out.

use super::client::{SHARP, SMALL, Server};
use super::opened::{LOWER, came, opened, photo, pick, press, write};
use crate::cli::run::Folder;

#[test]
fn what_is_printed_is_what_the_command_line_writes() {
    let folder = Folder::new();
    folder.write("a.ron", SMALL);
    let server = Server::start(&folder, Some("a.ron"));
    assert_eq!(folder.run("draw a.ron -o a.svg").status, 0);
    assert_eq!(server.get("api/picture.svg").body, folder.read("a.svg"));
    assert_eq!(
        folder
            .run("sheet a.ron -o a.pdf --paper letter --date today")
            .status,
        0
    );
    let sheet = server.get("api/sheet.pdf?paper=letter&date=today");
    assert_eq!(sheet.body, folder.read("a.pdf"));
    assert!(sheet.head.contains("filename=\"a-sheet.pdf\""));
    server.get("api/sheet.pdf?output=b.pdf").refused(422);
    assert!(!folder.names().contains(&"b.pdf".to_owned()));
    assert_eq!(folder.run("export a.ron --to data").status, 0);
    let tables = server.get("api/tables").good();
    for name in tables["tables"].as_array().unwrap() {
        let name = name.as_str().unwrap();
        let table = server.get(&format!("api/tables/{name}")).body;
        assert_eq!(table, folder.read(&format!("data/{name}")), "{name}");
    }
    server.get("api/tables/nothing.csv").refused(404);
    let png = server.get("api/picture.png");
    assert!(png.body.starts_with(b"\x89PNG"));
}

#[test]
fn lists_of_the_bench_sheet_are_those_of_the_command_line() {
    let folder = Folder::new();
    folder.write("a.ron", SHARP);
    let ran = folder.run("sheet a.ron -o a.pdf --tables lists --units inch");
    assert!(ran.err.is_empty(), "{}", ran.err);
    let server = Server::start(&folder, Some("a.ron"));
    for name in ["ties.csv", "look_first.csv", "hand_checks.csv"] {
        let answer = server.get(&format!("api/sheet/{name}?units=inch"));
        assert_eq!(answer.status, 200, "{name}");
        let written = std::fs::read(folder.path("lists").join(name)).unwrap();
        assert_eq!(answer.body, written, "{name}");
        assert!(answer.head.contains("text/csv"), "{}", answer.head);
    }
    let missing = server.get("api/sheet/nothing.csv");
    missing.refused(404);
    assert!(
        missing.json()["error"]["cure"]
            .as_str()
            .unwrap()
            .contains("ties.csv")
    );
}

/// A browser that prints, and every file that the page hands out: those of the program, byte for byte, for the paper that
/// was chosen.
#[test]
fn what_the_page_hands_out_is_what_the_program_writes() {
    let Some((folder, server, mut page)) = opened(LOWER, 1920, 1080) else {
        return;
    };
    let printed = page.printed();
    assert!(
        printed.starts_with(b"%PDF") && printed.len() > 20_000,
        "{}",
        printed.len()
    );
    std::fs::write(photo("printed").with_extension("pdf"), &printed).unwrap();
    page.keep_in(&folder.path("."));
    page.click("#tab-print");
    pick(&mut page, "Paper", "Letter");
    write(&mut page, "Work order", "W 17");
    press(&mut page, "Its lists for a spreadsheet");
    let paper = "units=mm&paper=letter&work-order=W+17";
    let handed = [
        (
            "Bench sheet, PDF",
            "my-sheet.pdf",
            format!("sheet.pdf?{paper}"),
        ),
        ("Ties", "my-ties.csv", format!("sheet/ties.csv?{paper}")),
        ("Drawing, SVG", "my.svg", "picture.svg?units=mm".to_owned()),
        (
            "Spans in every pose",
            "my-spans.csv",
            "tables/spans.csv?units=mm".to_owned(),
        ),
        (
            "Findings",
            "my-findings.csv",
            "tables/findings.csv?units=mm".to_owned(),
        ),
    ];
    for (words, name, call) in &handed {
        // The leaf of that name is no button of this one.
        page.value(&format!("[...document.querySelectorAll('.leaf button')].find(e => e.textContent === {words:?}).click()"));
        let found = came(&mut page, &folder, name);
        let told = server.get(&format!("api/{call}"));
        assert_eq!((told.status, found == told.body), (200, true), "{name}");
    }
    press(&mut page, "As seen, PNG");
    assert!(came(&mut page, &folder, "my-seen.png").starts_with(b"\x89PNG"));
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}
