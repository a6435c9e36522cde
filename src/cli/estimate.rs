//! `estimate`: the five-minute answer, from options or from questions on a terminal.

use std::io::{BufRead, IsTerminal, Write};

use serde_json::{Value, json};

use crate::advise::estimate::{
    Answer, CANNOT_SEE, Change, Estimate as Found, Reading, Readings, Side, estimate,
};
use crate::check::{CAUTIONS, Limits, rounded};
use crate::quantity::{Accepts, Kind, LengthUnit, Units, parse};

use super::arguments::{Estimate, Shared, SideChoice};
use super::failure::Failure;
use super::terminal::Paper;

/// Exit status where the lead does not reach.
const SHORT: u8 = 1;
const TITLE: &str = "Does the lead still reach with the new bars?";

pub(super) fn run(command: &Estimate, shared: &Shared) -> Result<u8, Failure> {
    let units = shared.units();
    let asked = command.says_nothing() && std::io::stdin().is_terminal() && !command.json;
    if command.says_nothing() && !asked {
        return Err(Failure::Readings(
            "nothing was measured, and nobody is at a terminal to be asked\n    give the readings as options: --spare-left \
             62 --spare-right 31 --rise 110 160 and what else you have; neckloom estimate --help tells them all"
                .to_owned(),
        ));
    }
    let readings = if asked {
        questions(units)?
    } else {
        of_options(command, units)?
    };
    let title = command.title.clone().unwrap_or_else(|| TITLE.to_owned());
    let limits = Limits::new(&[]);
    let found = estimate(&readings, &limits, command.seed)
        .map_err(|error| Failure::Readings(error.to_string()))?;
    if command.json {
        let mut out = std::io::stdout().lock();
        let report = rounded(report(&title, &readings, &found, command.seed));
        serde_json::to_writer_pretty(&mut out, &report)?;
        writeln!(out)?;
        out.flush()?;
    } else {
        let mut paper = Paper::of_terminal(units);
        tell(&mut paper, &title, &found, units, shared.quiet)?;
    }
    Ok(if found.answer == Answer::No { SHORT } else { 0 })
}

/// The answer to readings that stand among the options.
pub(super) fn answer(command: &Estimate, shared: &Shared) -> Result<Value, Failure> {
    let readings = of_options(command, shared.units())?;
    let found = estimate(&readings, &Limits::new(&[]), command.seed)
        .map_err(|error| Failure::Readings(error.to_string()))?;
    let title = command.title.as_deref().unwrap_or(TITLE);
    Ok(rounded(report(title, &readings, &found, command.seed)))
}

impl Estimate {
    /// Whether no reading stands on the command line.
    fn says_nothing(&self) -> bool {
        let single = [
            &self.spare_left,
            &self.spare_straight,
            &self.spare_right,
            &self.length,
            &self.diameter,
        ];
        single.iter().all(|option| option.is_none())
            && self.rise.is_empty()
            && self.pullback.is_empty()
            && self.width.is_empty()
    }
}

fn of_options(command: &Estimate, units: Units) -> Result<Readings, Failure> {
    let one = |name: &str, text: &Option<String>, kind| {
        text.as_deref()
            .map(|text| value(name, text, kind, units))
            .transpose()
    };
    let two = |name: &str, texts: &[String]| -> Result<Option<Change>, Failure> {
        let [old, new] = texts else { return Ok(None) };
        Ok(Some(Change {
            old: value(name, old, Kind::Length, units)?,
            new: value(name, new, Kind::Length, units)?,
        }))
    };
    let lock = match command.lock.as_slice() {
        [] => None,
        [both] => Some([value("--lock", both, Kind::Angle, units)?; 2]),
        [left, right, ..] => Some([
            value("--lock", left, Kind::Angle, units)?,
            value("--lock", right, Kind::Angle, units)?,
        ]),
    };
    Ok(Readings {
        spare: [
            one("--spare-left", &command.spare_left, Kind::Length)?,
            one("--spare-straight", &command.spare_straight, Kind::Length)?,
            one("--spare-right", &command.spare_right, Kind::Length)?,
        ],
        length: one("--length", &command.length, Kind::Length)?,
        rise: two("--rise", &command.rise)?,
        pullback: two("--pullback", &command.pullback)?,
        width: two("--width", &command.width)?,
        diameter: one("--diameter", &command.diameter, Kind::Length)?,
        lock,
        rake: one("--rake", &command.rake, Kind::Angle)?,
        out: one("--tie-out", &command.tie_out, Kind::Length)?,
        side: match command.side {
            SideChoice::Left => Side::Left,
            SideChoice::Right => Side::Right,
        },
    })
}

