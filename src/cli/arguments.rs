//! The command line as data. Parsing validates and does nothing else.

use std::net::{IpAddr, Ipv4Addr};
use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;

use crate::export::PoseChoice;

const ABOUT: &str =
    "Checks the route of a motorcycle's wiring harness before anything is bolted on";

const LONG_ABOUT: &str = "\
Checks the route of a motorcycle's wiring harness before anything is bolted on.

A route file says where the harness is tied, where the machine moves and what is hot or in the way. neckloom finds \
how the harness lies at every steering angle and seat position, and says where it bends too tightly, runs taut, \
twists, comes too near to a hot part or is squeezed, and what to do about it.";

const AFTER: &str = "\
EXAMPLES
  neckloom start my-bike.ron      write a route file with comments to begin from
  neckloom check my-bike.ron      is this route sound?
  neckloom draw my-bike.ron       the same as a sheet to pin to the wall
  neckloom estimate               five questions, no file: does a lead still reach with other bars?
  neckloom place my-bike.ron      taped distances to coordinates
  neckloom lengthen my-bike.ron   what to add, which wires to cut, where to join
  neckloom sheet my-bike.ron      the bench sheet to work from, at true size
  neckloom reroute my-bike.ron --branch main    other ways that hold every limit
  neckloom export my-bike.ron     tables, and lines for 3D viewers
  neckloom reach my-bike.ron --change \"seat 25 mm lower\"    how far can it go?
  neckloom retie my-bike.ron      which fixings to move
  neckloom page my-bike.ron       all of this in a browser, by dragging

EXIT STATUS
  0  every limit holds (some may be too close to call)
  1  at least one limit is broken
  2  the input is wrong; nothing was checked
  3  the shape of the harness was not found in some pose

This is an estimate. It does not replace the maker's manual, local rules or a hand check: turn the bars slowly from \
stop to stop before you ride.";

/// Checks the route of a motorcycle's wiring harness.
#[derive(Debug, Parser)]
#[command(
    name = "neckloom",
    version,
    about = ABOUT,
    long_about = LONG_ABOUT,
    after_help = AFTER,
    max_term_width = 100,
    arg_required_else_help = true,
    disable_help_subcommand = true
)]
pub(super) struct Arguments {
    #[command(subcommand)]
    pub(super) command: Command,
    #[command(flatten)]
    pub(super) shared: Shared,
}

/// Options of every command.
#[derive(Debug, Args)]
#[command(next_help_heading = "Options of every command")]
pub(super) struct Shared {
    /// Units of lengths in what is printed and drawn; with inches go °F, lbf and psi
    #[arg(long, global = true, value_enum, default_value_t = UnitsChoice::Mm, value_name = "UNIT")]
    pub(super) units: UnitsChoice,
    /// Print the verdict alone, and no progress
    #[arg(long, short, global = true)]
    pub(super) quiet: bool,
    /// How many cores to use at most [default: all]
    #[arg(long, global = true, value_name = "N", value_parser = at_least_one)]
    pub(super) threads: Option<NonZeroUsize>,
}

fn at_least_one(text: &str) -> Result<NonZeroUsize, &'static str> {
    text.parse()
        .map_err(|_| "write a whole number of at least 1")
}

/// Units of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum UnitsChoice {
    /// Millimetres
    Mm,
    /// Inches
    Inch,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Check a route: every span, every pose, every limit
    #[command(after_help = "\
EXAMPLES
  neckloom check my-bike.ron
  neckloom check my-bike.ron --units inch
  neckloom check my-bike.ron --json > report.json

The findings stand worst first, each with its place along the branch, the pose in which it is worst, value, limit, \
the limit's source and a cure. A limit that holds, but not at 95 % given how well you measured, is \"close\".")]
    Check(Check),
    /// Draw a route as one sheet: views, charts, findings
    #[command(after_help = "\
EXAMPLES
  neckloom draw my-bike.ron                       writes my-bike.svg
  neckloom draw my-bike.ron -o wall.svg --png     writes wall.svg and wall.png
  neckloom draw my-bike.ron -o -                  writes the SVG to standard output
  neckloom draw my-bike.ron --sections            writes my-bike-sections.svg too: the wires of each bundle

Exit status 0 says that the sheet was drawn, whatever the findings; 3 that some pose was not solved.")]
    Draw(Draw),
    /// The five-minute answer without any 3D: does the lead still reach with other bars?
    #[command(after_help = "\
