//! The report on a terminal: verdict first, findings worst first, then what holds, what was assumed, cautions.

use std::io::{StdoutLock, Write};

use anstream::AutoStream;
use anstyle::{AnsiColor, Style};
use textwrap::Options;

use crate::advise::{Compared, Solved};
use crate::check::{CAUTIONS, Finding, Verdict, assumed, pose_in_words, warnings};
use crate::quantity::{Kind, LengthUnit, Units};
use crate::route::Route;

use super::Checked;
use super::failure::Failure;

/// Columns where the terminal does not tell, or there is none.
const USUAL_WIDTH: usize = 80;
/// Longer lines are hard to read, shorter ones fall apart.
const WIDTHS: std::ops::RangeInclusive<usize> = 40..=100;
const HARD_SPACE: char = '\u{a0}';
/// So many findings that break a limit or are close are told in full.
const IN_FULL: usize = 20;

/// Standard output as something to write on: its width, its units, colour only on a terminal that wants it.
pub(super) struct Paper {
    out: AutoStream<StdoutLock<'static>>,
    width: usize,
    units: Units,
}

const BOLD: Style = Style::new().bold();
const FAINT: Style = Style::new().dimmed();

impl Paper {
    pub(super) fn of_terminal(units: Units) -> Self {
        let width = terminal_size::terminal_size()
            .map_or(USUAL_WIDTH, |(width, _)| usize::from(width.0))
            .clamp(*WIDTHS.start(), *WIDTHS.end());
        Self {
            out: AutoStream::auto(std::io::stdout().lock()),
            width,
            units,
        }
    }

    /// Units of what is written.
    pub(super) fn units(&self) -> Units {
        self.units
    }

    /// A line in bold, shown at once.
    pub(super) fn heading(&mut self, text: &str) -> Result<(), Failure> {
        self.styled(BOLD, "", text)?;
        self.out.flush()?;
        Ok(())
    }

    pub(super) fn blank(&mut self) -> Result<(), Failure> {
        Ok(writeln!(self.out)?)
    }

    /// Text in lines of the paper's width, each after `indent`.
    pub(super) fn plain(&mut self, indent: &str, text: &str) -> Result<(), Failure> {
        self.styled(Style::new(), indent, text)
    }

    /// One of several things, behind a dot.
    pub(super) fn item(&mut self, indent: &str, text: &str) -> Result<(), Failure> {
        let (first, rest) = (format!("{indent}· "), format!("{indent}  "));
        self.hanging(Style::new(), &first, &rest, text)
    }

    fn styled(&mut self, style: Style, indent: &str, text: &str) -> Result<(), Failure> {
        self.hanging(style, indent, indent, text)
    }

    /// Text whose first line stands after `first` and the others after `rest`.
    fn hanging(
        &mut self,
        style: Style,
        first: &str,
        rest: &str,
        text: &str,
    ) -> Result<(), Failure> {
        let options = Options::new(self.width)
            .initial_indent(first)
            .subsequent_indent(rest);
        for line in textwrap::wrap(&units_held(text), options) {
            // Where a line must not be broken stands a hard space; on the terminal it is an ordinary one.
            let line = line.replace(HARD_SPACE, " ");
            writeln!(self.out, "{style}{line}{style:#}")?;
        }
        Ok(())
    }

    pub(super) fn list(&mut self, title: &str, entries: &[String]) -> Result<(), Failure> {
        if entries.is_empty() {
            return Ok(());
        }
        self.blank()?;
        self.heading(title)?;
        for entry in entries {
            self.item("  ", entry)?;
        }
        Ok(())
    }
}

/// The text with hard spaces between numbers and their units, so that no line breaks there.
fn units_held(text: &str) -> String {
    const UNITS: [&str; 10] = ["mm", "in", "N", "m", "MPa", "psi", "lbf", "%", "°C", "°F"];
    let mut held = String::with_capacity(text.len());
    for word in text.split_inclusive(' ') {
        let unit = word.trim_end_matches([' ', ',', ';', ':', '.', ')']);
        if UNITS.contains(&unit)
            && held.ends_with(' ')
            && held.trim_end().ends_with(|c: char| c.is_ascii_digit())
        {
            held.pop();
            held.push(HARD_SPACE);
        }
        held.push_str(word);
    }
    held
}

