//! Branches that hang together and break a limit: what may be done to their fixings, and how far each is from holding.

use std::sync::atomic::Ordering;

use nalgebra::{Point3, Unit, UnitVector3};

use crate::check::{Finding, Options, Verdict, check};
use crate::harness::{BranchId, Fixing, FixingKind, LengthRule};
use crate::quantity::Kind;
use crate::rod;
use crate::route::{Added, Change, HeldAs, Route, Step};

use super::lengths::Lengths;
use super::moves::{Deed, Touch, steps};
use super::places::{Room, tube_under};
use super::{RetieOptions, Watch};
use crate::advise::Solved;
use crate::advise::margin::{Identity, excess, identity};

/// Room that is asked for where it is not known how far hand measuring may put a finding off, as a share of the limit.
const ROOM: f64 = 0.05;
/// Room that is asked for at least.
const LEAST_ROOM: f64 = 0.01;
/// At most so much is asked for what hand measuring may put off.
const MOST_ROOM: f64 = 0.35;
/// Chance of 95 % that a limit holds \[standard deviations\].
const SURE: f64 = 1.7;
/// A wide strap pulled by hand: width \[m\] and tension \[N\]. From memory, no source: common practice.
const WIDE_STRAP: (f64, f64) = (4.8e-3, 20.0);
/// Width of a cushioned clamp \[m\].
const CLAMP: f64 = 12e-3;
/// How far from where it is a fixing is put on another tube or point \[m\].
const ASIDE: f64 = 0.085;
/// Other tubes and points that are looked at for each fixing.
const SEATS: usize = 6;
/// Steps between the poses of the search, as a multiple of those in which it is confirmed.
const STRIDE: f64 = 4.0;
/// Places along a span at which its smooth path is measured to the parts.
const SAMPLES: u32 = 14;
/// Shares of the farthest that a fixing is shifted along what it sits on.
const SHARES: [f64; 8] = [-0.25, 0.25, -0.5, 0.5, -0.75, 0.75, -1.0, 1.0];

/// A cluster with a limit that is broken.
pub(super) struct Problem<'a> {
    pub(super) own: Solved,
    pub(super) options: &'a RetieOptions,
    quick: Options,
    pub(super) watch: &'a Watch<'a>,
    /// Room that each finding is asked for, as a share of its limit.
    room: Vec<(Identity, f64)>,
}

/// What was tried, and how it does.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    pub(super) touches: Vec<Touch>,
    pub(super) steps: Vec<Step>,
    /// Greatest excess of any finding over its limit less the room asked for; below zero where all hold.
    pub(super) worst: f64,
    /// What has that excess.
    pub(super) what: String,
    /// Sum of the squares of what is over.
    pub(super) cost: f64,
}

/// The excess of each finding, and what it is of in words.
pub(super) type Excesses = Vec<(Identity, f64, String)>;

impl<'a> Problem<'a> {
    pub(super) fn new(
        base: &Solved,
        branch: BranchId,
        options: &'a RetieOptions,
        watch: &'a Watch<'a>,
    ) -> Self {
        let quick = Options {
            spread: false,
            settings: rod::Settings {
                stride: STRIDE,
                ..options.check.settings
            },
            ..options.check
        };
        let (own, _) = base.alone(branch, &quick);
        let own = Solved::new(own.route, &quick);
        let full = Options {
            spread: true,
            ..quick
        };
        let checked = check(&own.route, &own.solution, &full);
        let room = checked
            .findings
            .iter()
            .map(|f| (identity(&own, f), room_for(f)))
            .collect();
        Self {
            own,
            options,
            quick,
            watch,
            room,
        }
    }

