//! The score of every place, with its arithmetic.

use rayon::prelude::*;

use crate::check::{Finding, Findings, LimitKey};
use crate::conductor::{ANNEALED_COPPER, Flexed, Swept, flexed, lever, range_ductility, sweeps};
use crate::harness::{BranchId, FixingKind, Section, WireId};
use crate::quantity::Kind;
use crate::rod::Solution;
use crate::route::Route;

use super::question::Asked;

/// How far along the branch a finding is felt \[m\]: about a strap's width and a diameter to each side.
const REACH: f64 = 15.0e-3;
/// What counts beside strain, each as its share of the limit squared, with its weight: our own choice. What cuts and
/// squeezes breaks copper; what warms and bends only wears.
const WEIGHTS: [(&str, f64, &str); 8] = [
    ("tie pinch", 0.8, "strap"),
    ("pinch", 1.2, "pinch"),
    ("chafe", 0.8, "rubbing"),
    ("edge distance", 0.5, "edge"),
    ("snag", 0.3, "catching"),
    ("heat distance", 0.3, "heat"),
    ("heat", 0.6, "heat"),
    ("splice", 0.8, "splice"),
];
/// A share of the limit counts no more than this, so that one broken limit does not drown the rest.
const CAP: f64 = 3.0;
/// What the contacts of a connector are called.
const CONTACTS: &str = "contacts";
/// What every connector of a failing wire counts: contacts fail as often as anything (common practice, no source). The
/// number is our own choice, tried on drawn faults.
const CONNECTOR: f64 = 0.35;
/// What every strap counts however it squeezes: stiffness jumps there, and conductors break at ties first (common practice,
/// no source).
const STRAP: f64 = 0.2;
/// A failing circuit that does not pass a place: one break cannot explain it.
const MISSED: f64 = 0.15;
/// A sound circuit that passes a place: what is hard on one conductor is hard on those beside it. Each contact is a
/// matter of its own.
const SOUND: f64 = 0.85;
/// Heat alone, short of its limit and not said to bring the fault, breaks nothing: then its share counts by so many
/// powers more, our own choice.
const COOL: i32 = 2;
/// What does not move where the fault comes and goes with a joint.
const STILL: f64 = 0.15;

/// One term of a score.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// What it is: "strain", "pull", "strap" …
    pub what: &'static str,
    /// The value as a share of its limit.
    pub share: f64,
    /// What it adds, the weight of sound circuits that pass included.
    pub adds: f64,
}

/// A place with its score.
#[derive(Debug, Clone, PartialEq)]
pub struct Scored {
    /// The branch.
    pub branch: BranchId,
    /// Distance along the branch from its first fixing \[m\].
    pub at: f64,
    /// What adds to the score.
    pub parts: Vec<Part>,
    /// Share of the failing circuits that pass here, and the weight that follows.
    pub passing: (usize, f64),
    /// Number of sound circuits that pass here, and the weight that follows; it is in what each part adds, but for
    /// contacts.
    pub sound: (usize, f64),
    /// Weight of the pose in which it fails: how much of its greatest strain the place has there.
    pub moment: f64,
    /// The score.
    pub total: f64,
    /// Pose id in which the place is strained most.
    pub pose: usize,
    /// Strain range over the worst sweep, least and most.
    pub strain: [f64; 2],
}

/// Every place of every branch that a failing wire runs through.
pub(super) fn scored(
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    asked: &Asked,
) -> Vec<Scored> {
    let branches = (0..route.branches.len()).map(BranchId);
    let with: Vec<BranchId> = branches
        .filter(|&b| asked.failing.iter().any(|(_, w)| passes(route, b, w)))
        .collect();
    with.par_iter()
        .flat_map_iter(|&b| branch(route, solution, findings, asked, b))
        .collect()
}

fn passes(route: &Route, branch: BranchId, wires: &[WireId]) -> bool {
    wires
        .iter()
        .any(|wire| route.branches[branch.0].wires.contains(wire))
}

