//! Scans: time and memory to load and index, nearest-distance queries against their number of triangles, side by side
//! with parry3d-f64 on the same mesh and the same places.

use std::path::{Path, PathBuf};
use std::time::Instant;

use nalgebra::{Isometry3, Point3};
use neckloom::geometry::{Scan, Shape, Surface};
use neckloom::read::{Soup, scan_file};
use parry3d_f64::math::Vector;
use parry3d_f64::query::PointQuery;
use parry3d_f64::shape::TriMesh;

const QUERIES: u32 = 50_000;
const LOAD: &str = "NECKLOOM_BENCH_LOAD";

fn points(soup: &Soup) -> Vec<Point3<f64>> {
    soup.points
        .iter()
        .map(|p| Point3::from(*p) * 1e-3)
        .collect()
}

fn load(path: &Path) -> Surface {
    let soup = scan_file(path).unwrap();
    Surface::of_triangles(&points(&soup), &soup.triangles).unwrap()
}

/// In a process of its own, so that its memory can be told: loads the scan that the environment names.
pub(crate) fn only_load() -> bool {
    let Some(path) = std::env::var_os(LOAD) else {
        return false;
    };
    let start = Instant::now();
    let surface = load(Path::new(&path));
    let seconds = start.elapsed().as_secs_f64();
    let peak = super::most_memory("/proc/self/status").unwrap_or(f64::NAN);
    println!("{} {seconds:.3} {:.0}", surface.count(), peak / 1024.0);
    true
}

pub(crate) fn load_and_query() {
    println!("\nscans: binary STL of a torus of 0.4 m, ruffled; two-wheeler from tests/data");
    println!(
        "  queries a second, ours and parry3d's: within 30 mm of the surface, and anywhere in the box around it"
    );
    println!(
        "  triangles  load and index, s  peak memory, MB  index alone, s  parry, s  near: ours     parry  anywhere: ours     parry"
    );
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    for (m, n) in [(25, 20), (100, 50), (250, 200), (1000, 500)] {
        let path = folder.join(format!("bench_{m}_{n}.stl"));
        std::fs::write(&path, torus(m, n)).unwrap();
        row(&path);
    }
    row(&Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/two-wheeler/frame.stl"));
}

fn row(path: &Path) {
    let loaded = std::process::Command::new(std::env::current_exe().unwrap())
        .env(LOAD, path)
        .output()
        .unwrap();
    let told = String::from_utf8_lossy(&loaded.stdout);
    let told: Vec<&str> = told.split_ascii_whitespace().collect();
    let soup = scan_file(path).unwrap();
    let points = points(&soup);
    let start = Instant::now();
    let surface = Surface::of_triangles(&points, &soup.triangles).unwrap();
    let index = start.elapsed().as_secs_f64();
    let (low, high) = surface.frame();
    let shape = Shape::Scan(Scan {
        surface: std::sync::Arc::new(surface),
        placed: Isometry3::identity(),
    });
    // Spread by the fractional parts of multiples of powers of the plastic number.
    let share = |i: u32, k: usize| {
        let powers = [
            0.819_172_513_396_164_4,
            0.671_043_606_703_789_2,
            0.549_700_477_901_970_3,
        ];
        (f64::from(i) * powers[k]).fract()
    };
    // A harness lies near surfaces; the worst places are far from all of them, and as far from many.
    let near = (1..=QUERIES).map(|i| {
        let corner = points[i as usize * 7919 % points.len()];
        corner + nalgebra::Vector3::from_fn(|k, _| 0.06 * (share(i, k) - 0.5))
    });
    let anywhere = (1..=QUERIES).map(|i| {
        Point3::from(std::array::from_fn::<f64, 3, _>(|k| {
            low[k] + (high[k] - low[k]) * share(i, k)
        }))
    });
    let asked: [Vec<Point3<f64>>; 2] = [near.collect(), anywhere.collect()];
    let corners = points.iter().map(mm).collect();
    let start = Instant::now();
    let other = TriMesh::new(corners, soup.triangles).unwrap();
    let other_index = start.elapsed().as_secs_f64();
    let mut same = true;
    let queries = asked.map(|asked| {
        let places: Vec<_> = asked.iter().map(mm).collect();
        let (mut times, mut sums) = ([f64::INFINITY; 2], [0.0; 2]);
        // The best of three, in turn: other programs may run beside.
        for _ in 0..3 {
            let start = Instant::now();
            sums[0] = asked.iter().map(|p| shape.distance(p).abs()).sum();
            times[0] = times[0].min(start.elapsed().as_secs_f64());
            let start = Instant::now();
            sums[1] = places
                .iter()
                .map(|p| other.distance_to_local_point(*p, false).abs() * 1e-3)
                .sum();
            times[1] = times[1].min(start.elapsed().as_secs_f64());
        }
        same &= (sums[0] - sums[1]).abs() < 1e-9 * sums[0];
        times.map(|time| f64::from(QUERIES) / time)
    });
    println!(
        "  {:>9}  {:>17}  {:>15}  {index:>14.3}  {other_index:>8.3}  {:>10.0}  {:>8.0}  {:>14.0}  {:>8.0}{}",
        told[0],
        told[1],
        told[2],
        queries[0][0],
        queries[0][1],
        queries[1][0],
        queries[1][1],
        if same { "" } else { "  sums differ" }
    );
}

fn mm(p: &Point3<f64>) -> Vector {
    Vector::new(p.x * 1e3, p.y * 1e3, p.z * 1e3)
}

/// A binary STL in millimetres of 2 m n triangles.
fn torus(m: u32, n: u32) -> Vec<u8> {
    let at = |i: u32, j: u32| {
        let turn = |k: u32, of: u32| std::f64::consts::TAU * f64::from(k % of) / f64::from(of);
        let (u, v) = (turn(i, m), turn(j, n));
        let tube = 60.0 + 2.0 * (17.0 * u).sin() * (5.0 * v).cos();
        let out = 200.0 + tube * v.cos();
        [out * u.cos(), out * u.sin(), tube * v.sin()]
    };
    let mut bytes = vec![0; 80];
    bytes.extend((2 * m * n).to_le_bytes());
    for i in 0..m {
        for j in 0..n {
            let (a, b, c, d) = (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
            for corners in [[a, b, c], [a, c, d]] {
                bytes.extend([0; 12]);
                for x in corners.as_flattened() {
                    #[allow(
                        clippy::cast_possible_truncation,
                        reason = "STL holds single precision"
                    )]
                    bytes.extend((*x as f32).to_le_bytes());
                }
                bytes.extend([0; 2]);
            }
        }
    }
    bytes
}
