//! How fast a change's reach, new fixings and a study of variants are found. `cargo bench advice` prints these alone.

use std::time::Instant;

use neckloom::advise::{ReachOptions, RetieOptions, Solved, reach, retie};
use neckloom::check::{Options, Verdict};
use neckloom::read::{edited_text, route_file, route_text};
use neckloom::route::{Change, Route};

fn quick() -> Options {
    Options {
        spread: false,
        ..Options::default()
    }
}

pub(crate) fn advice() {
    println!("\nAdvice, on {} cores", rayon::current_num_threads());
    reaches();
    reties();
    study();
}

fn reaches() {
    println!(
        "{:<46} {:>8} {:>8} {:>9} {:>7}",
        "reach", "share", "solved", "no spread", "whole"
    );
    for name in [
        "tourer_stock",
        "tourer_lower_seat",
        "tourer_taller_bars",
        "tourer_tight_tie",
        "tourer_whole_harness",
    ] {
        let path = format!("routes/{name}.ron");
        let route = route_file(path.as_ref()).unwrap();
        for change in &route.changes {
            let time = |check: Options| {
                let begun = Instant::now();
                let base = Solved::new(route.clone(), &quick());
                let options = ReachOptions {
                    check,
                    ..ReachOptions::default()
                };
                let found = reach(&base, change, &options).unwrap();
                (begun.elapsed(), found)
            };
            let (without, _) = time(quick());
            let (with, found) = time(Options::default());
            println!(
                "{:<46} {:>7.1}% {:>8} {:>7.2} s {:>5.2} s",
                format!("{name}, {}", change.name),
                100.0 * found.share,
                found.solved,
                without.as_secs_f64(),
                with.as_secs_f64()
            );
        }
    }
}

fn reties() {
    println!(
        "{:<46} {:>8} {:>8} {:>9}",
        "retie", "found", "solved", "time"
    );
    for name in [
        "tourer_lower_seat",
        "tourer_taller_bars",
        "tourer_tight_tie",
    ] {
        let path = format!("routes/{name}.ron");
        let text = std::fs::read_to_string(&path).unwrap();
        let route = route_file(path.as_ref()).unwrap();
        let rewrite = |change: &Change| -> Result<(String, Route), String> {
            let target = route.changed(change, 1.0).map_err(|e| e.to_string())?;
            let text = edited_text(&text, &path, &target).map_err(|e| e.to_string())?;
            let read = route_text(&text, &path).map_err(|e| e.to_string())?;
            Ok((text, read))
        };
        let begun = Instant::now();
        let base = Solved::new(route.clone(), &quick());
        let found = retie(&base, &rewrite, &RetieOptions::default());
        let sound = found
            .proposals
            .iter()
            .filter(|p| p.solved.verdict() == Verdict::Within);
        println!(
            "{name:<46} {:>4} ({}) {:>7} {:>7.1} s",
            found.proposals.len(),
            sound.count(),
            found.solved,
            begun.elapsed().as_secs_f64()
        );
    }
}

/// Studies of a machine of ten branches: so many shares of one change by so many of another, both from nothing to the whole;
/// and one in which no two variants have a share of either in common.
fn study() {
    println!(
        "study of ten branches in 46 poses: variants, time, variants a minute, growth with the power"
    );
    let mut last: Option<(f64, f64)> = None;
    for side in [5_u32, 10, 20] {
        let share = |i: u32| f64::from(i) / f64::from(side - 1);
        let grid = (0..side).flat_map(|a| (0..side).map(move |b| (a, b)));
        let rows: Vec<(f64, f64)> = grid.map(|(a, b)| (share(a), share(b))).collect();
        let seconds = studied(&rows);
        let variants = f64::from(side * side);
        let power = last.map_or(String::new(), |(before, time)| {
            format!("{:.2}", (seconds / time).ln() / (variants / before).ln())
        });
        println!(
            "  {side:>2} by {side:>2}  {seconds:>6.1} s  {:>5.0}  {power}",
            60.0 * variants / seconds
        );
        last = Some((variants, seconds));
    }
    let apart = |i: u32| (f64::from(i) / 24.0, f64::from(i * 7 % 25) / 24.0);
    let rows: Vec<(f64, f64)> = (0..25).map(apart).collect();
    let seconds = studied(&rows);
    println!(
        "  25 apart  {seconds:>6.1} s  {:>5.0}",
        60.0 * 25.0 / seconds
    );
}

/// Seconds that the program takes for these shares of two changes.
fn studied(rows: &[(f64, f64)]) -> f64 {
    let folder = std::path::Path::new(env!("CARGO_TARGET_TMPDIR"));
    let (table, found) = (
        folder.join("bench_ten.csv"),
        folder.join("bench_ten_found.csv"),
    );
    let route = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bench/ten_branches.ron");
    let mut text = "bars 75 mm up,seat 16 mm lower\n".to_owned();
    for (bars, seat) in rows {
        text += &format!("{bars},{seat}\n");
    }
    std::fs::write(&table, text).unwrap();
    let _gone = std::fs::remove_file(&found);
    let paths = [&found, &table].map(|path| path.to_str().unwrap());
    let words = ["study", "--quiet", "-o", paths[0], paths[1], route];
    super::program_once(&words).as_secs_f64()
}
