//! Writing labels: lines of text at the places that [`super::labels`] finds for them, with leaders.

use super::display::{Frame, Line, Mark, Ring, Spot};
use super::ink::{Ink, SMALL, Stroke, THIN};
use super::labels::{Board, Placed, Wanted};
use super::lettering;

/// Longest label of one line \[mm\].
const LONGEST: f64 = 44.0;
/// Distance between baselines, as a part of the type's height.
const LEADING: f64 = 1.18;

/// One line of a label.
pub(crate) struct Text {
    text: String,
    bold: bool,
    ink: Ink,
}

impl Text {
    pub(crate) fn plain(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            bold: false,
            ink: Ink::Black,
        }
    }

    pub(crate) fn strong(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            bold: true,
            ink: Ink::Black,
        }
    }

    pub(crate) fn soft(text: &str) -> Self {
        Self {
            text: text.to_owned(),
            bold: false,
            ink: Ink::Grey,
        }
    }

    pub(crate) fn hot(text: &str, bold: bool) -> Self {
        Self {
            text: text.to_owned(),
            bold,
            ink: Ink::Rust,
        }
    }
}

/// Where labels are put down.
pub(crate) struct Desk {
    /// What is on the paper.
    pub(crate) board: Board,
    /// What the view covers.
    pub(crate) cell: Frame,
    /// What was written.
    pub(crate) marks: Vec<Mark>,
}

impl Desk {
    pub(crate) fn label(&mut self, anchor: Spot, clear: f64, reach: f64, lines: &[Text]) {
        if !self.cell.holds_spot(anchor) {
            return;
        }
        let fitted: Vec<String> = lines
            .iter()
            .map(|l| lettering::fit(&lettering::clean(&l.text), SMALL, l.bold, LONGEST))
            .collect();
        let widths = fitted
            .iter()
            .zip(lines)
            .map(|(t, l)| lettering::width(t, SMALL, l.bold));
        let width = widths.fold(0.0, f64::max);
        if width <= 0.0 {
            return;
        }
        let tall = SMALL * (lettering::RISE + lettering::DROP);
        let height = tall + SMALL * LEADING * (lines.len() as f64 - 1.0);
        let wanted = Wanted {
            anchor,
            size: [width, height],
            clear,
            reach,
        };
        let Some(placed) = self.board.place(&wanted) else {
            return;
        };
        self.leader(&placed, Ink::Grey);
        let f = placed.frame;
        // Lines lean to the side from which the label is reached.
        let toward_left = anchor[0] > f.x + 0.5 * f.w + 0.3 * f.w;
        for (i, (text, line)) in fitted.into_iter().zip(lines).enumerate() {
            let own = lettering::width(&text, SMALL, line.bold);
            let x = if toward_left { f.right() - own } else { f.x };
            let y = f.y + SMALL * (lettering::RISE + LEADING * i as f64);
            let mut mark = Line::new([x, y], SMALL, text).ink(line.ink).rim();
            mark.bold = line.bold;
            self.marks.push(Mark::Line(mark));
        }
    }

    fn leader(&mut self, placed: &Placed, ink: Ink) {
        if let Some([from, to]) = placed.leader {
            self.marks
                .push(Mark::line(vec![from, to], Stroke::solid(ink, THIN)));
            self.marks.push(Mark::Ring(Ring {
                centre: from,
                radius: 0.35,
                stroke: None,
                fill: Some(ink),
            }));
        }
    }
}
