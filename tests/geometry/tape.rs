//! Points from taped distances: made-up readings with known answers, chance, and eleven measured bicycles.

use nalgebra::Point3;
use neckloom::geometry::{Side, TapeError, fix_from_tape};

use super::{Random, bicycles};

fn taped(from: &[[f64; 3]], p: &Point3<f64>) -> Vec<(Point3<f64>, f64)> {
    from.iter()
        .map(|&c| (c.into(), (p - Point3::from(c)).norm()))
        .collect()
}

/// Two hubs and a third point near them, as on a machine [m].
const THREE: [[f64; 3]; 3] = [[0.0, 0.0, 0.0], [-0.6, 0.11, -0.3], [-0.6, -0.11, -0.3]];

#[test]
fn exact_readings_give_the_point_on_the_side_that_is_meant() {
    for seed in 0..2000 {
        let mut random = Random::new(seed);
        let count = 3 + random.below(4);
        let references: Vec<[f64; 3]> = (0..count).map(|_| random.point(0.6).into()).collect();
        let p = random.point(1.0);
        let from = taped(&references, &p);
        // All six sides: one of each pair, where it tells, gives the point itself.
        let pairs = [
            (Side::Left, Side::Right),
            (Side::Above, Side::Below),
            (Side::Front, Side::Rear),
        ];
        let (mut found, mut told) = (false, false);
        for (a, b) in pairs {
            for side in [a, b] {
                match fix_from_tape(&from, Some(side), 1e-6) {
                    Ok(fix) => {
                        told = true;
                        found |= (fix.at - p).norm() < 1e-6;
                        assert_eq!(fix.misfits.len(), count);
                    }
                    Err(TapeError::SideTellsNothing { .. } | TapeError::OnALine { .. }) => {}
                    Err(error) => panic!("seed {seed}: {error}"),
                }
            }
        }
        assert!(found || !told, "seed {seed}: {from:?} never gave {p}");
        // Four or more references out of plane need no side.
        if count > 4 {
            let fix =
                fix_from_tape(&from, None, 1e-6).unwrap_or_else(|e| panic!("seed {seed}: {e}"));
            assert!(
                (fix.at - p).norm() < 1e-6,
                "seed {seed}: {} for {p}",
                fix.at
            );
            assert!(fix.rms() < 1e-9, "seed {seed}");
        }
    }
}

#[test]
fn every_fault_is_named_with_its_numbers() {
    let p = Point3::new(-0.3, 0.1, 0.2);
    let three = taped(&THREE, &p);
    assert_eq!(
        fix_from_tape(&three[..2], None, 0.002),
        Err(TapeError::TooFew { given: 2 })
    );
    let mut negative = three.clone();
    negative[1].1 = -0.4;
    let message = fix_from_tape(&negative, None, 0.002)
        .unwrap_err()
        .to_string();
    assert_eq!(message, "distance 2 is -400.0 mm, which is no distance");
    let mut broken = three.clone();
    broken[2].1 = f64::NAN;
    assert!(matches!(
        fix_from_tape(&broken, None, 0.002),
        Err(TapeError::NoDistance { reading: 2, .. })
    ));
    let twice = taped(&[THREE[0], THREE[1], THREE[0], THREE[1]], &p);
    assert_eq!(
        fix_from_tape(&twice, None, 0.002),
        Err(TapeError::Coincident {
            given: 4,
            different: 2
        })
    );
    let line = taped(
        &[
            [0.0; 3],
            [0.1, 0.1, 0.1],
            [0.3, 0.3, 0.3],
            [0.5, 0.5, 0.501],
        ],
        &p,
    );
    let Err(TapeError::OnALine { off_line }) = fix_from_tape(&line, None, 0.002) else {
        panic!("a line");
    };
    assert!(off_line > 1e-4 && off_line < 1e-3);
    let mut short = three.clone();
    short[0].1 = 0.1;
    short[1].1 = 0.2;
    let message = fix_from_tape(&short, None, 0.002).unwrap_err().to_string();
    // √(0.6² + 0.11² + 0.3²) = 0.67978 m apart, 0.3 m taped.
    assert!(
        message.contains("679.8 mm apart, and 379.8 mm are missing"),
        "{message}"
    );
    let mut long = three.clone();
    long[0].1 = 2.0;
    let message = fix_from_tape(&long, None, 0.002).unwrap_err().to_string();
    assert!(message.contains("too many in the longer one"), "{message}");
    let message = fix_from_tape(&three, None, 0.002).unwrap_err().to_string();
    assert!(message.contains("fit in two places"), "{message}");
    assert!(message.contains("(-300.0, 100.0, 200.0)"), "{message}");
    // Two of the references mirror each other in y, so that the plane is square to the side view.
    let message = fix_from_tape(&three, Some(Side::Left), 0.002)
        .unwrap_err()
        .to_string();
    assert!(message.contains("\"left\" does not tell"), "{message}");
    let fix = fix_from_tape(&three, Some(Side::Above), 0.002).unwrap();
    assert!((fix.at - p).norm() < 1e-9);
}

