//! Ways through the free cells of a grid, and which of them are the same.
//!
//! The cheapest way is A* over the 26 neighbours of a cell (Hart, Nilsson, Raphael 1968): length, dearer near parts, away
//! from what can hold a fixing, and in corridors that were found before. Two ways are the same where one can be drawn
//! straight onto the other: all lines between points at equal shares of their lengths are free (uniform visibility
//! deformation: Zhou et al., "Robust real-time UAV replanning using guided gradient-based optimization and topological
//! paths", ICRA 2020, definition 1; from memory). A wiggle passes that test, the other side of a tube or box does not.
//!
//! The shortest way of a class is that of a taut string: points in a row are drawn to the middle of their neighbours and
//! pushed out of what has no room, with ever more points.

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use nalgebra::Point3;
use rayon::prelude::*;

use super::field::{Field, real, whole};
use super::taut::taut;

/// Near a part up to this much room costs extra \[m\].
const NEAR: f64 = 0.015;
/// Up to this far from what can hold a fixing costs nothing \[m\].
const HELD: f64 = 0.04;
/// Around the ends the room may be as little as the ends themselves have \[m\].
const LANDING: f64 = 0.06;
/// Samples of the lines between two ways.
const LINES: usize = 40;

/// A way: points from the beginning to the end.
pub(super) type Way = Vec<Point3<f64>>;

#[derive(Debug, Clone, Copy, PartialEq)]
struct Open {
    bound: f32,
    cell: u32,
}

impl Eq for Open {}

impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        // The least comes first; equal ones in the order of cells.
        other
            .bound
            .total_cmp(&self.bound)
            .then(other.cell.cmp(&self.cell))
    }
}

impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

/// What a search between two points may pass and what it costs.
#[derive(Debug)]
pub(super) struct Search<'f, 'm> {
    field: &'f Field<'m>,
    ends: [Point3<f64>; 2],
    needs: [f64; 2],
    /// Cost of a metre by cell; infinite where there is no room.
    dear: Vec<f32>,
    /// Extra cost by cell: corridors found before.
    used: Vec<f32>,
}

/// How dear each cell is to reach from the beginning, and from which cell.
#[derive(Debug)]
pub(super) struct Reached {
    cost: Vec<f32>,
    from: Vec<u32>,
}

impl<'f, 'm> Search<'f, 'm> {
    pub(super) fn new(field: &'f Field<'m>, ends: [Point3<f64>; 2]) -> Self {
        let mut search = Self {
            needs: ends.map(|end| (field.room(&end).0 - field.grid.cell).min(0.0)),
            field,
            ends,
            dear: Vec::new(),
            used: vec![0.0; field.grid.len()],
        };
        search.dear = (0..field.grid.len())
            .into_par_iter()
            .map(|index| {
                if !search.is_free(index) {
                    return f32::INFINITY;
                }
                let near = (1.0 - field.room_in(index) / NEAR).clamp(0.0, 1.0);
                let held = ((field.support_in(index) - HELD) / HELD).clamp(0.0, 2.0);
                short(1.0 + 0.5 * near + 0.7 * held)
            })
            .collect();
        search
    }

    fn is_free(&self, index: usize) -> bool {
        let room = self.field.room_in(index);
        if room >= 0.0 {
            return true;
        }
        let p = self.field.grid.point(index);
        let landing = self.ends.iter().zip(self.needs);
        landing
            .filter(|(end, _)| (p - **end).norm() < LANDING)
            .any(|(_, need)| room >= need)
    }

    /// From the beginning to the end, or, without an end, everywhere.
    pub(super) fn run(&self, to_end: bool) -> Reached {
        let grid = &self.field.grid;
        let mut reached = Reached {
            cost: vec![f32::INFINITY; grid.len()],
            from: vec![u32::MAX; grid.len()],
        };
        let start = grid.index(grid.cell_of(&self.ends[0]));
        let goal = grid.index(grid.cell_of(&self.ends[1]));
        let left = |index: usize| {
            if to_end {
                (grid.point(index) - self.ends[1]).norm()
            } else {
                0.0
            }
        };
        let long = [0.0, 1.0, 2.0, 3.0].map(|far: f64| short(grid.cell * far.sqrt()));
        let mut open = BinaryHeap::new();
        reached.cost[start] = 0.0;
        open.push(Open {
            bound: short(left(start)),
            cell: id(start),
        });
        while let Some(Open { bound, cell }) = open.pop() {
            let here = cell as usize;
            if bound > reached.cost[here] + short(left(here)) + 1e-5 {
                continue;
            }
            if to_end && here == goal {
                break;
            }
            let at = grid.at(here);
            for nth in (0..27usize).filter(|nth| *nth != 13) {
                let step = [nth / 9, nth / 3 % 3, nth % 3];
                let next = [0, 1, 2].map(|axis| (at[axis] + step[axis]).wrapping_sub(1));
                if (0..3).any(|axis| next[axis] >= grid.count[axis]) {
                    continue;
                }
                let there = grid.index(next);
                let far = step.iter().filter(|s| **s != 1).count();
                let dear = match self.dear[there] {
                    dear if dear.is_finite() => dear,
                    _ if there == goal => 1.0,
                    _ => continue,
                };
                let cost = reached.cost[here] + long[far] * (dear + self.used[there]);
                if cost < reached.cost[there] {
                    reached.cost[there] = cost;
                    reached.from[there] = cell;
                    open.push(Open {
                        bound: cost + short(left(there)),
                        cell: id(there),
                    });
                }
            }
        }
        reached
    }

