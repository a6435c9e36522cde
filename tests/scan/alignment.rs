//! Rigid alignment: known rotations come back, reflections do not, what is in a line is refused.

use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion};
use neckloom::geometry::{AlignmentError, align};

use crate::geometry::Random;

#[test]
fn a_known_motion_comes_back() {
    for seed in 0..200 {
        let mut random = Random::new(seed);
        let rotation = UnitQuaternion::from_rotation_matrix(&random.rotation());
        let motion = Isometry3::from_parts(Translation3::from(random.vector(2.0)), rotation);
        let pairs: Vec<_> = (0..3 + random.below(5))
            .map(|_| random.point(0.5))
            .map(|p| (p, motion * p))
            .collect();
        let found = match align(&pairs) {
            Ok(found) => found,
            Err(AlignmentError::InALine) => continue,
            Err(error) => panic!("seed {seed}: {error}"),
        };
        assert!(found.rms() < 1e-12, "seed {seed}: {}", found.rms());
        assert!((found.too_large - 1.0).abs() < 1e-12, "seed {seed}");
        let p = random.point(1.0);
        assert!((found.placed * p - motion * p).norm() < 1e-9, "seed {seed}");
    }
}

/// Kabsch 1978 in closed form: in the plane the best turn of three pairs is atan2 of the sums of cross and dot products.
#[test]
fn noisy_pairs_in_a_plane_give_the_angle_of_the_closed_form() {
    let a = [[0.0, 0.0], [0.4, 0.1], [-0.1, 0.3], [0.2, -0.3]];
    let b = [[0.11, 0.02], [0.39, 0.33], [-0.16, 0.27], [0.45, -0.16]];
    let mean = |s: &[[f64; 2]; 4], i: usize| s.iter().map(|p| p[i]).sum::<f64>() / 4.0;
    let (mut cross, mut dot) = (0.0, 0.0);
    for (p, q) in a.iter().zip(&b) {
        let p = [p[0] - mean(&a, 0), p[1] - mean(&a, 1)];
        let q = [q[0] - mean(&b, 0), q[1] - mean(&b, 1)];
        cross += p[0] * q[1] - p[1] * q[0];
        dot += p[0] * q[0] + p[1] * q[1];
    }
    let pairs: Vec<_> = a
        .iter()
        .zip(&b)
        .map(|(p, q)| (Point3::new(p[0], p[1], 0.0), Point3::new(q[0], q[1], 0.0)))
        .collect();
    let found = align(&pairs).unwrap();
    let turned = found.placed.rotation * nalgebra::Vector3::x();
    assert!((turned.y.atan2(turned.x) - cross.atan2(dot)).abs() < 1e-12);
    assert!(turned.z.abs() < 1e-12);
}

#[test]
fn a_mirror_image_is_never_turned_over() {
    let pairs = [
        [0.0, 0.0, 0.0],
        [0.3, 0.0, 0.0],
        [0.0, 0.2, 0.0],
        [0.0, 0.0, 0.1],
    ]
    .map(|[x, y, z]| (Point3::new(x, y, z), Point3::new(-x, y, z)));
    let found = align(&pairs).unwrap();
    let turn = found.placed.rotation.to_rotation_matrix();
    assert!((turn.matrix().determinant() - 1.0).abs() < 1e-12);
    assert!(found.rms() > 0.01);
}

#[test]
fn too_few_or_in_a_line_is_refused() {
    let p = |x: f64| (Point3::new(x, 0.0, 0.0), Point3::new(0.0, x, 0.0));
    assert_eq!(align(&[p(0.0), p(1.0)]), Err(AlignmentError::TooFew));
    assert_eq!(
        align(&[p(0.0), p(1.0), p(2.0)]),
        Err(AlignmentError::InALine)
    );
    assert_eq!(
        align(&[p(1.0), p(1.0), p(1.0)]),
        Err(AlignmentError::InALine)
    );
    let nan = [p(0.0), p(f64::NAN), p(2.0)];
    assert_eq!(align(&nan), Err(AlignmentError::NotFinite));
}

#[test]
fn the_scale_that_would_fit_is_told() {
    let pairs: Vec<_> = [[0.0, 0.0, 0.0], [0.3, 0.0, 0.1], [0.0, 0.2, 0.0]]
        .map(Point3::from)
        .into_iter()
        .map(|p| (p * 25.4, p))
        .collect();
    assert!((align(&pairs).unwrap().too_large - 25.4).abs() < 1e-9);
}
