//! Distances to scans: against brute force over all triangles, against parry3d-f64, and against closed forms.

use std::path::Path;
use std::sync::Arc;

use nalgebra::{Isometry3, Point3, Vector3};
use neckloom::geometry::{Curve, Knot, Scan, Shape, Surface};
use neckloom::machine::{Body, BodyId, Joint, Machine, Part, Surroundings};
use neckloom::read::scan_file;
use parry3d_f64::math::{Pose, Vector};
use parry3d_f64::query::{self, PointQuery};
use parry3d_f64::shape::{Segment, TriMesh};

use super::made::Made;
use crate::geometry::Random;

pub(super) fn scan(surface: Surface) -> Shape {
    Shape::Scan(Scan {
        surface: Arc::new(surface),
        placed: Isometry3::identity(),
    })
}

fn mesh(made: &Made) -> Shape {
    scan(Surface::of_triangles(&made.points, &made.triangles).unwrap())
}

/// The mesh in millimetres: in metres the other library's distances are good to some hundredths of a millimetre only.
fn parry(made: &Made) -> TriMesh {
    let points = made
        .points
        .iter()
        .map(|p| Vector::new(p.x * 1e3, p.y * 1e3, p.z * 1e3));
    TriMesh::new(points.collect(), made.triangles.clone()).unwrap()
}

fn two_wheeler(name: &str) -> Made {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/two-wheeler");
    let soup = scan_file(&folder.join(name)).unwrap();
    Made {
        points: soup.points.into_iter().map(Point3::from).collect(),
        triangles: soup.triangles,
    }
}

/// Distance to a triangle, by another way than the program's: to its plane where the foot is inside by areas, else to
/// its edges.
fn to_triangle(p: &Point3<f64>, [a, b, c]: [Point3<f64>; 3]) -> f64 {
    let edge = |a: &Point3<f64>, b: &Point3<f64>| {
        let run = b - a;
        let t = if run.norm() > 0.0 {
            ((p - a).dot(&run) / run.norm_squared()).clamp(0.0, 1.0)
        } else {
            0.0
        };
        (p - (a + run * t)).norm()
    };
    let mut least = edge(&a, &b).min(edge(&b, &c)).min(edge(&c, &a));
    if let Some(n) = (b - a).cross(&(c - a)).try_normalize(0.0) {
        let height = (p - a).dot(&n);
        let q = p - n * height;
        let left = |a: &Point3<f64>, b: &Point3<f64>| (b - a).cross(&(q - a)).dot(&n) >= 0.0;
        if left(&a, &b) && left(&b, &c) && left(&c, &a) {
            least = least.min(height.abs());
        }
    }
    least
}

#[test]
fn to_random_triangles_as_by_brute_force() {
    for seed in 0..60 {
        let mut random = Random::new(seed);
        let mut made = Made::default();
        for _ in 0..1 + random.below(400) {
            let at = random.point(0.5);
            let size = 10f64.powf(random.between(-5.0, 0.0));
            let mut corners = [0; 3].map(|_| at + random.vector(size));
            match random.below(6) {
                // A needle, a line, a point.
                0 => {
                    corners[2] = corners[0] + (corners[1] - corners[0]) * 0.3 + random.vector(1e-9);
                }
                1 => corners[2] = corners[1],
                2 => corners = [corners[0]; 3],
                // All in one plane.
                3 => corners.iter_mut().for_each(|c| c.z = 0.1),
                _ => {}
            }
            let first = u32::try_from(made.points.len()).unwrap();
            made.points.extend(corners);
            made.triangles.push([first, first + 1, first + 2]);
        }
        let shape = mesh(&made);
        for _ in 0..60 {
            let reach = if random.below(2) == 0 { 0.6 } else { 20.0 };
            let p = random.point(reach);
            let want = (0..made.triangles.len())
                .map(|t| to_triangle(&p, made.corners(t)))
                .fold(f64::INFINITY, f64::min);
            let got = shape.distance(&p);
            assert!(
                (got - want).abs() < 1e-9,
                "seed {seed}: got {got}, want {want}"
            );
            let contact = shape.contact(&p);
            assert!((contact.distance - want).abs() < 1e-9, "seed {seed}");
            let foot = p - contact.normal.into_inner() * contact.distance;
            assert!(
                shape.distance(&foot) < 1e-8,
                "seed {seed}: the foot is on the surface"
            );
        }
    }
}

