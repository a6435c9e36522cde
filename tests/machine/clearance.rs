//! Clearances against brute force: many random scenes, each from a seed that a failure prints.

use nalgebra::{Point3, UnitVector3, Vector3};
use neckloom::geometry::{Curve, Knot, Shape};
use neckloom::machine::{Body, BodyId, Joint, Machine, Part, PartId, Stance, Surroundings};

use crate::geometry::{Random, random_shape};

fn part(name: String, on: usize, shape: Shape) -> Part {
    Part {
        name,
        on: BodyId(on),
        shape,
        surface: None,
        emissivity: None,
        edge: None,
        carries: None,
    }
}

/// A frame, a steering and something that slides on the steering; parts strewn about one metre.
fn scene(random: &mut Random, parts: usize) -> Machine {
    let body = |name: &str, on: Option<usize>, joint| Body {
        name: name.to_owned(),
        on: on.map(BodyId),
        joint,
        said: None,
    };
    let slide = Joint::Slides {
        along: random.direction(),
        from: 0.0,
        to: 0.1,
    };
    let bodies = vec![
        body("frame", None, Joint::Fixed),
        body(
            "steering",
            Some(0),
            Joint::steering(random.point(0.1), random.between(0.3, 0.7), -0.7, 0.7),
        ),
        body("slider", Some(1), slide),
    ];
    let parts = (0..parts)
        .map(|i| {
            let by = random.vector(0.4);
            part(
                format!("part {i}"),
                random.below(3),
                moved(random_shape(random), by),
            )
        })
        .collect();
    Machine { bodies, parts }
}

fn moved(shape: Shape, by: Vector3<f64>) -> Shape {
    match shape {
        Shape::Tube { along, diameter } => Shape::Tube {
            along: along.into_iter().map(|p| p + by).collect(),
            diameter,
        },
        Shape::Block {
            centre,
            size,
            turned,
        } => Shape::Block {
            centre: centre + by,
            size,
            turned,
        },
        Shape::Ball { centre, diameter } => Shape::Ball {
            centre: centre + by,
            diameter,
        },
        Shape::Cylinder { from, to, diameter } => Shape::Cylinder {
            from: from + by,
            to: to + by,
            diameter,
        },
        Shape::Scan(mut scan) => {
            scan.placed.translation.vector += by;
            Shape::Scan(scan)
        }
    }
}

fn random_stance(random: &mut Random, machine: &Machine) -> Stance {
    machine.stance(&[0.0, random.between(-0.7, 0.7), random.between(0.0, 0.1)])
}

fn random_curve(random: &mut Random, knots: usize) -> Curve {
    let mut at = random.between(-1.0, 1.0);
    let mut position = random.point(0.3);
    let knots = (0..knots)
        .map(|_| {
            let knot = Knot {
                at,
                position,
                slope: random.direction().into_inner() * random.between(0.3, 1.2),
            };
            let step = random.between(0.005, 0.1);
            at += step;
            position += random.direction().into_inner() * step;
            knot
        })
        .collect();
    Curve::new(knots).unwrap()
}

/// The distance by moving the point into the part's frame with a matrix, apart from the index.
fn distance(machine: &Machine, stance: &Stance, part: usize, p: &Point3<f64>) -> f64 {
    let part = &machine.parts[part];
    let there = stance.bodies[part.on.0]
        .to_homogeneous()
        .try_inverse()
        .unwrap();
    part.shape.distance(&there.transform_point(p))
}

/// Of an index made at once and of one whose parts, up to two, moved since.
#[test]
fn near_misses_nothing_and_finds_little_else() {
    let (mut asked, mut hits, mut extra) = (0, 0, 0);
    let mut look = |seed: u64, random: &mut Random, around: &Surroundings<'_>| {
        let machine = around.machine();
        let stance = random_stance(random, machine);
        let mut found = vec![PartId(999)];
        for _ in 0..60 {
            // Mostly about a part, where it matters.
            let p = match machine.parts.get(random.below(14)) {
                Some(part) => {
                    let middle = part.shape.bounds().0 + random.vector(0.08);
                    stance.bodies[part.on.0] * middle
                }
                None => random.point(0.6),
            };
            for reach in [-0.005, 0.0, 0.003, 0.02, 0.2] {
                around.near(&stance, &p, reach, &mut found);
                assert!(found.windows(2).all(|w| w[0] < w[1]), "seed {seed}: order");
                for i in 0..machine.parts.len() {
                    let d = distance(machine, &stance, i, &p);
                    let listed = found.contains(&PartId(i));
                    assert!(
                        listed || d > reach,
                        "seed {seed}: part {i} missed, {d} within {reach}"
                    );
                    assert!(
                        !listed || d <= reach + 0.0101,
                        "seed {seed}: part {i} at {d} for {reach}"
                    );
                    asked += 1;
                    hits += usize::from(d <= reach);
                    extra += usize::from(listed && d > reach);
                }
            }
        }
    };
    for seed in 0..300 {
        let mut random = Random::new(seed);
        let count = random.below(12);
        let machine = scene(&mut random, count);
        let around = Surroundings::new(&machine);
        look(seed, &mut random, &around);
        let mut changed = machine.clone();
        let parts: Vec<usize> = (0..2.min(count)).map(|_| random.below(count)).collect();
        for &part in &parts {
            let shape = changed.parts[part].shape.clone();
            changed.parts[part].shape = moved(shape, random.vector(0.15));
        }
        let around = parts
            .iter()
            .fold(around.with_moved(&changed, None), |around, &part| {
                around.with_moved(&changed, Some(PartId(part)))
            });
        look(seed, &mut random, &around);
    }
    assert!(
        hits > 10_000,
        "the scenes hardly tested anything: {hits} of {asked}"
    );
    assert!(extra < hits / 2, "{extra} needless beside {hits} needed");
}

