//! A route with all that was found out about it, and a changed route that takes over what the change does not touch.

use std::sync::Arc;

use crate::check::{Finding, Findings, Options, Verdict, check, check_anew};
use crate::geometry::Shape;
use crate::harness::{Branch, BranchId};
use crate::machine::{Part, PartId};
use crate::rod::{Beside, Solution, solve, solve_beside, solve_near};
use crate::route::Route;

/// A part that stays this far from a branch does not press on it, and no fixing sits on it \[m\].
const CLEAR: f64 = 2e-3;

/// Checks that take long and are seldom broken: in a search they are looked at where all others hold.
pub(super) const LAST: [&str; 1] = ["heat"];

/// A route, solved and checked.
#[derive(Debug, Clone)]
pub struct Solved {
    /// The route.
    pub route: Route,
    /// Where the harness lies.
    pub solution: Solution,
    /// What the checks found.
    pub findings: Findings,
}

/// A route and where its harness lies, not checked.
#[derive(Debug, Clone)]
pub struct Laid {
    /// The route.
    pub route: Route,
    /// Where the harness lies.
    pub solution: Solution,
}

impl Solved {
    /// Solves and checks a route.
    pub fn new(route: Route, options: &Options) -> Self {
        let solution = solve(&route, &options.settings);
        let findings = check(&route, &solution, options);
        Self {
            route,
            solution,
            findings,
        }
    }

    /// Solves and checks a changed copy of this route. Branches that the change cannot reach keep their shapes: those
    /// whose fixings, lengths and stiffness are the same, and that no moved part comes near to. The others are solved from
    /// nothing, so that the result does not depend on where it came from.
    pub fn with(&self, route: Route, options: &Options) -> Self {
        let (solution, _) = self.shapes_of(&route, options);
        let findings = check(&route, &solution, options);
        Self {
            route,
            solution,
            findings,
        }
    }

    /// The same as [`Solved::with`] and sooner, where this route was checked with the same options and without its spread:
    /// what was found of branches that the change cannot reach is not looked for again, unless a part moved or a limit is
    /// another.
    pub fn with_same(&self, route: Route, options: &Options) -> Self {
        self.with_same_beside(&[], route, options)
    }

    /// As [`Solved::with_same`], taking over also what other routes share with it.
    pub fn with_same_beside(&self, others: &[&Laid], route: Route, options: &Options) -> Self {
        let (solution, mut anew) = self.shapes_beside(others, &route, options);
        let own = &self.route;
        // What is only rated otherwise, or strapped otherwise, lies as it did and is checked anew all the same.
        let both = own.branches.iter().zip(&route.branches).enumerate();
        anew.extend(both.filter_map(|(index, (a, b))| {
            (!same_branch((own, a), (&route, b))).then_some(BranchId(index))
        }));
        anew.sort_unstable();
        anew.dedup();
        let alike = own.machine == route.machine
            && own.wires == route.wires
            && own.circuits == route.circuits
            && own.splices == route.splices
            && own.duty == route.duty
            && own.limits == route.limits
            && own.branches.len() == route.branches.len();
        let findings = if options.spread || !alike {
            check(&route, &solution, options)
        } else {
            check_anew(&route, &solution, options, &self.findings, &anew)
        };
        Self {
            route,
            solution,
            findings,
        }
    }

    /// Where the harness of a changed copy of this route lies, as [`Solved::with`] finds it, and the branches of which
    /// anything was solved anew for it.
    pub fn shapes_of(&self, route: &Route, options: &Options) -> (Solution, Vec<BranchId>) {
        self.shapes_beside(&[], route, options)
    }

    /// As [`Solved::shapes_of`], taking over also what other routes share with it.
    pub fn shapes_beside(
        &self,
        others: &[&Laid],
        route: &Route,
        options: &Options,
    ) -> (Solution, Vec<BranchId>) {
        let own = std::iter::once((&self.route, &self.solution));
        let others = others.iter().map(|laid| (&laid.route, &laid.solution));
        let known: Vec<(Differs, &Solution)> = own
            .chain(others)
            .filter_map(|(known, solution)| Some((differs(known, route)?, solution)))
            .collect();
        let beside: Vec<Beside<'_>> = known
            .iter()
            .map(|(differs, solution)| Beside {
                solution,
                moved: &differs.moved,
                alike: &differs.alike,
            })
            .collect();
        solve_beside(route, &beside, &options.settings)
    }