    /// The cheapest way from end to end.
    pub(super) fn way(&self) -> Option<Way> {
        let grid = &self.field.grid;
        let mut way = self.run(true).way_to(self.field, &self.ends[1])?;
        let last = way.len() - 1;
        way[0] = self.ends[0];
        way[last] = self.ends[1];
        (way.len() > 1 && grid.len() > 1).then_some(way)
    }

    /// Makes a corridor dearer, except around the ends.
    fn avoid(&mut self, way: &Way, width: f64, dearer: f32) {
        let grid = &self.field.grid;
        let wide = whole(width / grid.cell) + 1;
        let mut marked = vec![];
        for p in way {
            if self.ends.iter().any(|end| (p - end).norm() < LANDING) {
                continue;
            }
            let at = grid.cell_of(p);
            let range = |axis: usize| {
                at[axis].saturating_sub(wide)..=(at[axis] + wide).min(grid.count[axis] - 1)
            };
            for x in range(0) {
                for y in range(1) {
                    for z in range(2) {
                        if (grid.middle([x, y, z]) - p).norm() <= width {
                            marked.push(grid.index([x, y, z]));
                        }
                    }
                }
            }
        }
        marked.sort_unstable();
        marked.dedup();
        for index in marked {
            self.used[index] += dearer;
        }
    }

    /// Up to `most` ways of different classes, cheapest first, each drawn taut.
    pub(super) fn classes(&mut self, most: usize, stop: &dyn Fn() -> bool) -> Vec<Way> {
        let mut found: Vec<Way> = Vec::new();
        let width = 3.0 * self.field.grid.cell;
        for _ in 0..2 * most {
            if found.len() >= most || stop() {
                break;
            }
            let Some(way) = self.way() else { break };
            let taut = taut(self.field, &way);
            if !found.iter().any(|old| same_class(self.field, old, &taut)) {
                found.push(taut);
            }
            self.avoid(&way, width, 1.0);
        }
        found
    }
}

impl Reached {
    /// Cost of a cell; infinite where there is no way.
    pub(super) fn cost(&self, index: usize) -> f64 {
        f64::from(self.cost[index])
    }

    /// The cheapest way to a point.
    pub(super) fn way_to(&self, field: &Field<'_>, end: &Point3<f64>) -> Option<Way> {
        let mut cell = field.grid.index(field.grid.cell_of(end));
        if self.cost[cell].is_infinite() {
            return None;
        }
        let mut way = vec![field.grid.point(cell)];
        while self.from[cell] != u32::MAX {
            cell = self.from[cell] as usize;
            way.push(field.grid.point(cell));
        }
        way.reverse();
        if way.len() == 1 {
            way.push(*end);
        }
        Some(way)
    }
}

#[allow(clippy::cast_possible_truncation, reason = "a cost, to seven digits")]
fn short(value: f64) -> f32 {
    value as f32
}

fn id(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}

/// Length of a way \[m\].
pub(super) fn length(way: &[Point3<f64>]) -> f64 {
    way.windows(2).map(|w| (w[1] - w[0]).norm()).sum()
}

/// The point so far along a way.
pub(super) fn point_at(way: &[Point3<f64>], at: f64) -> Point3<f64> {
    let mut left = at.max(0.0);
    for pair in way.windows(2) {
        let run = pair[1] - pair[0];
        let long = run.norm();
        if left <= long && long > 0.0 {
            return pair[0] + run * (left / long);
        }
        left -= long;
    }
    way.last().copied().unwrap_or_else(Point3::origin)
}

/// A way in equal steps.
pub(super) fn in_steps(way: &[Point3<f64>], steps: usize) -> Way {
    let whole = length(way);
    (0..=steps)
        .map(|i| point_at(way, whole * real(i) / real(steps)))
        .collect()
}

/// Whether one way can be drawn straight onto the other through free space.
pub(super) fn same_class(field: &Field<'_>, a: &[Point3<f64>], b: &[Point3<f64>]) -> bool {
    between(field, a, b).is_none()
}

/// What stands between two ways: the first place without room on the lines between them.
pub(super) fn between(
    field: &Field<'_>,
    a: &[Point3<f64>],
    b: &[Point3<f64>],
) -> Option<Point3<f64>> {
    let (a, b) = (in_steps(a, LINES), in_steps(b, LINES));
    let lines = a.iter().zip(&b);
    for (p, q) in lines {
        let steps = whole((q - p).norm() / (0.5 * field.grid.cell)) + 1;
        for i in 1..steps {
            let at = p + (q - p) * (real(i) / real(steps));
            if field.sure_room(&at) < 0.0 && field.room(&at).0 < -2e-3 {
                return Some(at);
            }
        }
    }
    None
}