#[test]
fn what_cannot_be_told_is_never_clear() {
    let machine = scene(&mut Random::new(1), 5);
    let around = Surroundings::new(&machine);
    let stance = machine.stance(&machine.rest());
    let mut found = Vec::new();
    around.near(&stance, &Point3::new(f64::NAN, 0.0, 0.0), 0.01, &mut found);
    assert_eq!(found.len(), 5);
    around.near(&stance, &Point3::new(50.0, 0.0, 0.0), f64::NAN, &mut found);
    assert_eq!(found.len(), 5);
    around.near(&stance, &Point3::new(50.0, 0.0, 0.0), 0.01, &mut found);
    assert_eq!(found, []);

    let broken = |bad: f64| {
        let knot = |at: f64, y: f64| Knot {
            at,
            position: Point3::new(at, y, 0.0),
            slope: Vector3::x(),
        };
        Curve::new(vec![
            knot(0.0, 0.0),
            knot(0.1, bad),
            knot(0.2, 0.0),
            knot(0.3, 0.0),
        ])
        .unwrap()
    };
    for bad in [f64::NAN, f64::INFINITY] {
        for nearest in around.nearest(&stance, &broken(bad)) {
            assert!(nearest.distance < -1e300, "{nearest:?}");
        }
        let gaps = around.gaps_along(&stance, PartId(0), &broken(bad), &[0.05]);
        assert!(gaps[0] < -1e300);
    }
    let empty = Machine::default();
    assert_eq!(
        Surroundings::new(&empty).nearest(&empty.stance(&[]), &broken(0.0)),
        []
    );
}

/// A part far larger than a machine (a unit gone wrong) is sampled more coarsely, and still not missed.
#[test]
fn huge_and_flat_parts_are_not_missed() {
    let ground = Shape::Block {
        centre: Point3::new(0.0, 0.0, -1.0),
        size: Vector3::new(400.0, 300.0, 0.0),
        turned: nalgebra::Rotation3::identity(),
    };
    let rail = Shape::Tube {
        along: vec![Point3::new(-3e4, 0.0, 5.0), Point3::new(3e4, 0.0, 5.0)],
        diameter: 0.001,
    };
    let mut machine = scene(&mut Random::new(2), 3);
    machine.parts.push(part("ground".to_owned(), 0, ground));
    machine.parts.push(part("rail".to_owned(), 0, rail));
    let around = Surroundings::new(&machine);
    let stance = machine.stance(&machine.rest());
    let mut random = Random::new(3);
    let mut found = Vec::new();
    for _ in 0..200 {
        let (x, y) = (random.between(-150.0, 150.0), random.between(-140.0, 140.0));
        around.near(&stance, &Point3::new(x, y, -0.99), 0.011, &mut found);
        assert!(found.contains(&PartId(3)), "ground at {x}, {y}");
        around.near(
            &stance,
            &Point3::new(100.0 * x, 0.01, 5.0),
            0.0096,
            &mut found,
        );
        assert!(found.contains(&PartId(4)), "rail at {x}");
    }
}

/// Over how much hollows are smoothed where they are not to be \[m\].
const NOTHING: f64 = 1e-12;

#[test]
fn contact_rides_with_the_body() {
    for seed in 0..200 {
        let mut random = Random::new(seed);
        let machine = scene(&mut random, 4);
        let around = Surroundings::new(&machine);
        let stance = random_stance(&mut random, &machine);
        let p = random.point(0.5);
        for i in 0..4 {
            let contact = around.eased(&stance, PartId(i), &p, NOTHING);
            let expected = distance(&machine, &stance, i, &p);
            assert!((contact.distance - expected).abs() < 1e-12, "seed {seed}");
            let alone = around.slope(&stance, PartId(i), &p);
            assert!(
                (alone.distance - contact.distance).abs() < 1e-15,
                "seed {seed}"
            );
            let off = alone.normal.into_inner() - contact.gradient;
            assert!(off.norm() < 1e-14, "seed {seed}: {off}");
            if contact.distance < 1e-3 || contact.bend.norm() > 100.0 {
                continue;
            }
            // The normal leads to the surface, and a step along it changes the distance by the step.
            let surface = p - contact.gradient * contact.distance;
            assert!(
                distance(&machine, &stance, i, &surface).abs() < 1e-12,
                "seed {seed}"
            );
            let aside = random.direction().into_inner() * 1e-5;
            let linear = contact.gradient.dot(&aside);
            let curved = 0.5 * aside.dot(&(contact.bend * aside));
            let moved = around.distance(&stance, PartId(i), &(p + aside));
            let error = moved - contact.distance - linear - curved;
            assert!(error.abs() < 1e-11, "seed {seed}: {error}");
        }
    }
}

