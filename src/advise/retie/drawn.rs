//! What is done to fixings, with the branch drawn through or made longer so that both sides have what they need; and what
//! is known of it before any solve.

use nalgebra::Vector3;

use crate::harness::{Fixing, LengthRule};
use crate::route::Route;

use super::moves::{Deed, Touch, steps};
use super::places::Room;
use super::problem::{Problem, place_of};

/// Lengths are added in such steps, and as much more than the straight ways want where that may lie better \[m\].
const LONGER: (f64, f64) = (1e-3, 4e-3);
/// Places along a span at which its smooth path is measured to the parts.
const SAMPLES: u32 = 14;

/// Touches with the branch drawn through, and what is known of them before any solve.
#[derive(Debug, Clone)]
pub(super) struct Drawn {
    pub(super) touches: Vec<Touch>,
    /// By how much limits of length, slack and support fail at least, as shares of them.
    pub(super) short: f64,
    /// How deep the smooth path of what lies still runs into parts, as a share of the diameter.
    pub(super) crowded: f64,
}

impl Problem<'_> {
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

/// By how much all spans grow \[m\].
pub(super) fn length_added(touches: &[Touch]) -> f64 {
    touches.iter().map(|touch| touch.longer).sum()
}

/// The branch drawn through a fixing that stays where it is.
fn drawn_through(fixing: &Fixing, through: f64) -> Deed {
    Deed::Shift {
        by: Vector3::zeros(),
        through,
        along: fixing.facing.unwrap_or(Vector3::x_axis()),
    }
}
