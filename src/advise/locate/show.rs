//! A place in words, and the report.

use serde_json::{Value, json};

use crate::conductor::branches_of;
use crate::harness::{BranchId, FixingKind, WireId};
use crate::quantity::{Kind, Units};
use crate::rod::Solution;
use crate::route::Route;

use super::Place;
use super::question::Asked;
use super::score::Scored;

/// The nearest fixing, and how far after it the place is \[m\], negative before it.
pub(super) fn nearest(
    route: &Route,
    solution: &Solution,
    branch: BranchId,
    at: f64,
) -> (String, f64) {
    let lay = &route.branches[branch.0].lay;
    let all = stations(solution, branch).into_iter().zip(lay);
    let best = all.min_by(|a, b| (a.0 - at).abs().total_cmp(&(b.0 - at).abs()));
    best.map_or_else(Default::default, |(station, entry)| {
        (entry.fixing.name.clone(), at - station)
    })
}

fn stations(solution: &Solution, branch: BranchId) -> Vec<f64> {
    let spans = &solution.branches[branch.0].spans;
    spans
        .iter()
        .map(|span| span.start)
        .chain(spans.last().map(|span| span.end()))
        .collect()
}

fn beside((name, after): &(String, f64), units: Units) -> String {
    let far = units.show(after.abs(), Kind::Length);
    if after.abs() < 0.5e-3 {
        format!("at {name}")
    } else if *after < 0.0 {
        format!("{far} before {name}")
    } else {
        format!("{far} after {name}")
    }
}

/// "12 mm after K2 in the neck, 431 mm along the harness from the fuse box".
pub(super) fn place(
    route: &Route,
    solution: &Solution,
    asked: &Asked,
    branch: BranchId,
    at: f64,
    units: Units,
) -> String {
    let beside = beside(&nearest(route, solution, branch, at), units);
    let name = &route.branches[branch.0].name;
    let from = touched(route, solution, asked, branch, at);
    let from = from.map_or_else(String::new, |(connector, far)| {
        format!(
            ", {} along the harness from {connector}",
            units.show(far, Kind::Length)
        )
    });
    format!("{beside} in branch \"{name}\"{from}")
}

/// The failing wire that runs here.
pub(super) fn wire_here(route: &Route, asked: &Asked, branch: BranchId) -> Option<WireId> {
    let here = &route.branches[branch.0].wires;
    asked
        .failing
        .iter()
        .flat_map(|(_, wires)| wires)
        .copied()
        .find(|wire| here.contains(wire))
}

