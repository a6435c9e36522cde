//! How much room there is, seen from one body, over every pose of the sweep.
//!
//! The room at a point is the least of (distance to a part − what is to be kept from that part) over all parts and all
//! poses: exact at the middle of each cell of a grid, since the distances are. A distance changes by no more than the way
//! gone (it is 1-Lipschitz), so a block of cells drops every part and pose that cannot matter in it, and is cut into eight
//! only where some are left.

use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;

use crate::check::{LimitKey, Limits};
use crate::machine::{BodyId, Machine, PartId, Stance};

/// More room than this is as good as this \[m\].
pub(super) const ENOUGH: f64 = 0.04;
/// What is to be kept from a part that neither moves, nor is hot, nor has an edge \[m\].
const BESIDE: f64 = 0.002;
/// Cells of a grid: at eight bytes each the memory is bounded.
const MOST_CELLS: f64 = 400_000.0;
/// So many cells are measured to a part at once.
const AT_ONCE: usize = 4096;
/// Cells along a block's side at first.
const BLOCK: usize = 8;

/// One part in one of the places that it takes, seen from the body.
#[derive(Debug)]
struct Swept {
    part: PartId,
    /// From the machine frame at rest to the frame in which the part is drawn.
    motion: Isometry3<f64>,
    /// Ball around the part, at rest.
    centre: Point3<f64>,
    radius: f64,
    keep: f64,
}

/// A grid of cells. Index = (x · ny + y) · nz + z.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    pub(super) low: Point3<f64>,
    pub(super) cell: f64,
    pub(super) count: [usize; 3],
}

/// The room seen from one body, in the machine frame at rest.
#[derive(Debug)]
pub(super) struct Field<'m> {
    machine: &'m Machine,
    swept: Vec<Swept>,
    supports: Vec<Swept>,
    pub(super) grid: Grid,
    /// Room by cell, at most [`ENOUGH`] \[m\].
    room: Vec<f32>,
    /// Distance to the nearest surface that a fixing can stand on, by cell \[m\].
    support: Vec<f32>,
}

/// What the machine is searched for: a bundle's radius, its limits, the poses.
#[derive(Debug)]
pub(super) struct Seen<'a> {
    pub(super) machine: &'a Machine,
    pub(super) stances: &'a [Stance],
    pub(super) rest: &'a Stance,
    pub(super) limits: &'a Limits,
    pub(super) radius: f64,
    /// How far a position may be off \[m\].
    pub(super) doubt: f64,
}

impl Grid {
    /// A grid over a box, in cells of `cell` or, where those would be too many, wider ones.
    pub(super) fn over(low: Point3<f64>, high: Point3<f64>, cell: f64) -> Self {
        let size = high - low;
        let volume = size.iter().product::<f64>();
        let cell = cell.max((volume / MOST_CELLS).cbrt());
        let count = [0, 1, 2].map(|axis| whole(size[axis] / cell) + 1);
        Self { low, cell, count }
    }

    pub(super) fn len(&self) -> usize {
        self.count.iter().product()
    }

    pub(super) fn at(&self, index: usize) -> [usize; 3] {
        let [_, ny, nz] = self.count;
        [index / (ny * nz), index / nz % ny, index % nz]
    }

    pub(super) fn index(&self, [x, y, z]: [usize; 3]) -> usize {
        (x * self.count[1] + y) * self.count[2] + z
    }

    /// Middle of a cell.
    pub(super) fn middle(&self, at: [usize; 3]) -> Point3<f64> {
        self.low + Vector3::from(at.map(|i| real(i) * self.cell))
    }

    pub(super) fn point(&self, index: usize) -> Point3<f64> {
        self.middle(self.at(index))
    }

    /// The cell of a point; the nearest one for a point beside the grid.
    pub(super) fn cell_of(&self, p: &Point3<f64>) -> [usize; 3] {
        [0, 1, 2].map(|axis| {
            whole((p[axis] - self.low[axis]) / self.cell + 0.5).min(self.count[axis] - 1)
        })
    }
}

/// The whole part of a number; none below zero.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "held to what fits"
)]
pub(super) fn whole(value: f64) -> usize {
    value.clamp(0.0, 1e9) as usize
}

/// A count as a number; exact as far as counts of cells go.
#[allow(clippy::cast_precision_loss, reason = "far below 2^53")]
pub(super) fn real(count: usize) -> f64 {
    count as f64
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "a room in metres, to seven digits"
)]
fn short(value: f64) -> f32 {
    value as f32
}

