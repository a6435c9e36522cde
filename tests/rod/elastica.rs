//! Clamped elastica.
use neckloom::rod::{Settings, solve};

use super::rig::{Rig, slides};

#[test]
fn probe() {
    for (d, want) in [(0.27, 0.24682054 * 0.3), (0.15, 0.10056533 * 0.3)] {
        for elements in [6, 8, 12, 16, 24, 32, 48] {
            let rig = Rig::new(slides(0.0), 0.0)
                .fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0)
                .fix(0, [d, 0.0, 0.0], Some([1.0, 0.0, 0.0]), 0.3);
            let mut route = rig.route;
            route.branches[0].stiffness.stretch = 1e7;
            let s = solve(
                &route,
                &Settings {
                    elements,
                    accuracy: f64::INFINITY,
                },
            );
            let b = &s.branches[0];
            let shape = &b.shapes[0];
            let r = 1.0 / shape.spans[0].curvature;
            println!(
                "{d} {elements}: conv {} res {:.1e} steps {} R {:.4} err {:.2e} at {:.4} tension {:.4} raw {:.2e}",
                shape.converged,
                shape.residual,
                b.resolution.newton_steps,
                r * 1e3,
                r / want - 1.0,
                shape.spans[0].curvature_at,
                shape.spans[0].tension,
                1.0 / shape.curve.sample(0.15).2.norm() / want - 1.0
            );
        }
    }
}

#[test]
fn probe_refine() {
    for (d, want) in [
        (0.27, 0.24682054 * 0.3),
        (0.15, 0.10056533 * 0.3),
        (0.297, 0.79427936 * 0.3),
    ] {
        for accuracy in [1e-2, 1e-3, 1e-4, 1e-5, 1e-6, 1e-7] {
            let rig = Rig::new(slides(0.0), 0.0)
                .fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0)
                .fix(0, [d, 0.0, 0.0], Some([1.0, 0.0, 0.0]), 0.3);
            let mut route = rig.route;
            route.branches[0].stiffness.stretch = 1e7;
            let s = solve(
                &route,
                &Settings {
                    elements: 6,
                    accuracy,
                },
            );
            let b = &s.branches[0];
            let shape = &b.shapes[0];
            let r = 1.0 / shape.spans[0].curvature;
            println!(
                "{d} acc {accuracy:.0e}: conv {} {:?} err {:.2e}",
                shape.converged,
                b.resolution,
                r / want - 1.0
            );
        }
    }
}
#[test]
fn probe_taut() {
    use nalgebra::Point3;
    use neckloom::machine::Joint;
    for accuracy in [1e-2, 1e-3, 1e-4, 1e-5, 1e-6] {
        for length in [0.232, 0.190] {
            let lock = 40.0_f64.to_radians();
            let joint = Joint::steering(Point3::origin(), 30.0_f64.to_radians(), -lock, lock);
            let rig = Rig::new(joint, 0.09)
                .fix(0, [-0.095, 0.028, 0.035], Some([1.0, 0.0, 0.2]), 0.0)
                .fix(1, [0.070, 0.025, 0.120], Some([0.0, 0.0, 1.0]), length);
            let start = std::time::Instant::now();
            let s = solve(
                &rig.route,
                &Settings {
                    elements: 8,
                    accuracy,
                },
            );
            let took = start.elapsed();
            let b = &s.branches[0];
            println!(
                "taut {length} {accuracy:.0e}: {:?} snaps {:?} time {:?}",
                b.resolution, b.snaps, took
            );
            for i in [0, 10, 20, 40] {
                let shape = &b.shapes[i];
                let sp = &shape.spans[0];
                println!(
                    "  {i} {:.1}° conv {} res {:.1e} R {:.4} at {:.4} slack {:.3} tension {:.4} strain {:.2e} twist {:.3} F {:.3?} {:.3?}",
                    s.sweep.poses[i].joints[1].to_degrees(),
                    shape.converged,
                    shape.residual,
                    1e3 / sp.curvature,
                    sp.curvature_at,
                    sp.slack * 1e3,
                    sp.tension,
                    sp.strain,
                    sp.twist.to_degrees(),
                    shape.holds[0].force.as_slice(),
                    shape.holds[1].moment.as_slice()
                );
            }
        }
    }
}

#[test]
fn probe_sweep() {
    use nalgebra::Point3;
    use neckloom::machine::Joint;
    for (parts, elements) in [(0, 8), (0, 12), (0, 16), (0, 24), (0, 48)] {
        let _ = parts;
        let lock = 40.0_f64.to_radians();
        let joint = Joint::steering(Point3::origin(), 30.0_f64.to_radians(), -lock, lock);
        let rig = Rig::new(joint, 0.09)
            .fix(0, [-0.095, 0.028, 0.035], Some([1.0, 0.0, 0.2]), 0.0)
            .fix(1, [0.070, 0.025, 0.120], Some([0.0, 0.0, 1.0]), 0.232);
        let start = std::time::Instant::now();
        let s = solve(
            &rig.route,
            &Settings {
                elements,
                accuracy: f64::INFINITY,
            },
        );
        let took = start.elapsed();
        let b = &s.branches[0];
        println!(
            "elements {elements}: poses {} steps {} snaps {:?} time {:?}",
            b.shapes.len(),
            b.resolution.newton_steps,
            b.snaps,
            took
        );
        for i in [0, 10, 20, 30, 40] {
            let shape = &b.shapes[i];
            let sp = &shape.spans[0];
            println!(
                "  {i} {:.1}° conv {} res {:.1e} R {:.4} at {:.4} slack {:.3} tension {:.4} twist {:.3}",
                s.sweep.poses[i].joints[1].to_degrees(),
                shape.converged,
                shape.residual,
                1e3 / sp.curvature,
                sp.curvature_at,
                sp.slack * 1e3,
                sp.tension,
                sp.twist.to_degrees()
            );
        }
    }
}
