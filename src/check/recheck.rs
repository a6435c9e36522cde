//! A nudged route, solved again near the old solution and checked again.

use std::sync::Arc;

use crate::harness::BranchId;
use crate::machine::{BodyId, PartId, Surroundings};
use crate::rod::{KnownAround, Moved, Neighbourhood, Solution, solve_near_in};
use crate::route::Route;

use super::deciding::narrowed;
use super::gaps::{self, Gaps, Known, Wanted};
use super::job::{Job, Told, joints_across, poses_of_joint};
use super::lost::{FURTHEST, Lost, lost_stretches};
use super::nudge::{Item, Nudge, is_about_part, matters, matters_alone, nudged, reaches, touches};
use super::pinch;
use super::reach::Reach;
use super::run::SolveNear;
use super::spread::{has_spread, is_summed, tells_the_same, value_like};
use super::{Finding, Findings, Options};

/// A nudge that a branch does not follow is tried again so many times smaller.
const SMALLER: f64 = 0.25;
/// A branch that hangs together with what was nudged, and moved by less than this part of the nudge, did not feel it.
const UNFELT: f64 = 1e-4;

/// What a nudged route is compared with, and how it is solved.
pub(super) struct Around<'a> {
    pub(super) route: &'a Route,
    /// The solution in the poses that matter.
    pub(super) narrow: &'a Solution,
    /// Which of all poses those are.
    pub(super) poses: &'a [usize],
    /// The gaps in them, by branch.
    pub(super) gaps: &'a [Vec<Gaps>],
    /// The machine as measured.
    pub(super) surroundings: &'a Surroundings<'a>,
    pub(super) found: &'a Findings,
    pub(super) options: &'a Options,
    pub(super) solver: Solver<'a>,
}

/// What solves a nudged route.
pub(super) enum Solver<'a> {
    /// The rod, which knows how the solution answers small displacements.
    Rod(Neighbourhood),
    /// Somebody else, from the nudged route and the solution to start from.
    Other(&'a SolveNear<'a>),
}

impl Around<'_> {
    /// Those of the narrow solution's poses that decide what is told there: those in which some finding is worst or that is
    /// summed over branches, rest, and both ends of every joint that moves the fixings there. And whether anything that is
    /// summed can change.
    fn poses_of(
        &self,
        reaches: &[Reach],
        can_tell: impl Fn(&Finding) -> bool,
    ) -> (Vec<usize>, bool) {
        let narrow = self.narrow;
        let spans = || {
            reaches.iter().flat_map(|reach| {
                let spans = narrow.branches[reach.branch.0].spans.iter().enumerate();
                spans
                    .filter(|(index, _)| reach.has_span(reach.branch, *index))
                    .map(|(_, span)| (&self.route.branches[reach.branch.0], span))
            })
        };
        // Of what stands still nothing is summed.
        let carried = spans().any(|(bundle, span)| {
            let on = |lay: usize| self.route.carriers(bundle.lay[lay].fixing.on);
            let mut bodies = on(span.from).into_iter().chain(on(span.from + 1));
            bodies.any(|body| self.route.machine.bodies[body.0].on.is_some())
        });
        let told = self.found.findings.iter().filter(|finding| {
            has_spread(finding)
                && can_tell(finding)
                && (reaches.iter().any(|reach| reach.has(finding)) || carried && is_summed(finding))
        });
        let mut keep: Vec<usize> = told.map(|finding| finding.pose).collect();
        let mut joints: Vec<BodyId> = spans()
            .flat_map(|(bundle, span)| joints_across(self.route, bundle, span))
            .collect();
        joints.sort_unstable();
        joints.dedup();
        for joint in joints {
            let chain = poses_of_joint(narrow, joint);
            let ends = [chain.first(), chain.last()].into_iter().flatten();
            keep.extend(ends.map(|end| self.poses[end.0]));
        }
        keep.push(self.poses[narrow.sweep.rest]);
        let of_all = self.poses.iter().enumerate();
        let own = of_all.filter(|(_, pose)| keep.contains(pose));
        (own.map(|(own, _)| own).collect(), carried)
    }

    /// The branches of a nudged route near the old solution, in these of its poses.
    fn solve(
        &self,
        nudged: &Route,
        surroundings: &Surroundings<'_>,
        near: &Solution,
        moved: Moved<'_>,
        (branches, poses): (&[BranchId], &[usize]),
    ) -> Solution {
        match &self.solver {
            Solver::Rod(neighbourhood) => {
                let known = KnownAround {
                    neighbourhood,
                    branches,
                    poses,
                };
                let settings = &self.options.settings;
                solve_near_in(nudged, surroundings, near, moved, Some(known), settings)
            }
            Solver::Other(solve) => solve(nudged, near),
        }
    }
}

