//! The paper of a bench sheet and what stands on every page: title, page number, check bar, marks to align by.

use crate::draw::display::{Anchor, Frame, Line, Mark, Ring, Sheet};
use crate::draw::ink::{Ink, MEDIUM, Stroke, THIN};
use crate::draw::lettering;
use crate::quantity::LengthUnit;

/// Height of running text \[mm\]: 11 points, to be read at arm's length.
pub(crate) const TEXT: f64 = 3.9;
/// Height of small text \[mm\]: 9 points.
pub(crate) const FINE: f64 = 3.2;
/// Height of headings \[mm\].
pub(crate) const HEAD: f64 = 5.4;
/// Margin all round \[mm\].
pub(crate) const MARGIN: f64 = 12.0;
const TOP: f64 = 25.0;
const BOTTOM: f64 = 21.0;
/// Length of the bar that is to be measured \[mm\].
pub const CHECK_BAR: f64 = 100.0;

/// Sizes of paper, lying.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// ISO 216 A4.
    #[default]
    A4,
    /// ANSI Letter.
    Letter,
}

impl Paper {
    /// Width and height, lying \[mm\].
    pub fn size(self) -> [f64; 2] {
        match self {
            Self::A4 => [297.0, 210.0],
            Self::Letter => [279.4, 215.9],
        }
    }

    /// What a page has room for.
    pub(crate) fn room(self) -> Frame {
        let [width, height] = self.size();
        Frame::new(MARGIN, TOP, width - 2.0 * MARGIN, height - TOP - BOTTOM)
    }
}

/// What stands at the head of every page.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Head<'a> {
    pub(crate) title: &'a str,
    /// Revision and date, as given.
    pub(crate) marks: String,
    pub(crate) unit: LengthUnit,
}

/// The pages, each with its head and foot.
pub(crate) fn furnished(
    paper: Paper,
    head: &Head<'_>,
    pages: Vec<(String, Vec<Mark>)>,
) -> Vec<Sheet> {
    let count = pages.len();
    pages
        .into_iter()
        .enumerate()
        .map(|(index, (name, marks))| {
            let [width, height] = paper.size();
            let mut all = vec![
                top(paper, head, &name, index + 1, count),
                foot(paper, head.unit),
            ];
            all.push(corners(paper));
            all.extend(marks);
            Sheet {
                width,
                height,
                title: lettering::clean(head.title),
                description: lettering::clean(&format!("Page {} of {count}: {name}.", index + 1)),
                marks: all,
            }
        })
        .collect()
}

fn top(paper: Paper, head: &Head<'_>, name: &str, page: usize, count: usize) -> Mark {
    let right = paper.size()[0] - MARGIN;
    let of = Line::new([right, 15.6], TEXT, format!("{page} / {count}"))
        .bold()
        .anchor(Anchor::End);
    let left_of = of.frame().x - 5.0;
    let mut marks = vec![Mark::Line(of)];
    let mut room = left_of - MARGIN;
    if !head.marks.is_empty() {
        let said = Line::new([left_of, 15.6], FINE, head.marks.as_str())
            .anchor(Anchor::End)
            .ink(Ink::Grey);
        room = said.frame().x - 5.0 - MARGIN;
        marks.push(Mark::Line(said));
    }
    let called = Line::new([MARGIN, 15.6], HEAD, lettering::fit(name, HEAD, true, room)).bold();
    let after = called.frame().right() + 4.0;
    marks.push(Mark::Line(called));
    let title = lettering::fit(head.title, FINE, false, (MARGIN + room - after).max(0.0));
    if title.chars().count() > 6 {
        marks.push(Mark::Line(
            Line::new([after, 15.6], FINE, title).ink(Ink::Grey),
        ));
    }
    marks.push(Mark::line(
        vec![[MARGIN, 18.6], [right, 18.6]],
        Stroke::solid(Ink::Black, MEDIUM),
    ));
    Mark::group("page-head", "what this page is", marks)
}

fn foot(paper: Paper, unit: LengthUnit) -> Mark {
    let [_, height] = paper.size();
    let y = height - 14.5;
    let mut marks = Vec::new();
    for i in 0..10 {
        let fill = if i % 2 == 0 { Ink::Black } else { Ink::Paper };
        let cell = Frame::new(
            MARGIN + 0.1 * CHECK_BAR * f64::from(i),
            y,
            0.1 * CHECK_BAR,
            2.4,
        );
        marks.push(Mark::frame(
            cell,
            Some(Stroke::solid(Ink::Black, THIN)),
            Some(fill),
        ));
    }
    let says = match unit {
        LengthUnit::Mm => {
            "100 mm. Measure it: where it is not, print again at 100 %, not \"fit to page\"."
        }
        LengthUnit::Inch => {
            "100 mm (3.94 in). Measure it: where it is not, print again at 100 %, not \"fit to page\"."
        }
    };
    marks.push(Mark::Line(
        Line::new([MARGIN + CHECK_BAR + 4.0, y + 2.3], FINE, says).ink(Ink::Grey),
    ));
    Mark::group(
        "check-bar",
        "a bar 100 mm long on a print of full size",
        marks,
    )
}

/// Crosses to lay one page on the other by.
fn corners(paper: Paper) -> Mark {
    let [width, height] = paper.size();
    let mut marks = Vec::new();
    for (x, y) in [
        (7.0, 7.0),
        (width - 7.0, 7.0),
        (7.0, height - 7.0),
        (width - 7.0, height - 7.0),
    ] {
        let pen = Stroke::solid(Ink::Black, THIN);
        marks.push(Mark::lines(
            vec![
                vec![[x - 3.0, y], [x + 3.0, y]],
                vec![[x, y - 3.0], [x, y + 3.0]],
            ],
            pen,
        ));
        marks.push(Mark::Ring(Ring {
            centre: [x, y],
            radius: 1.5,
            stroke: Some(pen),
            fill: None,
        }));
    }
    Mark::group("register", "marks to align pages by", marks)
}
