//! Which side of a closed mesh a point is on.
//!
//! A mesh has an inside only where it is closed: every edge is used by two triangles, in opposite directions, and every
//! connected shell holds a positive volume and lies apart from the others. Then the sign of the distance is that of
//! the angle-weighted pseudonormal at the nearest place (Bærentzen & Aanæs, "Signed distance computation using the angle
//! weighted pseudonormal", IEEE TVCG 11(3), 2005). Anything else, as nearly every real scan is, has surfaces but no
//! inside.

use nalgebra::Vector3;
use rayon::prelude::*;

use super::triangle::{Feature, Foot, Triangle};

/// So many triangles are measured before their normals are added up.
const BLOCK: usize = 1 << 14;

/// Pseudonormals of a closed mesh, in the order of its triangles.
#[derive(Debug, PartialEq)]
pub(super) struct Closed {
    /// Of each triangle the numbers of its corners.
    corners: Vec<[u32; 3]>,
    /// Of each triangle the neighbours across its three edges.
    across: Vec<[u32; 3]>,
    /// Of each corner; not of unit length.
    at_corner: Vec<Vector3<f64>>,
}

/// Why a mesh has no inside.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Open {
    /// This many edges are not shared by exactly two triangles that run round the same way.
    Edges(usize),
    /// Some triangles have no surface.
    Degenerate,
    /// Some shell is inside out.
    InsideOut,
    /// Shells overlap or lie one within another.
    Shells,
}

impl std::fmt::Display for Open {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Edges(count) => {
                write!(f, "{count} of its edges are open or shared the wrong way")
            }
            Self::Degenerate => write!(f, "some of its triangles have no surface"),
            Self::InsideOut => write!(f, "its triangles face inward"),
            Self::Shells => write!(f, "it is made of shells that overlap"),
        }
    }
}

impl Closed {
    /// # Errors
    /// Why the mesh has no inside.
    pub(super) fn of(triangles: &[Triangle], corners: &[[u32; 3]]) -> Result<Self, Open> {
        let across = across(corners)?;
        let (at_corner, apart) = rayon::join(
            || at_corners(triangles, corners),
            || shells(triangles, &across),
        );
        let at_corner = at_corner.ok_or(Open::Degenerate)?;
        apart?;
        Ok(Self {
            corners: corners.to_vec(),
            across,
            at_corner,
        })
    }

    /// Whether a point that is `away` from its nearest place, on triangle `t`, is inside.
    pub(super) fn inside(
        &self,
        triangles: &[Triangle],
        t: usize,
        foot: &Foot,
        away: &Vector3<f64>,
    ) -> bool {
        let own = || normal(&triangles[t]).unwrap_or_default();
        let outward = match foot.feature {
            Feature::Face => own(),
            Feature::Edge(i) => {
                own() + normal(&triangles[self.across[t][i] as usize]).unwrap_or_default()
            }
            Feature::Corner(i) => self.at_corner[self.corners[t][i] as usize],
        };
        away.dot(&outward) < 0.0
    }
}

/// Of each triangle its neighbours.
fn across(corners: &[[u32; 3]]) -> Result<Vec<[u32; 3]>, Open> {
    let ends = |c: &[u32; 3], i: usize| {
        let (from, to) = (c[i], c[(i + 1) % 3]);
        (from.min(to), from.max(to))
    };
    // The edges of each lower end stand together: counted first, then put in their places.
    let mut starts = vec![0_u32; most(corners) + 1];
    for c in corners {
        for i in 0..3 {
            starts[ends(c, i).0 as usize + 1] += 1;
        }
    }
    for i in 1..starts.len() {
        starts[i] += starts[i - 1];
    }
    let mut next = starts.clone();
    let mut edges = vec![(0_u32, 0_u32); 3 * corners.len()];
    for (c, number) in corners.iter().zip((0..).step_by(3)) {
        for (i, own) in (0..3).zip(number..) {
            let (low, high) = ends(c, i);
            let next = &mut next[low as usize];
            edges[*next as usize] = (high, own);
            *next += 1;
        }
    }
    drop(next);
    let side = |number: u32| (number as usize / 3, number as usize % 3);
    let from = |number: u32| {
        let (t, i) = side(number);
        corners[t][i]
    };
    let mut across = vec![[0; 3]; corners.len()];
    let mut wrong = 0;
    for (low, run) in (0..).zip(starts.windows(2)) {
        let edges = &mut edges[run[0] as usize..run[1] as usize];
        edges.sort_unstable();
        // Both uses of an edge stand side by side now.
        for uses in edges.chunk_by(|a, b| a.0 == b.0) {
            match *uses {
                [(high, a), (_, b)] if low != high && from(a) != from(b) => {
                    for (own, other) in [(a, b), (b, a)] {
                        let (t, i) = side(own);
                        across[t][i] = other / 3;
                    }
                }
                _ => wrong += 1,
            }
        }
    }
    if wrong > 0 {
        return Err(Open::Edges(wrong));
    }
    Ok(across)
}

