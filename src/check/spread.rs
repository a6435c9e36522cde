//! How far each finding may be off because positions were measured by hand.
//!
//! Every measured item (a point, a part as a whole, a point of an axis) is moved by one standard deviation each
//! way along each axis of the machine, what it can change is solved again near the old solution, and checked
//! again. With the items independent, the variance of a value is the sum of the squares of its changes
//! (first-order propagation; JCGM 100:2008, GUM, 5.1.2), each taken as the root mean square of the two ways: of what
//! changes in proportion that is the derivative, and at a kink (the worst pose or place changes over, a part begins to
//! press) both sides count alike. Only the poses in which some finding is worst are solved again, with rest and both
//! ends of every joint, and only the stretch of a branch between fixings that hold direction: to first order the worst
//! value moves with its own pose and place.

use nalgebra::Vector3;
use rayon::prelude::*;

use crate::harness::{BranchId, LengthRule};
use crate::machine::{BodyId, Joint, Surroundings};
use crate::rod::{Neighbourhood, Solution};
use crate::route::Route;

use super::deciding::{deciding, narrowed};
use super::gaps::{self, Gaps};
use super::lost::Lost;
use super::nudge::{Item, Nudge, item_in_words, items};
use super::recheck::{Around, Rechecked, Solver, is_found, recheck};
use super::run::SolveNear;
use super::snag::is_about_slack;
use super::wording::length;
use super::{Blank, Finding, Findings, Options, Verdict};

/// A limit that holds with less than this chance of being broken is within, otherwise close.
const CLOSE: f64 = 0.05;
/// Doubts that differ by less than this part of themselves are the same: nudges are followed to some parts in a thousand, and
/// both ends of a span often matter alike.
const SAME: f64 = 0.01;
const JUMPS: &str = " A change as small as the tolerance makes the branch jump to another shape, so how sure this is \
                     cannot be told.";

const NOT_FOUND: &str = " Some poses were not found, so how sure this is cannot be told.";

/// Gives every finding its spread, its chance of breaking the limit, and the verdict that follows.
pub(super) fn add_spread(
    route: &Route,
    solution: &Solution,
    surroundings: &Surroundings<'_>,
    found: &mut Findings,
    options: &Options,
    solve_near: Option<&SolveNear<'_>>,
) {
    let nudges = nudges(route, found);
    let poses = deciding(route, solution, &found.findings);
    let narrow = narrowed(solution, &poses);
    let branches = (0..route.branches.len()).map(BranchId);
    let gaps: Vec<Vec<Gaps>> = branches
        .map(|branch| gaps::by_pose(route, &narrow, surroundings, branch))
        .collect();
    let around = Around {
        route,
        narrow: &narrow,
        poses: &poses,
        gaps: &gaps,
        surroundings,
        found,
        options,
        solver: match solve_near {
            None => Solver::Rod(Neighbourhood::new(
                route,
                surroundings,
                &narrow,
                &options.settings,
            )),
            Some(solve) => Solver::Other(solve),
        },
    };
    let nudged: Vec<Rechecked> = nudges
        .par_iter()
        .map(|nudge| recheck(&around, *nudge))
        .collect();
    let lost: Vec<(Lost, Item)> = nudged
        .iter()
        .zip(&nudges)
        .flat_map(|(result, nudge)| result.lost.iter().map(|&lost| (lost, nudge.item)))
        .collect();
    for finding in &mut found.findings {
        if !has_spread(finding) {
            continue;
        }
        if !is_found(route, &narrow, finding.branch) {
            if finding.verdict == Verdict::Within {
                finding.verdict = Verdict::Close;
                finding.advice.push_str(NOT_FOUND);
            }
            continue;
        }
        if lost.iter().any(|(lost, _)| lost.spoils(finding)) {
            if finding.verdict == Verdict::Within {
                finding.verdict = Verdict::Close;
                finding.advice.push_str(JUMPS);
            }
            continue;
        }
        let scale = Scale::of(route, finding);
        let (mut variance, greatest) = variance(finding, scale, &nudges, &nudged);
        variance += discretisation(route, solution, finding, scale).powi(2);
        judge(finding, scale, variance.sqrt());
        let doubtful = finding.verdict == Verdict::Close
            && finding.chance_over.is_some_and(|chance| chance > CLOSE);
        if let (true, Some(item)) = (doubtful, greatest) {
            finding.advice.push_str(&format!(
                " Too close to call with a tolerance of {}: most of the doubt comes from {}, so measure \
                 that again first.",
                length(options.units, route.tolerance),
                match item {
                    Item::String(..) => item_in_words(route, item),
                    _ => format!("where {} is", item_in_words(route, item)),
                }
            ));
        }
    }
    found.blanks.extend(jumps(route, &lost));
}

