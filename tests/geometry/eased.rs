//! The distance smoothed in hollows: derivatives against differences, nothing changed where nothing is hollow, and no step
//! of the normal where the nearest place jumps.

use std::sync::Arc;

use nalgebra::{Isometry3, Matrix3, Point3, Vector3};
use neckloom::geometry::{Scan, Shape, Surface};

use super::Random;

fn scan(surface: Surface) -> Shape {
    Shape::Scan(Scan {
        surface: Arc::new(surface),
        placed: Isometry3::identity(),
    })
}

/// So many points each way over a square of 60 mm, up to half of what is between them off their plane.
fn cloud(random: &mut Random, count: i32) -> Shape {
    let pitch = 0.06 / f64::from(count);
    let mut points = Vec::new();
    for i in 0..count {
        for j in 0..count {
            let off = random.vector(0.5 * pitch);
            points.push(Point3::new(f64::from(i), f64::from(j), 0.0) * pitch + off);
        }
    }
    scan(Surface::of_points(&points).unwrap())
}

/// Two flat faces that fall to the line x = 0 by the same slope on either side, each of several triangles.
fn groove(slope: f64) -> Shape {
    let mut corners = Vec::new();
    for side in [-1.0, 0.0, 1.0_f64] {
        for along in -3..=3 {
            corners.push(Point3::new(
                0.05 * side,
                0.02 * f64::from(along),
                0.05 * slope * side.abs(),
            ));
        }
    }
    let mut triangles = Vec::new();
    for side in 0..2_u32 {
        for along in 0..6_u32 {
            let a = 7 * side + along;
            triangles.extend([[a, a + 7, a + 8], [a, a + 8, a + 1]]);
        }
    }
    scan(Surface::of_triangles(&corners, &triangles).unwrap())
}

fn bent(random: &mut Random) -> Shape {
    Shape::Tube {
        along: (0..4).map(|_| random.point(0.05)).collect(),
        diameter: 0.01,
    }
}

/// The gradient exactly; the second derivative too, but for how fast feet move on faces and along edges, which tells at
/// second order only, and where a piece comes within reach or leaves it between the two differences.
#[test]
fn derivatives_against_differences() {
    for over in [1e-6, 1e-5, 1e-4] {
        let (mut hollow, mut rough) = (0, 0);
        for seed in 0..3000 {
            let mut random = Random::new(seed);
            let kind = random.below(3);
            let shape = match kind {
                0 => cloud(&mut random, 20),
                1 => groove(random.between(0.05, 1.5)),
                _ => bent(&mut random),
            };
            let mut p = random.point(0.03);
            match kind {
                0 => p = Point3::new(0.03 + p.x, 0.03 + p.y, 0.006),
                // Beside the middle of the groove, by no more than matters.
                1 => p = Point3::new(3.0 * over * random.between(-1.0, 1.0), p.y, 0.02),
                _ => {}
            }
            let here = shape.eased(&p, over);
            let exact = shape.contact(&p);
            assert!(here.distance <= exact.distance + 1e-15, "seed {seed}");
            assert!(exact.distance - here.distance < 4.0 * over, "seed {seed}");
            if (exact.distance - here.distance) < 0.02 * over {
                continue;
            }
            hollow += 1;
            let h = 1e-3 * over;
            let step = |axis: usize, by: f64| shape.eased(&(p + Vector3::ith(axis, by)), over);
            let (mut slope, mut bend) = (Vector3::zeros(), Matrix3::zeros());
            for axis in 0..3 {
                let (low, high) = (step(axis, -h), step(axis, h));
                slope[axis] = (high.distance - low.distance) / (2.0 * h);
                bend.set_column(axis, &((high.gradient - low.gradient) / (2.0 * h)));
            }
            // An edge between triangles that is all but flat counts as flat.
            let exactly = if kind == 1 { 1e-3 } else { 1e-4 };
            let off_slope = (slope - here.gradient).norm();
            let off = (bend - here.bend).norm() / (bend.norm() + 1.0);
            let allowed = if kind == 0 { 1e-2 } else { 0.1 };
            if off > allowed || off_slope > exactly {
                rough += 1;
            }
        }
        assert!(
            hollow > 300 && rough * 50 < hollow,
            "{over}: {rough} of {hollow}"
        );
    }
}