/// Bit by bit, whatever stands between: far places, places that are no numbers, twice the same.
#[test]
fn many_at_once_as_one_by_one() {
    let made = two_wheeler("frame.stl");
    let cloud = Surface::of_points(&made.points).unwrap();
    let cloud = Shape::Scan(Scan {
        surface: Arc::new(cloud),
        placed: Isometry3::translation(0.3, -0.2, 0.1),
    });
    let ball = Shape::Ball {
        centre: Point3::origin(),
        diameter: 0.3,
    };
    let mut random = Random::new(11);
    for shape in [mesh(&made), cloud, ball] {
        let mut places: Vec<Point3<f64>> = (0..2000)
            .map(|i| random.point([0.1, 1.2, 40.0][i % 3]))
            .collect();
        places.push(places[0]);
        places.push(Point3::new(f64::NAN, 0.0, 0.0));
        places.push(Point3::new(0.0, f64::INFINITY, 0.0));
        places.push(Point3::new(1e12, 0.0, 0.0));
        places.push(Point3::new(1e300, 0.0, 0.0));
        let alone = places.iter().map(|p| shape.distance(p).to_bits());
        let together = shape.distances(&places);
        assert!(together.iter().map(|d| d.to_bits()).eq(alone));
    }
    assert_eq!(mesh(&made).distances(&[]), Vec::<f64>::new());
}

/// Whether a shape is nearer than so much is what its distance says, for a closed mesh, an open one, points and a solid.
#[test]
fn nearer_is_what_the_distance_says() {
    let frame = two_wheeler("frame.stl");
    let shapes = [
        mesh(&Made::torus(0.2, 0.05, 60, 20)),
        mesh(&Made::sheet(0.2, 0.0, 7)),
        scan(Surface::of_points(&frame.points).unwrap()),
        Shape::Ball {
            centre: Point3::origin(),
            diameter: 0.3,
        },
    ];
    let mut random = Random::new(12);
    for (s, shape) in shapes.iter().enumerate() {
        let (mut nearer, mut farther) = (0, 0);
        for _ in 0..2000 {
            let p = random.point(0.4);
            let distance = shape.distance(&p);
            for than in [-0.1, -0.01, 0.0, 1e-3, 0.02, 0.3] {
                if (distance - than).abs() < 1e-12 {
                    continue;
                }
                let got = shape.is_nearer(&p, than);
                assert_eq!(
                    got,
                    distance < than,
                    "shape {s}, {p}: {distance} m, {than} m"
                );
                *(if got { &mut nearer } else { &mut farther }) += 1;
            }
        }
        assert!(nearer > 500 && farther > 500, "{nearer} {farther}");
        for lost in [f64::NAN, f64::INFINITY] {
            assert!(!shape.is_nearer(&Point3::new(lost, 0.0, 0.0), 1.0));
        }
    }
}

#[test]
fn to_two_wheelers_as_parry_says() {
    for name in ["frame.stl", "steering.stl"] {
        let made = two_wheeler(name);
        let (shape, other) = (mesh(&made), parry(&made));
        let mut random = Random::new(7);
        let mut worst = 0.0_f64;
        for i in 0..3000 {
            // Around the machine, and close to its surface.
            let p = if i % 2 == 0 {
                random.point(1.2)
            } else {
                made.points[random.below(made.points.len())] + random.vector(0.01)
            };
            let want =
                other.distance_to_local_point(Vector::new(p.x, p.y, p.z) * 1e3, false) * 1e-3;
            worst = worst.max((shape.distance(&p) - want).abs());
        }
        println!("{name}: differs from parry by {worst:.1e} m at most");
        assert!(worst < 1e-9, "{name}: {worst:.1e} m");
    }
}

