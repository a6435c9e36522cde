//! Named what-ifs, read step by step.

use std::f64::consts::PI;

use crate::harness::Wire;
use crate::machine::{BodyId, Joint};
use crate::quantity::{Accepts, Kind};
use crate::route::{Added, Change, ChangeError, HeldAs, Route, Step, What};

use super::bodies::Bodies;
use super::fields::{Fields, entries, items, suggest, unknown};
use super::fixings::added_fixing;
use super::points::Points;
use super::tree::{Node, Value};
use super::value::Reading;
use super::wires::{Wires, cover, rewired};

/// What a change may name: each kind of thing with its names.
pub(super) struct Named<'a, 'n> {
    pub(super) parts: &'a [&'a str],
    pub(super) fixings: &'a [&'a str],
    pub(super) branches: Vec<&'a str>,
    pub(super) bodies: &'a Bodies<'n>,
    pub(super) wires: &'a Wires<'n>,
}

/// A change and where it stands.
pub(super) type Placed = (Change, usize);

const STEPS: [&str; 10] = [
    "Move", "Turn", "Add", "Remove", "Shift", "Hold", "Lengthen", "Travel", "Cover", "Wire",
];
const EXAMPLE: &str = "[Move(what: \"name\", by: (x, y, z))]";

/// Reads the field `changes`.
pub(super) fn read<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    named: &Named<'_, 'n>,
    points: &mut Points<'n>,
) -> Vec<Placed> {
    let mut changes = Vec::new();
    for (name, at, node) in entries(&mut reading.notes, node, EXAMPLE) {
        let list = items(
            &mut reading.notes,
            node,
            "Move(what: \"name\", by: (x, y, z))",
        );
        if list.is_empty() && matches!(node.value, Value::List(_)) {
            reading.notes.fault(
                node.at,
                format!("the change \"{name}\" changes nothing"),
                format!("write {EXAMPLE}"),
            );
        }
        let mut reader = StepReader {
            named,
            points: &mut *points,
            // A step may name what a step before it has added.
            added: Vec::new(),
        };
        let steps = list.iter().filter_map(|item| reader.step(reading, item));
        let steps = steps.collect();
        let name = name.to_owned();
        changes.push((Change { name, steps }, at));
    }
    changes
}

/// Notes the changes that the finished route cannot be given.
pub(super) fn can_be_made(reading: &mut Reading<'_>, route: &Route, at: &[usize]) {
    for (change, at) in route.changes.iter().zip(at) {
        if let Err(error) = route.changed(change, 1.0) {
            let cure = match error {
                ChangeError::End(_) => "let the branch end in another fixing first",
                ChangeError::NoLength { .. } => "shift it less far, or lengthen the span first",
                ChangeError::Which(_) => "write branch: \"name\" beside `to`",
                _ => "change the step that does it",
            };
            reading.notes.fault(
                *at,
                format!("the change \"{}\" cannot be made: {error}", change.name),
                cure,
            );
        }
    }
}

struct StepReader<'a, 'n, 'p> {
    named: &'a Named<'a, 'n>,
    points: &'p mut Points<'n>,
    added: Vec<&'n str>,
}

