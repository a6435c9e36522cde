//! How fast a change's reach, new fixings and a study of variants are found. `cargo bench advice` prints these alone.

use std::time::{Duration, Instant};

use nalgebra::Vector3;
use neckloom::advise::{ReachOptions, RetieOptions, Solved, reach, retie, study_row};
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

/// The invented tourer with its three branches again and again, each a little beside the others, until there are ten.
fn ten_branches() -> Route {
    let stock = route_file("routes/tourer_stock.ron".as_ref()).unwrap();
    let mut route = stock.clone();
    let mut copy = 1;
    while route.branches.len() < 10 {
        let aside = Vector3::new(0.0, 0.0, 4e-3 * f64::from(copy));
        for branch in &stock.branches {
            if route.branches.len() == 10 {
                break;
            }
            let mut branch = branch.clone();
            branch.name = format!("{} {copy}", branch.name);
            for entry in &mut branch.lay {
                let mut place = stock.places[entry.fixing.place].clone();
                place.at += aside;
                route.places.push(place);
                entry.fixing.place = route.places.len() - 1;
                entry.fixing.name = format!("{} {copy}", entry.fixing.name);
            }
            route.branches.push(branch);
        }
        copy += 1;
    }
    route
}

fn study() {
    let route = ten_branches();
    let base = Solved::new(route, &quick());
    let changes: Vec<&Change> = base.route.changes.iter().collect();
    let begun = Instant::now();
    let mut variants = 0_u32;
    while begun.elapsed() < Duration::from_secs(15) {
        let shares: Vec<(&Change, f64)> = changes
            .iter()
            .enumerate()
            .map(|(i, change)| (*change, f64::from((variants >> (2 * i)) % 5) / 5.0))
            .collect();
        study_row(&base.route, &base, &shares, &quick());
        variants += 1;
    }
    println!(
        "study: {:.0} variants a minute of {} branches in {} poses",
        60.0 * f64::from(variants) / begun.elapsed().as_secs_f64(),
        base.route.branches.len(),
        base.solution.sweep.poses.len()
    );
}
