//! Points: given, named, or taped from other points.

use std::collections::HashMap;

use nalgebra::Point3;

use crate::geometry::{Side, TapeFix, fix_from_tape};
use crate::quantity::{Accepts, Kind};
use crate::route::Place;

use super::fields::{Fields, entries, items, unknown};
use super::points_from::ImportedPoint;
use super::tree::{Body, Node, Value};
use super::value::Reading;

/// A point may be taped from points that are themselves taped or named after others, but not through more than
/// so many: the error grows with each.
const LONGEST_CHAIN: usize = 32;

/// A point that was worked out.
#[derive(Debug, Clone)]
pub(super) struct Placed {
    pub(super) at: Point3<f64>,
    pub(super) tape: Option<Taped>,
}

/// How a taped point was found.
#[derive(Debug, Clone)]
pub(super) struct Taped {
    /// Name of each reference, its position and the reading \[m\].
    pub(super) readings: Vec<(String, Point3<f64>, f64)>,
    pub(super) side: Option<Side>,
    pub(super) fix: TapeFix,
    /// Root mean square of the misfits \[m\].
    pub(super) residual: f64,
}

#[derive(Debug, Clone)]
enum State {
    Untouched,
    Busy,
    Done(Option<Placed>),
}

/// The points of a file, worked out when they are first asked for.
#[derive(Debug)]
pub(super) struct Points<'n> {
    entries: Vec<(&'n str, usize, &'n Node)>,
    index: HashMap<&'n str, usize>,
    states: Vec<State>,
    /// Which entry of `places` a named point has become.
    place_of: HashMap<usize, usize>,
    places: Vec<Place>,
    /// Largest residual that is let pass \[m\]; `None` lets any pass.
    pub(super) tape_error: Option<f64>,
    /// Standard deviation of one reading \[m\].
    pub(super) tape_sd: f64,
}

/// The places that there were at some moment.
#[derive(Debug)]
pub(super) struct Mark {
    places: usize,
    place_of: HashMap<usize, usize>,
}

impl<'n> Points<'n> {
    /// The points of the field `points` and those of other files, not yet worked out.
    pub(super) fn new(
        reading: &mut Reading<'_>,
        (node, imported): (Option<&'n Node>, &'n [ImportedPoint]),
        tape_error: Option<f64>,
        tape_sd: f64,
    ) -> Self {
        let mut entries = node.map_or_else(Vec::new, |node| {
            entries(&mut reading.notes, node, "(x, y, z)")
        });
        let mut index: HashMap<&str, usize> =
            entries.iter().enumerate().map(|(i, e)| (e.0, i)).collect();
        for point in imported {
            let name = point.name.as_str();
            if let Some(&first) = index.get(name) {
                let line = reading.notes.line(entries[first].1);
                reading.notes.fault(
                    point.at,
                    format!("the point \"{name}\" is given twice, first on {line}"),
                    "delete one of the two, or give it another name",
                );
                continue;
            }
            index.insert(name, entries.len());
            entries.push((name, point.at, &point.node));
        }
        Self {
            states: vec![State::Untouched; entries.len()],
            entries,
            index,
            place_of: HashMap::new(),
            places: Vec::new(),
            tape_error,
            tape_sd,
        }
    }

