//! A strip that flips.

use nalgebra::{Point3, UnitVector3, Vector3};
use neckloom::machine::Joint;

use super::rig::{BEND, Rig, refined};

/// A rod between ends pushed together, one of them turned about its axis: it winds up, and past the threshold
/// throws itself into a loop.
fn wound(ratio: f64, to: f64) -> Rig {
    let joint = Joint::Turns {
        through: Point3::origin(),
        axis: UnitVector3::new_normalize(Vector3::x()),
        from: 0.0,
        to,
    };
    let mut rig = Rig::new(joint, 0.02);
    rig.stiffness().twist = BEND;
    let length = 0.3;
    rig.fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0)
        .fix(1, [ratio * length, 0.0, 0.0], Some([1.0, 0.0, 0.0]), length)
}

#[test]
fn probe_wound() {
    for ratio in [0.9, 0.8, 0.7] {
        let rig = wound(ratio, 12.0);
        let solution = rig.solve(&refined(1e-3));
        let branch = &solution.branches[0];
        println!("{ratio}: {:?} conv {} {:?}", branch.snaps, branch.shapes.iter().all(|s| s.converged), branch.resolution);
    }
}
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
    rig.fix_via(1, [0.2, 0.0, 0.0], Some([1.0, 0.0, -0.3]), 0.2 * excess, &[[0.1, 0.0, 0.03]]);
    rig
}
#[test]
fn probe_arch() {
    for excess in [1.03, 1.05, 1.1, 1.2] {
        let solution = arch(excess).solve(&refined(1e-3));
        let branch = &solution.branches[0];
        println!("{excess}: {:?} conv {} {:?}", branch.snaps, branch.shapes.iter().all(|s| s.converged), branch.resolution);
        for (pose, s) in solution.sweep.poses.iter().zip(&branch.shapes).step_by(4) {
            let m = s.curve.position(0.1 * excess);
            println!("   {:.2} mid {:.4} {:.4} k {:.1}", pose.joints[1], m.y, m.z, s.spans[0].curvature);
        }
    }
}