/// The scale on which a value changes in proportion to small displacements.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Scale {
    /// The value itself.
    Plain,
    /// The curvature of the centreline, for an inside radius: it is the bend that follows the fixings in proportion,
    /// while the radius of an almost straight branch may grow without bound.
    Curvature {
        /// Centreline radius less inside radius \[m\].
        offset: f64,
    },
}

impl Scale {
    fn of(route: &Route, finding: &Finding) -> Self {
        let offset = 0.5 * route.branches[finding.branch.0].diameter;
        if bends(finding) && finding.value > -offset {
            Self::Curvature { offset }
        } else {
            Self::Plain
        }
    }

    /// The value on this scale.
    fn on(self, value: f64) -> f64 {
        match self {
            Self::Plain => value,
            Self::Curvature { offset } => 1.0 / (value + offset).max(f64::MIN_POSITIVE),
        }
    }

    /// A small change on this scale as a change of `value`.
    fn back(self, value: f64, change: f64) -> f64 {
        match self {
            Self::Plain => change,
            Self::Curvature { offset } => change * (value + offset).powi(2),
        }
    }
}

/// Whether a finding is about an inside radius.
fn bends(finding: &Finding) -> bool {
    finding.check == "bend radius"
        || (finding.check == "tie pinch" && finding.subject.ends_with(" edge"))
}

/// Every item that matters, moved both ways along every axis; the two ways stand side by side.
fn nudges(route: &Route, found: &Findings) -> Vec<Nudge> {
    let mut nudges = Vec::new();
    for item in items(route, found) {
        let own = route.axes();
        let (axes, deviation) = match item {
            Item::String(branch, lay) => (vec![Vector3::x()], string_deviation(route, branch, lay)),
            Item::Axis(body) => (across(route, body, &own), route.tolerance),
            Item::Place(_) | Item::Part(_) => (own.to_vec(), route.tolerance),
        };
        for axis in axes {
            for way in [1.0, -1.0] {
                let by = axis * (way * deviation);
                nudges.push(Nudge { item, by });
            }
        }
    }
    nudges
}

/// Standard deviation of a length from string and gathered slack that is not that of the points \[m\].
fn string_deviation(route: &Route, branch: BranchId, lay: usize) -> f64 {
    let bundle = &route.branches[branch.0];
    let LengthRule::Strung(readings) = bundle.lay[lay].length else {
        return 0.0;
    };
    let fit = route.string_fit(bundle, lay, &readings);
    fit.map_or(0.0, |fit| fit.own_sd)
}

/// The variance of a finding's value on its scale, and the item that adds most to it.
fn variance(
    finding: &Finding,
    scale: Scale,
    nudges: &[Nudge],
    nudged: &[Rechecked],
) -> (f64, Option<Item>) {
    let mut variance = 0.0;
    let mut greatest = (0.0, None);
    for (nudge, pair) in nudges.iter().step_by(2).zip(nudged.chunks_exact(2)) {
        let plus = value_like(&pair[0].findings, finding);
        let minus = value_like(&pair[1].findings, finding);
        // One way it may be felt by nothing, and then nothing is told of it.
        if plus.is_some() || minus.is_some() {
            let [plus, minus] = [plus, minus].map(|moved| moved.unwrap_or(finding.value));
            let change = change(scale.on(finding.value), scale.on(plus), scale.on(minus));
            variance += change * change;
            // Of two that add the same the first is named.
            if change > greatest.0 * (1.0 + SAME) {
                greatest = (change, Some(nudge.item));
            }
        }
    }
    (variance, greatest.1)
}

/// What to say of each branch that jumps to another shape.
fn jumps(route: &Route, lost: &[(Lost, Item)]) -> Vec<Blank> {
    let branches = (0..route.branches.len()).map(BranchId);
    branches
        .filter_map(|branch| {
            let mut names: Vec<String> = lost
                .iter()
                .filter(|(of, _)| of.branch == branch)
                .map(|(_, item)| item_in_words(route, *item))
                .collect();
            names.sort();
            names.dedup();
            (!names.is_empty()).then(|| Blank {
                check: "spread",
                branch,
                why: format!(
                    "With {} moved by the tolerance the branch jumps to another shape in some pose, so that no \
                     spread can be told of what follows its shape.",
                    names.join(", ")
                ),
            })
        })
        .collect()
}

/// Whether a finding's value can be worked out again from a nudged route: what jumps, is summed over every pose of the
/// sweep, or is told by rule alone cannot.
pub(super) fn has_spread(finding: &Finding) -> bool {
    !matches!(
        finding.check,
        "snap"
            | "solve"
            | "chafe"
            | "flex life"
            | "current"
            | "signal pairs"
            | "heat"
            | "contacts"
            | "splice"
    ) && !is_about_slack(finding)
}