fn branch(
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    asked: &Asked,
    id: BranchId,
) -> Vec<Scored> {
    let bundle = &route.branches[id.0];
    let flexed = flexed(route, solution, id);
    let sweeps: Vec<Vec<Swept>> = sweeps(route, solution)
        .iter()
        .map(|sweep| sweep.of(route, solution, id, &flexed))
        .collect();
    let wires: Vec<_> = bundle
        .wires
        .iter()
        .map(|wire| &route.wires[wire.0])
        .collect();
    let section = Section::of(&wires, bundle.cover.as_ref(), bundle.pitch);
    let failing: Vec<usize> = (0..wires.len())
        .filter(|&i| {
            asked
                .failing
                .iter()
                .any(|(_, w)| w.contains(&bundle.wires[i]))
        })
        .collect();
    let through = asked
        .failing
        .iter()
        .filter(|(_, w)| passes(route, id, w))
        .count();
    let missed = i32::try_from(asked.failing.len() - through).unwrap_or(i32::MAX);
    let passing = (through, MISSED.powi(missed));
    let sound = asked
        .working
        .iter()
        .filter(|(_, w)| passes(route, id, w))
        .count();
    let sound = (
        sound,
        SOUND
            .powi(i32::try_from(sound).unwrap_or(i32::MAX))
            .max(0.2),
    );
    let allowed = range_ductility(
        &ANNEALED_COPPER,
        findings.limits.get(LimitKey::FlexSweeps).value(),
    );
    let own: Vec<&Finding> = findings
        .findings
        .iter()
        .filter(|f| f.branch == id)
        .collect();
    let connectors = connectors(route, solution, id);
    (0..flexed.at.len())
        .map(|place| {
            let at = flexed.at[place];
            let (mut strain, mut pose) = ([0.0, 0.0], solution.sweep.rest);
            for all in &sweeps {
                let swept = &all[place];
                for &wire in &failing {
                    let lever = lever(wires[wire], &section.wires[wire], &section, swept.bond);
                    let both = [lever.least, lever.most]
                        .map(|h| swept.strain(h, bundle.stiffness.stretch));
                    if both[1] > strain[1] {
                        (strain, pose) = (
                            both,
                            furthest(&flexed, place, swept.between, solution.sweep.rest),
                        );
                    }
                }
            }
            let mut parts = vec![part("strain", strain[1] / allowed, 1.0)];
            parts.push(pull(route, findings, id, &flexed, place));
            for finding in &own {
                parts.extend(from_finding(finding, at, asked.hot));
            }
            let near = connectors
                .iter()
                .map(|c| (c - at).abs())
                .fold(f64::INFINITY, f64::min);
            if near < REACH {
                parts.push(Part {
                    what: CONTACTS,
                    share: 1.0,
                    adds: CONNECTOR * fades(near),
                });
            }
            for part in parts.iter_mut().filter(|part| part.what != CONTACTS) {
                part.adds *= sound.1;
            }
            parts.retain(|part| part.adds > 1e-6);
            parts.sort_by(|a, b| b.adds.total_cmp(&a.adds));
            // Pressure and squeeze of one strap, or two hot parts, are told once: as the greater.
            let mut told: Vec<&str> = Vec::new();
            parts.retain(|part| {
                let new = !told.contains(&part.what);
                told.push(part.what);
                new
            });
            let moment = moment(solution, &flexed, place, asked);
            let sum: f64 = parts.iter().map(|part| part.adds).sum();
            Scored {
                branch: id,
                at,
                parts,
                passing,
                sound,
                moment,
                total: sum * passing.1 * moment,
                pose,
                strain,
            }
        })
        .collect()
}

fn part(what: &'static str, share: f64, weight: f64) -> Part {
    let share = share.clamp(0.0, CAP);
    Part {
        what,
        share,
        adds: weight * share * share,
    }
}

fn fades(far: f64) -> f64 {
    (-0.5 * (far / (0.5 * REACH)).powi(2)).exp()
}

/// Of two poses the one that bends a place further from how it lies at rest.
fn furthest(flexed: &Flexed, place: usize, between: [usize; 2], rest: usize) -> usize {
    let far = |pose: usize| {
        let (a, b) = (
            flexed.poses[pose][place].bend,
            flexed.poses[rest][place].bend,
        );
        (a[0] - b[0]).hypot(a[1] - b[1])
    };
    if far(between[0]) > far(between[1]) {
        between[0]
    } else {
        between[1]
    }
}

/// The greatest stretch by pull against the limit for stretch.
fn pull(
    route: &Route,
    findings: &Findings,
    branch: BranchId,
    flexed: &Flexed,
    place: usize,
) -> Part {
    let most = flexed
        .poses
        .iter()
        .map(|pose| pose[place].tension)
        .fold(0.0, f64::max);
    let stretch = most / route.branches[branch.0].stiffness.stretch;
    part(
        "pull",
        stretch / findings.limits.get(LimitKey::StretchMost).value(),
        1.0,
    )
}

/// What a finding adds at a place near its own.
fn from_finding(finding: &Finding, at: f64, hot: bool) -> Option<Part> {
    let &(_, weight, what) = WEIGHTS.iter().find(|(check, ..)| *check == finding.check)?;
    let fading = fades((finding.at - at).abs());
    if fading < 1e-3 {
        return None;
    }
    let share = match finding.use_of_limit() {
        share if share.is_finite() => share,
        _ => CAP,
    };
    // A bend at a strap is already in the strain.
    if finding.check == "tie pinch" && finding.kind == Kind::Length {
        return None;
    }
    let weight = if hot && what == "heat" {
        3.0 * weight
    } else {
        weight
    };
    let mut part = part(what, share, weight);
    if what == "heat" && !hot {
        part.adds *= share.min(1.0).powi(COOL);
    }
    if what == "strap" {
        part.adds += STRAP;
    }
    part.adds *= fading;
    Some(part)
}

fn connectors(route: &Route, solution: &Solution, branch: BranchId) -> Vec<f64> {
    let spans = &solution.branches[branch.0].spans;
    let lay = &route.branches[branch.0].lay;
    let ends = spans.last().map_or(0.0, |span| span.end());
    lay.iter()
        .enumerate()
        .filter(|(_, entry)| matches!(entry.fixing.kind, FixingKind::Connector { .. }))
        .map(|(index, _)| spans.get(index).map_or(ends, |span| span.start))
        .collect()
}

/// How much of its greatest change of bend a place has in the pose in which the fault shows; what the joints that were
/// named do not move counts little.
fn moment(solution: &Solution, flexed: &Flexed, place: usize, asked: &Asked) -> f64 {
    let Some(when) = &asked.when else {
        return 1.0;
    };
    let rest = solution.sweep.rest;
    let base = &flexed.poses[rest][place];
    let far = |pose: usize| {
        let here = &flexed.poses[pose][place];
        let (dx, dy) = (here.bend[0] - base.bend[0], here.bend[1] - base.bend[1]);
        dx.hypot(dy) + (here.twist - base.twist).abs() / 3.0_f64.sqrt()
    };
    let most = (0..flexed.poses.len()).map(far).fold(0.0, f64::max);
    // Less than this does not move: a bend to 20 m.
    if most < 0.05 {
        return STILL;
    }
    let share = if when.pose == rest {
        // It fails where nothing is moved: what lies bent or pulled at rest.
        1.0
    } else {
        (far(when.pose) / most).min(1.0)
    };
    STILL + (1.0 - STILL) * share
}
