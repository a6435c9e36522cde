//! The poses of a sweep and the walk through them.

use nalgebra::{Point3, Vector3};
use neckloom::machine::{Body, BodyId, Joint, Machine, Pose, Sweep};

fn steering(from: f64, to: f64) -> Joint {
    Joint::steering(Point3::origin(), 0.5, from.to_radians(), to.to_radians())
}

fn slides(from: f64, to: f64) -> Joint {
    Joint::Slides {
        along: -Vector3::z_axis(),
        from,
        to,
    }
}

fn machine(joints: &[(&str, Joint)]) -> Machine {
    let bodies = joints.iter().enumerate().map(|(i, (name, joint))| Body {
        name: (*name).to_owned(),
        on: (i > 0).then_some(BodyId(0)),
        joint: *joint,
        said: None,
    });
    Machine {
        bodies: bodies.collect(),
        parts: Vec::new(),
    }
}

/// What every sweep must keep: the walk visits each pose once, rest first, each from one already solved and,
/// unless it is a corner, one step away; no pose stands twice; every joint within its stops.
fn sound(machine: &Machine, sweep: &Sweep) {
    let mut solved = vec![false; sweep.poses.len()];
    assert_eq!(sweep.poses[sweep.rest].joints, machine.rest());
    assert_eq!(sweep.walk.len(), sweep.poses.len());
    for (i, step) in sweep.walk.iter().enumerate() {
        assert!(!solved[step.to], "pose {} twice", step.to);
        solved[step.to] = true;
        match step.from {
            None => assert!(i == 0 && step.to == sweep.rest && !step.straight_on),
            Some(from) => {
                assert!(i > 0 && solved[from] && from != step.to);
                if step.straight_on {
                    let before = sweep
                        .walk
                        .iter()
                        .find(|s| s.to == from)
                        .unwrap()
                        .from
                        .unwrap();
                    let joints = |pose: usize| sweep.poses[pose].joints.clone();
                    for ((a, b), c) in joints(before).iter().zip(joints(from)).zip(joints(step.to))
                    {
                        // Equal steps of one joint.
                        assert!((c - b - (b - a)).abs() < 1e-12);
                    }
                }
            }
        }
    }
    for (i, pose) in sweep.poses.iter().enumerate() {
        assert!(!sweep.poses[..i].contains(pose), "pose {i} stands twice");
        for (value, body) in pose.joints.iter().zip(&machine.bodies) {
            let (from, to) = body.joint.stops();
            assert!((from..=to).contains(value));
        }
    }
}

fn degrees(sweep: &Sweep, body: usize) -> Vec<f64> {
    let values = sweep.poses.iter().map(|p| p.joints[body].to_degrees());
    values.map(|v| (v * 1e9).round() / 1e9).collect()
}

#[test]
fn steering_alone() {
    let machine = machine(&[("frame", Joint::Fixed), ("steering", steering(-38.0, 38.0))]);
    let sweep = Sweep::of(&machine);
    sound(&machine, &sweep);
    let expected: Vec<f64> = (-19..=19).map(|i| 2.0 * f64::from(i)).collect();
    assert_eq!(degrees(&sweep, 1), expected);
    assert_eq!(sweep.rest, 19);
    // Two steps of the walk start from rest; all others go straight on.
    assert_eq!(sweep.walk.iter().filter(|s| !s.straight_on).count(), 3);
    assert_eq!(sweep.poses[0].label(&machine), "steering 38° right");
    assert_eq!(sweep.poses[19].label(&machine), "steering straight");
    assert_eq!(sweep.poses[38].label(&machine), "steering 38° left");
}

#[test]
fn unequal_stops_and_stops_on_one_side() {
    let cases: [(f64, f64, &[f64]); 5] = [
        (
            -3.0,
            5.0,
            &[-3.0, -1.5, 0.0, 1.666_666_667, 3.333_333_333, 5.0],
        ),
        (5.0, 9.5, &[5.0, 6.5, 8.0, 9.5]),
        (-9.5, -5.0, &[-9.5, -8.0, -6.5, -5.0]),
        (0.0, 1.0, &[0.0, 1.0]),
        (7.0, 7.0, &[7.0]),
    ];
    for (from, to, expected) in cases {
        let machine = machine(&[("frame", Joint::Fixed), ("steering", steering(from, to))]);
        let sweep = Sweep::of(&machine);
        sound(&machine, &sweep);
        assert_eq!(degrees(&sweep, 1), expected, "{from} to {to}");
        // The stops themselves, not what rounding makes of them.
        let (low, high) = machine.bodies[1].joint.stops();
        assert!(sweep.poses.iter().any(|p| p.joints == [0.0, low]));
        assert!(sweep.poses.iter().any(|p| p.joints == [0.0, high]));
    }
}

