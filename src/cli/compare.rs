//! `compare`: what a change does, or what differs between two route files.

use serde_json::{Value, json};

use crate::advise::{Compared, Comparison, Difference, KeyNumber, Solved, compare};
use crate::check::{assumed, finding_entry, reported_unit, rounded, verdict_word, warnings};
use crate::draw::{SheetOptions, compare_sheet, png};

use crate::route::Route;

use super::arguments::{Compare, Shared};
use super::changes::named;
use super::failure::Failure;
use super::terminal::{Paper, differing};
use super::{check_options, files, print_json, read_route};

/// Pixels across a PNG: the long side of A4 at 300 dots an inch.
const PNG_WIDTH: u32 = 3508;

pub(super) fn run(command: &Compare, shared: &Shared) -> Result<u8, Failure> {
    let route = read_route(&command.route)?;
    let options = check_options(!command.no_spread, shared);
    let other = match (&command.other, &command.change) {
        (Some(other), _) => read_route(other)?,
        (None, Some(change)) => changed(&route, change, command.share)?,
        (None, None) => return Err(Failure::NothingToCompare),
    };
    let progress = super::Progress::new(shared.quiet, "solving before and after");
    let before = Solved::new(route, &options);
    let after = match command.other {
        Some(_) => Solved::new(other, &options),
        None => before.with(other, &options),
    };
    drop(progress);
    let found = compare(&before, &after);
    if let Some(output) = &command.output {
        let sheet = SheetOptions {
            units: shared.units(),
        };
        let drawn = compare_sheet(
            (&after.route, &after.solution, &after.findings),
            (&before.route, &before.solution),
            &sheet,
        );
        files::replace(output, drawn.as_bytes())?;
        if let Some(named) = &command.png {
            let picture = named
                .clone()
                .unwrap_or_else(|| output.with_extension("png"));
            files::replace(&picture, &png(&drawn, PNG_WIDTH)?)?;
        }
    }
    if command.json {
        print_json(&report(&before, &after, &found))?;
    } else {
        let mut paper = Paper::of_terminal(shared.units());
        print(&mut paper, &before, &after, &found, shared.quiet)?;
    }
    Ok(u8::from(found.verdicts.1 == crate::check::Verdict::Over))
}

/// The route with so much of a change made to it \[%\], and a title that says so.
pub(super) fn changed(route: &Route, name: &str, share: f64) -> Result<Route, Failure> {
    let mut changed = route.changed(named(route, name)?, share / 100.0)?;
    let of = if (share - 100.0).abs() <= 0.0 {
        String::new()
    } else {
        format!(" ({share} %)")
    };
    changed.title = format!("{}: {name}{of}", route.title);
    Ok(changed)
}

pub(super) fn report(before: &Solved, after: &Solved, found: &Comparison) -> Value {
    let listed = |difference: Difference| -> Vec<Value> {
        let of = found.findings.iter().filter(|f| f.difference == difference);
        of.map(|compared| {
            let entry =
                |solved: &Solved, finding| finding_entry(&solved.route, &solved.solution, finding);
            json!({
                "nearest": compared.nearest,
                "before": compared.before.as_ref().map(|f| entry(before, f)),
                "after": compared.after.as_ref().map(|f| entry(after, f)),
            })
        })
        .collect()
    };
    let numbers: Vec<Value> = found.numbers.iter().map(number).collect();
    rounded(json!({
        "format": 1,
        "title": before.route.title,
        "title_after": after.route.title,
        "assumed": assumed(&after.route),
        "warnings": warnings(&after.route, &after.solution),
        "verdict_before": verdict_word(found.verdicts.0),
        "verdict": verdict_word(found.verdicts.1),
        "appeared": listed(Difference::Appeared),
        "worse": listed(Difference::Worse),
        "same": listed(Difference::Same),
        "better": listed(Difference::Better),
        "vanished": listed(Difference::Vanished),
        "numbers": numbers,
    }))
}

fn number(number: &KeyNumber) -> Value {
    let (factor, unit) = reported_unit(number.kind);
    json!({
        "branch": number.branch,
        "from": number.span.0,
        "to": number.span.1,
        "name": number.name,
        "before": number.before.map(|value| value * factor),
        "after": number.after.map(|value| value * factor),
        "unit": unit,
    })
}

fn print(
    paper: &mut Paper,
    before: &Solved,
    after: &Solved,
    found: &Comparison,
    quiet: bool,
) -> Result<(), Failure> {
    let verdicts = [found.verdicts.0, found.verdicts.1].map(|v| verdict_word(v).to_uppercase());
    let count = |difference: Difference| {
        let of = found.findings.iter().filter(|f| f.difference == difference);
        of.count()
    };
    let kinds = [
        (Difference::Appeared, "New"),
        (Difference::Worse, "Worse"),
        (Difference::Better, "Better"),
        (Difference::Vanished, "Gone"),
        (Difference::Same, "As before"),
    ];
    if !quiet {
        paper.heading(&format!("{} → {}", before.route.title, after.route.title))?;
    }
    let counts: Vec<String> = kinds
        .iter()
        .filter(|(difference, _)| count(*difference) > 0)
        .map(|(difference, name)| format!("{} {}", count(*difference), name.to_lowercase()))
        .collect();
    let counts = if counts.is_empty() {
        "every limit holds before and after".to_owned()
    } else {
        counts.join(", ")
    };
    paper.plain("", &format!("{} → {}  {counts}", verdicts[0], verdicts[1]))?;
    if quiet {
        return Ok(());
    }
    for (difference, name) in kinds {
        let of: Vec<&Compared> = found
            .findings
            .iter()
            .filter(|f| f.difference == difference)
            .collect();
        let lines: Vec<String> = of
            .iter()
            .map(|compared| differing(before, after, compared, paper.units()))
            .collect();
        paper.list(name, &lines)?;
    }
    let mut spans: Vec<String> = Vec::new();
    let mut last = None;
    for number in &found.numbers {
        let span = (&number.branch, &number.span);
        let show = |value: Option<f64>| match (value, number.name) {
            (Some(value), _) => super::terminal::quantity(value, number.kind, paper.units()),
            (None, "tightest radius") => "straight".to_owned(),
            (None, _) => "–".to_owned(),
        };
        let text = format!(
            "{} {} → {}",
            number.name,
            show(number.before),
            show(number.after)
        );
        match (last == Some(span), spans.last_mut()) {
            (true, Some(line)) => line.push_str(&format!("; {text}")),
            _ => spans.push(format!(
                "{}, {}–{}: {text}",
                number.branch, number.span.0, number.span.1
            )),
        }
        last = Some(span);
    }
    paper.list("Numbers that changed", &spans)?;
    paper.list("Assumed for the change", &new_assumptions(before, after))?;
    Ok(())
}

fn new_assumptions(before: &Solved, after: &Solved) -> Vec<String> {
    let old = assumed(&before.route);
    let all = assumed(&after.route);
    all.into_iter().filter(|line| !old.contains(line)).collect()
}