    /// Where the branches that a small change reaches lie nearly, found from where they lay: a first look, many times as
    /// fast as [`Solved::shapes_of`], which may find that they fall elsewhere. `None` where the change is no small one:
    /// other joints, other fixings.
    pub fn nearly(&self, route: &Route, options: &Options) -> Option<(Solution, Vec<BranchId>)> {
        let touched = self.touched(route)?;
        let alike = |a: &Branch, b: &Branch| {
            let (a, b) = (a.lay.iter(), b.lay.iter());
            a.len() == b.len()
                && a.zip(b).all(|(p, q)| {
                    let (p, q) = (&p.fixing, &q.fixing);
                    p.on == q.on
                        && p.holds_direction() == q.holds_direction()
                        && p.slides() == q.slides()
                })
        };
        let mut both = touched.iter().map(|b| {
            let b = b.0;
            (&self.route.branches[b], &route.branches[b])
        });
        if touched.is_empty() || !both.all(|(old, new)| alike(old, new)) {
            return None;
        }
        let near = Solution {
            sweep: self.solution.sweep.clone(),
            stances: self.solution.stances.clone(),
            branches: touched
                .iter()
                .map(|b| self.solution.branches[b.0].clone())
                .collect(),
        };
        let part = solve_near(&route.only(&touched), &near, &options.settings);
        let mut solution = self.solution.clone();
        for (branch, new) in touched.iter().zip(part.branches) {
            solution.branches[branch.0] = new;
        }
        solution.stances = part.stances;
        Some((solution, touched))
    }

    /// One branch with all that hangs together with it, as a route of its own that is checked anew. Gives also the branch's
    /// index there.
    pub(super) fn alone(&self, branch: BranchId, options: &Options) -> (Self, BranchId) {
        let together = self.route.together(branch);
        let route = self.route.only(&together);
        let solution = Solution {
            sweep: self.solution.sweep.clone(),
            stances: self.solution.stances.clone(),
            branches: together
                .iter()
                .map(|b| self.solution.branches[b.0].clone())
                .collect(),
        };
        let findings = check(&route, &solution, options);
        let index = together.iter().position(|b| *b == branch).unwrap_or(0);
        let solved = Self {
            route,
            solution,
            findings,
        };
        (solved, BranchId(index))
    }

    /// The worst verdict.
    pub fn verdict(&self) -> Verdict {
        let verdicts = self.findings.findings.iter().map(|f| f.verdict);
        verdicts.max().unwrap_or(Verdict::Within)
    }

    /// Whether the harness was found in every pose.
    pub fn is_found(&self) -> bool {
        is_found(&self.solution)
    }

    /// The finding that says the same as one of another route: same check and subject, on the branch of the same name.
    pub(super) fn like(&self, other: &Self, finding: &Finding) -> Option<&Finding> {
        let name = &other.route.branches[finding.branch.0].name;
        self.findings.findings.iter().find(|own| {
            own.check == finding.check
                && own.subject == finding.subject
                && self.route.branches[own.branch.0].name == *name
        })
    }

    /// The branches that a changed route may lay otherwise, with those that hang together with them; `None`: all.
    fn touched(&self, new: &Route) -> Option<Vec<BranchId>> {
        let old = &self.route;
        let Differs { moved, .. } = differs(old, new)?;
        let rest = old.machine.stance(&old.machine.rest());
        let mut touched = Vec::new();
        for (index, (a, b)) in old.branches.iter().zip(&new.branches).enumerate() {
            let lengths = |route: &Route, branch: &Branch| -> Vec<f64> {
                let spans = route.spans(branch, &rest);
                spans.iter().map(|span| span.length).collect()
            };
            let same = same_branch((old, a), (new, b)) && lengths(old, a) == lengths(new, b);
            let near = moved.iter().any(|(part, by)| {
                let gaps = &self.findings.nearest[index];
                gaps.get(part.0).is_none_or(|gap| gap.gap - by < CLEAR)
            });
            if !same || near {
                touched.extend(new.together(BranchId(index)));
            }
        }
        touched.sort_unstable();
        touched.dedup();
        Some(touched)
    }
}

/// In what a route differs from another with the same joints, branches, parts and breakouts.
struct Differs {
    /// The parts that stand elsewhere, by how much each \[m\].
    moved: Vec<(PartId, f64)>,
    /// Of each branch whether it is made of the same and held in the same way.
    alike: Vec<bool>,
}

