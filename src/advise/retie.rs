//! Which fixings to move, turn, loosen or take off so that every limit holds.
//!
//! Branches that hang together are one problem, the others are problems of their own. For each, one fixing is tried at a
//! time, then pairs: what is exchanged (a strap for a cushioned clamp, a direction let go, a fixing taken off) is tried as
//! it is, and what has a size (how far along, how much of the branch is drawn through, how far turned) is found by the
//! Gauss–Newton method with the damping of Levenberg and Marquardt (Nocedal & Wright, Numerical Optimization, 2nd ed. 2006,
//! section 10.3) on the excess of every finding over its limit, slopes by finite differences of the solved route. Few
//! unknowns and a cheap solve make that faster than a method without slopes; it begins from several places, since a
//! harness can lie in more than one way.
//!
//! A fixing moves only where the machine lets it: along the tube or cylinder that it sits on, otherwise along itself, and
//! within what a person would call the same place. Connectors and breakouts stay where they are.

use std::time::{Duration, Instant};

use nalgebra::{DMatrix, DVector, Unit, UnitQuaternion, UnitVector3, Vector3};
use rayon::prelude::*;

use crate::check::{Finding, Options, Verdict};
use crate::geometry::Shape;
use crate::harness::{BranchId, FixingKind};
use crate::quantity::Units;
use crate::route::{Change, HeldAs, Route, Step};

use super::Solved;
use super::margin::{excess, margin};

/// How to look.
#[derive(Debug, Clone, Copy)]
pub struct RetieOptions {
    /// How to check what is proposed.
    pub check: Options,
    /// How far a fixing may be shifted along what it sits on \[m\].
    pub farthest: f64,
    /// How far its direction may be turned \[rad\].
    pub turned: f64,
    /// When to stop and give the best so far.
    pub patience: Duration,
    /// How many proposals to give.
    pub proposals: usize,
}

impl Default for RetieOptions {
    fn default() -> Self {
        Self {
            check: Options::default(),
            farthest: 0.06,
            turned: 40.0_f64.to_radians(),
            patience: Duration::from_secs(60),
            proposals: 3,
        }
    }
}

/// Writes a change into the route's text and reads it again: the text, and the route that it says.
pub type Rewrite<'f> = dyn Fn(&Change) -> Result<(String, Route), String> + Sync + 'f;

/// A way to tie the harness so that every limit holds.
#[derive(Debug, Clone)]
pub struct Proposal {
    /// The whole route file.
    pub text: String,
    /// The route that it says, solved and checked.
    pub solved: Solved,
    /// What is done to the route, step by step.
    pub change: Change,
    /// The same in words.
    pub words: Vec<String>,
    /// Least room to a limit, as a share of the limit.
    pub margin: f64,
    /// Length of all branches together \[m\].
    pub length: f64,
}

/// What was found, and what was tried.
#[derive(Debug, Clone)]
pub struct Retied {
    /// The best first: fewest changes, then most room.
    pub proposals: Vec<Proposal>,
    /// What came nearest where nothing is proposed: in words, and by how much of a limit it fails.
    pub nearest: Vec<(String, f64)>,
    /// How many routes were solved and checked.
    pub solved: usize,
    /// Whether the time ran out before everything was tried.
    pub ran_out: bool,
}

/// Room that is asked for, as a share of the limit, so that hand measuring does not use it up.
const ROOM: f64 = 0.06;
/// Where what is proposed turns out too close to call, so much room is asked for next.
const MORE_ROOM: [f64; 2] = [0.15, 0.3];
/// Steps of the optimiser.
const STEPS: usize = 7;
/// Distance from a tube within which a fixing sits on it, over the branch's own radius \[m\].
const ON_TUBE: f64 = 0.02;
/// What a wide strap pulled by hand has: width \[m\] and tension \[N\]. From memory, no source: common practice.
const WIDE_STRAP: (f64, f64) = (4.8e-3, 20.0);

