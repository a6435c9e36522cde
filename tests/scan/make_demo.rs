//! The scan of the invented tourer's frame: points on the surfaces of simple shapes as a hand-held scanner would give
//! them, with holes where it could not look, noise, flying points, rounding and duplicates. Everything is invented.
//! `ACCEPT=1 cargo test --test tests make_demo` writes the file that the demo route names.

use std::collections::HashMap;
use std::path::{Path, PathBuf};

use nalgebra::{Isometry3, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};
use neckloom::geometry::Shape;

use super::demo_frame::{frame, harness_lines, p};
use crate::geometry::Random;

/// Points in the file.
pub(crate) const POINTS: usize = 300_000;
/// What its numbers are drawn from.
pub(crate) const SEED: u64 = 20;
/// One in so many is a flying point, where the ray grazed an edge; half of them would be too near the harness, and
/// is left out.
const FLYING_ONE_IN: usize = 355;
/// One in so many is written twice.
const TWICE_ONE_IN: usize = 1500;
/// What the scanner can see is decided once for a patch of this size \[m\].
const PATCH: f64 = 0.006;
/// Flying points keep this far from the lines along which the harness is laid \[m\].
const KEPT_FREE: f64 = 0.085;

pub(crate) fn file() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("routes/tourer_frame_scan.ply")
}

/// Where the scanner was held, on its way round the machine.
fn scanners() -> Vec<Point3<f64>> {
    vec![
        p(700.0, 500.0, 150.0),
        p(700.0, -500.0, 100.0),
        p(-200.0, 900.0, -350.0),
        p(-250.0, -950.0, -300.0),
        p(-500.0, 600.0, 500.0),
        p(-550.0, -600.0, 450.0),
        p(-1300.0, 250.0, 250.0),
        p(-1250.0, -300.0, -500.0),
    ]
}

/// From the scanner's numbers \[m\] to the machine: offset and turned by quarters of small whole numbers, so that it is
/// the same on every computer.
pub(crate) fn placed() -> Isometry3<f64> {
    let turn = UnitQuaternion::from_quaternion(Quaternion::new(7.0, 1.0, -2.0, 4.0));
    Isometry3::from_parts(Translation3::new(-0.3127, 0.2041, -0.4418), turn)
}

/// A piece of surface to draw points from, with its area.
struct Piece {
    shape: usize,
    area: f64,
    kind: Kind,
}

enum Kind {
    Round {
        from: Point3<f64>,
        to: Point3<f64>,
        radius: f64,
    },
    Face {
        centre: Point3<f64>,
        across: Vector3<f64>,
        up: Vector3<f64>,
    },
}

fn pieces(shapes: &[Shape]) -> Vec<Piece> {
    let round = |shape: usize, from: Point3<f64>, to: Point3<f64>, radius: f64| Piece {
        shape,
        area: std::f64::consts::TAU * radius * (to - from).norm(),
        kind: Kind::Round { from, to, radius },
    };
    let mut pieces = Vec::new();
    for (i, shape) in shapes.iter().enumerate() {
        match shape {
            Shape::Tube { along, diameter } => {
                pieces.extend(
                    along
                        .windows(2)
                        .map(|w| round(i, w[0], w[1], 0.5 * diameter)),
                );
            }
            Shape::Cylinder { from, to, diameter } => {
                pieces.push(round(i, *from, *to, 0.5 * diameter));
            }
            Shape::Block {
                centre,
                size,
                turned,
            } => {
                for (a, b, c) in [(0, 1, 2), (1, 2, 0), (2, 0, 1)] {
                    for side in [0.5, -0.5] {
                        let axis = |k: usize, share: f64| turned * Vector3::ith(k, size[k] * share);
                        pieces.push(Piece {
                            shape: i,
                            area: size[a] * size[b],
                            kind: Kind::Face {
                                centre: centre + axis(c, side),
                                across: axis(a, 0.5),
                                up: axis(b, 0.5),
                            },
                        });
                    }
                }
            }
            _ => {}
        }
    }
    pieces
}

impl Kind {
    fn draw(&self, random: &mut Random) -> Point3<f64> {
        match self {
            Self::Round { from, to, radius } => {
                let axis = (to - from).normalize();
                let out = loop {
                    let v = random.vector(1.0);
                    let v = v - axis * axis.dot(&v);
                    if (0.01..1.0).contains(&v.norm()) {
                        break v.normalize();
                    }
                };
                from + (to - from) * random.between(0.0, 1.0) + out * *radius
            }
            Self::Face { centre, across, up } => {
                centre + across * random.between(-1.0, 1.0) + up * random.between(-1.0, 1.0)
            }
        }
    }
}