/// Beside a torus outside its hole, a straight tube told in pieces, a box of triangles: what it was, to the bit.
#[test]
fn where_nothing_is_hollow_nothing_changes() {
    let straight = Shape::Tube {
        along: (0..5)
            .map(|i| Point3::new(0.03 * f64::from(i), 0.01, 0.0))
            .collect(),
        diameter: 0.02,
    };
    let corners: Vec<Point3<f64>> = (0..8_u32)
        .map(|i| {
            let side = |bit: u32| if i >> bit & 1 == 1 { 0.03 } else { -0.03 };
            Point3::new(side(0), side(1), side(2))
        })
        .collect();
    let sides = [
        [0, 2, 3],
        [0, 3, 1],
        [4, 5, 7],
        [4, 7, 6],
        [0, 1, 5],
        [0, 5, 4],
        [2, 6, 7],
        [2, 7, 3],
        [0, 4, 6],
        [0, 6, 2],
        [1, 3, 7],
        [1, 7, 5],
    ];
    let block = scan(Surface::of_triangles(&corners, &sides).unwrap());
    let mut random = Random::new(3);
    for shape in [straight, block] {
        for _ in 0..2000 {
            let p = random.point(0.08);
            let (eased, exact) = (shape.eased(&p, 1e-5), shape.contact(&p));
            assert!(
                (eased.distance - exact.distance).abs() < 1e-12,
                "{shape:?} {p}"
            );
            assert!(
                (eased.gradient - exact.normal.into_inner()).norm() < 1e-6,
                "{shape:?} {p}"
            );
        }
    }
}

/// Across the middle of a groove the normal of the nearest place turns at once, the gradient bit by bit.
#[test]
fn the_gradient_does_not_step_across_a_hollow() {
    for slope in [0.1, 0.5, 1.0_f64] {
        let shape = groove(slope);
        let at = |x: f64| Point3::new(x, 0.003, 0.02);
        let over = 1e-5;
        let jump = (shape.contact(&at(1e-9)).normal.into_inner()
            - shape.contact(&at(-1e-9)).normal.into_inner())
        .norm();
        assert!((jump - 2.0 * slope / slope.hypot(1.0)).abs() < 1e-6);
        // The distances differ by twice the sine of the slope times the way off the middle.
        let wide = 10.0 * over / jump;
        let mut most = 0.0_f64;
        let mut before = shape.eased(&at(-wide), over).gradient;
        for i in -199..=200 {
            let now = shape.eased(&at(wide * f64::from(i) / 200.0), over).gradient;
            most = most.max((now - before).norm());
            before = now;
        }
        assert!(most < 0.05 * jump, "{slope}: {most} of {jump}");
    }
}

/// About the middle of a scanned ball all points are as near: an answer all the same, and soon.
#[test]
fn the_middle_of_a_ball_has_an_answer() {
    let mut random = Random::new(5);
    let points: Vec<Point3<f64>> = (0..20_000)
        .map(|_| Point3::origin() + random.direction().into_inner() * 0.004)
        .collect();
    let shape = scan(Surface::of_points(&points).unwrap());
    for _ in 0..200 {
        let p = random.point(1e-5);
        let (eased, exact) = (shape.eased(&p, 1e-5), shape.contact(&p));
        assert!(eased.distance <= exact.distance);
        assert!(exact.distance - eased.distance < 1e-5 * 32_f64.ln() + 1e-12);
        // Shares come and go here within a few `over`.
        assert!(eased.gradient.norm() < 3.0, "{}", eased.gradient);
    }
}
