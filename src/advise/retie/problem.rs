//! Branches that hang together and break a limit: what may be done to their fixings, and how far each is from holding.

use std::sync::atomic::Ordering;

use nalgebra::{UnitVector3, Vector3};

use crate::check::{Finding, Options, Verdict, check};
use crate::harness::{BranchId, Fixing, FixingKind, LengthRule};
use crate::quantity::Units;
use crate::rod;
use crate::route::{Change, Route, Step};

use super::lengths::Lengths;
use super::moves::{Deed, Touch, steps};
use super::places::Room;
use super::{RetieOptions, Watch};
use crate::advise::Solved;
use crate::advise::lies::middle_direction;
use crate::advise::margin::{Identity, excess, identity};
use crate::advise::solved::{LAST, is_found};

/// Room that is asked for where it is not known how far hand measuring may put a finding off, as a share of the limit.
const ROOM: f64 = 0.05;
/// Room that is asked for at least.
const LEAST_ROOM: f64 = 0.01;
/// At most so much is asked for what hand measuring may put off.
const MOST_ROOM: f64 = 0.35;
/// Chance of 95 % that a limit holds \[standard deviations\].
const SURE: f64 = 1.7;
/// Steps between the poses of the search, as a multiple of those in which it is confirmed.
const STRIDE: f64 = 4.0;
/// What the poses between those of the search may find more, as a share of a limit.
const NARROWER: f64 = 0.004;
/// Relative error of the tightest radius in the search, and where only a direction is asked for.
const ACCURACY: (f64, f64) = (2e-3, f64::INFINITY);
/// Lengths are added in such steps, and as much more than the straight ways want where that may lie better \[m\].
const LONGER: (f64, f64) = (1e-3, 4e-3);
/// Places along a span at which its smooth path is measured to the parts.
const SAMPLES: u32 = 14;

/// A cluster with a limit that is broken.
pub(super) struct Problem<'a> {
    pub(super) own: Solved,
    pub(super) options: &'a RetieOptions,
    quick: Options,
    pub(super) watch: &'a Watch<'a>,
    /// Room that each finding is asked for, as a share of its limit.
    room: Vec<(Identity, f64)>,
    /// By how much the spans of a branch may be made longer, together \[m\].
    pub(super) longer: f64,
}

/// What was tried, and how it does.
#[derive(Debug, Clone)]
pub(super) struct Reached {
    pub(super) touches: Vec<Touch>,
    pub(super) steps: Vec<Step>,
    /// Greatest excess of any finding over its limit, as a share of it; below zero where all hold.
    pub(super) worst: f64,
    /// What has that excess.
    pub(super) what: String,
    /// Whether all have the room that is asked for beside.
    pub(super) sure: bool,
    /// Sum of the squares of what misses that room.
    pub(super) cost: f64,
}

impl Reached {
    /// Whether every limit holds, by so much that narrower steps between the poses may still find it so.
    pub(super) fn holds(&self) -> bool {
        self.worst <= -NARROWER
    }
}

