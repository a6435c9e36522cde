//! `export`: a folder of plain data, one file of it, and what goes wrong.

use super::run::{Folder, exists, small_route};

const NAMES: [&str; 8] = [
    "charts_against.csv",
    "charts_along.csv",
    "findings.csv",
    "poses.csv",
    "shapes.csv",
    "shapes.obj",
    "shapes.ply",
    "spans.csv",
];

fn names(folder: &Folder, name: &str) -> Vec<String> {
    let entries = std::fs::read_dir(folder.path(name)).unwrap();
    let mut names: Vec<String> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_folder_is_made_and_filled_again() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let ran = folder.run("export a.ron --no-spread");
    assert_eq!((ran.status, ran.err.as_str()), (0, ""));
    assert_eq!(ran.out.lines().count(), 8);
    assert_eq!(names(&folder, "a-data"), NAMES);
    let first = folder.read("a-data/shapes.ply");
    // Again, over what is there: the same bytes, and nothing else left lying about.
    let ran = folder.run("export a.ron --no-spread --to a-data --quiet");
    assert_eq!((ran.status, ran.out.as_str()), (0, ""));
    assert_eq!(names(&folder, "a-data"), NAMES);
    assert!(folder.read("a-data/shapes.ply") == first);
    // A route over its limits is exported like any other.
    folder.write("b.ron", &small_route(252.0));
    let ran = folder.run("export b.ron --no-spread --to b --units inch --separator semicolon");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let spans = String::from_utf8(folder.read("b/spans.csv")).unwrap();
    assert!(spans.starts_with("branch;from;to;length_in;"), "{spans}");
    assert!(spans.contains(";9,92126;"), "{spans}");
}

#[test]
fn one_file_by_its_name() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let ran = folder.run("export a.ron --no-spread -o neck.obj --poses rest --lines-in m");
    assert_eq!(
        (ran.status, ran.out.as_str()),
        (0, "neck.obj\n"),
        "{}",
        ran.err
    );
    let text = String::from_utf8(folder.read("neck.obj")).unwrap();
    assert!(
        text.contains("all lengths in metres\n")
            && text.contains("\nv 0.0000000 0.0000000 0.2500000\n"),
        "{text}"
    );
    assert_eq!(
        text.lines().filter(|line| line.starts_with("o ")).count(),
        1
    );
    assert_eq!(folder.names(), ["a.ron", "neck.obj"]);
}

#[test]
fn what_cannot_be_written_says_why_and_leaves_nothing() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    for (line, message) in [
        (
            "export a.ron -o a.txt",
            "a.txt: this name does not tell what to write",
        ),
        (
            "export a.ron -o table.csv",
            "end it in .ply or .obj, or in shapes.csv",
        ),
        (
            "export a.ron --no-spread --to no/such/folder",
            "there is no folder \"no/such\"",
        ),
        (
            "export a.ron --no-spread --to a.ron",
            "this is a file, and a folder is to be filled",
        ),
        (
            "export a.ron --no-spread --poses 0,99",
            "there is no pose 99: the last is 30",
        ),
        ("export a.ron --poses some", "write all, ends, rest, or ids"),
        ("export a.ron --to x -o y.ply", "cannot be used with"),
        ("export gone.ron", "there is no such file"),
    ] {
        let ran = folder.run(line);
        assert_eq!(ran.status, 2, "{line}: {}", ran.err);
        assert!(ran.err.contains(message), "{line}: {}", ran.err);
        assert_eq!(folder.names(), ["a.ron"], "{line}");
    }
    // Where one file of the folder cannot be replaced, none is.
    std::fs::create_dir_all(folder.path("full/poses.csv")).unwrap();
    let ran = folder.run("export a.ron --no-spread --to full");
    assert_eq!(ran.status, 2);
    assert!(
        ran.err.contains("poses.csv: this is a folder"),
        "{}",
        ran.err
    );
    assert_eq!(names(&folder, "full"), ["poses.csv"]);
    assert!(!exists(&folder.path("full/shapes.csv")));
}

