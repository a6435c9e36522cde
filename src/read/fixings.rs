//! The lay of a branch: fixings and waypoints in order.

use nalgebra::UnitVector3;

use crate::harness::{Finish, FixingKind, LengthRule, Via};
use crate::machine::BodyId;
use crate::quantity::{Accepts, Kind};

use super::bodies::Bodies;
use super::breakouts::Joined;
use super::fields::{Fields, Names, items, suggest};
use super::points::Points;
use super::spare::{self, RawSpare};
use super::tree::{Node, Value};
use super::value::Reading;

/// A fixing as far as it could be read. What is `None` has a fault noted, or was left out where that is said.
#[derive(Debug)]
pub(super) struct RawFixing {
    /// Where it stands in the text.
    pub(super) at: usize,
    pub(super) name: Option<String>,
    pub(super) kind: FixingKind,
    pub(super) on: Option<BodyId>,
    pub(super) place: Option<usize>,
    /// `None` also where it was left out.
    pub(super) facing: Option<UnitVector3<f64>>,
    /// `None` also where it was left out.
    pub(super) width: Option<f64>,
    /// `None` where neither length nor slack was given.
    pub(super) length: Option<LengthRule>,
    /// Slack gathered by hand on the way here, where given.
    pub(super) spare: Option<RawSpare>,
    /// Waypoints between the fixing before and this one.
    pub(super) vias: Vec<Via>,
}

impl RawFixing {
    /// A breakout that lists the branch.
    fn joined(at: usize, name: String) -> Self {
        Self {
            at,
            name: Some(name),
            kind: FixingKind::Breakout,
            on: None,
            place: None,
            facing: None,
            width: None,
            length: None,
            spare: None,
            vias: Vec::new(),
        }
    }
}

/// Reads the field `lay`.
pub(super) fn lay<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    bodies: &Bodies<'n>,
    points: &mut Points<'n>,
    (taken, breakouts): (&mut Names, &mut Vec<&'n str>),
    names: &mut Vec<&'n str>,
    joined: Joined,
) -> Vec<RawFixing> {
    let list = items(
        &mut reading.notes,
        node,
        "Tie(..), Clamp(..), Connector(..) or Via(..)",
    );
    let mut fixings: Vec<RawFixing> = Vec::new();
    let mut vias = Vec::new();
    // Counts every entry that is meant as a fixing, also those with faults.
    let mut meant = usize::from(joined.start.is_some()) + usize::from(joined.end.is_some());
    let begins = joined.start.is_none();
    let ends_here = joined.end.is_none();
    fixings.extend(joined.start.map(|name| RawFixing::joined(node.at, name)));
    for (index, item) in list.iter().enumerate() {
        let Value::Struct(Some(kind), _) = &item.value else {
            meant += 1;
            if item.value != Value::Broken {
                reading.notes.fault(
                    item.at,
                    format!("a fixing is wanted here, found {}", item.value.phrase()),
                    "write Tie(..), Clamp(..), Connector(..) or Via(..) with fields in the brackets",
                );
            }
            continue;
        };
        let ends = (
            index == 0 && begins,
            index + 1 == list.len() && ends_here && !reading.notes.cut,
        );
        if kind == "Via" {
            vias.extend(via(reading, item, bodies, points));
            if ends.0 || ends.1 {
                let end = if ends.0 { "begins" } else { "ends" };
                reading.notes.fault(
                    item.at,
                    format!("the branch {end} with a Via, which holds nothing"),
                    "let it begin and end with a Tie, Clamp or Connector",
                );
            }
            continue;
        }
        meant += 1;
        let fixing = fixing(reading, item, kind, bodies, points, ends);
        let Some((mut fixing, name)) = fixing else {
            vias.clear();
            continue;
        };
        if let Some((name, at)) = name {
            // A breakout stands in every branch that meets there.
            let again = fixing.kind == FixingKind::Breakout && breakouts.contains(&name);
            if !again && taken.add(&mut reading.notes, name, at, "fixing") {
                names.push(name);
                if fixing.kind == FixingKind::Breakout {
                    breakouts.push(name);
                }
            }
        }
        fixing.vias = std::mem::take(&mut vias);
        fixings.push(fixing);
    }
    fixings.extend(joined.end.map(|name| RawFixing {
        vias: std::mem::take(&mut vias),
        ..RawFixing::joined(node.at, name)
    }));
    if meant < 2 && matches!(node.value, Value::List(_)) && !reading.notes.cut {
        reading.notes.fault(
            node.at,
            format!(
                "the branch has {} fixing{}",
                if meant == 0 { "no" } else { "only one" },
                if meant == 0 {
                    ""
                } else {
                    ": it would hang free"
                }
            ),
            "give at least two: where it begins and where it ends",
        );
    }
    fixings
}

