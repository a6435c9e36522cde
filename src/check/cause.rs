//! Cause: which findings follow from which, so that the report begins with what must be mended.
//!
//! A span that is too short is pulled straight, so it also stretches, folds at its fixings and drags on the
//! steering; a branch that is squeezed gives way, so it also bends beside the squeeze; what bends too tightly works its
//! strands there; what lies in the way of a part is rubbed by it too. Who is told all of these
//! as equals mends the wrong one.

use crate::quantity::Kind;
use crate::rod::Solution;
use crate::route::{Route, Span};

use super::{Finding, Verdict};

/// Bodies that are apart by the same to so much \[m, rad\] stand alike.
const ALIKE: f64 = 1e-9;

/// Findings from one cause: the cause as it stands after "Follows from", and where it reaches.
#[derive(Debug)]
struct Cause {
    finding: usize,
    words: String,
    reach: Reach,
}

/// What a cause brings about, all of it in its own branch.
#[derive(Debug)]
enum Reach {
    /// What follows the shape of the branch between two places \[m\], in every pose.
    Taut(f64, f64),
    /// The same in poses with the same squeeze alone, what jumps or pulls at contacts there, and what lies against the parts
    /// that squeeze.
    Squeezed(f64, f64, Vec<usize>),
    /// The bend at a strap: bends within a distance of a place \[m\].
    Strap(f64, f64),
    /// A bend: how its strands are worked within a distance of a place \[m\].
    Bend(f64, f64),
    /// The pull of a strap: its squeeze.
    Pull(String),
    /// What lies against or beside a part: what else is said of it there.
    Beside(String),
}

/// Puts the findings in the order of the report: worst verdict first; within one verdict causes before what
/// follows from them, then the most used limit; what ties stands in the order of the branches and checks. The
/// advice of a finding that follows from another one says so.
pub(super) fn rank(route: &Route, solution: &Solution, findings: &mut [Finding]) {
    let causes = causes(route, solution, findings);
    let mut led_by: Vec<Option<usize>> = vec![None; findings.len()];
    for (rank, cause) in causes.iter().enumerate() {
        // What is itself a consequence is named by nothing: the first cause is the one to mend.
        let rank = match (led_by[cause.finding], &cause.reach) {
            (None, _) => rank,
            (Some(first), Reach::Bend(..)) => first,
            (Some(_), _) => continue,
        };
        for (index, finding) in findings.iter().enumerate() {
            let free = index != cause.finding && led_by[index].is_none();
            if free && finding.verdict == Verdict::Over && follows(findings, cause, finding) {
                led_by[index] = Some(rank);
            }
        }
    }
    for (finding, led_by) in findings.iter_mut().zip(led_by) {
        if let Some(rank) = led_by {
            let cause = &causes[rank].words;
            // Where the harness stops the bars is worth its own words, and has the cure of its cause.
            let binds = finding.check == "steering drag" && finding.kind != Kind::Torque;
            let first = format!("Follows from {cause}: mend that first, then check again.");
            // How long the strands last is told nowhere else.
            if finding.check == "flex life" {
                finding.advice = format!("{first} {}", finding.advice);
            } else if !binds {
                finding.advice = first;
            }
            finding.follows_from = Some(cause.clone());
        }
    }
    findings.sort_by(|a, b| {
        b.verdict
            .cmp(&a.verdict)
            .then(a.follows_from.is_some().cmp(&b.follows_from.is_some()))
            .then(b.use_of_limit().total_cmp(&a.use_of_limit()))
            .then(a.branch.cmp(&b.branch))
    });
}

/// Every finding that can bring about others, those that lie deepest first.
fn causes(route: &Route, solution: &Solution, findings: &[Finding]) -> Vec<Cause> {
    let over = || {
        let all = findings.iter().enumerate();
        all.filter(|(_, finding)| finding.verdict == Verdict::Over)
    };
    let spans = |finding: &Finding| solution.branches[finding.branch.0].spans.as_slice();
    let mut causes = Vec::new();
    for (finding, found) in over() {
        if let Some(words) = slack_of(found)
            && (found.value < 0.0 || over().any(|(_, other)| stretches_as_well(found, other)))
        {
            let (start, end) = ends(spans(found), found.at, 0);
            causes.push(Cause {
                finding,
                words: format!("{words} being too short"),
                reach: Reach::Taut(start, end),
            });
        }
    }
    for (finding, found) in over().filter(|(_, found)| found.check == "pinch") {
        let (start, end) = ends(spans(found), found.at, 1);
        causes.push(Cause {
            finding,
            words: if found.subject.contains(" and ") {
                format!("the squeeze between {}", found.subject)
            } else {
                format!("the squeeze in {}", found.subject)
            },
            reach: Reach::Squeezed(start, end, squeezed_in(route, solution, found)),
        });
    }
    for check in ["snag", "edge distance"] {
        for (finding, found) in over().filter(|(_, found)| found.check == check) {
            causes.push(Cause {
                finding,
                words: if check == "snag" {
                    format!("lying where {} sweeps", found.subject)
                } else {
                    format!("lying too near to {}", found.subject)
                },
                reach: Reach::Beside(found.subject.clone()),
            });
        }
    }
    for (finding, found) in over() {
        if let Some(words) = stretch_of(found) {
            let (start, end) = ends(spans(found), found.at, 0);
            causes.push(Cause {
                finding,
                words: format!("{words} being too short"),
                reach: Reach::Taut(start, end),
            });
        } else if let Some(strap) = of_strap(found, " pressure") {
            causes.push(Cause {
                finding,
                words: format!("the pull on {strap}"),
                reach: Reach::Pull(format!("{strap} squeeze")),
            });
        } else if let Some(strap) = of_strap(found, " edge") {
            let near = 2.0 * route.branches[found.branch.0].diameter;
            causes.push(Cause {
                finding,
                words: format!("the bend at the strap {strap}"),
                reach: Reach::Strap(found.at, near),
            });
        }
    }
    for (finding, found) in over().filter(|(_, found)| found.check == "bend radius") {
        let near = 2.0 * route.branches[found.branch.0].diameter;
        causes.push(Cause {
            finding,
            words: format!("the tight bend of {}", found.subject),
            reach: Reach::Bend(found.at, near),
        });
    }
    causes
}

