//! The table of a study: which changes, and how much of each in every row.

use crate::advise::margin::amount;
use crate::quantity::{self, Accepts, Kind};
use crate::route::{Change, Route};

/// A table of changes: which of them, and how much of each in every row.
#[derive(Debug, Clone, PartialEq)]
pub struct StudyTable {
    /// Names of the changes, one a column.
    pub columns: Vec<Column>,
    /// The rows: a name, and how much of each change.
    pub rows: Vec<(String, Vec<String>)>,
}

/// A column of a study.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Name of the change.
    pub change: String,
}

/// What is wrong with a table.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum StudyTableError {
    /// It cannot be read.
    #[error("line {line}: {what}\n    {cure}")]
    Line {
        /// Where, from 1.
        line: usize,
        /// What is wrong.
        what: String,
        /// What to do.
        cure: String,
    },
    /// It holds no row.
    #[error(
        "the table has no variants\n    give a line a variant below the first, which names the changes"
    )]
    Empty,
    /// A route lacks a change.
    #[error(
        "the route {route} has no change \"{change}\"\n    write it into its `changes`, or leave the column out; its changes are: {known}"
    )]
    NoChange {
        /// The route.
        route: String,
        /// The change.
        change: String,
        /// Its changes.
        known: String,
    },
    /// A cell that is no share and no amount of the change.
    #[error(
        "row {row}, \"{change}\": {what}\n    write a share (0.5, \"50 %\") or an amount of the change's own motion (\"25 mm\")"
    )]
    Cell {
        /// Number of the row, from 1.
        row: usize,
        /// The change.
        change: String,
        /// What is wrong.
        what: String,
    },
}

impl StudyTable {
    /// Reads a table of comma-separated values: the first line names the changes (and, if it likes, a column `variant`),
    /// every other line is a variant.
    ///
    /// # Errors
    /// Lines that are no table, with their number.
    pub fn of_csv(text: &str) -> Result<Self, StudyTableError> {
        let text = text.strip_prefix('\u{feff}').unwrap_or(text);
        let first = text.lines().next().unwrap_or_default();
        let separator = if first.contains(';') { b';' } else { b',' };
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(separator)
            .trim(csv::Trim::All)
            .comment(Some(b'#'))
            .from_reader(text.as_bytes());
        let bad = |error: &csv::Error| {
            let line = error.position().map_or(1, csv::Position::line);
            StudyTableError::Line {
                line: usize::try_from(line).unwrap_or(usize::MAX),
                what: error.to_string(),
                cure: "every line has as many cells as the first".to_owned(),
            }
        };
        let header = reader.headers().map_err(|error| bad(&error))?.clone();
        let named = header
            .iter()
            .position(|name| name.eq_ignore_ascii_case("variant"));
        let columns: Vec<Column> = header
            .iter()
            .enumerate()
            .filter(|(index, _)| Some(*index) != named)
            .map(|(_, change)| Column {
                change: change.to_owned(),
            })
            .collect();
        if let Some(twice) = columns
            .iter()
            .enumerate()
            .find(|(index, column)| column.change.is_empty() || columns[..*index].contains(column))
        {
            return Err(StudyTableError::Line {
                line: 1,
                what: format!(
                    "the column \"{}\" has no name, or stands here twice",
                    twice.1.change
                ),
                cure: "name each column after a change of the route file".to_owned(),
            });
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(|error| bad(&error))?;
            let name = named.and_then(|named| record.get(named)).unwrap_or("");
            let cells = record.iter().enumerate();
            let cells = cells.filter(|(index, _)| Some(*index) != named);
            let name = if name.is_empty() {
                (rows.len() + 1).to_string()
            } else {
                name.to_owned()
            };
            rows.push((name, cells.map(|(_, cell)| cell.to_owned()).collect()));
        }
        Self { columns, rows }.not_empty()
    }