EXAMPLES
  neckloom estimate               asks one question after the other
  neckloom estimate --spare-left 62 --spare-straight 48 --spare-right 31 --length 285 --lock 38 \\
      --rise 110 160 --pullback 150 165 --width 780 800 --tie-out 150 --diameter 8
  neckloom estimate --units inch --spare-right '1 1/4 in' --rise 4 6

HOW TO MEASURE
  Slack: unclip the lead at its first tie on the bars, hold it there, turn to the stop, and gather what is slack toward \
the last tie on the frame until it runs straight between the two. Length: with string along the lead, tie to tie. Rise, \
pullback and width: old and new from the same place, clamp to grip, end to end.

A bare number is in the unit of --units (angles in degrees). What was not measured is taken with a wide error, and the \
answer may then be \"cannot tell\"; it names the reading to make or repeat. Exit status 1 says that the lead does not \
reach with the margin.")]
    Estimate(Estimate),
    /// How much longer: what to add to each span, which wires to cut, where to join
    #[command(after_help = "\
EXAMPLES
  neckloom lengthen my-bike.ron
  neckloom lengthen my-bike.ron --change 'bars 75 mm up' --step '10 mm' -o longer.ron
  neckloom lengthen my-bike.ron --json > lengths.json

Lengths are tried, and the whole route is solved and checked again, until every limit that length can cure holds over \
the whole sweep at 95 %; no span is a step longer than it must be. What no length cures is told with what does, and so \
is what the added slack harms. Exit status 1 says that some limit of either kind stays broken.")]
    Lengthen(Lengthen),
    /// Write the results as plain data: tables (CSV), and the harness as lines for 3D viewers (PLY, OBJ)
    #[command(after_help = "\
EXAMPLES
  neckloom export my-bike.ron                     fills the folder my-bike-data
  neckloom export my-bike.ron --to bench --units inch
  neckloom export my-bike.ron -o neck.ply --poses rest --lines-in m
  neckloom export my-bike.ron -o findings.csv --separator semicolon

shapes.csv, shapes.ply, shapes.obj: how every branch lies in the chosen poses. spans.csv: every span in every pose. \
findings.csv. charts_along.csv, charts_against.csv: the numbers of the drawn charts. poses.csv: what each pose is.

PLY and OBJ carry no unit, so it stands in their first lines; the axes are x forward, y to the rider's left, z up. \
Exit status 0 says that the files were written, whatever the findings; 3 that some pose was not solved.")]
    Export(Export),
    /// Make the bench sheet: drawing, true-scale strip, tie, cut and splice lists, hand checks, cautions
    #[command(after_help = "\
EXAMPLES
  neckloom sheet my-bike.ron                                  writes my-bike-sheet.pdf
  neckloom sheet my-bike.ron --change 'bars 75 mm up' -o job.pdf --tables job
  neckloom sheet my-bike.ron -o page.png --paper letter --units inch

Where a limit is broken that length can cure, the harness is drawn lengthened, with what to cut and where to join it; \
--as-is draws it as it is. Print at 100 %, and measure the bar at the foot of each page. .svg and .png write one file a \
page. No date is on the sheet unless you give one, so the same route gives the same bytes. Exit status 0 says that the \
sheet was made, whatever the findings; 3 that some pose was not solved.")]
    Sheet(SheetPages),
    /// What a named change does, or what differs between two route files
    #[command(after_help = "\
EXAMPLES
  neckloom compare my-bike.ron --change \"bars 75 mm up\"
  neckloom compare my-bike.ron --change \"bars 75 mm up\" -o up.svg --png
  neckloom compare before.ron after.ron

Findings are new, worse, better or gone, each with its value before and after; then the numbers of every span that \
changed. The drawing is that of after, with the harness before as a thin dashed line. Exit status 1 says that a limit is \
broken after.")]
    Compare(Compare),
    /// How far a change can go before the first limit is broken; of two changes, a chart of one against the other
    #[command(after_help = "\
EXAMPLES
  neckloom reach my-bike.ron --change \"seat 25 mm lower\"
  neckloom reach my-bike.ron --change \"bars up\" --change \"bars back\" -o chart.svg --png

