//! Discs packed into a circle.

use neckloom::harness::pack;

/// Least radius about n equal discs of radius 1, as listed by Graham, Lubachevsky, Nurmela & Östergård, "Dense packings
/// of congruent circles in a circle", Discrete Math. 181 (1998) 139–154 (values from memory, high confidence; those
/// with a closed form agree with it): proved for n up to 13 and 19, the best known for the others.
const LEAST: [(usize, f64); 19] = [
    (1, 1.0),
    (2, 2.0),
    (3, 2.154_700_5),
    (4, 2.414_213_6),
    (5, 2.701_301_6),
    (6, 3.0),
    (7, 3.0),
    (8, 3.304_764_9),
    (9, 3.613_125_9),
    (10, 3.813_025_6),
    (11, 3.923_804_4),
    (12, 4.029_601_9),
    (13, 4.236_068_0),
    (14, 4.328_428_6),
    (15, 4.521_356_9),
    (16, 4.615_425_6),
    (17, 4.792_033_7),
    (18, 4.863_703_3),
    (19, 4.863_703_3),
];

#[test]
fn equal_discs_lie_as_close_as_the_published_optima() {
    for tolerance in [5e-3, 1e-3] {
        for (count, least) in LEAST {
            let radius = pack(&vec![1.0; count]).radius;
            assert!(
                (radius / least - 1.0).abs() < tolerance,
                "{count}: {radius}, published {least}"
            );
        }
    }
}

#[test]
fn the_closed_forms_are_those_of_the_table() {
    let root = f64::sqrt;
    let turn = |n: f64| 1.0 + 1.0 / (std::f64::consts::PI / n).sin();
    for (count, closed) in [
        (3, 1.0 + 2.0 / root(3.0)),
        (4, 1.0 + root(2.0)),
        (5, turn(5.0)),
        (8, turn(7.0)),
        (9, turn(8.0)),
        (11, turn(9.0)),
        (13, 2.0 + root(5.0)),
        (19, 1.0 + root(2.0) + root(6.0)),
    ] {
        assert!(
            (LEAST[count - 1].1 - closed).abs() < 1e-6,
            "{count}: {closed}"
        );
    }
}

#[test]
fn nothing_overlaps_and_nothing_sticks_out() {
    let mixed: Vec<f64> = (0..60).map(|i| 0.6 + 0.05 * f64::from(i % 13)).collect();
    for radii in [
        vec![1.0; 60],
        mixed,
        vec![5.0, 0.1, 0.1, 0.1, 0.1],
        vec![1e-3; 9],
    ] {
        let packing = pack(&radii);
        let least = radii.iter().fold(f64::INFINITY, |a, b| a.min(*b));
        for (i, (a, r)) in packing.centres.iter().zip(&radii).enumerate() {
            assert!(a[0].hypot(a[1]) + r <= packing.radius * (1.0 + 1e-12));
            for (b, s) in packing.centres.iter().zip(&radii).take(i) {
                assert!((a[0] - b[0]).hypot(a[1] - b[1]) >= (r + s) - 1e-9 * least);
            }
        }
        let filled: f64 = radii.iter().map(|r| r * r).sum::<f64>() / packing.radius.powi(2);
        assert!(filled > 0.65, "filled to {filled}");
        assert_eq!(packing, pack(&radii));
    }
}

/// Thue's theorem: no packing of equal discs fills more than π/√12 of the plane.
#[test]
fn no_denser_than_the_plane_allows() {
    for count in [20, 30, 45, 60] {
        let radius = pack(&vec![1.0; count]).radius;
        let count = f64::from(u32::try_from(count).unwrap());
        assert!(count / (radius * radius) < std::f64::consts::PI / 12.0_f64.sqrt());
        // The rule of common practice, 1.15 to 1.2 times the root of the number, lies a little above.
        let ratio = radius / count.sqrt();
        assert!((1.08..1.16).contains(&ratio), "{count}: {ratio}");
    }
}
