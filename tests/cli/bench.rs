//! estimate, lengthen, sheet.

use serde_json::Value;

use super::run::Folder;

const LEAD: &str = r#"(format: 1, title: "over the axis", units: (length: "mm", temperature: "degC"), tolerance: 1,
    // a comment that must stay
    bodies: { "frame": Fixed, "steering": Turns(on: "frame", through: (0, 0, 0), rake: "24 deg",
        from: "-35 deg", to: "35 deg") },
    parts: [],
    wires: { "lamp": (size: "1.5 mm2", strands: 30, outside: 2.4, current: "4.6 A", colour: "white") },
    branches: [(name: "lead", wires: ["lamp"], diameter: 2.5, lay: [
        Connector(name: "plug", on: "frame", at: (-190, 10, -45), facing: (1, 0, 0.1)),
        Tie(name: "A", on: "frame", at: (-70, 10, -30), facing: (1, 0, 0.3), width: 4.8, slack: 0.5),
        Tie(name: "P", on: "steering", at: (60, 20, 40), width: 4.8, length: 172),
    ])],
    changes: { "bars 30 mm up": [Move(what: "P", by: (0, 0, 30))] },
)
"#;

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"))
}

#[test]
fn estimate_answers_with_the_fields_of_the_contract() {
    let folder = Folder::new();
    let given = "estimate --spare-left 70 --spare-straight 60 --spare-right 50 --length 285 --lock 36 --rise 100 120";
    let ran = folder.run(&format!("{given} --json"));
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report = json(&ran.out);
    assert_eq!(report["format"], 1);
    assert_eq!(report["answer"], "yes");
    assert_eq!(report["short_mm"], 0.0);
    assert!(report["spread_mm"].as_f64().unwrap() > 1.0);
    assert!(!report["repeat"].as_str().unwrap().is_empty());
    for list in ["assumed", "warnings", "cannot_see", "readings"] {
        assert!(report[list].is_array(), "{list}");
    }
    // The same numbers, the same answer.
    assert_eq!(folder.run(&format!("{given} --json")).out, ran.out);
    // With far taller bars it does not reach, and the exit status says so.
    let ran =
        folder.run("estimate --spare-left 40 --spare-right 10 --length 285 --rise 100 250 --json");
    assert_eq!(ran.status, 1);
    let report = json(&ran.out);
    assert_eq!(report["answer"], "no");
    assert!(report["short_mm"].as_f64().unwrap() > 0.0);
}

#[test]
fn estimate_says_what_is_missing_or_wrong() {
    let folder = Folder::new();
    for (line, says) in [
        ("estimate --rise 100 150", "no slack was read"),
        ("estimate --spare-left 20", "nothing changes"),
        ("estimate --spare-left twenty --rise 1 2", "--spare-left"),
        (
            "estimate --spare-left 20 --rise 100 150 --lock 300",
            "cannot be",
        ),
    ] {
        let ran = folder.run(line);
        assert_eq!(ran.status, 2, "{line}: {}", ran.out);
        assert!(ran.err.contains(says), "{line}: {}", ran.err);
    }
}