Says the amount, how far hand measuring may put it off, up to where it is sure (at 95 %), which limit decides, and \
which would be next if that were cured. More than the change itself is looked at, up to --most.")]
    Reach(Reach),
    /// Which fixings to move, turn, loosen or take off so that every limit holds
    #[command(after_help = "\
EXAMPLES
  neckloom retie my-bike.ron
  neckloom retie my-bike.ron --change \"bars 75 mm up\"
  neckloom retie my-bike.ron --write 1 -o retied.ron

Up to three ways that differ, fewest changes first. Each was written into the route file, read again, solved and \
checked in every pose. Exit status 1 says that none was found.")]
    Retie(Retie),
    /// Many variants at once: a table of changes on one or more routes, a line of results each
    #[command(after_help = "\
EXAMPLES
  neckloom study bars-and-seats.csv my-bike.ron -o results.csv
  neckloom study grid.ron a.ron b.ron -o part-2.csv --part 2/4

A CSV table names the changes in its first line (and a column variant, if you like); every other line is a variant. A \
RON table lists values for each change, and every combination is a variant. A value is a share (0.5, \"50 %\") or an \
amount of the change's own motion (\"25 mm\").

Started again with the same output it goes on where it was. --part K/N does the K-th of N parts: run them anywhere, then \
put the files one behind the other; only part 1 has the line of names.")]
    Study(Study),
    /// Write a new route file with comments to begin from; never overwrites
    #[command(after_help = "\
EXAMPLE
  neckloom start my-bike.ron && neckloom check my-bike.ron

The file describes a small invented machine and holds every limit as it stands. Replace its numbers by yours.")]
    Start(Start),
    /// Wires, covers, straps, finishes and hot parts that a route file can name, with where each value comes from
    #[command(after_help = "\
EXAMPLES
  neckloom library
  neckloom library wires --quiet

In a route file a wire, a cover, a Tie or a part takes what it leaves out with like: \"name\". The file's own `library` goes \
before this one.")]
    Library(Library),
    /// Where a conductor is likely broken: the few places to open first, each with its test by hand
    #[command(after_help = "\
EXAMPLES
  neckloom locate my-bike.ron --failing \"low beam\"
  neckloom locate my-bike.ron --failing dash horn --working \"tail lamp\" --at \"steering full left\"
  neckloom locate my-bike.ron --failing pump --with \"seat pressed\" --hot --why

Name circuits or wires of the route file. Places that all failing circuits share come first; those that sound ones share \
come later. The order is one of search: it promises nothing, and a test that passes proves nothing.")]
    Locate(Locate),
    /// Find other ways for a branch through the room that the machine leaves it, each solved and checked
    #[command(after_help = "\
EXAMPLES
  neckloom reroute my-bike.ron --branch main
  neckloom reroute my-bike.ron --branch main --from T1 --to K3 -o new.ron --write 2

The fixings between the two are laid anew; the branch stays one bundle. Each proposal was read again from its own text, \
solved and checked over the whole sweep; ways that fall through are told with what decides. Ctrl-C shows the best so far. \
Only what the route file holds is known to be in the way: look before you clamp. Exit status 1 says that no way was found.")]
    Reroute(Reroute),
    /// Turn taped distances into coordinates, with the misfit and the error to expect
    #[command(after_help = "\
EXAMPLE
  neckloom place my-bike.ron

Points are taped in the file's `points`: three or more distances from points that are known,
  \"coil bolt\": Tape(from: [(\"head\", 412), (\"left peg\", 530), (\"rear axle\", 905)], side: \"left\")
A table has a line for each distance, and the known points in the same table (or semicolons and decimal commas):
  name,x,y,z,from,distance,side
  head,0,0,0,,,
  coil bolt,,,,head,412,left
A large misfit says that one reading is wrong. A large error says that the known points stand too much in a row: \
tape from one more, well off their line.")]
    Place(Place),
    /// Serve the local web page: see, change, ask and print in a browser on this machine
    #[command(after_help = "\
EXAMPLES
  neckloom page my-bike.ron            prints the address to open in a browser
  neckloom page --open                 begins with worked examples, in a browser
  neckloom page my-bike.ron --port 8080

The page is served to this machine alone, under an address with a random token, and works without any network. What you \
do is kept in a draft beside the file (.my-bike.ron.draft); the file itself changes when you save. It reads the folder of \
the route file and nothing else. Ctrl-C ends it.")]
    Page(Page),
    /// Print a completion script for a shell
    #[command(after_help = "\