/// A finding of what was tried.
#[derive(Debug, Clone)]
pub(super) struct Excess {
    pub(super) identity: Identity,
    /// Over its limit, as a share of it.
    pub(super) over: f64,
    /// Over its limit less the room that is asked for, as a share of it.
    pub(super) short: f64,
    pub(super) words: String,
}

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
                accuracy: ACCURACY.0,
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
            longer: options.longer,
        }
    }

    /// The same, where the spans of a branch may be made longer.
    pub(super) fn with_longer(&self, longer: f64, watch: &'a Watch<'a>) -> Self {
        Self {
            own: self.own.clone(),
            room: self.room.clone(),
            longer,
            watch,
            ..*self
        }
    }

    pub(super) fn lengths(&self) -> Lengths<'_> {
        Lengths {
            stances: &self.own.solution.stances,
            doubt: 2.5 * self.own.route.tolerance,
        }
    }

    pub(super) fn room(&self) -> Room<'_> {
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
    pub(super) fn excesses(&self, steps: Vec<Step>) -> Option<Vec<Excess>> {
        self.watch.solved.fetch_add(1, Ordering::Relaxed);
        let route = self.changed(steps)?;
        let (solution, _) = self.own.shapes_of(&route, &self.quick);
        if !is_found(&solution) {
            return None;
        }
        let sooner = Options {
            without: &LAST,
            ..self.quick
        };
        let mut findings = check(&route, &solution, &sooner);
        if findings.findings.iter().all(|f| excess(f) <= -NARROWER) {
            findings = check(&route, &solution, &self.quick);
        }
        let solved = Solved {
            route,
            solution,
            findings,
        };
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
                    Excess {
                        identity,
                        over: excess(f),
                        short: (excess(f) - wanted - 1e-6).min(3.0),
                        words: said(f, self.options.check.units),
                    }
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
        let worst = found.iter().max_by(|a, b| a.over.total_cmp(&b.over))?;
        Some(Reached {
            worst: worst.over,
            what: worst.words.clone(),
            sure: found.iter().all(|one| one.short <= 0.0),
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
            rated: None,
            loose: false,
        };
        let settings = rod::Settings {
            accuracy: ACCURACY.1,
            stride: 2.0 * STRIDE,
            ..self.quick.settings
        };
        let solution = rod::solve(&route, &settings);
        let middle = middle_direction(&solution, (b, lay), on)?;
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

    /// How deep the smooth path of each still span runs into parts over the sweep at most, summed over the spans, as a share
    /// of the diameter.
    fn crowded(&self, room: &Room<'_>, route: &Route) -> f64 {
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

    /// The branch drawn through one of some touches so that both its sides have what they need; several that differ.
    fn drawn_here(&self, ready: &[Touch], nth: usize) -> Vec<Vec<Touch>> {
        let found = self.changed(steps(ready)).and_then(|route| {
            let at = place_of(&route, &ready[nth].fixing)?;
            Some(self.lengths().through(&route, at))
        });
        let by = found.unwrap_or_default().into_iter();
        by.map(|by| {
            let mut drawn = ready.to_vec();
            match &mut drawn[nth].deed {
                Deed::Shift { through, .. } => *through += by,
                Deed::Add(added) => {
                    if let Some(LengthRule::Measured(length)) = &mut added.length {
                        *length = ((*length + by) * 1e4).round() * 1e-4;
                    }
                }
                Deed::Stay | Deed::Move(_) | Deed::Remove => {}
            }
            drawn
        })
        .collect()
    }

    /// Some touches and what draws in the length that is wanting at one of them, from a span farther off.
    fn drawn_from_beside(&self, ready: &[Touch], nth: usize) -> Vec<Vec<Touch>> {
        let found = self.changed(steps(ready)).and_then(|route| {
            let at = place_of(&route, &ready[nth].fixing)?;
            let all = self.lengths().drawn_from_beside(&route, at).into_iter();
            let named = all.map(|draws| {
                let lay = &route.branches[at.0].lay;
                let named = draws.into_iter();
                named
                    .map(|(at, by)| (lay[at].fixing.clone(), by))
                    .collect::<Vec<_>>()
            });
            Some(named.collect::<Vec<_>>())
        });
        let mut all = Vec::new();
        for draws in found.unwrap_or_default() {
            let mut more = ready.to_vec();
            for (fixing, by) in draws {
                let own = more.iter_mut().find(|touch| touch.fixing == fixing.name);
                match own.map(|touch| &mut touch.deed) {
                    Some(Deed::Shift { through, .. }) => *through += by,
                    Some(deed @ Deed::Stay) => *deed = drawn_through(&fixing, by),
                    Some(_) => {}
                    None => more.push(Touch::new(&fixing.name, drawn_through(&fixing, by))),
                }
            }
            all.push(more);
        }
        all
    }

    /// Some touches and as much more length as both sides of one of them want, and a little more than that.
    fn longer_here(&self, ready: &[Touch], nth: usize) -> Vec<Vec<Touch>> {
        let left = self.longer - length_added(ready);
        if left < LONGER.0 {
            return Vec::new();
        }
        let wanting = self.changed(steps(ready)).and_then(|route| {
            let at = place_of(&route, &ready[nth].fixing)?;
            Some(self.lengths().wanting_at(&route, at))
        });
        let Some(wanting) = wanting.filter(|wanting| *wanting > 0.0) else {
            return Vec::new();
        };
        let mut all: Vec<Vec<Touch>> = Vec::new();
        for more in [0.0, LONGER.1] {
            let by = ((wanting + more) / LONGER.0).ceil() * LONGER.0;
            if by <= left + 1e-9 {
                let mut touches = ready.to_vec();
                touches[nth].longer += by;
                all.push(touches);
            }
        }
        all
    }

    /// Some touches and as much more length as spans beside them still want.
    fn longer_beside(&self, ready: &[Touch]) -> Option<Vec<Touch>> {
        let mut left = self.longer - length_added(ready);
        if left < LONGER.0 || ready.is_empty() {
            return None;
        }
        let route = self.changed(steps(ready))?;
        let mut more = ready.to_vec();
        for (b, branch) in route.branches.iter().enumerate() {
            let was = self.own.route.branches[b].lay.iter();
            let was: Vec<&str> = was.map(|entry| entry.fixing.name.as_str()).collect();
            for (i, wanting) in self.lengths().wanting_in(&route, b).into_iter().enumerate() {
                let ends = [i, i + 1].map(|lay| branch.lay[lay].fixing.name.as_str());
                let touched = ready
                    .iter()
                    .any(|touch| ends.contains(&touch.fixing.as_str()));
                if wanting <= 1e-6 || !touched && was.windows(2).any(|pair| pair == ends) {
                    continue;
                }
                let by = (wanting / LONGER.0).ceil() * LONGER.0;
                left -= by;
                match more.iter_mut().find(|touch| touch.fixing == ends[1]) {
                    Some(own) => own.longer += by,
                    None => more.push(Touch {
                        longer: by,
                        ..Touch::new(ends[1], Deed::Stay)
                    }),
                }
            }
        }
        (left >= -1e-9 && more != ready).then_some(more)
    }

    /// The same touches with the branch drawn through each so that both its sides have what they need; several that differ.
    /// Where the straight ways say that it cannot hold, so much of a limit is short.
    pub(super) fn drawn(&self, room: &Room<'_>, touches: &[Touch]) -> Vec<Drawn> {
        let mut all = vec![touches.to_vec()];
        for (nth, touch) in touches.iter().enumerate() {
            if !matches!(touch.deed, Deed::Shift { .. } | Deed::Add(_)) {
                continue;
            }
            let mut next = Vec::new();
            for ready in all {
                let mut ways = self.drawn_here(&ready, nth);
                for more in self.drawn_from_beside(&ready, nth) {
                    ways.extend(self.drawn_here(&more, nth));
                }
                for more in self.longer_here(&ready, nth) {
                    ways.extend(self.drawn_here(&more, nth));
                }
                if ways.is_empty() {
                    ways.push(ready);
                }
                for way in ways {
                    if !next.contains(&way) {
                        next.push(way);
                    }
                }
            }
            all = next;
            all.truncate(if self.longer > 0.0 { 6 } else { 4 });
        }
        let longer = all.iter().filter_map(|ready| self.longer_beside(ready));
        let longer: Vec<_> = longer.collect();
        all.extend(longer);
        all.into_iter()
            .filter(|touches| length_added(touches) <= self.longer + 1e-9)
            .filter_map(|touches| {
                let route = self.changed(steps(&touches))?;
                let short = self.lengths().short(&route);
                // What cannot hold anyway is not measured.
                let crowded = if short > 1e-9 {
                    0.0
                } else {
                    self.crowded(room, &route)
                };
                Some(Drawn {
                    touches,
                    short,
                    crowded,
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

/// What misses the room that is asked for, squared and summed.
pub(super) fn cost(found: &[Excess]) -> f64 {
    found.iter().map(|one| one.short.max(0.0).powi(2)).sum()
}

/// By how much all spans grow \[m\].
pub(super) fn length_added(touches: &[Touch]) -> f64 {
    touches.iter().map(|touch| touch.longer).sum()
}

/// A finding in words, with what was found and what is asked.
pub(super) fn said(finding: &Finding, units: Units) -> String {
    format!(
        "{} at {}, {} {} where {} {} is asked",
        finding.check,
        finding.place,
        finding.measure(),
        units.show(finding.value, finding.kind),
        if finding.at_most {
            "at most"
        } else {
            "at least"
        },
        units.show(finding.limit, finding.kind)
    )
}

/// The branch drawn through a fixing that stays where it is.
fn drawn_through(fixing: &Fixing, through: f64) -> Deed {
    Deed::Shift {
        by: Vector3::zeros(),
        through,
        along: fixing.facing.unwrap_or(Vector3::x_axis()),
    }
}

/// The branch and the place in its lay of a fixing.
pub(super) fn place_of(route: &Route, name: &str) -> Option<(usize, usize)> {
    route.branches.iter().enumerate().find_map(|(b, branch)| {
        let lay = branch
            .lay
            .iter()
            .position(|entry| entry.fixing.name == name)?;
        Some((b, lay))
    })
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