fn alone(shape: Shape) -> Machine {
    Machine {
        bodies: vec![Body {
            name: "frame".to_owned(),
            on: None,
            joint: Joint::Fixed,
            said: None,
        }],
        parts: vec![Part {
            name: "scan".to_owned(),
            on: BodyId(0),
            shape,
            surface: None,
            emissivity: None,
            carries: None,
            edge: None,
        }],
    }
}

fn line(from: Point3<f64>, to: Point3<f64>, pieces: u32) -> Curve {
    let slope = (to - from).normalize();
    let knot = |i: u32| {
        let share = f64::from(i) / f64::from(pieces);
        Knot {
            at: (to - from).norm() * share,
            position: from + (to - from) * share,
            slope,
        }
    };
    Curve::new((0..=pieces).map(knot).collect()).unwrap()
}

fn least(machine: &Machine, curve: &Curve) -> f64 {
    let around = Surroundings::new(machine);
    around.nearest(&machine.stance(&[0.0]), curve)[0].distance
}

/// A straight curve to the mesh as a segment to the mesh; a curve that passes through has the distance 0.
#[test]
fn of_straight_curves_to_a_two_wheeler_as_parry_says() {
    let made = two_wheeler("steering.stl");
    let (machine, other) = (alone(mesh(&made)), parry(&made));
    let around = Surroundings::new(&machine);
    let stance = machine.stance(&[0.0]);
    let mut random = Random::new(11);
    let mut through = 0;
    for i in 0..300 {
        let from = made.points[random.below(made.points.len())] + random.vector(0.05);
        let to = from + random.direction().into_inner() * random.between(0.01, 0.4);
        let pieces = 1 + u32::try_from(random.below(12)).unwrap();
        let nearest = &around.nearest(&stance, &line(from, to, pieces))[0];
        let mm = |p: &Point3<f64>| Vector::new(p.x, p.y, p.z) * 1e3;
        let segment = Segment::new(mm(&from), mm(&to));
        let want = query::distance(&Pose::IDENTITY, &segment, &Pose::IDENTITY, &other)
            .unwrap()
            .distance
            * 1e-3;
        through += usize::from(want <= 0.0);
        let got = nearest.distance;
        assert!(
            (got - want).abs() < 5e-7,
            "case {i}: got {got}, want {want}"
        );
        assert!(got >= -1e-12, "case {i}: an open mesh has no inside");
    }
    println!("{through} of 300 pass through");
    assert!(through > 20);
}

#[test]
fn to_a_torus_and_a_cylinder_as_in_closed_form() {
    let mut random = Random::new(3);
    // No triangle is farther from the true surface than the sagitta of its sides.
    let (m, n) = (720, 240);
    let torus = mesh(&Made::torus(0.2, 0.05, m, n));
    let sagitta = |r: f64, n: u32| r * (1.0 - (std::f64::consts::PI / f64::from(n)).cos());
    let most = sagitta(0.25, m) + sagitta(0.05, n);
    assert!(most < 1e-5);
    for _ in 0..2000 {
        let p = random.point(0.3);
        let ring = (p.x.hypot(p.y) - 0.2).hypot(p.z);
        let (got, want) = (torus.distance(&p), ring - 0.05);
        assert!((got - want).abs() <= most, "{p}: got {got}, want {want}");
    }
    let cylinder = mesh(&Made::cylinder(0.03, 0.1, 720));
    let exact = Shape::Cylinder {
        from: Point3::new(0.0, 0.0, -0.1),
        to: Point3::new(0.0, 0.0, 0.1),
        diameter: 0.06,
    };
    for _ in 0..2000 {
        let p = random.point(0.15);
        let (got, want) = (cylinder.distance(&p), exact.distance(&p));
        let most = sagitta(0.03, 720) + 1e-12;
        assert!((got - want).abs() <= most, "{p}: got {got}, want {want}");
    }
}

