//! What was measured by hand, and the route with one such item moved.

use nalgebra::{Translation3, Vector3};

use crate::harness::{BranchId, LengthRule};
use crate::machine::{BodyId, Joint};
use crate::rod::Solution;
use crate::route::Route;

use super::job::is_beyond;
use super::reach::Reach;
use super::{Finding, Findings};

/// A measured item.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Item {
    /// Index into [`Route::places`].
    Place(usize),
    /// Index into the machine's parts.
    Part(usize),
    /// The point that a turning joint's axis goes through.
    Axis(BodyId),
    /// The length, from string and gathered slack, of the span that leads to a fixing of a branch.
    String(BranchId, usize),
}

/// An item moved by one standard deviation along one axis, one way or the other; a length changes by the first of
/// the three alone.
#[derive(Debug, Clone, Copy)]
pub(super) struct Nudge {
    pub(super) item: Item,
    pub(super) by: Vector3<f64>,
}

/// The measured items that can matter to some branch.
pub(super) fn items(route: &Route, found: &Findings) -> Vec<Item> {
    let places = (0..route.places.len()).map(Item::Place);
    let parts = (0..route.machine.parts.len()).map(Item::Part);
    let axes = (0..route.machine.bodies.len())
        .filter(|&index| matches!(route.machine.bodies[index].joint, Joint::Turns { .. }))
        .map(|index| Item::Axis(BodyId(index)));
    let strings = route
        .branches
        .iter()
        .enumerate()
        .flat_map(|(branch, bundle)| {
            let strung = |lay: &usize| matches!(bundle.lay[*lay].length, LengthRule::Strung(_));
            let lays = (1..bundle.lay.len()).filter(strung);
            lays.map(move |lay| Item::String(BranchId(branch), lay))
        });
    places
        .chain(parts)
        .chain(axes)
        .chain(strings)
        .filter(|&item| (0..route.branches.len()).any(|b| matters(route, found, item, BranchId(b))))
        .collect()
}

/// Whether an item can change what is found for a branch: for itself, or for one that hangs together with it.
pub(super) fn matters(route: &Route, found: &Findings, item: Item, branch: BranchId) -> bool {
    let mut together = route.together(branch).into_iter();
    together.any(|own| matters_alone(route, found, item, own))
}

/// The same, by itself alone.
pub(super) fn matters_alone(route: &Route, found: &Findings, item: Item, branch: BranchId) -> bool {
    let lay = &route.branches[branch.0].lay;
    match item {
        Item::Place(place) => lay.iter().enumerate().any(|(index, entry)| {
            // A waypoint shapes the length of a span that takes its smooth path's, and otherwise nothing.
            let shapes_length = index > 0 && entry.length == LengthRule::SmoothPath;
            // Where a breakout that floats is drawn was not measured.
            (entry.fixing.place == place && !route.is_drawn_only(&entry.fixing))
                || (shapes_length && entry.vias.iter().any(|via| via.place == place))
        }),
        Item::Part(part) => {
            let name = &route.machine.parts[part].name;
            touches(route, found, part, branch)
                || found
                    .findings
                    .iter()
                    .any(|f| f.branch == branch && is_about_part(f, name))
        }
        Item::Axis(joint) => {
            let mut sides = lay
                .iter()
                .map(|entry| is_beyond(&route.machine, joint, entry.fixing.on));
            let first = sides.next();
            sides.any(|side| Some(side) != first) || touches_beyond(route, found, joint, branch)
        }
        Item::String(of, _) => of == branch,
    }
}

