//! Scans: time and memory to load and index, nearest-distance queries against their number of triangles, side by side
//! with parry3d-f64 on the same mesh and the same places.

use std::path::{Path, PathBuf};
use std::time::Instant;

use nalgebra::{Isometry3, Point3};
use neckloom::geometry::{Curve, Knot, Scan, Shape, Surface};
use neckloom::machine::{Body, BodyId, Joint, Machine, Part, Surroundings};
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
    println!(
        "{} {seconds:.3} {:.0} {:.2}",
        surface.count(),
        peak / 1024.0,
        of_all_threads()
    );
    true
}

pub(crate) fn load_and_query() {
    println!(
        "\nscans: a torus of 0.4 m, ruffled, in six sizes; the two-wheeler's frame from tests/data as it is, and each \
         triangle cut in 16, its corners moved by up to 0.1 mm as a scanner's are"
    );
    println!(
        "  times are a processor's, of this program alone; queries a second on one core, ours one by one, ours of the whole \
         set at once, and parry3d's, of three sets of 50 000:"
    );
    println!("  near      each within 30 mm (each axis) of a corner, in no order");
    println!("  anywhere  all over the box around the mesh, in no order");
    println!(
        "  along     every 2 mm along 500 straight lines of 200 mm between places of the first set"
    );
    println!(
        "  triangles  load and index, s  processor, s  peak, MB  index, s  parry, s  near: ours at once   parry  anywhere: ours at once   parry  along: ours at once   parry"
    );
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let mut rows: Vec<Row> = Vec::new();
    for (m, n) in [
        (100, 50),
        (150, 100),
        (250, 200),
        (500, 300),
        (1000, 500),
        (1500, 1000),
    ] {
        let path = folder.join(format!("bench_{m}_{n}.stl"));
        std::fs::write(&path, stl(&torus(m, n))).unwrap();
        rows.push(row(&path));
    }
    let frame = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/two-wheeler/frame.stl");
    row(&frame);
    let fine = folder.join("bench_frame.stl");
    std::fs::write(&fine, stl(&scanned(&frame))).unwrap();
    row(&fine);
    growth(&rows);
    vertices(&fine);
}

/// What the growth of a query's cost is told from.
struct Row {
    triangles: f64,
    /// Of a query near the surface, and of one along a line \[s\].
    near: f64,
    along: f64,
}

/// How the cost of a query grows: a bar for each number of triangles.
fn growth(rows: &[Row]) {
    println!(
        "\nscans: cost of one query against the number of triangles of the torus; an even rise with each tenfold is a logarithm"
    );
    println!("  triangles  near, µs  along, µs");
    for row in rows {
        let bar = "=".repeat(row_width(row.near));
        println!(
            "  {:>9}  {:>8.2}  {:>9.2}  {bar}",
            row.triangles,
            row.near * 1e6,
            row.along * 1e6
        );
    }
}

#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a few dozen"
)]
fn row_width(seconds: f64) -> usize {
    ((seconds * 4e6) as usize).clamp(1, 80)
}

/// Time of a branch's least distance to a scan against its vertices.
fn vertices(path: &Path) {
    println!(
        "\nscans: least distance from one branch of 0.4 m over the frame of 914 176 triangles, against its vertices"
    );
    println!("  vertices  one branch, ms  a vertex, µs");
    let machine = Machine {
        bodies: vec![Body {
            name: "frame".to_owned(),
            on: None,
            joint: Joint::Fixed,
            said: None,
        }],
        parts: vec![Part {
            name: "scan".to_owned(),
            on: BodyId(0),
            shape: Shape::Scan(Scan {
                surface: std::sync::Arc::new(load(path)),
                placed: Isometry3::identity(),
            }),
            surface: None,
            emissivity: None,
            carries: None,
            edge: None,
        }],
    };
    let Shape::Scan(scan) = &machine.parts[0].shape else {
        return;
    };
    let (low, high) = scan.surface.frame();
    let middle = nalgebra::center(&low, &high);
    let around = Surroundings::new(&machine);
    let stance = machine.stance(&[0.0]);
    for pieces in [10_u32, 20, 40, 80, 160, 320, 640, 1280] {
        let slope = nalgebra::Vector3::z();
        let knot = |i: u32| {
            let at = 0.4 * f64::from(i) / f64::from(pieces);
            Knot {
                at,
                position: middle + slope * (at - 0.2),
                slope,
            }
        };
        let curve = Curve::new((0..=pieces).map(knot).collect()).unwrap();
        let mut least = f64::INFINITY;
        for _ in 0..3 {
            let (start, mut times) = (seconds(), 0_u32);
            // The clock of a thread ticks every few milliseconds.
            while seconds() - start < 0.2 {
                for _ in 0..20 {
                    std::hint::black_box(around.nearest(&stance, &curve));
                }
                times += 20;
            }
            least = least.min((seconds() - start) / f64::from(times));
        }
        println!(
            "  {:>8}  {:>14.3}  {:>12.2}",
            pieces + 1,
            least * 1e3,
            least * 1e6 / f64::from(pieces + 1)
        );
    }
}

