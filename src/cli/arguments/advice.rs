//! Options of what says what to do: estimate, lengthen, reach, retie, reroute, study, locate.

use std::path::PathBuf;

use clap::{ArgGroup, Args, ValueEnum};

use super::per_cent;
use super::results::Checking;

/// On which end of the bars a lead goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum SideChoice {
    /// The rider's left
    Left,
    /// The rider's right
    Right,
}

#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub(in crate::cli) struct Estimate {
    /// Slack gathered by hand at full left
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) spare_left: Option<String>,
    /// Slack straight ahead
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) spare_straight: Option<String>,
    /// Slack at full right
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) spare_right: Option<String>,
    /// Length of the lead from its last tie on the frame to its first on the bars
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) length: Option<String>,
    /// Rise of the bars, old and new: clamp up to grip
    #[arg(long, num_args = 2, value_names = ["OLD", "NEW"])]
    pub(in crate::cli) rise: Vec<String>,
    /// Pullback of the bars, old and new: clamp back to the grip's end
    #[arg(long, num_args = 2, value_names = ["OLD", "NEW"])]
    pub(in crate::cli) pullback: Vec<String>,
    /// Width of the bars, old and new: end to end
    #[arg(long, num_args = 2, value_names = ["OLD", "NEW"])]
    pub(in crate::cli) width: Vec<String>,
    /// Outside diameter of the lead
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) diameter: Option<String>,
    /// Angle from straight ahead to the stops: one for both, or left and right
    #[arg(long, num_args = 1..=2, value_names = ["LEFT", "RIGHT"])]
    pub(in crate::cli) lock: Vec<String>,
    /// Rake: how far the steering axis leans back from the vertical
    #[arg(long, value_name = "ANGLE")]
    pub(in crate::cli) rake: Option<String>,
    /// From the middle of the bars out to the lead's first tie on them
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) tie_out: Option<String>,
    /// On which end of the bars the lead goes
    #[arg(long, value_enum, default_value_t = SideChoice::Left, value_name = "SIDE")]
    pub(in crate::cli) side: SideChoice,
    /// A title for the answer
    #[arg(long, value_name = "TEXT")]
    pub(in crate::cli) title: Option<String>,
    /// Print the answer as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
    /// Draws the samples of what is not known; the same number gives the same answer
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(in crate::cli) seed: u64,
}