/// A point in the plane of its references: height is told badly, and the error says so without being infinite.
#[test]
fn a_point_in_the_plane_of_the_references() {
    let references = [[0.0, 0.0, 0.0], [0.6, 0.0, 0.0], [0.0, 0.6, 0.0]];
    let p = Point3::new(0.2, 0.25, 0.0);
    let fix = fix_from_tape(&taped(&references, &p), None, 0.002).unwrap();
    assert!((fix.at - p).norm() < 1e-3, "{}", fix.at);
    assert!(fix.error95 > 0.02 && fix.error95 < 0.1, "{}", fix.error95);
    // All readings 1 mm short of closing: the plane is as near as it gets.
    let mut short = taped(&references, &p);
    short.iter_mut().for_each(|r| r.1 -= 0.001);
    let fix = fix_from_tape(&short, Some(Side::Above), 0.002).unwrap();
    assert!((fix.at - p).norm() < 5e-3 && fix.rms() < 0.0011, "{fix:?}");
}

/// The stated error against chance: readings with a standard deviation of 2 mm, four thousand times.
/// Along the worst axis 95 % must lie within it; the tolerance is three deviations of that count, and a
/// little for the bend of the distances.
#[test]
fn the_error_holds_in_95_of_100_cases() {
    let sets: [&[[f64; 3]]; 3] = [
        &[
            [0.0, 0.0, 0.0],
            [-0.6, 0.11, -0.3],
            [-0.6, -0.11, -0.3],
            [-0.7, 0.0, 0.1],
        ],
        &[
            [0.0, 0.0, 0.0],
            [-0.55, 0.3, -0.45],
            [-0.55, -0.3, -0.45],
            [-0.7, 0.0, 0.1],
        ],
        &[
            [0.0, 0.0, 0.0],
            [-0.55, 0.3, -0.45],
            [-0.55, -0.3, -0.45],
            [-0.7, 0.0, 0.1],
            [0.45, 0.1, -0.6],
            [0.45, -0.1, -0.6],
        ],
    ];
    let sd = 0.002;
    let mut seed = 0;
    for references in sets {
        for p in [Point3::new(-0.3, 0.05, 0.05), Point3::new(0.1, 0.35, 0.15)] {
            let exact = taped(references, &p);
            let stated = fix_from_tape(&exact, Some(Side::Left), sd).unwrap().error95;
            // The worst axis, from the readings' unit vectors by power iteration on their inverse square.
            let square: nalgebra::Matrix3<f64> = references
                .iter()
                .map(|&c| {
                    let u = (p - Point3::from(c)).normalize();
                    u * u.transpose()
                })
                .sum();
            let inverse = square.try_inverse().unwrap();
            let mut axis = nalgebra::Vector3::new(0.3, 0.5, 0.7);
            for _ in 0..200 {
                axis = (inverse * axis).normalize();
            }
            let linear = 1.96 * sd * axis.dot(&(inverse * axis)).sqrt();
            assert!((stated / linear - 1.0).abs() < 0.1, "{stated} {linear}");
            let (mut within, rounds) = (0, 4000);
            for _ in 0..rounds {
                seed += 1;
                let mut random = Random::new(seed);
                let noisy: Vec<_> = exact
                    .iter()
                    .map(|(c, d)| (*c, d + sd * random.normal()))
                    .collect();
                let near = |at: &Point3<f64>| axis.dot(&(at - p)).abs() <= stated;
                let fix = fix_from_tape(&noisy, Some(Side::Left), sd);
                within += i32::from(fix.is_ok_and(|fix| near(&fix.at)));
            }
            let share = f64::from(within) / f64::from(rounds);
            assert!(
                (share - 0.95).abs() < 0.02,
                "{share} for {p} from {references:?}"
            );
        }
    }
}

