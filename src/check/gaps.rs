//! The least gap between each branch and each part, over all poses: of a solved route, and of one that differs from it by
//! a small displacement.
//!
//! Of the latter little has to be looked at again. A branch that moved by no more than d comes nearer to a part by no more
//! than d, so that in a pose whose old gap less d is more than a gap found elsewhere the least cannot be; and the search in
//! a pose begins where the branch was nearest before.

use std::borrow::Cow;
use std::cell::OnceCell;
use std::sync::{Arc, OnceLock};

use nalgebra::Isometry3;
use rayon::prelude::*;

use crate::geometry::{Curve, Knot};
use crate::harness::BranchId;
use crate::machine::{Nearest, PartId, Searched, Surroundings};
use crate::rod::{Shape, Solution};
use crate::route::{Girth, Route};

use super::LeastGap;
use super::job::below;

/// The nearest places of a branch to every part, for each of its girths: the whole branch and every thicker stretch.
#[derive(Debug, Clone)]
pub(super) struct Gaps {
    girth: Girth,
    by_pose: Vec<Vec<Nearest>>,
    /// The stretch that is so thick in each pose, made ready to be searched when it first is.
    ready: Vec<Arc<OnceLock<Option<Searched<'static>>>>>,
}

impl Gaps {
    /// The same of these poses alone.
    pub(super) fn of_poses(all: &[Self], poses: &[usize]) -> Vec<Self> {
        all.iter()
            .map(|gaps| Self {
                girth: gaps.girth,
                by_pose: poses.iter().map(|&p| gaps.by_pose[p].clone()).collect(),
                ready: poses.iter().map(|&p| Arc::clone(&gaps.ready[p])).collect(),
            })
            .collect()
    }
}

/// Curves that differ by less are the same \[m\].
const SAME: f64 = 1e-9;

/// The nearest places of a branch to every part in every pose.
pub(super) fn by_pose(
    route: &Route,
    solution: &Solution,
    surroundings: &Surroundings<'_>,
    branch: BranchId,
) -> Vec<Gaps> {
    let shapes = &solution.branches[branch.0].shapes;
    let girths = route.girths(branch).into_iter();
    girths
        .map(|girth| Gaps {
            girth,
            by_pose: shapes
                .par_iter()
                .zip(&solution.stances)
                .map(|(shape, stance)| {
                    let stretch = stretch(&shape.curve, girth);
                    stretch.map_or_else(Vec::new, |curve| surroundings.nearest(stance, &curve))
                })
                .collect(),
            ready: shapes.iter().map(|_| Arc::default()).collect(),
        })
        .collect()
}

/// The stretch of a branch's curve that is so thick; `None` where the curve has nothing of it.
fn stretch(curve: &Curve, girth: Girth) -> Option<Cow<'_, Curve>> {
    between(curve, (girth.from, girth.to))
}

/// A branch's curve from one place to another; `None` where it has nothing there.
fn between(curve: &Curve, (from, to): (f64, f64)) -> Option<Cow<'_, Curve>> {
    if from <= curve.start() && curve.end() <= to {
        Some(Cow::Borrowed(curve))
    } else if from < to {
        curve.between(from, to).map(Cow::Owned)
    } else {
        None
    }
}

/// The least gap of a branch to every part over all poses, surface to surface, in the order of the parts. From the second
/// pose on only what is nearer than before has to be found.
pub(super) fn least(
    route: &Route,
    solution: &Solution,
    surroundings: &Surroundings<'_>,
    branch: BranchId,
) -> Vec<LeastGap> {
    let shapes = &solution.branches[branch.0].shapes;
    let mut least = far_from_all(route);
    for girth in route.girths(branch) {
        let mut first = true;
        for (pose, (shape, stance)) in shapes.iter().zip(&solution.stances).enumerate() {
            let Some(curve) = stretch(&shape.curve, girth) else {
                continue;
            };
            let found = if std::mem::take(&mut first) {
                let all = surroundings.nearest(stance, &curve);
                all.into_iter().map(Some).collect()
            } else {
                let known: Vec<(f64, f64)> = least
                    .iter()
                    .map(|least| (least.at, least.gap + girth.radius))
                    .collect();
                surroundings.nearer(stance, &curve, &known)
            };
            for nearest in found.into_iter().flatten() {
                let least = &mut least[nearest.part.0];
                let gap = nearest.distance - girth.radius;
                if below(gap, least.gap) {
                    (least.gap, least.at, least.pose) = (gap, nearest.at, pose);
                }
            }
        }
    }
    least
}

