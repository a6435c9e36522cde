//! `study`: a table of changes on one or more routes, one line of results a variant.
//!
//! Each line is written as a whole when its variant is done. Started again with the same output, it goes on: a line that
//! was cut short is taken off, lines that are there are not worked out again. Lines stand in the order in which they
//! were done; their first cell tells them apart. The parts of `--part` are disjoint and only the first has the line of
//! names, so that putting them one behind the other gives the whole.

use std::collections::HashSet;
use std::fs::OpenOptions;
use std::io::{Read, Seek, SeekFrom, Write};
use std::path::Path;
use std::sync::Mutex;

use rayon::prelude::*;

use crate::advise::{Solved, StudyRow, StudyTable, changed, of_machine, study_row};
use crate::route::Change;

use super::arguments::{Shared, Study};
use super::failure::Failure;
use super::{check_options, read_route};

/// What stands before the cells of the changes.
const FIRST: [&str; 3] = ["row", "variant", "route"];

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
    let options = check_options(command.spread, shared);
    let quick = crate::check::Options {
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
    let mut head: Vec<String> = FIRST.map(str::to_owned).to_vec();
    head.extend(table.columns.iter().map(|c| format!("{} [%]", c.change)));
    head.extend(StudyRow::HEADER.map(str::to_owned));
    let with_head = part == 1 && !command.no_header;
    let (mut out, done) = resume(&command.output, &head, with_head)?;
    let all = jobs.len();
    jobs.retain(|job| !done.contains(&job.0));
    let left = jobs.len();
    // Each state of the machine is solved once, for all variants that have it.
    let mut machines: Vec<Machine<'_>> = Vec::new();
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
        let own = machines.iter_mut();
        match own
            .into_iter()
            .find(|m| m.index == *index && m.state == state)
        {
            Some(machine) => machine.variants.push(variant),
            None => machines.push(Machine {
                index: *index,
                state,
                variants: vec![variant],
            }),
        }
    }
    let solved: Vec<Solved> = bases
        .iter()
        .map(|(_, route)| Solved::new(route.clone(), &quick))
        .collect();
    if done.is_empty() && with_head && out.stream_position().is_ok_and(|at| at == 0) {
        out.write_all(&line(&head)?)
            .map_err(|e| written(command, e))?;
    }
    let bar = (!shared.quiet).then(|| indicatif::ProgressBar::new(left as u64));
    let out = Mutex::new(out);
    let failed: Mutex<Option<Failure>> = Mutex::new(None);
    let has_failed = || failed.lock().map_or(true, |failed| failed.is_some());
    let one = |machine: &Machine<'_>, near: &Solved, variant: &Variant<'_>| {
        if has_failed() {
            return;
        }
        let Variant {
            row,
            number,
            changes,
        } = variant;
        let base = &solved[machine.index];
        let found = study_row(&base.route, near, changes, &options);
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
        let wrote = line(&cells).and_then(|bytes| {
            let mut out = out.lock().map_err(|_| Failure::Threads(0))?;
            // One write a line: what is cut short by a sudden end is the last line at most.
            out.write_all(&bytes).map_err(|e| written(command, e))
        });
        if let (Err(failure), Ok(mut failed)) = (wrote, failed.lock()) {
            failed.get_or_insert(failure);
        }
        if let Some(bar) = &bar {
            bar.inc(1);
        }
    };
    for some in machines.chunks(STATES) {
        let near: Vec<Solved> = some
            .par_iter()
            .map(|machine| {
                let base = &solved[machine.index];
                match changed(&base.route, &machine.state) {
                    Ok(route) if !machine.state.is_empty() && machine.variants.len() > 1 => {
                        base.with(route, &quick)
                    }
                    _ => base.clone(),
                }
            })
            .collect();
        some.par_iter().zip(&near).for_each(|(machine, near)| {
            let variants = machine.variants.par_iter();
            variants.for_each(|variant| one(machine, near, variant));
        });
    }
    if let Some(bar) = &bar {
        bar.finish_and_clear();
    }
    if let Ok(Some(failure)) = failed.into_inner() {
        return Err(failure);
    }
    if !shared.quiet {
        let there = all - left;
        let again = if there > 0 {
            format!(" ({there} were there already)")
        } else {
            String::new()
        };
        writeln!(
            std::io::stdout(),
            "{}: {all} variants{again}",
            command.output.display()
        )?;
    }
    Ok(0)
}

fn written(command: &Study, source: std::io::Error) -> Failure {
    Failure::Write {
        path: command.output.clone(),
        source,
    }
}

/// Cells as one line.
fn line(cells: &[String]) -> Result<Vec<u8>, Failure> {
    let mut writer = csv::WriterBuilder::new().from_writer(Vec::new());
    writer
        .write_record(cells)
        .map_err(|error| Failure::Print(std::io::Error::other(error)))?;
    writer
        .into_inner()
        .map_err(|error| Failure::Print(std::io::Error::other(error.to_string())))
}

/// Opens the output to go on with: a last line that was cut short goes; gives the numbers of the rows that are there.
fn resume(
    path: &Path,
    head: &[String],
    with_head: bool,
) -> Result<(std::fs::File, HashSet<usize>), Failure> {
    let failed = |source| Failure::Write {
        path: path.to_owned(),
        source,
    };
    let mut file = OpenOptions::new()
        .read(true)
        .write(true)
        .create(true)
        .truncate(false)
        .open(path)
        .map_err(failed)?;
    let mut bytes = Vec::new();
    file.read_to_end(&mut bytes).map_err(failed)?;
    let whole = bytes
        .iter()
        .rposition(|b| *b == b'\n')
        .map_or(0, |at| at + 1);
    bytes.truncate(whole);
    file.set_len(whole as u64).map_err(failed)?;
    file.seek(SeekFrom::End(0)).map_err(failed)?;
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes.as_slice());
    let mut done = HashSet::new();
    for (number, record) in reader.records().enumerate() {
        let record = record.map_err(|error| Failure::Print(std::io::Error::other(error)))?;
        let cells: Vec<&str> = record.iter().collect();
        let is_head = number == 0 && with_head && cells == head;
        let row = cells.first().and_then(|cell| cell.parse().ok());
        match row {
            Some(row) if cells.len() == head.len() => {
                done.insert(row);
            }
            _ if is_head => {}
            _ => return Err(Failure::OtherStudy(path.to_owned())),
        }
    }
    Ok((file, done))
}
