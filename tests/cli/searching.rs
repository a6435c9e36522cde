//! retie and reroute from end to end: on one core as on two, and what was found is written without searching again.

use serde_json::Value;

use super::run::Folder;
use crate::advise::{ASKEW, shed};

const PIPE: &str = r#"(name: "pipe", on: "frame", surface: 90, shape: Tube(along: [(-5, -90, -25), (-5, 90, -25)], diameter: 16)),"#;

fn folder() -> Folder {
    let folder = Folder::new();
    folder.write("askew.ron", ASKEW);
    folder.write("shed.ron", &shed(PIPE));
    folder
}

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap_or_else(|error| panic!("{error}: {text}"))
}

#[test]
fn as_many_cores_as_there_are_find_what_one_finds() {
    let folder = folder();
    for line in [
        "retie askew.ron --json --within 600",
        "reroute shed.ron --branch lead --json --within 600",
    ] {
        let one = folder.run(&format!("{line} --threads 1"));
        let two = folder.run(&format!("{line} --threads 2"));
        assert_eq!((one.status, two.status), (0, 0), "{line}: {}", one.err);
        assert_eq!(one.out, two.out, "{line}");
        let found = json(&one.out);
        assert!(!found["proposals"].as_array().unwrap().is_empty());
        assert_eq!(found["stopped"], false);
    }
}

#[test]
fn a_way_that_was_shown_is_written_without_searching_again() {
    let folder = folder();
    for (line, file) in [
        ("retie askew.ron", "askew.ron"),
        ("reroute shed.ron --branch lead", "shed.ron"),
    ] {
        let found = folder.run(&format!("{line} --json --within 600"));
        let found = json(&found.out);
        let ways = found["proposals"].as_array().unwrap();
        let wanted = ways.last().unwrap()["route"].as_str().unwrap();
        let write = format!("{line} -o new.ron --write {}", ways.len());
        let ran = folder.run(&write);
        assert_eq!(ran.status, 0, "{}", ran.err);
        assert!(
            ran.out.contains("was not searched for again"),
            "{}",
            ran.out
        );
        assert_eq!(folder.read("new.ron"), wanted.as_bytes());
        let ran = folder.run(&format!("{line} -o new.ron --write 99"));
        assert_eq!(ran.status, 2);
        assert!(ran.err.contains("there is no way number 99"), "{}", ran.err);
        // Another text, other options: it is searched for.
        let kept = folder.read(&format!(".{file}.ways"));
        folder.write(
            file,
            &format!(
                "{}// a word\n",
                String::from_utf8(folder.read(file)).unwrap()
            ),
        );
        let ran = folder.run(&format!("{line} -o new.ron --write 1 --within 600"));
        assert_eq!(ran.status, 0, "{}", ran.err);
        assert!(
            !ran.out.contains("was not searched for again"),
            "{}",
            ran.out
        );
        assert!(folder.read("new.ron").ends_with(b"// a word\n"));
        assert_eq!(
            folder.read(&format!(".{file}.ways")),
            kept,
            "what was written need not be kept"
        );
    }
    // Nonsense where an answer was kept is no answer.
    folder.write(".askew.ron.ways", "{\"question\": 1");
    let ran = folder.run("retie askew.ron -o new.ron --write 1 --within 600");
    assert_eq!(ran.status, 0, "{}", ran.err);
    assert!(
        !ran.out.contains("was not searched for again"),
        "{}",
        ran.out
    );
}

/// Ctrl-C at any moment: nothing panics, and what is shown says that it is unfinished.
#[cfg(unix)]
#[test]
fn an_interruption_at_any_moment_is_borne() {
    use std::process::Stdio;

    let folder = folder();
    let text = ASKEW.replace(
        "branches: [(",
        "changes: { \"aside\": [Move(what: \"B\", by: (0, 40, 0))], \"nearer\": [Move(what: \"B\", by: (-30, 0, 0))] }, branches: [(",
    );
    folder.write("b.ron", &text.replace("(0.5, 0.85, 0)", "(1, 0, 0)"));
    for line in [
        "reach b.ron --change aside --json",
        "reach b.ron --change aside --change nearer --json",
        "lengthen askew.ron --json",
        "retie askew.ron --json",
        "reroute shed.ron --branch lead --json",
    ] {
        for after in [30, 120, 300] {
            let child = folder
                .command(line)
                .stdout(Stdio::piped())
                .stderr(Stdio::piped())
                .spawn()
                .unwrap();
            std::thread::sleep(std::time::Duration::from_millis(after));
            super::run::interrupt(&child);
            let ran = child.wait_with_output().unwrap();
            let (out, err) = (
                String::from_utf8(ran.stdout).unwrap(),
                String::from_utf8(ran.stderr).unwrap(),
            );
            assert!(!err.contains("panicked"), "{line}: {err}");
            match ran.status.code() {
                // Before anybody listened.
                None => assert_eq!(out, ""),
                Some(130) => {
                    assert_eq!(out, "", "{line}");
                    assert!(
                        err.contains("stopped before there was anything to show"),
                        "{err}"
                    );
                }
                Some(0 | 1) => assert!(json(&out)["stopped"].is_boolean(), "{line}"),
                other => panic!("{line}: {other:?} {err}"),
            }
        }
    }
}