/// Time that this thread has been on a processor \[s\]; by the clock where the system does not tell.
pub(crate) fn seconds() -> f64 {
    static BEGAN: std::sync::OnceLock<Instant> = std::sync::OnceLock::new();
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let told = told.and_then(|text| text.split_ascii_whitespace().next()?.parse::<f64>().ok());
    told.map_or_else(
        || BEGAN.get_or_init(Instant::now).elapsed().as_secs_f64(),
        |nanoseconds| nanoseconds * 1e-9,
    )
}

/// Time that all threads of this program have been on a processor \[s\], in hundredths.
fn of_all_threads() -> f64 {
    let told = std::fs::read_to_string("/proc/self/stat").unwrap_or_default();
    let fields = told.rsplit(')').next().unwrap_or_default();
    let ticks = fields.split_ascii_whitespace().skip(11).take(2);
    ticks.filter_map(|n| n.parse::<f64>().ok()).sum::<f64>() / 100.0
}

fn row(path: &Path) -> Row {
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
    let triangles = surface.count() as f64;
    let (low, high) = surface.frame();
    let shape = Shape::Scan(Scan {
        surface: std::sync::Arc::new(surface),
        placed: Isometry3::identity(),
    });
    let asked = asked(&points, &low, &high);
    let corners = points.iter().map(mm).collect();
    let start = Instant::now();
    let other = TriMesh::new(corners, soup.triangles).unwrap();
    let other_index = start.elapsed().as_secs_f64();
    let mut same = true;
    let queries = asked.each_ref().map(|asked| {
        let places: Vec<_> = asked.iter().map(mm).collect();
        let (mut times, mut sums) = ([f64::INFINITY; 3], [0.0; 3]);
        // The best of three, in turn: other programs may run beside.
        for _ in 0..3 {
            let start = seconds();
            sums[0] = asked.iter().map(|p| shape.distance(p).abs()).sum();
            times[0] = times[0].min(seconds() - start);
            let start = seconds();
            sums[1] = shape.distances(asked).iter().map(|d| d.abs()).sum();
            times[1] = times[1].min(seconds() - start);
            let start = seconds();
            sums[2] = places
                .iter()
                .map(|p| other.distance_to_local_point(*p, false).abs() * 1e-3)
                .sum();
            times[2] = times[2].min(seconds() - start);
        }
        same &= sums[1..]
            .iter()
            .all(|sum| (sums[0] - sum).abs() < 1e-9 * sums[0]);
        times.map(|time| time / asked.len() as f64)
    });
    let a_second = queries.map(|both| both.map(f64::recip));
    let told_in_columns: String = a_second
        .iter()
        .zip([10, 14, 11])
        .map(|([one, all, parry], wide)| format!("{one:>wide$.0}  {all:>7.0}  {parry:>6.0}  "))
        .collect();
    println!(
        "  {:>9}  {:>17}  {:>12}  {:>8}  {index:>8.3}  {other_index:>8.3}  {}{}",
        told[0],
        told[1],
        told[3],
        told[2],
        told_in_columns,
        if same { "" } else { "  sums differ" }
    );
    Row {
        triangles,
        near: queries[0][0],
        along: queries[2][0],
    }
}

