//! Bodies: a tree of joints.

use std::collections::HashMap;

use nalgebra::{UnitVector3, Vector3};

use crate::machine::{Body, BodyId, Joint, Said};
use crate::quantity::{Accepts, Kind};

use super::fields::{Fields, entries, suggest, unknown};
use super::points::Points;
use super::tree::{Body as Contents, Node, Value};
use super::value::Reading;

/// The bodies, parents first, and their names.
#[derive(Debug, Default)]
pub(super) struct Bodies<'n> {
    pub(super) list: Vec<Body>,
    index: HashMap<&'n str, BodyId>,
}

/// More moving bodies than this are not read: every one adds its poses, and no machine has so many.
const MOST_MOVING: usize = 24;

/// Whether a body is written as one that moves.
fn moves(node: &Node) -> bool {
    !matches!(&node.value, Value::Struct(Some(name), _) if name == "Fixed")
}

impl<'n> Bodies<'n> {
    /// Reads the field `bodies`. A body whose joint has a fault stands in the list as a fixed one, so that what
    /// stands on it is not reported as well.
    pub(super) fn read(reading: &mut Reading<'_>, node: &'n Node, points: &mut Points<'n>) -> Self {
        let named = entries(&mut reading.notes, node, "Fixed");
        if named.is_empty() && matches!(&node.value, Value::Map(pairs) if pairs.is_empty()) {
            reading.notes.fault(
                node.at,
                "there is no body",
                "write at least { \"frame\": Fixed }",
            );
        }
        if let Some((_, at, _)) = named.iter().filter(|entry| moves(entry.2)).nth(MOST_MOVING) {
            reading.notes.fault(
                *at,
                format!("more than {MOST_MOVING} bodies move"),
                "keep those whose motion the harness feels, and write Fixed for the others",
            );
        }
        let at: HashMap<&str, usize> = named.iter().enumerate().map(|(i, e)| (e.0, i)).collect();
        let names = named.iter().map(|entry| entry.0);
        let (mut joints, mut said) = (Vec::new(), Vec::new());
        // Parent of each body and where it is named.
        let mut parents: Vec<Option<(usize, usize)>> = Vec::new();
        for (_, _, node) in &named {
            let (joint, on) = joint(reading, node, points);
            let joint = joint.unwrap_or(Joint::Fixed);
            said.push(words(reading, node, &joint));
            joints.push(joint);
            let on = on.and_then(|on| Some((reading.text(on, "on")?, on.at)));
            parents.push(on.and_then(|(name, place)| {
                let parent = at.get(name).copied();
                if parent.is_none() {
                    unknown(&mut reading.notes, place, "body", name, names.clone());
                }
                parent.map(|parent| (parent, place))
            }));
        }
        let order = parents_first(reading, &mut parents, |i| named[i].0);
        let mut place = vec![0; named.len()];
        for (new, &old) in order.iter().enumerate() {
            place[old] = new;
        }
        let list = order
            .iter()
            .map(|&old| Body {
                name: named[old].0.to_owned(),
                on: parents[old].map(|(parent, _)| BodyId(place[parent])),
                joint: joints[old],
                said: said[old].take(),
            })
            .collect();
        let index = named
            .iter()
            .enumerate()
            .map(|(old, entry)| (entry.0, BodyId(place[old])))
            .collect();
        Self { list, index }
    }

    /// Names of the bodies.
    pub(super) fn names(&self) -> impl Iterator<Item = &str> + Clone {
        self.list.iter().map(|body| body.name.as_str())
    }

    /// The body of this name.
    pub(super) fn named(&self, name: &str) -> Option<BodyId> {
        self.index.get(name).copied()
    }

    /// The body that a field `on` names.
    pub(super) fn on(&self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<BodyId> {
        let node = fields.need(
            &mut reading.notes,
            "on",
            "write on: \"name\" of the body that it is fixed to",
        )?;
        let name = reading.text(node, "on")?;
        let found = self.index.get(name).copied();
        if found.is_none() {
            unknown(&mut reading.notes, node.at, "body", name, self.names());
        }
        found
    }
}

/// An order in which every parent stands before its children, else that of the file. Loops are noted and cut.
fn parents_first<'a>(
    reading: &mut Reading<'_>,
    parents: &mut [Option<(usize, usize)>],
    name: impl Fn(usize) -> &'a str,
) -> Vec<usize> {
    #[derive(Clone, Copy, PartialEq)]
    enum Mark {
        New,
        OnWay,
        Done,
    }
    let mut marks = vec![Mark::New; parents.len()];
    let mut order = Vec::new();
    for start in 0..parents.len() {
        let mut way = Vec::new();
        let mut here = start;
        while marks[here] == Mark::New {
            marks[here] = Mark::OnWay;
            way.push(here);
            match parents[here] {
                Some((parent, place)) if marks[parent] == Mark::OnWay => {
                    let from = way.iter().position(|&b| b == parent).unwrap_or(0);
                    let round: Vec<&str> = way[from..].iter().map(|&b| name(b)).collect();
                    let round = match round.as_slice() {
                        [one] => format!("the body \"{one}\" moves on itself"),
                        many => format!(
                            "the bodies \"{}\" move on each other in a loop",
                            many.join("\", \"")
                        ),
                    };
                    reading.notes.fault(
                        place,
                        round,
                        "let one of them move on a body that is Fixed, such as the frame",
                    );
                    parents[here] = None;
                }
                Some((parent, _)) => here = parent,
                None => {}
            }
        }
        for &body in way.iter().rev() {
            marks[body] = Mark::Done;
            order.push(body);
        }
    }
    order
}

