//! Points from tables: `points_from: "points.csv"`.
//!
//! The first line names the columns, in any order. A line with `x`, `y`, `z` is a point; lines with `from`,
//! `distance` and `side` are taped distances, one a line, and all lines of one name make one taped point. A unit may
//! stand with the column (`x [mm]`) or in the cell (`1 1/2 in`); bare numbers are in the route file's units.
//!
//! A table becomes the same tree of values that a route file does, so that all that is true of points is true of
//! these: what they may be taped from, what counts as a fault, and that each fault names its file, line and column.

use std::collections::HashMap;

use crate::quantity::{Accepts, Kind, LengthUnit, Units, parse};

use super::fields::{Fields, items, suggest};
use super::source::text_of;
use super::table::{Cell, Table, table};
use super::tree::{Body, Field, Node, Value};
use super::value::Reading;

/// A point from a table.
#[derive(Debug)]
pub(super) struct ImportedPoint {
    pub(super) name: String,
    /// Where its name first stands.
    pub(super) at: usize,
    pub(super) node: Node,
}

/// Columns of lengths.
const LENGTHS: [&str; 4] = ["x", "y", "z", "distance"];
const COLUMNS: [&str; 8] = ["name", "x", "y", "z", "from", "distance", "side", "note"];
/// Other names of columns: those that `place` prints.
const ALSO: [(&str, &str); 4] = [
    ("point", "name"),
    ("forward", "x"),
    ("left", "y"),
    ("up", "z"),
];
const HEADER: &str = "begin the file with a line that names the columns: name,x,y,z for points, \
                      name,from,distance,side for taped distances";

/// Reads the tables that a route file names.
pub(super) fn read(reading: &mut Reading<'_>, fields: &Fields<'_>) -> Vec<ImportedPoint> {
    let Some(node) = fields.get("points_from") else {
        return Vec::new();
    };
    let named = match &node.value {
        Value::Text(_) => std::slice::from_ref(node),
        _ => items(&mut reading.notes, node, "names of CSV files"),
    };
    let mut points = Vec::new();
    let mut seen: Vec<&str> = Vec::new();
    for node in named {
        let Some(name) = reading.text(node, "points_from") else {
            continue;
        };
        if seen.contains(&name) {
            reading.notes.fault(
                node.at,
                format!("\"{name}\" is named twice"),
                "delete one of the two",
            );
            continue;
        }
        seen.push(name);
        let path = reading.folder.join(name);
        match text_of(&path, "CSV file") {
            Ok(text) => {
                let found = of_text(reading, &path.display().to_string(), &text);
                points.extend(found);
            }
            Err(faults) => {
                for fault in faults.faults {
                    let place = fault
                        .place
                        .map_or_else(String::new, |(line, column)| format!(":{line}:{column}"));
                    let message = format!("{}{place}: {}", faults.file, fault.message);
                    let cure = if path.exists() {
                        fault.cure
                    } else {
                        "check the name; it counts from the folder of the route file".to_owned()
                    };
                    reading.notes.fault(node.at, message, cure);
                }
            }
        }
    }
    points
}

/// Reads one table; `file` is the name that its faults carry.
pub(super) fn of_text(reading: &mut Reading<'_>, file: &str, text: &str) -> Vec<ImportedPoint> {
    let table = table(&mut reading.notes, file, text);
    let Some(columns) = Columns::of(reading, &table) else {
        return Vec::new();
    };
    let mut found = Found::default();
    for line in &table.lines[1..] {
        found.line(reading, &columns, line);
    }
    found.points(reading)
}

/// What stands in which column.
#[derive(Debug)]
struct Columns {
    /// Name of each column as in [`COLUMNS`], none for one without a header, and its unit.
    list: Vec<(Option<&'static str>, Option<String>)>,
    decimal_comma: bool,
}

/// The cells of one line by their columns.
#[derive(Debug)]
struct Line<'t> {
    cells: HashMap<&'static str, (&'t Cell, Option<&'t str>)>,
    /// Where it begins.
    at: usize,
}

