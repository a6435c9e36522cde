//! `sheet`: the bench sheet, as PDF, or page by page as SVG or PNG; its tables as CSV.

use std::io::Write;
use std::path::{Path, PathBuf};

use crate::advise::lengthen::{
    Join, Options as Lengthening, SpliceRules, cuts, drops, is_about_length, splices,
};
use crate::advise::locate;
use crate::check::{Verdict, exit_status};
use crate::draw::bench::{
    Bench, Broken, Options, Paper, Results, Table, Work, pages, pdf, svg, tables,
};
use crate::draw::png;
use crate::rod;
use crate::route::Route;

use super::arguments::{JoinChoice, PaperChoice, Shared, SheetPages};
use super::failure::Failure;
use super::lengthen::{lengthened, step_of};
use super::locate::question;
use super::progress::Told;
use super::{Checked, checked_to, files, read_route, with_change};

/// Pixels across a page as PNG: 200 dots an inch on A4.
const PNG_WIDTH: u32 = 2339;
/// Exit status where some pose was not solved.
const NOT_SOLVED: u8 = 3;

pub(super) fn run(command: &SheetPages, shared: &Shared) -> Result<u8, Failure> {
    let output = command.output.clone().unwrap_or_else(|| {
        let name = command.checking.route.file_stem().unwrap_or_default();
        let mut name = name.to_os_string();
        name.push("-sheet.pdf");
        PathBuf::from(name)
    });
    let kind = Kind::of(&output)?;
    let original = read_route(&command.checking.route)?;
    let settings = rod::Settings::default();
    let (written, solved) = bench(command, shared, &original, settings, |bench| {
        let mut written = write_pages(bench, &output, kind)?;
        if let Some(folder) = &command.tables {
            let of = csv_files(bench)?;
            let named: Vec<(&str, Vec<u8>)> = of
                .iter()
                .map(|(name, bytes)| (name.as_str(), bytes.clone()))
                .collect();
            written.extend(files::replace_all(folder, &named)?);
        }
        Ok(written)
    })?;
    if !shared.quiet {
        let mut out = std::io::stdout().lock();
        for path in written {
            writeln!(out, "{}", path.display())?;
        }
    }
    Ok(if solved { 0 } else { NOT_SOLVED })
}

