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

    /// Squared gaps between the children's boxes and the box of half sides `half` (own axes) about `q`, all from below.
    #[inline]
    fn gaps2(&self, q: &[f32; 3], half: &[f32; 3], slack: f32) -> [f32; 4] {
        let mut gaps2 = [0_f32; 4];
        for axis in 0..3 {
            let t = &self.turn[axis];
            let along = t[0] * q[0] + t[1] * q[1] + t[2] * q[2];
            let wide = t[0].abs() * half[0] + t[1].abs() * half[1] + t[2].abs() * half[2] + slack;
            let (above, below) = (along + wide, along - wide);
            for (slot, gap2) in gaps2.iter_mut().enumerate() {
                let d = (self.low[axis][slot] - above)
                    .max(below - self.high[axis][slot])
                    .max(0.0);
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

/// A search for the primitive nearest to a place, a node or a leaf at a time: several can go on side by side, so that what
/// one waits for comes from memory while the others work.
#[derive(Debug)]
pub(super) struct Search {
    p: Point3<f64>,
    /// The place from the middle of the whole.
    q: [f32; 3],
    slack: f32,
    /// The nearest so far, and its squared distance \[m²\].
    pub(super) found: Option<(usize, Foot)>,
    least: f64,
    /// What is still to be looked at, with what it is at least away, squared: farther first.
    stack: [(f32, u32); STACK],
    depth: usize,
}

impl Search {
    pub(super) fn new() -> Self {
        Self {
            p: Point3::origin(),
            q: [0.0; 3],
            slack: 0.0,
            found: None,
            least: f64::INFINITY,
            stack: [(0.0, 0); STACK],
            depth: 0,
        }
    }

    /// Begins anew at `p`, which must be finite. A `guess` at the primitive leaves less to look at; it changes nothing else.
    pub(super) fn begin<P: Primitive>(
        &mut self,
        tree: &Tree<P>,
        p: &Point3<f64>,
        guess: Option<usize>,
    ) {
        (self.p, self.found, self.least) = (*p, None, f64::INFINITY);
        if let Some(i) = guess {
            self.look(tree, i..i + 1);
        }
        let local = p - tree.centre;
        if local.amax() > FARTHEST {
            self.look(tree, 0..tree.primitives.len());
            self.depth = 0;
            return;
        }
        self.q = [local.x, local.y, local.z].map(narrow);
        let far = self.q.iter().fold(0.0_f32, |most, c| most.max(c.abs()));
        self.slack = ROUNDING * (far + tree.extent);
        self.stack[0] = (0.0, 0);
        self.depth = 1;
    }

    #[inline]
    fn look<P: Primitive>(&mut self, tree: &Tree<P>, range: std::ops::Range<usize>) {
        for i in range {
            let foot = tree.primitives[i].foot(&self.p);
            let away = (self.p - foot.at).norm_squared();
            if away < self.least {
                self.least = away;
                self.found = Some((i, foot));
            }
        }
    }

    /// Looks at the next node or leaf; whether anything is left then.
    #[inline]
    pub(super) fn step<P: Primitive>(&mut self, tree: &Tree<P>) -> bool {
        let node = loop {
            if self.depth == 0 {
                return false;
            }
            self.depth -= 1;
            let (bound, node) = self.stack[self.depth];
            if f64::from(bound) < self.least {
                break node;
            }
        };
        if node & IS_LEAF != 0 {
            self.look(tree, leaf(node));
            return self.depth > 0;
        }
        let node = &tree.nodes[node as usize];
        let bounds = node.gaps2(&self.q, &[0.0; 3], self.slack);
        // Farthest first onto the stack, so that the nearest is looked at first.
        let first = self.depth;
        for (&bound, &child) in bounds.iter().zip(&node.child) {
            if f64::from(bound) >= self.least {
                continue;
            }
            let mut at = self.depth;
            while at > first && self.stack[at - 1].0 < bound {
                self.stack[at] = self.stack[at - 1];
                at -= 1;
            }
            self.stack[at] = (bound, child);
            self.depth += 1;
        }
        self.depth > 0
    }

    /// Asks the memory for what is looked at next.
    #[inline]
    pub(super) fn call<P: Primitive>(&self, tree: &Tree<P>) {
        let Some(&(_, node)) = self.depth.checked_sub(1).and_then(|at| self.stack.get(at)) else {
            return;
        };
        if node & IS_LEAF == 0 {
            std::hint::black_box(tree.nodes[node as usize].child[0]);
        } else {
            let first = tree.primitives[leaf(node).start].corners().first();
            std::hint::black_box(first.map(|corner| corner.x));
        }
    }
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

    /// The primitive nearest to `p` and the place on it; `None` where `p` is too far off to be measured. `p` must be finite.
    pub(super) fn nearest(&self, p: &Point3<f64>) -> Option<(usize, Foot)> {
        let mut search = Search::new();
        search.begin(self, p, None);
        while search.step(self) {}
        search.found
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
                if bound.is_finite() && f64::from(bound) <= reach * reach {
                    stack.push((bound, child));
                }
            }
            stack[first..].sort_by(|a, b| b.0.total_cmp(&a.0));
        }
    }
}