/// A joint, and the field that names its parent.
fn joint<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    points: &mut Points<'n>,
) -> (Option<Joint>, Option<&'n Node>) {
    const KNOWN: [&str; 3] = ["Fixed", "Turns", "Slides"];
    let Value::Struct(Some(kind), contents) = &node.value else {
        if node.value != Value::Broken {
            reading.notes.fault(
                node.at,
                format!("a body is wanted here, found {}", node.value.phrase()),
                "write Fixed, Turns(on: .., through: .., rake: .., from: .., to: ..) or Slides(on: .., along: .., \
                 from: .., to: ..)",
            );
        }
        return (None, None);
    };
    match kind.as_str() {
        "Fixed" => {
            if *contents != Contents::Empty {
                reading.notes.fault(
                    node.at,
                    "`Fixed` has no fields",
                    "write Fixed alone; a body that moves on another is Turns(..) or Slides(..)",
                );
            }
            (Some(Joint::Fixed), None)
        }
        "Turns" => turns(reading, node, points),
        "Slides" => slides(reading, node),
        other => {
            reading.notes.fault(
                node.at,
                format!("there is no joint `{other}`"),
                suggest(other, KNOWN.into_iter(), "a body is one of"),
            );
            (None, None)
        }
    }
}

const ON: &str = "write on: \"name\" of the body that carries it, such as \"frame\"";

fn turns<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    points: &mut Points<'n>,
) -> (Option<Joint>, Option<&'n Node>) {
    let known = ["on", "through", "rake", "axis", "from", "to", "said"];
    let Some(fields) = Fields::of(&mut reading.notes, node, "a turning body", &known) else {
        return (None, None);
    };
    let on = fields.need(&mut reading.notes, "on", ON);
    let through = fields
        .need(
            &mut reading.notes,
            "through",
            "write through: a point on the axis, such as the top of the steering stem",
        )
        .and_then(|node| points.point(reading, node, "through"));
    let axis = axis(reading, &fields);
    let range = range(reading, &fields, Kind::Angle);
    let joint = || {
        let (from, to) = range?;
        Some(Joint::Turns {
            through: through?,
            axis: axis?,
            from,
            to,
        })
    };
    (joint(), on)
}

fn axis(reading: &mut Reading<'_>, fields: &Fields<'_>) -> Option<UnitVector3<f64>> {
    match (fields.get("rake"), fields.get("axis")) {
        (Some(rake), None) => {
            let angle = reading.quantity(rake, "rake", Kind::Angle, Accepts::Any)?;
            if angle.abs() >= std::f64::consts::FRAC_PI_2 {
                reading.notes.fault(
                    rake.at,
                    format!("`rake` is {}", reading.units.show(angle, Kind::Angle)),
                    "rake is measured from the vertical, so it lies below 90 deg; most machines have 23 to 35 deg",
                );
                return None;
            }
            Some(UnitVector3::new_normalize(Vector3::new(
                -angle.sin(),
                0.0,
                angle.cos(),
            )))
        }
        (None, Some(axis)) => reading.direction(axis, "axis"),
        (Some(_), Some(axis)) => {
            reading.notes.fault(
                axis.at,
                "a turning body has both `rake` and `axis`",
                "delete one: rake is enough for a steering, axis is for anything else",
            );
            None
        }
        (None, None) => {
            if !reading.notes.cut {
                reading.notes.fault(
                    fields.at,
                    "a turning body lacks its `rake` or `axis`",
                    "write rake: \"30 deg\" (how far the axis leans rearward) or axis: (x, y, z)",
                );
            }
            None
        }
    }
}