EXAMPLE
  neckloom completions bash > ~/.local/share/bash-completion/completions/neckloom")]
    Completions(Completions),
    /// Print the manual page
    #[command(after_help = "\
EXAMPLE
  neckloom manual > neckloom.1 && man ./neckloom.1")]
    Manual,
}

/// A route and how to check it.
#[derive(Debug, Args)]
pub(super) struct Checking {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(super) route: PathBuf,
    /// Do not work out how far hand measuring may put each finding off: faster, but nothing is called close
    #[arg(long)]
    pub(super) no_spread: bool,
}

#[derive(Debug, Args)]
pub(super) struct Check {
    #[command(flatten)]
    pub(super) checking: Checking,
    /// Print the whole report as JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Named in the report, for records; nothing in a check is drawn by chance
    #[arg(long, value_name = "N")]
    pub(super) seed: Option<u64>,
}

#[derive(Debug, Args)]
pub(super) struct Draw {
    #[command(flatten)]
    pub(super) checking: Checking,
    /// Where to write the SVG, "-" for standard output [default: the route's name with .svg]
    #[arg(long, short, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Write a PNG too [default FILE: the SVG's name with .png]
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = false)]
    pub(super) png: Option<Option<PathBuf>>,
    /// Draw the sections of the bundles too: how the wires lie beside each other [default FILE: the route's name with
    /// -sections.svg; a name in .png gives a PNG]
    #[arg(long, value_name = "FILE", num_args = 0..=1, require_equals = false)]
    pub(super) sections: Option<Option<PathBuf>>,
}

/// On which end of the bars a lead goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SideChoice {
    /// The rider's left
    Left,
    /// The rider's right
    Right,
}

#[derive(Debug, Args)]
#[command(allow_negative_numbers = true)]
pub(super) struct Estimate {
    /// Slack gathered by hand at full left
    #[arg(long, value_name = "LENGTH")]
    pub(super) spare_left: Option<String>,
    /// Slack straight ahead
    #[arg(long, value_name = "LENGTH")]
    pub(super) spare_straight: Option<String>,
    /// Slack at full right
    #[arg(long, value_name = "LENGTH")]
    pub(super) spare_right: Option<String>,
    /// Length of the lead from its last tie on the frame to its first on the bars
    #[arg(long, value_name = "LENGTH")]
    pub(super) length: Option<String>,
    /// Rise of the bars, old and new: clamp up to grip
    #[arg(long, num_args = 2, value_names = ["OLD", "NEW"])]
    pub(super) rise: Vec<String>,
    /// Pullback of the bars, old and new: clamp back to the grip's end
    #[arg(long, num_args = 2, value_names = ["OLD", "NEW"])]
    pub(super) pullback: Vec<String>,
    /// Width of the bars, old and new: end to end
    #[arg(long, num_args = 2, value_names = ["OLD", "NEW"])]
    pub(super) width: Vec<String>,
    /// Outside diameter of the lead
    #[arg(long, value_name = "LENGTH")]
    pub(super) diameter: Option<String>,
    /// Angle from straight ahead to the stops: one for both, or left and right
    #[arg(long, num_args = 1..=2, value_names = ["LEFT", "RIGHT"])]
    pub(super) lock: Vec<String>,
    /// Rake: how far the steering axis leans back from the vertical
    #[arg(long, value_name = "ANGLE")]
    pub(super) rake: Option<String>,
    /// From the middle of the bars out to the lead's first tie on them
    #[arg(long, value_name = "LENGTH")]
    pub(super) tie_out: Option<String>,
    /// On which end of the bars the lead goes
    #[arg(long, value_enum, default_value_t = SideChoice::Left, value_name = "SIDE")]
    pub(super) side: SideChoice,
    /// A title for the answer
    #[arg(long, value_name = "TEXT")]
    pub(super) title: Option<String>,
    /// Print the answer as JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Draws the samples of what is not known; the same number gives the same answer
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) seed: u64,
}

/// How conductors are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum JoinChoice {
    /// A crimped splice under an adhesive-lined sleeve
    Crimp,
    /// A solder sleeve
    SolderSleeve,
}