/// The places that are asked about.
fn asked(points: &[Point3<f64>], low: &Point3<f64>, high: &Point3<f64>) -> [Vec<Point3<f64>>; 3] {
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
    let near: Vec<_> = (1..=QUERIES)
        .map(|i| {
            let corner = points[i as usize * 7919 % points.len()];
            corner + nalgebra::Vector3::from_fn(|k, _| 0.06 * (share(i, k) - 0.5))
        })
        .collect();
    let anywhere = (1..=QUERIES).map(|i| {
        Point3::from(std::array::from_fn::<f64, 3, _>(|k| {
            low[k] + (high[k] - low[k]) * share(i, k)
        }))
    });
    let along = (0..QUERIES as usize).map(|i| {
        let (line, step) = (i / 100, (i % 100) as f64);
        let (from, to) = (near[line * 97], near[line * 97 + 13]);
        from + (to - from).normalize() * (0.002 * step)
    });
    let (anywhere, along) = (anywhere.collect(), along.collect());
    [near, anywhere, along]
}

fn mm(p: &Point3<f64>) -> Vector {
    Vector::new(p.x * 1e3, p.y * 1e3, p.z * 1e3)
}

type Triangle = [[f64; 3]; 3];

/// 2 m n triangles \[mm\].
fn torus(m: u32, n: u32) -> Vec<Triangle> {
    let at = |i: u32, j: u32| {
        let turn = |k: u32, of: u32| std::f64::consts::TAU * f64::from(k % of) / f64::from(of);
        let (u, v) = (turn(i, m), turn(j, n));
        let tube = 60.0 + 2.0 * (17.0 * u).sin() * (5.0 * v).cos();
        let out = 200.0 + tube * v.cos();
        [out * u.cos(), out * u.sin(), tube * v.sin()]
    };
    let cells = (0..m).flat_map(|i| (0..n).map(move |j| (i, j)));
    cells
        .flat_map(|(i, j)| {
            let (a, b, c, d) = (at(i, j), at(i + 1, j), at(i + 1, j + 1), at(i, j + 1));
            [[a, b, c], [a, c, d]]
        })
        .collect()
}

/// A mesh in metres as a scanner would give it: each triangle cut in 16, corners moved by up to 0.1 mm \[mm\].
fn scanned(path: &Path) -> Vec<Triangle> {
    let soup = scan_file(path).unwrap();
    let corner = |i: u32| soup.points[i as usize].map(|c| c * 1e3);
    let mut mesh: Vec<Triangle> = soup.triangles.iter().map(|t| t.map(corner)).collect();
    let middle = |a: [f64; 3], b: [f64; 3]| [0, 1, 2].map(|k| 0.5 * (a[k] + b[k]));
    for _ in 0..2 {
        let quarter = |&[a, b, c]: &Triangle| {
            let (ab, bc, ca) = (middle(a, b), middle(b, c), middle(c, a));
            [[a, ab, ca], [ab, b, bc], [ca, bc, c], [ab, bc, ca]]
        };
        mesh = mesh.iter().flat_map(quarter).collect();
    }
    // The same corner moves the same way in each of its triangles.
    let golden = 0x9E37_79B9_7F4A_7C15_u64;
    for corner in mesh.iter_mut().flatten() {
        let mut hash = corner.iter().fold(1, |hash: u64, c| {
            (hash.rotate_left(20) ^ c.to_bits()).wrapping_mul(golden)
        });
        for c in corner {
            hash = (hash ^ hash >> 29).wrapping_mul(golden);
            *c += 0.2 * ((hash >> 32) as f64 / 2_f64.powi(32) - 0.5);
        }
    }
    mesh
}

/// The same as a file.
pub(crate) fn scanned_stl(path: &Path) -> Vec<u8> {
    stl(&scanned(path))
}

/// A ruffled torus of about so many triangles, its middle `below` \[mm\] under zero, as a file.
pub(crate) fn torus_stl(triangles: u32, below: f64) -> Vec<u8> {
    let around = f64::from(triangles).sqrt().round();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "the root of a number of triangles"
    )]
    let m = around as u32;
    let mut mesh = torus(m, triangles / (2 * m));
    for corner in mesh.iter_mut().flatten() {
        corner[2] -= below;
    }
    stl(&mesh)
}

/// A binary STL.
fn stl(mesh: &[Triangle]) -> Vec<u8> {
    let mut bytes = vec![0; 80];
    bytes.extend(u32::try_from(mesh.len()).unwrap().to_le_bytes());
    for corners in mesh {
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
    bytes
}