/// Ids: the first turning joint although the seat stands before it, then the seat, then the corners that are
/// not yet poses.
#[test]
fn steering_and_seat() {
    let machine = machine(&[
        ("frame", Joint::Fixed),
        ("seat", slides(0.0, 0.012)),
        ("steering", steering(-4.0, 4.0)),
    ]);
    let sweep = Sweep::of(&machine);
    sound(&machine, &sweep);
    assert_eq!(degrees(&sweep, 2)[..5], [-4.0, -2.0, 0.0, 2.0, 4.0]);
    assert_eq!(sweep.rest, 2);
    let seat: Vec<f64> = sweep.poses[5..10]
        .iter()
        .map(|p| (p.joints[1] * 1e7).round() / 1e4)
        .collect();
    assert_eq!(seat, [2.4, 4.8, 7.2, 9.6, 12.0]);
    let labels: Vec<String> = sweep.poses[10..]
        .iter()
        .map(|p| p.label(&machine))
        .collect();
    assert_eq!(
        labels,
        [
            "seat 12 mm, steering 4° right",
            "seat 12 mm, steering 4° left"
        ]
    );
    // Two steps from the pressed seat rather than five from the turned steering.
    assert!(
        sweep.walk[10..]
            .iter()
            .all(|step| step.from == Some(9) && !step.straight_on)
    );
    assert_eq!(
        sweep.poses[7].label(&machine),
        "seat 7.2 mm, steering straight"
    );
}

#[test]
fn sliding_both_ways_takes_five_steps_at_least() {
    for (from, to) in [(-0.01, 0.03), (0.0, 0.1), (-0.1, 0.0), (0.02, 0.05)] {
        let machine = machine(&[("fork", slides(from, to))]);
        let sweep = Sweep::of(&machine);
        sound(&machine, &sweep);
        assert!(sweep.poses.len() >= 6, "{} poses", sweep.poses.len());
        assert!(
            sweep
                .poses
                .windows(2)
                .all(|w| w[0].joints[0] < w[1].joints[0])
        );
        let widest = sweep
            .poses
            .windows(2)
            .map(|w| w[1].joints[0] - w[0].joints[0])
            .fold(0.0, f64::max);
        assert!(widest <= (to - from) / 5.0 + 1e-12);
    }
}

#[test]
fn nothing_moves() {
    for machine in [
        machine(&[]),
        machine(&[("frame", Joint::Fixed), ("seat", slides(0.01, 0.01))]),
    ] {
        let sweep = Sweep::of(&machine);
        sound(&machine, &sweep);
        assert_eq!(
            sweep.poses,
            [Pose {
                joints: machine.rest()
            }]
        );
        assert_eq!(sweep.poses[0].label(&machine), "at rest");
    }
}

#[test]
fn corners_of_many_joints() {
    let names = ["a", "b", "c", "d", "e", "f", "g", "h"];
    for count in 1..=8 {
        let joints: Vec<(&str, Joint)> = names[..count]
            .iter()
            .map(|n| (*n, steering(-2.0, 2.0)))
            .collect();
        let machine = machine(&joints);
        let sweep = Sweep::of(&machine);
        sound(&machine, &sweep);
        let corners = if count == 1 { 0 } else { 1 << count.min(6) };
        assert_eq!(sweep.poses.len(), 1 + 2 * count + corners);
        // Those that matter, although they are the last.
        let matter = vec![BodyId(count - 1), BodyId(0)];
        let few = Sweep::with_corners(&machine, &[matter]);
        sound(&machine, &few);
        assert_eq!(
            few.poses.len(),
            1 + 2 * count + if count == 1 { 0 } else { 4 }
        );
    }
}

#[test]
fn labels_name_the_side_for_upright_axes_only() {
    let hinge = |axis: Vector3<f64>| Joint::Turns {
        through: Point3::origin(),
        axis: nalgebra::UnitVector3::new_normalize(axis),
        from: -1.0,
        to: 1.0,
    };
    let machine = machine(&[
        ("steering", hinge(Vector3::new(-0.5, 0.0, 0.866))),
        ("hanging", hinge(Vector3::new(0.0, 0.0, -1.0))),
        ("swing arm", hinge(Vector3::y())),
    ]);
    let label = |degrees: [f64; 3]| {
        Pose {
            joints: degrees.map(f64::to_radians).to_vec(),
        }
        .label(&machine)
    };
    assert_eq!(
        label([12.5, 3.0, -4.0]),
        "steering 12.5° left, hanging 3° right, swing arm -4°"
    );
    assert_eq!(
        label([-0.001, -3.0, 0.001]),
        "steering straight, hanging 3° left"
    );
}

#[test]
fn wider_steps_keep_the_stops_the_rest_and_the_corners() {
    let machine = machine(&[
        ("frame", Joint::Fixed),
        ("steering", steering(-38.0, 38.0)),
        ("seat", slides(0.0, 0.008)),
    ]);
    let groups = [machine.moving()];
    let all = Sweep::with_corners(&machine, &groups);
    for stride in [1.0, 2.0, 4.0, 40.0] {
        let some = Sweep::with_steps(&machine, &groups, stride);
        sound(&machine, &some);
        assert_eq!(some.poses[some.rest], all.poses[all.rest]);
        assert!(some.poses.len() <= all.poses.len());
        for joints in [
            [-38.0, 0.0],
            [38.0, 0.0],
            [-38.0, 8e-3],
            [38.0, 8e-3],
            [0.0, 8e-3],
        ] {
            let there = |pose: &Pose| {
                (pose.joints[1].to_degrees() - joints[0]).abs() < 1e-9
                    && (pose.joints[2] - joints[1]).abs() < 1e-12
            };
            assert!(some.poses.iter().any(there), "stride {stride}: {joints:?}");
        }
    }
    let wide = Sweep::with_steps(&machine, &groups, 4.0);
    assert!(3 * wide.poses.len() < all.poses.len());
}
