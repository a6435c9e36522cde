//! All checks, and how far each finding may be off because positions were measured by hand.
//!
//! Every measured item (a point, a part as a whole, a point of an axis) is moved by one standard deviation each
//! way along each axis, the branches that it can matter to are solved again near the old solution, and checked
//! again. With the items independent, the variance of a value is the sum of the squares of half its central
//! differences (first-order propagation; JCGM 100:2008, GUM, 5.1.2). Where both ways change a value in the same
//! direction it stands at a kink (the worst pose or place changes over): there the larger one-sided change
//! counts. Only the poses in which some finding is worst are solved again, with rest and both ends of every
//! joint: to first order the worst value moves with its own pose.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::geometry::Shape;
use crate::harness::{BranchId, LengthRule};
use crate::machine::{BodyId, Joint, PoseStep, Surroundings, Sweep};
use crate::quantity::Units;
use crate::rod::{self, BranchSolution, Solution};
use crate::route::Route;

use super::job::{Job, is_beyond};
use super::wording::length;
use super::{Blank, Finding, Findings, Limits, Verdict, charts};

/// A limit that holds with less than this chance of being broken is within, otherwise close.
const CLOSE: f64 = 0.05;

/// A nudge that a branch does not follow is tried again so many times smaller.
const SMALLER: f64 = 0.25;
/// A branch does not follow where some place moves this many times further than the nudge. A span with little
/// slack bulges by several times what its ends come closer.
const FURTHEST: f64 = 12.0;
/// Nor where it folds: its radius falls by half, to less than so many diameters.
const FOLDED: f64 = 4.0;

const JUMPS: &str = " A change as small as the tolerance makes the branch jump to another shape, so how sure this is \
                     cannot be told.";

/// How to check.
#[derive(Debug, Clone, Copy)]
pub struct Options {
    /// Work out the spread of every finding. Without it no verdict is [`Verdict::Close`].
    pub spread: bool,
    /// Units in the findings' texts.
    pub units: Units,
    /// Settings of the rod, those that the route was solved with.
    pub settings: rod::Settings,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            spread: true,
            units: Units::METRIC,
            settings: rod::Settings::default(),
        }
    }
}

/// Runs all checks on a solved route.
pub fn check(route: &Route, solution: &Solution, options: &Options) -> Findings {
    check_with(route, solution, options, &|nudged, near| {
        rod::solve_near(nudged, near, &options.settings)
    })
}

/// Runs all checks on a solved route. `solve_near` finds the solution of a slightly changed route, starting from
/// the one given.
pub fn check_with(
    route: &Route,
    solution: &Solution,
    options: &Options,
    solve_near: &(dyn Fn(&Route, &Solution) -> Solution + Sync),
) -> Findings {
    let limits = Limits::new(&route.limits);
    let surroundings = Surroundings::new(&route.machine);
    let branches: Vec<BranchId> = (0..route.branches.len()).map(BranchId).collect();
    let job = Job::new(
        route,
        solution,
        &surroundings,
        &limits,
        &branches,
        options.units,
    );
    let outcome = super::all_checks(&job);
    let (along, against) = (charts::along(&job), charts::against(&job));
    let Job { nearest, .. } = job;
    let mut findings = Findings {
        findings: outcome.findings,
        blanks: outcome.blanks,
        limits,
        nearest,
        along,
        against,
    };
    if options.spread {
        add_spread(route, solution, &mut findings, options, solve_near);
    }
    sort_worst_first(&mut findings.findings);
    findings
}

/// Worst verdict first, then the most used limit; what ties stands in the order of the branches and checks.
fn sort_worst_first(findings: &mut [Finding]) {
    findings.sort_by(|a, b| {
        b.verdict
            .cmp(&a.verdict)
            .then(b.use_of_limit().total_cmp(&a.use_of_limit()))
            .then(a.branch.cmp(&b.branch))
    });
}

/// A measured item.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Item {
    /// Index into [`Route::places`].
    Place(usize),
    /// Index into the machine's parts.
    Part(usize),
    /// The point that a turning joint's axis goes through.
    Axis(BodyId),
}

/// An item moved by one standard deviation along one axis, one way or the other.
#[derive(Debug, Clone, Copy)]
struct Nudge {
    item: Item,
    by: Vector3<f64>,
}

