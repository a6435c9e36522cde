//! What can go wrong around the program: names that are no text, links that lead nowhere, pipes, full disks, an end in
//! the middle of writing. Nothing may be lost, and the message must say what to do.
#![cfg(target_os = "linux")]
#![allow(
    clippy::print_stderr,
    reason = "where a tool of the system is missing, a test says that it did not run"
)]

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
        // Where tests run by themselves it says so, and colour is then always taken for wanted.
        .env_remove("CI")
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

/// A clock that was wrong when files were written, or is wrong now: their times are far off, and nothing hangs on them.
#[test]
fn files_from_the_future_and_the_past_are_files_like_any_other() {
    let folder = Folder::new();
    let text = small_route(280.0).replace(
        "branches: [(",
        "points_from: \"p.csv\", changes: { \"longer\": [Lengthen(branch: \"neck\", to: \"T2\", by: 40)] },\n    branches: [(",
    );
    folder.write("a.ron", &text);
    folder.write("p.csv", "name,x,y,z\npeg,1,2,3\n");
    folder.write("t.csv", "longer\n0\n0.5\n1\n");
    let report = folder.run("check a.ron --json");
    assert_eq!(report.status, 0, "{}", report.err);
    let drawn = folder.run("draw a.ron -o a.svg --quiet");
    assert_eq!(drawn.status, 0, "{}", drawn.err);
    let picture = folder.read("a.svg");
    folder.run("study t.csv a.ron -o whole.csv --quiet --threads 1");
    let whole = folder.read("whole.csv");
    // As it was after the first variant.
    let second = whole
        .iter()
        .enumerate()
        .filter(|(_, b)| **b == b'\n')
        .nth(1);
    let begun = &whole[..=second.unwrap().0];
    let day = std::time::Duration::from_secs(86_400);
    for time in [
        std::time::UNIX_EPOCH,
        std::time::UNIX_EPOCH + 365 * day,
        std::time::SystemTime::now() + 40_000 * day,
    ] {
        std::fs::write(folder.path("begun.csv"), begun).unwrap();
        for name in ["a.ron", "p.csv", "t.csv", "a.svg", "begun.csv"] {
            let file = std::fs::OpenOptions::new()
                .append(true)
                .open(folder.path(name));
            file.unwrap().set_modified(time).unwrap();
        }
        assert_eq!(folder.run("check a.ron --json").out, report.out);
        assert_eq!(folder.run("draw a.ron -o a.svg --quiet").status, 0);
        assert_eq!(folder.read("a.svg"), picture);
        let ran = folder.run("study t.csv a.ron -o begun.csv --threads 1");
        assert!(
            ran.out.contains("1 were there already"),
            "{}{}",
            ran.out,
            ran.err
        );
        assert_eq!(folder.read("begun.csv"), whole);
    }
}

/// The program as a user who may not write in the folder; root may write anywhere, so it becomes nobody.
fn without_rights(folder: &Folder, words: &[&str]) -> Option<(i32, String, String)> {
    use std::os::unix::fs::PermissionsExt;
    let may = |mode| std::fs::Permissions::from_mode(mode);
    std::fs::set_permissions(folder.path(""), may(0o555)).unwrap();
    let program = env!("CARGO_BIN_EXE_neckloom");
    let as_root = std::fs::write(folder.path("probe"), "").is_ok();
    let mut command = if as_root {
        std::fs::remove_file(folder.path("probe")).unwrap();
        let mut command = Command::new("setpriv");
        command.args(["--reuid=65534", "--regid=65534", "--clear-groups", program]);
        command
    } else {
        Command::new(program)
    };
    let ran = command.current_dir(folder.path("")).args(words).output();
    std::fs::set_permissions(folder.path(""), may(0o755)).unwrap();
    // 126 and 127: setpriv may not, or finds no program that nobody may run.
    let ran = ran
        .ok()
        .filter(|ran| !matches!(ran.status.code(), Some(126 | 127)))?;
    let text = |bytes: Vec<u8>| String::from_utf8_lossy(&bytes).into_owned();
    Some((ran.status.code()?, text(ran.stdout), text(ran.stderr)))
}

