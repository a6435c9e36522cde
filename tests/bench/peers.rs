//! Neckloom's side of the bench beside other programs (`tests/bench/peers/run`): the lock sweep, and distances to a
//! mesh and to points that the script wrote. One JSON object on standard output.

use std::path::Path;
use std::time::Instant;

use nalgebra::{Isometry3, Point3};
use neckloom::geometry::{Scan, Shape, Surface};
use neckloom::read::scan_file;
use neckloom::rod::solve;
use parry3d_f64::math::Vector;
use parry3d_f64::query::PointQuery;
use parry3d_f64::shape::TriMesh;
use serde_json::{Value, json};

use super::rig::Rig;
use super::{radii, settings, timed};

/// Folder with `queries.csv` (mm) and `points.ply`, both written by the script.
const FOLDER: &str = "NECKLOOM_PEERS";

pub(crate) fn peers() {
    let rig = Rig::steered(0.232, 0.09);
    let mut rows: Vec<Value> = Vec::new();
    super::rayon_of_one(|| {
        for elements in [8, 12, 16, 24, 32, 100] {
            let settings = settings(elements, f64::INFINITY);
            let (time, solution) = timed(&rig.route, &settings);
            let branch = &solution.branches[0];
            rows.push(json!({
                "settings": format!("{elements} elements"),
                "seconds": time.as_secs_f64() / branch.shapes.len() as f64,
                "radii": radii(&solution),
                "angles": solution.sweep.poses.iter().map(|p| p.joints[1].to_degrees()).collect::<Vec<_>>(),
            }));
        }
        // For each the finest of all, so that the reference can be looked at from here too.
        let finest = solve(&rig.route, &settings(768, f64::INFINITY));
        rows.push(json!({ "settings": "finest", "seconds": null, "radii": radii(&finest) }));
    });
    let clouds = std::env::var_os(FOLDER).map(|folder| distances(Path::new(&folder)));
    println!("{}", json!({ "sweep": rows, "distances": clouds }));
}

fn distances(folder: &Path) -> Value {
    let queries: Vec<Point3<f64>> = std::fs::read_to_string(folder.join("queries.csv"))
        .unwrap()
        .lines()
        .map(|line| {
            let mut cells = line
                .split(',')
                .map(|cell| cell.parse::<f64>().unwrap() * 1e-3);
            Point3::from(std::array::from_fn(|_| cells.next().unwrap()))
        })
        .collect();
    let placed = |surface: Surface| {
        Shape::Scan(Scan {
            surface: std::sync::Arc::new(surface),
            placed: Isometry3::identity(),
        })
    };
    let metres = |points: &[[f64; 3]]| -> Vec<Point3<f64>> {
        points.iter().map(|p| Point3::from(*p) * 1e-3).collect()
    };
    let soup = scan_file(&folder.join("points.ply")).unwrap();
    let surface = Surface::of_points(&metres(&soup.points)).unwrap();
    let allowance = surface.allowance();
    let cloud = placed(surface);
    let (cloud_time, cloud_sum) =
        best(|| queries.iter().map(|p| cloud.distance(p) + allowance).sum());
    let soup = scan_file(&folder.join("mesh.stl")).unwrap();
    let points = metres(&soup.points);
    let mesh = placed(Surface::of_triangles(&points, &soup.triangles).unwrap());
    let (mesh_time, mesh_sum) = best(|| queries.iter().map(|p| mesh.distance(p).abs()).sum());
    let corners = soup
        .points
        .iter()
        .map(|p| Vector::new(p[0], p[1], p[2]))
        .collect();
    let other = TriMesh::new(corners, soup.triangles.clone()).unwrap();
    let asked: Vec<Vector> = queries
        .iter()
        .map(|p| Vector::new(p.x * 1e3, p.y * 1e3, p.z * 1e3))
        .collect();
    let (other_time, other_sum) = best(|| {
        asked
            .iter()
            .map(|p| other.distance_to_local_point(*p, false).abs() * 1e-3)
            .sum()
    });
    let each = |time: f64| time / queries.len() as f64;
    json!({
        "queries": queries.len(),
        "triangles": soup.triangles.len(),
        "points": { "seconds": each(cloud_time), "sum": cloud_sum },
        "mesh": { "seconds": each(mesh_time), "sum": mesh_sum },
        "parry3d": { "seconds": each(other_time), "sum": other_sum },
    })
}

/// The least of five times, and what was worked out.
fn best(mut job: impl FnMut() -> f64) -> (f64, f64) {
    let mut least = (f64::INFINITY, f64::NAN);
    for _ in 0..5 {
        let start = Instant::now();
        let sum = job();
        least = (least.0.min(start.elapsed().as_secs_f64()), sum);
    }
    least
}
