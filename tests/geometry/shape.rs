//! Distances, normals and second derivatives of shapes.

use nalgebra::{Matrix3, Point3, Rotation3, Vector3};
use neckloom::geometry::Shape;

use super::Random;

fn tube(points: &[[f64; 3]], diameter: f64) -> Shape {
    Shape::Tube {
        along: points.iter().map(|&p| p.into()).collect(),
        diameter,
    }
}

fn cylinder() -> Shape {
    Shape::Cylinder {
        from: Point3::new(0.0, 0.0, -0.05),
        to: Point3::new(0.0, 0.0, 0.05),
        diameter: 0.08,
    }
}

fn block(size: [f64; 3], turned: Rotation3<f64>) -> Shape {
    Shape::Block {
        centre: Point3::new(0.01, -0.02, 0.03),
        size: size.into(),
        turned,
    }
}

/// A shape of a random kind, about 0.2 m across.
pub(crate) fn random_shape(random: &mut Random) -> Shape {
    match random.below(4) {
        0 => Shape::Tube {
            along: (0..2 + random.below(3))
                .map(|_| random.point(0.1))
                .collect(),
            diameter: random.between(0.01, 0.06),
        },
        1 => Shape::Block {
            centre: random.point(0.1),
            size: Vector3::from_fn(|_, _| random.between(0.005, 0.2)),
            turned: random.rotation(),
        },
        2 => Shape::Ball {
            centre: random.point(0.1),
            diameter: random.between(0.01, 0.1),
        },
        _ => Shape::Cylinder {
            from: random.point(0.1),
            to: random.point(0.1),
            diameter: random.between(0.01, 0.1),
        },
    }
}

#[test]
fn distances_by_hand() {
    let bent = tube(&[[0.0, 0.0, 0.0], [0.1, 0.0, 0.0], [0.1, 0.1, 0.0]], 0.02);
    let plate = block([0.2, 0.1, 0.006], Rotation3::identity());
    let ball = Shape::Ball {
        centre: Point3::new(0.0, 0.0, 0.1),
        diameter: 0.04,
    };
    let cases = [
        (&bent, [0.05, 0.0, 0.04], 0.03),
        (&bent, [-0.03, 0.04, 0.0], 0.04),
        (&bent, [0.13, -0.04, 0.0], 0.04),
        (&bent, [0.05, 0.0, 0.0], -0.01),
        (&plate, [0.01, -0.02, 0.03], -0.003),
        (&plate, [0.01, -0.02, 0.04], 0.007),
        (
            &plate,
            [0.01 + 0.1 + 0.003, -0.02 + 0.05 + 0.004, 0.03],
            0.005,
        ),
        (&ball, [0.0, 0.03, 0.14], 0.03),
        (&ball, [0.0, 0.0, 0.1], -0.02),
        (&cylinder(), [0.0, 0.07, 0.0], 0.03),
        (&cylinder(), [0.01, 0.0, 0.08], 0.03),
        (&cylinder(), [0.0, 0.043, 0.054], 0.005),
        (&cylinder(), [0.0, 0.0, 0.0], -0.04),
        (&cylinder(), [0.0, 0.01, -0.045], -0.005),
    ];
    for (shape, p, expected) in cases {
        let got = shape.distance(&p.into());
        assert!(
            (got - expected).abs() < 1e-15,
            "{shape:?} from {p:?}: {got} for {expected}"
        );
    }
}

/// Normal and second derivative against central differences, away from the places where the gradient jumps.
#[test]
fn derivatives_against_differences() {
    let h = 1e-6;
    let mut compared = 0;
    for seed in 0..4000 {
        let mut random = Random::new(seed);
        let shape = random_shape(&mut random);
        let p = random.point(0.25);
        let here = shape.contact(&p);
        let alone = shape.slope(&p);
        assert_eq!(
            (alone.distance, alone.normal),
            (here.distance, here.normal),
            "seed {seed}"
        );
        assert!((here.normal.norm() - 1.0).abs() < 1e-12, "seed {seed}");
        let step = |axis: usize, by: f64| shape.contact(&(p + Vector3::ith(axis, by)));
        let (mut slope, mut bend) = (Vector3::zeros(), Matrix3::zeros());
        let mut smooth = true;
        for axis in 0..3 {
            let (low, high) = (step(axis, -h), step(axis, h));
            slope[axis] = (high.distance - low.distance) / (2.0 * h);
            let turn = (high.normal.into_inner() - low.normal.into_inner()) / (2.0 * h);
            bend.set_column(axis, &turn);
            // Across a crease the second derivative steps; both sides must then agree with neither.
            smooth &= (low.bend - high.bend).norm() < 1e-3 * (1.0 + here.bend.norm());
            smooth &= turn.norm() < 1e3;
        }
        if !smooth {
            continue;
        }
        compared += 1;
        assert!(
            (slope - here.normal.into_inner()).norm() < 1e-6,
            "seed {seed}: slope of {shape:?} at {p}"
        );
        assert!(
            (bend - here.bend).norm() < 1e-4 * (1.0 + here.bend.norm()),
            "seed {seed}: {shape:?} at {p}: {bend} {}",
            here.bend
        );
    }
    assert!(compared > 3500, "only {compared} cases were smooth");
}

