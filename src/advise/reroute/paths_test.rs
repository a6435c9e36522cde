//! Ways against closed forms, and classes told apart.
#![allow(
    clippy::unwrap_used,
    clippy::manual_range_contains,
    reason = "a test that cannot go on should stop; bounds read as they are meant"
)]

use nalgebra::{Point3, Rotation3, Vector3};

use super::field::{Field, Grid, Seen};
use super::paths::{Search, between, length, same_class};
use super::taut::taut;
use crate::check::Limits;
use crate::geometry::Shape;
use crate::machine::{Body, BodyId, Joint, Machine, Part, Sweep};

fn machine(shapes: Vec<Shape>) -> Machine {
    let part = |(nth, shape)| Part {
        name: format!("part {nth}"),
        on: BodyId(0),
        shape,
        surface: None,
        emissivity: None,
        edge: None,
        carries: None,
    };
    Machine {
        bodies: vec![Body {
            name: "frame".to_owned(),
            on: None,
            joint: Joint::Fixed,
            said: None,
        }],
        parts: shapes.into_iter().enumerate().map(part).collect(),
    }
}

/// Runs `with` on the field of a machine for a bundle of radius 4 mm; 2 mm are kept beside it.
fn in_field(machine: &Machine, cell: f64, with: impl FnOnce(&Field<'_>)) {
    let sweep = Sweep::of(machine);
    let stances: Vec<_> = sweep
        .poses
        .iter()
        .map(|pose| machine.stance(&pose.joints))
        .collect();
    let rest = machine.stance(&machine.rest());
    let limits = Limits::new(&[]);
    let seen = Seen {
        machine,
        stances: &stances,
        rest: &rest,
        limits: &limits,
        radius: 0.004,
        doubt: 0.0,
    };
    let grid = Grid::over(
        Point3::new(-0.25, -0.15, -0.15),
        Point3::new(0.25, 0.15, 0.15),
        cell,
    );
    with(&Field::new(&seen, BodyId(0), grid));
}

const KEPT: f64 = 0.006;

fn pillar() -> Shape {
    Shape::Cylinder {
        from: Point3::new(0.0, 0.0, -1.0),
        to: Point3::new(0.0, 0.0, 1.0),
        diameter: 0.08,
    }
}

/// Around a circle of radius R between two points at distances a and b on opposite sides: √(a²−R²) + √(b²−R²) +
/// R (π − acos(R/a) − acos(R/b)), tangent, arc, tangent.
#[test]
fn around_a_cylinder_the_way_is_tangent_arc_tangent() {
    let machine = machine(vec![pillar()]);
    let (a, b, r) = (0.16, 0.12, 0.04 + KEPT);
    let exact = (a * a - r * r).sqrt()
        + (b * b - r * r).sqrt()
        + r * (std::f64::consts::PI - (r / a).acos() - (r / b).acos());
    for cell in [0.008, 0.012] {
        in_field(&machine, cell, |field| {
            let ends = [Point3::new(-a, 0.0, 0.0), Point3::new(b, 0.0, 0.0)];
            let way = Search::new(field, ends).way().unwrap();
            let taut = taut(field, &way);
            let error = length(&taut) - exact;
            assert!(
                error.abs() < 0.002 * exact,
                "cell {cell}: {} against {exact}",
                length(&taut)
            );
            assert!(taut.iter().all(|p| field.room(p).0 > -2e-4));
        });
    }
}

/// Around the long edge of a box the kept distance makes a quarter cylinder of its radius: two tangents and an arc about
/// the corner, which the way goes about on the outside.
#[test]
fn around_a_box_corner_the_way_is_tangent_arc_tangent() {
    // The box fills x > 0, y < 0 near its corner at the origin.
    let block = Shape::Block {
        centre: Point3::new(0.5, -0.5, 0.0),
        size: Vector3::new(1.0, 1.0, 2.0),
        turned: Rotation3::identity(),
    };
    let machine = machine(vec![block]);
    let (p, q) = (Point3::new(-0.02, -0.12, 0.0), Point3::new(0.14, 0.02, 0.0));
    let (a, b): (f64, f64) = (p.coords.norm(), q.coords.norm());
    let angle = std::f64::consts::TAU - p.coords.angle(&q.coords);
    let exact = (a * a - KEPT * KEPT).sqrt()
        + (b * b - KEPT * KEPT).sqrt()
        + KEPT * (angle - (KEPT / a).acos() - (KEPT / b).acos());
    for cell in [0.008, 0.011] {
        in_field(&machine, cell, |field| {
            let way = Search::new(field, [p, q]).way().unwrap();
            let taut = taut(field, &way);
            let error = length(&taut) - exact;
            assert!(
                error.abs() < 0.002 * exact,
                "cell {cell}: {} against {exact}",
                length(&taut)
            );
        });
    }
}

#[test]
fn both_sides_of_an_obstacle_are_found_and_told_apart() {
    let machine = machine(vec![pillar()]);
    in_field(&machine, 0.01, |field| {
        let ends = [Point3::new(-0.15, 0.0, 0.0), Point3::new(0.15, 0.0, 0.0)];
        let ways = Search::new(field, ends).classes(4, &|| false);
        // A pillar through the whole space has two sides and no more.
        assert_eq!(ways.len(), 2, "{}", ways.len());
        assert!(!same_class(field, &ways[0], &ways[1]));
        let side = |way: &[Point3<f64>]| way[way.len() / 2].y > 0.0;
        assert_ne!(side(&ways[0]), side(&ways[1]));
        let stands = between(field, &ways[0], &ways[1]).unwrap();
        assert!(stands.coords.xy().norm() < 0.046);
        // A wiggle is the same way.
        let wiggled: Vec<_> = ways[0]
            .iter()
            .enumerate()
            .map(|(i, p)| {
                p + (p.coords.xy().normalize().push(0.0)) * if i % 7 == 3 { 0.01 } else { 0.0 }
            })
            .collect();
        assert!(same_class(field, &ways[0], &wiggled));
    });
}

/// The grid holds what the exact room is in the middle of its cells.
#[test]
fn the_grid_is_exact_in_its_cells() {
    let ball = Shape::Ball {
        centre: Point3::new(0.05, 0.03, -0.02),
        diameter: 0.07,
    };
    let machine = machine(vec![pillar(), ball]);
    in_field(&machine, 0.009, |field| {
        for index in (0..field.grid.len()).step_by(17) {
            let room = field.room(&field.grid.point(index)).0;
            let held = field.room_in(index);
            // Inside a part only the sign counts.
            if room > 0.0 && room < super::field::ENOUGH {
                assert!((room - held).abs() < 1e-7, "{room} against {held}");
            } else {
                assert!(held <= 0.0 || held >= super::field::ENOUGH - 1e-7);
            }
        }
    });
}

/// A part that turns takes all the room that it sweeps.
#[test]
fn what_turns_sweeps_the_room() {
    let mut machine = machine(vec![]);
    machine.bodies.push(Body {
        name: "steering".to_owned(),
        on: Some(BodyId(0)),
        joint: Joint::Turns {
            through: Point3::origin(),
            axis: Vector3::z_axis(),
            from: -0.5,
            to: 0.5,
        },
        said: None,
    });
    machine.parts.push(Part {
        name: "ear".to_owned(),
        on: BodyId(1),
        shape: Shape::Ball {
            centre: Point3::new(0.1, 0.0, 0.0),
            diameter: 0.02,
        },
        surface: None,
        emissivity: None,
        edge: None,
        carries: None,
    });
    in_field(&machine, 0.01, |field| {
        for angle in [-0.5_f64, 0.0, 0.5] {
            let (s, c) = angle.sin_cos();
            let away = 0.03;
            let p = Point3::new((0.1 + away) * c, (0.1 + away) * s, 0.0);
            // 7 mm are kept from what sweeps past.
            let exact = away - 0.01 - 0.004 - 0.007;
            assert!(
                (field.room(&p).0 - exact).abs() < 1e-9,
                "{angle}: {}",
                field.room(&p).0
            );
        }
    });
}
