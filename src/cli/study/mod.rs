//! `study`: a table of changes on one or more routes, one line of results a variant.
//!
//! Each line is written as a whole when its variant is done (`journal.rs`). Started again with the same output, it goes
//! on: a line that was cut short is taken off, lines that are there are not worked out again. Lines stand in the order in
//! which they were done; their first cell tells them apart. The parts of `--part` are disjoint and only the first has the
//! line of names, so that putting them one behind the other gives the whole. `parquet.rs` writes the same rows with types.

mod journal;
mod parquet;
mod singles;

use std::collections::HashMap;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::advise::{Cell, Solved, StudyRow, StudyTable, changed, of_machine, study_row};
use crate::check::Options;
use crate::route::Change;

use super::arguments::{Shared, Study};
use super::failure::{Failure, STOPPED};
use super::interrupt::Interrupt;
use super::{check_options, files, read_route};
use journal::Journal;
use singles::Singles;

/// What stands before the cells of the changes.
const FIRST: [(&str, Cell); 3] = [
    ("row", Cell::Count),
    ("variant", Cell::Text),
    ("route", Cell::Text),
];

/// So many states of the machine are kept at a time.
const STATES: usize = 16;

/// A state of the machine, and the variants that have it.
struct Machine<'c> {
    /// The route.
    index: usize,
    state: Vec<(&'c Change, f64)>,
    variants: Vec<Variant<'c>>,
}

/// A variant, one line of the results.
struct Variant<'c> {
    row: usize,
    number: usize,
    changes: Vec<(&'c Change, f64)>,
}

