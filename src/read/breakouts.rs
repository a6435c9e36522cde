//! Breakouts: where branches meet, put together from all the branches that name them.

use std::collections::HashMap;

use nalgebra::Point3;

use crate::harness::{Branch, BranchId, Breakout, FixingKind, Held, LengthRule, Meeting};
use crate::machine::{Body, BodyId, Joint, Machine};
use crate::quantity::Kind;

use super::bodies::{Bodies, rest};
use super::branches::RawBranch;
use super::fields::unknown;
use super::fixings::RawFixing;
use super::points::Points;
use super::tree::{Body as Contents, Field, Node, Value};
use super::value::Reading;

/// Rounds in which breakouts that float find a place between their neighbours: each halves what is left, or better.
const ROUNDS: usize = 200;

/// Which branches the breakouts of a file name: seen before the branches are read, since a branch may begin at a breakout
/// that stands in another one.
#[derive(Debug, Default)]
pub(super) struct Announced<'n> {
    /// Name of each breakout with the branches that it lists, and where.
    lists: Vec<(&'n str, Vec<(&'n str, usize)>)>,
    /// The breakouts that stand in each branch's own lay.
    own: HashMap<&'n str, Vec<&'n str>>,
}

/// The breakouts that a branch joins without naming them in its lay.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub(super) struct Joined {
    pub(super) start: Option<String>,
    pub(super) end: Option<String>,
}

fn field<'n>(node: &'n Node, name: &str) -> Option<&'n Node> {
    let Value::Struct(_, Contents::Fields(fields)) = &node.value else {
        return None;
    };
    let named = |field: &&Field| field.name == name;
    fields.iter().find(named).map(|field| &field.value)
}

fn list(node: &Node) -> &[Node] {
    match &node.value {
        Value::List(items) => items,
        _ => &[],
    }
}

fn text(node: &Node) -> Option<&str> {
    match &node.value {
        Value::Text(text) => Some(text),
        _ => None,
    }
}

impl<'n> Announced<'n> {
    /// Looks through the field `branches`; what is wrong there is noted when it is read.
    pub(super) fn of(node: &'n Node) -> Self {
        let mut found = Self::default();
        for branch in list(node) {
            let own = field(branch, "name").and_then(text).unwrap_or("");
            for fixing in field(branch, "lay").map_or(&[][..], list) {
                if !matches!(&fixing.value, Value::Struct(Some(kind), _) if kind == "Breakout") {
                    continue;
                }
                let Some(name) = field(fixing, "name").and_then(text) else {
                    continue;
                };
                found.own.entry(own).or_default().push(name);
                let meets = field(fixing, "branches").map_or(&[][..], list).iter();
                let meets = meets.filter_map(|node| Some((text(node)?, node.at)));
                found.lists.push((name, meets.collect()));
            }
        }
        found
    }

    /// Where a branch joins breakouts that list it, but that its own lay does not name. A branch that begins with a
    /// connector, no length before it, joins at its other end; any other begins at the first such breakout and ends at the
    /// second.
    pub(super) fn joined(&self, branch: &str, lay: Option<&Node>) -> Joined {
        let own = self.own.get(branch);
        let mut open: Vec<&str> = Vec::new();
        for (name, meets) in &self.lists {
            let listed = meets.iter().any(|(other, _)| *other == branch);
            let said = own.is_some_and(|own| own.contains(name)) || open.contains(name);
            if listed && !said {
                open.push(name);
            }
        }
        let lay = lay.map_or(&[][..], list);
        let begins_with_connector = lay.len() > 1
            && lay.first().is_some_and(|first| {
                let connector =
                    matches!(&first.value, Value::Struct(Some(kind), _) if kind == "Connector");
                // A length tells that something comes before it.
                connector && field(first, "length").or(field(first, "slack")).is_none()
            });
        let mut open = open.into_iter().map(str::to_owned);
        let start = if begins_with_connector {
            None
        } else {
            open.next()
        };
        Joined {
            start,
            end: open.next(),
        }
    }

    /// Notes listed branches that do not exist, and those that are listed at more breakouts than they have ends.
    pub(super) fn check(&self, reading: &mut Reading<'_>, branches: &[RawBranch]) {
        let names = || branches.iter().filter_map(|branch| branch.name.as_deref());
        for (name, meets) in &self.lists {
            for (branch, at) in meets {
                let Some(raw) = branches
                    .iter()
                    .find(|raw| raw.name.as_deref() == Some(*branch))
                else {
                    unknown(&mut reading.notes, *at, "branch", branch, names());
                    continue;
                };
                if !raw.lay.iter().any(|f| f.name.as_deref() == Some(*name)) {
                    reading.notes.fault(
                        *at,
                        format!(
                            "the branch \"{branch}\" is listed at more breakouts than it has free ends"
                        ),
                        format!(
                            "write Breakout(name: \"{name}\") in the `lay` of \"{branch}\" where it belongs"
                        ),
                    );
                }
            }
        }
    }
}

