//! A table of comma-separated values: cells, each with its place in the text.
//!
//! As RFC 4180 has it (quoted cells, doubled quotes, either line end), and as spreadsheets write it where the comma
//! is the decimal sign: with semicolons or tabs between the cells. A mark at the start that says so (`sep=;`) and a
//! byte order mark are passed over.

use csv_core::{ReadFieldResult, ReaderBuilder};

use super::fault::Notes;

/// A cell and where it begins \[byte\].
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Cell {
    pub(super) at: usize,
    /// Without quotes and without blanks around it.
    pub(super) text: String,
}

/// The lines of a table that hold anything, in order.
#[derive(Debug)]
pub(super) struct Table {
    /// Where its text begins.
    pub(super) at: usize,
    pub(super) lines: Vec<Vec<Cell>>,
    /// Whether the comma is free to be the decimal sign.
    pub(super) decimal_comma: bool,
}

/// Reads the text of a table. A cell that runs over the end of its line is noted.
pub(super) fn table(notes: &mut Notes<'_>, file: &str, text: &str) -> Table {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let start = notes.add_text(file, text.to_owned());
    let (skip, delimiter) = delimiter(notes, start, text);
    let mut table = Table {
        at: start,
        lines: Vec::new(),
        decimal_comma: delimiter != b',',
    };
    let mut reader = ReaderBuilder::new().delimiter(delimiter).build();
    let mut at = skip;
    // No cell is longer than the text.
    let mut buffer = vec![0; text.len() + 1];
    let mut line = Vec::new();
    loop {
        let (result, taken, written) = reader.read_field(&text.as_bytes()[at..], &mut buffer);
        let begins = at + blank(&text[at..at + taken]);
        at += taken;
        match result {
            // The end of the text is told by an empty input.
            ReadFieldResult::InputEmpty if at < text.len() || taken > 0 => {
                let (ended, _, more) = reader.read_field(&[], &mut buffer[written..]);
                push(notes, &mut line, start + begins, &buffer[..written + more]);
                finish(&mut table, &mut line);
                if ended == ReadFieldResult::End {
                    break;
                }
            }
            ReadFieldResult::Field { record_end } => {
                push(notes, &mut line, start + begins, &buffer[..written]);
                if record_end {
                    finish(&mut table, &mut line);
                }
            }
            _ => break,
        }
    }
    finish(&mut table, &mut line);
    table
}

/// Line ends and blanks before a cell.
fn blank(text: &str) -> usize {
    text.len() - text.trim_start_matches(['\r', '\n', ' ']).len()
}

fn push(notes: &mut Notes<'_>, line: &mut Vec<Cell>, at: usize, bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    if text.chars().any(char::is_control) {
        notes.fault(
            at,
            "this cell runs over the end of its line",
            "put the missing quote \" at its end; a name stands on one line",
        );
    }
    line.push(Cell {
        at,
        text: text.trim().to_owned(),
    });
}

/// Ends a line; one without any text in it is dropped, as spreadsheets write many.
fn finish(table: &mut Table, line: &mut Vec<Cell>) {
    let line = std::mem::take(line);
    if line.iter().any(|cell| !cell.text.is_empty()) {
        table.lines.push(line);
    }
}

/// What may be said to stand between the cells: none of these can be part of a number, a quote or a line end.
const SIGNS: [char; 4] = [',', ';', '\t', '|'];

/// What stands between the cells, and how much of the text only says so.
fn delimiter(notes: &mut Notes<'_>, start: usize, text: &str) -> (usize, u8) {
    let (at, first) = first_line(text);
    let Some(said) = first.trim_start().strip_prefix("sep=") else {
        return (0, seen(first));
    };
    let end = at + first.len();
    match said.chars().next() {
        None => (end, b','),
        Some(sign) if SIGNS.contains(&sign) => (end, sign as u8),
        Some(sign) => {
            notes.fault(
                start + end - said.len(),
                format!("the cells of this table are said to be parted by {sign:?}"),
                "part them by , or ; or | or a tab, and say that one behind sep=, or delete this line",
            );
            (end, seen(first_line(&text[end..]).1))
        }
    }
}