/// How far along these branches an item can change how they lie: of a place or a length, the stretches between fixings that
/// hold direction that have it; of all else, and where length slides or branches hang together, all of a branch.
pub(super) fn reaches(
    route: &Route,
    solution: &Solution,
    item: Item,
    branches: &[BranchId],
) -> Vec<Reach> {
    let mut reaches = Vec::new();
    for &branch in branches {
        let bundle = &route.branches[branch.0];
        let spans = &solution.branches[branch.0].spans;
        // What passes a breakout that floats, be it the only branch there, is felt beyond it.
        let mut floating = route.breakouts.iter().filter(|breakout| breakout.floats());
        let apart = !floating.any(|b| b.meets.iter().any(|meeting| meeting.branch == branch))
            && !bundle.lay.iter().any(|entry| entry.fixing.slides());
        let has = |&(first, last): &(usize, usize)| match item {
            Item::Place(place) => {
                let held = bundle.lay[first..=last].iter();
                let led = bundle.lay[first + 1..=last].iter();
                held.map(|entry| entry.fixing.place)
                    .chain(led.flat_map(|entry| entry.vias.iter().map(|via| via.place)))
                    .any(|own| own == place)
            }
            Item::String(of, lay) => of == branch && first < lay && lay <= last,
            Item::Part(_) | Item::Axis(_) => true,
        };
        if apart && matches!(item, Item::Place(_) | Item::String(..)) {
            let stretches = bundle.stretches().filter(has);
            reaches.extend(stretches.map(|(first, last)| Reach::new(branch, spans, first..last)));
        } else {
            reaches.push(Reach::new(branch, spans, 0..spans.len()));
        }
    }
    reaches
}

/// Whether a finding tells how near a part of this name is.
pub(super) fn is_about_part(finding: &Finding, name: &str) -> bool {
    match finding.check {
        "heat distance" | "edge distance" | "snag" | "fluid lines" => finding.subject == name,
        "pinch" => finding.subject.contains(name),
        _ => false,
    }
}

/// A part that is no nearer than this does not press on a branch, even where it holds one that another part presses against
/// it \[m\]: more than a branch sinks into what presses on it.
const FELT: f64 = 1e-3;

/// Whether a branch may lie against a part in some pose once the part is moved by a tolerance.
pub(super) fn touches(route: &Route, found: &Findings, part: usize, branch: BranchId) -> bool {
    is_within(found, part, branch, route.tolerance)
}

/// Whether a branch may lie against a part in some pose once the part is moved by so much \[m\].
fn is_within(found: &Findings, part: usize, branch: BranchId, by: f64) -> bool {
    let gap = found.nearest[branch.0].get(part).map(|gap| gap.gap);
    gap.is_some_and(|gap| gap < by + FELT)
}

fn touches_beyond(route: &Route, found: &Findings, joint: BodyId, branch: BranchId) -> bool {
    (0..route.machine.parts.len()).any(|part| {
        is_beyond(&route.machine, joint, route.machine.parts[part].on)
            // What turns about an axis that has moved by d is off by no more than 2 d.
            && is_within(found, part, branch, 2.0 * route.tolerance)
    })
}

/// The route with one item moved.
pub(super) fn nudged(route: &Route, nudge: Nudge) -> Route {
    let mut changed = route.clone();
    match nudge.item {
        Item::Place(place) => changed.places[place].at += nudge.by,
        Item::Part(part) => {
            let motion = Translation3::from(nudge.by).into();
            changed.machine.parts[part].shape.displace(&motion);
        }
        Item::Axis(body) => {
            if let Joint::Turns { through, .. } = &mut changed.machine.bodies[body.0].joint {
                *through += nudge.by;
            }
        }
        Item::String(branch, lay) => {
            if let LengthRule::Strung(readings) = &mut changed.branches[branch.0].lay[lay].length {
                *readings = readings.longer(nudge.by.x);
            }
        }
    }
    changed
}

/// A measured item by name.
pub(super) fn item_in_words(route: &Route, item: Item) -> String {
    match item {
        Item::Part(part) => route.machine.parts[part].name.clone(),
        Item::String(branch, lay) => {
            let name = |lay: usize| &route.branches[branch.0].lay[lay].fixing.name;
            format!("the length from {} to {}", name(lay - 1), name(lay))
        }
        Item::Axis(body) => format!("the axis of {}", route.machine.bodies[body.0].name),
        Item::Place(place) => {
            let fixings = route.branches.iter().flat_map(|branch| &branch.lay);
            let name = fixings
                .map(|entry| &entry.fixing)
                .find(|fixing| fixing.place == place)
                .map(|fixing| fixing.name.clone());
            name.or_else(|| route.places[place].name.clone())
                .unwrap_or_else(|| "a waypoint".to_owned())
        }
    }
}