/// Where the bar ends of ten measured bicycles are (data and licence in tests/data/bicycles: the open
/// `BicycleParameters` data set): the hand's place is the meeting of two spheres about the hubs at half the bar
/// width. The oracle solves the two circles in the plane of the bar end in closed form.
#[test]
fn bar_ends_of_measured_bicycles() {
    let mut checked = 0;
    for bike in bicycles::all() {
        let (Some(width), Some(to_front), Some(to_rear)) =
            (bike.bar_width, bike.bar_to_front, bike.bar_to_rear)
        else {
            continue;
        };
        checked += 1;
        let (front_radius, rear_radius) = (
            bike.front_radius.unwrap_or(0.34),
            bike.rear_radius.unwrap_or(0.34),
        );
        let (front, rear) = (
            Point3::new(bike.wheelbase, 0.0, front_radius),
            Point3::new(0.0, 0.0, rear_radius),
        );
        // Both hubs seen in the plane y = width / 2, and the two circles' upper meeting there.
        let half = 0.5 * width;
        let (a, b) = (
            (to_rear * to_rear - half * half).sqrt(),
            (to_front * to_front - half * half).sqrt(),
        );
        let apart = front - rear;
        let d = apart.norm();
        let along = (a * a - b * b + d * d) / (2.0 * d);
        let up = (a * a - along * along).sqrt();
        let (ex, ez) = (apart.x / d, apart.z / d);
        let bar = Point3::new(
            ex * along - ez * up,
            half,
            rear_radius + ez * along + ex * up,
        );

        // Taped from the two hubs and from the foot of the front wheel, all in the middle plane: left and
        // right mirror each other.
        let foot = Point3::new(bike.wheelbase, 0.0, 0.0);
        let middle = [
            (front, to_front),
            (rear, to_rear),
            (foot, (bar - foot).norm()),
        ];
        for (side, sign) in [(Side::Left, 1.0), (Side::Right, -1.0)] {
            let fix = fix_from_tape(&middle, Some(side), 0.002).unwrap();
            let expected = Point3::new(bar.x, sign * bar.y, bar.z);
            assert!(
                (fix.at - expected).norm() < 1e-9,
                "{}: {} for {expected}",
                bike.case,
                fix.at
            );
        }
        assert!(matches!(
            fix_from_tape(&middle, None, 0.002),
            Err(TapeError::TwoPlaces { .. })
        ));

        // Taped from the hubs and from the ends of axles prolonged to half the bar width: all in one
        // sloping plane, so that the bar mirrors below the hubs.
        let out = nalgebra::Vector3::new(0.0, half, 0.0);
        let axles = [
            (front, to_front),
            (rear, to_rear),
            (front + out, b),
            (rear + out, a),
        ];
        let fix = fix_from_tape(&axles, Some(Side::Above), 0.002).unwrap();
        assert!(
            (fix.at - bar).norm() < 1e-9,
            "{}: {} for {bar}",
            bike.case,
            fix.at
        );
        let below = fix_from_tape(&axles, Some(Side::Below), 0.002).unwrap();
        assert!(below.at.z < rear_radius && fix.rms() < 1e-9);
    }
    assert_eq!(checked, 9);
}

#[test]
fn a_mirror_that_does_not_fit_is_never_taken_for_its_side() {
    // Both mirror places lie to the left; the fourth reading fits one of them alone.
    let from = [
        ([0.0, 0.0, 0.0], 0.760),
        ([-0.33, 0.26, -0.52], 0.654),
        ([-0.33, -0.26, -0.52], 0.706),
        ([-1.01, 0.0, -0.56], 0.564),
    ];
    let from: Vec<_> = from.iter().map(|(p, d)| (Point3::from(*p), *d)).collect();
    let fix = fix_from_tape(&from, Some(Side::Left), 0.002).unwrap();
    assert!(fix.rms() < 0.003, "misfit {} m", fix.rms());
    assert!(
        (fix.at - Point3::new(-0.755, 0.07, -0.062)).norm() < 0.01,
        "{}",
        fix.at
    );
}