/// Whether nothing stands between a scanner and a place on a surface.
fn sees(shapes: &[Shape], eye: &Point3<f64>, at: &Point3<f64>) -> bool {
    let way = eye - at;
    let (length, dir) = (way.norm(), way.normalize());
    let mut gone = 0.003;
    while gone < length {
        let here = at + dir * gone;
        let room = shapes
            .iter()
            .map(|s| s.distance(&here))
            .fold(f64::INFINITY, f64::min);
        if room < 0.0005 {
            return false;
        }
        gone += room.max(0.001);
    }
    true
}

/// The points \[m, machine\], and which of them fly.
pub(crate) struct Made {
    pub(crate) points: Vec<Point3<f64>>,
    pub(crate) flying: Vec<usize>,
}

pub(crate) fn make(seed: u64) -> Made {
    let mut random = Random::new(seed);
    let shapes = frame();
    let (pieces, eyes, lines) = (pieces(&shapes), scanners(), harness_lines());
    let whole: f64 = pieces.iter().map(|piece| piece.area).sum();
    let mut seen: HashMap<(usize, [i64; 3], usize), bool> = HashMap::new();
    let (mut points, mut flying): (Vec<Point3<f64>>, _) = (Vec::with_capacity(POINTS), Vec::new());
    while points.len() < POINTS {
        let mut pick = random.between(0.0, whole);
        let piece = pieces
            .iter()
            .find(|piece| {
                pick -= piece.area;
                pick <= 0.0
            })
            .unwrap_or(&pieces[0]);
        let at = piece.kind.draw(&mut random);
        let eye = random.below(eyes.len());
        let contact = shapes[piece.shape].contact(&at);
        let buried = shapes.iter().any(|shape| shape.distance(&at) < -1e-4);
        let ray = (at - eyes[eye]).normalize();
        // At a grazing angle nothing comes back.
        if contact.distance.abs() > 1e-6 || buried || -ray.dot(&contact.normal) < 0.2 {
            continue;
        }
        #[allow(clippy::cast_possible_truncation, reason = "metres over millimetres")]
        let patch = [at.x, at.y, at.z].map(|c| (c / PATCH).floor() as i64);
        let visible = *seen
            .entry((piece.shape, patch, eye))
            .or_insert_with(|| sees(&shapes, &eyes[eye], &at));
        if !visible {
            continue;
        }
        // Noise along the ray grows with the way and with the angle at which it strikes.
        let noise = (0.05 + 0.1 * (at - eyes[eye]).norm()).min(0.3) * 1e-3;
        let mut found = at + ray * (noise * random.normal());
        if random.below(FLYING_ONE_IN) == 0 {
            found = at + ray * random.between(-0.15, 0.25);
            // Nor does one fly where bars and fork sweep.
            let swept = found.x > -0.15 && found.z > -0.45 && found.y.abs() < 0.45;
            if swept || lines.iter().any(|line| line.distance(&found) < KEPT_FREE) {
                continue;
            }
            flying.push(points.len());
        }
        points.push(found);
        if random.below(TWICE_ONE_IN) == 0 && points.len() < POINTS {
            points.push(found);
        }
    }
    Made { points, flying }
}

/// The file: binary, little-endian, in millimetres of the scanner's own frame, rounded to 0.1 mm.
pub(crate) fn ply(made: &Made) -> Vec<u8> {
    let back = placed().inverse();
    let mut out = format!(
        "ply\nformat binary_little_endian 1.0\ncomment an invented frame, in mm, as a scanner would give it\n\
         element vertex {}\nproperty float x\nproperty float y\nproperty float z\nend_header\n",
        made.points.len()
    )
    .into_bytes();
    for point in &made.points {
        let scanned = back * point;
        for c in [scanned.x, scanned.y, scanned.z] {
            #[allow(
                clippy::cast_possible_truncation,
                reason = "a scan has single precision"
            )]
            let narrow = ((c * 1e4).round() / 10.0) as f32;
            out.extend(narrow.to_le_bytes());
        }
    }
    out
}

/// The committed scan is what the generator makes.
#[test]
fn make_demo() {
    let made = make(SEED);
    let bytes = ply(&made);
    let flying = made.flying.len() as f64 / POINTS as f64;
    assert!((0.0009..0.0012).contains(&flying), "{flying}");
    for (name, at) in [
        ("stem top", p(0.0, 0.0, 0.0)),
        ("left peg", p(-330.0, 260.0, -520.0)),
        ("right peg", p(-330.0, -260.0, -520.0)),
        ("rear axle", p(-1010.0, 0.0, -560.0)),
    ] {
        println!("{name} {:.1}", (placed().inverse() * at) * 1e3);
    }
    if std::env::var_os("ACCEPT").is_some_and(|v| v == "1") {
        std::fs::write(file(), &bytes).unwrap();
    }
    let kept = std::fs::read(file()).expect("ACCEPT=1 cargo test make_demo writes it");
    assert!(
        kept == bytes,
        "routes/tourer_frame_scan.ply is not what is made now"
    );
}