fn far_from_all(route: &Route) -> Vec<LeastGap> {
    let parts = (0..route.machine.parts.len()).map(PartId);
    parts
        .map(|part| LeastGap {
            part,
            gap: f64::INFINITY,
            at: 0.0,
            pose: 0,
        })
        .collect()
}

/// A solution and the gaps in it.
#[derive(Clone, Copy)]
pub(super) struct Known<'a> {
    pub(super) solution: &'a Solution,
    /// By branch.
    pub(super) gaps: &'a [Vec<Gaps>],
}

/// The least gaps of a changed route, whose solution has the poses of the one that is known, between two places along the
/// branch \[m\]: beyond them it lies as it did. Infinite to a part that is not wanted.
pub(super) fn least_near(
    known: Known<'_>,
    route: &Route,
    solution: &Solution,
    surroundings: &Surroundings<'_>,
    (branch, (from, to)): (BranchId, (f64, f64)),
    wanted: &[Wanted],
) -> Vec<LeastGap> {
    let mut least = far_from_all(route);
    if wanted.is_empty() {
        return least;
    }
    let old = &known.solution.branches[branch.0].shapes;
    let new = &solution.branches[branch.0].shapes;
    let moved = |a: &Shape, b: &Shape| moved_between(a, b, (from, to));
    let by: Vec<f64> = old.iter().zip(new).map(|(a, b)| moved(a, b)).collect();
    let alike = alike(new, (from, to));
    let girths = known.gaps[branch.0].iter();
    // Where the curve of a pose is so thick and within reach: cut when it is first asked for.
    let cut: Vec<Vec<OnceCell<Option<Searched<'_>>>>> = girths
        .map(|_| new.iter().map(|_| OnceCell::new()).collect())
        .collect();
    for wanted in wanted {
        let on = route.machine.parts[wanted.part.0].on.0;
        let body = |of: &Solution, pose: usize| -> Isometry3<f64> { of.stances[pose].bodies[on] };
        // How much nearer it may be in each pose, and whether nothing has changed at all.
        let nearer = |pose: usize| {
            if body(known.solution, pose) == body(solution, pose) {
                by[pose] + wanted.moved
            } else {
                f64::INFINITY
            }
        };
        for (gaps, cut) in known.gaps[branch.0].iter().zip(&cut) {
            let (girth, before) = (gaps.girth, &gaps.by_pose);
            let curve_in = |pose: usize| {
                let within = (girth.from.max(from), girth.to.min(to));
                let curve = &old[pose].curve;
                let has_all =
                    from <= curve.start().max(girth.from) && curve.end().min(girth.to) <= to;
                if has_all && Arc::ptr_eq(&old[pose], &new[pose]) {
                    let all = || stretch(curve, girth).map(Cow::into_owned);
                    let ready = || all().map(|curve| Searched::new(Cow::Owned(curve)));
                    return gaps.ready[pose].get_or_init(ready).as_ref();
                }
                cut[pose]
                    .get_or_init(|| between(&new[pose].curve, within).map(Searched::new))
                    .as_ref()
            };
            let before = |pose: usize| before[pose].get(wanted.part.0);
            let mut order: Vec<(f64, usize)> = (0..new.len())
                .filter_map(|pose| Some((before(pose)?.distance - nearer(pose), pose)))
                .collect();
            order.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
            let mut looked_at: Vec<usize> = Vec::new();
            for (bound, pose) in order {
                let found = &mut least[wanted.part.0];
                if bound - girth.radius > found.gap {
                    break;
                }
                let same = looked_at.iter().any(|&other| {
                    alike[other] == alike[pose] && body(solution, other) == body(solution, pose)
                });
                if same {
                    continue;
                }
                looked_at.push(pose);
                let Some(&before) = before(pose) else {
                    continue;
                };
                let nearest = if nearer(pose) < SAME {
                    before
                } else if let Some(curve) = curve_in(pose) {
                    let stance = &solution.stances[pose];
                    surroundings.nearest_from(stance, curve, wanted.part, before.at)
                } else {
                    continue;
                };
                let gap = nearest.distance - girth.radius;
                if below(gap, found.gap) {
                    (found.gap, found.at, found.pose) = (gap, nearest.at, pose);
                }
            }
        }
    }
    least
}