/// Finds ways to tie a route that holds every limit.
pub fn retie(base: &Solved, rewrite: &Rewrite<'_>, options: &RetieOptions) -> Retied {
    let until = Instant::now() + options.patience;
    let mut result = Retied {
        proposals: Vec::new(),
        nearest: Vec::new(),
        solved: 0,
        ran_out: false,
    };
    let mut rooms = vec![ROOM];
    rooms.extend(MORE_ROOM);
    for room in rooms {
        let found = per_cluster(base, options, room, until, &mut result);
        if let Some(found) = found {
            confirm(base, &found, rewrite, (options, until), &mut result);
        }
        let sound = |p: &Proposal| p.solved.verdict() == Verdict::Within;
        let enough = result.proposals.iter().filter(|p| sound(p)).count();
        result.ran_out = Instant::now() >= until;
        if enough >= options.proposals || result.ran_out || !result.nearest.is_empty() {
            break;
        }
    }
    result.proposals.sort_by(|a, b| {
        a.solved
            .verdict()
            .cmp(&b.solved.verdict())
            .then(a.change.steps.len().cmp(&b.change.steps.len()))
            .then(b.margin.total_cmp(&a.margin))
    });
    distinct(&mut result.proposals);
    result.proposals.truncate(options.proposals);
    result
}

/// Keeps the first of those that do the same kind of thing to the same fixings.
fn distinct(proposals: &mut Vec<Proposal>) {
    let mut seen: Vec<Vec<String>> = Vec::new();
    proposals.retain(|proposal| {
        let key: Vec<String> = proposal.change.steps.iter().map(kind_of).collect();
        let new = !seen.contains(&key);
        if new {
            seen.push(key);
        }
        new
    });
}

/// What a step does to what.
fn kind_of(step: &Step) -> String {
    match step {
        Step::Shift { what, .. } => format!("shift {what}"),
        Step::Hold { what, hold } => format!(
            "hold {what} {} {} {:?} {:?}",
            hold.facing.is_some(),
            hold.pull.is_some(),
            hold.loose,
            hold.cushioned
        ),
        Step::Remove { what } => format!("remove {what}"),
        other => format!("{other:?}"),
    }
}

/// For each cluster with a broken limit the ways to mend it, the best first; `None` where there is one without.
fn per_cluster(
    base: &Solved,
    options: &RetieOptions,
    room: f64,
    until: Instant,
    result: &mut Retied,
) -> Option<Vec<Vec<Vec<Step>>>> {
    let mut clusters: Vec<Vec<BranchId>> = Vec::new();
    for finding in &base.findings.findings {
        let together = base.route.together(finding.branch);
        if finding.verdict == Verdict::Over && !clusters.contains(&together) {
            clusters.push(together);
        }
    }
    let mut all = Vec::new();
    for together in clusters {
        let quick = Options {
            spread: false,
            ..options.check
        };
        let (own, _) = base.alone(together[0], &quick);
        let problem = Problem {
            own: &own,
            options,
            quick,
            room,
            until,
        };
        let (ways, tried) = problem.ways();
        result.solved += tried.solved;
        if ways.is_empty() {
            result.nearest.extend(tried.nearest);
            return None;
        }
        all.push(ways);
    }
    Some(all)
}

