//! Drawn through a part: it is said, and no more once the branch is led past.

use nalgebra::{Point3, Rotation3};
use neckloom::check::warnings;
use neckloom::geometry::Shape;
use neckloom::harness::BranchId;
use neckloom::machine::{Joint, PartId};
use neckloom::rod::{DrawnThrough, drawn_through};

use super::rig::{Rig, even};

const RADIUS: f64 = 0.012;

/// Bodies of the same width across the way, `aside` of the middle of it \[m\].
fn across(aside: f64) -> [Shape; 4] {
    let (left, right) = (
        Point3::new(0.05, -0.1, aside),
        Point3::new(0.05, 0.1, aside),
    );
    let diameter = 2.0 * RADIUS;
    [
        Shape::Ball {
            centre: Point3::new(0.05, 0.0, aside),
            diameter,
        },
        Shape::Tube {
            along: vec![left, right],
            diameter,
        },
        Shape::Cylinder {
            from: left,
            to: right,
            diameter,
        },
        Shape::Block {
            centre: Point3::new(0.05, 0.0, aside),
            size: [diameter, 0.2, diameter].into(),
            turned: Rotation3::identity(),
        },
    ]
}

/// Three fixings in line, a little slack between them; a part across the second span.
fn rig(shape: Shape, vias: &[[f64; 3]]) -> Rig {
    let along = Some([1.0, 0.0, 0.0]);
    let mut rig = Rig::new(Joint::Fixed, 0.0)
        .fix(0, [-0.2, 0.0, 0.0], along, 0.0)
        .fix(0, [-0.1, 0.0, 0.0], along, 0.1002)
        .part(shape);
    rig.fix_via(0, [0.2, 0.0, 0.0], along, 0.3002, vias);
    rig
}

#[test]
fn a_way_through_a_part_is_told() {
    let through = DrawnThrough {
        branch: BranchId(0),
        span: 1,
        part: PartId(0),
    };
    // A slack of 0.2 mm bulges the way by some 5 mm.
    for (aside, vias, told) in [
        (0.0, [].as_slice(), true),
        (-0.005, &[], true),
        (0.05, &[], false),
        (0.0, &[[0.05, 0.0, 0.03]], false),
        (0.0, &[[0.05, 0.0, -0.03]], false),
    ] {
        for shape in across(aside) {
            let what = format!("{shape:?}, {vias:?}");
            let rig = rig(shape, vias);
            let want = if told { vec![through] } else { Vec::new() };
            assert_eq!(drawn_through(&rig.route), want, "{what}");
            let said = warnings(&rig.route, &rig.solve(&even(12)));
            let names = said.iter().any(|words| {
                let through =
                    words.contains("from T2 to T3") && words.contains("runs through \"part\"");
                through && words.contains("`Via`")
            });
            assert_eq!(names, told, "{what}: {said:?}");
        }
    }
}