/// The poses in which a squeeze is as in its worst one, the parts that squeeze standing to each other as there, and the poses
/// beside that one.
fn squeezed_in(route: &Route, solution: &Solution, pinch: &Finding) -> Vec<usize> {
    // One of the two may have an "and" in its own name.
    let squeezes = |name: &str| {
        let (first, last) = (format!("{name} and "), format!(" and {name}"));
        pinch.subject.starts_with(&first) || pinch.subject.ends_with(&last)
    };
    let parts = route.machine.parts.iter();
    let by: Vec<usize> = parts
        .filter(|part| squeezes(&part.name))
        .map(|part| part.on.0)
        .collect();
    let apart = |pose: usize| {
        let bodies = &solution.stances[pose].bodies;
        by.windows(2)
            .map(|two| bodies[two[0]].inv_mul(&bodies[two[1]]))
            .collect::<Vec<_>>()
    };
    let there = apart(pinch.pose);
    let as_there = |pose: usize| {
        apart(pose).iter().zip(&there).all(|(a, b)| {
            (a.translation.vector - b.translation.vector).norm() < ALIKE
                && a.rotation.angle_to(&b.rotation) < ALIKE
        })
    };
    (0..solution.stances.len())
        .filter(|&pose| pose.abs_diff(pinch.pose) <= 1 || (!there.is_empty() && as_there(pose)))
        .collect()
}

fn slack_of(finding: &Finding) -> Option<&str> {
    (finding.check == "elongation")
        .then(|| finding.subject.strip_suffix(" slack"))
        .flatten()
}

fn stretch_of(finding: &Finding) -> Option<&str> {
    (finding.check == "elongation")
        .then(|| finding.subject.strip_suffix(" stretch"))
        .flatten()
}

fn of_strap<'f>(finding: &'f Finding, what: &str) -> Option<&'f str> {
    (finding.check == "tie pinch")
        .then(|| finding.subject.strip_suffix(what))
        .flatten()
}

fn stretches_as_well(slack: &Finding, other: &Finding) -> bool {
    other.branch == slack.branch && stretch_of(other) == slack_of(slack)
}

/// Where the span that holds `at` begins and ends, with so many neighbours on either side \[m\].
fn ends(spans: &[Span], at: f64, neighbours: usize) -> (f64, f64) {
    let Some(last) = spans.len().checked_sub(1) else {
        return (at, at);
    };
    let here = spans
        .iter()
        .position(|span| at <= span.end())
        .unwrap_or(last);
    (
        spans[here.saturating_sub(neighbours)].start,
        spans[(here + neighbours).min(last)].end(),
    )
}

fn follows(findings: &[Finding], cause: &Cause, finding: &Finding) -> bool {
    if finding.branch != findings[cause.finding].branch {
        return false;
    }
    let bends = finding.check == "bend radius" || of_strap(finding, " edge").is_some();
    let gives_way = bends || stretch_of(finding).is_some();
    match &cause.reach {
        Reach::Taut(start, end) => {
            (gives_way || matches!(finding.check, "steering drag" | "chafe" | "flex life"))
                && (*start..=*end).contains(&finding.at)
        }
        Reach::Squeezed(start, end, poses) => {
            let here = (*start..=*end).contains(&finding.at);
            let squeezed_by = &findings[cause.finding].subject;
            let same = is_beside(finding) && squeezed_by.contains(finding.subject.as_str());
            let gives_way = gives_way || matches!(finding.check, "snap" | "contacts");
            here && (same || (gives_way && poses.contains(&finding.pose)))
        }
        Reach::Strap(at, near) => bends && (finding.at - at).abs() <= *near,
        Reach::Bend(at, near) => finding.check == "flex life" && (finding.at - at).abs() <= *near,
        Reach::Beside(part) => is_beside(finding) && finding.subject == *part,
        Reach::Pull(subject) => finding.check == "tie pinch" && finding.subject == *subject,
    }
}

/// Whether a finding's subject is a part that the branch lies beside.
fn is_beside(finding: &Finding) -> bool {
    matches!(finding.check, "snag" | "chafe" | "edge distance")
}