    /// Names of the points, in the order of the file.
    pub(super) fn names(&self) -> impl Iterator<Item = &'n str> + Clone {
        self.entries.iter().map(|entry| entry.0)
    }

    /// Works out every point, so that faults in unused ones show too.
    pub(super) fn all(&mut self, reading: &mut Reading<'_>) -> Vec<(&'n str, Option<Placed>)> {
        (0..self.entries.len())
            .map(|i| (self.entries[i].0, self.entry(reading, i, 0)))
            .collect()
    }

    /// The places that fixings and waypoints stand on.
    pub(super) fn into_places(self) -> Vec<Place> {
        self.places
    }

    /// A position \[m\].
    pub(super) fn point(
        &mut self,
        reading: &mut Reading<'_>,
        node: &'n Node,
        field: &str,
    ) -> Option<Point3<f64>> {
        self.placed(reading, node, field, 0).map(|placed| placed.at)
    }

    /// The index of a position among the places; one named point has one place however often it is used.
    pub(super) fn place(
        &mut self,
        reading: &mut Reading<'_>,
        node: &'n Node,
        field: &str,
    ) -> Option<usize> {
        let entry = match &node.value {
            Value::Text(name) => self.index.get(name.as_str()).copied(),
            _ => None,
        };
        if let Some(place) = entry.and_then(|entry| self.place_of.get(&entry)) {
            return Some(*place);
        }
        let placed = self.placed(reading, node, field, 0)?;
        self.places.push(Place {
            name: entry.map(|entry| self.entries[entry].0.to_owned()),
            at: placed.at,
            misfit: placed.tape.map(|tape| tape.residual),
        });
        let place = self.places.len() - 1;
        if let Some(entry) = entry {
            self.place_of.insert(entry, place);
        }
        Some(place)
    }

    /// The places so far, to [`Points::forget`] later ones.
    pub(super) fn mark(&self) -> Mark {
        Mark {
            places: self.places.len(),
            place_of: self.place_of.clone(),
        }
    }

    /// Forgets the places that came in since: nothing stands on them.
    pub(super) fn forget(&mut self, since: &Mark) {
        self.places.truncate(since.places);
        self.place_of.clone_from(&since.place_of);
    }

    /// Adds a place that nobody measured.
    pub(super) fn add(&mut self, at: Point3<f64>) -> usize {
        self.places.push(Place {
            name: None,
            at,
            misfit: None,
        });
        self.places.len() - 1
    }

    /// Where a place is \[m\].
    pub(super) fn at(&self, place: usize) -> Point3<f64> {
        self.places[place].at
    }

    fn placed(
        &mut self,
        reading: &mut Reading<'_>,
        node: &'n Node,
        field: &str,
        depth: usize,
    ) -> Option<Placed> {
        match &node.value {
            Value::Text(name) => match self.index.get(name.as_str()).copied() {
                Some(_) if depth > LONGEST_CHAIN => {
                    reading.notes.fault(
                        node.at,
                        format!("\"{name}\" is reached through more than {LONGEST_CHAIN} points"),
                        "tape from points whose position is given as (x, y, z)",
                    );
                    None
                }
                Some(index) if matches!(self.states[index], State::Busy) => {
                    reading.notes.fault(
                        node.at,
                        format!("the point \"{name}\" is placed from itself, in a loop"),
                        "give one point of the loop as (x, y, z)",
                    );
                    None
                }
                Some(index) => self.entry(reading, index, depth),
                None => {
                    unknown(&mut reading.notes, node.at, "point", name, self.names());
                    None
                }
            },
            Value::Struct(Some(name), _) if name == "Tape" => {
                self.tape(reading, node, field, depth)
            }
            Value::Struct(None, Body::Items(_)) => {
                let at = reading.lengths(node, field, Accepts::Any)?;
                Some(Placed {
                    at: Point3::from(at),
                    tape: None,
                })
            }
            Value::Broken => None,
            other => {
                reading.notes.fault(
                    node.at,
                    format!("`{field}` is a point, found {}", other.phrase()),
                    "write (x, y, z), the \"name\" of a point, or Tape(from: [(\"name\", distance), …], side: \"left\")",
                );
                None
            }
        }
    }

    fn entry(&mut self, reading: &mut Reading<'_>, index: usize, depth: usize) -> Option<Placed> {
        if let State::Done(placed) = &self.states[index] {
            return placed.clone();
        }
        self.states[index] = State::Busy;
        let (name, _, node) = self.entries[index];
        let placed = self.placed(reading, node, name, depth + 1);
        self.states[index] = State::Done(placed.clone());
        placed
    }

    fn tape(
        &mut self,
        reading: &mut Reading<'_>,
        node: &'n Node,
        field: &str,
        depth: usize,
    ) -> Option<Placed> {
        let fields = Fields::of(&mut reading.notes, node, "a taped point", &["from", "side"])?;
        let side = fields.get("side").map(|side| {
            reading.choice(
                side,
                "side",
                &[
                    ("left", Side::Left),
                    ("right", Side::Right),
                    ("above", Side::Above),
                    ("below", Side::Below),
                    ("front", Side::Front),
                    ("rear", Side::Rear),
                ],
            )
        });
        let from = fields.need(
            &mut reading.notes,
            "from",
            "write from: [(\"name\", distance), …] with three or more known points",
        )?;
        let list = items(&mut reading.notes, from, "(\"name\", distance)");
        let mut readings = Vec::new();
        let mut whole = true;
        for item in list {
            let known = self.tape_reading(reading, item, depth);
            whole &= known.is_some();
            readings.extend(known);
        }
        let side = match side {
            Some(side) => Some(side?),
            None => None,
        };
        if !whole || (reading.notes.cut && readings.len() < 3) {
            return None;
        }
        let pairs: Vec<_> = readings.iter().map(|(_, at, d)| (*at, *d)).collect();
        let fix = match fix_from_tape(&pairs, side, self.tape_sd) {
            Ok(fix) => fix,
            Err(error) => {
                reading.notes.fault(
                    node.at,
                    format!("`{field}` cannot be placed: {error}"),
                    "measure again, from three or more points that lie well apart",
                );
                return None;
            }
        };
        let residual = fix.rms();
        if let Some(most) = self.tape_error.filter(|most| residual > *most) {
            let units = reading.units;
            let show = |v: f64| units.show(v, Kind::Length);
            let worst = fix
                .misfits
                .iter()
                .zip(&readings)
                .max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
            let worst = worst.map_or_else(String::new, |(misfit, (name, _, distance))| {
                format!(
                    "; worst is the one from \"{name}\": {} read, {} fits",
                    show(*distance),
                    show(distance - misfit)
                )
            });
            reading.notes.fault(
                node.at,
                format!(
                    "`{field}`: the taped distances do not meet in one point, they miss it by {} \
                     (`tape_error` allows {}){worst}",
                    show(residual),
                    show(most)
                ),
                "measure that distance again; `neckloom place FILE` shows the misfit of every reading",
            );
            return None;
        }
        Some(Placed {
            at: fix.at,
            tape: Some(Taped {
                readings,
                side,
                fix,
                residual,
            }),
        })
    }

    /// One `("name", distance)`.
    fn tape_reading(
        &mut self,
        reading: &mut Reading<'_>,
        item: &'n Node,
        depth: usize,
    ) -> Option<(String, Point3<f64>, f64)> {
        let pair = match &item.value {
            Value::Struct(None, Body::Items(pair)) if pair.len() == 2 => pair,
            Value::Broken => return None,
            other => {
                reading.notes.fault(
                    item.at,
                    format!("a taped distance is wanted here, found {}", other.phrase()),
                    "write (\"name of a known point\", distance)",
                );
                return None;
            }
        };
        let known = self.placed(reading, &pair[0], "from", depth + 1);
        let distance = reading.quantity(&pair[1], "distance", Kind::Length, Accepts::Positive);
        let known = known?;
        let name = match &pair[0].value {
            Value::Text(name) => name.clone(),
            // A point without a name is called by its coordinates.
            _ => {
                let units = reading.units;
                let [x, y, z] = [known.at.x, known.at.y, known.at.z]
                    .map(|v| units.convert(v, Kind::Length).0.to_string());
                format!("({x}, {y}, {z})")
            }
        };
        Some((name, known.at, distance?))
    }
}
