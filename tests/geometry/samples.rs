//! Surface samples: that they cover, and as a brute-force oracle for the distance.

use neckloom::geometry::Shape;

use super::{Random, random_shape};

#[test]
fn every_surface_point_has_a_sample_within_the_spacing() {
    let mut closest_call: f64 = 0.0;
    for seed in 0..200 {
        let mut random = Random::new(seed);
        let shape = random_shape(&mut random);
        for spacing in [0.05, 0.01, 0.004] {
            let samples = shape.surface_samples(spacing);
            for _ in 0..40 {
                // A surface point: straight down to the surface from somewhere outside.
                let p = random.point(0.25);
                let contact = shape.contact(&p);
                if contact.distance < 0.0 {
                    continue;
                }
                let surface = p - contact.normal.into_inner() * contact.distance;
                let nearest = samples
                    .iter()
                    .map(|s| (s - surface).norm())
                    .fold(f64::INFINITY, f64::min);
                assert!(
                    nearest <= spacing * (1.0 + 1e-9),
                    "seed {seed}: {nearest} for {spacing}"
                );
                closest_call = closest_call.max(nearest / spacing);
            }
        }
    }
    assert!(
        closest_call > 0.9,
        "the samples are needlessly dense: {closest_call}"
    );
}

/// The samples come from each surface's own parametric form, the distance from the nearest point: neither
/// knows the other.
#[test]
fn distance_against_dense_samples() {
    let spacing = 0.002;
    for seed in 0..150 {
        let mut random = Random::new(seed);
        let shape = random_shape(&mut random);
        let mut samples = shape.surface_samples(spacing);
        let round = matches!(&shape, Shape::Tube { .. });
        let bent = matches!(&shape, Shape::Tube { along, .. } if along.len() > 2);
        for s in &samples {
            let d = shape.distance(s);
            assert!(
                if round { d < 1e-12 } else { d.abs() < 1e-12 },
                "seed {seed}: {d}"
            );
        }
        // The balls at a tube's points lie half inside it; what is left still covers, up to a cell at the seam.
        samples.retain(|s| shape.distance(s) > -1e-12);
        let spacing = if round { 2.0 * spacing } else { spacing };
        let (centre, radius) = shape.bounds();
        assert!(
            samples
                .iter()
                .all(|s| (s - centre).norm() <= radius + 1e-12),
            "seed {seed}"
        );
        for _ in 0..30 {
            let p = random.point(0.2);
            let contact = shape.contact(&p);
            assert!(
                (contact.distance - shape.distance(&p)).abs() < 1e-14,
                "seed {seed}"
            );
            assert!(contact.distance >= -shape.depth() - 1e-15, "seed {seed}");
            let nearest = samples
                .iter()
                .map(|s| (s - p).norm())
                .fold(f64::INFINITY, f64::min);
            // Inside a bent tube its pieces' surfaces run through it; there the depth counts to the nearest
            // piece's own surface, of which no sample can be nearer than the depth.
            let d = contact.distance.abs();
            if bent && contact.distance < 0.0 {
                continue;
            }
            assert!(
                nearest >= d - 1e-12 && nearest <= d + spacing,
                "seed {seed}: {nearest} for {d}"
            );
        }
    }
}

/// The search for the nearest place on a curve rests on both: the least distance to the pieces is that to the
/// whole, and each piece's distance is convex.
#[test]
fn convex_pieces_make_up_the_whole() {
    for seed in 0..300 {
        let mut random = Random::new(seed);
        let shape = random_shape(&mut random);
        let pieces = shape.convex_pieces();
        for _ in 0..20 {
            let p = random.point(0.2);
            let least = pieces
                .iter()
                .map(|s| s.distance(&p))
                .fold(f64::INFINITY, f64::min);
            assert!((least - shape.distance(&p)).abs() < 1e-15, "seed {seed}");
            // Convex: half way between two points the distance is at most the mean of theirs.
            let q = random.point(0.2);
            for piece in &pieces {
                let mean = 0.5 * (piece.distance(&p) + piece.distance(&q));
                let middle = piece.distance(&nalgebra::center(&p, &q));
                assert!(
                    middle <= mean + 1e-12,
                    "seed {seed}: {piece:?} is not convex"
                );
            }
        }
    }
}
