//! Imports point only upward: no floor knows of one below it.

use std::fs;
use std::path::{Path, PathBuf};

/// The floors from top to bottom, with what each may know of.
const FLOORS: [(&str, &[&str]); 14] = [
    ("quantity", &[]),
    ("geometry", &[]),
    ("machine", &["geometry"]),
    ("harness", &["machine", "quantity", "geometry"]),
    ("route", &["harness", "machine", "quantity", "geometry"]),
    ("rod", &["route", "harness", "machine", "geometry"]),
    (
        "conductor",
        &["rod", "route", "harness", "machine", "geometry"],
    ),
    (
        "check",
        &[
            "conductor",
            "rod",
            "route",
            "harness",
            "machine",
            "quantity",
            "geometry",
        ],
    ),
    (
        "advise",
        &[
            "check",
            "conductor",
            "rod",
            "route",
            "harness",
            "machine",
            "quantity",
            "geometry",
        ],
    ),
    (
        "advise",
        &[
            "advise",
            "check",
            "conductor",
            "rod",
            "route",
            "harness",
            "machine",
            "quantity",
            "geometry",
        ],
    ),
    (
        "draw",
        &[
            "advise", "check", "rod", "route", "harness", "machine", "quantity", "geometry",
        ],
    ),
    (
        "export",
        &[
            "check", "rod", "route", "harness", "machine", "quantity", "geometry",
        ],
    ),
    (
        "read",
        &[
            "check", "route", "harness", "machine", "quantity", "geometry",
        ],
    ),
    (
        "cli",
        &[
            "advise",
            "draw",
            "export",
            "read",
            "advise",
            "check",
            "conductor",
            "rod",
            "route",
            "harness",
            "machine",
            "quantity",
            "geometry",
        ],
    ),
];

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
        let Some((_, allowed)) = FLOORS.iter().find(|(floor, _)| *floor == own) else {
            continue;
        };
        for (line, text) in fs::read_to_string(path).unwrap().lines().enumerate() {
            let code = text.split("//").next().unwrap_or_default();
            for used in code.split("crate::").skip(1) {
                let name: String = used
                    .chars()
                    .take_while(|c| c.is_alphanumeric() || *c == '_')
                    .collect();
                let floor = FLOORS.iter().any(|(floor, _)| *floor == name);
                if floor && name != own && !allowed.contains(&name.as_str()) {
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
