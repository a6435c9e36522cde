//! Which parts are near each element of a branch: listed once for all the steps that it takes before it has moved too far.

use std::cmp::Ordering;
use std::ops::Range;

use nalgebra::Point3;

use crate::machine::{PartId, Stance, Surroundings};

use super::contact::ONSET;
use super::element::Element;

/// How far beyond an element parts are still listed \[m\]: the branch may move so much before the lists are
/// made again.
pub(super) const REACH: f64 = 10e-3;

/// The parts near each element of one branch in one pose.
#[derive(Debug, Default)]
pub(super) struct Lists {
    /// Around each element.
    near: Vec<Around>,
    /// The parts of all of them, one after the other. Each stands with its distance from the element's middle \[m\]: a
    /// place that is s away from there is at most s nearer to the part, so most parts need not be looked at again.
    parts: Vec<(PartId, f64)>,
}

/// The parts near one element.
#[derive(Debug)]
struct Around {
    /// Where the element's middle was when they were listed.
    middle: Point3<f64>,
    /// Parts farther from there are not listed \[m\].
    reach: f64,
    /// Which of the listed parts are this element's.
    parts: Range<usize>,
}

impl Lists {
    /// The parts that each element of a branch of so large a radius \[m\] may meet before it has moved by `room` \[m\].
    pub(super) fn new(
        surroundings: &Surroundings<'_>,
        stance: &Stance,
        elements: impl Iterator<Item = Element>,
        (radius, room): (f64, f64),
    ) -> Self {
        let around = |element: Element| Around {
            middle: middle(&element),
            reach: reach(element.h, radius) + room,
            parts: 0..0,
        };
        let mut lists = Self {
            near: elements.map(around).collect(),
            parts: Vec::new(),
        };
        if lists.near.is_empty() {
            return lists;
        }
        let all = 0..lists.near.len();
        let (centre, reach) = lists.ball(&all);
        let mut found = Vec::new();
        surroundings.near(stance, &centre, reach, &mut found);
        let distance = |part| surroundings.distance(stance, part, &centre);
        let mut open: Vec<_> = found.iter().map(|&part| (part, distance(part))).collect();
        if !open.is_empty() {
            lists.list((surroundings, stance), all, &centre, 0, &mut open);
        }
        lists
    }

    /// Lists the parts near each element of a run, of those that stand in `open` from `from` on with their distances from
    /// `seen_from`, by halving the run: what is far from a half falls away for all of its elements.
    fn list(
        &mut self,
        machine: (&Surroundings<'_>, &Stance),
        run: Range<usize>,
        seen_from: &Point3<f64>,
        from: usize,
        open: &mut Vec<(PartId, f64)>,
    ) {
        let (centre, reach) = self.ball(&run);
        let moved = (centre - seen_from).norm();
        let until = open.len();
        for known in from..until {
            let (part, before) = open[known];
            if before - moved > reach {
                continue;
            }
            let distance = machine.0.distance(machine.1, part, &centre);
            // Written so that a distance that is not a number stays.
            if distance.partial_cmp(&reach) != Some(Ordering::Greater) {
                open.push((part, distance));
            }
        }
        if run.len() == 1 {
            let first = self.parts.len();
            self.parts.extend_from_slice(&open[until..]);
            self.near[run.start].parts = first..self.parts.len();
        } else if open.len() > until {
            let middle = run.start + run.len() / 2;
            self.list(machine, run.start..middle, &centre, until, open);
            self.list(machine, middle..run.end, &centre, until, open);
        }
        open.truncate(until);
    }

    /// A ball that holds all that the elements in a run may meet: a part farther from its centre is near none of them.
    fn ball(&self, run: &Range<usize>) -> (Point3<f64>, f64) {
        let around = &self.near[run.clone()];
        let centre = around[around.len() / 2].middle;
        // `f64::max` would lose what is not a number.
        let farther = |most: f64, a: &Around| {
            let far = (a.middle - centre).norm() + a.reach;
            if far <= most { most } else { far }
        };
        (centre, around.iter().fold(0.0, farther))
    }

    /// Whether no element, and no part by more than `shifted` \[m\], has moved further than [`REACH`] in all from where the
    /// parts near it were listed.
    pub(super) fn reach_to(&self, elements: impl Iterator<Item = Element>, shifted: f64) -> bool {
        let mut each = elements.zip(&self.near);
        each.all(|(element, around)| (middle(&element) - around.middle).norm() + shifted < REACH)
    }

    /// The parts, element after element.
    pub(super) fn parts(&self) -> impl Iterator<Item = PartId> + '_ {
        self.parts.iter().map(|(part, _)| *part)
    }

    /// Whether any part is near element `j`.
    #[inline]
    pub(super) fn has_any(&self, j: usize) -> bool {
        let around = self.near.get(j);
        around.is_some_and(|around| !around.parts.is_empty())
    }

    /// The parts that may be within `reach` \[m\] of a place on element `j`, none having moved by more than `shifted` \[m\].
    pub(super) fn within(
        &self,
        j: usize,
        p: &Point3<f64>,
        reach: f64,
        shifted: f64,
    ) -> impl Iterator<Item = PartId> + '_ {
        let around = &self.near[j];
        let moved = (p - around.middle).norm() + shifted;
        let parts = self.parts[around.parts.clone()].iter();
        parts
            .filter(move |(_, distance)| distance - moved <= reach)
            .map(|(part, _)| *part)
    }
}

fn middle(element: &Element) -> Point3<f64> {
    Point3::from((element.q[0] + element.q[2]) * 0.5)
}

/// How far from the middle of an element of length `h` a part may be and still press on it \[m\].
pub(super) fn reach(h: f64, radius: f64) -> f64 {
    0.6 * h + radius + ONSET
}