/// A breakout as far as its mentions tell.
struct Found {
    name: String,
    /// Where it is first named.
    at: usize,
    on: Option<BodyId>,
    place: Option<usize>,
    faces: bool,
    /// Branch and index in its lay.
    mentions: Vec<(usize, usize)>,
}

/// Puts the breakouts together: gives each a body and a place, and its fixings both.
pub(super) fn join<'n>(
    reading: &mut Reading<'_>,
    branches: &mut [RawBranch],
    bodies: &mut Bodies<'n>,
    points: &mut Points<'n>,
) -> Vec<Breakout> {
    let mut found = gather(reading, branches);
    let joints = rest(&bodies.list);
    let machine = Machine {
        bodies: bodies.list.clone(),
        parts: Vec::new(),
    };
    let stance = machine.stance(&joints);
    let position = |fixing: &RawFixing, points: &Points<'_>| -> Option<Point3<f64>> {
        let (on, place) = (fixing.on?, fixing.place?);
        Some(stance.bodies.get(on.0)? * points.at(place))
    };
    for breakout in &mut found {
        for &(b, lay) in &breakout.mentions {
            branches[b].lay[lay].on = breakout.on;
            branches[b].lay[lay].place = breakout.place;
        }
        if breakout.place.is_none() {
            slack_without_place(reading, branches, breakout);
        }
    }
    let guessed = between_neighbours(&found, branches, |fixing| position(fixing, points));
    let mut breakouts = Vec::new();
    for (breakout, guess) in found.into_iter().zip(guessed) {
        let place = breakout.place.unwrap_or_else(|| {
            let at = guess.unwrap_or_else(Point3::origin);
            let units = reading.units;
            let [x, y, z] = [at.x, at.y, at.z].map(|c| units.show_to(c, Kind::Length, 0));
            reading.assumed.push(format!(
                "the breakout \"{}\" floats; it is looked for from ({x}, {y}, {z}) on, between what its branches lead \
                 to (no `at` given)",
                breakout.name
            ));
            points.add(at)
        });
        let held = match (breakout.on, breakout.faces) {
            (None, _) => Held::Floats,
            (Some(_), false) => Held::Pivots,
            (Some(_), true) => Held::Firmly,
        };
        let body = match (held, breakout.on) {
            (Held::Firmly, Some(on)) => on,
            (_, on) => {
                bodies.list.push(Body {
                    name: breakout.name.clone(),
                    on,
                    joint: Joint::Fixed,
                    said: None,
                });
                BodyId(bodies.list.len() - 1)
            }
        };
        for &(b, lay) in &breakout.mentions {
            let fixing = &mut branches[b].lay[lay];
            (fixing.on, fixing.place) = (Some(body), Some(place));
        }
        breakouts.push(Breakout {
            name: breakout.name,
            body,
            place,
            held,
            meets: breakout
                .mentions
                .iter()
                .map(|&(b, lay)| Meeting {
                    branch: BranchId(b),
                    lay,
                })
                .collect(),
        });
    }
    breakouts
}

/// Collects the mentions of each breakout and notes those that do not agree, or join nothing.
fn gather(reading: &mut Reading<'_>, branches: &[RawBranch]) -> Vec<Found> {
    let mut found: Vec<Found> = Vec::new();
    for (b, branch) in branches.iter().enumerate() {
        for (lay, fixing) in branch.lay.iter().enumerate() {
            let Some(name) = fixing
                .name
                .as_ref()
                .filter(|_| fixing.kind == FixingKind::Breakout)
            else {
                continue;
            };
            let known = found.iter_mut().find(|known| known.name == *name);
            let Some(known) = known else {
                found.push(Found {
                    name: name.clone(),
                    at: fixing.at,
                    on: fixing.on,
                    place: fixing.place,
                    faces: fixing.facing.is_some() && fixing.on.is_some(),
                    mentions: vec![(b, lay)],
                });
                continue;
            };
            if known.mentions.iter().any(|mention| mention.0 == b) {
                reading.notes.fault(
                    fixing.at,
                    format!("the branch runs through the breakout \"{name}\" twice"),
                    "a branch meets a breakout once; write the loop as a branch of its own",
                );
            }
            let twice = (fixing.on.is_some() && known.on.is_some())
                || (fixing.place.is_some() && known.place.is_some());
            if twice {
                let line = reading.notes.line(known.at);
                reading.notes.fault(
                    fixing.at,
                    format!("where the breakout \"{name}\" is stands twice, also on {line}"),
                    "write `on` and `at` in one branch; the others write Breakout(name: ..) alone",
                );
            }
            if known.place.is_none() {
                (known.on, known.place) = (fixing.on, fixing.place);
            }
            known.faces |= fixing.facing.is_some() && fixing.on.is_some();
            known.mentions.push((b, lay));
        }
    }
    for breakout in &found {
        let through = |&(b, lay): &(usize, usize)| lay > 0 && lay + 1 < branches[b].lay.len();
        if breakout.mentions.len() == 1 && !breakout.mentions.iter().any(through) {
            reading.notes.fault(
                breakout.at,
                format!(
                    "only one branch leads to the breakout \"{}\"",
                    breakout.name
                ),
                "list the others in its `branches: [\"..\"]`, or end the branch in a Connector",
            );
        }
    }
    found
}