impl<'m> Field<'m> {
    /// The room about a bundle that rides on `body`.
    pub(super) fn new(seen: &Seen<'m>, body: BodyId, grid: Grid) -> Self {
        let machine = seen.machine;
        let mut swept: Vec<Swept> = Vec::new();
        let mut supports = Vec::new();
        for (index, part) in machine.parts.iter().enumerate() {
            let moves = machine.moves_against(body, part.on);
            let mut keep = seen.radius + seen.doubt + BESIDE;
            if moves {
                let snag = seen.limits.get(LimitKey::SnagDistance).value();
                keep = keep.max(seen.radius + seen.doubt + snag);
            }
            if let Some(surface) = part.surface {
                let hot = seen.limits.get(LimitKey::HotDistance).distance(surface);
                keep = keep.max(seen.radius + seen.doubt + hot);
            }
            if let Some(edge) = part.edge {
                let edge = seen.limits.get(LimitKey::EdgeDistance).from_edge(edge);
                keep = keep.max(seen.radius + seen.doubt + edge);
            }
            if part
                .carries
                .is_some_and(crate::machine::Fluid::is_flammable)
            {
                let line = seen.limits.get(LimitKey::FluidDistanceClamped).value();
                keep = keep.max(seen.radius + seen.doubt + line);
            }
            let (centre, radius) = part.shape.bounds();
            let place = |stance: &Stance| {
                let motion = stance.bodies[part.on.0].inverse()
                    * stance.bodies[body.0]
                    * seen.rest.bodies[body.0].inverse();
                Swept {
                    part: PartId(index),
                    motion,
                    centre: motion.inverse_transform_point(&centre),
                    radius,
                    keep,
                }
            };
            let first = swept.len();
            for stance in std::iter::once(seen.rest).chain(seen.stances.iter().filter(|_| moves)) {
                let new = place(stance);
                let old =
                    |old: &Swept| (old.motion.to_matrix() - new.motion.to_matrix()).amax() < 1e-12;
                if !swept[first..].iter().any(old) {
                    swept.push(new);
                }
            }
            let holds = part.surface.is_none() && part.edge.is_none() && part.carries.is_none();
            if !moves && holds {
                supports.push(place(seen.rest));
            }
        }
        let mut field = Self {
            machine,
            swept,
            supports,
            room: Vec::new(),
            support: Vec::new(),
            grid,
        };
        field.fill();
        field
    }

    fn distance(&self, swept: &Swept, p: &Point3<f64>) -> f64 {
        let local = swept.motion.transform_point(p);
        let distance = self.machine.parts[swept.part.0].shape.distance(&local);
        if distance.is_nan() {
            f64::NEG_INFINITY
        } else {
            distance
        }
    }

    /// The room at a point, exact, and the part that leaves it so little \[m\]; without parts there is no end of room.
    pub(super) fn room(&self, p: &Point3<f64>) -> (f64, Option<PartId>) {
        let mut least = (f64::INFINITY, None);
        for swept in &self.swept {
            let bound = (p - swept.centre).norm() - swept.radius - swept.keep;
            if bound < least.0 || bound.is_nan() {
                let room = self.distance(swept, p) - swept.keep;
                if room < least.0 {
                    least = (room, Some(swept.part));
                }
            }
        }
        least
    }

    /// The room at a point and the direction in which it grows, by differences over a tenth of a millimetre.
    pub(super) fn slope(&self, p: &Point3<f64>) -> (f64, Vector3<f64>) {
        const STEP: f64 = 1e-4;
        let slope = Vector3::from([0, 1, 2].map(|axis| {
            let step = Vector3::ith(axis, STEP);
            (self.room(&(p + step)).0 - self.room(&(p - step)).0) / (2.0 * STEP)
        }));
        (self.room(p).0, slope)
    }

    /// The nearest surface that a fixing can stand on, and the direction away from it.
    pub(super) fn support(&self, p: &Point3<f64>) -> Option<(f64, Vector3<f64>, PartId)> {
        let nearest = self
            .supports
            .iter()
            .map(|swept| (self.distance(swept, p), swept))
            .min_by(|a, b| a.0.total_cmp(&b.0))?;
        let (distance, swept) = nearest;
        let local = swept.motion.transform_point(p);
        let normal = self.machine.parts[swept.part.0].shape.slope(&local).normal;
        Some((
            distance,
            swept.motion.rotation.inverse() * normal.into_inner(),
            swept.part,
        ))
    }

    /// Room in a cell, at most [`ENOUGH`] \[m\].
    pub(super) fn room_in(&self, index: usize) -> f64 {
        f64::from(self.room[index])
    }

