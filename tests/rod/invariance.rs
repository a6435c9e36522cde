//! The same harness elsewhere, turned, mirrored or described from its other end gives the same numbers.

use nalgebra::{Matrix3, Point3, UnitQuaternion, UnitVector3, Vector3};
use neckloom::machine::Joint;
use neckloom::rod::{Settings, Shape};
use neckloom::route::Route;

use super::rig::{Rig, refined};
use crate::geometry::Random;

const TOLERANCE: f64 = 1e-6;
/// For a turned machine: the twist is summed up from a direction fixed in space, so its own error turns with it.
const TURNED: f64 = 5e-6;

/// A route put through x → A x + b, A orthogonal; joints keep their sense of turning on the body.
fn put(route: &Route, a: &Matrix3<f64>, b: &Vector3<f64>) -> Route {
    let mut route = route.clone();
    let point = |p: &Point3<f64>| Point3::from(a * p.coords + b);
    let unit = |v: &UnitVector3<f64>| UnitVector3::new_normalize(a * v.into_inner());
    for place in &mut route.places {
        place.at = point(&place.at);
    }
    for body in &mut route.machine.bodies {
        if let Joint::Turns { through, axis, .. } = &mut body.joint {
            *through = point(through);
            // An axis is a pseudovector: in a mirror it also turns about.
            *axis = UnitVector3::new_normalize(unit(axis).into_inner() * a.determinant());
        }
    }
    for lay in &mut route.branches[0].lay {
        lay.fixing.facing = lay.fixing.facing.as_ref().map(unit);
    }
    route
}

fn reversed(route: &Route) -> Route {
    let mut route = route.clone();
    let lay = &mut route.branches[0].lay;
    let lengths: Vec<_> = lay.iter().map(|l| (l.length, l.vias.clone())).collect();
    lay.reverse();
    let count = lay.len();
    for (i, entry) in lay.iter_mut().enumerate() {
        entry.fixing.facing = entry.fixing.facing.map(|f| -f);
        if i > 0 {
            let (length, mut vias) = lengths[count - i].clone();
            vias.reverse();
            (entry.length, entry.vias) = (length, vias);
        }
    }
    route
}

fn close(got: f64, want: f64, allowed: f64, what: &str) {
    assert!(
        (got - want).abs() < allowed,
        "{what}: {got} for {want} (allowed {allowed})"
    );
}

fn same(got: &Shape, want: &Shape, twist: f64, a: &Matrix3<f64>, pose: usize, tolerance: f64) {
    let force = want
        .holds
        .iter()
        .map(|h| h.force.norm())
        .fold(1e-9, f64::max);
    let moment = want
        .holds
        .iter()
        .map(|h| h.moment.norm())
        .fold(1e-9, f64::max);
    for (got, want) in got.spans.iter().zip(&want.spans) {
        close(
            got.curvature,
            want.curvature,
            tolerance * want.curvature,
            &format!("curvature, pose {pose}"),
        );
        close(got.slack, want.slack, tolerance, "slack");
        close(got.tension, want.tension, tolerance * force, "tension");
        close(got.strain, want.strain, tolerance, "strain");
        close(got.twist, twist * want.twist, 5.0 * tolerance, "twist");
    }
    for (got, want) in got.holds.iter().zip(&want.holds) {
        let off = (got.force - a * want.force).norm() / force;
        assert!(off < tolerance, "force, pose {pose}: {off:e} off");
        let turned = a * want.moment * a.determinant();
        let off = (got.moment - turned).norm() / moment;
        assert!(off < tolerance, "moment, pose {pose}: {off:e} off");
    }
}

fn two_spans(mass: f64) -> Rig {
    let lock = 40.0_f64.to_radians();
    let joint = Joint::steering(Point3::origin(), 30.0_f64.to_radians(), -lock, lock);
    Rig::new(joint, mass)
        .fix(0, [-0.2, 0.03, 0.02], Some([1.0, 0.1, 0.2]), 0.0)
        .fix(0, [-0.095, 0.028, 0.035], None, 0.115)
        .fix(1, [0.070, 0.025, 0.120], Some([0.0, 0.1, 1.0]), 0.232)
}

fn rigs(mass: f64) -> [Rig; 2] {
    [Rig::steered(0.232, mass), two_spans(mass)]
}

