//! Curves that an end moment, or a wrench along an axis, bends exactly.

use std::f64::consts::{FRAC_PI_2, PI, TAU};

use neckloom::rod::Settings;

use super::rig::{BEND, Rig, refined, relative};

/// A moment alone bends an arc of radius EI/M (Euler–Bernoulli, exact).
#[test]
fn a_moment_bends_a_circle() {
    let length = 0.25;
    for (settings, tolerance) in [(Settings::default(), 1e-4), (refined(1e-6), 1e-6)] {
        for turn in [0.1, 0.5, FRAC_PI_2, 2.0, PI, 4.5] {
            let radius = length / turn;
            let end = [radius * turn.sin(), 0.0, radius * (1.0 - turn.cos())];
            let facing = [turn.cos(), 0.0, turn.sin()];
            let mut rig = Rig::still().fix(0, [0.0; 3], Some([1.0, 0.0, 0.0]), 0.0);
            let half = 0.5 * turn;
            let via = [radius * half.sin(), 0.0, radius * (1.0 - half.cos())];
            rig.fix_via(0, end, Some(facing), length, &[via]);
            let solution = rig.solved(&settings);
            let shape = &solution.branches[0].shapes[0];
            let moment = BEND / radius;
            println!(
                "turn {turn:.2}: radius {:.1e}, moment {:.1e}, force {:.1e}",
                relative(1.0 / shape.spans[0].curvature, radius),
                relative(-shape.holds[1].moment.y, moment),
                shape.holds[1].force.norm() / (moment / length)
            );
            assert!(relative(1.0 / shape.spans[0].curvature, radius).abs() < tolerance);
            // The settings promise the radius; what the ends carry is measured to be within five times that.
            // About −y the tangent turns from x to z.
            assert!(relative(-shape.holds[1].moment.y, moment).abs() < 5.0 * tolerance);
            assert!(relative(shape.holds[0].moment.y, moment).abs() < 5.0 * tolerance);
            assert!(shape.holds[1].force.norm() < 30.0 * tolerance * moment / length);
        }
    }
}

/// A helix of radius 10 mm and pitch 40 mm between clamps along it: every helix is an equilibrium of an isotropic
/// rod (Love, art. 270); radius of curvature (a² + b²)/a, torsion b/(a² + b²), b the pitch over 2π.
#[test]
fn a_helix_between_clamps() {
    let (a, b) = (0.010, 0.040 / TAU);
    let squared = a * a + b * b;
    assert!((squared / a - 0.014_052_847_3).abs() < 1e-10);
    for (settings, tolerance) in [
        (refined(1e-3), 1e-3),
        (Settings::default(), 1e-4),
        (refined(1e-6), 1e-6),
    ] {
        for turns in [0.5, 0.75] {
            let at = |phase: f64| [a * phase.cos(), a * phase.sin(), b * phase];
            let facing = |phase: f64| Some([-a * phase.sin(), a * phase.cos(), b]);
            let end = turns * TAU;
            let vias: Vec<_> = (1..12).map(|i| at(end * f64::from(i) / 12.0)).collect();
            let mut rig = Rig::still().fix(0, at(0.0), facing(0.0), 0.0);
            rig.fix_via(0, at(end), facing(end), end * squared.sqrt(), &vias);
            let solution = rig.solved(&settings);
            let shape = &solution.branches[0].shapes[0];
            for station in &shape.stations {
                let error = relative(station.curvature, a / squared);
                assert!(error.abs() < 3.0 * tolerance, "turns {turns}: {error:e}");
            }
            // Torsion from five nodes in a row of tangents: t·(t′ × t″)/|t′|².
            let step = end * squared.sqrt() / 64.0;
            for i in 2..=62 {
                let t = [-2.0, -1.0, 0.0, 1.0, 2.0]
                    .map(|k| shape.curve.tangent((f64::from(i) + k) * step));
                let first = (t[0] - t[1] * 8.0 + t[3] * 8.0 - t[4]) / (12.0 * step);
                let second =
                    (-t[0] + t[1] * 16.0 - t[2] * 30.0 + t[3] * 16.0 - t[4]) / (12.0 * step * step);
                let torsion = t[2].dot(&first.cross(&second)) / first.norm_squared();
                assert!(
                    relative(torsion, b / squared).abs() < 0.02,
                    "turns {turns} at {i}: torsion {torsion}"
                );
            }
            // Over the whole length: how far the binormal turns, from the places of the helix itself.
            let far = (0..=200)
                .map(|i| f64::from(i) / 200.0)
                .map(|u| {
                    let p = shape.curve.position(u * end * squared.sqrt());
                    (p.x.hypot(p.y) - a).abs()
                })
                .fold(0.0, f64::max);
            println!(
                "turns {turns} {:e}: off the cylinder {far:e} m",
                settings.accuracy
            );
            assert!(far < tolerance * a, "off the cylinder by {far} m");
        }
    }
}