/// What a nudged route gave.
#[derive(Debug)]
pub(super) struct Rechecked {
    pub(super) findings: Vec<Finding>,
    /// Where some pose was not solved, or not near the old solution.
    pub(super) lost: Vec<Lost>,
}

/// Checks the nudged route. A branch that leaves its neighbourhood is tried again with a smaller nudge, and the
/// change of its values extrapolated.
pub(super) fn recheck(around: &Around<'_>, nudge: Nudge) -> Rechecked {
    let (route, found) = (around.route, around.found);
    let branches = (0..route.branches.len())
        .map(BranchId)
        .filter(|&branch| {
            matters(route, found, nudge.item, branch) && is_found(route, around.narrow, branch)
        })
        .collect();
    let mut whole = recheck_branches(around, nudge, branches);
    if whole.lost.is_empty() {
        return whole;
    }
    let less = Nudge {
        by: nudge.by * SMALLER,
        ..nudge
    };
    let first = std::mem::take(&mut whole.lost);
    let mut branches: Vec<BranchId> = first.iter().map(|lost| lost.branch).collect();
    branches.dedup();
    let again = recheck_branches(around, less, branches);
    let retried = |finding: &Finding| first.iter().any(|lost| lost.spoils(finding));
    for mut finding in again.findings.into_iter().filter(retried) {
        let Some(value) = value_like(&found.findings, &finding) else {
            continue;
        };
        finding.value = value + (finding.value - value) / SMALLER;
        whole.findings.push(finding);
    }
    whole.lost = again.lost;
    whole
}

/// Whether all of a branch, and of what hangs together with it, was found in every pose: only then can a nudge tell
/// anything.
pub(super) fn is_found(route: &Route, narrow: &Solution, branch: BranchId) -> bool {
    let together = route.together(branch);
    let mut shapes = together
        .iter()
        .flat_map(|branch| &narrow.branches[branch.0].shapes);
    shapes.all(|shape| shape.converged)
}

/// Whether the gap to a part can matter to a branch after a nudge: something is told of it, or it is so near that a branch which
/// does not leave its neighbourhood may come within the reach of pinching.
fn may_matter(
    around: &Around<'_>,
    nudge: Nudge,
    told: Told<'_>,
    branch: BranchId,
    part: PartId,
) -> bool {
    let (route, by) = (around.route, nudge.by.norm());
    let reach = pinch::REACH * route.branches[branch.0].diameter + (FURTHEST + 2.0) * by;
    let name = &route.machine.parts[part.0].name;
    let gap = around.found.nearest[branch.0].get(part.0);
    let mut own = told.findings.iter().filter(|f| f.branch == branch);
    gap.is_none_or(|gap| gap.gap <= reach) || own.any(|f| has_spread(f) && is_about_part(f, name))
}