#[derive(Debug, Args)]
pub(super) struct Lengthen {
    #[command(flatten)]
    pub(super) checking: Checking,
    /// Make this change of the route file first
    #[arg(long, value_name = "NAME")]
    pub(super) change: Option<String>,
    /// Lengths are added in whole steps [default: 10 mm, or 1/2 in with --units inch]
    #[arg(long, value_name = "LENGTH")]
    pub(super) step: Option<String>,
    /// How conductors are joined
    #[arg(long, value_enum, default_value_t = JoinChoice::Crimp, value_name = "HOW")]
    pub(super) join: JoinChoice,
    /// Write the lengthened route, comments and all
    #[arg(long, short, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Print the answer as JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Reroute {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(super) route: PathBuf,
    /// The branch to lay anew
    #[arg(long, value_name = "NAME")]
    pub(super) branch: String,
    /// The fixing from which it is laid anew; it stays [default: the branch's first]
    #[arg(long, value_name = "FIXING")]
    pub(super) from: Option<String>,
    /// The fixing to which it is laid anew; it stays [default: the branch's last]
    #[arg(long, value_name = "FIXING")]
    pub(super) to: Option<String>,
    /// Most proposals
    #[arg(long, value_name = "N", default_value_t = 4)]
    pub(super) most: usize,
    /// Stop after so many seconds with what was found
    #[arg(long, value_name = "SECONDS", default_value_t = 60)]
    pub(super) within: u64,
    /// Write a proposal as a route file, comments and all
    #[arg(long, short, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Which proposal to write
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) write: usize,
    /// Print the answer as JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Sizes of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum PaperChoice {
    /// A4, 297 by 210 mm
    A4,
    /// Letter, 11 by 8 1/2 in
    Letter,
}

#[derive(Debug, Args)]
pub(super) struct SheetPages {
    #[command(flatten)]
    pub(super) checking: Checking,
    /// Make this change of the route file first, and draw before and after
    #[arg(long, value_name = "NAME")]
    pub(super) change: Option<String>,
    /// Where to write: .pdf, .svg or .png [default: the route's name with -sheet.pdf]
    #[arg(long, short, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Paper, lying
    #[arg(long, value_enum, default_value_t = PaperChoice::A4, value_name = "SIZE")]
    pub(super) paper: PaperChoice,
    /// Write the tables as CSV into this folder too
    #[arg(long, value_name = "FOLDER")]
    pub(super) tables: Option<PathBuf>,
    /// Draw the harness as it is, even where it is too short
    #[arg(long)]
    pub(super) as_is: bool,
    /// Lengths are added in whole steps [default: 10 mm, or 1/2 in with --units inch]
    #[arg(long, value_name = "LENGTH", conflicts_with = "as_is")]
    pub(super) step: Option<String>,
    /// How conductors are joined
    #[arg(long, value_enum, default_value_t = JoinChoice::Crimp, value_name = "HOW")]
    pub(super) join: JoinChoice,
    /// Date to stand on every page
    #[arg(long, value_name = "TEXT")]
    pub(super) date: Option<String>,
    /// Revision to stand on every page
    #[arg(long, value_name = "TEXT")]
    pub(super) revision: Option<String>,
    /// What the work is for, in the owner's words
    #[arg(long, value_name = "TEXT")]
    pub(super) work_order: Option<String>,
}

#[derive(Debug, Args)]
pub(super) struct Export {
    #[command(flatten)]
    pub(super) checking: Checking,
    /// The folder to fill, made where it is missing [default: the route's name with -data]
    #[arg(long, value_name = "FOLDER", conflicts_with = "output")]
    pub(super) to: Option<PathBuf>,
    /// Write one file; its name says which: .ply, .obj, or a table's own name such as findings.csv
    #[arg(long, short, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Poses whose shapes are written: all, ends (rest, and every joint at rest or a stop), rest, or ids: 0,19,38
    #[arg(long, value_name = "WHICH", default_value = "ends", value_parser = poses)]
    pub(super) poses: PoseChoice,
    /// Unit of the lines in PLY and OBJ files: that of the scan beside them
    #[arg(long, value_enum, default_value_t = LinesIn::Mm, value_name = "UNIT")]
    pub(super) lines_in: LinesIn,
    /// Between the cells of a table; with semicolons go decimal commas
    #[arg(long, value_enum, default_value_t = SeparatorChoice::Comma, value_name = "SIGN")]
    pub(super) separator: SeparatorChoice,
}

