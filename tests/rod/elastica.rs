//! The planar elastica by span: Love, A Treatise on the Mathematical Theory of Elasticity, art. 262–263;
//! Timoshenko & Gere, Theory of Elastic Stability, 2.7. With k = sin(α/2), α the slope at the inflections:
//! D/L = 2E/K − 1 and height w/L = k/K for both; P = (4K/L)² EI, R = L/(8kK) between clamps in line, P = (2K/L)² EI,
//! R = L/(4kK) between pivots.

use neckloom::rod::{Settings, Shape};

use super::elliptic::{complete, modulus};
use super::rig::{BEND, Rig, even, refined, relative, short};

const LENGTH: f64 = 0.3;

/// D/L of the tests: from almost straight to ends that almost meet.
const RATIOS: [f64; 12] = [
    0.99, 0.97, 0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.45, 0.4, 0.3,
];

struct Exact {
    radius: f64,
    height: f64,
    force: f64,
}

fn exact(ratio: f64, clamped: bool) -> Exact {
    let k = modulus(ratio);
    let (first, _) = complete(k);
    let half_waves = if clamped { 4.0 } else { 2.0 };
    Exact {
        radius: LENGTH / (2.0 * half_waves * k * first),
        height: LENGTH * k / first,
        force: (half_waves * first / LENGTH).powi(2) * BEND,
    }
}

fn rig(ratio: f64, clamped: bool) -> Rig {
    let facing = clamped.then_some([1.0, 0.0, 0.0]);
    let mut rig = Rig::still();
    // So stiff against twist that it stays in its plane, as the formulas have it.
    rig.stiffness().twist = 100.0 * BEND;
    rig.fix(0, [0.0; 3], facing, 0.0)
        .fix(0, [ratio * LENGTH, 0.0, 0.0], facing, LENGTH)
}

fn height(shape: &Shape) -> f64 {
    let middle = shape.curve.position(0.5 * LENGTH);
    middle.y.hypot(middle.z)
}

#[test]
fn integrals_agree_with_the_tabulated_spans() {
    // sources.md's table, itself computed with thirty digits: D/L, R/L.
    for (ratio, radius) in [
        (0.9, 0.246_820_54),
        (0.5, 0.100_565_33),
        (0.99, 0.794_279_36),
    ] {
        assert!(relative(exact(ratio, true).radius, radius * LENGTH).abs() < 1e-7);
    }
}

#[test]
fn clamped_by_span() {
    for (settings, tolerance) in [
        (Settings::default(), 1e-4),
        (refined(1e-3), 1e-3),
        (refined(1e-5), 1e-5),
        (refined(1e-6), 1e-6),
    ] {
        by_span(true, &settings, tolerance);
    }
}

#[test]
fn pinned_by_span() {
    for (settings, tolerance) in [(Settings::default(), 1e-4), (refined(1e-6), 1e-6)] {
        by_span(false, &settings, tolerance);
    }
}

fn by_span(clamped: bool, settings: &Settings, tolerance: f64) {
    for ratio in RATIOS {
        let want = exact(ratio, clamped);
        let solution = rig(ratio, clamped).solved(settings);
        let shape = &solution.branches[0].shapes[0];
        let span = &shape.spans[0];
        let errors = [
            relative(1.0 / span.curvature, want.radius),
            relative(height(shape), want.height),
            relative(shape.holds[0].force.x, want.force),
        ];
        println!(
            "clamped {clamped} D/L {ratio} accuracy {:e}: {:?} radius, height, force {}",
            settings.accuracy,
            solution.branches[0].resolution,
            short(&errors)
        );
        for error in errors {
            assert!(
                error.abs() < tolerance,
                "D/L {ratio}, clamped {clamped}, accuracy {:e}: radius, height, force {}",
                settings.accuracy,
                short(&errors)
            );
        }
        // The least tension is the thrust where the rod lies along the chord; none is above zero before the loop
        // turns back on itself.
        assert!(span.tension < want.force * 1.001, "{}", span.tension);
        assert!((span.slack - LENGTH * (1.0 - ratio)).abs() < 1e-9);
    }
}

/// Measured: the true error is at most this many times the estimate, down to [`FLOOR`].
const BOUND: f64 = 2.5;
/// Relative error below which the solver's own stop decides, not the elements.
const FLOOR: f64 = 1e-7;

#[test]
fn the_estimate_bounds_the_error() {
    let mut worst = 0.0_f64;
    for clamped in [true, false] {
        for ratio in RATIOS {
            let want = exact(ratio, clamped).radius;
            let choices = [even(8), even(12), even(20), even(40)]
                .into_iter()
                .chain([1e-2, 1e-3, 1e-4, 1e-5].map(refined));
            for settings in choices {
                let solution = rig(ratio, clamped).solved(&settings);
                let branch = &solution.branches[0];
                let error = relative(1.0 / branch.shapes[0].spans[0].curvature, want).abs();
                let estimate = branch.resolution.radius_error;
                if error > FLOOR {
                    worst = worst.max(error / estimate);
                }
                assert!(
                    error < BOUND * estimate + FLOOR,
                    "D/L {ratio}, clamped {clamped}, {settings:?}: error {error:e}, estimate {estimate:e}"
                );
            }
        }
    }
    println!("error over estimate: at most {worst:.2}");
}

#[test]
fn halving_the_elements() {
    for ratio in [0.95, 0.9, 0.7, 0.5] {
        let want = exact(ratio, true);
        let errors: Vec<[f64; 3]> = [8, 16, 32, 64]
            .into_iter()
            .map(|elements| {
                let solution = rig(ratio, true).solved(&even(elements));
                let shape = &solution.branches[0].shapes[0];
                [
                    relative(1.0 / shape.spans[0].curvature, want.radius).abs(),
                    relative(height(shape), want.height).abs(),
                    relative(shape.holds[0].force.x, want.force).abs(),
                ]
            })
            .collect();
        for pair in errors.windows(2) {
            println!(
                "D/L {ratio}: {:.1?} of {}",
                [0, 1, 2].map(|i| pair[0][i] / pair[1][i]),
                short(&pair[0])
            );
            for i in 0..3 {
                // Fourth order; the first halving may meet an error that crosses zero.
                assert!(
                    pair[1][i] < pair[0][i] / 10.0 || pair[1][i] < 4.0 * FLOOR,
                    "D/L {ratio}: {} then {}",
                    short(&pair[0]),
                    short(&pair[1])
                );
            }
        }
        assert!(errors[3][0] < errors[0][0] / 64.0);
    }
}