fn recheck_branches(around: &Around<'_>, nudge: Nudge, branches: Vec<BranchId>) -> Rechecked {
    let (route, narrow, found) = (around.route, around.narrow, around.found);
    if around.options.settings.halt.asked() {
        return Rechecked {
            findings: Vec::new(),
            lost: Vec::new(),
        };
    }
    let changed = nudged(route, nudge);
    let moved_machine;
    let surroundings = match nudge.item {
        Item::Place(_) | Item::String(..) => around.surroundings,
        Item::Part(part) => {
            moved_machine = around
                .surroundings
                .with_moved(&changed.machine, Some(PartId(part)));
            &moved_machine
        }
        Item::Axis(_) => {
            moved_machine = around.surroundings.with_moved(&changed.machine, None);
            &moved_machine
        }
    };
    // A part that is only near changes no shape: the branch is where it was.
    let mut to_solve: Vec<BranchId> = branches
        .iter()
        .copied()
        .filter(|&branch| match nudge.item {
            Item::Part(part) => touches(route, found, part, branch),
            Item::Place(_) | Item::Axis(_) | Item::String(..) => true,
        })
        .flat_map(|branch| route.together(branch))
        .collect();
    to_solve.sort_unstable();
    to_solve.dedup();
    let reaches = reaches(route, narrow, nudge.item, &branches);
    // Of a branch that stays where it is a part changes only what is told of the part.
    let is_about = |finding: &Finding| match nudge.item {
        Item::Part(part) => is_about_part(finding, &route.machine.parts[part].name),
        Item::Place(_) | Item::Axis(_) | Item::String(..) => true,
    };
    let can_tell = |finding: &Finding| {
        is_about(finding) || is_summed(finding) || to_solve.contains(&finding.branch)
    };
    // The poses that can matter to what is told of these branches.
    let (poses, sums) = around.poses_of(&reaches, can_tell);
    let whole_poses: Vec<usize> = poses.iter().map(|&pose| around.poses[pose]).collect();
    let narrow = &narrowed(narrow, &poses);
    let mut solution = narrow.clone();
    let mut lost = Vec::new();
    if !to_solve.is_empty() {
        let part_of_route = changed.only(&to_solve);
        let start = Solution {
            sweep: narrow.sweep.clone(),
            stances: narrow.stances.clone(),
            branches: to_solve
                .iter()
                .map(|branch| narrow.branches[branch.0].clone())
                .collect(),
        };
        let moved = match nudge.item {
            Item::Place(_) | Item::String(..) => Moved::Places,
            Item::Part(part) => Moved::Part(PartId(part), nudge.by.norm()),
            // What turns about an axis that has moved by d is off by no more than 2 d.
            Item::Axis(_) => Moved::Joint(2.0 * nudge.by.norm()),
        };
        let known = (to_solve.as_slice(), poses.as_slice());
        let solved = around.solve(&part_of_route, surroundings, &start, moved, known);
        solution.stances = solved.stances;
        for (branch, new) in to_solve.iter().zip(solved.branches) {
            let old = &narrow.branches[branch.0];
            lost.extend(lost_stretches(route, *branch, old, &new, nudge.by.norm()));
            solution.branches[branch.0] = new;
        }
    }
    let stayed: Vec<bool> = narrow
        .branches
        .iter()
        .zip(&solution.branches)
        .map(|(old, new)| {
            let mut shapes = old.shapes.iter().zip(&new.shapes);
            let unfelt = UNFELT * nudge.by.norm();
            shapes.all(|(a, b)| Arc::ptr_eq(a, b) || gaps::moved(a, b) <= unfelt)
        })
        .collect();
    // Of a branch that stayed where it was, and is held where it was, nothing else is to be told.
    let branches: Vec<BranchId> = branches
        .into_iter()
        .filter(|&branch| !stayed[branch.0] || matters_alone(route, found, nudge.item, branch))
        .collect();
    let mut gaps = vec![Vec::new(); route.branches.len()];
    for &branch in &branches {
        gaps[branch.0] = Gaps::of_poses(&around.gaps[branch.0], &poses);
    }
    let known = Known {
        solution: narrow,
        gaps: &gaps,
    };
    let can_change: Vec<&Finding> = found
        .findings
        .iter()
        .filter(|f| reaches.iter().any(|reach| reach.has(f)) || sums && is_summed(f))
        .filter(|f| is_about(f) || is_summed(f) || !stayed[f.branch.0])
        .collect();
    let told = Told {
        findings: &can_change,
        poses: &whole_poses,
        reaches: &reaches,
    };
    let mut nearest = vec![Vec::new(); route.branches.len()];
    for &branch in &branches {
        let wanted: Vec<Wanted> = (0..route.machine.parts.len())
            .map(PartId)
            .filter(|&part| may_matter(around, nudge, told, branch, part))
            .map(|part| Wanted {
                part,
                moved: match nudge.item {
                    Item::Part(moved) if moved == part.0 => nudge.by.norm(),
                    _ => 0.0,
                },
            })
            .collect();
        let spans = &solution.branches[branch.0].spans;
        let own = reaches.iter().filter(|reach| reach.branch == branch);
        let within = own.map(|reach| reach.along(spans)).fold(
            (f64::INFINITY, f64::NEG_INFINITY),
            |(from, to), (own_from, own_to)| (from.min(own_from), to.max(own_to)),
        );
        let within = (branch, within);
        nearest[branch.0] =
            gaps::least_near(known, &changed, &solution, surroundings, within, &wanted);
    }
    let mut job = Job::new(
        &changed,
        &solution,
        surroundings,
        &found.limits,
        &branches,
        nearest,
        around.options.units,
    );
    job.told = Some(told);
    let mut findings = super::all_checks(&job, around.options.without).findings;
    // What was told of another place may be worst within reach by itself, and is not what it was.
    findings.retain(|finding| {
        let same = |own: &Finding| {
            tells_the_same(own, finding)
                || is_summed(own) && own.check == finding.check && own.subject == finding.subject
        };
        can_change.iter().copied().any(same)
    });
    // Of a stretch that was lost only what does not follow from its shape can be used.
    findings.retain(|finding| !lost.iter().any(|lost: &Lost| lost.spoils(finding)));
    Rechecked { findings, lost }
}