/// Whether a finding's value follows from the shape of the branch, rather than from where its fixings are alone.
pub(super) fn follows_shape(finding: &Finding) -> bool {
    match finding.check {
        "support" | "slack most" => false,
        "elongation" => !finding.subject.ends_with(" slack"),
        "tie pinch" => finding.subject.ends_with(" edge"),
        "steering drag" => finding.subject.starts_with("about "),
        _ => true,
    }
}

/// Change of a value by one standard deviation of one coordinate, from its values with the coordinate moved by one up and
/// down: the root mean square of the two changes.
fn change(value: f64, plus: f64, minus: f64) -> f64 {
    (0.5 * ((plus - value).powi(2) + (minus - value).powi(2))).sqrt()
}

/// Two directions square to each other and to the axis of a joint, beside the machine's own: along itself an axis may be
/// moved at will.
fn across(route: &Route, body: BodyId, own: &[Vector3<f64>; 3]) -> Vec<Vector3<f64>> {
    let Joint::Turns { axis, .. } = route.machine.bodies[body.0].joint else {
        return own.to_vec();
    };
    let along = |v: &Vector3<f64>| axis.dot(v).abs();
    let first = own
        .iter()
        .copied()
        .min_by(|a, b| along(a).total_cmp(&along(b)))
        .unwrap_or_else(Vector3::x);
    let first = (first - axis.into_inner() * axis.dot(&first)).normalize();
    vec![first, axis.cross(&first)]
}

/// Sets spread, chance and verdict of a finding from its standard deviation on its scale.
fn judge(finding: &mut Finding, scale: Scale, deviation: f64) {
    let (value, limit) = (scale.on(finding.value), scale.on(finding.limit));
    // A radius must not fall below its limit: a curvature must not rise above it.
    let at_most = finding.at_most != (scale != Scale::Plain);
    let chance = chance_over(value, limit, at_most, deviation);
    finding.spread = Some(scale.back(finding.value, deviation));
    finding.chance_over = Some(chance);
    // What a rule calls close stays so however sure the value is.
    if finding.verdict == Verdict::Within && chance > CLOSE {
        finding.verdict = Verdict::Close;
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

/// What the rod's own resolution may add to an inside radius, on its scale.
fn discretisation(route: &Route, solution: &Solution, finding: &Finding, scale: Scale) -> f64 {
    if !bends(finding) {
        return 0.0;
    }
    let error = solution.branches[finding.branch.0].resolution.radius_error;
    let radius = finding.value + 0.5 * route.branches[finding.branch.0].diameter;
    match scale {
        Scale::Plain => radius * error,
        Scale::Curvature { .. } => scale.on(finding.value) * error,
    }
}

/// Whether a finding's value is summed over branches.
pub(super) fn is_summed(finding: &Finding) -> bool {
    finding.check == "steering drag" && finding.subject.starts_with("about ")
}

/// Whether a finding's value follows from what is near its place, rather than from all of its branch or of several.
pub(super) fn is_local(finding: &Finding) -> bool {
    finding.check != "drip loop" && !is_summed(finding)
}

/// Whether two findings say the same of a branch.
pub(super) fn tells_the_same(one: &Finding, other: &Finding) -> bool {
    one.check == other.check && one.subject == other.subject && one.branch == other.branch
}

/// The value of the finding that says the same as `like`. What is summed over branches may change the branch
/// that it names.
pub(super) fn value_like(findings: &[Finding], like: &Finding) -> Option<f64> {
    let same = |f: &&Finding| f.check == like.check && f.subject == like.subject;
    findings
        .iter()
        .filter(same)
        .find(|f| f.branch == like.branch)
        .or_else(|| findings.iter().find(same).filter(|_| is_summed(like)))
        .map(|f| f.value)
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
    fn a_radius_is_judged_by_its_curvature() {
        let scale = Scale::Curvature { offset: 0.004 };
        for inside in [0.02, 0.1, 3.0] {
            let change = 1e-6;
            let there = 1.0 / (scale.on(inside) + change) - 0.004;
            assert!(
                (inside - there - scale.back(inside, change)).abs() < 1e-4 * (inside - there).abs()
            );
        }
        // An almost straight branch whose curvature is as likely to double as to vanish is no risk at a tenth of that.
        assert!(chance_over(scale.on(3.0), scale.on(0.03), true, scale.on(3.0)) < 1e-9);
    }

    /// With a normally distributed coordinate x, the mean of f(x)² for f = a x above zero and b x below is (a² + b²)/2.
    #[test]
    fn at_a_kink_both_sides_count_alike() {
        assert!((change(5.0, 7.0, 3.0) - 2.0).abs() < 1e-12);
        assert!((change(5.0, 7.0, 5.0) - 2_f64.sqrt()).abs() < 1e-12);
        assert!((change(5.0, 4.0, 3.0) - 2.5_f64.sqrt()).abs() < 1e-12);
        assert!((change(5.0, 6.0, 8.0) - 5_f64.sqrt()).abs() < 1e-12);
    }
}