fn add_spread(
    route: &Route,
    solution: &Solution,
    found: &mut Findings,
    options: &Options,
    solve_near: &(dyn Fn(&Route, &Solution) -> Solution + Sync),
) {
    let narrow = narrowed(route, solution, &found.findings);
    let items = items(route, found);
    let axes = [Vector3::x(), Vector3::y(), Vector3::z()];
    let nudges: Vec<Nudge> = items
        .iter()
        .flat_map(|&item| {
            axes.iter().flat_map(move |axis| {
                [1.0, -1.0].map(|sign| Nudge {
                    item,
                    by: axis * (sign * route.tolerance),
                })
            })
        })
        .collect();
    let nudged: Vec<Rechecked> = nudges
        .par_iter()
        .map(|nudge| recheck(route, &narrow, found, *nudge, options, solve_near))
        .collect();
    let mut lost: Vec<(BranchId, Item)> = nudged
        .iter()
        .zip(&nudges)
        .flat_map(|(result, nudge)| result.lost.iter().map(|&branch| (branch, nudge.item)))
        .collect();
    lost.dedup();
    for finding in &mut found.findings {
        if matches!(finding.check, "snap" | "solve") {
            continue;
        }
        if follows_shape(finding) && lost.iter().any(|(branch, _)| *branch == finding.branch) {
            if finding.verdict == Verdict::Within {
                finding.verdict = Verdict::Close;
                finding.advice.push_str(JUMPS);
            }
            continue;
        }
        let mut variance = 0.0;
        let mut greatest = (0.0, None);
        for (pair, nudge) in nudged.chunks(2).zip(nudges.iter().step_by(2)) {
            let [plus, minus] = [&pair[0], &pair[pair.len() - 1]]
                .map(|result| value_like(&result.findings, finding));
            if let (Some(plus), Some(minus)) = (plus, minus) {
                let change = standard_change(finding.value, plus, minus);
                variance += change * change;
                if change > greatest.0 {
                    greatest = (change, Some(nudge.item));
                }
            }
        }
        let discretisation = discretisation(route, solution, finding);
        variance += discretisation * discretisation;
        judge(finding, variance.sqrt());
        if let (Verdict::Close, Some(item)) = (finding.verdict, greatest.1) {
            finding.advice.push_str(&format!(
                " Too close to call with a tolerance of {}: most of the doubt comes from where {} is, so \
                 measure that again first.",
                length(options.units, route.tolerance),
                item_in_words(route, item)
            ));
        }
    }
    for branch in (0..route.branches.len()).map(BranchId) {
        let names: Vec<String> = lost
            .iter()
            .filter(|(of, _)| *of == branch)
            .map(|(_, item)| item_in_words(route, *item))
            .collect();
        if !names.is_empty() {
            found.blanks.push(Blank {
                check: "spread",
                branch,
                why: format!(
                    "With {} moved by the tolerance the branch jumps to another shape in some pose, so that no spread can be \
                     told of what follows its shape.",
                    names.join(", ")
                ),
            });
        }
    }
}

/// Whether a finding's value follows from the shape of the branch, rather than from where its fixings are alone.
fn follows_shape(finding: &Finding) -> bool {
    match finding.check {
        "support" => false,
        "elongation" => !finding.subject.ends_with(" slack"),
        "tie pinch" => finding.subject.ends_with(" edge"),
        "steering drag" => finding.subject.starts_with("about "),
        _ => true,
    }
}

/// Change of a value by one standard deviation of one coordinate, from its values with the coordinate moved one
/// standard deviation up and down: half the central difference, or the larger one-sided change at a kink.
fn standard_change(value: f64, plus: f64, minus: f64) -> f64 {
    let (up, down) = (plus - value, minus - value);
    if up * down > 0.0 {
        up.abs().max(down.abs())
    } else {
        0.5 * (plus - minus).abs()
    }
}

/// Sets spread, chance and verdict of a finding.
fn judge(finding: &mut Finding, spread: f64) {
    let chance = chance_over(finding.value, finding.limit, finding.at_most, spread);
    finding.spread = Some(spread);
    finding.chance_over = Some(chance);
    if finding.verdict != Verdict::Over {
        finding.verdict = if chance > CLOSE {
            Verdict::Close
        } else {
            Verdict::Within
        };
    }
}

