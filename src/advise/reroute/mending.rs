//! Little changes to a way that just misses: a span of another length, a clamp turned or moved; the clamps beside the joint
//! turned as the branch lies of itself; at last the same moves as when a harness is tied anew.

use std::time::Duration;

use nalgebra::{UnitVector3, Vector3};

use crate::advise::Solved;
use crate::advise::lies::middle_direction;
use crate::advise::retie::{RetieOptions, mended};
use crate::check::{Finding, LimitKey, Limits};
use crate::harness::FixingKind;
use crate::rod;
use crate::route::Change;

use super::fixings::Clamp;
use super::trial::Trials;

/// How many tries, and at the very most how long, it may take to tie the fixings of one way anew.
const RETIED: (usize, Duration) = (40, Duration::from_secs(30));

impl Trials<'_> {
    /// The clamps on either side of the joint turned as the branch lies there of itself, in the middle of the sweep, were it
    /// free to turn; `None` where it crosses no joint or is not found.
    pub(super) fn settled(&self, clamps: &[Clamp]) -> Option<Vec<Clamp>> {
        let after = clamps.iter().position(|clamp| clamp.length.is_some())?;
        let beside = [after.checked_sub(1), Some(after)];
        let free: Vec<usize> = beside
            .into_iter()
            .flatten()
            .filter(|nth| clamps[*nth].keeps.is_none())
            .collect();
        let mut route = self.laid(clamps).only(&self.group);
        let rest = route.machine.stance(&route.machine.rest());
        for nth in &free {
            let fixing = &mut route.branches[self.own.0].lay[self.options.from + 1 + nth].fixing;
            fixing.kind = FixingKind::Tie {
                pull: None,
                rated: None,
                loose: false,
            };
            fixing.facing = None;
        }
        let solution = rod::solve(&route, &self.wide().settings);
        let mut turned = clamps.to_vec();
        for nth in free {
            let body = clamps[nth].body;
            let at = (self.own.0, self.options.from + 1 + nth);
            turned[nth].along = rest.bodies[body.0] * middle_direction(&solution, at, body)?;
        }
        Some(turned)
    }

    /// A little change that may mend a finding: another of each kind.
    pub(super) fn mended(
        &self,
        clamps: &[Clamp],
        worst: &Finding,
        kind: usize,
    ) -> Option<Vec<Clamp>> {
        let limits = Limits::new(&self.route.limits);
        let longest = limits.get(LimitKey::SupportDistance).value();
        if kind == 14 {
            return self.settled(clamps);
        }
        let mut new = clamps.to_vec();
        let crossing = clamps.iter().position(|clamp| clamp.length.is_some());
        if worst.check == "elongation" && !worst.at_most {
            let length = new[crossing?].length.as_mut()?;
            *length = (*length + worst.limit - worst.value + 0.001).min(longest);
            return Some(new);
        }
        if worst.check == "slack most" && worst.at_most {
            let length = new[crossing?].length.as_mut()?;
            *length -= worst.value - worst.limit + 0.001;
            return Some(new);
        }
        // The clamp before the place of the finding, and the one behind it.
        let route = self.laid(clamps);
        let rest = route.machine.stance(&route.machine.rest());
        let spans = route.spans(&route.branches[self.options.branch.0], &rest);
        let span = spans
            .iter()
            .rposition(|span| span.start <= worst.at + 1e-6)?;
        let behind = span.checked_sub(self.options.from);
        let moving = spans[span].moving;
        // The nearer of the two clamps of the span, and the other one; and which way each leads out of the span.
        let nearer_end = worst.at - spans[span].start > 0.5 * spans[span].length;
        let (own, other) = (behind?, behind?.checked_sub(1));
        let (first, second) = if nearer_end {
            (Some(own), other)
        } else {
            (other, Some(own))
        };
        let branch = &route.branches[self.options.branch.0];
        let [start, end] = [span, span + 1].map(|lay| route.fixing_position(branch, lay, &rest));
        let chord = UnitVector3::try_new(end - start, 1e-9)?;
        let stretch = |new: &mut Vec<Clamp>, by: f64| -> Option<()> {
            let length = new[crossing.filter(|_| moving)?].length.as_mut()?;
            *length = (*length + by).min(longest);
            Some(())
        };
        let pick = if matches!(kind, 3 | 6 | 9 | 11 | 13) {
            second
        } else {
            first
        };
        // What is pulled taut bends at its ends however they are turned: length first.
        let by = [0.012, 0.03, -0.008];
        if let Some(way) = [0, 4, 8].iter().position(|own| *own == kind) {
            stretch(&mut new, by[way])?;
            return Some(new);
        }
        let clamp = new.get_mut(pick?).filter(|clamp| clamp.keeps.is_none())?;
        let outward = if pick == Some(own) { 1.0 } else { -1.0 };
        let side = UnitVector3::try_new(clamp.along.cross(&Vector3::z()), 1e-3)
            .unwrap_or_else(Vector3::y_axis);
        let up = clamp.along.cross(&side);
        match kind {
            1 | 3 => clamp.along = UnitVector3::new_normalize(*clamp.along + *chord * 0.3),
            2 => clamp.along = UnitVector3::new_normalize(*clamp.along + *chord * 0.8),
            5 | 6 => clamp.at += *clamp.along * (0.02 * outward),
            7 | 9 => clamp.along = UnitVector3::new_normalize(*clamp.along - *chord * 0.3),
            10 | 11 => clamp.at += up * 0.008,
            12 | 13 => clamp.at -= up * 0.008,
            _ => clamp.at += *side * 0.008,
        }
        Some(new)
    }

    /// How its fixings are tied otherwise so that it holds.
    pub(super) fn retied(
        &self,
        clamps: &[Clamp],
        stop: &(dyn Fn() -> bool + Sync),
    ) -> Option<Change> {
        let wide = self.wide();
        let base = Solved::new(self.laid(clamps).only(&self.group), &wide);
        let options = RetieOptions {
            check: Self::checks(self.options, false),
            tries: RETIED.0,
            patience: RETIED.1,
            proposals: 0,
            ..RetieOptions::default()
        };
        let steps = mended(&base, self.own, &options, stop)?;
        Some(Change {
            name: "mended".to_owned(),
            steps,
        })
    }
}