/// A bare number is in the units of the command; a text with a unit is in its own.
fn value(name: &str, text: &str, kind: Kind, units: Units) -> Result<f64, Failure> {
    let bare = text.trim().parse::<f64>().is_ok();
    let unit = match (bare, kind, units.length) {
        (false, ..) => "",
        (_, Kind::Angle, _) => " deg",
        (_, _, LengthUnit::Mm) => " mm",
        (_, _, LengthUnit::Inch) => " in",
    };
    // A rise or a pullback may be negative: bars that drop, or go forward.
    let accepts = match name {
        "--rise" | "--pullback" => Accepts::Any,
        "--length" | "--width" | "--diameter" => Accepts::Positive,
        _ => Accepts::NotNegative,
    };
    parse(&format!("{}{unit}", text.trim()), kind, accepts)
        .map_err(|error| Failure::Readings(format!("{name}: {error}\n    {}", error.cure())))
}

/// Asks for the readings one by one; an empty line is "not known".
fn questions(units: Units) -> Result<Readings, Failure> {
    let unit = match units.length {
        LengthUnit::Mm => "mm",
        LengthUnit::Inch => "in",
    };
    let mut out = std::io::stdout();
    writeln!(
        out,
        "{TITLE}\n\nLengths in {unit}, or with their unit (\"1 1/2 in\"). Enter alone: not known.\n\nUnclip the lead at its \
         first tie on the bars, hold it there, and gather what is slack\ntoward the last tie on the frame, until it runs \
         straight between the two."
    )?;
    let mut ask = |question: &str, name: &str, kind: Kind| -> Result<Option<f64>, Failure> {
        loop {
            write!(out, "{question}: ")?;
            out.flush()?;
            let mut line = String::new();
            if std::io::stdin().lock().read_line(&mut line)? == 0 || line.trim().is_empty() {
                return Ok(None);
            }
            match value(name, line.trim(), kind, units) {
                Ok(value) => return Ok(Some(value)),
                Err(failure) => writeln!(out, "  {failure}")?,
            }
        }
    };
    let length = Kind::Length;
    let mut readings = Readings {
        spare: [
            ask("Slack at full left", "--spare-left", length)?,
            ask("Slack straight ahead", "--spare-straight", length)?,
            ask("Slack at full right", "--spare-right", length)?,
        ],
        length: ask(
            "Length of the lead between the two ties, with string",
            "--length",
            length,
        )?,
        ..Readings::default()
    };
    let mut change = |what: &str, name: &str| -> Result<Option<Change>, Failure> {
        let Some(old) = ask(&format!("{what} of the bars now"), name, length)? else {
            return Ok(None);
        };
        let new = ask(&format!("{what} of the new bars"), name, length)?;
        Ok(Some(Change {
            old,
            new: new.unwrap_or(old),
        }))
    };
    readings.rise = change("Rise (clamp up to grip)", "--rise")?;
    readings.pullback = change("Pullback (clamp back to grip end)", "--pullback")?;
    readings.width = change("Width (end to end)", "--width")?;
    readings.out = ask(
        "From the bars' middle out to the tie on them",
        "--tie-out",
        length,
    )?;
    readings.diameter = ask("Diameter of the lead", "--diameter", length)?;
    readings.lock = ask(
        "Angle from straight ahead to a stop, in degrees",
        "--lock",
        Kind::Angle,
    )?
    .map(|angle| [angle; 2]);
    writeln!(out)?;
    Ok(readings)
}

