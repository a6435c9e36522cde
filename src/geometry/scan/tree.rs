//! A tree of boxes over triangles or points: the nearest of them to a place, exactly.
//!
//! Every node has up to four children, whose boxes stand side by side so that all four are measured at once. Small
//! nodes have directions of their own: seen along the surface, the box around a patch of a scan is as thin as the patch
//! is flat, so that few boxes but the nearest reach as near as the nearest triangle does (Gottschalk, Lin & Manocha,
//! "`OBBTree`", SIGGRAPH 1996). Boxes stand in single precision relative to the middle of the whole, those of a node's
//! children in 255ths of the node's own, never smaller than they are (as in Ylitie, Karras & Laine, "Efficient Incoherent
//! Ray Traversal on GPUs Through Compressed Wide BVHs", HPG 2017): what has to come from memory is what takes time. They are
//! measured with an allowance for rounding: they only say what need not be looked at. What is looked at is measured in
//! double precision, so the answer does not depend on how the tree was cut.

use nalgebra::{Point3, Vector3};

use super::build::grow;
use super::frame::{Frame, narrow};
use super::triangle::{Foot, Primitive};

/// Room for what is still to be looked at: three children a level, and no tree is deeper than 72 levels.
const STACK: usize = 256;
/// Farther from the middle than this \[m\] single precision says nothing; then everything is measured.
const FARTHEST: f64 = 1e9;
/// By how much rounding may spoil a coordinate along a node's directions, of the greatest coordinate: 4√3 half units in
/// the last place, and five more for the box.
const ROUNDING: f32 = 8e-7;
/// No box reaches farther out than this \[m\], where nothing is asked about any more.
const WIDEST: f32 = 1e30;
/// The child that is none.
const NOBODY: u32 = u32::MAX;
/// What squares, sums, and directions that are not quite square lose at most.
const LOST: f32 = 2e-6;

pub(super) const IS_LEAF: u32 = 1 << 31;
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

/// Four children: the directions along which their boxes are measured, the third being square to the first two; a corner
/// and 255ths of the sides of the box around all of them; their boxes in those, by direction, then by child; and what
/// they are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    turn: [[f32; 3]; 2],
    corner: [f32; 3],
    step: [f32; 3],
    low: [[u8; 4]; 3],
    high: [[u8; 4]; 3],
    child: [u32; 4],
}

/// Where a side of a box stands.
#[inline]
fn stands(corner: f32, step: f32, at: u8) -> f32 {
    corner + step * f32::from(at)
}

