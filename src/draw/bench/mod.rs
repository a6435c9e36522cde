//! The bench sheet: what a person takes along to do the whole job from, page after page, in black and white.
//!
//! Finished results become pages (display lists); nothing is decided here. The harness is drawn straightened at its true
//! size, so every page carries a bar to measure. The same results give the same bytes: a date stands there as it was given,
//! or not at all.

mod broken;
mod checks;
mod flow;
mod lists;
mod notes;
mod paper;
mod strip;
mod table;

use crate::advise::lengthen::{Cut, Drop, Lengthened, NoSplice, Splice};
use crate::advise::{Place, Question};
use crate::check::{Findings, Verdict};
use crate::quantity::Units;
use crate::rod::Solution;
use crate::route::Route;

use super::display::{Frame, Line, Mark, Sheet};
use super::ink::BODY;
use super::scene::Scene;
use super::{key, layout, lettering, pdf_out, section, svg_out, view};

pub use paper::{CHECK_BAR, Paper};
pub use table::Table;

use flow::Flow;
use paper::Head;

/// How the sheet is made.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options<'a> {
    /// The paper.
    pub paper: Paper,
    /// Units of length.
    pub units: Units,
    /// The date, as it is to stand there.
    pub date: Option<&'a str>,
    /// The revision.
    pub revision: Option<&'a str>,
    /// What the work is for, in the owner's words.
    pub order: Option<&'a str>,
}

/// Finished results of one route.
#[derive(Debug, Clone, Copy)]
pub struct Results<'a> {
    /// The route.
    pub route: &'a Route,
    /// Where the harness lies.
    pub solution: &'a Solution,
    /// What the checks found.
    pub findings: &'a Findings,
}

/// The work on the wires.
#[derive(Debug, Clone, Copy)]
pub struct Work<'a> {
    /// What is lengthened.
    pub done: &'a Lengthened,
    /// The cut list.
    pub cuts: &'a [Cut],
    /// Where conductors are joined.
    pub splices: &'a [Splice],
    /// Conductors that are not.
    pub none: &'a [NoSplice],
    /// Voltage drops.
    pub drops: &'a [Drop],
}

/// Where a conductor is likely broken in the harness as it was.
#[derive(Debug, Clone, Copy)]
pub struct Broken<'a> {
    /// What was seen.
    pub question: &'a Question,
    /// The places to open, first to last.
    pub places: &'a [Place],
}

/// All that a bench sheet shows.
#[derive(Debug, Clone, Copy)]
pub struct Bench<'a> {
    /// The harness as it is to be.
    pub after: Results<'a>,
    /// The harness as it was, where that is another.
    pub before: Option<Results<'a>>,
    /// Name of the change.
    pub change: Option<&'a str>,
    /// The work on the wires, where there is any.
    pub work: Option<&'a Work<'a>>,
    /// Where to look for a broken conductor, where something fails.
    pub broken: Option<Broken<'a>>,
    /// How it is made.
    pub options: Options<'a>,
}

impl<'a> Results<'a> {
    fn scene(&self, units: Units) -> Scene<'a> {
        Scene::new(self.route, self.solution, self.findings, units)
    }
}

/// The pages as display lists.
pub fn pages(bench: &Bench<'_>) -> Vec<Sheet> {
    let scene = bench.after.scene(bench.options.units);
    let room = bench.options.paper.room();
    let mut pages = order(bench, &scene);
    if let Some(before) = &bench.before {
        let scene = before.scene(bench.options.units);
        pages.push(("Drawing: before".to_owned(), drawing(&scene, room)));
    }
    let called = if bench.before.is_some() {
        "Drawing: after"
    } else {
        "Drawing"
    };
    pages.push((called.to_owned(), drawing(&scene, room)));
    pages.extend(strip::pages(bench, &scene));
    let mut flow = Flow::new(room, "Lists");
    for table in work_tables(bench, &scene) {
        flow.table(&table);
    }
    pages.extend(flow.pages());
    let sections = section::pages(scene.route, room, bench.options.units);
    let titled = |marks| {
        (
            "Sections: how the wires lie in each branch".to_owned(),
            marks,
        )
    };
    pages.extend(sections.into_iter().map(titled));
    let mut flow = Flow::new(room, "Hand checks");
    checks::fill(&mut flow, bench, &scene);
    pages.extend(flow.pages());
    let mut flow = Flow::new(room, "Measurement sheet");
    flow.fine("To fill in beside the machine, pencil first. Directions as sitting in the saddle. Copy it as often as needed.");
    flow.table(&lists::points(&scene));
    flow.table(&lists::spare(&scene));
    pages.extend(flow.pages());
    let mut flow = Flow::new(room, "Cautions, assumptions, limits");
    notes::fill(&mut flow, bench);
    pages.extend(flow.pages());
    let head = Head {
        title: &bench.after.route.title,
        marks: dated(bench),
        unit: bench.options.units.length,
    };
    paper::furnished(bench.options.paper, &head, pages)
}

