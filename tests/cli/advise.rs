//! compare, reach and retie from end to end.

use serde_json::Value;

use super::run::{Folder, small_route};

fn with_changes(length: f64) -> String {
    small_route(length).replace(
        "branches: [(",
        "changes: { \"up\": [Move(what: \"T2\", by: (0, 0, 10))], \"longer\": [Lengthen(to: \"T2\", by: 20)] }, branches: [(",
    )
}

#[test]
fn reach_has_the_fields_of_its_contract() {
    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    let ran = folder.run("reach a.ron --change up --json");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report: Value = serde_json::from_str(&ran.out).unwrap();
    for key in [
        "format",
        "title",
        "assumed",
        "warnings",
        "change",
        "reach",
        "of",
        "unit",
        "reach_pct",
        "spread",
        "decided_by",
        "next",
    ] {
        assert!(report.get(key).is_some(), "{key}");
    }
    assert_eq!(report["of"], 10.0);
    assert_eq!(report["unit"], "mm");
    let (reach, pct) = (
        report["reach"].as_f64().unwrap(),
        report["reach_pct"].as_f64().unwrap(),
    );
    assert!((10.0 * reach - pct).abs() < 1e-6 * pct);
    assert!(report["decided_by"]["check"].is_string());
    let ran = folder.run("reach a.ron --change upp");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("did you mean \"up\""), "{}", ran.err);
}

#[test]
fn compare_draws_and_tells() {
    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    let ran = folder.run("compare a.ron --change up --json -o a.svg --no-spread");
    let report: Value =
        serde_json::from_str(&ran.out).unwrap_or_else(|_| panic!("{}{}", ran.out, ran.err));
    assert!(report["numbers"].as_array().is_some_and(|n| !n.is_empty()));
    let drawn = String::from_utf8(folder.read("a.svg")).unwrap();
    assert!(drawn.contains("harness before the change"));
    folder.write("b.ron", &with_changes(255.0));
    let ran = folder.run("compare a.ron b.ron --no-spread");
    assert_eq!(ran.status, 1, "{}{}", ran.out, ran.err);
    assert!(
        ran.out.contains("OVER") && ran.out.contains("New"),
        "{}",
        ran.out
    );
    assert_eq!(folder.run("compare a.ron").status, 2);
}

#[test]
fn retie_says_when_nothing_needs_to_move() {
    let folder = Folder::new();
    folder.write("a.ron", &with_changes(280.0));
    let ran = folder.run("retie a.ron");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(ran.out.contains("nothing needs to move"), "{}", ran.out);
    let ran = folder.run("retie a.ron --json");
    let report: Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(report["proposals"].as_array().unwrap().len(), 0);
}
