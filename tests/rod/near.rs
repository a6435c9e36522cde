//! Solving again from a solution.

use neckloom::rod::{Settings, Solution, solve_near};

use super::rig::{Rig, refined, relative};
use crate::geometry::random::Random;

fn apart(a: &Solution, b: &Solution) -> f64 {
    let mut worst = 0.0_f64;
    for (a, b) in a.branches[0].shapes.iter().zip(&b.branches[0].shapes) {
        assert!(a.converged && b.converged);
        for (a, b) in a.spans.iter().zip(&b.spans) {
            worst = worst.max(relative(a.curvature, b.curvature).abs());
            worst = worst.max((a.twist - b.twist).abs());
            worst = worst.max((a.slack - b.slack).abs() / 0.2);
        }
        let force = b.holds.iter().map(|h| h.force.norm()).fold(0.0, f64::max);
        for (a, b) in a.holds.iter().zip(&b.holds) {
            worst = worst.max((a.force - b.force).norm() / force);
        }
    }
    worst
}

#[test]
fn nothing_changed() {
    for (length, settings) in [
        (0.232, Settings::default()),
        (0.26, refined(1e-3)),
        (0.205, refined(1e-6)),
    ] {
        let rig = Rig::steered(length, 0.09);
        let solution = rig.solved(&settings);
        let again = solve_near(&rig.route, &solution, &settings);
        println!("length {length}: {:e} apart", apart(&again, &solution));
        assert!(apart(&again, &solution) < 1e-6);
    }
}

#[test]
fn taped_a_little_differently() {
    let mut random = Random::new(7);
    let settings = refined(1e-4);
    for length in [0.232, 0.26] {
        let rig = Rig::steered(length, 0.09);
        let solution = rig.solved(&settings);
        for _ in 0..4 {
            let mut moved = Rig {
                route: rig.route.clone(),
            };
            for place in &mut moved.route.places {
                place.at += random.vector(0.003);
            }
            let near = solve_near(&moved.route, &solution, &settings);
            let fresh = moved.solved(&settings);
            let off = apart(&near, &fresh);
            println!("length {length}: {off:e} apart");
            // Each is within the accuracy of the truth.
            assert!(off < 2e-4, "{off}");
        }
    }
}