fn word(verdict: Verdict) -> (&'static str, Style) {
    let colour = |colour: AnsiColor| Style::new().bold().fg_color(Some(colour.into()));
    match verdict {
        Verdict::Over => ("OVER", colour(AnsiColor::Red)),
        Verdict::Close => ("CLOSE", colour(AnsiColor::Yellow)),
        Verdict::Within => ("WITHIN", colour(AnsiColor::Green)),
    }
}

/// The verdict on one line.
pub(super) fn verdict(paper: &mut Paper, checked: &Checked) -> Result<(), Failure> {
    let findings = &checked.findings.findings;
    let count = |verdict| findings.iter().filter(|f| f.verdict == verdict).count();
    let (over, close, all) = (count(Verdict::Over), count(Verdict::Close), findings.len());
    let worst = findings.iter().map(|f| f.verdict).max();
    let (name, style) = word(worst.unwrap_or(Verdict::Within));
    let says = match (over, close) {
        (0, 0) => format!("all {all} limits hold"),
        (0, _) => format!("every limit holds, {close} of {all} too close to call"),
        (_, 0) => format!("{over} of {all} limits broken"),
        (_, _) => format!("{over} of {all} limits broken, {close} more too close to call"),
    };
    let poses = checked.solution.sweep.poses.len();
    writeln!(paper.out, "{style}{name}{style:#}  {says}; {poses} poses")?;
    paper.out.flush()?;
    Ok(())
}

/// All the rest.
pub(super) fn report(
    paper: &mut Paper,
    route: &Route,
    checked: &Checked,
    seed: Option<u64>,
) -> Result<(), Failure> {
    let findings = &checked.findings.findings;
    let not_within: Vec<&Finding> = findings
        .iter()
        .filter(|f| f.verdict != Verdict::Within)
        .collect();
    for (index, finding) in not_within.iter().take(IN_FULL).enumerate() {
        in_full(paper, route, checked, index + 1, finding)?;
    }
    if not_within.len() > IN_FULL {
        paper.blank()?;
        paper.plain(
            "",
            &format!(
                "and {} more; --json has them all.",
                not_within.len() - IN_FULL
            ),
        )?;
    }
    holding(paper, route, checked)?;
    let blanks: Vec<String> = checked
        .findings
        .blanks
        .iter()
        .map(|blank| {
            format!(
                "{}, {}: {}",
                route.branches[blank.branch.0].name, blank.check, blank.why
            )
        })
        .collect();
    paper.list("Not judged", &blanks)?;
    paper.list(
        "Weaker than it could be",
        &warnings(route, &checked.solution),
    )?;
    paper.list("Assumed", &assumed(route))?;
    paper.list("Cautions", &CAUTIONS.map(str::to_owned))?;
    if let Some(seed) = seed {
        paper.blank()?;
        paper.plain(
            "",
            &format!("Seed {seed}: nothing here was drawn by chance."),
        )?;
    }
    Ok(())
}

fn in_full(
    paper: &mut Paper,
    route: &Route,
    checked: &Checked,
    number: usize,
    finding: &Finding,
) -> Result<(), Failure> {
    let (name, style) = word(finding.verdict);
    let indent = "           ";
    paper.blank()?;
    writeln!(
        paper.out,
        "{number:>3}  {style}{name:<6}{style:#}{BOLD}{}{BOLD:#}, {}",
        finding.check, route.branches[finding.branch.0].name
    )?;
    let pose = pose_in_words(
        &route.machine,
        &checked.solution.sweep,
        finding.pose,
        paper.units,
    );
    paper.plain(indent, &format!("{}; {pose}", finding.place))?;
    let measured = measured(finding, paper.units);
    paper.styled(BOLD, indent, &measured)?;
    paper.plain(indent, &finding.advice)?;
    if finding.follows_from.is_some() {
        // What is said once of the cause is not said again of what follows from it.
        return Ok(());
    }
    paper.styled(FAINT, indent, &format!("Limit: {}", finding.source))
}

/// Value, limit and how sure that is: "61 mm, at least 95 mm; ±2 mm, broken with a chance of 99.9 %".
fn measured(finding: &Finding, units: Units) -> String {
    let bound = if finding.at_most {
        "at most"
    } else {
        "at least"
    };
    let value = if finding.has_no_inside() {
        "none".to_owned()
    } else {
        quantity(finding.value, finding.kind, units)
    };
    let mut text = format!(
        "{} {value}, {bound} {}",
        finding.measure(),
        quantity(finding.limit, finding.kind, units)
    );
    // A consequence is as sure as its cause, and what follows from nothing measured is as sure as the limit.
    if finding.follows_from.is_none()
        && let (Some(spread), Some(chance)) = (finding.spread, finding.chance_over)
        && spread > 0.0
    {
        let spread = if spread.is_finite() {
            quantity(spread, finding.kind, units)
        } else {
            " more than can be told".to_owned()
        };
        text.push_str(&format!(
            "; ±{spread}, broken with a chance of {}",
            percent(chance)
        ));
    }
    text
}

