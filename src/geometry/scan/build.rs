//! How a tree of boxes is cut: where boxes get small and even (surface area heuristic, binned: Wald, "On fast
//! Construction of SAH-based Bounding Volume Hierarchies", IEEE RT 2007), each run in two and both halves again.

use nalgebra::Point3;
use rayon::prelude::*;

use super::frame::{Frame, directions};
use super::tree::{IS_LEAF, Node, leaf_mark, mark};
use super::triangle::Primitive;

/// Most primitives in a leaf. At most eight fit the mark of a leaf.
const LEAF: usize = 4;
/// Bins of the surface area heuristic.
const BINS: usize = 16;
/// Below this depth runs are halved by count, so that no input makes the tree deeper than its searches have room for:
/// three children a level, so many levels and 32 of halving.
const DEEPEST: usize = 40;
/// Runs longer than this are cut on two cores.
const SHARED: usize = 1 << 13;

/// A primitive still to be sorted.
#[derive(Clone, Copy)]
struct Item {
    frame: Frame,
    id: u32,
}

/// A node before its boxes are known: its children, and where the run of each begins and ends.
#[derive(Clone, Copy)]
struct Plan {
    child: [u32; 4],
    cuts: [u32; 5],
}

/// Puts primitives in the order of the leaves; gives the nodes, the primitives and their former indices.
pub(super) fn grow<P: Primitive>(
    primitives: &[P],
    centre: &Point3<f64>,
) -> (Vec<Node>, Vec<P>, Vec<u32>) {
    let mut items: Vec<Item> = primitives
        .par_iter()
        .enumerate()
        .map(|(i, primitive)| Item {
            frame: Frame::around([primitive], centre, None),
            id: mark(i),
        })
        .collect();
    let mut plans = Vec::with_capacity(primitives.len() / 4);
    plan(&mut items, 0, 0, &mut plans);
    let order: Vec<u32> = items.par_iter().map(|item| item.id).collect();
    drop(items);
    let primitives: Vec<P> = order.par_iter().map(|&i| primitives[i as usize]).collect();
    let nodes = plans
        .par_iter()
        .map(|plan| plan.boxed(&primitives, centre))
        .collect();
    (nodes, primitives, order)
}

impl Plan {
    /// The node with its boxes, along directions of its own where they get smaller so.
    fn boxed<P: Primitive>(&self, primitives: &[P], centre: &Point3<f64>) -> Node {
        let run = |slot: usize| &primitives[self.cuts[slot] as usize..self.cuts[slot + 1] as usize];
        let whole = &primitives[self.cuts[0] as usize..self.cuts[4] as usize];
        let turn = directions(whole);
        let frames = [0, 1, 2, 3].map(|slot| Frame::around(run(slot), centre, turn.as_ref()));
        Node::new(turn.as_ref(), &frames, self.child)
    }
}

/// Plans the node over items of which the first stands at `start`, and all below it.
fn plan(items: &mut [Item], start: usize, depth: usize, plans: &mut Vec<Plan>) -> u32 {
    let this = plans.len();
    let count = items.len();
    // Cut in two, and both halves again.
    let middle = if count <= LEAF {
        count
    } else {
        cut(items, depth)
    };
    let (left, right) = items.split_at_mut(middle);
    let again = |half: &mut [Item]| {
        if half.len() <= LEAF {
            half.len()
        } else {
            cut(half, depth)
        }
    };
    let (a, b) = if count > SHARED {
        rayon::join(|| again(left), || again(right))
    } else {
        (again(left), again(right))
    };
    let cuts = [0, a, middle, middle + b, count].map(|cut| mark(start + cut));
    plans.push(Plan {
        child: [IS_LEAF; 4],
        cuts,
    });
    let (first, second) = left.split_at_mut(a);
    let (third, fourth) = right.split_at_mut(b);
    let runs = [first, second, third, fourth];
    if count > SHARED {
        let below: Vec<(u32, Vec<Plan>)> = runs
            .into_par_iter()
            .zip(cuts)
            .map(|(run, start)| {
                let mut plans = Vec::with_capacity(run.len() / 4);
                let child = child(run, start as usize, depth, &mut plans);
                (child, plans)
            })
            .collect();
        for (slot, (child, below)) in below.into_iter().enumerate() {
            let base = mark(plans.len());
            let moved = |child: u32| child + if child & IS_LEAF == 0 { base } else { 0 };
            let own = &mut plans[this].child[slot];
            *own = moved(child);
            plans.extend(below.iter().map(|plan| Plan {
                child: plan.child.map(moved),
                ..*plan
            }));
        }
    } else {
        for (slot, (run, start)) in runs.into_iter().zip(cuts).enumerate() {
            let child = child(run, start as usize, depth, plans);
            plans[this].child[slot] = child;
        }
    }
    mark(this)
}

fn child(run: &mut [Item], start: usize, depth: usize, plans: &mut Vec<Plan>) -> u32 {
    if run.len() <= LEAF {
        leaf_mark(start, run.len())
    } else {
        plan(run, start, depth + 1, plans)
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
