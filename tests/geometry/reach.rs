//! Where a thread can be pulled to, against what the string construction of an ellipse says.

use nalgebra::Point3;
use neckloom::geometry::Reach;

use super::random::Random;

fn sum(reach: &Reach, p: &Point3<f64>) -> f64 {
    (p - reach.from).norm() + (p - reach.to).norm()
}

/// The nearest place lies on the ellipsoid, and the way to it along the normal there: the sum of the unit vectors
/// from the foci (the optical property of the ellipse, any textbook of conics).
#[test]
fn the_nearest_place_is_a_foot_on_the_ellipsoid() {
    let mut random = Random::new(7);
    for case in 0..2000 {
        let mut point = |size: f64| Point3::from(random.vector(size));
        let (from, to, p) = (point(0.2), point(0.2), point(0.6));
        let slack = [1e-6, 1e-3, 0.02, 0.3][case % 4];
        let length = (to - from).norm() + slack;
        let reach = Reach { from, to, length };
        let q = reach.nearest(&p);
        if sum(&reach, &p) <= length {
            assert_eq!(q, p, "case {case}");
            continue;
        }
        assert!((sum(&reach, &q) - length).abs() < 1e-9, "case {case}");
        let normal = (q - from).normalize() + (q - to).normalize();
        let off = (p - q).normalize().cross(&normal.normalize()).norm();
        // Where the ellipsoid is a needle its normal turns within a hair's breadth.
        let within = if slack < 1e-4 { 0.2 } else { 1e-4 };
        assert!(off < within, "case {case}: {off}");
    }
}

/// 3-4-5: ends 6 apart, a thread of 10, drawn 4 aside.
#[test]
fn a_thread_drawn_aside_makes_two_right_triangles() {
    let reach = Reach {
        from: Point3::new(-0.3, 0.0, 0.0),
        to: Point3::new(0.3, 0.0, 0.0),
        length: 1.0,
    };
    assert!((reach.aside() - 0.4).abs() < 1e-15);
    assert!((Reach::slack_for(0.6, 0.4) - 0.4).abs() < 1e-15);
    let top = reach.nearest(&Point3::new(0.0, 3.0, 0.0));
    assert!((top - Point3::new(0.0, 0.4, 0.0)).norm() < 1e-12);
    let end = reach.nearest(&Point3::new(-2.0, 0.0, 0.0));
    assert!((end - Point3::new(-0.5, 0.0, 0.0)).norm() < 1e-12);
}

#[test]
fn a_taut_thread_reaches_only_the_straight_way() {
    let reach = Reach {
        from: Point3::origin(),
        to: Point3::new(0.2, 0.0, 0.0),
        length: 0.19,
    };
    assert!(reach.aside().abs() < 1e-15);
    let q = reach.nearest(&Point3::new(0.05, 0.1, 0.0));
    assert!((q - Point3::new(0.05, 0.0, 0.0)).norm() < 1e-15);
}
