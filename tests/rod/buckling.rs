//! Where twist makes a straight rod and a ring leave their shape.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point3, Vector3};
use neckloom::machine::Joint;
use neckloom::rod::Solution;

use super::rig::{BEND, Rig, even};

fn turns(axis: Vector3<f64>, to: f64) -> Joint {
    Joint::Turns {
        through: Point3::origin(),
        axis: nalgebra::UnitVector3::new_normalize(axis),
        from: 0.0,
        to,
    }
}

/// The joint value half-way to the first pose at which `left` holds, and that of a pose later.
fn threshold(solution: &Solution, left: impl Fn(usize) -> bool) -> (f64, f64) {
    let value = |pose: usize| solution.sweep.poses[pose].joints[1];
    let first = (0..solution.sweep.poses.len())
        .find(|&pose| left(pose))
        .expect("it buckles");
    (0.5 * (value(first) + value(first - 1)), value(first))
}

/// Greenhill, "On the strength of shafting when exposed both to torsion and to end thrust", Proc. Inst. Mech.
/// Eng. 34 (1883); between clamps M L/EI = 2 × 4.49340946, the first root of tan x = x (Timoshenko & Gere, 2.21).
#[test]
fn a_twisted_straight_rod() {
    let root = 2.0 * 4.493_409_457_909_064;
    let length = 0.3;
    for elements in [16, 32] {
        for stiffer in [1.0, 1.6] {
            // GJ such that it buckles after a turn or so: a step of 2° is half a per cent of it.
            let twist = stiffer * BEND;
            let critical = root * BEND / twist;
            let mut rig = Rig::new(turns(Vector3::x(), 1.1 * critical), 0.0);
            rig.stiffness().twist = twist;
            // Soft in tension, so that it can leave the line visibly; the threshold does not depend on it.
            rig.stiffness().stretch = 900.0 * BEND / (length * length);
            let rig = rig.fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0).fix(
                1,
                [length, 0.0, 0.0],
                Some([1.0, 0.0, 0.0]),
                length,
            );
            let solution = rig.solved(&even(elements));
            let branch = &solution.branches[0];
            let off = |pose: usize| {
                branch.shapes[pose]
                    .stations
                    .iter()
                    .map(|s| s.position.y.hypot(s.position.z))
                    .fold(0.0, f64::max)
            };
            let (found, _) = threshold(&solution, |pose| off(pose) > 1e-4 * length);
            println!(
                "{elements} elements, GJ/EI {stiffer}: M L/EI {:.5} of {root:.5}, poses {}",
                found * twist / BEND,
                solution.sweep.poses.len()
            );
            assert!((found / critical - 1.0).abs() < 0.01);
            // Below, the twist is the turn; the moment is GJ θ/L.
            let pose = solution.sweep.poses.len() / 2;
            let theta = solution.sweep.poses[pose].joints[1];
            let shape = &branch.shapes[pose];
            assert!((shape.spans[0].twist - theta).abs() < 1e-9);
            assert!((shape.holds[1].moment.x / (twist * theta / length) - 1.0).abs() < 1e-9);
        }
    }
}

/// A ring closed with a twist: 2π√3 EI/GJ (Michell, Messenger of Math. 11 (1890); Zajac, J. Appl. Mech. 29
/// (1962); Goriely, J. Elasticity 84 (2006) 281–299).
#[test]
fn a_twisted_ring() {
    let radius = 0.05;
    for (elements, ratio) in [(48, 0.6), (48, 0.75)] {
        // EI/GJ
        let critical = TAU * 3.0_f64.sqrt() * ratio;
        // The ring hangs by a thousandth of what it weighs against its stiffness: without weight it turns freely about
        // its clamp, and that neutral motion hides the sign of the one that matters.
        let mut rig = Rig::new(turns(Vector3::x(), 1.05 * critical), 1e-3);
        rig.stiffness().twist = BEND / ratio;
        rig.stiffness().stretch = 1e6;
        let mut rig = rig.fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0);
        let vias: Vec<_> = (1..16)
            .map(|i| {
                let phase = TAU * f64::from(i) / 16.0;
                [radius * phase.sin(), 0.0, radius * (phase.cos() - 1.0)]
            })
            .collect();
        rig.fix_via(1, [0.0; 3], Some([1.0, 0.0, 0.0]), 2.0 * PI * radius, &vias);
        let solution = rig.solve(&even(elements));
        let branch = &solution.branches[0];
        let uneven = |pose: usize| {
            branch.shapes[pose]
                .stations
                .iter()
                .map(|s| (s.curvature * radius - 1.0).abs())
                .fold(0.0, f64::max)
        };
        assert!(uneven(0) < 1e-3, "the ring at rest is round: {}", uneven(0));
        let (found, first) = threshold(&solution, |pose| uneven(pose) > 0.02);
        println!(
            "EI/GJ {ratio}: {:.5} of {:.5}, poses {}, snaps {:?}",
            found / ratio,
            critical / ratio,
            solution.sweep.poses.len(),
            branch.snaps
        );
        assert!((found / critical - 1.0).abs() < 0.01);
        // Past it the rod, which does not feel itself, falls through itself: what the walk finds there is not
        // compared; below it every pose must stand.
        for (pose, shape) in solution.sweep.poses.iter().zip(&branch.shapes) {
            assert!(shape.converged || pose.joints[1] >= first);
        }
    }
}