    pub(super) fn lengths(&self) -> Lengths<'_> {
        Lengths {
            stances: &self.own.solution.stances,
            doubt: 2.5 * self.own.route.tolerance,
        }
    }

    fn room(&self) -> Room<'_> {
        let stances = &self.own.solution.stances;
        let every = (stances.len() / 8).max(1);
        Room {
            route: &self.own.route,
            surroundings: crate::machine::Surroundings::new(&self.own.route.machine),
            stances: stances
                .iter()
                .step_by(every)
                .chain(stances.last())
                .collect(),
        }
    }

    pub(super) fn changed(&self, steps: Vec<Step>) -> Option<Route> {
        let change = Change {
            name: String::new(),
            steps,
        };
        self.own.route.changed(&change, 1.0).ok()
    }

    /// The excess of every finding, with the room that is asked for; `None` where the change cannot be made or the harness
    /// is not found.
    pub(super) fn excesses(&self, steps: Vec<Step>) -> Option<Excesses> {
        self.watch.solved.fetch_add(1, Ordering::Relaxed);
        let solved = self.own.with(self.changed(steps)?, &self.quick);
        if !solved.is_found() {
            return None;
        }
        let findings = solved.findings.findings.iter();
        Some(
            findings
                .map(|f| {
                    let identity = identity(&solved, f);
                    let asked = self.room.iter().find(|(id, _)| *id == identity);
                    let room = asked.map_or(ROOM, |(_, room)| *room);
                    // What holds its limit now need not get more room than it has.
                    let now = self.own.like(&solved, f).map_or(0.0, excess);
                    let wanted = if now < 0.0 { now.max(-room) } else { -room };
                    let short = excess(f) - wanted - 1e-6;
                    let words = format!("{} at {}", f.check, f.place);
                    (identity, short.min(3.0), words)
                })
                .collect(),
        )
    }

    /// Solves and checks what some touches make of it.
    pub(super) fn reached(&self, mut touches: Vec<Touch>) -> Option<Reached> {
        for nth in 0..touches.len() {
            if touches[nth].settles {
                touches[nth].facing = Some(Some(self.settled(&touches, nth)?));
                touches[nth].settles = false;
            }
        }
        let steps = steps(&touches);
        let found = self.excesses(steps.clone())?;
        let worst = found.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
        Some(Reached {
            worst: worst.1,
            what: worst.2.clone(),
            cost: cost(&found),
            steps,
            touches,
        })
    }

    /// The direction in which the branch lies of itself at a fixing, were it free to turn there: in the middle of what it
    /// does over the sweep. As its body has it with every joint at zero.
    fn settled(&self, touches: &[Touch], nth: usize) -> Option<UnitVector3<f64>> {
        let mut route = self.changed(steps(touches))?;
        let name = &touches[nth].fixing;
        let (b, lay) = place_of(&route, name)?;
        let fixing = &mut route.branches[b].lay[lay].fixing;
        let (on, held) = (fixing.on, fixing.facing);
        fixing.facing = None;
        fixing.kind = FixingKind::Tie {
            pull: None,
            loose: false,
        };
        let solution = rod::solve(&route, &self.quick.settings);
        let branch = &solution.branches[b];
        let at = match branch.spans.get(lay) {
            Some(span) => span.start,
            None => branch.spans.last()?.end(),
        };
        let all: Vec<_> = branch
            .shapes
            .iter()
            .zip(&solution.stances)
            .filter(|(shape, _)| shape.converged)
            .filter_map(|(shape, stance)| {
                let turned = stance.bodies[on.0].rotation.inverse() * shape.curve.tangent(at);
                Unit::try_new(turned, 0.0)
            })
            .collect();
        let apart = |a: &UnitVector3<f64>, b: &UnitVector3<f64>| a.dot(b);
        let first = *all.first()?;
        let one = all
            .iter()
            .min_by(|a, b| apart(a, &first).total_cmp(&apart(b, &first)))?;
        let other = all
            .iter()
            .min_by(|a, b| apart(a, one).total_cmp(&apart(b, one)))?;
        let middle = Unit::try_new(one.into_inner() + other.into_inner(), 1e-6)?;
        // No farther from how it was held than is asked for, where it stays on its place.
        match held {
            Some(held) if matches!(touches[nth].deed, Deed::Stay) => {
                let angle = held.angle(&middle);
                let share = (self.options.turned / angle.max(1e-9)).min(1.0);
                Some(held.slerp(&middle, share))
            }
            _ => Some(middle),
        }
    }

    /// Fixings whose strap squeezes too hard, each with what it may become instead.
    pub(super) fn exchanges(&self) -> Vec<(String, Vec<HeldAs>)> {
        let mut all = Vec::new();
        for entry in self.own.route.branches.iter().flat_map(|b| &b.lay) {
            let Fixing {
                name, kind, width, ..
            } = &entry.fixing;
            let FixingKind::Tie { pull, .. } = kind else {
                continue;
            };
            let mut squeezed = self.own.findings.findings.iter().filter(|f| {
                f.check == "tie pinch"
                    && f.kind != Kind::Length
                    && f.verdict == Verdict::Over
                    && f.subject.starts_with(name.as_str())
            });
            let Some(squeezed) = squeezed.next() else {
                continue;
            };
            let mut ways = vec![
                HeldAs {
                    cushioned: Some(true),
                    width: Some(CLAMP.max(width.unwrap_or(0.0))),
                    ..HeldAs::default()
                },
                HeldAs {
                    width: Some(WIDE_STRAP.0.max(width.unwrap_or(0.0))),
                    pull: Some(WIDE_STRAP.1),
                    ..HeldAs::default()
                },
            ];
            if let Some(pull) = pull {
                // Down to what the limit bears with room to spare, in whole newtons.
                let less = pull * squeezed.limit / squeezed.value.max(squeezed.limit) * 0.85;
                if less >= 5.0 {
                    ways.push(HeldAs {
                        pull: Some(less.floor()),
                        ..HeldAs::default()
                    });
                }
            }
            all.push((name.clone(), ways));
        }
        all
    }

    /// What may be done to each fixing near a broken limit, one at a time.
    pub(super) fn singles(&self) -> Vec<Touch> {
        let route = &self.own.route;
        let room = self.room();
        let mut all = Vec::new();
        for (b, branch) in route.branches.iter().enumerate() {
            let spans = &self.own.solution.branches[b].spans;
            let findings = self.own.findings.findings.iter();
            let broken: Vec<&Finding> = findings
                .filter(|f| f.branch.0 == b && f.verdict == Verdict::Over)
                .collect();
            let at_span = |finding: &Finding| {
                let span = spans.iter().position(|s| finding.at <= s.end() + 1e-9);
                span.unwrap_or(spans.len().saturating_sub(1))
            };
            for (lay, entry) in branch.lay.iter().enumerate() {
                let near = broken.iter().any(|finding| {
                    let span = at_span(finding);
                    (span.saturating_sub(1)..=span + 2).contains(&lay)
                });
                let inner = lay > 0 && lay + 1 < branch.lay.len();
                let kind = entry.fixing.kind;
                let movable = matches!(kind, FixingKind::Tie { .. } | FixingKind::Clamp);
                if near && movable && inner {
                    self.around(&room, b, lay, &mut all);
                }
            }
            let mut crowded: Vec<(usize, f64)> = broken
                .iter()
                .filter(|f| !matches!(f.check, "tie pinch" | "elongation" | "steering drag"))
                .map(|f| (at_span(f), f.at))
                .filter(|(span, _)| !spans[*span].moving)
                .collect();
            crowded.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
            crowded.dedup_by_key(|(span, _)| *span);
            for (span, at) in crowded {
                self.more(&room, (b, span, at), &mut all);
            }
        }
        all
    }

    /// What may be done to a fixing between two others.
    fn around(&self, room: &Room<'_>, b: usize, lay: usize, all: &mut Vec<Touch>) {
        let route = &self.own.route;
        let branch = &route.branches[b];
        let fixing = &branch.lay[lay].fixing;
        let at = route.places[fixing.place].at;
        let radius = 0.5 * branch.diameter;
        let Some(own) = fixing.facing.or_else(|| self.lies(b, lay)) else {
            return;
        };
        let along = match tube_under(route, fixing.on, &at, radius) {
            // Toward the branch's end, as its own direction.
            Some((_, along)) if along.dot(&own) < 0.0 => -along,
            Some((_, along)) => along,
            None => own,
        };
        let holds = fixing.facing.is_some();
        let mut put = |by, along| {
            let deed = Deed::Shift {
                by,
                through: 0.0,
                along,
            };
            let touch = Touch::new(&fixing.name, deed);
            if holds {
                all.push(Touch {
                    settles: true,
                    ..touch.clone()
                });
            }
            all.push(touch);
        };
        put(nalgebra::Vector3::zeros(), along);
        for share in SHARES {
            put(along.into_inner() * (share * self.options.farthest), along);
        }
        for (seat, run) in room.seats(fixing.on, &at, (radius, ASIDE, SEATS)) {
            put(seat - at, run);
        }
        if holds {
            all.push(Touch {
                settles: true,
                ..Touch::new(&fixing.name, Deed::Stay)
            });
            if matches!(fixing.kind, FixingKind::Tie { .. }) {
                all.push(Touch {
                    facing: Some(None),
                    ..Touch::new(&fixing.name, Deed::Stay)
                });
            }
        }
        if matches!(fixing.kind, FixingKind::Tie { loose: false, .. }) {
            all.push(Touch {
                exchange: Some(HeldAs {
                    loose: Some(true),
                    ..HeldAs::default()
                }),
                ..Touch::new(&fixing.name, Deed::Stay)
            });
        }
        all.push(Touch::new(&fixing.name, Deed::Remove));
    }

    /// Clamps that may be added in a span: on tubes near the place where a limit is broken, or near its middle.
    fn more(&self, room: &Room<'_>, (b, span, at): (usize, usize, f64), all: &mut Vec<Touch>) {
        let route = &self.own.route;
        let branch = &route.branches[b];
        let solved = &self.own.solution.branches[b];
        let Some(shape) = solved.shapes.get(self.own.solution.sweep.rest) else {
            return;
        };
        let (own, whole) = (&solved.spans[span], self.own.solution.sweep.rest);
        let stance = &self.own.solution.stances[whole];
        let on = branch.lay[span].fixing.on;
        let home = stance.bodies[on.0].inverse();
        let mut name = 1;
        while !place_is_free(route, &format!("A{name}")) {
            name += 1;
        }
        let at = at.clamp(own.start + 0.25 * own.length, own.end() - 0.25 * own.length);
        let here: Point3<f64> = home * shape.curve.position(at);
        let radius = 0.5 * branch.diameter;
        for (seat, _) in room.seats(on, &here, (radius, ASIDE, SEATS)) {
            all.push(Touch {
                settles: true,
                ..Touch::new(
                    &format!("A{name}"),
                    Deed::Add(Box::new(Added {
                        branch: branch.name.clone(),
                        after: branch.lay[span].fixing.name.clone(),
                        name: format!("A{name}"),
                        kind: FixingKind::Clamp,
                        on: route.machine.bodies[on.0].name.clone(),
                        at: seat,
                        facing: None,
                        width: Some(CLAMP),
                        length: Some(LengthRule::Measured(at - own.start)),
                    })),
                )
            });
        }
    }

    /// The direction in which the branch lies at a fixing, at rest, as its body has it with every joint at zero.
    fn lies(&self, b: usize, lay: usize) -> Option<UnitVector3<f64>> {
        let rest = self.own.solution.sweep.rest;
        let solved = &self.own.solution.branches[b];
        let at = match solved.spans.get(lay) {
            Some(span) => span.start,
            None => solved.spans.last()?.end(),
        };
        let on = self.own.route.branches[b].lay[lay].fixing.on;
        let turned = self.own.solution.stances[rest].bodies[on.0]
            .rotation
            .inverse()
            * solved.shapes.get(rest)?.curve.tangent(at);
        Unit::try_new(turned, 0.0)
    }

    /// How deep the smooth path of each still span runs into parts over the sweep at most, summed over the spans, as a share
    /// of the diameter.
    fn crowded(&self, route: &Route) -> f64 {
        let room = self.room();
        let rest = route.machine.stance(&route.machine.rest());
        let mut crowded = 0.0;
        for branch in &route.branches {
            let (path, knots) = route.smooth_path(branch, &rest);
            for span in route
                .spans(branch, &rest)
                .iter()
                .filter(|span| !span.moving)
            {
                let home = rest.bodies[branch.lay[span.from].fixing.on.0].inverse();
                let ends = [span.from, span.from + 1].map(|lay| path.knots()[knots[lay]].at);
                let mut deep: f64 = 0.0;
                for i in 1..SAMPLES {
                    let at = ends[0] + (ends[1] - ends[0]) * f64::from(i) / f64::from(SAMPLES);
                    let here = home * path.position(at);
                    let body = branch.lay[span.from].fixing.on;
                    deep = deep.max(room.depth(body, &here, 0.5 * branch.diameter));
                }
                crowded += deep / branch.diameter;
            }
        }
        crowded
    }

    /// The same touches with the branch drawn through each so that both its sides have what they need; several that differ.
    /// Where the straight ways say that it cannot hold, so much of a limit is short.
    pub(super) fn drawn(&self, touches: &[Touch]) -> Vec<Drawn> {
        let mut all = vec![touches.to_vec()];
        for nth in 0..touches.len() {
            let mut next = Vec::new();
            for ready in all {
                let found = self.changed(steps(&ready)).and_then(|route| {
                    let at = place_of(&route, &ready[nth].fixing)?;
                    Some(self.lengths().through(&route, at))
                });
                for by in found.unwrap_or_default() {
                    let mut drawn = ready.clone();
                    match &mut drawn[nth].deed {
                        Deed::Shift { through, .. } => *through += by,
                        Deed::Add(added) => {
                            if let Some(LengthRule::Measured(length)) = &mut added.length {
                                *length = ((*length + by) * 1e4).round() * 1e-4;
                            }
                        }
                        Deed::Stay | Deed::Remove => {}
                    }
                    if !next.contains(&drawn) {
                        next.push(drawn);
                    }
                }
                if !matches!(ready[nth].deed, Deed::Shift { .. } | Deed::Add(_)) {
                    next.clear();
                    next.push(ready);
                } else if next.is_empty() {
                    next.push(ready);
                }
            }
            all = next;
            all.truncate(4);
        }
        all.into_iter()
            .filter_map(|touches| {
                let route = self.changed(steps(&touches))?;
                Some(Drawn {
                    short: self.lengths().short(&route),
                    crowded: self.crowded(&route),
                    touches,
                })
            })
            .collect()
    }
}

