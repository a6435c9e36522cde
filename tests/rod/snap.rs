//! A strip that flips.

use nalgebra::{Point3, UnitVector3, Vector3};
use neckloom::machine::Joint;

use super::rig::{Rig, refined};

/// An arch whose end is turned in its plane until it goes through.
fn arch(excess: f64) -> Rig {
    let joint = Joint::Turns {
        through: Point3::new(0.2, 0.0, 0.0),
        axis: UnitVector3::new_normalize(-Vector3::y()),
        from: -0.6,
        to: 1.6,
    };
    let rig = Rig::new(joint, 0.0);
    let mut rig = rig.fix(0, [0.0; 3], Some([1.0, 0.0, 0.3]), 0.0);
    rig.fix_via(
        1,
        [0.2, 0.0, 0.0],
        Some([1.0, 0.0, -0.3]),
        0.2 * excess,
        &[[0.1, 0.0, 0.03]],
    );
    rig
}

/// The rise of the middle changes sign where the arch goes through; snaps are there and nowhere else.
#[test]
fn an_arch_goes_through() {
    for accuracy in [1e-2, 1e-3] {
        for excess in [1.04, 1.05, 1.06] {
            let rig = arch(excess);
            let solution = rig.solve(&refined(accuracy));
            let branch = &solution.branches[0];
            let rise = |pose: usize| branch.shapes[pose].curve.position(0.1 * excess).z;
            let value = |pose: usize| solution.sweep.poses[pose].joints[1];
            let through: Vec<usize> = (1..branch.shapes.len())
                .filter(|&pose| rise(pose - 1) * rise(pose) < 0.0)
                .collect();
            println!(
                "excess {excess}: through at {:?}, {:?}",
                through.iter().map(|p| value(*p)).collect::<Vec<_>>(),
                branch.snaps
            );
            assert_eq!(through.len(), 1);
            // It may leave its plane first, swing through and drop back into it: a snap before and one after.
            assert!((1..=2).contains(&branch.snaps.len()));
            for snap in &branch.snaps {
                assert!(snap.to.abs_diff(through[0]) <= 2 && snap.to == snap.from + 1);
                assert!(snap.jump > 0.02 * 0.2 && (0.0..=0.2 * excess).contains(&snap.at));
            }
        }
    }
}

/// Turned back the other way it does not.
#[test]
fn none_away_from_it() {
    let mut rig = arch(1.05);
    if let Joint::Turns { to, .. } = &mut rig.route.machine.bodies[1].joint {
        *to = 0.4;
    }
    assert!(rig.solved(&refined(1e-3)).branches[0].snaps.is_empty());
    assert!(
        Rig::steered(0.232, 0.09).solved(&refined(1e-3)).branches[0]
            .snaps
            .is_empty()
    );
}