pub(super) fn run(command: &Study, shared: &Shared) -> Result<u8, Failure> {
    let read = |path: &Path| {
        std::fs::read_to_string(path).map_err(|source| Failure::Read {
            path: path.to_owned(),
            source,
        })
    };
    let text = read(&command.table)?;
    let table = if command
        .table
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("ron"))
    {
        StudyTable::of_ron(&text)?
    } else {
        StudyTable::of_csv(&text)?
    };
    let (part, parts) = command.part;
    let interrupt = Interrupt::listen();
    let options = Options {
        settings: interrupt.settings(),
        charts: false,
        ..check_options(command.spread, shared)
    };
    let quick = Options {
        spread: false,
        ..options
    };
    let mut jobs = Vec::new();
    let mut bases = Vec::new();
    for (index, path) in command.routes.iter().enumerate() {
        let route = read_route(path)?;
        let name = path.display().to_string();
        let (_, shares) = table.shares(&route, &name)?;
        for (number, shares) in shares.into_iter().enumerate() {
            // Routes of one variant stand side by side, so that parts are alike.
            let row = number * command.routes.len() + index + 1;
            jobs.push((row, number, index, shares));
        }
        bases.push((name, route));
    }
    jobs.sort_by_key(|job| job.0);
    jobs.retain(|job| (job.0 - 1) % parts == part - 1);
    let columns = columns(&table);
    let head: Vec<String> = columns.iter().map(|(name, _)| name.clone()).collect();
    let with_head = part == 1 && !command.no_header;
    let (journal, done) = Journal::open(&command.output, &head, with_head)?;
    let all = jobs.len();
    jobs.retain(|job| !done.contains(&job.0));
    let left = jobs.len();
    // Each state of the machine is solved once, for all variants that have it.
    let mut machines: Vec<Machine<'_>> = Vec::new();
    let mut known: HashMap<StateKey, usize> = HashMap::new();
    for (row, number, index, shares) in &jobs {
        let route = &bases[*index].1;
        let changes = table.columns.iter().filter_map(|column| {
            let mut all = route.changes.iter();
            all.find(|change| change.name == column.change)
        });
        let changes: Vec<(&Change, f64)> = changes.zip(shares.iter().copied()).collect();
        let state = of_machine(route, &changes);
        let variant = Variant {
            row: *row,
            number: *number,
            changes,
        };
        let bits = state.iter();
        let bits = bits.map(|(change, share)| (change.name.clone(), share.to_bits()));
        let own = *known
            .entry((*index, bits.collect()))
            .or_insert_with(|| machines.len());
        match machines.get_mut(own) {
            Some(machine) => machine.variants.push(variant),
            None => machines.push(Machine {
                index: *index,
                state,
                variants: vec![variant],
            }),
        }
    }
    let solves = AtomicUsize::new(0);
    let counted = |by: usize| solves.fetch_add(by, Ordering::Relaxed);
    // Where nothing is left to do, nothing is solved.
    let bases_left = if left > 0 { bases.as_slice() } else { &[] };
    counted(bases_left.len());
    let solved: Vec<Solved> = bases_left
        .iter()
        .map(|(_, route)| Solved::new(route.clone(), &quick))
        .collect();
    let bar = (!shared.quiet).then(|| indicatif::ProgressBar::new(left as u64));
    let failed: Mutex<Option<Failure>> = Mutex::new(None);
    let ends = || interrupt.asked() || failed.lock().map_or(true, |failed| failed.is_some());
    let written = AtomicUsize::new(0);
    let one = |machine: &Machine<'_>, near: &Solved, singles: &Singles, variant: &Variant<'_>| {
        if ends() {
            return;
        }
        let Variant {
            row,
            number,
            changes,
        } = variant;
        let base = &solved[machine.index];
        counted(1);
        let others = singles.of(machine.index, changes);
        let found = study_row(&base.route, near, &others, changes, &options);
        // What was left off is no answer.
        if interrupt.asked() {
            return;
        }
        let mut cells = vec![
            row.to_string(),
            table.rows[*number].0.clone(),
            bases[machine.index].0.clone(),
        ];
        cells.extend(
            changes
                .iter()
                .map(|(_, share)| format!("{:.3}", 100.0 * share)),
        );
        cells.extend(found.cells);
        match journal.add(&cells) {
            Ok(()) => {
                written.fetch_add(1, Ordering::Relaxed);
            }
            Err(failure) => {
                if let Ok(mut failed) = failed.lock() {
                    failed.get_or_insert(failure);
                }
            }
        }
        if let Some(bar) = &bar {
            bar.inc(1);
        }
    };
    let mut singles = Singles::default();
    let each = |some: &'_ [Machine<'_>],
                singles: &mut Singles,
                by: fn(&mut Singles, usize, &[(&Change, f64)])| {
        for machine in some {
            for variant in &machine.variants {
                by(singles, machine.index, &variant.changes);
            }
        }
    };
    each(&machines, &mut singles, Singles::count);
    for some in machines.chunks(STATES) {
        if ends() {
            break;
        }
        let next = some.iter().flat_map(|machine| {
            let variants = machine.variants.iter();
            variants.map(|variant| (machine.index, variant.changes.as_slice()))
        });
        counted(singles.get_ready(next, &solved, &quick));
        let near: Vec<Solved> = some
            .par_iter()
            .map(|machine| {
                let base = &solved[machine.index];
                match changed(&base.route, &machine.state) {
                    Ok(route) if !machine.state.is_empty() && machine.variants.len() > 1 => {
                        counted(1);
                        base.with(route, &quick)
                    }
                    _ => base.clone(),
                }
            })
            .collect();
        some.par_iter().zip(&near).for_each(|(machine, near)| {
            let variants = machine.variants.par_iter();
            variants.for_each(|variant| one(machine, near, &singles, variant));
        });
        each(some, &mut singles, Singles::done);
    }
    if let Some(bar) = &bar {
        bar.finish_and_clear();
    }
    if let Ok(Some(failure)) = failed.into_inner() {
        return Err(failure);
    }
    let mut names = vec![command.output.display().to_string()];
    if let Some(named) = &command.parquet {
        let path: PathBuf = named
            .clone()
            .unwrap_or_else(|| command.output.with_extension("parquet"));
        let bytes = parquet::bytes(&columns, &journal.rows(&head)?)
            .map_err(|error| Failure::Readings(format!("{}: {error}", path.display())))?;
        files::replace(&path, &bytes)?;
        names.push(path.display().to_string());
    }
    let there = all - left + written.into_inner();
    if !shared.quiet {
        let told = match (there < all, all - left) {
            (true, _) => format!("{there} of {all} variants; run it again to go on"),
            (_, 0) => format!("{all} variants"),
            (_, before) => format!("{all} variants ({before} were there already)"),
        };
        let solves = solves.into_inner();
        writeln!(
            std::io::stdout(),
            "{}: {told}; {solves} solved and checked",
            names.join(", ")
        )?;
    }
    Ok(if there < all { STOPPED } else { 0 })
}

/// A route, and the changes of its machine with the bits of their shares.
type StateKey = (usize, Vec<(String, u64)>);

/// The columns of the results.
fn columns(table: &StudyTable) -> Vec<(String, Cell)> {
    let own = |(name, cell): (&str, Cell)| (name.to_owned(), cell);
    let changes = table.columns.iter();
    let changes = changes.map(|c| (format!("{} [%]", c.change), Cell::Number));
    let first = FIRST.map(own).into_iter();
    first
        .chain(changes)
        .chain(StudyRow::HEADER.map(own))
        .collect()
}