fn check(rig: &Rig, a: &Matrix3<f64>, b: &Vector3<f64>, settings: &Settings, tolerance: f64) {
    let want = rig.solved(settings);
    let moved = Rig {
        route: put(&rig.route, a, b),
    };
    let got = moved.solved(settings);
    let (got, want) = (&got.branches[0], &want.branches[0]);
    for (pose, (got, want)) in got.shapes.iter().zip(&want.shapes).enumerate() {
        same(got, want, a.determinant(), a, pose, tolerance);
    }
}

#[test]
fn moved() {
    for (mass, settings) in [(0.0, refined(1e-3)), (0.09, refined(1e-4))] {
        for rig in rigs(mass) {
            check(
                &rig,
                &Matrix3::identity(),
                &Vector3::new(10.0, -10.0, 10.0),
                &settings,
                TOLERANCE,
            );
        }
    }
}

#[test]
fn turned() {
    let mut random = Random::new(31);
    for _ in 0..4 {
        let turn = random.rotation().into_inner();
        for rig in rigs(0.0) {
            // The twist is summed up from a direction that does not turn along: its own error shows.
            check(&rig, &turn, &Vector3::zeros(), &refined(1e-6), TURNED);
        }
    }
    // With weight, about the vertical.
    let about = *UnitQuaternion::from_axis_angle(&Vector3::z_axis(), 1.1)
        .to_rotation_matrix()
        .matrix();
    for rig in rigs(0.09) {
        check(&rig, &about, &Vector3::zeros(), &refined(1e-6), TURNED);
    }
}

#[test]
fn mirrored() {
    let mirror = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, 1.0));
    for mass in [0.0, 0.09] {
        for rig in rigs(mass) {
            check(&rig, &mirror, &Vector3::zeros(), &refined(1e-3), TOLERANCE);
        }
    }
}

/// A span longer than its way, straight up and down: nothing but the machine's own axes tells to which side it goes.
#[test]
fn straight_down_to_the_same_side() {
    let joint = Joint::steering(Point3::origin(), 30.0_f64.to_radians(), -0.2, 0.2);
    let rig = Rig::new(joint, 0.09)
        .fix(0, [-0.1, 0.02, 0.2], Some([0.0, 0.0, -1.0]), 0.0)
        .fix(0, [-0.1, 0.02, 0.0], Some([0.0, 0.0, -1.0]), 0.23);
    let mirror = Matrix3::from_diagonal(&Vector3::new(1.0, -1.0, 1.0));
    for turned in [0.4, 1.1, 2.0, 3.1] {
        let about = *UnitQuaternion::from_axis_angle(&Vector3::z_axis(), turned)
            .to_rotation_matrix()
            .matrix();
        for stands in [about, about * mirror] {
            let settings = refined(1e-4);
            check(&rig, &stands, &Vector3::zeros(), &settings, TURNED);
        }
    }
}

#[test]
fn from_the_other_end() {
    for mass in [0.0, 0.09] {
        for rig in rigs(mass) {
            let settings = refined(1e-4);
            let want = rig.solved(&settings);
            let other = Rig {
                route: reversed(&rig.route),
            };
            let got = other.solved(&settings);
            for (pose, (got, want)) in got.branches[0]
                .shapes
                .iter()
                .zip(&want.branches[0].shapes)
                .enumerate()
            {
                let mut got = (**got).clone();
                got.spans.reverse();
                got.holds.reverse();
                same(&got, want, 1.0, &Matrix3::identity(), pose, TOLERANCE);
            }
        }
    }
}

/// Rounding of positions grows with how far away they are counted from. However far away a branch is told, no more of its
/// forces is left at rest than near by; solved where it stands, up to eleven times as much was,
/// thirty metres away.
#[test]
fn as_well_at_rest_far_away() {
    for stretch in [4e4, 1e7, 1e9] {
        let mut rig = Rig::steered(0.232, 0.09);
        rig.stiffness().stretch = stretch;
        let left = |away: f64| {
            let by = Vector3::new(0.6, -0.7, 0.4) * away;
            let moved = Rig {
                route: put(&rig.route, &Matrix3::identity(), &by),
            };
            let solution = moved.solved(&refined(1e-4));
            let shapes = solution.branches[0].shapes.iter();
            shapes.map(|shape| shape.residual).fold(0.0, f64::max)
        };
        let near = left(0.0);
        for away in [3.0, 30.0, 1000.0] {
            let far = left(away);
            assert!(
                far < 2.0 * near,
                "EA {stretch:e} N, {away} m away: {far:e}, near by {near:e}"
            );
        }
    }
}
