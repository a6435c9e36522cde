//! What of a scan is drawn: all of it where it is small, else its surface gathered on a grid (Rossignac, Borrel,
//! "Multi-resolution 3D approximations for rendering complex scenes", 1993, section 3), or every n-th of its bare points.

use std::collections::{HashMap, HashSet};

use nalgebra::{Point3, Vector3};

use crate::geometry::Scan;

use super::mesh::{Drawn, Mesh};

/// So many triangles or points of a scan are drawn at most.
const MOST: usize = 60_000;
/// A surface gathered on a grid takes about so many triangles for each square of it.
const A_CELL: f64 = 3.0;
/// The grid grows by this where there are still too many.
const COARSER: f64 = 1.25;

/// A scan as the page draws it, and how many of its triangles or points are not.
pub(super) fn of_scan(scan: &Scan) -> Drawn {
    let count = scan.surface.count();
    if scan.surface.spacing().is_some() {
        let every = count.div_ceil(MOST).max(1);
        let points = scan.surface.pieces().step_by(every).flatten();
        let points: Vec<_> = points.map(|point| scan.placed * point).collect();
        let left = count - points.len();
        return Drawn::Points(points, left);
    }
    let pieces = scan.surface.pieces().filter_map(|piece| {
        let corners: [Point3<f64>; 3] = piece.try_into().ok()?;
        Some(corners.map(|corner| scan.placed * corner))
    });
    let triangles: Vec<_> = pieces.collect();
    let mesh = if count <= MOST {
        whole(&triangles)
    } else {
        gathered(&triangles)
    };
    let left = count - mesh.triangles.len();
    Drawn::Mesh(mesh, left)
}

fn whole(triangles: &[[Point3<f64>; 3]]) -> Mesh {
    let mut mesh = Mesh::default();
    for corners in triangles {
        let first = mesh.next();
        mesh.corners.extend(corners);
        mesh.triangles.push([first, first + 1, first + 2]);
    }
    mesh
}

/// Corners of one cell of a grid become their middle; what has two corners there is gone, what is the same as another too.
fn gathered(triangles: &[[Point3<f64>; 3]]) -> Mesh {
    let area = |[a, b, c]: &[Point3<f64>; 3]| 0.5 * (b - a).cross(&(c - a)).norm();
    let area: f64 = triangles.iter().map(area).sum();
    #[allow(clippy::cast_precision_loss, reason = "60 000")]
    let mut cell = (A_CELL * area / MOST as f64).sqrt();
    if !cell.is_normal() {
        return whole(&triangles[..triangles.len().min(MOST)]);
    }
    loop {
        let mesh = on_grid(triangles, cell);
        if mesh.triangles.len() <= MOST {
            return mesh;
        }
        cell *= COARSER;
    }
}

fn on_grid(triangles: &[[Point3<f64>; 3]], cell: f64) -> Mesh {
    let mut cells: HashMap<[i64; 3], u32> = HashMap::new();
    let mut sums: Vec<(Vector3<f64>, f64)> = Vec::new();
    let mut gathered = |corner: &Point3<f64>| {
        #[allow(
            clippy::cast_possible_truncation,
            reason = "what is beyond all cells is in the last"
        )]
        let key = [corner.x, corner.y, corner.z].map(|x| (x / cell).floor() as i64);
        let next = u32::try_from(sums.len()).unwrap_or(u32::MAX);
        let index = *cells.entry(key).or_insert(next);
        if index == next {
            sums.push((Vector3::zeros(), 0.0));
        }
        if let Some((sum, count)) = sums.get_mut(index as usize) {
            *sum += corner.coords;
            *count += 1.0;
        }
        index
    };
    let mut kept = HashSet::new();
    let mut mesh = Mesh::default();
    for corners in triangles {
        let [a, b, c] = [0, 1, 2].map(|i| gathered(&corners[i]));
        if a == b || b == c || c == a {
            continue;
        }
        let mut same = [a, b, c];
        same.sort_unstable();
        if kept.insert(same) {
            mesh.triangles.push([a, b, c]);
        }
    }
    mesh.corners = sums.iter().map(|(sum, n)| Point3::from(sum / *n)).collect();
    mesh
}