/// Puts the ways of the clusters together, and keeps what holds when read from its own text, solved and checked whole.
fn confirm(
    base: &Solved,
    found: &[Vec<Vec<Step>>],
    rewrite: &Rewrite<'_>,
    (options, until): (&RetieOptions, Instant),
    result: &mut Retied,
) {
    let most = found.iter().map(Vec::len).max().unwrap_or(0);
    let full = Options {
        spread: true,
        ..options.check
    };
    let candidates: Vec<Change> = (0..most.min(options.proposals + 2))
        .map(|n| Change {
            name: "tied anew".to_owned(),
            steps: found
                .iter()
                .flat_map(|ways| ways[n.min(ways.len() - 1)].clone())
                .collect(),
        })
        .filter(|change| !change.steps.is_empty())
        .collect();
    for change in candidates {
        let sound = result
            .proposals
            .iter()
            .filter(|p| p.solved.verdict() == Verdict::Within);
        if sound.count() >= options.proposals {
            return;
        }
        // Out of time: one that holds is enough, and without one the first is still worth a look.
        if Instant::now() >= until && !result.proposals.is_empty() {
            return;
        }
        let Ok((text, route)) = rewrite(&change) else {
            continue;
        };
        let quick = Options {
            spread: false,
            ..options.check
        };
        let solved = Solved::new(route, &quick);
        result.solved += 1;
        if solved.verdict() == Verdict::Over || !solved.is_found() {
            continue;
        }
        let findings = crate::check::check(&solved.route, &solved.solution, &full);
        let solved = Solved { findings, ..solved };
        let words = change
            .steps
            .iter()
            .map(|step| in_words(base, step))
            .collect();
        let length = solved.solution.branches.iter().flat_map(|b| &b.spans);
        let length = length.map(|span| span.length).sum();
        result.proposals.push(Proposal {
            text,
            margin: margin(&solved),
            length,
            change,
            words,
            solved,
        });
    }
}

/// A step as a person would say it at the machine: "T1 25 mm back, along left seat rail".
fn in_words(base: &Solved, step: &Step) -> String {
    let words = step.in_words(Units::METRIC);
    let Step::Shift { what, .. } = step else {
        return words;
    };
    let found = base.route.branches.iter().flat_map(|b| &b.lay);
    let mut found = found.filter(|entry| entry.fixing.name == *what);
    let tube = found.next().and_then(|entry| {
        let at = base.route.places[entry.fixing.place].at;
        tube_under(&base.route, entry.fixing.on, &at, 0.0)
    });
    match tube {
        Some((name, _)) => format!("{words} (along {name})"),
        None => words,
    }
}