/// `slack` counts from the straight distance, which nobody knows where the breakout has no place.
fn slack_without_place(reading: &mut Reading<'_>, branches: &[RawBranch], breakout: &Found) {
    for &(b, lay) in &breakout.mentions {
        for to in [lay, lay + 1] {
            let Some(fixing) = branches[b].lay.get(to).filter(|_| to > 0) else {
                continue;
            };
            if matches!(fixing.length, Some(LengthRule::Slack(_))) {
                reading.notes.fault(
                    fixing.at,
                    format!(
                        "`slack` is over the straight distance, but where the breakout \"{}\" lies is not given",
                        breakout.name
                    ),
                    "give `length`, measured along the branch, or the breakout's `at`",
                );
            }
        }
    }
}

/// Where breakouts that float may begin: each in the middle of what its branches lead to, nearer ones counting more.
fn between_neighbours(
    found: &[Found],
    branches: &[RawBranch],
    position: impl Fn(&RawFixing) -> Option<Point3<f64>>,
) -> Vec<Option<Point3<f64>>> {
    let index = |fixing: &RawFixing| {
        let name = fixing.name.as_ref()?;
        let kind = fixing.kind == FixingKind::Breakout;
        found.iter().position(|b| kind && b.name == *name)
    };
    let mut at: Vec<Option<Point3<f64>>> = found
        .iter()
        .map(|b| {
            let (branch, lay) = b.mentions[0];
            position(&branches[branch].lay[lay])
        })
        .collect();
    let fixed: Vec<bool> = at.iter().map(Option::is_some).collect();
    for _ in 0..ROUNDS {
        for (i, breakout) in found.iter().enumerate() {
            if fixed[i] {
                continue;
            }
            let (mut sum, mut weights) = (nalgebra::Vector3::zeros(), 0.0);
            for &(b, lay) in &breakout.mentions {
                let all = &branches[b].lay;
                // The length of the span stands at its end.
                let ways = [
                    lay.checked_sub(1).map(|before| (before, lay)),
                    (lay + 1 < all.len()).then_some((lay + 1, lay + 1)),
                ];
                for (other, end) in ways.into_iter().flatten() {
                    let fixing = &all[other];
                    let there = match index(fixing) {
                        Some(k) => at[k],
                        None => position(fixing),
                    };
                    let Some(there) = there else { continue };
                    let weight = match all[end].length {
                        Some(LengthRule::Measured(length)) if length > 0.0 => 1.0 / length,
                        _ => 10.0,
                    };
                    sum += there.coords * weight;
                    weights += weight;
                }
            }
            if weights > 0.0 {
                at[i] = Some(Point3::from(sum / weights));
            }
        }
    }
    at
}

/// Says which wires run through branches that do not meet.
pub(super) fn wires_that_jump(
    reading: &mut Reading<'_>,
    runs: &[(String, Vec<usize>)],
    branches: &[Branch],
    breakouts: &[Breakout],
) {
    for (wire, through) in runs {
        let Some(first) = through.first() else {
            continue;
        };
        let (mut reached, mut open) = (vec![*first], vec![*first]);
        while let Some(here) = open.pop() {
            for breakout in breakouts {
                let meets = |b: usize| breakout.meets.iter().any(|m| m.branch.0 == b);
                if !meets(here) {
                    continue;
                }
                for &next in through {
                    if meets(next) && !reached.contains(&next) {
                        reached.push(next);
                        open.push(next);
                    }
                }
            }
        }
        if let Some(&lost) = through.iter().find(|b| !reached.contains(b)) {
            reading.warnings.push(format!(
                "the wire \"{wire}\" runs through \"{}\" and \"{}\", but no breakout on its way joins them",
                branches[*first].name, branches[lost].name
            ));
        }
    }
}