impl<'n> StepReader<'_, 'n, '_> {
    fn step(&mut self, reading: &mut Reading<'_>, item: &'n Node) -> Option<Step> {
        let kind = match &item.value {
            Value::Struct(Some(kind), _) => kind.as_str(),
            Value::Struct(None, _) => "Move",
            Value::Broken => return None,
            other => {
                reading.notes.fault(
                    item.at,
                    format!(
                        "a step of a change is wanted here, found {}",
                        other.phrase()
                    ),
                    format!("write {EXAMPLE}; steps are {}", STEPS.join(", ")),
                );
                return None;
            }
        };
        let known: &[&str] = match kind {
            "Move" => &["what", "by"],
            "Turn" => &["what", "about", "axis", "by"],
            "Add" => &["branch", "after", "fixing"],
            "Remove" => &["what"],
            "Shift" => &["what", "by", "along"],
            "Hold" => &["what", "facing", "free", "loose", "pull", "width", "into"],
            "Lengthen" => &["branch", "to", "by"],
            "Travel" => &["what", "from", "to"],
            "Cover" => &["branch", "cover", "bare"],
            "Wire" => &[
                "name", "size", "strands", "outside", "class", "safety", "current",
            ],
            other => {
                reading.notes.fault(
                    item.at,
                    format!("there is no change `{other}`"),
                    suggest(other, STEPS.into_iter(), "changes are"),
                );
                return None;
            }
        };
        let what = match kind {
            "Add" => "an Add".to_owned(),
            other => format!("a {other}"),
        };
        let fields = Fields::of(&mut reading.notes, item, &what, known)?;
        match kind {
            "Move" => self.shove(reading, &fields),
            "Turn" => self.turn(reading, &fields),
            "Add" => self.add(reading, &fields),
            "Remove" => Some(Step::Remove {
                what: self.fixing(reading, &fields, "what")?.to_owned(),
            }),
            "Shift" => self.shift(reading, &fields),
            "Hold" => self.hold(reading, &fields),
            "Lengthen" => self.lengthen(reading, &fields),
            "Travel" => self.travel(reading, &fields),
            "Cover" => self.cover(reading, &fields),
            _ => self.wire(reading, &fields),
        }
    }

    fn shove(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let what = self.what(reading, fields);
        let by = fields
            .need(&mut reading.notes, "by", "write by: (x, y, z)")
            .and_then(|node| reading.lengths(node, "by", Accepts::Any))?;
        if by.norm() <= 0.0 {
            reading.notes.fault(
                fields.at,
                "this Move moves by (0, 0, 0)",
                "write how far: forward, to the rider's left, up",
            );
        }
        Some(Step::Move { what: what?, by })
    }

    fn turn(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let what = self.what(reading, fields);
        let about = match fields.get("about") {
            Some(node) => Some(self.points.point(reading, node, "about")?),
            None => None,
        };
        let cure = "write axis: (x, y, z), such as (0, 1, 0) to tip it about the crosswise axis";
        let axis = fields
            .need(&mut reading.notes, "axis", cure)
            .and_then(|node| reading.direction(node, "axis"));
        let by = fields.need(&mut reading.notes, "by", "write by: \"10 deg\"");
        let by = by.and_then(|node| {
            let by = reading.quantity(node, "by", Kind::Angle, Accepts::Any)?;
            if by.abs() <= 0.0 || by.abs() > 2.0 * PI {
                reading.notes.fault(
                    node.at,
                    "this Turn turns by nothing, or more than once round",
                    "write how far, right-handed about the axis",
                );
                return None;
            }
            Some(by)
        });
        let what = what?;
        if about.is_none() && matches!(what, What::Part(_) | What::Body(_)) {
            reading.notes.fault(
                fields.at,
                "a Turn of a part or a body lacks its `about`",
                "write about: a point on the axis",
            );
            return None;
        }
        Some(Step::Turn {
            what,
            about,
            axis: axis?,
            by: by?,
        })
    }

    fn add(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let branch = self.branch(reading, fields, "branch");
        let after = self.fixing(reading, fields, "after");
        let cure = "write fixing: Tie(name: \"T9\", on: \"frame\", at: (x, y, z))";
        let node = fields.need(&mut reading.notes, "fixing", cure)?;
        // What is only thought of is no place that was measured.
        let mark = self.points.mark();
        let read = added_fixing(reading, node, self.named.bodies, self.points);
        let place = read.as_ref().and_then(|(raw, _)| raw.place);
        let at = place.map(|place| self.points.at(place));
        self.points.forget(&mark);
        let (raw, name) = read?;
        let (name, name_at) = name?;
        if self.named.fixings.contains(&name) || self.added.contains(&name) {
            reading.notes.fault(
                name_at,
                format!("there is a fixing \"{name}\" already"),
                "give the new one another name",
            );
        }
        self.added.push(name);
        let BodyId(on) = raw.on?;
        Some(Step::Add(Box::new(Added {
            branch: branch?.to_owned(),
            after: after?.to_owned(),
            name: name.to_owned(),
            kind: raw.kind,
            on: self.named.bodies.list.get(on)?.name.clone(),
            at: at?,
            facing: raw.facing,
            width: raw.width,
            length: raw.length,
        })))
    }

