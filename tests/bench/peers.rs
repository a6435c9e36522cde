//! Neckloom's side of the bench beside other programs (`tests/bench/peers/run`): the lock sweep, and nearest distances
//! to the meshes and the points that the script wrote, those to meshes beside parry3d-f64. One JSON object on standard
//! output. Times are a processor's.

use std::hint::black_box;
use std::path::Path;
use std::sync::Arc;

use nalgebra::{Isometry3, Point3};
use neckloom::geometry::{Scan, Shape, Surface};
use neckloom::read::scan_file;
use neckloom::rod::{Solution, solve};
use parry3d_f64::math::Vector;
use parry3d_f64::query::PointQuery;
use parry3d_f64::shape::TriMesh;
use serde_json::{Value, json};

use super::rig::{LOCK, Rig, STIFF};
use super::scans::seconds;
use super::{radii, settings};

/// Names the folder with what the script wrote: rows of three doubles, `cloud` and places `random` and `sorted`, in
/// metres. Without it only the sweep is run.
const FOLDER: &str = "NECKLOOM_PEERS";
/// Repetitions: the least time counts.
const RUNS: usize = 3;
/// Repetitions of the sweep, each with all numbers of elements: a machine is slow for seconds at a time.
const SWEEPS: usize = 7;
/// Elements a span.
const ELEMENTS: [usize; 14] = [4, 5, 6, 8, 10, 12, 16, 24, 28, 36, 52, 100, 212, 400];
/// The clock of a thread ticks every few milliseconds, so that nothing shorter is timed \[s\].
const SHORTEST: f64 = 0.2;

pub(crate) fn peers() {
    super::rayon_of_one(|| {
        let folder = std::env::var_os(FOLDER);
        let distances = folder.map(|folder| distances(Path::new(&folder)));
        println!("{}", json!({ "sweep": sweep(), "distances": distances }));
    });
}

/// The sweep with more and more elements a span, none refined. The others begin from rest as it is given to them, so what
/// rest alone takes, from nothing, is taken off.
fn sweep() -> Vec<Value> {
    let rigs = [LOCK, 0.0].map(|lock| {
        let mut rig = Rig::steered_by(lock, 0.232, 0.09);
        rig.stiffness().stretch = STIFF;
        rig
    });
    let mut least = [[f64::INFINITY; 2]; ELEMENTS.len()];
    let solved = |rig: &Rig, elements| solve(&rig.route, &settings(elements, f64::INFINITY));
    for _ in 0..SWEEPS {
        for (least, &elements) in least.iter_mut().zip(&ELEMENTS) {
            for (least, rig) in least.iter_mut().zip(&rigs) {
                let time = each(|| drop(black_box(solved(rig, elements))));
                *least = least.min(time);
            }
        }
    }
    let row = |(elements, [whole, rest]): (usize, [f64; 2])| {
        let [sweep, alone]: [Solution; 2] = [0, 1].map(|i| solved(&rigs[i], elements));
        let shapes = &sweep.branches[0].shapes;
        assert!(shapes.iter().all(|shape| shape.converged));
        assert_eq!(alone.branches[0].shapes.len(), 1);
        json!({
            "elements": elements,
            "seconds": (whole - rest) / (shapes.len() - 1) as f64,
            "radii": radii(&sweep),
        })
    };
    ELEMENTS.into_iter().zip(least).map(row).collect()
}

/// Seconds that a job takes: the least of several, each of so many jobs that they can be timed.
fn timed(mut job: impl FnMut()) -> f64 {
    (0..RUNS)
        .map(|_| each(&mut job))
        .fold(f64::INFINITY, f64::min)
}

/// Seconds that one of so many jobs takes that they can be timed.
fn each(mut job: impl FnMut()) -> f64 {
    let (start, mut jobs) = (seconds(), 0_u32);
    while jobs == 0 || seconds() - start < SHORTEST {
        job();
        jobs += 1;
    }
    (seconds() - start) / f64::from(jobs)
}

fn distances(folder: &Path) -> Value {
    let cloud = Surface::of_points(&rows(&folder.join("cloud"))).unwrap();
    let allowance = cloud.allowance();
    let cloud = placed(cloud);
    let orders = ["random", "sorted"].map(|order| (order, rows(&folder.join(order))));
    let frame = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/two-wheeler/frame.stl");
    // As it is, in metres; and as a scanner would give it, which `scanned` gives in millimetres.
    let fine = folder.join("scanned.stl");
    std::fs::write(&fine, super::scans::scanned_stl(&frame)).unwrap();
    let meshes = [(frame, 1.0), (fine, 1e-3)].map(|(path, unit)| {
        let soup = scan_file(&path).unwrap();
        let points: Vec<_> = soup
            .points
            .iter()
            .map(|p| Point3::from(*p) * unit)
            .collect();
        let corners = points.iter().map(|p| Vector::new(p.x, p.y, p.z)).collect();
        let ours = placed(Surface::of_triangles(&points, &soup.triangles).unwrap());
        (ours, TriMesh::new(corners, soup.triangles).unwrap())
    });
    let mut told = Vec::new();
    for (order, places) in &orders {
        let each = |time: f64| time / places.len() as f64;
        let (time, sum) = summed(|| places.iter().map(|p| cloud.distance(p) + allowance).sum());
        told.push(json!({ "to": "points", "order": order, "seconds": each(time), "sum": sum }));
        for (ours, other) in &meshes {
            let asked: Vec<_> = places.iter().map(|p| Vector::new(p.x, p.y, p.z)).collect();
            let (time, sum) = summed(|| places.iter().map(|p| ours.distance(p).abs()).sum());
            let (others, others_sum) = summed(|| {
                let away = |p: &Vector| other.distance_to_local_point(*p, false).abs();
                asked.iter().map(away).sum()
            });
            told.push(json!({
                "to": "mesh",
                "triangles": other.indices().len(),
                "order": order,
                "seconds": each(time),
                "sum": sum,
                "parry3d": { "seconds": each(others), "sum": others_sum },
            }));
        }
    }
    json!(told)
}

fn summed(mut job: impl FnMut() -> f64) -> (f64, f64) {
    let mut sum = f64::NAN;
    let time = timed(|| sum = job());
    (time, sum)
}

fn placed(surface: Surface) -> Shape {
    Shape::Scan(Scan {
        surface: Arc::new(surface),
        placed: Isometry3::identity(),
    })
}

/// Rows of three doubles, little-endian.
fn rows(path: &Path) -> Vec<Point3<f64>> {
    let bytes = std::fs::read(path).unwrap();
    let (numbers, rest) = bytes.as_chunks::<8>();
    assert!(rest.is_empty());
    let numbers: Vec<f64> = numbers.iter().map(|n| f64::from_le_bytes(*n)).collect();
    let (rows, rest) = numbers.as_chunks::<3>();
    assert!(rest.is_empty());
    rows.iter().map(|row| Point3::from(*row)).collect()
}
