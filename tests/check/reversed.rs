//! A branch told from its other end is the same branch.

use neckloom::check::{Finding, Findings, Options, check};
use neckloom::harness::{Branch, Lay};
use neckloom::read::route_file;
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::Route;

/// The branch from its other end: fixings in the other order, each facing the other way, each span with the length and the
/// waypoints that it had.
fn reversed(branch: &Branch) -> Branch {
    let old = &branch.lay;
    let lay = (0..old.len()).map(|i| {
        let mut fixing = old[old.len() - 1 - i].fixing.clone();
        fixing.facing = fixing.facing.map(|facing| -facing);
        // The span that led away leads here now.
        let span = &old[if i == 0 { 0 } else { old.len() - i }];
        Lay {
            fixing,
            vias: span.vias.iter().rev().copied().collect(),
            length: span.length,
        }
    });
    Branch {
        lay: lay.collect(),
        ..branch.clone()
    }
}

fn solved(route: &Route) -> (Solution, Findings) {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    let solution = solve(route, &Settings::default());
    let findings = check(route, &solution, &options);
    (solution, findings)
}

/// Whether a finding tells of a part that rubs by less than a hundredth of the limit: at the edge of touching it comes and
/// goes.
fn barely_touches(finding: &Finding) -> bool {
    finding.check == "chafe" && finding.value < 0.01 * finding.limit
}

/// Every value of the report is the same, at the same place of the branch, on machines whose harness lies free, is pulled
/// taut, and is pressed between parts.
#[test]
fn a_branch_told_from_its_other_end_is_the_same() {
    // As near as the rod is solved to, thrice for what is the difference of two poses. Where parts press, the radius is only resolved to some parts in a thousand.
    for (name, tolerance) in [
        ("tourer_stock", 3e-4),
        ("bend_radius_over", 3e-4),
        ("elongation_over", 3e-4),
        ("twist_over", 3e-4),
        ("pinch_over", 5e-3),
        ("chafe_over", 5e-3),
    ] {
        let route = route_file(format!("routes/{name}.ron").as_ref()).unwrap();
        let mut other = route.clone();
        other.branches = route.branches.iter().map(reversed).collect();
        let ((solution, one), (_, two)) = (solved(&route), solved(&other));
        let mut left: Vec<&Finding> = two.findings.iter().collect();
        for finding in &one.findings {
            let length = solution.branches[finding.branch.0]
                .spans
                .last()
                .unwrap()
                .end();
            let like = |other: &Finding| {
                let scale = finding.value.abs().max(finding.limit.abs()).max(1e-6);
                // What is left of moments that nearly cancel.
                let tolerance = match finding.check {
                    "steering drag" => 1e-2,
                    _ => tolerance,
                };
                other.check == finding.check
                    && other.branch == finding.branch
                    && other.verdict == finding.verdict
                    && (other.value - finding.value).abs() <= tolerance * scale
            };
            let found = left
                .iter()
                .enumerate()
                .filter(|(_, other)| like(other))
                .min_by(|(_, a), (_, b)| {
                    let off = |other: &Finding| (other.at + finding.at - length).abs();
                    off(a).total_cmp(&off(b))
                });
            let Some((index, _)) = found else {
                if barely_touches(finding) {
                    continue;
                }
                let near: Vec<_> = left.iter().filter(|f| f.check == finding.check).collect();
                panic!("{name}: {finding:#?} among {near:#?}");
            };
            left.swap_remove(index);
        }
        left.retain(|finding| !barely_touches(finding));
        assert!(left.is_empty(), "{name}: {left:#?}");
    }
}