    fn shift(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let what = self.fixing(reading, fields, "what")?.to_owned();
        let by = match fields.get("by") {
            Some(node) => Some(reading.lengths(node, "by", Accepts::Any)?),
            None => None,
        };
        let along = match fields.get("along") {
            Some(node) => Some(reading.quantity(node, "along", Kind::Length, Accepts::Any)?),
            None => None,
        };
        if by.is_none() && along.is_none() {
            reading.notes.fault(
                fields.at,
                "a Shift lacks its `by` or `along`",
                "write along: 25 (toward the branch's end; -25 toward its start), by: (x, y, z), or both",
            );
            return None;
        }
        Some(Step::Shift { what, by, along })
    }

    fn hold(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let what = self.fixing(reading, fields, "what")?.to_owned();
        let facing = match fields.get("facing") {
            Some(node) => Some(Some(reading.direction(node, "facing")?)),
            None => None,
        };
        let free = match fields.get("free") {
            Some(node) => reading.flag(node, "free")?,
            None => false,
        };
        let loose = match fields.get("loose") {
            Some(node) => Some(reading.flag(node, "loose")?),
            None => None,
        };
        let cushioned = match fields.get("into") {
            Some(node) => Some(reading.choice(node, "into", &[("clamp", true), ("tie", false)])?),
            None => None,
        };
        let mut size = |name: &str, kind: Kind| match fields.get(name) {
            Some(node) => reading
                .quantity(node, name, kind, Accepts::Positive)
                .map(Some),
            None => Some(None),
        };
        let (pull, width) = (size("pull", Kind::Force)?, size("width", Kind::Length)?);
        if free && facing.is_some() {
            reading.notes.fault(
                fields.at,
                "both `facing` and `free` are given",
                "delete one: facing holds a direction, free: true lets it go",
            );
        }
        let hold = HeldAs {
            facing: if free { Some(None) } else { facing },
            loose,
            pull,
            width,
            cushioned,
        };
        if hold == HeldAs::default() {
            reading.notes.fault(
                fields.at,
                "this Hold changes nothing",
                "write facing: (x, y, z), free: true, loose: true, pull: \"20 N\", width: 9 or into: \"clamp\"",
            );
        }
        Some(Step::Hold { what, hold })
    }

    fn lengthen(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let branch = match fields.get("branch") {
            Some(_) => Some(self.branch(reading, fields, "branch")?.to_owned()),
            None => None,
        };
        let to = self.fixing(reading, fields, "to");
        let by = fields
            .need(
                &mut reading.notes,
                "by",
                "write by: how much longer; less than zero shortens",
            )
            .and_then(|node| reading.quantity(node, "by", Kind::Length, Accepts::Any));
        Some(Step::Lengthen {
            branch,
            to: to?.to_owned(),
            by: by?,
        })
    }

    fn travel(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let cure = "write what: the name of a body that turns or slides";
        let node = fields.need(&mut reading.notes, "what", cure)?;
        let name = reading.text(node, "what")?;
        let list = &self.named.bodies.list;
        let Some(body) = list.iter().find(|body| body.name == name) else {
            let names = self.named.bodies.names();
            unknown(&mut reading.notes, node.at, "body", name, names);
            return None;
        };
        let kind = match body.joint {
            Joint::Turns { .. } => Kind::Angle,
            Joint::Slides { .. } => Kind::Length,
            Joint::Fixed => {
                reading.notes.fault(
                    node.at,
                    format!("\"{name}\" is Fixed: it has no travel"),
                    "name a body that Turns or Slides",
                );
                return None;
            }
        };
        let mut end = |name: &str| match fields.get(name) {
            Some(node) => reading.quantity(node, name, kind, Accepts::Any).map(Some),
            None => Some(None),
        };
        let (from, to) = (end("from")?, end("to")?);
        if from.is_none() && to.is_none() {
            reading.notes.fault(
                fields.at,
                "a Travel lacks its `from` or `to`",
                "write from: or to:, the new stops",
            );
            return None;
        }
        Some(Step::Travel {
            what: name.to_owned(),
            from,
            to,
        })
    }

