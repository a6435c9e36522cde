//! A tree of boxes over triangles or points: the nearest of them to a place, exactly.
//!
//! Every node has up to four children, whose boxes stand side by side so that all four are measured at once. Small
//! nodes have directions of their own: seen along the surface, the box around a patch of a scan is as thin as the patch
//! is flat, so that few boxes but the nearest reach as near as the nearest triangle does (Gottschalk, Lin & Manocha,
//! "`OBBTree`", SIGGRAPH 1996). Boxes are kept in single precision relative to the middle of the whole, and measured with
//! an allowance for its rounding: they only say what need not be looked at. What is looked at is measured in double
//! precision, so the answer does not depend on how the tree was cut.

use nalgebra::{Matrix3, Point3, Vector3};

use super::build::grow;
use super::frame::{Frame, narrow};
use super::triangle::{Foot, Primitive};

/// Room for what is still to be looked at: three children a level, and no tree is deeper than 72 levels.
const STACK: usize = 256;
/// Farther from the middle than this \[m\] single precision says nothing; then everything is measured.
const FARTHEST: f64 = 1e9;
/// By how much rounding may spoil a coordinate along a node's directions, of the greatest coordinate: 4√3 half units in
/// the last place.
const ROUNDING: f32 = 5e-7;
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

/// Four children: the directions along which their boxes are measured, boxes by direction, then by child, and what
/// they are.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    turn: [[f32; 3]; 3],
    low: [[f32; 4]; 3],
    high: [[f32; 4]; 3],
    child: [u32; 4],
}

impl Node {
    pub(super) fn new(turn: Option<&Matrix3<f64>>, frames: &[Frame; 4], child: [u32; 4]) -> Self {
        let turn = turn.copied().unwrap_or_else(Matrix3::identity);
        let axes = [0, 1, 2];
        Self {
            turn: axes.map(|row| axes.map(|column| narrow(turn[(row, column)]))),
            low: axes.map(|axis| frames.map(|frame| frame.low[axis])),
            high: axes.map(|axis| frames.map(|frame| frame.high[axis])),
            child,
        }
    }

    /// Where `q` is along the directions.
    #[inline]
    fn along(&self, q: &[f32; 3]) -> [f32; 3] {
        [0, 1, 2].map(|axis| {
            let t = &self.turn[axis];
            t[0] * q[0] + t[1] * q[1] + t[2] * q[2]
        })
    }

    /// Half sides, along the directions, of the box around one of half sides `half` along the machine's.
    #[inline]
    fn wide(&self, half: &[f32; 3]) -> [f32; 3] {
        [0, 1, 2].map(|axis| {
            let t = &self.turn[axis];
            t[0].abs() * half[0] + t[1].abs() * half[1] + t[2].abs() * half[2]
        })
    }

    /// Squared gaps between the children's boxes and the box of half sides `wide` about `at`, both along the directions,
    /// all from below.
    #[inline]
    fn gaps2(&self, at: &[f32; 3], wide: &[f32; 3]) -> [f32; 4] {
        let mut gaps2 = [0_f32; 4];
        for axis in 0..3 {
            let (above, below) = (at[axis] + wide[axis], at[axis] - wide[axis]);
            let boxes = self.low[axis].iter().zip(&self.high[axis]);
            for (gap2, (low, high)) in gaps2.iter_mut().zip(boxes) {
                // Told by comparing alone, which four do at once; what is no number becomes no gap.
                let (under, over) = (low - above, below - high);
                let d = if under > over { under } else { over };
                let d = if d > 0.0 { d } else { 0.0 };
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
            let bounds = node.gaps2(&node.along(&q), &[slack; 3]);
            // Farthest first onto the stack, so that the nearest is looked at first.
            let first = depth;
            for (&bound, &child) in bounds.iter().zip(&node.child) {
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
            let bounds = node.gaps2(&node.along(&q), &node.wide(&half).map(|c| c + slack));
            for (&bound, &child) in bounds.iter().zip(&node.child) {
                if bound.is_finite() && f64::from(bound) <= reach * reach {
                    stack.push((bound, child));
                }
            }
            stack[first..].sort_by(|a, b| b.0.total_cmp(&a.0));
        }
    }
}
