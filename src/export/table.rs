//! A table of cells, and its text as comma-separated values (RFC 4180; with semicolons and decimal commas where the
//! reader wants those).

use crate::check::to_millionth;
use crate::quantity::{Kind, LengthUnit, Units};

use super::Separator;

/// What stands in one cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Cell {
    Text(String),
    /// To a millionth of its unit, as in the report; what is not finite is left empty.
    Number(f64),
    Count(usize),
    Empty,
}

impl From<&str> for Cell {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<String> for Cell {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<usize> for Cell {
    fn from(count: usize) -> Self {
        Self::Count(count)
    }
}

impl From<f64> for Cell {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl From<Option<f64>> for Cell {
    fn from(number: Option<f64>) -> Self {
        number.map_or(Self::Empty, Self::Number)
    }
}

/// A header and lines of as many cells.
#[derive(Debug)]
pub(super) struct Table {
    pub(super) header: Vec<String>,
    pub(super) lines: Vec<Vec<Cell>>,
}

impl Table {
    pub(super) fn new(header: impl IntoIterator<Item = impl Into<String>>) -> Self {
        Self {
            header: header.into_iter().map(Into::into).collect(),
            lines: Vec::new(),
        }
    }

    pub(super) fn csv(&self, separator: Separator) -> Vec<u8> {
        let (delimiter, comma) = match separator {
            Separator::Comma => (b',', false),
            Separator::Semicolon => (b';', true),
        };
        let mut writer = csv::WriterBuilder::new()
            .delimiter(delimiter)
            .flexible(true)
            .from_writer(Vec::new());
        let lines = self.lines.iter().map(|line| {
            let cells = line.iter().map(|cell| text(cell, comma));
            cells.collect::<Vec<String>>()
        });
        for line in std::iter::once(self.header.clone()).chain(lines) {
            // Nothing can fail: lines may differ in length, and a vector takes every byte.
            let _written = writer.write_record(&line);
        }
        writer.into_inner().unwrap_or_default()
    }
}

fn text(cell: &Cell, comma: bool) -> String {
    match cell {
        Cell::Text(text) => text.clone(),
        Cell::Count(count) => count.to_string(),
        Cell::Number(number) if number.is_finite() => {
            let text = to_millionth(*number).to_string();
            if comma { text.replace('.', ",") } else { text }
        }
        Cell::Number(_) | Cell::Empty => String::new(),
    }
}

/// A value in SI in the unit of the table.
pub(super) fn value(units: Units, value: f64, kind: Kind) -> Cell {
    Cell::Number(units.convert(value, kind).0)
}

/// The name of a column with its unit, as the report's keys end: `at` to `at_mm`.
pub(super) fn column(units: Units, name: &str, kind: Kind) -> String {
    let inch = units.length == LengthUnit::Inch;
    let unit = match kind {
        Kind::Length if inch => "in",
        Kind::Length => "mm",
        Kind::Angle => "deg",
        Kind::Force if inch => "lbf",
        Kind::Force => "n",
        Kind::Ratio => "pct",
        _ => return name.to_owned(),
    };
    format!("{name}_{unit}")
}

#[cfg(test)]
mod tests {
    #![allow(
        clippy::unwrap_used,
        reason = "a test that cannot go on should say so and stop"
    )]

    use super::*;

    #[test]
    fn cells_are_quoted_where_they_must_be() {
        let mut table = Table::new(["a", "b, c"]);
        table
            .lines
            .push(vec!["say \"x\"".into(), Cell::Number(-0.5)]);
        table
            .lines
            .push(vec![Cell::Number(f64::INFINITY), Cell::Number(-1e-9)]);
        table.lines.push(vec![Cell::Empty, 12.into()]);
        let text = |separator| String::from_utf8(table.csv(separator)).unwrap();
        assert_eq!(
            text(Separator::Comma),
            "a,\"b, c\"\n\"say \"\"x\"\"\",-0.5\n,0\n,12\n"
        );
        assert_eq!(
            text(Separator::Semicolon),
            "a;b, c\n\"say \"\"x\"\"\";-0,5\n;0\n;12\n"
        );
    }
}