fn report(title: &str, readings: &Readings, found: &Found, seed: u64) -> Value {
    let mm = |metres: f64| 1e3 * metres;
    let given: Vec<Value> = found
        .readings
        .iter()
        .map(|share| {
            let angle = matches!(share.reading, Reading::Lock(_) | Reading::Rake);
            let scaled = |x: f64| if angle { x.to_degrees() } else { mm(x) };
            let unit = if angle { "deg" } else { "mm" };
            json!({
                "reading": share.reading.in_words(),
                "read": share.read.map(scaled),
                "spread": scaled(share.sd),
                "unit": unit,
                "doubt_taken_pct": 100.0 * share.share,
            })
        })
        .collect();
    json!({
        "format": 1,
        "title": title,
        "assumed": found.assumed,
        "warnings": found.warnings,
        "answer": found.answer.in_words(),
        "short_mm": mm(found.short()),
        "spread_mm": mm(found.spread),
        "repeat": found.repeat.in_words(),
        "chance_pct": 100.0 * found.chance,
        "spare_now_mm": {
            "left": readings.spare[0].map(mm),
            "straight": readings.spare[1].map(mm),
            "right": readings.spare[2].map(mm),
        },
        "spare_mm": mm(found.spare),
        "spare_from_mm": mm(found.spare_between.0),
        "spare_to_mm": mm(found.spare_between.1),
        "tightest_deg": found.tightest.to_degrees(),
        "taken_mm": mm(found.taken),
        "margin_mm": mm(found.margin),
        "margin_source": found.margin_source,
        "straight_line_mm": mm(found.straight_line),
        "plain_sum_mm": mm(found.plain_sum),
        "add_mm": mm(found.add),
        "aside_mm": mm(found.aside),
        "bend_radius_mm": found.bend.as_ref().map(|(radius, _)| mm(*radius)),
        "readings": given,
        "cannot_see": CANNOT_SEE,
        "seed": seed,
    })
}

fn tell(
    paper: &mut Paper,
    title: &str,
    found: &Found,
    units: Units,
    quiet: bool,
) -> Result<(), Failure> {
    let show = |x: f64| units.show(x, Kind::Length);
    let at = match found.tightest.to_degrees().round() {
        0.0 => "straight ahead".to_owned(),
        angle if angle > 0.0 => format!("{angle:.0}° left"),
        angle => format!("{:.0}° right", -angle),
    };
    if !quiet {
        paper.heading(title)?;
        paper.blank()?;
    }
    let says = match found.answer {
        Answer::Yes => format!(
            "YES  it reaches: {} spare at the tightest angle, {at}, and {} are asked.",
            show(found.spare),
            show(found.margin)
        ),
        Answer::No if found.spare < 0.0 => format!(
            "NO  it does not reach: {} too short for the straight way at the tightest angle, {at}.",
            show(-found.spare)
        ),
        Answer::No => format!(
            "NO  not with margin: {} spare at the tightest angle, {at}, and {} are asked.",
            show(found.spare),
            show(found.margin)
        ),
        Answer::CannotTell => format!(
            "CANNOT TELL  {} spare at the tightest angle, {at}, where {} are asked; {:.0} % likely enough.",
            show(found.spare),
            show(found.margin),
            100.0 * found.chance
        ),
    };
    paper.heading(&says)?;
    if quiet {
        return Ok(());
    }
    let mut facts = vec![
        format!(
            "Spare with the new bars, likely {} to {} (95 %), give or take {}.",
            show(found.spare_between.0),
            show(found.spare_between.1),
            show(found.spread)
        ),
        format!(
            "The new bars take {} of the slack there. They can take no more than the straight-line change, {}; a lead led \
             round the bars' corners needs up to the plain sum, {}.",
            show(found.taken),
            show(found.straight_line),
            show(found.plain_sum)
        ),
    ];
    if found.answer != Answer::Yes {
        facts.push(format!(
            "Add at least {} to have the margin at 97.5 %. Measure with string on the machine at {at} before you cut.",
            show((found.add * 1e3).ceil() * 1e-3)
        ));
    }
    facts.push(format!(
        "At the loosest angle it can be pulled {} aside: see that it cannot catch or touch anything.",
        show(found.aside)
    ));
    if let Some((radius, source)) = &found.bend {
        facts.push(format!(
            "Keep the inside of every bend that moves at {} or more: {source}.",
            show(*radius)
        ));
    }
    facts.push(format!("Margin: {}.", found.margin_source));
    for fact in facts {
        paper.plain("", &fact)?;
    }
    let repeat = found
        .readings
        .iter()
        .find(|share| share.reading == found.repeat);
    let repeat = repeat.map_or_else(String::new, |share| {
        let verb = if share.read.is_some() {
            "Repeat"
        } else {
            "Measure"
        };
        format!(
            "{verb} first: {} (takes {:.0} % of the doubt away).",
            share.reading.in_words(),
            100.0 * share.share
        )
    });
    paper.heading(&repeat)?;
    paper.list("Weaker than it could be", &found.warnings)?;
    paper.list("What this cannot see", &CANNOT_SEE.map(str::to_owned))?;
    paper.list("Assumed", &found.assumed)?;
    paper.list("Cautions", &CAUTIONS.map(str::to_owned))
}