/// The third direction.
#[inline]
pub(super) fn square(a: &[f32; 3], b: &[f32; 3]) -> [f32; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

impl Node {
    /// A node over boxes that are measured along the rows of `turn`, the third of which is what [`square`] makes of the
    /// others; an empty box has no child.
    pub(super) fn new(turn: &[[f32; 3]; 2], frames: &[Frame; 4], child: [u32; 4]) -> Self {
        let empty = frames.map(|frame| frame.low[0] > frame.high[0]);
        let mut node = Self {
            turn: *turn,
            corner: [0.0; 3],
            step: [0.0; 3],
            low: [[0; 4]; 3],
            high: [[0; 4]; 3],
            child: [0, 1, 2, 3].map(|slot| if empty[slot] { NOBODY } else { child[slot] }),
        };
        for axis in 0..3 {
            let sides = |slot: usize| {
                let frame = &frames[slot];
                let held = |side: f32| side.clamp(-WIDEST, WIDEST);
                (held(frame.low[axis]), held(frame.high[axis]))
            };
            let there = || (0..4).filter(|&slot| !empty[slot]);
            let low = there().map(|slot| sides(slot).0).fold(WIDEST, f32::min);
            let high = there().map(|slot| sides(slot).1).fold(low, f32::max);
            let mut step = ((high - low) / 255.0).next_up();
            while stands(low, step, u8::MAX) < high {
                step = step.next_up();
            }
            (node.corner[axis], node.step[axis]) = (low, step);
            for slot in there() {
                let (from, to) = sides(slot);
                let share = |side: f32| (side - low) / step;
                #[allow(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "a cast to fewer numbers keeps to the nearest of them"
                )]
                let (mut first, mut last) = (share(from) as u8, share(to).ceil() as u8);
                while first > 0 && stands(low, step, first) > from {
                    first -= 1;
                }
                while last < u8::MAX && stands(low, step, last) < to {
                    last += 1;
                }
                (node.low[axis][slot], node.high[axis][slot]) = (first, last);
            }
        }
        node
    }

    /// Squared gaps between the children's boxes and the box of half sides `half` (own axes) about `q`, all from below.
    #[inline]
    fn gaps2(&self, q: &[f32; 3], half: &[f32; 3], slack: f32) -> [f32; 4] {
        let mut gaps2 = [0_f32; 4];
        let turn = [
            self.turn[0],
            self.turn[1],
            square(&self.turn[0], &self.turn[1]),
        ];
        for (axis, t) in turn.iter().enumerate() {
            let along = t[0] * q[0] + t[1] * q[1] + t[2] * q[2] - self.corner[axis];
            let wide = t[0].abs() * half[0] + t[1].abs() * half[1] + t[2].abs() * half[2] + slack;
            let (above, below, step) = (along + wide, along - wide, self.step[axis]);
            for (slot, gap2) in gaps2.iter_mut().enumerate() {
                let low = step * f32::from(self.low[axis][slot]);
                let high = step * f32::from(self.high[axis][slot]);
                let d = (low - above).max(below - high).max(0.0);
                *gap2 += d * d;
            }
        }
        gaps2.map(|gap2| gap2 * (1.0 - LOST))
    }
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "no more than MOST primitives are let in"
)]
pub(super) fn mark(n: usize) -> u32 {
    n as u32
}

pub(super) fn leaf_mark(start: usize, count: usize) -> u32 {
    IS_LEAF | mark(count.max(1) - 1) << COUNT_SHIFT | mark(start)
}

fn leaf(node: u32) -> std::ops::Range<usize> {
    let start = (node & START) as usize;
    start..start + ((node & !IS_LEAF) >> COUNT_SHIFT) as usize + 1
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
        let (nodes, primitives, order) = grow(primitives, &centre);
        let tree = Self {
            nodes,
            primitives,
            centre,
            extent: narrow((high - low).amax() * 0.5),
        };
        (tree, order)
    }

    /// The primitive nearest to `p` and the place on it, if one is nearer than the square root of `within2` \[m²\].
    /// `p` must be finite. A `guess` at the primitive leaves less to look at; it changes nothing else.
    pub(super) fn nearest(
        &self,
        p: &Point3<f64>,
        within2: f64,
        guess: Option<usize>,
    ) -> Option<(usize, Foot, f64)> {
        let mut best: Option<(usize, Foot, f64)> = None;
        let mut least = within2;
        if let Some(i) = guess {
            let foot = self.primitives[i].foot(p);
            let away = (p - foot.at).norm_squared();
            if away < least {
                least = away;
                best = Some((i, foot, away));
            }
        }
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
        let far = q.iter().fold(0.0_f32, |most, c| most.max(c.abs()));
        let slack = ROUNDING * (far + self.extent);
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
            let bounds = node.gaps2(&q, &[0.0; 3], slack);
            // Farthest first onto the stack, so that the nearest is looked at first.
            let first = depth;
            for (&bound, &child) in bounds.iter().zip(&node.child) {
                if f64::from(bound) >= least || child == NOBODY {
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
        let slack = ROUNDING * (2.0 * narrow(far) + self.extent);
        let (middle, half) = ((low + high) * 0.5, (high - low) * 0.5);
        let q = [middle.x, middle.y, middle.z].map(narrow);
        let half = [half.x, half.y, half.z].map(|side| narrow(side).next_up());
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
            let bounds = node.gaps2(&q, &half, slack);
            for (&bound, &child) in bounds.iter().zip(&node.child) {
                if child != NOBODY && f64::from(bound) <= reach * reach {
                    stack.push((bound, child));
                }
            }
            stack[first..].sort_by(|a, b| b.0.total_cmp(&a.0));
        }
    }
}
