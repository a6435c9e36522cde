//! The answers that the page asks for: the commands' own, on the text that the page has, as their JSON.
//!
//! What the page asks becomes a command line and is read as one, so that options mean the same and faults teach the same.

use clap::Parser;
use serde_json::{Map, Value, json};

use crate::advise::{RetieHooks, Solved, compare as compared, locate, locate_report, reach_with};
use crate::check::{Options, assumed, rounded};
use crate::draw::bench::{Bench, pages, pdf};
use crate::page::{Asker, NamedBytes, Question};
use crate::read::{edited_text, places_text};
use crate::rod::Settings;

use super::arguments::{
    Arguments, Command, Compare, Lengthen, Locate, Reach, Reroute, Retie, Shared,
};
use super::changes::named;
use super::failure::Failure;
use super::{check_options, compare, estimate, lengthen, place, with_change};

/// Options that take more than one value after their name; of the others each value stands behind the name again.
const MANY: [&str; 6] = ["failing", "working", "rise", "pullback", "width", "lock"];
/// Options that write files or print: the page shows and saves by itself.
const NOT_HERE: [&str; 7] = [
    "output", "png", "write", "json", "tables", "to-file", "threads",
];

/// Answers a question of the page.
pub(super) fn answer(question: &Question<'_>, asker: &Asker<'_>) -> Result<Value, String> {
    let arguments = arguments(question)?;
    let shared = &arguments.shared;
    let told = match &arguments.command {
        Command::Estimate(command) => estimate::answer(command, shared),
        Command::Reach(command) => how_far(command, shared, question, asker),
        Command::Lengthen(command) => longer(command, shared, question, asker),
        Command::Retie(command) => tied(command, shared, question, asker),
        Command::Reroute(command) => rerouted(command, shared, question, asker),
        Command::Locate(command) => located(command, shared, question),
        Command::Compare(command) => before_after(command, shared, question, asker),
        Command::Place(_) => places_text(question.text(), question.file())
            .map(|taped| rounded(place::report(&taped)))
            .map_err(Failure::from),
        _ => Err(Failure::Question(format!(
            "\"{}\" is nothing that the page asks",
            question.what
        ))),
    };
    told.map_err(|failure| failure.to_string())
}

/// The bench sheet of the page's text, as PDF.
pub(super) fn sheet(question: &Question<'_>, asker: &Asker<'_>) -> Result<Vec<u8>, String> {
    about_sheet(question, asker, |bench| Ok(pdf(&pages(bench))))
}

/// The tables of the bench sheet, as CSV by the names of their files.
pub(super) fn tables(
    question: &Question<'_>,
    asker: &Asker<'_>,
) -> Result<Vec<NamedBytes>, String> {
    about_sheet(question, asker, super::sheet::csv_files)
}