/// Chance that a normally distributed value breaks its limit.
fn chance_over(value: f64, limit: f64, at_most: bool, spread: f64) -> f64 {
    let room = if at_most {
        limit - value
    } else {
        value - limit
    };
    if spread > 0.0 {
        0.5 * libm::erfc(room / (spread * std::f64::consts::SQRT_2))
    } else if super::job::holds(value, limit, at_most) {
        0.0
    } else {
        1.0
    }
}

/// What the rod's own resolution may add to a bend radius, in the unit of the value.
fn discretisation(route: &Route, solution: &Solution, finding: &Finding) -> f64 {
    let bends = finding.check == "bend radius"
        || (finding.check == "tie pinch" && finding.subject.ends_with(" edge"));
    if !bends {
        return 0.0;
    }
    let radius = finding.value + 0.5 * route.branches[finding.branch.0].diameter;
    radius * solution.branches[finding.branch.0].resolution.radius_error
}

/// The value of the finding that says the same as `like`. What is summed over branches may change the branch
/// that it names.
fn value_like(findings: &[Finding], like: &Finding) -> Option<f64> {
    let same = |f: &&Finding| f.check == like.check && f.subject == like.subject;
    findings
        .iter()
        .filter(same)
        .find(|f| f.branch == like.branch)
        .or_else(|| {
            let summed = like.check == "steering drag" && like.subject.starts_with("about ");
            findings.iter().find(same).filter(|_| summed)
        })
        .map(|f| f.value)
}

/// The measured items that can matter to some branch.
fn items(route: &Route, found: &Findings) -> Vec<Item> {
    let places = (0..route.places.len()).map(Item::Place);
    let parts = (0..route.machine.parts.len()).map(Item::Part);
    let axes = (0..route.machine.bodies.len())
        .filter(|&index| matches!(route.machine.bodies[index].joint, Joint::Turns { .. }))
        .map(|index| Item::Axis(BodyId(index)));
    places
        .chain(parts)
        .chain(axes)
        .filter(|&item| (0..route.branches.len()).any(|b| matters(route, found, item, BranchId(b))))
        .collect()
}

/// Whether an item can change what is found for a branch.
fn matters(route: &Route, found: &Findings, item: Item, branch: BranchId) -> bool {
    let lay = &route.branches[branch.0].lay;
    match item {
        Item::Place(place) => lay.iter().enumerate().any(|(index, entry)| {
            // A waypoint shapes the length of a span that takes its smooth path's, and otherwise nothing.
            let shapes_length = index > 0 && entry.length == LengthRule::SmoothPath;
            entry.fixing.place == place
                || (shapes_length && entry.vias.iter().any(|via| via.place == place))
        }),
        Item::Part(part) => {
            let name = &route.machine.parts[part].name;
            touches(route, found, part, branch)
                || found.findings.iter().any(|f| {
                    f.branch == branch
                        && match f.check {
                            "heat distance" => f.subject == *name,
                            "pinch" => f.subject.contains(name.as_str()),
                            _ => false,
                        }
                })
        }
        Item::Axis(joint) => {
            let mut sides = lay
                .iter()
                .map(|entry| is_beyond(&route.machine, joint, entry.fixing.on));
            let first = sides.next();
            sides.any(|side| Some(side) != first) || touches_beyond(route, found, joint, branch)
        }
    }
}

/// Whether a branch may lie against a part in some pose once the part is moved.
fn touches(route: &Route, found: &Findings, part: usize, branch: BranchId) -> bool {
    let gap = found.nearest[branch.0].get(part).map(|gap| gap.gap);
    gap.is_some_and(|gap| gap < 3.0 * route.tolerance)
}

fn touches_beyond(route: &Route, found: &Findings, joint: BodyId, branch: BranchId) -> bool {
    (0..route.machine.parts.len()).any(|part| {
        is_beyond(&route.machine, joint, route.machine.parts[part].on)
            && touches(route, found, part, branch)
    })
}

/// What a nudged route gave.
#[derive(Debug)]
struct Rechecked {
    findings: Vec<Finding>,
    /// Branches in which some pose was not solved, or not near the old solution.
    lost: Vec<BranchId>,
}

