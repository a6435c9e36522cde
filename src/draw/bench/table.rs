//! A table as data: drawn on the sheet, and written for spreadsheets.

/// One table of the bench sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Table {
    /// Stem of its file.
    pub stem: &'static str,
    /// What it is called.
    pub title: String,
    /// What is to be known about it.
    pub note: String,
    /// What stands there where it has no rows.
    pub none: String,
    /// Names of the columns.
    pub head: Vec<String>,
    /// Cells; an empty one is to be filled in by hand.
    pub rows: Vec<Vec<String>>,
    /// Widths of the columns against each other.
    pub shares: Vec<f64>,
    /// Whether each row has a box to tick.
    pub tick: bool,
}

impl Table {
    /// A table without rows: its columns with their widths.
    pub(crate) fn new(stem: &'static str, title: &str, columns: &[(&str, f64)]) -> Self {
        Self {
            stem,
            title: title.to_owned(),
            note: String::new(),
            none: "None.".to_owned(),
            head: columns.iter().map(|(name, _)| (*name).to_owned()).collect(),
            rows: Vec::new(),
            shares: columns.iter().map(|(_, share)| *share).collect(),
            tick: false,
        }
    }
}
