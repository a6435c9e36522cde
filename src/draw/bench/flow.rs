//! Words and tables that run over as many pages as they need.

use crate::draw::display::{Frame, Line, Mark};
use crate::draw::ink::{Ink, MEDIUM, Stroke, THIN};
use crate::draw::lettering;

use super::paper::{FINE, HEAD, TEXT};
use super::table::Table;

/// Distance between baselines, as a part of the type's height.
const LEADING: f64 = 1.28;
/// Inside a cell, left and right, above and below \[mm\].
const PAD: [f64; 2] = [1.6, 1.5];
/// Side of a box to tick \[mm\].
const BOX: f64 = 4.2;

/// Pages being filled.
#[derive(Debug)]
pub(crate) struct Flow {
    room: Frame,
    name: String,
    y: f64,
    pages: Vec<(String, Vec<Mark>)>,
}

impl Flow {
    pub(crate) fn new(room: Frame, name: &str) -> Self {
        Self {
            room,
            name: name.to_owned(),
            y: room.y,
            pages: vec![(name.to_owned(), Vec::new())],
        }
    }

    pub(crate) fn pages(self) -> Vec<(String, Vec<Mark>)> {
        self.pages
    }

    fn put(&mut self, mark: Mark) {
        if let Some((_, marks)) = self.pages.last_mut() {
            marks.push(mark);
        }
    }

    fn new_page(&mut self) {
        self.pages
            .push((format!("{}, continued", self.name), Vec::new()));
        self.y = self.room.y;
    }

    /// Begins a page where less than `height` is left.
    fn need(&mut self, height: f64) {
        if self.y + height > self.room.bottom() && self.y > self.room.y {
            self.new_page();
        }
    }

    pub(crate) fn heading(&mut self, text: &str) {
        // A heading stands with some lines below it.
        self.need(HEAD + 4.0 * TEXT * LEADING);
        if self.y > self.room.y {
            self.y += 2.5;
        }
        let at = [self.room.x, self.y + 0.76 * HEAD];
        let text = lettering::fit(text, HEAD, true, self.room.w);
        self.put(Mark::Line(Line::new(at, HEAD, text).bold()));
        self.y += HEAD + 2.4;
    }

    pub(crate) fn words(&mut self, text: &str) {
        self.lines(text, TEXT, 0.0, Ink::Black, false);
        self.y += 1.2;
    }

    pub(crate) fn strong(&mut self, text: &str) {
        self.lines(text, TEXT, 0.0, Ink::Black, true);
        self.y += 1.2;
    }

    pub(crate) fn fine(&mut self, text: &str) {
        self.lines(text, FINE, 0.0, Ink::Grey, false);
        self.y += 1.0;
    }

    /// Sentences, each after a dash.
    pub(crate) fn list<'s>(&mut self, entries: impl IntoIterator<Item = &'s str>) {
        for entry in entries {
            self.need(TEXT * LEADING);
            let y = self.y + 0.5 * TEXT;
            self.put(Mark::line(
                vec![[self.room.x, y], [self.room.x + 2.4, y]],
                Stroke::solid(Ink::Black, MEDIUM),
            ));
            self.lines(entry, TEXT, 5.0, Ink::Black, false);
            self.y += 0.9;
        }
    }

    /// A heading with a list that stands together, on the next page where this one has no room for all of it.
    pub(crate) fn short_list(&mut self, heading: &str, entries: &[&str]) {
        let lines = |entry: &&str| lettering::wrap(entry, TEXT, false, self.room.w - 5.0).len();
        let each = |entry: &&str| lines(entry) as f64 * TEXT * LEADING + 0.9;
        let list: f64 = entries.iter().map(each).sum();
        self.need((HEAD + 4.9 + list).min(self.room.h));
        self.heading(heading);
        self.list(entries.iter().copied());
    }

    fn lines(&mut self, text: &str, size: f64, indent: f64, ink: Ink, bold: bool) {
        for line in lettering::wrap(text, size, bold, self.room.w - indent) {
            self.need(size * LEADING);
            let at = [self.room.x + indent, self.y + 0.76 * size];
            let mut line = Line::new(at, size, line).ink(ink);
            line.bold = bold;
            self.put(Mark::Line(line));
            self.y += size * LEADING;
        }
    }

    pub(crate) fn table(&mut self, table: &Table) {
        self.heading(&table.title);
        if !table.note.is_empty() {
            self.fine(&table.note);
        }
        if table.rows.is_empty() {
            self.words(&table.none);
            return;
        }
        let left = if table.tick { BOX + 3.0 } else { 0.0 };
        let total: f64 = table.shares.iter().sum();
        let widths: Vec<f64> = table
            .shares
            .iter()
            .map(|s| (self.room.w - left) * s / total)
            .collect();
        self.row(&table.head, &widths, left, true, false);
        for row in &table.rows {
            if self.y + self.height(row, &widths) > self.room.bottom() {
                self.new_page();
                self.row(&table.head, &widths, left, true, false);
            }
            self.row(row, &widths, left, false, table.tick);
        }
        self.y += 3.0;
    }

    fn height(&self, row: &[String], widths: &[f64]) -> f64 {
        let lines = row
            .iter()
            .zip(widths)
            .map(|(cell, width)| lettering::wrap(cell, FINE, false, width - 2.0 * PAD[0]).len());
        let most = lines.max().unwrap_or(1).max(1);
        (most as f64 * FINE * LEADING + 2.0 * PAD[1]).max(BOX + 2.2)
    }

    fn row(&mut self, cells: &[String], widths: &[f64], left: f64, head: bool, tick: bool) {
        let height = if head {
            let lines = cells
                .iter()
                .zip(widths)
                .map(|(cell, width)| lettering::wrap(cell, FINE, true, width - 2.0 * PAD[0]).len());
            lines.max().unwrap_or(1).max(1) as f64 * FINE * LEADING + 2.0 * PAD[1]
        } else {
            self.height(cells, widths)
        };
        let (x0, y0) = (self.room.x, self.y);
        if tick {
            let side = Frame::new(x0, y0 + 0.5 * (height - BOX), BOX, BOX);
            self.put(Mark::frame(
                side,
                Some(Stroke::solid(Ink::Black, MEDIUM)),
                None,
            ));
        }
        let mut x = x0 + left;
        for (cell, width) in cells.iter().zip(widths) {
            let texts = lettering::wrap(cell, FINE, head, width - 2.0 * PAD[0]);
            // A single line stands in the middle, beside its box.
            let above = if texts.len() == 1 {
                0.5 * (height - FINE * LEADING)
            } else {
                PAD[1]
            };
            let mut y = y0 + above + 0.86 * FINE;
            for text in texts {
                let mut line = Line::new([x + PAD[0], y], FINE, text);
                line.bold = head;
                self.put(Mark::Line(line));
                y += FINE * LEADING;
            }
            if x > x0 + left {
                let rule = vec![[x, y0], [x, y0 + height]];
                self.put(Mark::line(rule, Stroke::solid(Ink::Pale, THIN)));
            }
            x += width;
        }
        let bottom = y0 + height;
        let pen = if head {
            Stroke::solid(Ink::Black, MEDIUM)
        } else {
            Stroke::solid(Ink::Grey, THIN)
        };
        self.put(Mark::line(
            vec![[x0 + left, bottom], [self.room.right(), bottom]],
            pen,
        ));
        self.y = bottom;
    }
}