/// A finding before and after on one line: "pinch, main: T1–T2 at 612 mm: gap 12 mm → 3.1 mm (at least 8 mm), now OVER".
pub(super) fn differing(
    before: &Solved,
    after: &Solved,
    compared: &Compared,
    units: Units,
) -> String {
    let (solved, finding) = match (&compared.after, &compared.before) {
        (Some(new), _) => (after, new),
        (None, Some(old)) => (before, old),
        (None, None) => return String::new(),
    };
    let show = |finding: &Option<Finding>| match finding {
        None => "not there".to_owned(),
        Some(finding) if finding.has_no_inside() => "none".to_owned(),
        Some(finding) => quantity(finding.value, finding.kind, units),
    };
    let pose = pose_in_words(
        &solved.route.machine,
        &solved.solution.sweep,
        finding.pose,
        units,
    );
    let bound = if finding.at_most {
        "at most"
    } else {
        "at least"
    };
    let is = compared
        .after
        .as_ref()
        .map_or("", |new| word(new.verdict).0);
    let is = if is.is_empty() {
        is.to_owned()
    } else {
        format!(", {is}")
    };
    format!(
        "{}, {}: {} ({pose}): {} {} → {} ({bound} {}){is}",
        finding.check,
        solved.route.branches[finding.branch.0].name,
        finding.place,
        finding.measure(),
        show(&compared.before),
        show(&compared.after),
        quantity(finding.limit, finding.kind, units),
    )
}

fn percent(chance: f64) -> String {
    let percent = chance * 100.0;
    if percent < 0.1 {
        "less than 0.1 %".to_owned()
    } else if percent > 99.9 {
        "more than 99.9 %".to_owned()
    } else if (10.0..=90.0).contains(&percent) {
        format!("{percent:.0} %")
    } else {
        format!("{percent:.1} %")
    }
}

/// A value with one decimal more than usual where it is small.
pub(super) fn quantity(value: f64, kind: Kind, units: Units) -> String {
    let digits = units.digits(kind);
    let (shown, _) = units.convert(value, kind);
    let finer = matches!(kind, Kind::Length | Kind::Angle)
        && units.length == LengthUnit::Mm
        && shown.abs() < 9.95;
    let text = units.show_to(value, kind, if finer { digits + 1 } else { digits });
    text.replace(' ', &HARD_SPACE.to_string())
}

/// One line for each check whose findings hold: how many, and the one nearest to its limit.
fn holding(paper: &mut Paper, route: &Route, checked: &Checked) -> Result<(), Failure> {
    let within: Vec<&Finding> = checked
        .findings
        .findings
        .iter()
        .filter(|f| f.verdict == Verdict::Within)
        .collect();
    let mut checks: Vec<&str> = Vec::new();
    for finding in &within {
        if !checks.contains(&finding.check) {
            checks.push(finding.check);
        }
    }
    if checks.is_empty() {
        return Ok(());
    }
    paper.blank()?;
    paper.heading("Within limits")?;
    let widest = checks.iter().map(|check| check.len()).max().unwrap_or(0);
    for check in checks {
        let of_check: Vec<_> = within.iter().filter(|f| f.check == check).collect();
        // Findings stand with the most used limit first.
        let nearest = of_check[0];
        let first = format!("  {check:<widest$}  {:>3}  ", of_check.len());
        let rest = " ".repeat(first.len());
        let text = format!(
            "nearest: {} {}, {}",
            route.branches[nearest.branch.0].name,
            nearest.subject,
            measured_short(nearest, paper.units)
        );
        paper.hanging(Style::new(), &first, &rest, &text)?;
    }
    Ok(())
}

fn measured_short(finding: &Finding, units: Units) -> String {
    let bound = if finding.at_most {
        "at most"
    } else {
        "at least"
    };
    format!(
        "{} ({bound} {})",
        quantity(finding.value, finding.kind, units),
        quantity(finding.limit, finding.kind, units)
    )
}