/// Checks the nudged route. A branch that leaves its neighbourhood is tried again with a smaller nudge, and the
/// change of its values extrapolated.
fn recheck(
    route: &Route,
    narrow: &Solution,
    found: &Findings,
    nudge: Nudge,
    options: &Options,
    solve_near: &(dyn Fn(&Route, &Solution) -> Solution + Sync),
) -> Rechecked {
    let branches = (0..route.branches.len())
        .map(BranchId)
        .filter(|&branch| matters(route, found, nudge.item, branch))
        .collect();
    let mut whole = recheck_branches(route, narrow, found, nudge, branches, options, solve_near);
    if whole.lost.is_empty() {
        return whole;
    }
    let less = Nudge {
        by: nudge.by * SMALLER,
        ..nudge
    };
    let lost = std::mem::take(&mut whole.lost);
    let again = recheck_branches(route, narrow, found, less, lost, options, solve_near);
    for mut finding in again.findings.into_iter().filter(follows_shape) {
        let Some(value) = value_like(&found.findings, &finding) else {
            continue;
        };
        finding.value = value + (finding.value - value) / SMALLER;
        whole.findings.push(finding);
    }
    whole.lost = again.lost;
    whole
}

/// Whether a branch found a shape that is not the old one slightly moved: some place moved much further than
/// the nudge, or folded.
fn left_its_neighbourhood(
    old: &BranchSolution,
    new: &BranchSolution,
    diameter: f64,
    nudge: f64,
) -> bool {
    old.shapes.iter().zip(&new.shapes).any(|(old, new)| {
        let knots = old.curve.knots().iter();
        let furthest = knots
            .map(|knot| (knot.position - new.curve.position(knot.at)).norm())
            .fold(0.0, f64::max);
        let folded = old.spans.iter().zip(&new.spans).any(|(old, new)| {
            new.curvature * FOLDED * diameter > 1.0 && new.curvature > 2.0 * old.curvature
        });
        furthest > FURTHEST * nudge || folded
    })
}

fn recheck_branches(
    route: &Route,
    narrow: &Solution,
    found: &Findings,
    nudge: Nudge,
    branches: Vec<BranchId>,
    options: &Options,
    solve_near: &(dyn Fn(&Route, &Solution) -> Solution + Sync),
) -> Rechecked {
    let changed = nudged(route, nudge);
    // A part that is only near changes no shape: the branch is where it was.
    let to_solve: Vec<BranchId> = branches
        .iter()
        .copied()
        .filter(|&branch| match nudge.item {
            Item::Part(part) => touches(route, found, part, branch),
            Item::Place(_) | Item::Axis(_) => true,
        })
        .collect();
    let mut solution = narrow.clone();
    let mut lost = Vec::new();
    if !to_solve.is_empty() {
        let part_of_route = Route {
            branches: to_solve
                .iter()
                .map(|branch| changed.branches[branch.0].clone())
                .collect(),
            ..changed.clone()
        };
        let start = Solution {
            sweep: narrow.sweep.clone(),
            stances: narrow.stances.clone(),
            branches: to_solve
                .iter()
                .map(|branch| narrow.branches[branch.0].clone())
                .collect(),
        };
        let solved = solve_near(&part_of_route, &start);
        solution.stances = solved.stances;
        for (branch, new) in to_solve.iter().zip(solved.branches) {
            let diameter = route.branches[branch.0].diameter;
            let old = &narrow.branches[branch.0];
            if new.shapes.iter().any(|shape| !shape.converged)
                || left_its_neighbourhood(old, &new, diameter, nudge.by.norm())
            {
                lost.push(*branch);
            }
            solution.branches[branch.0] = new;
        }
    }
    let surroundings = Surroundings::new(&changed.machine);
    let job = Job::new(
        &changed,
        &solution,
        &surroundings,
        &found.limits,
        &branches,
        options.units,
    );
    let mut findings = super::all_checks(&job).findings;
    // Of a branch that was lost only what does not follow from its shape can be used.
    findings.retain(|finding| !(follows_shape(finding) && lost.contains(&finding.branch)));
    Rechecked { findings, lost }
}

