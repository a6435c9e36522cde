//! A tree of boxes over triangles or points: the nearest of them to a place, exactly.
//!
//! Every node has up to four children, whose boxes stand side by side so that all four are measured at once. Boxes
//! are kept in single precision relative to the middle of the whole, and measured with an allowance for its rounding:
//! they only say what need not be looked at. What is looked at is measured in double precision, so the answer does not
//! depend on how the tree was cut. It is cut where boxes get small and even (surface area heuristic, binned: Wald,
//! "On fast Construction of SAH-based Bounding Volume Hierarchies", IEEE RT 2007).

use nalgebra::{Point3, Vector3};

use super::triangle::{Foot, Primitive};

/// Most primitives in a leaf. At most eight fit the mark of a leaf.
const LEAF: usize = 4;
/// Bins of the surface area heuristic.
const BINS: usize = 16;
/// Below this depth runs are halved by count, so that no input makes the tree deeper than [`STACK`] allows.
const DEEPEST: usize = 40;
/// Room for what is still to be looked at: three children a level, [`DEEPEST`] levels and 32 of halving.
const STACK: usize = 256;
/// Runs longer than this are cut on two cores.
const SHARED: usize = 1 << 15;
/// Farther from the middle than this \[m\] single precision says nothing; then everything is measured.
const FARTHEST: f64 = 1e9;

const IS_LEAF: u32 = 1 << 31;
const COUNT_SHIFT: u32 = 28;
const START: u32 = (1 << COUNT_SHIFT) - 1;
/// Most primitives: what the mark of a leaf can count.
pub(super) const MOST: usize = 1 << COUNT_SHIFT;

/// The tree.
#[derive(Debug, PartialEq)]
pub(super) struct Tree<P> {
    nodes: Vec<Node>,
    /// In the order of the leaves.
    pub(super) primitives: Vec<P>,
    centre: Point3<f64>,
    /// Greatest coordinate of any box \[m\].
    extent: f32,
}

/// Four children: boxes by axis, then by child, and what they are.
#[derive(Debug, Clone, PartialEq)]
struct Node {
    low: [[f32; 4]; 3],
    high: [[f32; 4]; 3],
    child: [u32; 4],
}

impl Node {
    const EMPTY: Self = Self {
        low: [[f32::INFINITY; 4]; 3],
        high: [[f32::NEG_INFINITY; 4]; 3],
        child: [IS_LEAF; 4],
    };

    fn frame(&self, slot: usize) -> Frame {
        Frame {
            low: self.low.map(|axis| axis[slot]),
            high: self.high.map(|axis| axis[slot]),
        }
    }
}

/// A box.
#[derive(Debug, Clone, Copy)]
struct Frame {
    low: [f32; 3],
    high: [f32; 3],
}

impl Frame {
    const EMPTY: Self = Self {
        low: [f32::INFINITY; 3],
        high: [f32::NEG_INFINITY; 3],
    };

    fn with(mut self, other: &Self) -> Self {
        for i in 0..3 {
            self.low[i] = self.low[i].min(other.low[i]);
            self.high[i] = self.high[i].max(other.high[i]);
        }
        self
    }

    /// Half its surface.
    fn half_area(&self) -> f32 {
        let [x, y, z] = [0, 1, 2].map(|i| (self.high[i] - self.low[i]).max(0.0));
        x * y + y * z + z * x
    }

    /// Twice its middle.
    fn middle(&self, axis: usize) -> f32 {
        self.low[axis] + self.high[axis]
    }

    fn gap2(&self, low: &[f32; 3], high: &[f32; 3]) -> f32 {
        (0..3)
            .map(|i| (self.low[i] - high[i]).max(low[i] - self.high[i]).max(0.0))
            .map(|d| d * d)
            .sum()
    }
}

#[derive(Clone, Copy)]
struct Item {
    frame: Frame,
    id: u32,
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "single precision on purpose; what it loses is allowed for"
)]
fn narrow(x: f64) -> f32 {
    x as f32
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "no more than MOST primitives are let in"
)]
fn mark(n: usize) -> u32 {
    n as u32
}

impl<P: Primitive> Tree<P> {
    /// Indexes primitives, all of them finite, at least one and at most [`MOST`]. Gives also the order in which they now
    /// stand: their former indices.
    pub(super) fn new(primitives: &[P]) -> (Self, Vec<u32>) {
        let (mut low, mut high) = (
            Vector3::repeat(f64::INFINITY),
            Vector3::repeat(f64::NEG_INFINITY),
        );
        for corner in primitives.iter().flat_map(Primitive::corners) {
            low = low.inf(&corner.coords);
            high = high.sup(&corner.coords);
        }
        let centre = Point3::from((low + high) * 0.5);
        let mut items: Vec<Item> = primitives
            .iter()
            .enumerate()
            .map(|(i, primitive)| Item {
                frame: frame(primitive.corners(), &centre),
                id: mark(i),
            })
            .collect();
        let mut nodes = Vec::new();
        build(&mut items, 0, 0, &mut nodes);
        let order: Vec<u32> = items.iter().map(|item| item.id).collect();
        drop(items);
        let tree = Self {
            nodes,
            primitives: order.iter().map(|&i| primitives[i as usize]).collect(),
            centre,
            extent: narrow((high - low).amax() * 0.5),
        };
        (tree, order)
    }