fn via<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    bodies: &Bodies<'n>,
    points: &mut Points<'n>,
) -> Option<Via> {
    let fields = Fields::of(&mut reading.notes, node, "a Via", &["name", "on", "at"])?;
    if let Some(name) = fields.get("name") {
        reading.text(name, "name");
    }
    let on = bodies.on(reading, &fields);
    let place = place(reading, &fields, points);
    Some(Via {
        on: on?,
        place: place?,
    })
}

fn place<'n>(
    reading: &mut Reading<'_>,
    fields: &Fields<'n>,
    points: &mut Points<'n>,
) -> Option<usize> {
    let node = fields.need(
        &mut reading.notes,
        "at",
        "write at: (x, y, z) or the \"name\" of a point",
    )?;
    points.place(reading, node, "at")
}

/// A fixing and its name with where that stands.
pub(super) type Named<'n> = (RawFixing, Option<(&'n str, usize)>);

fn fixing<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    kind: &str,
    bodies: &Bodies<'n>,
    points: &mut Points<'n>,
    (first, last): (bool, bool),
) -> Option<Named<'n>> {
    let (what, own): (&str, &[&str]) = match kind {
        "Tie" => ("a Tie", &["width", "pull", "loose", "rated"]),
        "Clamp" => ("a Clamp", &["width"]),
        "Connector" => ("a Connector", &["finish", "mated", "rated"]),
        "Grommet" => ("a Grommet", &["width"]),
        "Breakout" => ("a Breakout", &["branches"]),
        other => {
            let known = ["Tie", "Clamp", "Grommet", "Connector", "Breakout", "Via"];
            reading.notes.fault(
                node.at,
                format!("there is no fixing `{other}`"),
                suggest(other, known.into_iter(), "fixings are"),
            );
            return None;
        }
    };
    let mut known = vec!["name", "on", "at", "facing", "length", "slack", "spare"];
    known.extend(own);
    let fields = Fields::of(&mut reading.notes, node, what, &known)?;
    let name = fields
        .need(
            &mut reading.notes,
            "name",
            "write name: \"T1\", or what you call it",
        )
        .and_then(|node| Some((reading.text(node, "name")?, node.at)));
    let (on, place) = if kind == "Breakout" {
        breakout_place(reading, &fields, bodies, points)
    } else {
        (bodies.on(reading, &fields), place(reading, &fields, points))
    };
    let facing = fields
        .get("facing")
        .and_then(|node| reading.direction(node, "facing"));
    let width = positive(reading, &fields, "width", Kind::Length);
    let kind = match kind {
        "Tie" => FixingKind::Tie {
            pull: positive(reading, &fields, "pull", Kind::Force),
            loose: fields
                .get("loose")
                .and_then(|node| reading.flag(node, "loose"))
                .unwrap_or(false),
            rated: rated(reading, &fields),
        },
        "Clamp" => FixingKind::Clamp,
        "Grommet" => FixingKind::Grommet,
        "Breakout" => {
            if let Some(node) = fields.get("branches") {
                for item in items(&mut reading.notes, node, "names of branches") {
                    reading.text(item, "branches");
                }
            }
            FixingKind::Breakout
        }
        _ => connector(reading, &fields, first || last || reading.notes.cut),
    };
    let length = length(reading, &fields, first);
    let spare = spare::read(reading, &fields, first);
    let fixing = RawFixing {
        at: node.at,
        name: name.map(|(name, _)| name.to_owned()),
        kind,
        on,
        place,
        facing,
        width,
        length,
        spare,
        vias: Vec::new(),
    };
    Some((fixing, name))
}

