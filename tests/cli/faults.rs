//! What can go wrong around the program: names that are no text, links that lead nowhere, pipes, full disks, an end in
//! the middle of writing. Nothing may be lost, and the message must say what to do.
#![cfg(target_os = "linux")]

use std::ffi::OsStr;
use std::io::Read;
use std::os::unix::ffi::OsStrExt;
use std::process::{Command, Stdio};

use super::run::{Folder, small_route};

/// The program in a shell of the folder, with what the shell can limit.
fn shell(folder: &Folder, line: &str) -> (i32, String, String) {
    let line = line.replace("neckloom", env!("CARGO_BIN_EXE_neckloom"));
    let ran = Command::new("sh")
        .current_dir(folder.path(""))
        .args(["-c", &line])
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    (
        ran.status.code().unwrap_or(-1),
        text(ran.stdout),
        text(ran.stderr),
    )
}

#[test]
fn a_name_that_is_no_text_is_a_name_like_any_other() {
    let folder = Folder::new();
    let name = OsStr::from_bytes(b"neck\xff.ron");
    std::fs::write(folder.path("").join(name), small_route(280.0)).unwrap();
    let drawn = OsStr::from_bytes(b"neck\xfe.svg");
    let ran = Command::new(env!("CARGO_BIN_EXE_neckloom"))
        .current_dir(folder.path(""))
        .arg("draw")
        .arg(name)
        .arg("-o")
        .arg(drawn)
        .output()
        .unwrap();
    assert!(ran.status.success(), "{ran:?}");
    assert!(std::fs::read(folder.path("").join(drawn)).unwrap().len() > 1000);
}

#[test]
fn links_that_lead_round_in_a_circle_are_no_route() {
    let folder = Folder::new();
    for (link, to) in [("a.ron", "b.ron"), ("b.ron", "a.ron")] {
        std::os::unix::fs::symlink(folder.path(to), folder.path(link)).unwrap();
    }
    let ran = folder.run("check a.ron");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("a.ron"), "{}", ran.err);
    assert!(ran.out.is_empty());
}

#[test]
fn a_full_disk_is_said_and_costs_nothing() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let (status, out, err) = shell(&folder, "neckloom check a.ron --json > /dev/full");
    assert_eq!((status, out.as_str()), (2, ""), "{err}");
    assert!(err.contains("cannot be written"), "{err}");
    // A device takes what is written, and stays a device.
    let (status, _, err) = shell(&folder, "neckloom draw a.ron -o /dev/full");
    assert_eq!(status, 2, "{err}");
    assert!(err.contains("/dev/full: cannot be written"), "{err}");
    let (status, out, _) = shell(
        &folder,
        "neckloom draw a.ron -o /dev/stdout --quiet | head -c 4",
    );
    assert_eq!(status, 0);
    assert!(out.starts_with("<svg") || out.starts_with("<?xm"), "{out}");
}

/// The system ends a program that writes more than it may: as good as a pulled plug.
#[test]
fn an_end_in_the_middle_of_writing_leaves_the_old_file() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    folder.write("a.svg", "old");
    let (status, ..) = shell(&folder, "ulimit -f 8; neckloom draw a.ron -o a.svg");
    assert_ne!(status, 0);
    assert_eq!(folder.read("a.svg"), b"old");
    // Without the limit it is replaced whole.
    let (status, ..) = shell(&folder, "neckloom draw a.ron -o a.svg");
    assert_eq!(status, 0);
    assert!(
        folder.read("a.svg").ends_with(b"</svg>") || folder.read("a.svg").ends_with(b"</svg>\n")
    );
}

/// A study that was ended goes on where it was, and holds each row once.
#[test]
fn a_study_that_was_ended_goes_on() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0).replace("branches: [(", "changes: { \"longer\": [Lengthen(branch: \"neck\", to: \"T2\", by: 40)] },\n    branches: [("));
    let mut table = String::from("longer\n");
    for step in 0..40 {
        table.push_str(&format!("{}\n", f64::from(step) / 40.0));
    }
    folder.write("t.csv", &table);
    let whole = folder.run("study t.csv a.ron -o whole.csv --quiet");
    assert!(whole.status < 2, "{}", whole.err);
    let mut child = folder
        .command("study t.csv a.ron -o cut.csv --quiet --threads 1")
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // Once something is written, the plug is pulled.
    let cut = folder.path("cut.csv");
    let began = std::time::Instant::now();
    while std::fs::read(&cut).map_or(0, |bytes| bytes.len()) < 200
        && began.elapsed().as_secs() < 30
        && child.try_wait().unwrap().is_none()
    {
        std::thread::sleep(std::time::Duration::from_micros(200));
    }
    child.kill().unwrap();
    child.wait().unwrap();
    let mut told = String::new();
    child
        .stderr
        .take()
        .unwrap()
        .read_to_string(&mut told)
        .unwrap();
    // As a line that was not finished would stand there.
    let mut half = folder.read("cut.csv");
    half.truncate(half.len() - 3);
    std::fs::write(&cut, &half).unwrap();
    let again = folder.run("study t.csv a.ron -o cut.csv --quiet");
    assert!(again.status < 2, "{}", again.err);
    let lines = |name: &str| -> Vec<String> {
        let text = String::from_utf8(folder.read(name)).unwrap();
        let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
        lines.sort();
        lines
    };
    assert_eq!(lines("cut.csv"), lines("whole.csv"), "{told}");
    assert_eq!(lines("cut.csv").len(), 41);
}