    /// The primitive nearest to `p` and the place on it, if one is nearer than the square root of `within2` \[m²\].
    /// `p` must be finite.
    pub(super) fn nearest(&self, p: &Point3<f64>, within2: f64) -> Option<(usize, Foot, f64)> {
        let mut best: Option<(usize, Foot, f64)> = None;
        let mut least = within2;
        let mut look = |range: std::ops::Range<usize>, least: &mut f64| {
            for i in range {
                let foot = self.primitives[i].foot(p);
                let away = (p - foot.at).norm_squared();
                if away < *least {
                    *least = away;
                    best = Some((i, foot, away));
                }
            }
        };
        let local = p - self.centre;
        if local.amax() > FARTHEST {
            look(0..self.primitives.len(), &mut least);
            return best;
        }
        let q = [local.x, local.y, local.z].map(narrow);
        let slack = 4e-7 * (q.iter().fold(self.extent, |most, c| most.max(c.abs())) + self.extent);
        let (above, below) = (q.map(|c| c + slack), q.map(|c| c - slack));
        let mut stack = [(0_f32, 0_u32); STACK];
        let mut depth = 1;
        while depth > 0 {
            depth -= 1;
            let (bound, node) = stack[depth];
            if f64::from(bound) >= least {
                continue;
            }
            if node & IS_LEAF != 0 {
                look(leaf(node), &mut least);
                continue;
            }
            let node = &self.nodes[node as usize];
            let mut away = [0_f32; 4];
            for axis in 0..3 {
                for (slot, away) in away.iter_mut().enumerate() {
                    let d = (node.low[axis][slot] - above[axis])
                        .max(below[axis] - node.high[axis][slot])
                        .max(0.0);
                    *away += d * d;
                }
            }
            // Farthest first onto the stack, so that the nearest is looked at first.
            let first = depth;
            for (&away, &child) in away.iter().zip(&node.child) {
                // Squares and sums lose less than a millionth.
                let bound = away * (1.0 - 1e-6);
                if f64::from(bound) >= least {
                    continue;
                }
                let mut at = depth;
                while at > first && stack[at - 1].0 < bound {
                    stack[at] = stack[at - 1];
                    at -= 1;
                }
                stack[at] = (bound, child);
                depth += 1;
            }
        }
        best
    }

    /// Calls `visit` for each primitive whose box is nearer to the box from `low` to `high` than `reach()` \[m\], which
    /// may shrink meanwhile, nearer ones rather first.
    pub(super) fn near_box(
        &self,
        low: &Point3<f64>,
        high: &Point3<f64>,
        visit: &mut dyn FnMut(&P) -> f64,
        reach: f64,
    ) {
        let mut reach = reach;
        let (low, high) = (low - self.centre, high - self.centre);
        let far = low.amax().max(high.amax());
        if far > FARTHEST {
            for primitive in &self.primitives {
                visit(primitive);
            }
            return;
        }
        let slack = 4e-7 * (narrow(far) + 2.0 * self.extent);
        let low = [low.x, low.y, low.z].map(|c| narrow(c) - slack);
        let high = [high.x, high.y, high.z].map(|c| narrow(c) + slack);
        let mut stack: Vec<(f32, u32)> = vec![(0.0, 0)];
        while let Some((bound, node)) = stack.pop() {
            if reach < 0.0 || f64::from(bound) > reach * reach {
                continue;
            }
            if node & IS_LEAF != 0 {
                for primitive in &self.primitives[leaf(node)] {
                    reach = visit(primitive);
                }
                continue;
            }
            let node = &self.nodes[node as usize];
            let first = stack.len();
            for slot in 0..4 {
                let bound = node.frame(slot).gap2(&low, &high) * (1.0 - 1e-6);
                if bound.is_finite() && f64::from(bound) <= reach * reach {
                    stack.push((bound, node.child[slot]));
                }
            }
            stack[first..].sort_by(|a, b| b.0.total_cmp(&a.0));
        }
    }
}

fn leaf(node: u32) -> std::ops::Range<usize> {
    let start = (node & START) as usize;
    start..start + ((node & !IS_LEAF) >> COUNT_SHIFT) as usize + 1
}

/// The box around corners, relative to `centre`, not smaller than they are.
fn frame(corners: &[Point3<f64>], centre: &Point3<f64>) -> Frame {
    let mut frame = Frame::EMPTY;
    for corner in corners {
        for i in 0..3 {
            let c = narrow(corner[i] - centre[i]);
            frame.low[i] = frame.low[i].min(c.next_down());
            frame.high[i] = frame.high[i].max(c.next_up());
        }
    }
    frame
}

fn around(items: &[Item]) -> Frame {
    items
        .iter()
        .fold(Frame::EMPTY, |frame, item| frame.with(&item.frame))
}