fn about_sheet<T>(
    question: &Question<'_>,
    asker: &Asker<'_>,
    made: impl FnOnce(&Bench<'_>) -> Result<T, Failure>,
) -> Result<T, String> {
    let arguments = arguments(question)?;
    let Command::Sheet(command) = &arguments.command else {
        return Err("this is no bench sheet".to_owned());
    };
    let route = question.route()?;
    let settings = halted(asker);
    let made = super::sheet::bench(command, &arguments.shared, &route, settings, made);
    made.map(|(made, _)| made)
        .map_err(|failure| failure.to_string())
}

/// A question read as a command line; its faults without what a page does not have.
fn arguments(question: &Question<'_>) -> Result<Arguments, String> {
    let line = command_line(question.what, question.options)?;
    Arguments::try_parse_from(line).map_err(|error| {
        let text = error.render().to_string();
        let text = text.trim_start_matches("error: ");
        text.split("\n\nUsage:")
            .next()
            .unwrap_or(text)
            .trim()
            .to_owned()
    })
}

/// The command line that a question is. Nothing in it can be taken for another option.
fn command_line(what: &str, options: &Map<String, Value>) -> Result<Vec<String>, String> {
    let plain =
        |name: &str| !name.is_empty() && name.chars().all(|c| c.is_ascii_lowercase() || c == '-');
    if !plain(what) || what.starts_with('-') {
        return Err("there is no such question".to_owned());
    }
    let mut line = vec!["neckloom".to_owned(), what.to_owned(), "--quiet".to_owned()];
    for (name, value) in options {
        let name = name.replace('_', "-");
        if !plain(&name) || name.starts_with('-') || NOT_HERE.contains(&name.as_str()) {
            return Err(format!("\"{name}\" is no option that the page has"));
        }
        let values: Vec<String> = match value {
            Value::Null | Value::Bool(false) => continue,
            Value::Bool(true) => {
                line.push(format!("--{name}"));
                continue;
            }
            Value::Array(values) => values.iter().map(text_of).collect::<Result<_, _>>()?,
            one => vec![text_of(one)?],
        };
        if MANY.contains(&name.as_str()) {
            let number = |value: &String| value.parse::<f64>().is_ok();
            if let Some(odd) = values.iter().find(|v| v.starts_with('-') && !number(v)) {
                return Err(format!("\"{odd}\" is no value for {name}"));
            }
            line.push(format!("--{name}"));
            line.extend(values);
        } else {
            line.extend(values.iter().map(|value| format!("--{name}={value}")));
        }
    }
    if what != "estimate" {
        // Never opened: the text is the page's.
        line.extend(["--".to_owned(), "route.ron".to_owned()]);
    }
    Ok(line)
}

fn text_of(value: &Value) -> Result<String, String> {
    match value {
        Value::String(text) => Ok(text.clone()),
        Value::Number(number) => Ok(number.to_string()),
        _ => Err("options are texts, numbers, lists of them, or true".to_owned()),
    }
}

/// Settings of solves that can be ended.
fn halted(asker: &Asker<'_>) -> Settings {
    Settings {
        halt: asker.halt,
        ..Settings::default()
    }
}

fn found<T>(answer: Result<T, String>) -> Result<T, Failure> {
    answer.map_err(Failure::Question)
}

fn how_far(
    command: &Reach,
    shared: &Shared,
    question: &Question<'_>,
    asker: &Asker<'_>,
) -> Result<Value, Failure> {
    let base = found(question.solved())?;
    let settings = halted(asker);
    let options = super::reach::options(command, shared, settings);
    match command.change.as_slice() {
        [first, second] => {
            let changes = [named(&base.route, first)?, named(&base.route, second)?];
            let chart = super::reach::charted(&base, changes, &options, asker.say)?;
            Ok(super::reach::chart_report(&base, &chart))
        }
        [change, ..] => {
            let change = named(&base.route, change)?;
            let reached = reach_with(&base, change, &options, asker.say)?;
            let mut told = super::reach::report(&base, &reached);
            // Up to where it is sure, if that is known.
            let share = reached.sure.unwrap_or(reached.share);
            if !reached.already && share > 0.0 {
                told["proposals"] = json!([{
                    "says": format!("{}, as far as it surely goes ({:.0} %)", change.name, 100.0 * share),
                    "edits": [{ "change": change.name, "share": share }],
                }]);
            }
            Ok(told)
        }
        [] => Err(Failure::NothingToCompare),
    }
}

fn longer(
    command: &Lengthen,
    shared: &Shared,
    question: &Question<'_>,
    asker: &Asker<'_>,
) -> Result<Value, Failure> {
    let mut route = (*found(question.route())?).clone();
    if let Some(name) = &command.change {
        route = with_change(&route, name)?;
    }
    let worked = lengthen::worked(command, shared, &route, halted(asker), asker.say)?;
    let mut told = worked.report(&route, command);
    if !worked.done.adds.is_empty() {
        let text = edited_text(question.text(), question.file(), &worked.done.route)?;
        let what = command.change.as_ref();
        let what = what.map_or_else(String::new, |name| format!("{name}, "));
        let unfinished = if worked.done.stopped {
            ", unfinished"
        } else {
            ""
        };
        let says = format!("{what}lengthened{unfinished}");
        told["proposals"] = json!([{ "says": says, "text": text }]);
    }
    Ok(told)
}

fn tied(
    command: &Retie,
    shared: &Shared,
    question: &Question<'_>,
    asker: &Asker<'_>,
) -> Result<Value, Failure> {
    let route = found(question.route())?;
    let hooks = RetieHooks {
        stop: asker.stop,
        say: asker.say,
    };
    let text = (&*route, question.text(), question.file());
    let tied = super::retie::tied(command, shared, text, halted(asker), &hooks)?;
    let mut told = tied.report();
    propose(&mut told, "changes");
    Ok(told)
}

/// Proposals as the page takes them: what they say, and the whole text.
fn propose(told: &mut Value, words: &str) {
    let Some(Value::Array(proposals)) = told.get_mut("proposals") else {
        return;
    };
    for proposal in proposals {
        let says = match &proposal[words] {
            Value::Array(lines) => {
                let lines: Vec<&str> = lines.iter().filter_map(Value::as_str).collect();
                lines.join("; ")
            }
            Value::String(text) => text.clone(),
            _ => String::new(),
        };
        proposal["says"] = json!(says);
        proposal["text"] = proposal["route"].clone();
    }
}

fn rerouted(
    command: &Reroute,
    shared: &Shared,
    question: &Question<'_>,
    asker: &Asker<'_>,
) -> Result<Value, Failure> {
    let route = found(question.route())?;
    let text = (&*route, question.text(), question.file());
    let laid = super::reroute::laid_anew(command, shared.units(), text, asker.stop, asker.say)?;
    let mut told = laid.report(&route);
    propose(&mut told, "way");
    Ok(told)
}

fn located(command: &Locate, shared: &Shared, question: &Question<'_>) -> Result<Value, Failure> {
    let route = found(question.route())?;
    let asked = super::locate::question(&command.symptom);
    let spread = !command.checking.no_spread;
    let (solution, findings) = found(question.checked(spread, shared.units()))?;
    let places = locate(&route, &solution, &findings, &asked, shared.units())
        .map_err(|unknown| Failure::Question(unknown.to_string()))?;
    Ok(locate_report(
        &route,
        &places,
        &assumed(&route),
        command.why,
    ))
}

fn before_after(
    command: &Compare,
    shared: &Shared,
    question: &Question<'_>,
    asker: &Asker<'_>,
) -> Result<Value, Failure> {
    let route = (*found(question.route())?).clone();
    let Some(name) = &command.change else {
        return Err(Failure::NothingToCompare);
    };
    let options = Options {
        settings: halted(asker),
        ..check_options(!command.no_spread, shared)
    };
    let share = command.share / 100.0;
    let changed = compare::changed(&route, name, command.share)?;
    (asker.say)("solving before and after");
    let before = Solved::new(route, &options);
    let after = before.with(changed, &options);
    let differs = compared(&before, &after);
    let mut told = compare::report(&before, &after, &differs);
    told["proposals"] = json!([{
        "says": format!("{name}, {:.0} %", command.share),
        "edits": [{ "change": name, "share": share }],
    }]);
    Ok(told)
}