    fn cover(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let branch = self.branch(reading, fields, "branch");
        let bare = match fields.get("bare") {
            Some(node) => reading.flag(node, "bare")?,
            None => false,
        };
        let new = match fields.get("cover") {
            Some(node) => Some(cover(reading, node)?),
            None => None,
        };
        if new.is_some() == bare {
            reading.notes.fault(
                fields.at,
                "a Cover needs `cover` or `bare: true`, and not both",
                "write cover: (kind: \"braid\", wall: 0.8), or bare: true to take it off",
            );
            return None;
        }
        Some(Step::Cover {
            branch: branch?.to_owned(),
            cover: new,
        })
    }

    fn wire(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<Step> {
        let node = fields.need(
            &mut reading.notes,
            "name",
            "write name: the wire to replace",
        )?;
        let name = reading.text(node, "name")?;
        let Some(id) = self.named.wires.get(name) else {
            let names: Vec<&str> = self.named.wires.names().collect();
            let names = names.iter().copied();
            unknown(&mut reading.notes, node.at, "wire", name, names);
            return None;
        };
        let old: &Wire = &self.named.wires.list[id?.0];
        let wire = rewired(reading, fields, old)?;
        if wire == *old {
            reading.notes.fault(
                fields.at,
                format!("this Wire leaves \"{name}\" as it is"),
                "write what is different: size, strands, outside, class",
            );
        }
        Some(Step::Wire { wire })
    }

    /// A fixing that a field names, one that an earlier step added among them.
    fn fixing(
        &mut self,
        reading: &mut Reading<'_>,
        fields: &Fields<'n>,
        field: &str,
    ) -> Option<&'n str> {
        let cure = format!("write {field}: the name of a fixing");
        let node = fields.need(&mut reading.notes, field, &cure)?;
        let name = reading.text(node, field)?;
        if self.named.fixings.contains(&name) || self.added.contains(&name) {
            return Some(name);
        }
        let known = self.named.fixings.iter().copied();
        unknown(&mut reading.notes, node.at, "fixing", name, known);
        None
    }

    fn branch(
        &mut self,
        reading: &mut Reading<'_>,
        fields: &Fields<'n>,
        field: &str,
    ) -> Option<&'n str> {
        let cure = format!("write {field}: the name of a branch");
        let node = fields.need(&mut reading.notes, field, &cure)?;
        let name = reading.text(node, field)?;
        if self.named.branches.contains(&name) {
            return Some(name);
        }
        let known = self.named.branches.iter().copied();
        unknown(&mut reading.notes, node.at, "branch", name, known);
        None
    }

    /// What a Move or a Turn is about.
    fn what(&mut self, reading: &mut Reading<'_>, fields: &Fields<'n>) -> Option<What> {
        let cure = "write what: the name of a part, a point, a fixing or a body";
        let node = fields.need(&mut reading.notes, "what", cure)?;
        let name = reading.text(node, "what")?;
        let own = name.to_owned();
        let mut found = Vec::new();
        if self.named.parts.contains(&name) {
            found.push((What::Part(own.clone()), "a part"));
        }
        if self.points.names().any(|point| point == name) {
            found.push((What::Point(own.clone()), "a point"));
        }
        if self.named.fixings.contains(&name) || self.added.contains(&name) {
            found.push((What::Fixing(own.clone()), "a fixing"));
        }
        if self.named.bodies.names().any(|body| body == name) {
            found.push((What::Body(own), "a body"));
        }
        match found.as_slice() {
            [] => {
                let points = self.points.names();
                let names = self.named.parts.iter().copied().chain(points);
                let names = names.chain(self.named.fixings.iter().copied());
                let names: Vec<&str> = names.chain(self.named.bodies.names()).collect();
                let kinds = "part, point, fixing or body";
                unknown(
                    &mut reading.notes,
                    node.at,
                    kinds,
                    name,
                    names.iter().copied(),
                );
                None
            }
            [(what, _)] => Some(what.clone()),
            many => {
                let kinds: Vec<&str> = many.iter().map(|(_, kind)| *kind).collect();
                reading.notes.fault(
                    node.at,
                    format!("\"{name}\" is the name of {}", kinds.join(" and of ")),
                    "give one of them another name, so that it is clear what moves",
                );
                None
            }
        }
    }
}