/// Builds the node over items of which the first stands at `start`, and all below it; gives its index.
fn build(items: &mut [Item], start: usize, depth: usize, nodes: &mut Vec<Node>) -> u32 {
    let this = nodes.len();
    nodes.push(Node::EMPTY);
    // Cut in two, and both halves again.
    let middle = cut(items, depth);
    let cuts = if items.len() <= LEAF {
        vec![0, items.len()]
    } else {
        let (left, right) = items.split_at_mut(middle);
        let mut cuts = vec![0];
        if left.len() > LEAF {
            cuts.push(cut(left, depth));
        }
        cuts.push(middle);
        if right.len() > LEAF {
            cuts.push(middle + cut(right, depth));
        }
        cuts.push(items.len());
        cuts
    };
    let mut runs: Vec<(usize, &mut [Item])> = Vec::with_capacity(4);
    let mut rest = items;
    for pair in cuts.windows(2) {
        let (run, after) = rest.split_at_mut(pair[1] - pair[0]);
        runs.push((start + pair[0], run));
        rest = after;
    }
    for (slot, (_, run)) in runs.iter().enumerate() {
        let frame = around(run);
        for axis in 0..3 {
            nodes[this].low[axis][slot] = frame.low[axis];
            nodes[this].high[axis][slot] = frame.high[axis];
        }
    }
    let total: usize = runs.iter().map(|(_, run)| run.len()).sum();
    if total > SHARED {
        use rayon::prelude::*;
        let built: Vec<(u32, Vec<Node>)> = runs
            .into_par_iter()
            .map(|(start, run)| {
                let mut nodes = Vec::new();
                let child = child(run, start, depth, &mut nodes);
                (child, nodes)
            })
            .collect();
        for (slot, (child, mut below)) in built.into_iter().enumerate() {
            let base = mark(nodes.len());
            let moved = |child: u32| {
                if child & IS_LEAF == 0 {
                    child + base
                } else {
                    child
                }
            };
            for node in &mut below {
                node.child = node.child.map(moved);
            }
            nodes[this].child[slot] = moved(child);
            nodes.append(&mut below);
        }
    } else {
        for (slot, (start, run)) in runs.into_iter().enumerate() {
            let child = child(run, start, depth, nodes);
            nodes[this].child[slot] = child;
        }
    }
    mark(this)
}

fn child(run: &mut [Item], start: usize, depth: usize, nodes: &mut Vec<Node>) -> u32 {
    if run.len() <= LEAF {
        IS_LEAF | mark(run.len().max(1) - 1) << COUNT_SHIFT | mark(start)
    } else {
        build(run, start, depth + 1, nodes)
    }
}

/// Orders items so that they are cut in two where that is best; gives how many stand before the cut.
fn cut(items: &mut [Item], depth: usize) -> usize {
    let half = items.len() / 2;
    let (mut low, mut high) = ([f32::INFINITY; 3], [f32::NEG_INFINITY; 3]);
    for item in items.iter() {
        for axis in 0..3 {
            let m = item.frame.middle(axis);
            low[axis] = low[axis].min(m);
            high[axis] = high[axis].max(m);
        }
    }
    let width = |axis: usize| high[axis] - low[axis];
    let axis = if width(0) >= width(1) && width(0) >= width(2) {
        0
    } else if width(1) >= width(2) {
        1
    } else {
        2
    };
    let per = BINS as f32 / width(axis);
    if depth >= DEEPEST || !per.is_finite() {
        items.select_nth_unstable_by(half, |a, b| {
            a.frame.middle(axis).total_cmp(&b.frame.middle(axis))
        });
        return half;
    }
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the share is between 0 and BINS"
    )]
    let bin = |item: &Item| (((item.frame.middle(axis) - low[axis]) * per) as usize).min(BINS - 1);
    let mut bins = [(Frame::EMPTY, 0_usize); BINS];
    for item in items.iter() {
        let bin = &mut bins[bin(item)];
        *bin = (bin.0.with(&item.frame), bin.1 + 1);
    }
    let mut after = [(0.0_f32, 0_usize); BINS];
    let mut sum = (Frame::EMPTY, 0);
    for i in (1..BINS).rev() {
        sum = (sum.0.with(&bins[i].0), sum.1 + bins[i].1);
        after[i] = (sum.0.half_area(), sum.1);
    }
    let mut best = (f32::INFINITY, 0);
    let mut sum = (Frame::EMPTY, 0);
    for i in 1..BINS {
        sum = (sum.0.with(&bins[i - 1].0), sum.1 + bins[i - 1].1);
        if sum.1 == 0 || after[i].1 == 0 {
            continue;
        }
        let cost = sum.0.half_area() * sum.1 as f32 + after[i].0 * after[i].1 as f32;
        if cost < best.0 {
            best = (cost, i);
        }
    }
    if best.1 == 0 {
        items.select_nth_unstable_by(half, |a, b| {
            a.frame.middle(axis).total_cmp(&b.frame.middle(axis))
        });
        return half;
    }
    let mut before = 0;
    for i in 0..items.len() {
        if bin(&items[i]) < best.1 {
            items.swap(i, before);
            before += 1;
        }
    }
    before
}
