//! Pictures kept as text in renders/, one per route file and with its stem; of a pair that shows what one check finds
//! (`…_within`, `…_over`) only the one over its limit has a picture. `ACCEPT=1 cargo test kept` keeps what
//! is drawn now; a picture that differs is written beside the kept one's name into target/pictures.

use std::fs;
use std::path::{Path, PathBuf};

use neckloom::check::{Options, check};
use neckloom::draw::{SheetOptions, sheet};
use neckloom::read::route_file;
use neckloom::rod::{Settings, solve};

fn folder(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(name)
}

/// What differs between a kept picture and what is drawn now; `None` where nothing does.
fn difference(kept: &str, drawn: &str) -> Option<String> {
    if kept == drawn {
        return None;
    }
    let short = |line: &str| {
        let start: String = line.trim().chars().take(160).collect();
        if start.len() < line.trim().len() {
            format!("{start} …")
        } else {
            start
        }
    };
    let mut lines = kept.lines().zip(drawn.lines()).enumerate();
    let count = |text: &str| text.lines().count();
    let first = lines.find(|(_, (old, new))| old != new);
    let place = first.map_or_else(
        || "one ends before the other".to_owned(),
        |(line, (old, new))| {
            format!(
                "line {}:\n  kept  {}\n  drawn {}",
                line + 1,
                short(old),
                short(new)
            )
        },
    );
    Some(format!(
        "{} lines kept, {} drawn; {place}",
        count(kept),
        count(drawn)
    ))
}

/// Compares a picture with the one kept under renders/; with ACCEPT=1 keeps it instead.
fn compare(stem: &str, drawn: &str) -> Result<(), String> {
    let path = folder("renders").join(format!("{stem}.svg"));
    if std::env::var_os("ACCEPT").is_some_and(|v| v == "1") {
        fs::create_dir_all(folder("renders")).map_err(|e| e.to_string())?;
        return fs::write(&path, drawn).map_err(|e| e.to_string());
    }
    let hint = "look at it, then ACCEPT=1 cargo test kept";
    let Ok(kept) = fs::read_to_string(&path) else {
        return Err(format!("renders/{stem}.svg is not there: {hint}"));
    };
    match difference(&kept, drawn) {
        None => Ok(()),
        Some(what) => {
            let beside = folder("target/pictures");
            fs::create_dir_all(&beside).map_err(|e| e.to_string())?;
            fs::write(beside.join(format!("{stem}.svg")), drawn).map_err(|e| e.to_string())?;
            Err(format!(
                "renders/{stem}.svg is not what is drawn now, {what}\n  drawn: target/pictures/{stem}.svg; {hint}"
            ))
        }
    }
}

/// A route of so many branches is drawn without the spread of its findings.
const MANY: usize = 12;

#[test]
fn every_route_has_its_picture() {
    let entries = fs::read_dir(folder("routes")).expect("routes/ can be listed");
    let mut routes: Vec<PathBuf> = entries.flatten().map(|e| e.path()).collect();
    routes.retain(|p| p.extension().is_some_and(|e| e == "ron"));
    routes.retain(|p| !p.to_string_lossy().ends_with("_within.ron"));
    assert!(!routes.is_empty(), "no route files to draw");
    routes.sort();
    let mut wrong = Vec::new();
    for path in routes {
        let stem = path
            .file_stem()
            .expect("a stem")
            .to_string_lossy()
            .into_owned();
        let route = match route_file(&path) {
            Ok(route) => route,
            Err(faults) => {
                wrong.push(format!("routes/{stem}.ron cannot be read: {faults:?}"));
                continue;
            }
        };
        let solution = solve(&route, &Settings::default());
        let options = Options {
            // The spread of a whole harness, where every fixing moves every branch a little, takes a minute.
            spread: route.branches.len() < MANY,
            ..Options::default()
        };
        let findings = check(&route, &solution, &options);
        let drawn = sheet(&route, &solution, &findings, &SheetOptions::default());
        wrong.extend(compare(&stem, &drawn).err());
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_difference_names_its_first_line() {
    assert_eq!(difference("a\nb\n", "a\nb\n"), None);
    let what = difference("a\nb\nc\n", "a\nx\nc\n").expect("they differ");
    assert!(
        what.contains("line 2") && what.contains("kept  b") && what.contains("drawn x"),
        "{what}"
    );
    assert!(
        difference("a\n", "a\nb\n")
            .expect("they differ")
            .contains("ends before")
    );
}