/// The first line that holds anything, and where it begins.
fn first_line(text: &str) -> (usize, &str) {
    let blank = text.len() - text.trim_start().len();
    let at = text[..blank].rfind('\n').map_or(0, |end| end + 1);
    (at, text[at..].lines().next().unwrap_or_default())
}

/// What stands between the cells of a line, from what is in it.
fn seen(first: &str) -> u8 {
    let mut quoted = false;
    let mut outside = |wanted: char| {
        first.chars().any(|c| {
            quoted ^= c == '"';
            c == wanted && !quoted
        })
    };
    if outside(';') {
        b';'
    } else if outside('\t') {
        b'\t'
    } else {
        b','
    }
}

#[cfg(test)]
mod tests {
    #![allow(
        clippy::unwrap_used,
        reason = "a test that cannot go on should say so and stop"
    )]

    use super::*;

    fn lines(text: &str) -> (Vec<Vec<String>>, usize) {
        let mut notes = Notes::new("");
        let table = table(&mut notes, "a.csv", text);
        let texts = |line: Vec<Cell>| line.into_iter().map(|cell| cell.text).collect();
        (table.lines.into_iter().map(texts).collect(), notes.count())
    }

    #[test]
    fn the_same_table_in_many_dresses() {
        let expected = [["a", "b c", ""], ["1", "say \"x\"", "2"]];
        for text in [
            "a,b c,\n1,\"say \"\"x\"\"\",2\n",
            "a,b c,\r\n1,\"say \"\"x\"\"\",2",
            "\u{feff}a,b c,\r\n\r\n1,\"say \"\"x\"\"\",2\r\n",
            "a;b c;\n1;\"say \"\"x\"\"\";2\n;;\n",
            "a\tb c\t\n1\t\"say \"\"x\"\"\"\t2\n",
            "sep=;\r\na;b c;\r\n1;\"say \"\"x\"\"\";2\r\n",
            "\n\n a , b c ,\n1,\"say \"\"x\"\"\", 2 \n\n",
        ] {
            assert_eq!(
                lines(text),
                (
                    expected
                        .iter()
                        .map(|l| l.iter().map(|s| (*s).to_owned()).collect())
                        .collect(),
                    0
                ),
                "{text:?}"
            );
        }
        assert_eq!(lines(""), (vec![], 0));
        assert_eq!(lines("\u{feff}"), (vec![], 0));
        assert_eq!(lines("\"a;b\",c").0, [["a;b", "c"]]);
    }

    #[test]
    fn cells_know_their_place() {
        let text = "name,x\r\n\r\n\"Ä, b\",12\nc,\"13\"";
        let mut notes = Notes::new("route");
        let table = table(&mut notes, "a.csv", text);
        let places: Vec<usize> = table
            .lines
            .iter()
            .flatten()
            .map(|cell| cell.at - table.at)
            .collect();
        let expected =
            ["name", "x\r", "\"Ä", "12", "c,\"", "\"13"].map(|part| text.find(part).unwrap());
        assert_eq!(places, expected);
        assert_eq!(table.at, 6);
    }

    #[test]
    fn a_sign_that_cannot_part_cells_is_noted() {
        for sign in ["\u{2028}", "ü", "\"", "1", "."] {
            let (lines, faults) = lines(&format!("sep={sign}\nname;x\nh\u{2028}ead;1\n"));
            let expected = [["name", "x"], ["h\u{2028}ead", "1"]];
            assert_eq!(
                (lines, faults),
                (expected.map(|l| l.map(str::to_owned).to_vec()).to_vec(), 1)
            );
        }
        for sign in SIGNS {
            let (lines, faults) = lines(&format!("sep={sign}\nname{sign}x\n"));
            assert_eq!((lines[0].len(), faults), (2, 0), "{sign:?}");
        }
    }

    #[test]
    fn a_lost_quote_is_noted() {
        let (lines, faults) = lines("name,x\n\"head,1\ntail,2\n");
        assert_eq!((lines.len(), faults), (2, 1));
    }
}