impl Columns {
    /// Reads the first line. `None`, with faults noted, where it is no header that makes sense.
    fn of(reading: &mut Reading<'_>, table: &Table) -> Option<Self> {
        let before = reading.notes.count();
        let Some(header) = table.lines.first() else {
            reading.notes.fault(table.at, "this file is empty", HEADER);
            return None;
        };
        let mut list: Vec<(Option<&'static str>, Option<String>)> = Vec::new();
        for cell in header {
            let (name, unit) = name_and_unit(&cell.text);
            let low = name.to_lowercase();
            let known = ALSO.iter().find(|(also, _)| *also == low);
            let low = known.map_or(low.as_str(), |(_, known)| known);
            let column = COLUMNS.iter().find(|known| **known == low).copied();
            if column.is_none() && !cell.text.is_empty() {
                let cure = if parse(&cell.text, Kind::Length, Accepts::Any).is_ok()
                    || cell.text.parse::<f64>().is_ok()
                {
                    HEADER.to_owned()
                } else {
                    suggest(name, COLUMNS.into_iter(), "columns are")
                };
                let message = format!("there is no column \"{}\"", cell.text);
                reading.notes.fault(cell.at, message, cure);
            }
            if column.is_some() && list.iter().any(|(other, _)| *other == column) {
                reading.notes.fault(
                    cell.at,
                    format!("the column \"{name}\" stands here twice"),
                    "delete one of the two, or call it note",
                );
            }
            if let (Some(column), Some(unit)) = (column, unit) {
                let length = LENGTHS.contains(&column);
                let wrong = parse(&format!("1 {unit}"), Kind::Length, Accepts::Any).err();
                if !length || wrong.is_some() {
                    reading.notes.fault(
                        cell.at,
                        format!("the column \"{column}\" cannot be in \"{unit}\""),
                        "a length is in mm, cm, m, in or ft: x [mm]; the other columns have no unit",
                    );
                }
            }
            list.push((column, unit.map(str::to_owned)));
        }
        let has = |name: &str| list.iter().any(|(column, _)| *column == Some(name));
        let points = ["x", "y", "z"].iter().all(|name| has(name));
        let taped = has("from") && has("distance");
        if reading.notes.count() == before && !(has("name") && (points || taped)) {
            let missing = if has("name") {
                "neither x, y, z nor from, distance"
            } else {
                "no column `name`"
            };
            let message = format!("the first line has {missing}");
            reading.notes.fault(header[0].at, message, HEADER);
        }
        (reading.notes.count() == before).then_some(Self {
            list,
            decimal_comma: table.decimal_comma,
        })
    }

    /// The cells of a line that hold something.
    fn cells<'t>(&'t self, reading: &mut Reading<'_>, line: &'t [Cell]) -> Option<Line<'t>> {
        let mut cells = HashMap::new();
        for (index, cell) in line.iter().enumerate() {
            if cell.text.is_empty() {
                continue;
            }
            match self.list.get(index) {
                Some((Some(name), unit)) => {
                    cells.insert(*name, (cell, unit.as_deref()));
                }
                _ => {
                    let cure = if self.decimal_comma {
                        "delete it, or name its column note"
                    } else {
                        "write decimal points, or put semicolons between the cells; text with a comma stands in quotes"
                    };
                    reading.notes.fault(
                        cell.at,
                        format!("\"{}\" stands outside the named columns", cell.text),
                        cure,
                    );
                    return None;
                }
            }
        }
        Some(Line {
            cells,
            at: line.first()?.at,
        })
    }

    /// A length in a cell as a route file would have it: a number in its unit, or a bare one.
    fn length(&self, units: Units, (cell, unit): (&Cell, Option<&str>)) -> Node {
        let mut text = cell.text.replace('−', "-");
        if self.decimal_comma && text.matches(',').count() == 1 && !text.contains('.') {
            text = text.replace(',', ".");
        }
        let plain = text.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c));
        let number = text.parse::<f64>().ok().filter(|_| plain);
        let fraction = text.contains('/') && !text.contains(char::is_alphabetic);
        let value = match (number, unit) {
            (None, _) if fraction => {
                let own = match units.length {
                    LengthUnit::Mm => "mm",
                    LengthUnit::Inch => "in",
                };
                Value::Text(format!("{text} {}", unit.unwrap_or(own)))
            }
            (Some(_), Some(unit)) => Value::Text(format!("{text} {unit}")),
            (Some(number), None) => Value::Number(number),
            (None, _) => Value::Text(text),
        };
        Node::made(cell.at, value)
    }
}

/// `x [mm]`, `x (mm)`, `x_mm`, `x mm`, `x/mm` or `x`.
fn name_and_unit(header: &str) -> (&str, Option<&str>) {
    match header.split_once(['[', '(', '/', ' ', '_']) {
        Some((name, unit)) => {
            let unit = unit.trim_matches(['[', '(', ']', ')', ' ']);
            (name.trim(), (!unit.is_empty()).then_some(unit))
        }
        None => (header, None),
    }
}

/// The points of one table, as far as they are known.
#[derive(Debug, Default)]
struct Found {
    points: Vec<ImportedPoint>,
    /// Taped points: name, where it first stands, its readings, its side.
    taped: Vec<(String, usize, Vec<Node>, Option<Node>)>,
}