/// The route with one item moved.
fn nudged(route: &Route, nudge: Nudge) -> Route {
    let mut changed = route.clone();
    match nudge.item {
        Item::Place(place) => changed.places[place].at += nudge.by,
        Item::Part(part) => move_shape(&mut changed.machine.parts[part].shape, nudge.by),
        Item::Axis(body) => {
            if let Joint::Turns { through, .. } = &mut changed.machine.bodies[body.0].joint {
                *through += nudge.by;
            }
        }
    }
    changed
}

fn move_shape(shape: &mut Shape, by: Vector3<f64>) {
    match shape {
        Shape::Tube { along, .. } => along.iter_mut().for_each(|point| *point += by),
        Shape::Block { centre, .. } | Shape::Ball { centre, .. } => *centre += by,
        Shape::Cylinder { from, to, .. } => {
            *from += by;
            *to += by;
        }
    }
}

/// The solution with only the poses that decide a finding, rest, and both ends of every joint.
fn narrowed(route: &Route, solution: &Solution, findings: &[Finding]) -> Solution {
    let sweep = &solution.sweep;
    let mut keep: Vec<usize> = findings.iter().map(|finding| finding.pose).collect();
    keep.push(sweep.rest);
    for body in (0..route.machine.bodies.len()).map(BodyId) {
        let chain = super::job::poses_of_joint(solution, body);
        keep.extend(chain.first().map(|end| end.0));
        keep.extend(chain.last().map(|end| end.0));
    }
    keep.sort_unstable();
    keep.dedup();
    let rest = keep.partition_point(|&pose| pose < sweep.rest);
    let first = PoseStep {
        from: None,
        to: rest,
        straight_on: false,
    };
    let others = (0..keep.len()).filter(|&to| to != rest).map(|to| PoseStep {
        from: Some(rest),
        to,
        straight_on: false,
    });
    Solution {
        sweep: Sweep {
            poses: keep.iter().map(|&pose| sweep.poses[pose].clone()).collect(),
            rest,
            walk: std::iter::once(first).chain(others).collect(),
        },
        stances: keep
            .iter()
            .map(|&pose| solution.stances[pose].clone())
            .collect(),
        branches: solution
            .branches
            .iter()
            .map(|branch| BranchSolution {
                spans: branch.spans.clone(),
                shapes: keep
                    .iter()
                    .map(|&pose| branch.shapes[pose].clone())
                    .collect(),
                snaps: Vec::new(),
                resolution: branch.resolution,
            })
            .collect(),
    }
}

/// A measured item by name.
fn item_in_words(route: &Route, item: Item) -> String {
    match item {
        Item::Part(part) => route.machine.parts[part].name.clone(),
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

#[cfg(test)]
mod tests {
    use super::*;

    /// Standard normal distribution: 1.644854 σ leaves 5 % beyond, 1.959964 σ leaves 2.5 % (any table).
    #[test]
    fn chance_follows_the_normal_distribution() {
        let table = [
            (0.0, 0.5),
            (1.0, 0.158_655),
            (1.644_854, 0.05),
            (1.959_964, 0.025),
        ];
        for (sigmas, chance) in table {
            let over = chance_over(10.0, 10.0 + 2.0 * sigmas, true, 2.0);
            assert!((over - chance).abs() < 1e-6, "{sigmas} σ: {over}");
            let under = chance_over(10.0, 10.0 - 2.0 * sigmas, false, 2.0);
            assert!((under - chance).abs() < 1e-6, "{sigmas} σ: {under}");
        }
        assert!(chance_over(1.0, 1.0, true, 0.0) < 1e-12);
        assert!(chance_over(1.1, 1.0, true, 0.0) > 1.0 - 1e-12);
    }

    #[test]
    fn a_kink_takes_the_larger_one_sided_change() {
        assert!((standard_change(5.0, 7.0, 3.0) - 2.0).abs() < 1e-12);
        assert!((standard_change(5.0, 7.0, 5.0) - 1.0).abs() < 1e-12);
        assert!((standard_change(5.0, 4.0, 3.0) - 2.0).abs() < 1e-12);
        assert!((standard_change(5.0, 6.0, 8.0) - 3.0).abs() < 1e-12);
    }
}