/// Unit of polylines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum LinesIn {
    /// Millimetres
    Mm,
    /// Metres
    M,
}

/// What stands between cells.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(super) enum SeparatorChoice {
    /// Commas, decimal points
    Comma,
    /// Semicolons, decimal commas
    Semicolon,
}

fn poses(text: &str) -> Result<PoseChoice, &'static str> {
    match text {
        "all" => Ok(PoseChoice::All),
        "ends" => Ok(PoseChoice::Ends),
        "rest" => Ok(PoseChoice::Rest),
        ids => {
            let ids: Result<Vec<usize>, _> = ids.split(',').map(|id| id.trim().parse()).collect();
            ids.map(PoseChoice::These)
                .map_err(|_| "write all, ends, rest, or ids of poses such as 0,19,38")
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct Locate {
    #[command(flatten)]
    pub(super) checking: Checking,
    /// Circuits or wires that fail
    #[arg(long, value_name = "NAME", num_args = 1.., required = true)]
    pub(super) failing: Vec<String>,
    /// Circuits or wires that work while the others fail
    #[arg(long, value_name = "NAME", num_args = 1..)]
    pub(super) working: Vec<String>,
    /// At which angle it fails: a moving body and its value, such as "steering 30 deg"
    #[arg(long, value_name = "POSE")]
    pub(super) at: Vec<String>,
    /// With what it fails, such as "seat pressed"
    #[arg(long, value_name = "POSE")]
    pub(super) with: Vec<String>,
    /// It fails hot
    #[arg(long)]
    pub(super) hot: bool,
    /// Show the arithmetic of every place
    #[arg(long)]
    pub(super) why: bool,
    /// Print the places as JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Compare {
    /// The route file, as it is before
    #[arg(value_name = "ROUTE")]
    pub(super) route: PathBuf,
    /// Another route file, as it is after
    #[arg(
        value_name = "AFTER",
        conflicts_with = "change",
        required_unless_present = "change"
    )]
    pub(super) other: Option<PathBuf>,
    /// A change of the route file, made to it
    #[arg(long, value_name = "NAME")]
    pub(super) change: Option<String>,
    /// How much of the change, in per cent
    #[arg(long, value_name = "PCT", default_value_t = 100.0, value_parser = per_cent)]
    pub(super) share: f64,
    /// Do not work out how far hand measuring may put each finding off
    #[arg(long)]
    pub(super) no_spread: bool,
    /// Print the comparison as JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Draw what it is after, with the harness before as a dashed line
    #[arg(long, short, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Write a PNG too [default FILE: the SVG's name with .png]
    #[arg(long, value_name = "FILE", num_args = 0..=1, requires = "output")]
    pub(super) png: Option<Option<PathBuf>>,
}

#[derive(Debug, Args)]
pub(super) struct Reach {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(super) route: PathBuf,
    /// A change of the route file; given twice, the first is charted against the second
    #[arg(long, value_name = "NAME", required = true)]
    pub(super) change: Vec<String>,
    /// How much of the change to look at most, in per cent
    #[arg(long, value_name = "PCT", default_value_t = 300.0, value_parser = per_cent)]
    pub(super) most: f64,
    /// Do not work out how far hand measuring may put the answer off
    #[arg(long)]
    pub(super) no_spread: bool,
    /// Print the answer as JSON
    #[arg(long)]
    pub(super) json: bool,
    /// Draw the chart of two changes
    #[arg(long, short, value_name = "FILE")]
    pub(super) output: Option<PathBuf>,
    /// Write a PNG of the chart too [default FILE: the SVG's name with .png]
    #[arg(long, value_name = "FILE", num_args = 0..=1, requires = "output")]
    pub(super) png: Option<Option<PathBuf>>,
}