/// A breakout may float: then it has neither, or only the place at which it is drawn.
fn breakout_place<'n>(
    reading: &mut Reading<'_>,
    fields: &Fields<'n>,
    bodies: &Bodies<'n>,
    points: &mut Points<'n>,
) -> (Option<BodyId>, Option<usize>) {
    let at = fields.get("at");
    let on = fields.get("on");
    if let (Some(on), None) = (on, at) {
        reading.notes.fault(
            on.at,
            "the breakout is `on` a body, but where is not given",
            "write at: (x, y, z) too, or neither if it floats",
        );
    }
    let on = on.and_then(|_| bodies.on(reading, fields));
    (on, at.and_then(|node| points.place(reading, node, "at")))
}

/// A fixing that a change adds: one that can stand in the middle of a branch.
pub(super) fn added_fixing<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    bodies: &Bodies<'n>,
    points: &mut Points<'n>,
) -> Option<Named<'n>> {
    match &node.value {
        Value::Struct(Some(kind), _) if matches!(kind.as_str(), "Tie" | "Clamp" | "Grommet") => {
            fixing(reading, node, kind, bodies, points, (false, false))
        }
        Value::Broken => None,
        other => {
            reading.notes.fault(
                node.at,
                format!("a fixing to add is wanted here, found {}", other.phrase()),
                "write Tie(..), Clamp(..) or Grommet(..) with fields in the brackets",
            );
            None
        }
    }
}

fn positive(reading: &mut Reading<'_>, fields: &Fields<'_>, name: &str, kind: Kind) -> Option<f64> {
    fields
        .get(name)
        .and_then(|node| reading.quantity(node, name, kind, Accepts::Positive))
}

fn connector(reading: &mut Reading<'_>, fields: &Fields<'_>, at_end: bool) -> FixingKind {
    if !at_end {
        reading.notes.fault(
            fields.at,
            "a Connector stands in the middle of a branch",
            "a branch ends in its connector: begin a new branch after it, or write Clamp(..)",
        );
    }
    let mut finish = |field: &str| {
        let finishes = [
            ("tin", Finish::Tin),
            ("silver", Finish::Silver),
            ("gold", Finish::Gold),
        ];
        let node = fields.get(field)?;
        reading.choice(node, field, &finishes)
    };
    let (finish, mated) = (finish("finish"), finish("mated"));
    FixingKind::Connector {
        finish,
        mated,
        rated: rated(reading, fields),
    }
}

fn rated(reading: &mut Reading<'_>, fields: &Fields<'_>) -> Option<f64> {
    let node = fields.get("rated")?;
    reading.quantity(node, "rated", Kind::Temperature, Accepts::Any)
}

fn length(reading: &mut Reading<'_>, fields: &Fields<'_>, first: bool) -> Option<LengthRule> {
    let given = fields.get("length").map(|node| (node, "length"));
    let slack = fields.get("slack").map(|node| (node, "slack"));
    if let (Some(_), Some((node, _))) = (given, slack) {
        reading.notes.fault(
            node.at,
            "both `length` and `slack` are given",
            "delete one: length is measured along the branch, slack is what is over the straight distance",
        );
    }
    let (node, field) = given.or(slack)?;
    if first {
        reading.notes.fault(
            node.at,
            format!("the first fixing has a `{field}`, but nothing comes before it"),
            "give it at the next fixing: it is measured from the fixing before",
        );
    }
    match field {
        "length" => reading
            .quantity(node, field, Kind::Length, Accepts::Positive)
            .map(LengthRule::Measured),
        _ => reading
            .quantity(node, field, Kind::Length, Accepts::NotNegative)
            .map(LengthRule::Slack),
    }
}
