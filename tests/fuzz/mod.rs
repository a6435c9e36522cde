//! The fuzz targets over their corpus and so many mutations of it, the same in every run. `cargo fuzz run --fuzz-dir
//! tests/fuzz NAME` runs one for as long as one likes; what it finds goes into `corpus/NAME` and is run here from then
//! on.

mod targets;

use std::fs;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use crate::geometry::Random;

/// Names for how many seconds each target goes on with further mutations.
const SECONDS: &str = "NECKLOOM_FUZZ_SECONDS";

/// Runs a target over its corpus and `tries` mutations of each file, and on for as long as [`SECONDS`] says; tells which input
/// it could not stand.
fn smoke(name: &str, target: fn(&[u8]), tries: u64, corpus: &[&str], small: bool) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files: Vec<PathBuf> = corpus
        .iter()
        .flat_map(|folder| fs::read_dir(root.join(folder)).unwrap())
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_file() && (!small || fs::metadata(path).unwrap().len() < 1 << 16))
        .collect();
    files.sort();
    assert!(!files.is_empty(), "{name} has no corpus");
    let seeds: Vec<Vec<u8>> = files.iter().map(|file| fs::read(file).unwrap()).collect();
    let stands = |input: &[u8], file: &Path, which: &str| {
        let ran = catch_unwind(AssertUnwindSafe(|| target(input)));
        if ran.is_err() {
            let kept = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{name}_found"));
            fs::write(&kept, input).unwrap();
            panic!(
                "{name} cannot stand {}, {which}; kept as {}",
                file.display(),
                kept.display()
            );
        }
    };
    let mutated = |seed: &[u8], file: &Path, turn: u64| {
        let mut random = Random::new(turn);
        let mut input = seed.to_vec();
        for _ in 0..=random.below(4) {
            mutate(&mut random, &mut input, &seeds);
        }
        stands(&input, file, &format!("mutation {turn}"));
    };
    let seconds = std::env::var(SECONDS).ok().and_then(|s| s.parse().ok());
    let until = Instant::now() + Duration::from_secs(seconds.unwrap_or(0));
    for (seed, file) in seeds.iter().zip(&files) {
        stands(seed, file, "as it is");
        (0..tries).for_each(|turn| mutated(seed, file, turn));
    }
    for turn in tries.. {
        for (seed, file) in seeds.iter().zip(&files) {
            if Instant::now() >= until {
                return;
            }
            mutated(seed, file, turn);
        }
    }
}

/// What numbers, brackets and marks of any of the formats can go wrong in.
const PIECES: [&[u8]; 24] = [
    b"-",
    b"1e999",
    b"NaN",
    b"inf",
    b"0",
    b"4294967296",
    b"-1",
    b"\"",
    b"(",
    b")",
    b"[",
    b"]",
    b"{",
    b"}",
    b",",
    b":",
    b"\n",
    b"\\",
    b"//",
    b"/*",
    b"\xff",
    b"\0\0\0\0",
    b"\xff\xff\xff\xff",
    "\u{2028}ü".as_bytes(),
];

/// One thing goes wrong: a bit, a byte, a piece left out, said twice, put elsewhere, cut off, from another file.
fn mutate(random: &mut Random, input: &mut Vec<u8>, seeds: &[Vec<u8>]) {
    let at = random.below(input.len() + 1);
    let reach = if random.below(6) == 0 { 400 } else { 8 };
    let end = (at + 1 + random.below(reach)).min(input.len());
    match random.below(8) {
        0 if at < input.len() => input[at] ^= 1 << random.below(8),
        1 => input.truncate(at),
        2 => drop(input.drain(at..end)),
        3 => {
            let piece = input[at..end].to_vec();
            let to = random.below(input.len() + 1);
            input.splice(to..to, piece);
        }
        4 => {
            let other = &seeds[random.below(seeds.len())];
            let from = random.below(other.len() + 1);
            let piece = other[from..(from + random.below(60)).min(other.len())].to_vec();
            input.splice(at..end, piece);
        }
        5 => drop(input.splice(at..end, PIECES[random.below(PIECES.len())].to_vec())),
        // A longer number.
        6 => {
            if let Some(digit) = input[at..].iter().position(u8::is_ascii_digit) {
                let many = random.below(20);
                input.splice(at + digit..at + digit, vec![b'9'; many]);
            }
        }
        _ => drop(input.splice(at..at, PIECES[random.below(PIECES.len())].to_vec())),
    }
}

#[test]
fn route_files() {
    let corpus = [
        "tests/data/routes",
        "routes",
        "tests/fuzz/corpus/route_file",
    ];
    smoke("route_file", targets::route_file, 20, &corpus, true);
}

/// Those in the corpus took minutes once: a fixing tens of metres away, a branch thinner than a hair.
#[test]
fn checked() {
    let corpus = ["tests/fuzz/corpus/checked"];
    smoke("checked", targets::checked, 4, &corpus, true);
}

#[test]
fn stl() {
    smoke("stl", targets::stl, 1000, &["tests/fuzz/corpus/stl"], false);
}

#[test]
fn obj() {
    smoke("obj", targets::obj, 1000, &["tests/fuzz/corpus/obj"], false);
}

#[test]
fn ply() {
    smoke("ply", targets::ply, 1000, &["tests/fuzz/corpus/ply"], false);
}

#[test]
fn gltf() {
    let corpus = ["tests/fuzz/corpus/gltf"];
    smoke("gltf", targets::gltf, 1000, &corpus, false);
}

#[test]
fn tables() {
    smoke(
        "table",
        targets::table,
        500,
        &["tests/fuzz/corpus/table"],
        false,
    );
}

#[test]
fn quantities() {
    smoke(
        "quantities",
        targets::quantities,
        1000,
        &["tests/fuzz/corpus/quantities"],
        false,
    );
}

#[test]
fn requests() {
    smoke(
        "requests",
        targets::requests,
        12,
        &["tests/fuzz/corpus/requests"],
        false,
    );
}