/// A part whose gap is wanted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wanted {
    pub(super) part: PartId,
    /// How far the part itself moved on its body \[m\].
    pub(super) moved: f64,
}

/// No place of a branch moved further than this between two shapes \[m\]: the difference of two cubic pieces lies in the
/// hull of the differences of their Bézier points. Infinite where they are cut differently.
pub(super) fn moved(a: &Shape, b: &Shape) -> f64 {
    moved_between(a, b, (f64::NEG_INFINITY, f64::INFINITY))
}

/// The same between two places along the branch \[m\].
fn moved_between(a: &Shape, b: &Shape, within: (f64, f64)) -> f64 {
    ways_gone(a, b, within).fold(0.0, |most: f64, off| {
        // `f64::max` would lose what is not a number.
        if off.is_nan() {
            f64::INFINITY
        } else {
            most.max(off)
        }
    })
}

/// Whether two shapes are the same between two places along the branch \[m\].
fn is_same(a: &Arc<Shape>, b: &Arc<Shape>, within: (f64, f64)) -> bool {
    Arc::ptr_eq(a, b) || ways_gone(a, b, within).all(|off| off < SAME)
}

/// How far each Bézier point between two places along the branch \[m\] is in one shape from where it is in another: the knots
/// and those beside them. Infinite where they are cut differently.
fn ways_gone<'s>(
    a: &'s Shape,
    b: &'s Shape,
    (from, to): (f64, f64),
) -> impl Iterator<Item = f64> + 's {
    let (old, new) = (a.curve.knots(), b.curve.knots());
    let unlike = (old.len() != new.len()).then_some(f64::INFINITY);
    let (first, past) = match unlike {
        Some(_) => (0, 0),
        None => (
            new.partition_point(|knot| knot.at < from - SAME),
            new.partition_point(|knot| knot.at <= to + SAME),
        ),
    };
    let knots = (first..past).flat_map(move |i| {
        let (a, b) = (&old[i], &new[i]);
        let off = b.position - a.position;
        let sides = [i.checked_sub(1), (i + 1 < old.len()).then_some(i + 1)];
        let beside = sides.into_iter().flatten().map(move |other| {
            let aside = |knots: &[Knot], k: &Knot| k.slope * ((knots[other].at - k.at) / 3.0);
            (off + aside(new, b) - aside(old, a)).norm()
        });
        std::iter::once(off.norm()).chain(beside)
    });
    unlike.into_iter().chain(knots)
}

/// For each shape the first that is the same between two places along the branch \[m\].
fn alike(shapes: &[Arc<Shape>], within: (f64, f64)) -> Vec<usize> {
    let mut firsts: Vec<usize> = Vec::new();
    let mut like = Vec::new();
    for (i, shape) in shapes.iter().enumerate() {
        let first = firsts
            .iter()
            .copied()
            .find(|&first| is_same(&shapes[first], shape, within));
        if first.is_none() {
            firsts.push(i);
        }
        like.push(first.unwrap_or(i));
    }
    like
}