/// Touches with the branch drawn through, and what is known of them before any solve.
#[derive(Debug, Clone)]
pub(super) struct Drawn {
    pub(super) touches: Vec<Touch>,
    /// By how much limits of length, slack and support fail at least, as shares of them.
    pub(super) short: f64,
    /// How deep the smooth path of what lies still runs into parts, as a share of the diameter.
    pub(super) crowded: f64,
}

/// What is over, squared and summed.
pub(super) fn cost(found: &Excesses) -> f64 {
    found.iter().map(|(_, e, _)| e.max(0.0).powi(2)).sum()
}

/// The branch and the place in its lay of a fixing.
fn place_of(route: &Route, name: &str) -> Option<(usize, usize)> {
    route.branches.iter().enumerate().find_map(|(b, branch)| {
        let lay = branch
            .lay
            .iter()
            .position(|entry| entry.fixing.name == name)?;
        Some((b, lay))
    })
}

fn place_is_free(route: &Route, name: &str) -> bool {
    place_of(route, name).is_none()
}

/// The room that a finding is asked for: what hand measuring may put it off, within reason.
fn room_for(finding: &Finding) -> f64 {
    let Some(spread) = finding.spread.filter(|s| s.is_finite()) else {
        return ROOM;
    };
    let off = SURE * spread.min(MOST_ROOM * finding.limit.abs());
    let sign = if finding.at_most { -1.0 } else { 1.0 };
    let wanted = Finding {
        value: finding.limit + sign * off,
        verdict: Verdict::Within,
        ..finding.clone()
    };
    (-excess(&wanted)).clamp(LEAST_ROOM, MOST_ROOM)
}
