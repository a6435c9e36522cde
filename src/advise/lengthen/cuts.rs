//! The cut list: every conductor of a branch that grows, as long as it must be when it is made anew.

use crate::harness::{BranchId, FixingKind, WireMarks};
use crate::rod::Solution;
use crate::route::{Route, Span};

use super::Add;

/// Length kept at each end that is terminated, for two re-terminations \[m\]: FAA AC 43.13-1B para 11-118 asks for two, and
/// names no length; 20 mm each, from memory.
pub const RETERMINATION: f64 = 2.0 * 0.020;

/// One conductor.
#[derive(Debug, Clone, PartialEq)]
pub struct Cut {
    /// The wire's name.
    pub wire: String,
    /// Which conductor of that name in the branch, from 1; 0 where there is one only.
    pub number: usize,
    /// Copper area \[m²\].
    pub area: f64,
    /// Outside diameter \[m\].
    pub outside: f64,
    /// Colour, and the cavities where it begins and ends, where given.
    pub marks: WireMarks,
    /// Whether its loss can hurt someone.
    pub safety: bool,
    /// The branch.
    pub branch: BranchId,
    /// Fixings where the branch begins and ends.
    pub between: [String; 2],
    /// How much longer it is than before \[m\].
    pub add: f64,
    /// Its whole length in the branch \[m\].
    pub finished: f64,
    /// The same with what is kept at each end that is terminated \[m\].
    pub cut: f64,
}

/// The conductors of the branches that grow, in the order of the route. `solution` is that of the lengthened route.
pub fn cuts(route: &Route, solution: &Solution, adds: &[Add]) -> Vec<Cut> {
    let mut rows = Vec::new();
    for (index, branch) in route.branches.iter().enumerate() {
        let add: f64 = adds
            .iter()
            .filter(|add| add.branch.0 == index)
            .map(|add| add.by)
            .sum();
        if add <= 0.0 {
            continue;
        }
        let finished = solution.branches[index].spans.last().map_or(0.0, Span::end);
        let ends = [branch.lay.first(), branch.lay.last()].map(|end| end.map(|lay| &lay.fixing));
        // At a breakout the conductor goes on.
        let terminated = ends
            .iter()
            .flatten()
            .filter(|end| end.kind != FixingKind::Breakout);
        let kept = RETERMINATION * terminated.count() as f64;
        for (at, wire) in branch.wires.iter().enumerate() {
            let alike = |upto: usize| branch.wires[..upto].iter().filter(|w| *w == wire).count();
            let number = if alike(branch.wires.len()) > 1 {
                alike(at) + 1
            } else {
                0
            };
            let wire = &route.wires[wire.0];
            rows.push(Cut {
                wire: wire.name.clone(),
                number,
                area: wire.area,
                outside: wire.outside,
                marks: wire.marks.clone(),
                safety: wire.safety,
                branch: BranchId(index),
                between: ends.map(|end| end.map_or_else(String::new, |end| end.name.clone())),
                add,
                finished,
                cut: finished + kept,
            });
        }
    }
    rows
}
