//! Spans shorter than the distance between their fixings.

use super::rig::{BEND, Rig, refined, relative};
use neckloom::machine::Joint;

/// Straight between clamps in line: strain is what is missing over the length, tension EA times that.
#[test]
fn strain_and_tension() {
    let length = 0.2;
    for stretch in [4e3, 4e4, 4e6] {
        for strain in [1e-6, 1e-4, 1e-3, 1e-2, 5e-2] {
            for facing in [Some([1.0, 0.0, 0.0]), None] {
                let mut rig = Rig::new(Joint::Fixed, 0.0);
                rig.stiffness().stretch = stretch;
                let solution = rig
                    .fix(0, [0.0; 3], facing, 0.0)
                    .fix(0, [length * (1.0 + strain), 0.0, 0.0], facing, length)
                    .solved(&refined(1e-4));
                let span = &solution.branches[0].shapes[0].spans[0];
                let force = solution.branches[0].shapes[0].holds[1].force.x;
                // Strain measures that agree to first order differ by half the strain.
                let tolerance = 2.0 * strain + 1e-6;
                assert!(
                    relative(span.strain, strain).abs() < tolerance,
                    "{strain}: {}",
                    span.strain
                );
                assert!(
                    relative(span.tension, stretch * strain).abs() < tolerance,
                    "{strain}: {}",
                    span.tension
                );
                assert!(relative(force, span.tension).abs() < 1e-6);
                assert!(relative(span.slack, -length * strain).abs() < 1e-6);
                assert!(span.curvature < 1e-6);
            }
        }
    }
}

/// Where a long taut rod leaves a clamp at the angle φ to its pull: κ = 2 √(T/EI) sin(φ/2) at the clamp, falling
/// off over √(EI/T) (the homoclinic elastica; Love, art. 263).
#[test]
fn the_bend_at_the_clamp() {
    let (distance, rig_diameter) = (0.5, 0.008);
    for (accuracy, tolerance) in [(1e-3, 3e-3), (1e-4, 1e-3)] {
        for degrees in [5.0_f64, 10.0, 15.0, 20.0, 30.0] {
            for missing in [0.0, 1e-4, 3e-4] {
                let facing = degrees.to_radians();
                let (c, s) = (facing.cos(), facing.sin());
                let mut rig = Rig::new(Joint::Fixed, 0.0);
                rig.stiffness().stretch = 4e5;
                let solution = rig
                    .fix(0, [0.0; 3], Some([c, 0.0, s]), 0.0)
                    .fix(
                        0,
                        [distance, 0.0, 0.0],
                        Some([c, 0.0, -s]),
                        distance * (1.0 - missing),
                    )
                    .solved(&refined(accuracy));
                let branch = &solution.branches[0];
                let shape = &branch.shapes[0];
                let force = shape.holds[1].force;
                let pull = force.norm();
                let phi = (force.dot(&shape.stations[0].tangent) / pull).acos();
                let want = 2.0 * (pull / BEND).sqrt() * (0.5 * phi).sin();
                let lengths = distance * (pull / BEND).sqrt();
                println!(
                    "{degrees}° missing {missing:e}: T {pull:.2} N, {lengths:.0} boundary lengths, radius {:.2} mm, error {:.1e}, {:?}",
                    1e3 / want,
                    relative(shape.spans[0].curvature, want),
                    branch.resolution
                );
                assert!(lengths > 15.0);
                // Tighter than the branch is thick, elements end; and the formula knows no stretch.
                if 1.0 / want < rig_diameter {
                    continue;
                }
                let tolerance = tolerance + 2.0 * pull / 4e5;
                assert!(
                    relative(shape.spans[0].curvature, want).abs() < tolerance,
                    "{degrees}° {missing}"
                );
                assert!(
                    shape.spans[0].curvature_at < 1e-6
                        || shape.spans[0].curvature_at > distance * 0.99
                );
            }
        }
    }
}

/// Over the sweep a span that runs short at both locks is solved all the way and says how much is missing.
#[test]
fn taut_at_the_locks() {
    for accuracy in [1e-3, 1e-4] {
        let solution = Rig::steered(0.190, 0.09).solved(&refined(accuracy));
        let shapes = &solution.branches[0].shapes;
        let least = shapes
            .iter()
            .map(|s| s.spans[0].slack)
            .fold(f64::INFINITY, f64::min);
        assert!(least < 0.0);
        for shape in shapes {
            let span = &shape.spans[0];
            if span.slack < -0.5e-3 {
                assert!(span.tension > 0.0 && span.strain > -span.slack / 0.190);
            }
        }
    }
}