#[test]
fn a_folder_that_may_not_be_written_in_is_said_and_stays_as_it_is() {
    let folder = Folder::new();
    folder.write("a.ron", crate::advise::ASKEW);
    folder.write("t.csv", "wider\n1\n");
    let text = crate::advise::ASKEW.replace(
        "branches: [(",
        "changes: { \"wider\": [Hold(what: \"T\", width: 9)] }, branches: [(",
    );
    folder.write("b.ron", &text);
    folder.write("a.svg", "old");
    let before = folder.names();
    for line in [
        "draw a.ron -o a.svg",
        "export a.ron",
        "export a.ron -o findings.csv",
        "sheet a.ron --no-spread -o a.pdf",
        "start new.ron",
        "study t.csv b.ron -o results.csv",
        "reroute a.ron --branch run -o new.ron --within 5",
    ] {
        let words: Vec<&str> = line.split(' ').collect();
        let Some((status, _, err)) = without_rights(&folder, &words) else {
            eprintln!("nobody cannot run the program here: this test did not run");
            return;
        };
        assert_eq!(status, 2, "{line}: {err}");
        assert!(
            err.contains("you may not write in this folder"),
            "{line}: {err}"
        );
        assert!(err.contains("choose another folder"), "{line}: {err}");
        assert_eq!(folder.names(), before, "{line}");
    }
    assert_eq!(folder.read("a.svg"), b"old");
    // What only reads works, also where it would keep its answer beside the file.
    let told = without_rights(&folder, &["retie", "a.ron", "--within", "60"]).unwrap();
    assert_eq!((told.0, told.2.as_str()), (0, ""), "{}", told.1);
    assert_eq!(folder.names(), before);
}

/// Colour belongs on a terminal alone, and there not where it is not wanted.
#[test]
fn without_a_terminal_nothing_is_coloured_and_nothing_is_asked() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(251.0));
    let plain = folder.run("check a.ron");
    assert_eq!((plain.status, plain.err.as_str()), (1, ""));
    for line in [
        "env -u TERM neckloom check a.ron",
        "env -u TERM -u HOME -u LANG -u PATH neckloom check a.ron",
        "TERM=dumb neckloom check a.ron < /dev/null",
        "NO_COLOR=1 neckloom check a.ron",
        "COLUMNS=0 neckloom check a.ron",
        "neckloom check a.ron <&-",
    ] {
        let (status, out, err) = shell(&folder, line);
        assert_eq!((status, err.as_str()), (1, ""), "{line}");
        assert_eq!(out, plain.out, "{line}");
    }
    // Closed, not only somewhere else.
    let (status, ..) = shell(&folder, "neckloom check a.ron <&- >&- 2>&-");
    assert_eq!(status, 1);
    // Nobody is there to be asked.
    let (status, out, err) = shell(&folder, "timeout 20 neckloom estimate < /dev/null");
    assert_eq!((status, out.as_str()), (2, ""), "{err}");
    assert!(err.contains("--spare-left"), "{err}");
    if Command::new("script").arg("--version").output().is_err() {
        eprintln!("script is not there: the terminal was not tried");
        return;
    }
    let on_terminal = |before: &str| {
        let line = format!("{before} script -qec 'neckloom check a.ron' /dev/null < /dev/null");
        let (_, out, _) = shell(&folder, &line);
        assert!(out.contains("One span"), "{out}");
        out.contains('\u{1b}')
    };
    assert!(on_terminal("TERM=xterm"));
    assert!(!on_terminal("TERM=xterm NO_COLOR=1"));
    assert!(!on_terminal("TERM=dumb"));
}

/// On one core everything is as on many.
#[test]
fn one_core_gives_the_same() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let many = folder.run("check a.ron --json");
    for line in [
        "neckloom check a.ron --json --threads 1",
        "neckloom check a.ron --json --threads 1000",
        "taskset -c 0 neckloom check a.ron --json",
    ] {
        if line.starts_with("taskset") && Command::new("taskset").arg("-V").output().is_err() {
            eprintln!("taskset is not there: one core alone was not tried");
            continue;
        }
        let (status, out, err) = shell(&folder, line);
        assert_eq!((status, err.as_str()), (0, ""), "{line}");
        assert_eq!(out, many.out, "{line}");
    }
}