/// The nearest tube or cylinder that a fixing sits on, and the direction along it there.
fn tube_under(
    route: &Route,
    on: crate::machine::BodyId,
    at: &nalgebra::Point3<f64>,
    radius: f64,
) -> Option<(String, UnitVector3<f64>)> {
    let mut best: Option<(f64, String, UnitVector3<f64>)> = None;
    for part in route.machine.parts.iter().filter(|part| part.on == on) {
        let gap = part.shape.distance(at) - radius;
        let line = match &part.shape {
            Shape::Tube { along, .. } => along.clone(),
            Shape::Cylinder { from, to, .. } => vec![*from, *to],
            _ => continue,
        };
        let nearest = line
            .windows(2)
            .map(|w| {
                let run = w[1] - w[0];
                let share = ((at - w[0]).dot(&run) / run.norm_squared()).clamp(0.0, 1.0);
                ((at - (w[0] + run * share)).norm(), run)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let direction = nearest.and_then(|(_, run)| Unit::try_new(run, 0.0));
        if let Some(direction) = direction
            && gap < ON_TUBE
            && best.as_ref().is_none_or(|(other, ..)| gap < *other)
        {
            best = Some((gap, part.name.clone(), direction));
        }
    }
    best.map(|(_, name, direction)| (name, direction))
}

/// What was tried.
#[derive(Debug, Default)]
struct Tried {
    solved: usize,
    nearest: Vec<(String, f64)>,
}

/// One fixing, what is exchanged there, and what may be varied.
#[derive(Debug, Clone, PartialEq)]
struct Trial {
    fixing: String,
    /// Steps without a size.
    before: Vec<Step>,
    /// Whether it is shifted.
    shifts: bool,
    /// Whether it is turned.
    turns: bool,
    /// Direction in which it is shifted, with every joint at zero.
    along: UnitVector3<f64>,
    /// The direction that it holds, where it does.
    facing: Option<UnitVector3<f64>>,
}

impl Trial {
    fn unknowns(&self) -> usize {
        2 * usize::from(self.shifts) + 2 * usize::from(self.turns)
    }

    /// The steps for these values of the unknowns: along \[m\], drawn through \[m\], two angles \[rad\].
    fn steps(&self, x: &[f64]) -> Vec<Step> {
        let mut steps = self.before.clone();
        let mut rest = x;
        if self.shifts {
            let (by, through) = (rest[0], rest[1]);
            rest = &rest[2..];
            steps.push(Step::Shift {
                what: self.fixing.clone(),
                by: Some(self.along.into_inner() * by),
                along: Some(through),
            });
        }
        if let (true, Some(facing)) = (self.turns, self.facing) {
            let across = Vector3::ith(facing.iamin(), 1.0);
            let u = Unit::new_normalize(facing.cross(&across));
            let v = Unit::new_normalize(facing.cross(&u));
            let turn = UnitQuaternion::from_axis_angle(&u, rest[0])
                * UnitQuaternion::from_axis_angle(&v, rest[1]);
            steps.push(Step::Hold {
                what: self.fixing.clone(),
                hold: HeldAs {
                    facing: Some(Some(turn * facing)),
                    ..HeldAs::default()
                },
            });
        }
        steps
    }

    /// The greatest value of each unknown.
    fn most(&self, options: &RetieOptions) -> Vec<f64> {
        let mut most = Vec::new();
        if self.shifts {
            most.extend([options.farthest, options.farthest]);
        }
        if self.turns {
            most.extend([options.turned, options.turned]);
        }
        most
    }
}

/// A cluster with a limit that is broken.
struct Problem<'a> {
    own: &'a Solved,
    options: &'a RetieOptions,
    quick: Options,
    room: f64,
    until: Instant,
}

/// What the optimiser reached.
#[derive(Debug, Clone)]
struct Reached {
    steps: Vec<Step>,
    /// Greatest excess of any finding.
    worst: f64,
    solved: usize,
}

impl Problem<'_> {
    /// The ways to mend the cluster, the best first, and what was tried.
    fn ways(&self) -> (Vec<Vec<Step>>, Tried) {
        let mut tried = Tried::default();
        let singles = self.trials();
        let mut reached: Vec<(Vec<Trial>, Reached)> = singles
            .into_par_iter()
            .map(|trial| {
                let group = vec![trial];
                let reached = self.optimise(&group);
                (group, reached)
            })
            .collect();
        self.sort(&mut reached);
        let holds = |reached: &[(Vec<Trial>, Reached)]| {
            reached.iter().filter(|(_, r)| r.worst <= 0.0).count()
        };
        if holds(&reached) < self.options.proposals && Instant::now() < self.until {
            // Two at a time, of different fixings, those that came nearest first.
            let mut pairs = Vec::new();
            let near: Vec<&Vec<Trial>> = reached
                .iter()
                .filter(|(_, r)| r.worst > 0.0)
                .take(6)
                .map(|(group, _)| group)
                .collect();
            for (i, a) in near.iter().enumerate() {
                for b in &near[i + 1..] {
                    if a[0].fixing != b[0].fixing {
                        pairs.push(vec![a[0].clone(), b[0].clone()]);
                    }
                }
            }
            pairs.truncate(8);
            let more: Vec<(Vec<Trial>, Reached)> = pairs
                .into_par_iter()
                .map(|group| {
                    let reached = self.optimise(&group);
                    (group, reached)
                })
                .collect();
            reached.extend(more);
            self.sort(&mut reached);
        }
        tried.solved = reached.iter().map(|(_, r)| r.solved).sum();
        let ways: Vec<Vec<Step>> = reached
            .iter()
            .filter(|(_, r)| r.worst <= 0.0)
            .map(|(_, r)| r.steps.clone())
            .collect();
        if ways.is_empty() {
            tried.nearest = reached
                .iter()
                .filter(|(_, r)| r.worst.is_finite() && !r.steps.is_empty())
                .take(3)
                .map(|(_, r)| {
                    let words: Vec<String> = r
                        .steps
                        .iter()
                        .map(|step| in_words(self.own, step))
                        .collect();
                    (words.join("; "), r.worst)
                })
                .collect();
        }
        (ways, tried)
    }

    /// Those that hold first, fewest changes first, then the least excess.
    fn sort(&self, reached: &mut [(Vec<Trial>, Reached)]) {
        reached.sort_by(|(a, r), (b, s)| {
            (r.worst > 0.0)
                .cmp(&(s.worst > 0.0))
                .then(if r.worst <= 0.0 {
                    a.len()
                        .cmp(&b.len())
                        .then(r.steps.len().cmp(&s.steps.len()))
                } else {
                    std::cmp::Ordering::Equal
                })
                .then(r.worst.total_cmp(&s.worst))
        });
    }

    /// What may be done to each fixing near a broken limit.
    fn trials(&self) -> Vec<Trial> {
        let route = &self.own.route;
        let mut trials = Vec::new();
        for (b, branch) in route.branches.iter().enumerate() {
            let spans = &self.own.solution.branches[b].spans;
            let findings = self.own.findings.findings.iter();
            let broken: Vec<&Finding> = findings
                .filter(|f| f.branch.0 == b && excess(f) > -self.room)
                .collect();
            for (lay, entry) in branch.lay.iter().enumerate() {
                let fixing = &entry.fixing;
                let movable = matches!(
                    fixing.kind,
                    FixingKind::Tie { .. } | FixingKind::Clamp | FixingKind::Grommet
                );
                // Of the span where it is, the fixings at its ends and one further on either side.
                let near = broken.iter().any(|finding| {
                    let span = spans
                        .iter()
                        .position(|span| finding.at <= span.end() + 1e-9);
                    let span = span.unwrap_or(spans.len().saturating_sub(1));
                    (span.saturating_sub(1)..=span + 2).contains(&lay)
                });
                if !(movable && near) {
                    continue;
                }
                let at = route.places[fixing.place].at;
                let tube = tube_under(route, fixing.on, &at, 0.5 * branch.diameter);
                let own = fixing.facing.or_else(|| {
                    let span = spans.get(lay.min(spans.len().saturating_sub(1)))?;
                    let at = if lay < spans.len() {
                        span.start
                    } else {
                        span.end()
                    };
                    let shape = self.own.solution.branches[b]
                        .shapes
                        .get(self.own.solution.sweep.rest)?;
                    Unit::try_new(shape.curve.tangent(at), 0.0)
                });
                let Some(own) = own else { continue };
                let along = match tube {
                    // Toward the branch's end, as its own direction.
                    Some((_, along)) if along.dot(&own) < 0.0 => -along,
                    Some((_, along)) => along,
                    None => own,
                };
                let inner = lay > 0 && lay + 1 < branch.lay.len();
                let plain = Trial {
                    fixing: fixing.name.clone(),
                    before: Vec::new(),
                    shifts: false,
                    turns: false,
                    along,
                    facing: fixing.facing,
                };
                let turns = fixing.facing.is_some();
                let mut push = |before: Vec<Step>, shifts: bool, turns: bool| {
                    trials.push(Trial {
                        before,
                        shifts,
                        turns,
                        ..plain.clone()
                    });
                };
                let hold = |hold: HeldAs| {
                    vec![Step::Hold {
                        what: fixing.name.clone(),
                        hold,
                    }]
                };
                let squeezed = broken
                    .iter()
                    .any(|f| f.check == "tie pinch" && f.subject.starts_with(fixing.name.as_str()));
                push(Vec::new(), inner, false);
                if turns {
                    push(Vec::new(), false, true);
                    push(Vec::new(), inner, true);
                }
                if let (FixingKind::Tie { .. }, true) = (fixing.kind, squeezed) {
                    let clamp = || {
                        hold(HeldAs {
                            cushioned: Some(true),
                            width: Some(12e-3_f64.max(fixing.width.unwrap_or(0.0))),
                            ..HeldAs::default()
                        })
                    };
                    let wide = || {
                        hold(HeldAs {
                            width: Some(WIDE_STRAP.0.max(fixing.width.unwrap_or(0.0))),
                            pull: Some(WIDE_STRAP.1),
                            ..HeldAs::default()
                        })
                    };
                    push(clamp(), false, false);
                    push(clamp(), inner, turns);
                    push(wide(), false, false);
                    push(wide(), inner, turns);
                }
                if let (FixingKind::Tie { .. }, true) = (fixing.kind, turns) {
                    let free = HeldAs {
                        facing: Some(None),
                        ..HeldAs::default()
                    };
                    push(hold(free), inner, false);
                }
                if inner && matches!(fixing.kind, FixingKind::Tie { .. } | FixingKind::Clamp) {
                    let gone = Step::Remove {
                        what: fixing.name.clone(),
                    };
                    push(vec![gone], false, false);
                }
            }
        }
        trials
    }

    /// The excess of every finding, with the room that is asked for, in a fixed order; `None` where the change cannot be
    /// made or the harness is not found.
    fn excesses(&self, steps: Vec<Step>) -> Option<Vec<(super::margin::Identity, f64)>> {
        let change = Change {
            name: String::new(),
            steps,
        };
        let route = self.own.route.changed(&change, 1.0).ok()?;
        let solved = self.own.with(route, &self.quick);
        if !solved.is_found() {
            return None;
        }
        let findings = solved.findings.findings.iter();
        Some(
            findings
                .map(|f| {
                    // What holds its limit now need not get more room than it has.
                    let now = self.own.like(&solved, f).map_or(-self.room, excess);
                    let wanted = if now > 0.0 {
                        -self.room
                    } else {
                        now.max(-self.room)
                    };
                    let short = excess(f) - wanted - 1e-6;
                    (super::margin::identity(&solved, f), short.min(3.0))
                })
                .collect(),
        )
    }

    fn optimise(&self, group: &[Trial]) -> Reached {
        let most: Vec<f64> = group.iter().flat_map(|t| t.most(self.options)).collect();
        let steps = |x: &[f64]| -> Vec<Step> {
            let mut at = 0;
            let mut steps = Vec::new();
            for trial in group {
                let n = trial.unknowns();
                steps.extend(trial.steps(&x[at..at + n]));
                at += n;
            }
            steps
        };
        let mut solved = 0;
        let mut best: Option<(f64, Vec<f64>)> = None;
        for start in starts(group, &most) {
            if Instant::now() >= self.until {
                break;
            }
            let (x, worst, count) = self.descend(&start, &most, &steps);
            solved += count;
            if best.as_ref().is_none_or(|(other, _)| worst < *other) {
                best = Some((worst, x));
            }
            if best.as_ref().is_some_and(|(worst, _)| *worst <= 0.0) {
                break;
            }
        }
        let (worst, x) = best.unwrap_or((f64::INFINITY, vec![0.0; most.len()]));
        Reached {
            steps: rounded(steps(&x)),
            worst,
            solved,
        }
    }

    /// Gauss–Newton with damping from a start; gives where it ended, the greatest excess there, and how many routes were
    /// solved.
    fn descend(
        &self,
        start: &[f64],
        most: &[f64],
        steps: &dyn Fn(&[f64]) -> Vec<Step>,
    ) -> (Vec<f64>, f64, usize) {
        let worst = |all: &[(super::margin::Identity, f64)]| {
            all.iter()
                .map(|(_, e)| *e)
                .fold(f64::NEG_INFINITY, f64::max)
        };
        let cost = |all: &[(super::margin::Identity, f64)]| -> f64 {
            all.iter().map(|(_, e)| e.max(0.0).powi(2)).sum()
        };
        let mut x = start.to_vec();
        let mut count = 1;
        let Some(mut here) = self.excesses(rounded(steps(&x))) else {
            return (x, f64::INFINITY, count);
        };
        let mut damping = 1e-2;
        for _ in 0..STEPS {
            if worst(&here) <= 0.0 || x.is_empty() || Instant::now() >= self.until {
                break;
            }
            // What is over, or nearly: others may become so on the way, and are seen then.
            let active: Vec<&(super::margin::Identity, f64)> =
                here.iter().filter(|(_, e)| *e > -self.room).collect();
            let mut slopes = DMatrix::zeros(active.len(), x.len());
            for (column, &most) in most.iter().enumerate() {
                let step = 0.02 * most * if x[column] > 0.0 { -1.0 } else { 1.0 };
                let mut there = x.clone();
                there[column] += step;
                count += 1;
                let Some(found) = self.excesses(steps(&there)) else {
                    continue;
                };
                for (row, (identity, e)) in active.iter().enumerate() {
                    if let Some((_, new)) = found.iter().find(|(id, _)| id == identity) {
                        // Per share of what is allowed, so that lengths and angles weigh alike.
                        slopes[(row, column)] = (new - e) / step * most;
                    }
                }
            }
            let residual =
                DVector::from_iterator(active.len(), active.iter().map(|(_, e)| e.max(0.0)));
            let gradient = slopes.tr_mul(&residual);
            let square = slopes.tr_mul(&slopes);
            let mut better = None;
            for _ in 0..4 {
                let mut damped = square.clone();
                for i in 0..x.len() {
                    damped[(i, i)] += damping * (1.0 + square[(i, i)]);
                }
                let Some(step) = damped.cholesky().map(|c| c.solve(&(-&gradient))) else {
                    damping *= 10.0;
                    continue;
                };
                let mut there = x.clone();
                for (i, value) in there.iter_mut().enumerate() {
                    *value = (*value + step[i] * most[i]).clamp(-most[i], most[i]);
                }
                count += 1;
                match self.excesses(rounded(steps(&there))) {
                    Some(found) if cost(&found) < 0.98 * cost(&here) => {
                        damping = (damping * 0.2).max(1e-5);
                        better = Some((there, found));
                        break;
                    }
                    _ => damping *= 8.0,
                }
            }
            let Some((there, found)) = better else { break };
            (x, here) = (there, found);
        }
        (x, worst(&here), count)
    }
}

