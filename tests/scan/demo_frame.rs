//! What the invented tourer's frame is made of where it is scanned, and roughly where its harness is laid.

use nalgebra::{Point3, Vector3};
use neckloom::geometry::Shape;

pub(super) fn p(x: f64, y: f64, z: f64) -> Point3<f64> {
    Point3::new(x * 1e-3, y * 1e-3, z * 1e-3)
}

fn tube(along: &[(f64, f64, f64)], diameter: f64) -> Shape {
    Shape::Tube {
        along: along.iter().map(|&(x, y, z)| p(x, y, z)).collect(),
        diameter: diameter * 1e-3,
    }
}

fn slab(centre: Point3<f64>, size: (f64, f64, f64)) -> Shape {
    let size = Vector3::new(size.0, size.1, size.2) * 1e-3;
    let (normal, along) = (Vector3::z(), Vector3::x());
    Shape::slab(centre, normal, along, size.x, size.y, size.z).unwrap()
}

/// What is scanned, of the frame without seat, engine and fork. Tanks are taken by their undersides.
pub(super) fn frame() -> Vec<Shape> {
    let both = |along: &[(f64, f64, f64)], diameter: f64| {
        [1.0, -1.0].map(|side| {
            let along: Vec<_> = along.iter().map(|&(x, y, z)| (x, side * y, z)).collect();
            tube(&along, diameter)
        })
    };
    let mut shapes = vec![
        Shape::Cylinder {
            from: p(5.0, 0.0, -9.0),
            to: p(85.0, 0.0, -147.0),
            diameter: 0.052,
        },
        tube(
            &[
                (60.0, 0.0, -104.0),
                (-180.0, 0.0, -62.0),
                (-430.0, 0.0, -98.0),
            ],
            46.0,
        ),
        tube(&[(-610.0, -120.0, -84.0), (-610.0, 120.0, -84.0)], 24.0),
        tube(&[(-410.0, -64.0, -105.0), (-410.0, 64.0, -105.0)], 24.0),
        slab(p(-262.0, 108.0, -68.5), (330.0, 120.0, 3.0)),
        slab(p(-262.0, -108.0, -68.5), (330.0, 120.0, 3.0)),
    ];
    shapes.extend(both(
        &[
            (-410.0, 60.0, -105.0),
            (-600.0, 124.0, -78.0),
            (-900.0, 124.0, -30.0),
        ],
        26.0,
    ));
    shapes.extend(both(
        &[
            (72.0, 24.0, -128.0),
            (95.0, 135.0, -300.0),
            (30.0, 165.0, -520.0),
        ],
        32.0,
    ));
    shapes
}

/// The lines along which the harness is laid, roughly.
pub(super) fn harness_lines() -> Vec<Shape> {
    vec![
        tube(
            &[
                (-760.0, 20.0, -112.0),
                (-545.0, 20.0, -108.0),
                (-400.0, 5.0, -52.0),
                (-170.0, 30.0, -40.0),
                (-48.0, 4.0, 102.0),
            ],
            1.0,
        ),
        tube(
            &[
                (-330.0, 0.0, -42.0),
                (-170.0, -30.0, -40.0),
                (-62.0, -8.0, 102.0),
            ],
            1.0,
        ),
        tube(
            &[
                (-110.0, 300.0, 170.0),
                (-45.0, 60.0, 165.0),
                (-50.0, -60.0, 165.0),
                (-110.0, -300.0, 170.0),
            ],
            1.0,
        ),
        tube(
            &[
                (-45.0, 60.0, 165.0),
                (60.0, 30.0, 130.0),
                (85.0, 30.0, -40.0),
            ],
            1.0,
        ),
        tube(
            &[
                (60.0, 30.0, 130.0),
                (60.0, 131.0, 10.0),
                (235.0, 131.0, -330.0),
            ],
            1.0,
        ),
        tube(
            &[
                (-470.0, 14.0, -85.0),
                (-390.0, 100.0, -150.0),
                (-290.0, 150.0, -440.0),
            ],
            1.0,
        ),
        tube(
            &[
                (-470.0, 14.0, -85.0),
                (-400.0, 34.0, -160.0),
                (-120.0, 60.0, -140.0),
            ],
            1.0,
        ),
        tube(
            &[
                (-470.0, 14.0, -85.0),
                (-400.0, -30.0, -160.0),
                (-30.0, -75.0, -150.0),
            ],
            1.0,
        ),
        tube(&[(-470.0, 14.0, -85.0), (-510.0, -105.0, -180.0)], 1.0),
        tube(&[(-620.0, 20.0, -116.0), (-500.0, -70.0, -110.0)], 1.0),
        tube(
            &[
                (-620.0, 20.0, -116.0),
                (-760.0, 70.0, -85.0),
                (-1000.0, 0.0, -50.0),
            ],
            1.0,
        ),
        tube(
            &[
                (-620.0, 20.0, -116.0),
                (-700.0, 110.0, -160.0),
                (-985.0, 110.0, -540.0),
            ],
            1.0,
        ),
    ]
}