    /// From a cell to what a fixing can stand on \[m\].
    pub(super) fn support_in(&self, index: usize) -> f64 {
        f64::from(self.support[index])
    }

    /// Room in the cell of a point less half a cell's diagonal: no less is there.
    pub(super) fn sure_room(&self, p: &Point3<f64>) -> f64 {
        let cell = self.grid.cell_of(p);
        self.room_in(self.grid.index(cell)) - (p - self.grid.middle(cell)).norm()
    }

    fn fill(&mut self) {
        let blocks = self.grid.count.map(|n| n.div_ceil(BLOCK));
        let all: Vec<usize> = (0..self.swept.len()).collect();
        let filled: Vec<Vec<(usize, f32)>> = (0..blocks.iter().product())
            .into_par_iter()
            .map(|block: usize| {
                let low = [
                    block / (blocks[1] * blocks[2]) * BLOCK,
                    block / blocks[2] % blocks[1] * BLOCK,
                    block % blocks[2] * BLOCK,
                ];
                let mut cells = Vec::with_capacity(BLOCK.pow(3));
                self.fill_block(low, BLOCK, &all, &mut cells);
                cells
            })
            .collect();
        let mut room = vec![0.0; self.grid.len()];
        for (index, value) in filled.into_iter().flatten() {
            room[index] = value;
        }
        let mut support = vec![0.0; self.grid.len()];
        support
            .par_chunks_mut(AT_ONCE)
            .enumerate()
            .for_each(|(chunk, near)| {
                let cells: Vec<usize> = (0..near.len())
                    .filter(|i| room[chunk * AT_ONCE + i] >= 0.0)
                    .collect();
                self.to_supports(chunk * AT_ONCE, &cells, near);
            });
        self.support = support;
        self.room = room;
    }

    /// Writes how far cells, counted from `first`, are from what a fixing can stand on.
    fn to_supports(&self, first: usize, cells: &[usize], near: &mut [f32]) {
        for &cell in cells {
            near[cell] = 1.0;
        }
        for swept in &self.supports {
            let places: Vec<Point3<f64>> = cells
                .iter()
                .map(|cell| swept.motion.transform_point(&self.grid.point(first + cell)))
                .collect();
            let distances = self.machine.parts[swept.part.0].shape.distances(&places);
            for (&cell, distance) in cells.iter().zip(distances) {
                // What is no number is no room.
                near[cell] = if distance.is_nan() {
                    f32::NEG_INFINITY
                } else {
                    near[cell].min(short(distance))
                };
            }
        }
    }

    fn fill_block(
        &self,
        low: [usize; 3],
        side: usize,
        open: &[usize],
        cells: &mut Vec<(usize, f32)>,
    ) {
        if (0..3).any(|axis| low[axis] >= self.grid.count[axis]) {
            return;
        }
        let half = 0.5 * real(side - 1) * self.grid.cell;
        let middle = self.grid.middle(low) + Vector3::repeat(half);
        let reach = half * 3f64.sqrt();
        let mut best = ENOUGH;
        let mut kept: Vec<(usize, f64)> = Vec::new();
        for &index in open {
            let swept = &self.swept[index];
            let bound = (middle - swept.centre).norm() - swept.radius - swept.keep;
            if bound - reach >= ENOUGH.min(best + reach) {
                continue;
            }
            let room = self.distance(swept, &middle) - swept.keep;
            best = best.min(room);
            kept.push((index, room));
        }
        if side == 1 {
            cells.push((self.grid.index(low), short(best)));
            return;
        }
        let open: Vec<usize> = kept
            .into_iter()
            .filter(|(_, room)| room - reach < ENOUGH.min(best + reach))
            .map(|(index, _)| index)
            .collect();
        // Nothing near, or all of it deep within a part: no need to look closer.
        if open.is_empty() || best + reach < -reach {
            let value = if open.is_empty() {
                ENOUGH
            } else {
                best + reach
            };
            for x in low[0]..(low[0] + side).min(self.grid.count[0]) {
                for y in low[1]..(low[1] + side).min(self.grid.count[1]) {
                    for z in low[2]..(low[2] + side).min(self.grid.count[2]) {
                        cells.push((self.grid.index([x, y, z]), short(value)));
                    }
                }
            }
            return;
        }
        let side = side / 2;
        for octant in 0..8 {
            let step = |bit: usize| if octant >> bit & 1 == 1 { side } else { 0 };
            let low = [low[0] + step(0), low[1] + step(1), low[2] + step(2)];
            self.fill_block(low, side, &open, cells);
        }
    }
}
