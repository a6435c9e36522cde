//! `check`: exit status, the report on a terminal and as JSON.

use std::io::Read;
use std::process::Stdio;

use super::run::{Folder, small_route};

#[test]
fn a_sound_route_ends_with_zero_and_says_so_first() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let ran = folder.run("check a.ron");
    assert_eq!(ran.status, 0, "{}{}", ran.out, ran.err);
    let lines: Vec<&str> = ran.out.lines().collect();
    assert_eq!(lines[0], "One span");
    assert!(lines[1].starts_with("WITHIN  all "), "{}", lines[1]);
    assert!(ran.out.contains("Cautions"));
    assert!(
        !ran.out.contains('\u{1b}'),
        "no colour where it is not a terminal"
    );
    assert!(ran.err.is_empty(), "{}", ran.err);
    assert!(ran.out.lines().all(|line| line.chars().count() <= 80));
}

#[test]
fn a_short_span_ends_with_one_and_names_what_is_missing() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(255.0));
    let ran = folder.run("check a.ron");
    assert_eq!(ran.status, 1, "{}{}", ran.out, ran.err);
    assert!(
        ran.out.contains("OVER") && ran.out.contains("lengthen T1–T2 by"),
        "{}",
        ran.out
    );
    let quiet = folder.run("check a.ron --quiet");
    assert_eq!(quiet.status, 1);
    assert_eq!(quiet.out.lines().count(), 1, "{}", quiet.out);
    let inch = folder.run("check a.ron --units inch");
    assert!(
        inch.out.contains("0.20 in, at least 0.59 in"),
        "{}",
        inch.out
    );
}

/// The slack of 280 − 250 = 30 mm holds at every angle, and the sweep names both stops and straight ahead.
#[test]
fn the_json_report_tells_slack_and_poses() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let ran = folder.run("check a.ron --json --no-spread --seed 7");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    assert_eq!(report["format"], 1);
    assert_eq!(report["title"], "One span");
    assert_eq!(report["seed"], 7);
    let angles: Vec<f64> = report["poses"]
        .as_array()
        .unwrap()
        .iter()
        .map(|pose| pose["joints"]["steering"].as_f64().unwrap())
        .collect();
    for angle in [-30.0, 0.0, 30.0] {
        assert!(
            angles.iter().any(|a| (a - angle).abs() < 1e-9),
            "{angle} in {angles:?}"
        );
    }
    let span = &report["branches"][0]["spans"][0];
    assert_eq!((&span["from"], &span["to"]), (&"T1".into(), &"T2".into()));
    for pose in span["by_pose"].as_array().unwrap() {
        let slack = pose["slack_mm"].as_f64().unwrap();
        assert!((slack - 30.0).abs() < 0.1, "{slack}");
        assert_eq!(pose["converged"], true);
    }
    // Both ends hold direction about the axis: the span takes up nearly the whole angle of the bars.
    let twist = span["twist_most"]["twist_deg"].as_f64().unwrap();
    assert!((10.0..=31.0).contains(&twist.abs()), "{twist}");
    assert!(report["findings"][0]["spread"].is_null());
    assert_eq!(
        folder.run("check a.ron --json").out,
        folder.run("check a.ron --json --threads 1").out
    );
}

#[test]
fn a_wrong_file_ends_with_two_and_tells_where() {
    let folder = Folder::new();
    folder.write(
        "a.ron",
        &small_route(280.0).replace("name: \"neck\"", "nome: \"neck\""),
    );
    let ran = folder.run("check a.ron");
    assert_eq!(ran.status, 2);
    assert!(ran.out.is_empty(), "{}", ran.out);
    assert!(ran.err.contains("a.ron:13:9: "), "{}", ran.err);
    for (line, status) in [
        ("check missing.ron", 2),
        ("check", 2),
        ("grind a.ron", 2),
        ("--version", 0),
    ] {
        assert_eq!(folder.run(line).status, status, "{line}");
    }
}

#[test]
fn a_reader_that_goes_away_is_no_failure() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let mut child = folder
        .command("check a.ron --json")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let mut told = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut told)
        .unwrap();
    assert_eq!(child.wait().unwrap().code(), Some(0));
    assert_eq!(told, "");
}