fn slides<'n>(reading: &mut Reading<'_>, node: &'n Node) -> (Option<Joint>, Option<&'n Node>) {
    let known = ["on", "along", "from", "to", "said"];
    let Some(fields) = Fields::of(&mut reading.notes, node, "a sliding body", &known) else {
        return (None, None);
    };
    let on = fields.need(&mut reading.notes, "on", ON);
    let along = fields
        .need(
            &mut reading.notes,
            "along",
            "write along: the direction of travel, such as (0, 0, -1) for down",
        )
        .and_then(|node| reading.direction(node, "along"));
    let range = range(reading, &fields, Kind::Length);
    let joint = || {
        let (from, to) = range?;
        Some(Joint::Slides {
            along: along?,
            from,
            to,
        })
    };
    (joint(), on)
}

/// What a body's motion is called: one word where it moves to one side of zero, two where it moves to both.
fn words(reading: &mut Reading<'_>, node: &Node, joint: &Joint) -> Option<Said> {
    // Unknown and repeated fields were noted when the joint was read.
    let Value::Struct(_, Contents::Fields(fields)) = &node.value else {
        return None;
    };
    let field = fields.iter().find(|field| field.name == "said")?;
    let mut word = |node: &Node| {
        let word = reading.text(node, "said")?.trim();
        if word.is_empty() {
            reading.notes.fault(
                node.at,
                "`said` is empty",
                "write what the motion is called: said: \"pressed\"",
            );
        }
        Some(word.to_owned())
    };
    let pair = match &field.value.value {
        Value::Struct(None, Contents::Items(pair)) => pair.as_slice(),
        _ => std::slice::from_ref(&field.value),
    };
    let (from, to) = joint.stops();
    match pair {
        [below, above] => Some(Said {
            below: word(below)?,
            above: word(above)?,
        }),
        [one] if from < 0.0 && to > 0.0 => {
            word(one)?;
            reading.notes.fault(
                one.at,
                "`said` is one word, but this body moves both ways",
                "write two, for below and above zero: said: (\"extended\", \"compressed\")",
            );
            None
        }
        [one] => {
            let word = word(one)?;
            Some(Said {
                below: word.clone(),
                above: word,
            })
        }
        many => {
            reading.notes.fault(
                field.value.at,
                format!("`said` holds {} words", many.len()),
                "write one word, or two for a body that moves both ways",
            );
            None
        }
    }
}

/// A harness across a joint that turns further would be wound up \[rad\]; a little more, for rounding.
const HALF_TURN: f64 = std::f64::consts::PI * (1.0 + 1e-9);

/// `from` and `to` of a joint.
fn range(reading: &mut Reading<'_>, fields: &Fields<'_>, kind: Kind) -> Option<(f64, f64)> {
    let mut end = |name: &str, cure: &str| {
        fields
            .need(&mut reading.notes, name, cure)
            .and_then(|node| Some((reading.quantity(node, name, kind, Accepts::Any)?, node.at)))
    };
    let from = end("from", "write from: its least value, at one stop");
    let to = end("to", "write to: its greatest value, at the other stop");
    let ((from, at), (to, to_at)) = (from?, to?);
    if kind == Kind::Angle
        && let Some(at) = [(from, at), (to, to_at)]
            .iter()
            .find(|(value, _)| value.abs() > HALF_TURN)
            .map(|(_, at)| *at)
    {
        reading.notes.fault(
            at,
            "a joint turns by at most 180 deg each way",
            "give the angle from straight ahead to this stop",
        );
        return None;
    }
    if from > to {
        let units = reading.units;
        reading.notes.fault(
            at,
            format!(
                "`from` ({}) is above `to` ({})",
                units.show(from, kind),
                units.show(to, kind)
            ),
            "exchange the two",
        );
        return None;
    }
    Some((from, to))
}

/// The value that each joint has at rest: zero, or the end of its range nearest to zero.
pub(super) fn rest(bodies: &[Body]) -> Vec<f64> {
    bodies
        .iter()
        .map(|body| match body.joint {
            Joint::Fixed => 0.0,
            Joint::Turns { from, to, .. } | Joint::Slides { from, to, .. } => {
                0_f64.max(from).min(to)
            }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use nalgebra::Point3;

    use super::*;

    #[test]
    fn rest_is_the_end_nearest_to_zero() {
        let slide = |from, to| Body {
            name: String::new(),
            on: None,
            joint: Joint::Slides {
                along: Vector3::z_axis(),
                from,
                to,
            },
            said: None,
        };
        let turn = Body {
            name: String::new(),
            on: None,
            joint: Joint::Turns {
                through: Point3::origin(),
                axis: Vector3::z_axis(),
                from: -2.0,
                to: -1.0,
            },
            said: None,
        };
        let bodies = [slide(0.003, 0.012), turn, slide(-1.0, 1.0)];
        assert_eq!(rest(&bodies), [0.003, -1.0, 0.0]);
    }
}