/// How conductors are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum JoinChoice {
    /// A crimped splice under an adhesive-lined sleeve
    Crimp,
    /// A solder sleeve
    SolderSleeve,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Lengthen {
    #[command(flatten)]
    pub(in crate::cli) checking: Checking,
    /// Make this change of the route file first
    #[arg(long, value_name = "NAME")]
    pub(in crate::cli) change: Option<String>,
    /// Lengths are added in whole steps [default: 10 mm, or 1/2 in with --units inch]
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) step: Option<String>,
    /// How conductors are joined
    #[arg(long, value_enum, default_value_t = JoinChoice::Crimp, value_name = "HOW")]
    pub(in crate::cli) join: JoinChoice,
    /// Write the lengthened route, comments and all
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Print the answer as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Reach {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(in crate::cli) route: PathBuf,
    /// A change of the route file; given twice, the first is charted against the second
    #[arg(long, value_name = "NAME", required = true)]
    pub(in crate::cli) change: Vec<String>,
    /// How much of the change to look at most, in per cent
    #[arg(long, value_name = "PCT", default_value_t = 300.0, value_parser = per_cent)]
    pub(in crate::cli) most: f64,
    /// Do not work out how far hand measuring may put the answer off
    #[arg(long)]
    pub(in crate::cli) no_spread: bool,
    /// Print the answer as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
    /// Draw the chart of two changes
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Write a PNG of the chart too [default FILE: the SVG's name with .png]
    #[arg(long, value_name = "FILE", num_args = 0..=1, requires = "output")]
    pub(in crate::cli) png: Option<Option<PathBuf>>,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Retie {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(in crate::cli) route: PathBuf,
    /// A change of the route file that is made first
    #[arg(long, value_name = "NAME")]
    pub(in crate::cli) change: Option<String>,
    /// By how much the spans of a branch may be made longer beside, together
    #[arg(long, value_name = "LENGTH")]
    pub(in crate::cli) longer: Option<String>,
    /// Give the best so far after so many seconds; Ctrl-C gives it at once
    #[arg(long, value_name = "SECONDS", default_value_t = 60)]
    pub(in crate::cli) within: u64,
    /// Which of the ways to save as a route file; one that was shown before is saved without searching again
    #[arg(long, value_name = "N", requires = "output")]
    pub(in crate::cli) write: Option<usize>,
    /// The route file to save
    #[arg(long, short, value_name = "FILE", requires = "write")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Print the ways as JSON, each with its whole route file
    #[arg(long)]
    pub(in crate::cli) json: bool,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Reroute {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(in crate::cli) route: PathBuf,
    /// The branch to lay anew
    #[arg(long, value_name = "NAME")]
    pub(in crate::cli) branch: String,
    /// The fixing from which it is laid anew; it stays [default: the branch's first]
    #[arg(long, value_name = "FIXING")]
    pub(in crate::cli) from: Option<String>,
    /// The fixing to which it is laid anew; it stays [default: the branch's last]
    #[arg(long, value_name = "FIXING")]
    pub(in crate::cli) to: Option<String>,
    /// Most proposals
    #[arg(long, value_name = "N", default_value_t = 4)]
    pub(in crate::cli) most: usize,
    /// Stop after so many seconds with what was found
    #[arg(long, value_name = "SECONDS", default_value_t = 60)]
    pub(in crate::cli) within: u64,
    /// Write a proposal as a route file, comments and all
    #[arg(long, short, value_name = "FILE")]
    pub(in crate::cli) output: Option<PathBuf>,
    /// Which proposal to write [default: 1]; one that was shown before is written without searching again
    #[arg(long, value_name = "N", requires = "output")]
    pub(in crate::cli) write: Option<usize>,
    /// Print the answer as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Study {
    /// The table of variants, .csv or .ron
    #[arg(value_name = "TABLE")]
    pub(in crate::cli) table: PathBuf,
    /// The route files; each has the changes that the table names
    #[arg(value_name = "ROUTE", required = true)]
    pub(in crate::cli) routes: Vec<PathBuf>,
    /// Where the results go; what is there already is not done again
    #[arg(long, short, value_name = "FILE", default_value = "study.csv")]
    pub(in crate::cli) output: PathBuf,
    /// Write the results as Parquet too, when all is done or it is stopped [default FILE: the CSV's name with .parquet]
    #[arg(long, value_name = "FILE", num_args = 0..=1)]
    pub(in crate::cli) parquet: Option<Option<PathBuf>>,
    /// Do only the K-th of N parts
    #[arg(long, value_name = "K/N", default_value = "1/1", value_parser = part)]
    pub(in crate::cli) part: (usize, usize),
    /// Leave out the line of names
    #[arg(long)]
    pub(in crate::cli) no_header: bool,
    /// Work out how far hand measuring may put each finding off: much slower
    #[arg(long)]
    pub(in crate::cli) spread: bool,
}

fn part(text: &str) -> Result<(usize, usize), &'static str> {
    let (k, n) = text.split_once('/').unwrap_or((text, ""));
    match (k.trim().parse(), n.trim().parse()) {
        (Ok(k), Ok(n)) if 1 <= k && k <= n => Ok((k, n)),
        _ => Err("write which part of how many: 2/4"),
    }
}

/// What was seen of a fault.
#[derive(Debug, Args)]
pub(in crate::cli) struct Symptom {
    /// Circuits or wires that fail
    #[arg(long, value_name = "NAME", num_args = 1..)]
    pub(in crate::cli) failing: Vec<String>,
    /// Circuits or wires that work while the others fail
    #[arg(long, value_name = "NAME", num_args = 1.., requires = "failing")]
    pub(in crate::cli) working: Vec<String>,
    /// At which angle it fails: a moving body and its value, such as "steering 30 deg"
    #[arg(long, value_name = "POSE", requires = "failing")]
    pub(in crate::cli) at: Vec<String>,
    /// With what it fails, such as "seat pressed"
    #[arg(long, value_name = "POSE", requires = "failing")]
    pub(in crate::cli) with: Vec<String>,
    /// It fails hot
    #[arg(long, requires = "failing")]
    pub(in crate::cli) hot: bool,
}

#[derive(Debug, Args)]
#[command(group = ArgGroup::new("fault").arg("failing").required(true))]
pub(in crate::cli) struct Locate {
    #[command(flatten)]
    pub(in crate::cli) checking: Checking,
    #[command(flatten)]
    pub(in crate::cli) symptom: Symptom,
    /// Show the arithmetic of every place
    #[arg(long)]
    pub(in crate::cli) why: bool,
    /// Print the places as JSON
    #[arg(long)]
    pub(in crate::cli) json: bool,
}
