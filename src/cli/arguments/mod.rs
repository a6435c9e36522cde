//! The command line as data. Parsing validates and does nothing else.

mod advice;
mod beginning;
mod results;

use std::net::{IpAddr, Ipv4Addr};
use std::num::NonZeroUsize;
use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use clap_complete::Shell;

pub(super) use advice::{
    Estimate, JoinChoice, Lengthen, Locate, Reach, Reroute, Retie, SideChoice, Study, Symptom,
};
pub(super) use beginning::{Library, Place, Start};
pub(super) use results::{
    Check, Checking, Compare, Draw, Export, LinesIn, PaperChoice, SeparatorChoice, SheetPages,
};

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
  neckloom reach my-bike.ron --change \"seat 15 mm lower\"    how far can it go?
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
pub(in crate::cli) struct Arguments {
    #[command(subcommand)]
    pub(in crate::cli) command: Command,
    #[command(flatten)]
    pub(in crate::cli) shared: Shared,
}

/// Options of every command.
#[derive(Debug, Args)]
#[command(next_help_heading = "Options of every command")]
pub(in crate::cli) struct Shared {
    /// Units of lengths in what is printed and drawn; with inches go °F, lbf and psi
    #[arg(long, global = true, value_enum, default_value_t = UnitsChoice::Mm, value_name = "UNIT")]
    pub(in crate::cli) units: UnitsChoice,
    /// Print the verdict alone, and no progress
    #[arg(long, short, global = true)]
    pub(in crate::cli) quiet: bool,
    /// How many cores to use at most [default: all]
    #[arg(long, global = true, value_name = "N", value_parser = at_least_one)]
    pub(in crate::cli) threads: Option<NonZeroUsize>,
}

fn at_least_one(text: &str) -> Result<NonZeroUsize, &'static str> {
    text.parse()
        .map_err(|_| "write a whole number of at least 1")
}

/// Units of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub(in crate::cli) enum UnitsChoice {
    /// Millimetres
    Mm,
    /// Inches
    Inch,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub(in crate::cli) enum Command {
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
  neckloom sheet my-bike.ron --failing 'low beam' --at 'steering full left'    with where to open it first

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
  neckloom reach my-bike.ron --change \"seat 15 mm lower\"
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
  neckloom study grid.ron a.ron -o results.csv --parquet      writes results.parquet too

A CSV table names the changes in its first line (and a column variant, if you like); every other line is a variant. A \
RON table lists values for each change, and every combination is a variant. A value is a share (0.5, \"50 %\") or an \
amount of the change's own motion (\"25 mm\").

Started again with the same output it goes on where it was. --part K/N does the K-th of N parts: run them anywhere, then \
put the files one behind the other; only part 1 has the line of names. Ctrl-C ends it with nothing lost (exit status 130).

--parquet writes the rows with types beside the CSV, as one whole file, when the study ends or is stopped: give each part \
a file of its own in one folder, which any reader of Parquet opens as one table.")]
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

fn per_cent(text: &str) -> Result<f64, &'static str> {
    let number = text.trim_end_matches('%').trim().parse::<f64>();
    let number = number.ok().filter(|n| n.is_finite() && *n >= 0.0);
    number.ok_or("write a number of per cent, such as 50")
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Page {
    /// The route file [default: choose from worked examples and the files of this folder]
    #[arg(value_name = "ROUTE")]
    pub(in crate::cli) route: Option<PathBuf>,
    /// Port to listen on; 0 is any that is free
    #[arg(long, value_name = "N", default_value_t = 0)]
    pub(in crate::cli) port: u16,
    /// Address to listen on. Any but this machine's own lets others in who know the token
    #[arg(long, value_name = "ADDRESS", default_value_t = IpAddr::V4(Ipv4Addr::LOCALHOST))]
    pub(in crate::cli) listen: IpAddr,
    /// Open it in the browser
    #[arg(long)]
    pub(in crate::cli) open: bool,
}

#[derive(Debug, Args)]
pub(in crate::cli) struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub(in crate::cli) shell: Shell,
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
