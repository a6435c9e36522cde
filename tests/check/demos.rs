//! The routes that come with the program, as they are read.

use neckloom::read::route_file;
use neckloom::route::Route;

/// Each with its name, in the order of the names.
pub(crate) fn demos() -> Vec<(String, Route)> {
    let mut paths: Vec<_> = std::fs::read_dir("routes")
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "ron"))
        .collect();
    paths.sort();
    assert!(paths.len() > 40);
    let read = |path: std::path::PathBuf| {
        let name = path.file_stem().unwrap().to_str().unwrap().to_owned();
        (name, route_file(&path).unwrap())
    };
    paths.into_iter().map(read).collect()
}