/// The readings with string in the report, from the route file to JSON: T2 stands on the axis, so the distance is
/// 250 mm at every angle and each slack says its length at once.
#[test]
fn gathered_slack_reaches_the_report() {
    let folder = Folder::new();
    let route = |field: &str| small_route(280.0).replace("length: 280", field);
    folder.write(
        "a.ron",
        &route("length: 283, spare: (left: 30, straight: 74, right: 31)"),
    );
    let ran = folder.run("check a.ron --json --no-spread");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let span = &report["branches"][0]["spans"][0];
    let string = &span["string"];
    assert_eq!(string["suspect"], "straight");
    assert_eq!(string["agree"], false);
    assert_eq!(string["length_mm"], span["length_mm"]);
    let length = string["length_mm"].as_f64().unwrap();
    assert!(length > 280.0 && length < 283.0, "{length}");
    let readings = string["readings"].as_array().unwrap();
    let at: Vec<&str> = readings
        .iter()
        .map(|one| one["at"].as_str().unwrap())
        .collect();
    assert_eq!(at, ["length", "left", "straight", "right"]);
    assert_eq!(readings[0]["length_mm"], 283.0);
    assert_eq!(readings[2]["spare_mm"], 74.0);
    let (off, expected) = (
        readings[2]["off_mm"].as_f64().unwrap(),
        readings[2]["expected_mm"].as_f64().unwrap(),
    );
    assert!((expected - (length - 250.0)).abs() < 2e-6 && (off - (74.0 - expected)).abs() < 2e-6);
    let warning = report["warnings"][0].as_str().unwrap();
    assert!(
        warning.contains("the slack gathered straight ahead looks wrong"),
        "{warning}"
    );
    // A span without such readings has no such entry.
    folder.write("b.ron", &small_route(280.0));
    let ran = folder.run("check b.ron --json --no-spread");
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert!(report["branches"][0]["spans"][0].get("string").is_none());
}

/// Gathered slack knows the slack itself: of three like readings, each good to 3 mm + 1 %, the spread is a root of
/// three smaller, whatever the tolerance of the points.
#[test]
fn the_spread_of_gathered_slack_is_that_of_the_hand() {
    let folder = Folder::new();
    for tolerance in ["0.5", "1", "4"] {
        let route = small_route(280.0)
            .replace("length: 280", "spare: (left: 30, straight: 30, right: 30)")
            .replace("tolerance: 1,", &format!("tolerance: {tolerance},"));
        folder.write("a.ron", &route);
        let ran = folder.run("check a.ron --json");
        let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
        let findings = report["findings"].as_array().unwrap();
        let slack = findings
            .iter()
            .find(|f| f["subject"] == "T1–T2 slack")
            .unwrap();
        let spread = slack["spread"].as_f64().unwrap();
        // A point beside the line adds its square to the distance in one pose and not in another.
        let expected = 3.3 / 3.0_f64.sqrt();
        assert!(
            (spread - expected).abs() < 0.02 * expected,
            "{tolerance}: {spread} {expected}"
        );
        assert!((slack["value"].as_f64().unwrap() - 30.0).abs() < 1e-3);
    }
}

#[test]
fn place_takes_a_table() {
    let folder = Folder::new();
    folder.write(
        "tape.csv",
        "name;x;y;z;from;distance;side\nhead;0;0;0;;;\npeg;-330;260;-520;;;\naxle;-1010;0;-560;;;\n\
         plug;;;;head;761,5;left\nplug;;;;peg;646;\nplug;;;;axle;553;\n",
    );
    let ran = folder.run("place tape.csv --json");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(report["points"][0]["name"], "plug");
    assert_eq!(report["points"][0]["readings"][0]["distance_mm"], 761.5);
    assert!(folder.run("place tape.csv").out.contains("plug"));
}