/// In what a route differs from another; `None` where it has other joints, branches, parts or breakouts.
fn differs(old: &Route, new: &Route) -> Option<Differs> {
    let (bodies, parts) = (&old.machine.bodies, &old.machine.parts);
    let same_tree = bodies.len() == new.machine.bodies.len()
        && bodies
            .iter()
            .zip(&new.machine.bodies)
            .all(|(a, b)| a.joint == b.joint && a.on == b.on)
        && old.branches.len() == new.branches.len()
        && parts.len() == new.machine.parts.len()
        && old.breakouts.len() == new.breakouts.len()
        && old
            .breakouts
            .iter()
            .zip(&new.breakouts)
            .all(|(a, b)| a.body == b.body && a.held == b.held)
        && old.corner_groups() == new.corner_groups();
    if !same_tree {
        return None;
    }
    let both = parts.iter().zip(&new.machine.parts).enumerate();
    let branches = old.branches.iter().zip(&new.branches);
    Some(Differs {
        moved: both
            .filter_map(|(index, (a, b))| Some((PartId(index), displacement(a, b)?)))
            .collect(),
        alike: branches.map(|(a, b)| held_alike(a, b)).collect(),
    })
}

/// Whether two branches are made of the same, and held in the same way at every fixing, wherever those are.
fn held_alike(a: &Branch, b: &Branch) -> bool {
    let entries = a.lay.iter().zip(&b.lay);
    a.lay.len() == b.lay.len()
        && a.diameter.total_cmp(&b.diameter).is_eq()
        && a.stiffness == b.stiffness
        && entries.into_iter().all(|(p, q)| {
            let (f, g) = (&p.fixing, &q.fixing);
            f.on == g.on && f.holds_direction() == g.holds_direction() && f.slides() == g.slides()
        })
}

/// Whether the harness was found in every pose.
pub(super) fn is_found(solution: &Solution) -> bool {
    let mut shapes = solution.branches.iter().flat_map(|b| &b.shapes);
    shapes.all(|shape| shape.converged)
}

fn same_branch((old, a): (&Route, &Branch), (new, b): (&Route, &Branch)) -> bool {
    let entries = a.lay.iter().zip(&b.lay);
    a.lay.len() == b.lay.len()
        && a.diameter.total_cmp(&b.diameter).is_eq()
        && a.stiffness == b.stiffness
        && a.wires == b.wires
        && a.cover == b.cover
        && entries.into_iter().all(|(p, q)| {
            let (f, g) = (&p.fixing, &q.fixing);
            f.name == g.name
                && f.kind == g.kind
                && f.on == g.on
                && f.facing == g.facing
                && f.width == g.width
                && old.places[f.place].at == new.places[g.place].at
        })
}

/// How far a part's surface moved at most \[m\]; `None` where it is as it was.
fn displacement(a: &Part, b: &Part) -> Option<f64> {
    let far = match (&a.shape, &b.shape) {
        (Shape::Tube { along: p, .. }, Shape::Tube { along: q, .. }) if p.len() == q.len() => {
            let moved = p.iter().zip(q).map(|(p, q)| (p - q).norm());
            moved.fold(0.0, f64::max)
        }
        (Shape::Ball { centre: p, .. }, Shape::Ball { centre: q, .. }) => (p - q).norm(),
        (Shape::Cylinder { from: p, to: q, .. }, Shape::Cylinder { from: r, to: s, .. }) => {
            // A flat end tips too.
            3.0 * (p - r).norm().max((q - s).norm())
        }
        (
            Shape::Block {
                centre: p,
                turned: t,
                size,
            },
            Shape::Block {
                centre: q,
                turned: u,
                ..
            },
        ) => (p - q).norm() + t.angle_to(u) * 0.5 * size.norm(),
        (Shape::Scan(p), Shape::Scan(q)) if Arc::ptr_eq(&p.surface, &q.surface) => {
            let (low, high) = p.surface.frame();
            let corner = |i: usize| {
                let side = |row: usize| {
                    if i >> row & 1 == 0 {
                        low[row]
                    } else {
                        high[row]
                    }
                };
                nalgebra::Point3::new(side(0), side(1), side(2))
            };
            let moved = (0..8).map(|i| (p.placed * corner(i) - q.placed * corner(i)).norm());
            moved.fold(0.0, f64::max)
        }
        (p, q) if p == q => 0.0,
        _ => f64::INFINITY,
    };
    let same = far <= 0.0 && a.on == b.on && a.edge == b.edge;
    (!same).then_some(far)
}
