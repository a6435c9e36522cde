//! A heavy limp rod: the catenary (Irvine, Cable Structures, 1981; roots computed to ten digits).

use super::rig::{Rig, refined, relative};
use neckloom::machine::Joint;

const GRAVITY: f64 = 9.80665;

/// Span, length, parameter a, sag.
const TABLE: [(f64, f64, f64, f64); 3] = [
    (1.0, 1.1, 0.654_963_95, 0.200_300_79),
    (1.0, 1.02, 1.447_685_86, 0.087_206_43),
    (1.0, 1.5, 0.308_236_47, 0.502_633_26),
];

fn hung(span: f64, length: f64, bend: f64) -> Rig {
    let mut rig = Rig::new(Joint::Fixed, 0.09);
    *rig.stiffness() = neckloom::harness::Stiffness {
        bend,
        twist: bend,
        stretch: 1e7,
        ..*rig.stiffness()
    };
    rig.fix(0, [0.0; 3], None, 0.0)
        .fix(0, [span, 0.0, 0.0], None, length)
}

#[test]
fn sag_and_tension() {
    for (span, length, a, sag) in TABLE {
        // The stiffness takes up in proportion to EI: each row a hundredth of the one before.
        for (bend, tolerance) in [(1e-4, 5e-3), (1e-6, 5e-5)] {
            let solution = hung(span, length, bend).solved(&refined(1e-4));
            let shape = &solution.branches[0].shapes[0];
            let weight = 0.09 * GRAVITY;
            let got = -shape.curve.position(0.5 * length).z;
            let (pull, end) = (weight * a, weight * (a + sag));
            println!(
                "length {length}, EI {bend:e}: sag {:.1e}, H {:.1e}, T {:.1e}, {:?}",
                relative(got, sag),
                relative(shape.holds[1].force.x, pull),
                relative(shape.spans[0].tension, end),
                solution.branches[0].resolution
            );
            assert!(relative(got, sag).abs() < tolerance);
            assert!(relative(shape.holds[1].force.x, pull).abs() < 2.0 * tolerance);
            // T = H cosh(x/a), greatest at the ends.
            assert!(relative(shape.spans[0].tension, end).abs() < 2.0 * tolerance);
            assert!(relative(shape.holds[1].force.z, 0.5 * weight * length).abs() < 1e-6);
            for station in &shape.stations {
                let want = pull * ((station.position.x - 0.5 * span) / a).cosh();
                assert!(relative(station.tension, want).abs() < 10.0 * tolerance);
            }
        }
    }
}

/// Half an inch of slack over 24 inches (FAA AC 43.13-1B, 11-96): by the parabola the excess is 8 s²/(3 D).
#[test]
fn half_an_inch_over_two_feet() {
    let (span, sag) = (0.6096_f64, 0.0127_f64);
    let excess = 8.0 * sag * sag / (3.0 * span);
    assert!((excess - 0.705_56e-3).abs() < 1e-8);
    let mut rig = hung(span, span + excess, 1e-6);
    rig.stiffness().stretch = 1e9;
    let solution = rig.solved(&refined(1e-4));
    let shape = &solution.branches[0].shapes[0];
    let got = -shape.curve.position(0.5 * (span + excess)).z;
    println!("sag {:.2e}", relative(got, sag));
    assert!(relative(got, sag).abs() < 1e-3);
    assert!((shape.spans[0].slack - excess).abs() < 1e-6);
}
