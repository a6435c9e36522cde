//! A branch told from its other end is the same branch, and an axis the same axis.

use neckloom::check::{Finding, Findings, Options, check};
use neckloom::harness::{Branch, BranchId, Lay};
use neckloom::machine::Joint;
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::Route;

use super::alike::{TOLERANCE, Told, differences};
use super::demos::demos;

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

/// The whole route with every branch told from its other end: breakouts and splices keep their places.
fn route_reversed(route: &Route, solution: &Solution) -> Route {
    let mut other = route.clone();
    other.branches = route.branches.iter().map(reversed).collect();
    for meeting in other.breakouts.iter_mut().flat_map(|b| &mut b.meets) {
        meeting.lay = route.branches[meeting.branch.0].lay.len() - 1 - meeting.lay;
    }
    for splice in &mut other.splices {
        splice.at = length(solution, splice.branch) - splice.at;
    }
    other
}

fn length(solution: &Solution, branch: BranchId) -> f64 {
    let last = solution.branches[branch.0].spans.last();
    last.map_or(0.0, |span| span.start + span.length)
}

/// Every value of the report is the same, at the same place of the branch, of every route that comes with the program.
#[test]
fn a_branch_told_from_its_other_end_is_the_same() {
    let mut off = Vec::new();
    for (name, route) in demos() {
        let (solution, one) = solved(&route);
        let (_, two) = solved(&route_reversed(&route, &solution));
        let mut left: Vec<&Finding> = two.findings.iter().collect();
        for finding in &one.findings {
            let length = length(&solution, finding.branch);
            let scale = finding.value.abs().max(finding.limit.abs());
            // The frame of the strands is carried from one end or the other.
            let tolerance = match finding.check {
                "flex life" => 10.0 * TOLERANCE,
                _ => TOLERANCE,
            };
            let like = |other: &Finding| {
                other.check == finding.check
                    && other.branch == finding.branch
                    && other.verdict == finding.verdict
                    && (other.value - finding.value).abs() <= tolerance * scale
            };
            let far = |other: &Finding| (other.at + finding.at - length).abs();
            let alike = left.iter().enumerate().filter(|(_, other)| like(other));
            let found = alike.min_by(|(_, a), (_, b)| far(a).total_cmp(&far(b)));
            match found.map(|(index, _)| index) {
                Some(index) => drop(left.swap_remove(index)),
                None => off.push(format!("{name}: {} {}", finding.check, finding.subject)),
            }
        }
        let new = left.iter();
        off.extend(new.map(|f| format!("{name}: {} {}, not before", f.check, f.subject)));
    }
    assert!(off.is_empty(), "{}", off.join("\n"));
}

/// With every axis pointing the other way, and the stops of its angle changed over, the poses come in the other order; every
/// value of the report is the same.
#[test]
fn an_axis_told_from_its_other_end_is_the_same() {
    let (mut off, mut turned) = (Vec::new(), 0);
    for (name, route) in demos() {
        let mut other = route.clone();
        for body in &mut other.machine.bodies {
            if let Joint::Turns { axis, from, to, .. } = &mut body.joint {
                *axis = -*axis;
                (*from, *to) = (-*to, -*from);
                turned += 1;
            }
        }
        let told = |route: &Route| -> Vec<Told> {
            let report = solved(route).1;
            let told = report.findings.iter().map(|found| {
                // Which way is up along an axis is told by the axis itself.
                let way = [" up", " down"].map(|way| found.subject.strip_suffix(way));
                let subject = way.into_iter().flatten().next().unwrap_or(&found.subject);
                let branch = &route.branches[found.branch.0].name;
                Told::new(format!("{} {branch} {subject}", found.check), found)
            });
            told.collect()
        };
        let other = differences(told(&route), told(&other));
        off.extend(other.into_iter().map(|other| format!("{name}: {other}")));
    }
    assert!(turned > 40, "only {turned} axes were turned over");
    assert!(off.is_empty(), "{}", off.join("\n"));
}