impl Found {
    fn line(&mut self, reading: &mut Reading<'_>, columns: &Columns, line: &[Cell]) {
        let Some(line) = columns.cells(reading, line) else {
            return;
        };
        let Some((name, _)) = line.cells.get("name") else {
            reading.notes.fault(
                line.at,
                "this line has no name",
                "give the point's name on every line, also on each of its taped distances",
            );
            return;
        };
        let has = |name: &&&str| line.cells.contains_key(**name);
        let given: Vec<&str> = ["x", "y", "z"].iter().filter(has).copied().collect();
        let taped: Vec<&str> = ["from", "distance"].iter().filter(has).copied().collect();
        let lacks = |wanted: &[&str], given: &[&str]| {
            let missing: Vec<&str> = wanted
                .iter()
                .filter(|w| !given.contains(w))
                .copied()
                .collect();
            (
                format!("\"{}\" lacks its {}", name.text, missing.join(" and ")),
                "write the number, or delete the line",
            )
        };
        let (message, cure) = match (given.len(), taped.len()) {
            (3, 0) => return self.point(reading.units, columns, &line, name),
            (0, 2) => return self.reading(reading, columns, &line, name),
            (0, 0) => (
                format!("\"{}\" has neither coordinates nor a distance", name.text),
                "write x, y, z, or from and distance, or delete the line",
            ),
            (_, 0) => lacks(&["x", "y", "z"], &given),
            (0, _) => lacks(&["from", "distance"], &taped),
            _ => (
                format!(
                    "\"{}\" has coordinates and a taped distance on one line",
                    name.text
                ),
                "a point is either measured or taped: delete one of the two",
            ),
        };
        reading.notes.fault(name.at, message, cure);
    }

    fn point(&mut self, units: Units, columns: &Columns, line: &Line<'_>, name: &Cell) {
        let three = ["x", "y", "z"]
            .iter()
            .filter_map(|axis| line.cells.get(axis));
        let three: Vec<Node> = three.map(|cell| columns.length(units, *cell)).collect();
        self.points.push(ImportedPoint {
            name: name.text.clone(),
            at: name.at,
            node: Node::made(
                three.first().map_or(name.at, |x| x.at),
                Value::Struct(None, Body::Items(three)),
            ),
        });
    }

    fn reading(
        &mut self,
        reading: &mut Reading<'_>,
        columns: &Columns,
        line: &Line<'_>,
        name: &Cell,
    ) {
        let (Some((from, _)), Some(distance)) =
            (line.cells.get("from"), line.cells.get("distance"))
        else {
            return;
        };
        let text = |cell: &Cell| Node::made(cell.at, Value::Text(cell.text.clone()));
        let pair = vec![text(from), columns.length(reading.units, *distance)];
        let pair = Node::made(from.at, Value::Struct(None, Body::Items(pair)));
        let index = match self.taped.iter().position(|taped| taped.0 == name.text) {
            Some(index) => index,
            None => {
                self.taped
                    .push((name.text.clone(), name.at, Vec::new(), None));
                self.taped.len() - 1
            }
        };
        let (_, _, readings, side) = &mut self.taped[index];
        readings.push(pair);
        let Some((cell, _)) = line.cells.get("side") else {
            return;
        };
        match side {
            None => *side = Some(text(cell)),
            Some(first) => {
                let same =
                    matches!(&first.value, Value::Text(t) if t.eq_ignore_ascii_case(&cell.text));
                if !same {
                    let place = reading.notes.line(first.at);
                    reading.notes.fault(
                        cell.at,
                        format!("\"{}\" is on another side here than on {place}", name.text),
                        "all its lines have the same side; once is enough",
                    );
                }
            }
        }
    }

    /// All points, the taped ones put together from their readings.
    fn points(mut self, reading: &mut Reading<'_>) -> Vec<ImportedPoint> {
        for (name, at, readings, side) in self.taped {
            if let Some(point) = self.points.iter().find(|point| point.name == name) {
                let line = reading.notes.line(point.at);
                reading.notes.fault(
                    at,
                    format!("\"{name}\" is taped here, and has coordinates on {line}"),
                    "a point is either measured or taped: delete one of the two",
                );
                continue;
            }
            let field = |name: &str, value: Node| Field {
                name: name.to_owned(),
                at: value.at,
                value,
            };
            let from = Node::made(at, Value::List(readings));
            let mut fields = vec![field("from", from)];
            fields.extend(side.map(|side| field("side", side)));
            self.points.push(ImportedPoint {
                name,
                at,
                node: Node::made(
                    at,
                    Value::Struct(Some("Tape".to_owned()), Body::Fields(fields)),
                ),
            });
        }
        self.points
    }
}