/// Inside a closed mesh a curve is as deep as its deepest place.
#[test]
fn curves_inside_a_closed_mesh_are_as_deep_as_in_closed_form() {
    let machine = alone(mesh(&Made::cylinder(0.03, 0.1, 720)));
    let sagitta = 0.03 * (1.0 - (std::f64::consts::PI / 720.0).cos());
    for (x, deep) in [(0.0, 0.03), (0.01, 0.02), (0.029, 0.001)] {
        for half in [0.05, 0.2] {
            let curve = line(Point3::new(x, 0.0, -half), Point3::new(x, 0.0, half), 5);
            let got = least(&machine, &curve);
            assert!(
                (got + deep).abs() < sagitta + 1e-6,
                "x {x}, half {half}: {got}"
            );
        }
    }
    let past = line(Point3::new(0.04, 0.0, -0.2), Point3::new(0.04, 0.0, 0.2), 3);
    assert!((least(&machine, &past) - 0.01).abs() < sagitta + 1e-6);
}

/// Through a sheet between two knots that are far from it on either side.
#[test]
fn a_curve_through_an_open_sheet_is_never_clear() {
    let machine = alone(mesh(&Made::sheet(0.2, 0.0, 7)));
    for pieces in [1, 2, 3, 8] {
        let curve = line(
            Point3::new(0.011, 0.007, -0.1),
            Point3::new(0.013, 0.004, 0.1),
            pieces,
        );
        let got = least(&machine, &curve);
        assert!(got.abs() < 2e-7, "{pieces} pieces: {got}");
    }
}

/// True clearance d above a square grid of pitch h reads d to √(d² + h²/2): what is told is never more than d.
#[test]
fn a_cloud_never_overstates_what_is_clear() {
    let mut random = Random::new(5);
    for pitch in [0.001, 0.002, 0.004] {
        let cells = (0.1_f64 / pitch).round();
        let mut points = Vec::new();
        let mut i = 0.0;
        while i <= cells {
            let mut j = 0.0;
            while j <= cells {
                points.push(Point3::new(i * pitch, j * pitch, 0.0));
                j += 1.0;
            }
            i += 1.0;
        }
        let surface = Surface::of_points(&points).unwrap();
        let spacing = surface.spacing().unwrap();
        assert!(
            (spacing / pitch - 1.0).abs() < 0.45,
            "{spacing} for {pitch}"
        );
        assert!(spacing >= pitch * (1.0 - 1e-9));
        let allowance = surface.allowance();
        let shape = scan(surface);
        for _ in 0..500 {
            let d = random.between(0.0, 0.02);
            let p = Point3::new(random.between(0.02, 0.08), random.between(0.02, 0.08), d);
            let told = shape.distance(&p);
            assert!(told <= d + 1e-12, "{told} told, {d} true");
            assert!(told >= d - allowance - 1e-12);
        }
    }
}

/// A cloud that is denser in one place than in another, as it is, mirrored, turned, and with its axes told in another order:
/// which of its points are asked hangs on none of that.
#[test]
fn a_clouds_spacing_is_that_of_its_mirror_image() {
    let mut random = Random::new(17);
    let mut points: Vec<Point3<f64>> = (0..30_000)
        .map(|_| {
            let at = random.point(0.3);
            // Denser toward one side, and in the ground plane, where one side of nothing is as good as the other.
            Point3::new(at.x * at.x.abs(), at.y, 0.0)
        })
        .collect();
    points.extend_from_within(..500);
    let spacing = |points: &[Point3<f64>]| Surface::of_points(points).unwrap().spacing().unwrap();
    let want = spacing(&points);
    let turn = random.rotation();
    let there = |put: &dyn Fn(&Point3<f64>) -> Point3<f64>| -> Vec<Point3<f64>> {
        points.iter().map(put).collect()
    };
    let others = [
        ("mirrored", there(&|p| Point3::new(-p.x, p.y, -p.z))),
        ("its axes changed", there(&|p| Point3::new(p.y, p.z, p.x))),
        ("turned", there(&|p| turn * p)),
        (
            "ten metres off",
            there(&|p| p + Vector3::new(10.0, -10.0, 10.0)),
        ),
    ];
    for (how, there) in others {
        let got = spacing(&there);
        assert!((got / want - 1.0).abs() < 1e-9, "{how}: {got} for {want}");
    }
}