/// Works out all that the sheet shows and hands it on; gives what comes of it, and whether every pose was solved.
pub(super) fn bench<T>(
    command: &SheetPages,
    shared: &Shared,
    original: &Route,
    settings: rod::Settings,
    made: impl FnOnce(&Bench<'_>) -> Result<T, Failure>,
) -> Result<(T, bool), Failure> {
    let units = shared.units();
    let spread = !command.checking.no_spread;
    let (route, stock) = match &command.change {
        Some(name) => {
            let changed = with_change(original, name)?;
            let stock = checked_to(original, spread, shared, settings);
            (changed, Some(stock))
        }
        None => (original.clone(), None),
    };
    let Checked { solution, findings } = checked_to(&route, spread, shared, settings);
    // What fails, fails in the machine as it stands.
    let asked = question(&command.symptom);
    let places = match (asked.failing.is_empty(), &stock) {
        (true, _) => Ok(Vec::new()),
        (_, Some(s)) => locate(original, &s.solution, &s.findings, &asked, units),
        (_, None) => locate(&route, &solution, &findings, &asked, units),
    };
    let places = places.map_err(|unknown| Failure::Question(unknown.to_string()))?;
    let calls = findings
        .findings
        .iter()
        .any(|finding| finding.verdict > Verdict::Within && is_about_length(finding));
    let lengthening = Lengthening {
        step: step_of(command.step.as_deref(), units)?,
        units,
        settings,
        spread,
    };
    let done = (calls && !command.as_is).then(|| {
        let progress = Told::new(shared.quiet, "");
        let say = |what: &str| progress.say(what);
        lengthened(&route, &lengthening, &say, || {
            Ok((solution.clone(), findings.clone()))
        })
    });
    let done = done.transpose()?.filter(|done| !done.adds.is_empty());
    let join = match command.join {
        JoinChoice::Crimp => Join::Crimp,
        JoinChoice::SolderSleeve => Join::SolderSleeve,
    };
    let cut = done
        .as_ref()
        .map_or_else(Vec::new, |d| cuts(&d.route, &d.solution, &d.adds));
    let (joined, none) = done.as_ref().map_or_else(Default::default, |d| {
        splices(
            &d.route,
            &d.solution,
            &d.adds,
            &cut,
            join,
            &SpliceRules::default(),
        )
    });
    let dropped = done
        .as_ref()
        .map_or_else(Vec::new, |d| drops(&d.route, &d.solution, &d.adds));
    let work = done.as_ref().map(|done| Work {
        done,
        cuts: &cut,
        splices: &joined,
        none: &none,
        drops: &dropped,
    });
    let as_read = Results {
        route: &route,
        solution: &solution,
        findings: &findings,
    };
    let bench = Bench {
        after: done.as_ref().map_or(as_read, |done| Results {
            route: &done.route,
            solution: &done.solution,
            findings: &done.findings,
        }),
        before: match &stock {
            Some(stock) => Some(Results {
                route: original,
                solution: &stock.solution,
                findings: &stock.findings,
            }),
            None => done.as_ref().map(|_| as_read),
        },
        change: command.change.as_deref(),
        work: work.as_ref(),
        broken: (!asked.failing.is_empty()).then_some(Broken {
            question: &asked,
            places: &places,
        }),
        options: Options {
            paper: match command.paper {
                PaperChoice::A4 => Paper::A4,
                PaperChoice::Letter => Paper::Letter,
            },
            units,
            date: command.date.as_deref(),
            revision: command.revision.as_deref(),
            order: command.work_order.as_deref(),
        },
    };
    let made = made(&bench)?;
    Ok((made, exit_status(&solution, &findings) != NOT_SOLVED))
}

/// What a file's name asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Pdf,
    Svg,
    Png,
}

impl Kind {
    fn of(path: &Path) -> Result<Self, Failure> {
        let ending = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        match ending.as_deref() {
            Some("pdf") => Ok(Self::Pdf),
            Some("svg") => Ok(Self::Svg),
            Some("png") => Ok(Self::Png),
            _ => Err(Failure::NoSheet(path.to_owned())),
        }
    }
}

/// Writes the pages: one PDF, or one file a page with its number before the ending.
fn write_pages(bench: &Bench<'_>, output: &Path, kind: Kind) -> Result<Vec<PathBuf>, Failure> {
    let pages = pages(bench);
    if kind == Kind::Pdf {
        files::replace(output, &pdf(&pages))?;
        return Ok(vec![output.to_owned()]);
    }
    let stem = output
        .file_stem()
        .unwrap_or_default()
        .to_string_lossy()
        .into_owned();
    let ending = if kind == Kind::Svg { "svg" } else { "png" };
    let wide = pages.len().to_string().len();
    let mut written = Vec::new();
    for (index, page) in pages.iter().enumerate() {
        let drawn = svg(page);
        let bytes = if kind == Kind::Svg {
            drawn.into_bytes()
        } else {
            png(&drawn, PNG_WIDTH)?
        };
        let path = output.with_file_name(format!("{stem}-{:0wide$}.{ending}", index + 1));
        files::replace(&path, &bytes)?;
        written.push(path);
    }
    Ok(written)
}

/// All tables, by the names of their files.
pub(super) fn csv_files(bench: &Bench<'_>) -> Result<Vec<(String, Vec<u8>)>, Failure> {
    let one = |table: &Table| Ok((format!("{}.csv", table.stem), csv_of(table)?));
    tables(bench).iter().map(one).collect()
}

fn csv_of(table: &Table) -> Result<Vec<u8>, Failure> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    let wrong = |error: csv::Error| Failure::Print(std::io::Error::other(error));
    writer.write_record(&table.head).map_err(wrong)?;
    for row in &table.rows {
        writer.write_record(row).map_err(wrong)?;
    }
    writer
        .into_inner()
        .map_err(|error| Failure::Print(std::io::Error::other(error.to_string())))
}