/// The tables of the sheet, for spreadsheets too.
pub fn tables(bench: &Bench<'_>) -> Vec<Table> {
    let scene = bench.after.scene(bench.options.units);
    let mut tables = work_tables(bench, &scene);
    tables.extend(broken::places(bench));
    tables.push(checks::look_first(bench, &scene));
    tables.push(checks::by_hand(bench, &scene));
    tables.push(lists::points(&scene));
    tables.push(lists::spare(&scene));
    tables
}

fn work_tables(bench: &Bench<'_>, scene: &Scene<'_>) -> Vec<Table> {
    let mut tables = vec![lists::ties(scene)];
    if let Some(work) = bench.work {
        tables.push(lists::cuts(work, scene));
        tables.push(lists::splices(work, scene));
        if !work.drops.is_empty() {
            tables.push(lists::drops(work));
        }
    }
    tables
}

/// The pages as one PDF file.
pub fn pdf(pages: &[Sheet]) -> Vec<u8> {
    let title = pages.first().map_or("", |page| page.title.as_str());
    pdf_out::pdf_of_sheets(pages, title)
}

/// One page as SVG.
pub fn svg(page: &Sheet) -> String {
    svg_out::svg_of_sheet(page)
}

fn dated(bench: &Bench<'_>) -> String {
    let revision = bench
        .options
        .revision
        .map(|revision| format!("revision {revision}"));
    let parts = [revision, bench.options.date.map(str::to_owned)];
    parts.into_iter().flatten().collect::<Vec<_>>().join(" · ")
}

fn order(bench: &Bench<'_>, scene: &Scene<'_>) -> Vec<(String, Vec<Mark>)> {
    let mut flow = Flow::new(bench.options.paper.room(), "Work order");
    flow.strong(&scene.route.title);
    match bench.options.order {
        Some(order) => flow.words(order),
        None => flow.words("Work: ______________________________________________   For: ______________________   Machine: ______________________"),
    }
    let blank =
        |given: Option<&str>| given.map_or_else(|| "____________".to_owned(), str::to_owned);
    flow.words(&format!(
        "Revision: {}     Date: {}     Done by: ______________________     Checked by: ______________________",
        blank(bench.options.revision),
        blank(bench.options.date)
    ));
    if let Some(change) = bench.change {
        flow.words(&format!("Change: {change}."));
    }
    flow.short_list("Before you begin", &crate::check::CAUTIONS);
    flow.heading("What is to be done");
    let count = |verdict: Verdict| {
        scene
            .findings
            .findings
            .iter()
            .filter(|f| f.verdict == verdict)
            .count()
    };
    let told = |many: usize, what: &str, one: &str, more: &str| match many {
        1 => format!("1 {what}{one}"),
        many => format!("{many} {what}{more}"),
    };
    let over = |many| told(many, "limit", " is broken", "s are broken");
    let close = |many| told(many, "", "is too close to call", "are too close to call");
    let first = format!(
        "see \"{}\" before you begin.",
        checks::look_first_title(bench)
    );
    let verdict = match (count(Verdict::Over), count(Verdict::Close)) {
        (0, 0) => "As drawn, every limit that was checked holds.".to_owned(),
        (0, doubt) => format!(
            "As drawn, every limit holds; {}: measure again before you cut.",
            close(doubt)
        ),
        (broken, 0) => format!("As drawn, {}: {first}", over(broken)),
        (broken, doubt) => format!("As drawn, {} and {}: {first}", over(broken), close(doubt)),
    };
    flow.strong(&verdict);
    let todo = notes::to_do(bench, scene);
    flow.list(todo.iter().map(String::as_str));
    if let Some(table) = broken::places(bench) {
        flow.table(&table);
    }
    flow.table(&checks::look_first(bench, scene));
    flow.pages()
}

fn drawing(scene: &Scene<'_>, room: Frame) -> Vec<Mark> {
    let says = "Views at a scale of their own; the strip on the next pages is at true size.";
    let views = layout::views(scene, Frame::new(room.x, room.y, room.w, room.h - 5.0));
    let mut marks: Vec<Mark> = views.views.iter().map(|v| view::view(scene, v)).collect();
    marks.push(key::key(scene, views.key));
    let text = lettering::fit(says, BODY, false, room.w);
    marks.push(Mark::Line(
        Line::new([room.x, room.bottom()], BODY, text).ink(super::ink::Ink::Grey),
    ));
    marks
}