#[derive(Debug, Args)]
pub(super) struct Retie {
    /// The route file
    #[arg(value_name = "ROUTE")]
    pub(super) route: PathBuf,
    /// A change of the route file that is made first
    #[arg(long, value_name = "NAME")]
    pub(super) change: Option<String>,
    /// By how much the spans of a branch may be made longer beside, together
    #[arg(long, value_name = "LENGTH")]
    pub(super) longer: Option<String>,
    /// Give the best so far after so many seconds; Ctrl-C gives it at once
    #[arg(long, alias = "patience", value_name = "S", default_value_t = 60)]
    pub(super) within: u64,
    /// Which of the ways to save as a route file
    #[arg(long, value_name = "N", requires = "output")]
    pub(super) write: Option<usize>,
    /// The route file to save
    #[arg(long, short, value_name = "FILE", requires = "write")]
    pub(super) output: Option<PathBuf>,
    /// Print the ways as JSON, each with its whole route file
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Study {
    /// The table of variants, .csv or .ron
    #[arg(value_name = "TABLE")]
    pub(super) table: PathBuf,
    /// The route files; each has the changes that the table names
    #[arg(value_name = "ROUTE", required = true)]
    pub(super) routes: Vec<PathBuf>,
    /// Where the results go; what is there already is not done again
    #[arg(long, short, value_name = "FILE", default_value = "study.csv")]
    pub(super) output: PathBuf,
    /// Do only the K-th of N parts
    #[arg(long, value_name = "K/N", default_value = "1/1", value_parser = part)]
    pub(super) part: (usize, usize),
    /// Leave out the line of names
    #[arg(long)]
    pub(super) no_header: bool,
    /// Work out how far hand measuring may put each finding off: much slower
    #[arg(long)]
    pub(super) spread: bool,
}

fn per_cent(text: &str) -> Result<f64, &'static str> {
    let number = text.trim_end_matches('%').trim().parse::<f64>();
    let number = number.ok().filter(|n| n.is_finite() && *n >= 0.0);
    number.ok_or("write a number of per cent, such as 50")
}

fn part(text: &str) -> Result<(usize, usize), &'static str> {
    let (k, n) = text.split_once('/').unwrap_or((text, ""));
    match (k.trim().parse(), n.trim().parse()) {
        (Ok(k), Ok(n)) if 1 <= k && k <= n => Ok((k, n)),
        _ => Err("write which part of how many: 2/4"),
    }
}

#[derive(Debug, Args)]
pub(super) struct Start {
    /// The file to write
    #[arg(value_name = "FILE")]
    pub(super) file: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct Library {
    /// One shelf only
    #[arg(value_enum, value_name = "SHELF")]
    pub(super) shelf: Option<Shelf>,
    /// Print the entries as JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// A shelf of the library.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Shelf {
    Wires,
    Covers,
    Ties,
    Finishes,
    HotParts,
}

impl Shelf {
    /// Its field in a route file's `library`.
    pub(super) fn name(self) -> &'static str {
        match self {
            Self::Wires => "wires",
            Self::Covers => "covers",
            Self::Ties => "ties",
            Self::Finishes => "finishes",
            Self::HotParts => "hot_parts",
        }
    }
}

#[derive(Debug, Args)]
pub(super) struct Place {
    /// A route file, a file with nothing but its `points`, or a CSV table of points and taped distances
    #[arg(value_name = "FILE")]
    pub(super) file: PathBuf,
    /// Print the points as JSON
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Page {
    /// The route file [default: choose from worked examples and the files of this folder]
    #[arg(value_name = "ROUTE")]
    pub(super) route: Option<PathBuf>,
    /// Port to listen on; 0 is any that is free
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub(super) port: u16,
    /// Address to listen on. Any but this machine's own lets others in who know the token
    #[arg(long, value_name = "ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    pub(super) listen: IpAddr,
    /// Open it in the browser
    #[arg(long)]
    pub(super) open: bool,
}

#[derive(Debug, Args)]
pub(super) struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub(super) shell: Shell,
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_definition_is_sound() {
        Arguments::command().help_expected(true).debug_assert();
    }

    #[test]
    fn a_picture_may_name_its_file_or_not() {
        let parse = |line: &str| Arguments::try_parse_from(line.split(' '));
        let png = |line: &str| match parse(line).map(|arguments| arguments.command) {
            Ok(Command::Draw(draw)) => Some(draw.png),
            _ => None,
        };
        assert_eq!(png("neckloom draw a.ron"), Some(None));
        assert_eq!(png("neckloom draw a.ron --png"), Some(Some(None)));
        let named = png("neckloom draw a.ron --png b.png");
        assert_eq!(named, Some(Some(Some(PathBuf::from("b.png")))));
        assert!(parse("neckloom draw").is_err());
        assert!(parse("neckloom check a.ron --units furlong").is_err());
        assert!(parse("neckloom check a.ron --threads 0").is_err());
    }
}