#[test]
fn lengthen_writes_a_route_that_holds() {
    let folder = Folder::new();
    folder.write("lead.ron", LEAD);
    let ran = folder.run_words(&[
        "lengthen",
        "lead.ron",
        "--change",
        "bars 30 mm up",
        "--step",
        "5 mm",
        "-o",
        "longer.ron",
        "--json",
    ]);
    assert_eq!(ran.status, 0, "{} {}", ran.out, ran.err);
    let report = json(&ran.out);
    let [span] = &report["spans"].as_array().unwrap()[..] else {
        panic!("{report}")
    };
    assert_eq!(
        (&span["from"], &span["to"]),
        (&Value::from("A"), &Value::from("P"))
    );
    let add = span["add_mm"].as_f64().unwrap();
    assert!(
        add > 0.0 && (add / 5.0 - (add / 5.0).round()).abs() < 1e-9,
        "{add}"
    );
    let [cut] = &report["cuts"].as_array().unwrap()[..] else {
        panic!("{report}")
    };
    assert_eq!(
        (&cut["wire"], &cut["colour"]),
        (&Value::from("lamp"), &Value::from("white"))
    );
    assert!(cut["cut_mm"].as_f64() > cut["finished_mm"].as_f64());
    assert!(report["splices"].is_array());
    // The route that was written holds what length can cure, and keeps its comments.
    let text = String::from_utf8(folder.read("longer.ron")).unwrap();
    assert!(text.contains("a comment that must stay"));
    let ran = folder.run("check longer.ron --json");
    let report = json(&ran.out);
    for finding in report["findings"].as_array().unwrap() {
        if finding["check"] == "elongation" {
            assert_eq!(finding["verdict"], "within", "{finding}");
        }
    }
    let ran = folder.run_words(&["lengthen", "lead.ron", "--change", "bars up"]);
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("bars 30 mm up"), "{}", ran.err);
}

#[test]
fn sheet_writes_pages_and_tables() {
    let folder = Folder::new();
    folder.write("lead.ron", LEAD);
    let ran = folder.run_words(&[
        "sheet",
        "lead.ron",
        "--no-spread",
        "--change",
        "bars 30 mm up",
        "-o",
        "job.pdf",
        "--tables",
        "job",
    ]);
    assert_eq!(ran.status, 0, "{}", ran.err);
    let first = folder.read("job.pdf");
    assert!(first.starts_with(b"%PDF-1.7"));
    let ties = std::fs::read_to_string(folder.path("job").join("ties.csv")).unwrap();
    assert_eq!(ties.lines().count(), 4, "{ties}");
    assert!(folder.path("job").join("cuts.csv").exists());
    let ran = folder.run("sheet lead.ron -o job.doc");
    assert_eq!(ran.status, 2);
    assert!(
        ran.err.contains("end it in .pdf, .svg or .png"),
        "{}",
        ran.err
    );
}

#[test]
fn sheet_says_where_to_look_for_what_fails() {
    let folder = Folder::new();
    folder.write("lead.ron", LEAD);
    let line = "sheet lead.ron --no-spread -o job.pdf --tables job --failing lamp --at".split(' ');
    let at = ["steering full left", "--change", "bars 30 mm up"];
    let ran = folder.run_words(&line.chain(at).collect::<Vec<_>>());
    assert_eq!(ran.status, 0, "{}", ran.err);
    // The same places in the same order as locate names them in the route as it is.
    let ran = folder.run_words(&[
        "locate",
        "lead.ron",
        "--no-spread",
        "--failing",
        "lamp",
        "--at",
        "steering full left",
        "--json",
    ]);
    let places = json(&ran.out);
    let places = places["places"].as_array().unwrap();
    let table = std::fs::read(folder.path("job").join("where_broken.csv")).unwrap();
    let rows: Vec<csv::StringRecord> = csv::Reader::from_reader(table.as_slice())
        .records()
        .map(Result::unwrap)
        .collect();
    assert!(!places.is_empty());
    assert_eq!(rows.len(), places.len());
    for (row, place) in rows.iter().zip(places) {
        assert!(
            row[0].starts_with(&format!("{}. ", place["rank"])),
            "{row:?}"
        );
        assert_eq!(&row[2], place["why"].as_str().unwrap());
    }
    assert!(folder.path("job").join("look_first.csv").exists());
    // Without it there is no such table; and what goes with it needs it.
    let ran = folder.run("sheet lead.ron --no-spread -o job.pdf --tables plain");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(!folder.path("plain").join("where_broken.csv").exists());
    let ran = folder.run("sheet lead.ron --hot");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("--failing"), "{}", ran.err);
    let ran = folder.run("sheet lead.ron --failing lamb");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("did you mean \"lamp\""), "{}", ran.err);
}