#[test]
fn a_cloud_is_measured_to_its_nearest_point() {
    let mut random = Random::new(9);
    let mut points: Vec<Point3<f64>> = (0..5000).map(|_| random.point(0.3)).collect();
    // Thousands in one plane, and one place many times.
    for p in &mut points[..2500] {
        p.z = 0.1;
    }
    let same = points[0];
    points[..200].fill(same);
    let surface = Surface::of_points(&points).unwrap();
    let allowance = surface.allowance();
    let machine = alone(scan(surface));
    for _ in 0..100 {
        let (from, to) = (random.point(0.4), random.point(0.4));
        let got = least(&machine, &line(from, to, 4)) + allowance;
        let run = to - from;
        let to_segment = |p: &Point3<f64>| {
            let t = ((p - from).dot(&run) / run.norm_squared()).clamp(0.0, 1.0);
            (p - (from + run * t)).norm()
        };
        let want = points.iter().map(to_segment).fold(f64::INFINITY, f64::min);
        assert!((got - want).abs() < 2e-7, "got {got}, want {want}");
    }
}

#[test]
fn what_is_not_a_number_is_never_clear() {
    let shape = mesh(&Made::torus(0.2, 0.05, 12, 8));
    for bad in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        assert!(shape.distance(&Point3::new(bad, 0.0, 0.0)).is_nan());
    }
    // So far that nothing can be squared.
    assert!(shape.distance(&Point3::new(1e300, 0.0, 0.0)).is_nan());
    let far = shape.distance(&Point3::new(1e12, 0.0, 0.0));
    assert!((far / 1e12 - 1.0).abs() < 1e-9);
    let none: [Point3<f64>; 0] = [];
    assert!(Surface::of_points(&none).is_err());
    assert!(Surface::of_triangles(&none, &[]).is_err());
    assert!(Surface::of_points(&[Point3::origin(); 40]).is_err());
    let p = [
        Point3::origin(),
        Point3::new(1.0, 0.0, 0.0),
        Point3::new(0.0, f64::NAN, 0.0),
    ];
    assert!(Surface::of_triangles(&p, &[[0, 1, 2]]).is_err());
    assert!(Surface::of_triangles(&p, &[[0, 1, 3]]).is_err());
}

#[test]
fn only_a_closed_outward_mesh_has_an_inside() {
    let torus = Made::torus(0.2, 0.05, 24, 12);
    let open = |made: &Made| {
        Surface::of_triangles(&made.points, &made.triangles)
            .unwrap()
            .open()
    };
    assert_eq!(open(&torus), None);
    let mut inside_out = torus.clone();
    inside_out.triangles.iter_mut().for_each(|t| t.swap(0, 1));
    assert!(open(&inside_out).is_some());
    let mut holed = torus.clone();
    holed.triangles.pop();
    assert!(open(&holed).is_some());
    let mut flipped = torus.clone();
    flipped.triangles[5].swap(1, 2);
    assert!(open(&flipped).is_some());
    let mut twice = torus.clone();
    let more = torus.clone().moved(Vector3::new(0.01, 0.0, 0.0));
    let first = u32::try_from(twice.points.len()).unwrap();
    twice.points.extend(more.points);
    twice
        .triangles
        .extend(more.triangles.iter().map(|t| t.map(|i| i + first)));
    assert!(open(&twice).is_some(), "shells overlap");
}