/// Where no single place is nearest, the contact is still finite, unit and the same every time.
#[test]
fn creases_and_centres_are_finite() {
    let cases = [
        (tube(&[[0.0; 3], [0.1, 0.0, 0.0]], 0.02), [0.05, 0.0, 0.0]),
        (tube(&[[0.0; 3], [0.1, 0.0, 0.0]], 0.02), [0.0, 0.0, 0.0]),
        (tube(&[[0.0; 3], [0.0; 3]], 0.02), [0.0, 0.0, 0.0]),
        (tube(&[[0.0; 3]], 0.02), [0.0, 0.0, 0.0]),
        (block([0.1; 3], Rotation3::identity()), [0.01, -0.02, 0.03]),
        (block([0.1; 3], Rotation3::identity()), [0.06, 0.03, 0.08]),
        (
            Shape::Ball {
                centre: Point3::origin(),
                diameter: 0.1,
            },
            [0.0; 3],
        ),
        (cylinder(), [0.0, 0.0, 0.0]),
        (cylinder(), [0.04, 0.0, 0.05]),
        (cylinder(), [0.0, 0.0, 0.07]),
    ];
    for (shape, p) in cases {
        let contact = shape.contact(&p.into());
        assert!(contact.distance.is_finite() && contact.bend.iter().all(|b| b.is_finite()));
        assert!((contact.normal.norm() - 1.0).abs() < 1e-12, "{shape:?}");
        assert_eq!(contact, shape.contact(&p.into()));
        let alone = shape.slope(&p.into());
        assert_eq!(
            (alone.distance, alone.normal),
            (contact.distance, contact.normal)
        );
    }
}

#[test]
fn a_point_that_is_not_finite_is_not_a_distance() {
    for shape in [
        cylinder(),
        block([0.1; 3], Rotation3::identity()),
        tube(&[[0.0; 3], [0.1; 3]], 0.02),
    ] {
        for bad in [f64::NAN, f64::INFINITY] {
            let contact = shape.contact(&Point3::new(0.0, bad, 0.0));
            assert!(contact.distance.is_nan());
            assert!(contact.normal.iter().all(|n| n.is_finite()));
        }
    }
}

/// Rays against parry3d's on the same shapes (in millimetres, as its tolerances want it).
#[test]
fn rays_meet_shapes_where_another_library_says() {
    use nalgebra::Point3;
    use parry3d_f64::math::Vector as V;
    use parry3d_f64::query::{Ray, RayCast};
    use parry3d_f64::shape::{Ball, Capsule, Cuboid, Cylinder};

    // Its cylinder stands along y, its cuboid and ball about the origin.
    let (a, b) = (Point3::new(0.0, -0.06, 0.0), Point3::new(0.0, 0.06, 0.0));
    let size = Vector3::new(0.05, 0.08, 0.03);
    let end = V::new(0.0, 60.0, 0.0);
    let pairs: [(Shape, Box<dyn RayCast>); 4] = [
        (
            Shape::Ball {
                centre: Point3::origin(),
                diameter: 0.07,
            },
            Box::new(Ball::new(35.0)),
        ),
        (
            Shape::Block {
                centre: Point3::origin(),
                size,
                turned: Rotation3::identity(),
            },
            Box::new(Cuboid::new(V::new(25.0, 40.0, 15.0))),
        ),
        (
            Shape::Cylinder {
                from: a,
                to: b,
                diameter: 0.04,
            },
            Box::new(Cylinder::new(60.0, 20.0)),
        ),
        (
            Shape::Tube {
                along: vec![a, b],
                diameter: 0.04,
            },
            Box::new(Capsule::new(-end, end, 20.0)),
        ),
    ];
    let mut random = Random::new(29);
    let mut met = [0; 2];
    for _ in 0..4000 {
        let from = Vector3::from_fn(|_, _| random.between(-0.15, 0.15));
        // Roughly toward the middle.
        let aim = Vector3::from_fn(|_, _| random.between(-0.06, 0.06)) - from;
        let way = aim.normalize();
        let ray = Ray::new(
            V::new(from.x, from.y, from.z) * 1e3,
            V::new(way.x, way.y, way.z),
        );
        for (shape, other) in &pairs {
            let ours = shape.met(&Point3::from(from), &way, 0.2);
            let theirs = other.cast_local_ray(&ray, 200.0, true).map(|t| t * 1e-3);
            // Where it only grazes, either may be right.
            let grazes = ours.xor(theirs).is_some_and(|t| {
                shape.distance(&Point3::from(from + way * t)).abs() < 1e-7
                    && (t > 0.2 - 1e-7
                        || shape.distance(&Point3::from(from + way * (t + 1e-4))) > -1e-6)
            });
            let same = match (ours, theirs) {
                (Some(a), Some(b)) => (a - b).abs() < 1e-7,
                (None, None) => true,
                _ => grazes,
            };
            assert!(
                same,
                "{shape:?} from {from} along {way}: {ours:?}, {theirs:?}"
            );
            met[usize::from(ours.is_some())] += 1;
        }
    }
    assert!(met.iter().all(|count| *count > 1500), "{met:?}");
}