    /// Reads a table in RON: each change with the list of its values; every combination is a variant.
    ///
    /// # Errors
    /// Text that is no such map, with its line.
    pub fn of_ron(text: &str) -> Result<Self, StudyTableError> {
        let bad = |line: usize, what: String| {
            StudyTableError::Line {
            line,
            what,
            cure: "write { \"bars 75 mm up\": [0, 0.5, 1], \"seat 16 mm lower\": [\"0 mm\", \"8 mm\"] }".to_owned(),
        }
        };
        let value: ron::Value = ron::from_str(text)
            .map_err(|error| bad(error.span.start.line, error.code.to_string()))?;
        let ron::Value::Map(map) = value else {
            return Err(bad(1, "the table is no map in { }".to_owned()));
        };
        let (mut columns, mut values) = (Vec::new(), Vec::new());
        for (key, value) in map.iter() {
            let ron::Value::String(change) = key else {
                return Err(bad(
                    1,
                    "the name of a change is a text in quotes".to_owned(),
                ));
            };
            let list = match value {
                ron::Value::Seq(list) => list.as_slice(),
                one => std::slice::from_ref(one),
            };
            let cells: Option<Vec<String>> = list
                .iter()
                .map(|cell| match cell {
                    ron::Value::Number(number) => Some(number.into_f64().to_string()),
                    ron::Value::String(text) => Some(text.clone()),
                    _ => None,
                })
                .collect();
            let cells = cells.filter(|cells| !cells.is_empty());
            let cells = cells
                .ok_or_else(|| bad(1, format!("\"{change}\" needs a list of shares or amounts")))?;
            columns.push(Column {
                change: change.clone(),
            });
            values.push(cells);
        }
        let mut rows: Vec<Vec<String>> = vec![Vec::new()];
        for cells in &values {
            rows = rows
                .iter()
                .flat_map(|row| {
                    cells.iter().map(move |cell| {
                        let mut longer = row.clone();
                        longer.push(cell.clone());
                        longer
                    })
                })
                .collect();
        }
        let rows = rows
            .into_iter()
            .enumerate()
            .map(|(index, cells)| ((index + 1).to_string(), cells))
            .collect();
        Self { columns, rows }.not_empty()
    }

    fn not_empty(self) -> Result<Self, StudyTableError> {
        if self.rows.is_empty() || self.columns.is_empty() {
            return Err(StudyTableError::Empty);
        }
        Ok(self)
    }

    /// The changes of a route that the columns name, and the share of each in every row.
    ///
    /// # Errors
    /// A change that the route does not have, or a cell that says nothing.
    pub fn shares<'r>(
        &self,
        route: &'r Route,
        file: &str,
    ) -> Result<(Vec<&'r Change>, Vec<Vec<f64>>), StudyTableError> {
        let changes: Result<Vec<&Change>, StudyTableError> = self
            .columns
            .iter()
            .map(|column| {
                let found = route
                    .changes
                    .iter()
                    .find(|change| change.name == column.change);
                found.ok_or_else(|| StudyTableError::NoChange {
                    route: file.to_owned(),
                    change: column.change.clone(),
                    known: route
                        .changes
                        .iter()
                        .map(|change| format!("\"{}\"", change.name))
                        .collect::<Vec<_>>()
                        .join(", "),
                })
            })
            .collect();
        let changes = changes?;
        let mut shares = Vec::new();
        for (number, (_, cells)) in self.rows.iter().enumerate() {
            let row: Result<Vec<f64>, StudyTableError> = cells
                .iter()
                .zip(&changes)
                .map(|(cell, change)| {
                    share_of(cell, change).map_err(|what| StudyTableError::Cell {
                        row: number + 1,
                        change: change.name.clone(),
                        what,
                    })
                })
                .collect();
            shares.push(row?);
        }
        Ok((changes, shares))
    }
}

/// A share of a change from what a person wrote: a number, per cent, or an amount of the change's own motion.
fn share_of(cell: &str, change: &Change) -> Result<f64, String> {
    if cell.is_empty() {
        return Ok(0.0);
    }
    let number = cell
        .parse::<f64>()
        .or_else(|_| cell.replace(',', ".").parse());
    let share = match number {
        Ok(number) => number,
        Err(_) if cell.ends_with('%') => {
            let number = cell.trim_end_matches('%').trim().parse::<f64>();
            number.map_err(|_| format!("\"{cell}\" is no share"))? / 100.0
        }
        Err(_) => {
            let whole = amount(change);
            if whole.kind == Kind::Ratio {
                return Err(format!(
                    "\"{cell}\" is an amount, but the change has no motion"
                ));
            }
            let value = quantity::parse(cell, whole.kind, Accepts::Any);
            value.map_err(|error| error.to_string())? / whole.value
        }
    };
    if share.is_finite() && share >= 0.0 {
        Ok(share)
    } else {
        Err(format!("\"{cell}\" is less than nothing, or no number"))
    }
}