/// From where the optimiser begins: as it is, and, where something is shifted, well to either side.
fn starts(group: &[Trial], most: &[f64]) -> Vec<Vec<f64>> {
    let mut starts = vec![vec![0.0; most.len()]];
    let mut at = 0;
    for trial in group {
        if trial.shifts {
            for share in [-0.5, 0.5] {
                let mut start = vec![0.0; most.len()];
                // The branch is drawn through as far as the fixing goes: both spans stay as slack as they were.
                start[at] = share * most[at];
                start[at + 1] = share * most[at];
                starts.push(start);
            }
        }
        at += trial.unknowns();
    }
    starts
}

/// Steps as a person can carry them out: to half a millimetre and half a degree or so.
fn rounded(steps: Vec<Step>) -> Vec<Step> {
    const LENGTH: f64 = 5e-4;
    let to = |value: f64| (value / LENGTH).round() * LENGTH;
    let rounded = steps.into_iter().map(|step| match step {
        Step::Shift { what, by, along } => Step::Shift {
            what,
            by: by.map(|by| by.map(to)),
            along: along.map(to),
        },
        Step::Hold { what, hold } => Step::Hold {
            what,
            hold: HeldAs {
                facing: hold.facing.map(|facing| {
                    facing.map(|f| {
                        let hundredths = (f.into_inner() / f.amax()).map(|c| (c * 100.0).round());
                        Unit::new_normalize(hundredths)
                    })
                }),
                ..hold
            },
        },
        other => other,
    });
    let nothing = |step: &Step| {
        matches!(step, Step::Shift { by, along, .. }
            if by.is_none_or(|by| by.norm() <= 0.0) && along.is_none_or(|along| along.abs() <= 0.0))
    };
    rounded.filter(|step| !nothing(step)).collect()
}
