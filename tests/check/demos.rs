//! The routes that come with the program, as they are read.

use std::path::PathBuf;

use neckloom::read::route_file;
use neckloom::route::Route;

/// Their files, in the order of the names.
pub(crate) fn paths() -> Vec<PathBuf> {
    let mut paths: Vec<_> = std::fs::read_dir("routes")
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "ron"))
        .collect();
    paths.sort();
    assert!(paths.len() > 40);
    paths
}

/// Each with its name.
pub(crate) fn demos() -> Vec<(String, Route)> {
    let read = |path: PathBuf| {
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        (name, route_file(&path).unwrap())
    };
    paths().into_iter().map(read).collect()
}