#[test]
fn nearest_against_brute_force() {
    for seed in 0..150 {
        let mut random = Random::new(seed);
        let machine = scene(&mut random, 6);
        let around = Surroundings::new(&machine);
        let stance = random_stance(&mut random, &machine);
        let knots = 2 + random.below(9);
        let curve = random_curve(&mut random, knots);
        let all = around.nearest(&stance, &curve);
        assert_eq!(all.len(), 6);
        let stations = 4000;
        let step = (curve.end() - curve.start()) / f64::from(stations);
        let at: Vec<f64> = (0..=stations)
            .map(|i| curve.start() + step * f64::from(i))
            .collect();
        for (i, nearest) in all.iter().enumerate() {
            let found = nearest.distance;
            assert_eq!(nearest.part, PartId(i));
            let there = curve.position(nearest.at);
            let again = distance(&machine, &stance, i, &there);
            assert!(
                (found - again).abs() < 1e-12,
                "seed {seed}, part {i}: {found} {again}"
            );
            let to_part = (nearest.on_part - there).norm();
            assert!(
                (to_part - found.abs()).abs() < 1e-12,
                "seed {seed}, part {i}"
            );
            let brute = at
                .iter()
                .map(|&at| distance(&machine, &stance, i, &curve.position(at)))
                .fold(f64::INFINITY, f64::min);
            assert!(
                found <= brute + 1e-6,
                "seed {seed}, part {i}: {found}, but {brute} exists"
            );
            let gaps = around.gaps_along(&stance, PartId(i), &curve, &at);
            let least = gaps.iter().copied().fold(f64::INFINITY, f64::min);
            assert!((least - brute).abs() < 1e-12, "seed {seed}, part {i}");
        }
    }
}

/// Where brute force is too coarse: least distances known in closed form.
#[test]
fn nearest_in_closed_form() {
    let one = |shape: Shape, from: [f64; 3], to: [f64; 3]| {
        let mut machine = scene(&mut Random::new(1), 0);
        machine.parts.push(part("it".to_owned(), 0, shape));
        let (a, b) = (Point3::from(from), Point3::from(to));
        let slope = UnitVector3::new_and_get(b - a);
        let knot = |at: f64, position| Knot {
            at,
            position,
            slope: slope.0.into_inner(),
        };
        let curve = Curve::new(vec![knot(0.0, a), knot(slope.1, b)]).unwrap();
        Surroundings::new(&machine).nearest(&machine.stance(&[0.0; 3]), &curve)[0]
    };
    let tube = |a: [f64; 3], b: [f64; 3]| Shape::Tube {
        along: vec![a.into(), b.into()],
        diameter: 0.02,
    };
    // Skew lines 50 mm apart, crossing at a third of the curve.
    let skew = one(
        tube([0.0, -1.0, 0.05], [0.0, 1.0, 0.05]),
        [-0.1, 0.0, 0.0],
        [0.2, 0.0, 0.0],
    );
    assert!((skew.distance - 0.04).abs() < 1e-7 && (skew.at - 0.1).abs() < 1e-4);
    // Parallel: the same all along.
    let parallel = one(
        tube([-1.0, 0.0, 0.05], [1.0, 0.0, 0.05]),
        [-0.1, 0.0, 0.0],
        [0.2, 0.0, 0.0],
    );
    assert!((parallel.distance - 0.04).abs() < 1e-12);
    // The nearest place is the end of the curve.
    let end = one(
        tube([0.5, -1.0, 0.0], [0.5, 1.0, 0.0]),
        [0.0, 0.0, 0.0],
        [0.2, 0.0, 0.0],
    );
    assert!((end.distance - 0.29).abs() < 1e-12 && (end.at - 0.2).abs() < 1e-12);
    // Through the middle of a ball: as deep as it gets.
    let ball = Shape::Ball {
        centre: Point3::new(0.03, 0.0, 0.0),
        diameter: 0.1,
    };
    let through = one(ball, [-0.1, 0.0, 0.0], [0.2, 0.0, 0.0]);
    assert!((through.distance + 0.05).abs() < 1e-7 && (through.at - 0.13).abs() < 1e-6);
}
