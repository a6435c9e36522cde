//! Imports point only upward: no floor knows of one below it.

use std::fs;
use std::path::{Path, PathBuf};

/// The floors from top to bottom: each may know of those above it …
const FLOORS: [&str; 13] = [
    "quantity",
    "geometry",
    "machine",
    "harness",
    "route",
    "rod",
    "conductor",
    "check",
    "advise",
    "draw",
    "export",
    "read",
    "page",
];
/// … and the front end of all.
const FRONT: &str = "cli";

/// What stands side by side, or has no business there.
const NOT: [(&str, &str); 9] = [
    ("geometry", "quantity"),
    ("machine", "quantity"),
    ("rod", "quantity"),
    ("conductor", "quantity"),
    ("export", "advise"),
    ("export", "draw"),
    ("read", "advise"),
    ("read", "draw"),
    ("read", "export"),
];

fn may_know(own: &str, other: &str) -> bool {
    let floor = |name: &str| FLOORS.iter().position(|floor| *floor == name);
    let above = own == FRONT || floor(other) < floor(own);
    above && !NOT.contains(&(own, other))
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn no_floor_knows_of_one_below_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut all = Vec::new();
    files(&src, &mut all);
    let mut wrong = Vec::new();
    for path in &all {
        let inside = path
            .strip_prefix(&src)
            .unwrap()
            .to_string_lossy()
            .replace(".rs", "");
        let own = inside
            .split(['/', '\\'])
            .next()
            .unwrap_or_default()
            .to_owned();
        if own != FRONT && !FLOORS.contains(&own.as_str()) {
            continue;
        }
        for (line, text) in fs::read_to_string(path).unwrap().lines().enumerate() {
            let code = text.split("//").next().unwrap_or_default();
            for used in code.split("crate::").skip(1) {
                let name: String = used
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                let floor = FLOORS.contains(&name.as_str());
                if floor && name != own && !may_know(&own, &name) {
                    wrong.push(format!(
                        "{}:{}: {own} uses {name}",
                        path.display(),
                        line + 1
                    ));
                }
            }
        }
    }
    assert!(all.len() > 50 && wrong.is_empty(), "{}", wrong.join("\n"));
}