/// The nearest connector on the way of a failing wire, and how far along the harness it is \[m\].
fn touched(
    route: &Route,
    solution: &Solution,
    asked: &Asked,
    branch: BranchId,
    at: f64,
) -> Option<(String, f64)> {
    let wire = wire_here(route, asked, branch)?;
    ends_of(route, solution, wire, branch, at)
        .into_iter()
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// The ends of a wire's way that can be touched (connectors, else the last fixing), each with its distance from a place
/// \[m\].
pub(super) fn ends_of(
    route: &Route,
    solution: &Solution,
    wire: WireId,
    branch: BranchId,
    at: f64,
) -> Vec<(String, f64)> {
    let through: Vec<BranchId> = branches_of(route, wire).collect();
    let mut ends = Vec::new();
    let mut seen = vec![branch];
    let mut open = vec![(branch, at, 0.0)];
    while let Some((here, from, walked)) = open.pop() {
        let lay = &route.branches[here.0].lay;
        for (index, station) in stations(solution, here).into_iter().enumerate() {
            let far = walked + (station - from).abs();
            let fixing = &lay[index].fixing;
            let last = index == 0 || index + 1 == lay.len();
            let mut goes_on = false;
            if fixing.kind == FixingKind::Breakout {
                let meets = route.breakouts.iter().find(|b| b.name == fixing.name);
                for meeting in meets.iter().flat_map(|b| &b.meets) {
                    if through.contains(&meeting.branch) && meeting.branch != here {
                        goes_on = true;
                        if !seen.contains(&meeting.branch) {
                            seen.push(meeting.branch);
                            let start = stations(solution, meeting.branch)[meeting.lay];
                            open.push((meeting.branch, start, far));
                        }
                    }
                }
            }
            if last && !goes_on {
                ends.push((fixing.name.clone(), far));
            }
        }
    }
    ends.sort_by(|a, b| a.1.total_cmp(&b.1));
    ends
}

/// Why the place is named, in a sentence or two.
pub(super) fn why(scored: &Scored, asked: &Asked, pose: &str) -> String {
    let mut reasons = Vec::new();
    for part in scored.parts.iter().take(3) {
        let much = |word: &str| {
            if part.share >= 1.0 {
                format!("{word}, {:.1} times what is allowed", part.share)
            } else {
                format!("{word}, {:.0} % of what is allowed", 100.0 * part.share)
            }
        };
        // A term that hardly counts explains nothing.
        if part.adds < 0.1 * scored.parts[0].adds {
            continue;
        }
        reasons.push(match part.what {
            "strain" => {
                let [least, most] = scored.strain.map(|strain| format!("{:.2}", 100.0 * strain));
                if least == most {
                    format!("its strands are worked by {most} % each sweep")
                } else {
                    format!("its strands are worked by {least} to {most} % each sweep")
                }
            }
            "pull" => much("it is pulled"),
            "strap" => much("a strap squeezes it"),
            "pinch" => much("parts close on it"),
            "rubbing" => much("it rubs"),
            "edge" => much("an edge is near"),
            "heat" => much("it is near heat"),
            "splice" => much("it is spliced here"),
            "contacts" => "contacts and crimps are here".to_owned(),
            other => much(other),
        });
    }
    let reasons = capital(&reasons.join("; "));
    let all = asked.failing.len();
    let passing = match (all, scored.passing.0) {
        (1, _) => String::new(),
        (all, passing) if all == passing => format!(" All {all} that fail pass here."),
        (all, passing) => format!(" Only {passing} of the {all} that fail pass here."),
    };
    let sound = match scored.sound.0 {
        0 => String::new(),
        1 => " One that works passes here too.".to_owned(),
        many => format!(" {many} that work pass here too."),
    };
    format!(
        "{reasons}; worst with {}.{passing}{sound}",
        if pose == "at rest" {
            "all at rest"
        } else {
            pose
        }
    )
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

/// The report of a search. With `arithmetic` every place tells how its score came about.
pub fn locate_report(
    route: &Route,
    places: &[Place],
    assumed: &[String],
    arithmetic: bool,
) -> Value {
    let entries = places.iter().map(|place| {
        let mut entry = json!({
            "rank": place.rank,
            "branch": route.branches[place.branch.0].name,
            "at_mm": (place.at * 1e7).round() / 1e4,
            "nearest": place.nearest,
            "place": place.place,
            "pose": place.pose,
            "why": place.why,
            "test": place.test,
        });
        if let (true, Some(fields)) = (arithmetic, entry.as_object_mut()) {
            let scored = &place.scored;
            let parts = scored.parts.iter().map(|part| {
                json!({ "what": part.what, "share_of_limit": part.share, "adds": part.adds })
            });
            fields.insert(
                "arithmetic".to_owned(),
                json!({
                    "parts": parts.collect::<Vec<_>>(),
                    "failing_here": scored.passing.0,
                    "times_failing": scored.passing.1,
                    "working_here": scored.sound.0,
                    "times_working": scored.sound.1,
                    "times_pose": scored.moment,
                    "score": scored.total,
                }),
            );
        }
        entry
    });
    json!({
        "format": 1,
        "title": route.title,
        "assumed": assumed,
        "warnings": route.warnings,
        "places": entries.collect::<Vec<_>>(),
    })
}