/// One more than the greatest number of a corner.
fn most(corners: &[[u32; 3]]) -> usize {
    let most = corners.iter().flatten().max();
    most.map_or(0, |c| *c as usize + 1)
}

/// Pseudonormals of the corners; `None` where a triangle has no surface.
fn at_corners(triangles: &[Triangle], corners: &[[u32; 3]]) -> Option<Vec<Vector3<f64>>> {
    let weighted = |triangle: &Triangle| {
        let n = normal(triangle)?;
        Some([0, 1, 2].map(|i| {
            let to = triangle[(i + 1) % 3] - triangle[i];
            let from = triangle[(i + 2) % 3] - triangle[i];
            n * to.angle(&from)
        }))
    };
    let mut sums = vec![Vector3::zeros(); most(corners)];
    // Measured on all cores, added up in one order.
    for (triangles, corners) in triangles.chunks(BLOCK).zip(corners.chunks(BLOCK)) {
        let block: Vec<_> = triangles.par_iter().map(weighted).collect();
        for (normals, c) in block.into_iter().zip(corners) {
            for (normal, &corner) in normals?.into_iter().zip(c) {
                sums[corner as usize] += normal;
            }
        }
    }
    Some(sums)
}

/// Unit normal by the right-hand rule; `None` where the triangle is a line for all that its numbers tell.
pub(super) fn normal([a, b, c]: &Triangle) -> Option<Vector3<f64>> {
    let (ab, ac, bc) = (b - a, c - a, c - b);
    let longest = ab
        .norm_squared()
        .max(ac.norm_squared())
        .max(bc.norm_squared());
    ab.cross(&ac).try_normalize(1e-12 * longest)
}

/// Looks at every connected shell: volume above zero, boxes apart.
fn shells(triangles: &[Triangle], across: &[[u32; 3]]) -> Result<(), Open> {
    let mut seen = vec![false; triangles.len()];
    let mut frames: Vec<(Vector3<f64>, Vector3<f64>)> = Vec::new();
    let mut open = Vec::new();
    for first in 0..triangles.len() {
        if seen[first] {
            continue;
        }
        seen[first] = true;
        open.push(first);
        let origin = triangles[first][0];
        let (mut volume, mut low, mut high) = (0.0, origin.coords, origin.coords);
        while let Some(t) = open.pop() {
            let [a, b, c] = triangles[t].map(|corner| corner - origin);
            volume += a.dot(&b.cross(&c));
            for corner in &triangles[t] {
                low = low.inf(&corner.coords);
                high = high.sup(&corner.coords);
            }
            for &next in &across[t] {
                if !std::mem::replace(&mut seen[next as usize], true) {
                    open.push(next as usize);
                }
            }
        }
        if volume <= 0.0 {
            return Err(Open::InsideOut);
        }
        let meets = |other: &(Vector3<f64>, Vector3<f64>)| {
            (0..3).all(|i| low[i] <= other.1[i] && other.0[i] <= high[i])
        };
        // Many shells are a scan of crumbs, not a solid; comparing each with each would take long.
        if frames.len() >= 1000 || frames.iter().any(meets) {
            return Err(Open::Shells);
        }
        frames.push((low, high));
    }
    Ok(())
}

/// A hash for numbers that nobody chose to collide; several times faster than the standard one.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Mixing;

impl std::hash::BuildHasher for Mixing {
    type Hasher = Mixed;

    fn build_hasher(&self) -> Mixed {
        Mixed(0)
    }
}

/// One hash in the making.
#[derive(Debug)]
pub(crate) struct Mixed(u64);

impl std::hash::Hasher for Mixed {
    fn finish(&self) -> u64 {
        self.0 ^ self.0 >> 29
    }

    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.write_u64(u64::from(byte));
        }
    }

    fn write_u32(&mut self, n: u32) {
        self.write_u64(u64::from(n));
    }

    fn write_u64(&mut self, n: u64) {
        self.0 = (self.0.rotate_left(26) ^ n).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }
}
