//! Rigs that hardly make sense: no panic, nothing that is not a number, every pose there; what did not converge says so.

use nalgebra::{Point3, UnitVector3, Vector3};
use neckloom::geometry::Shape;
use neckloom::harness::{LengthRule, Stiffness};
use neckloom::machine::Joint;
use neckloom::rod::{Solution, solve};

use super::rig::{Rig, even, refined};
use crate::geometry::Random;

/// What may be left, relative to EI/L².
const LEFT: f64 = 1e-4;

/// The number of poses that were not found, where those that were have no more left than `left`.
fn sound(solution: &Solution, left: f64) -> Result<usize, String> {
    let mut unconverged = 0;
    let branch = &solution.branches[0];
    if branch.shapes.len() != solution.sweep.poses.len() {
        return Err("a pose is missing".into());
    }
    for (pose, shape) in branch.shapes.iter().enumerate() {
        unconverged += usize::from(!shape.converged);
        if shape.converged && (shape.residual.is_nan() || shape.residual >= left) {
            return Err(format!(
                "pose {pose} converged with residual {}",
                shape.residual
            ));
        }
        let spans = shape.spans.iter().flat_map(|s| {
            [
                s.curvature,
                s.curvature_at,
                s.slack,
                s.strain,
                s.tension,
                s.twist,
            ]
        });
        let holds = shape.holds.iter().flat_map(|h| {
            h.force
                .iter()
                .chain(h.moment.iter())
                .copied()
                .collect::<Vec<_>>()
        });
        let stations = shape.stations.iter().flat_map(|s| {
            [
                s.at,
                s.position.x,
                s.position.y,
                s.position.z,
                s.tangent.norm(),
                s.curvature,
                s.tension,
                s.contact,
            ]
        });
        for number in spans.chain(holds).chain(stations) {
            if !number.is_finite() {
                return Err(format!(
                    "pose {pose}: {number} (converged: {})",
                    shape.converged
                ));
            }
        }
        if shape.stations.is_empty() || shape.spans.len() != branch.spans.len() {
            return Err(format!("pose {pose} is not whole"));
        }
    }
    if branch.resolution.radius_error.is_nan() || branch.resolution.radius_error < 0.0 {
        return Err(format!("radius error {}", branch.resolution.radius_error));
    }
    Ok(unconverged)
}

/// One rig of the family; the seed is all that it depends on.
pub(super) fn odd(seed: u64) -> Rig {
    let mut random = Random::new(seed);
    let unit = [1e-3, 0.1, 1.0, 1e3][random.below(4)] * random.between(0.5, 2.0);
    let axis = random.direction();
    let joint = match random.below(3) {
        0 => Joint::Fixed,
        1 => Joint::Turns {
            through: random.point(unit),
            axis,
            from: -0.2,
            to: 0.3,
        },
        _ => Joint::Slides {
            along: axis,
            from: 0.0,
            to: 0.2 * unit,
        },
    };
    let mut rig = Rig::new(joint, [0.0, 0.09, 5.0][random.below(3)]);
    let stiffness = rig.stiffness();
    stiffness.bend = [1e-6, 4e-3, 1.0, 1e3][random.below(4)];
    stiffness.twist = stiffness.bend * [0.01, 0.7, 10.0][random.below(3)];
    stiffness.stretch = stiffness.bend / (unit * unit) * [1e2, 1e6, 1e9][random.below(3)];
    let mut at = random.vector(unit);
    let mut facing = random.direction().into_inner();
    let held = random.below(4) > 0;
    rig = rig.fix(0, at.into(), held.then(|| facing.into()), 0.0);
    for _ in 0..=random.below(2) {
        let step = match random.below(4) {
            0 => facing * unit,
            1 => facing * (1e-6 * unit),
            2 => -facing * (0.5 * unit),
            _ => random.vector(unit),
        };
        at += step;
        facing = match random.below(4) {
            0 => facing,
            1 => -facing,
            2 => Vector3::z(),
            _ => random.direction().into_inner(),
        };
        let distance = step.norm();
        let length = match random.below(6) {
            0 => distance,
            1 => 0.5 * distance,
            2 => distance * (1.0 + 1e-9),
            3 => 30.0 * distance.max(0.01 * unit),
            4 => 1.02 * distance,
            _ => distance * random.between(1.0, 3.0),
        };
        let held = random.below(4) > 0;
        rig = rig.fix(
            random.below(2),
            at.into(),
            held.then(|| facing.into()),
            length.max(1e-3 * unit),
        );
    }
    rig
}

#[test]
fn odd_rigs() {
    // To replay one case: NECKLOOM_SEED=… cargo test odd_rigs
    let replay = std::env::var("NECKLOOM_SEED")
        .ok()
        .and_then(|s| s.parse::<u64>().ok());
    // Of the first thousand, those too whose steps led to what is no number.
    let wild = [112, 113, 146, 159, 206, 334, 411, 518, 665, 722, 875];
    let first = (0..30).chain(wild).collect();
    let seeds: Vec<u64> = replay.map_or(first, |seed| vec![seed]);
    let mut faults = Vec::new();
    let (mut unconverged, mut poses) = (0, 0);
    for seed in seeds {
        let rig = odd(seed);
        for settings in [even(6), refined(1e-2)] {
            let solution = solve(&rig.route, &settings);
            poses += solution.sweep.poses.len();
            match sound(&solution, LEFT) {
                Ok(count) => unconverged += count,
                Err(fault) => faults.push(format!("seed {seed}, {settings:?}: {fault}")),
            }
        }
    }
    println!("{unconverged} of {poses} poses did not converge");
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(replay.is_some() || unconverged < poses, "some do converge");
}

/// A span of which nine tenths are missing cannot be solved by any machine that exists; the poses are there and say so or are true.
#[test]
fn absurd_lengths_are_reported() {
    for length in [0.001, 0.01, 2.0, 20.0] {
        let joint = Joint::Turns {
            through: Point3::origin(),
            axis: UnitVector3::new_normalize(Vector3::z()),
            from: -0.3,
            to: 0.3,
        };
        let rig = Rig::new(joint, 0.09)
            .fix(0, [-0.1, 0.0, 0.0], Some([1.0, 0.0, 0.0]), 0.0)
            .fix(1, [0.1, 0.02, 0.0], Some([1.0, 0.0, 0.3]), length);
        let solution = rig.solve(&even(8));
        let unconverged = sound(&solution, LEFT).unwrap();
        println!(
            "length {length}: {unconverged} of {} not converged",
            solution.sweep.poses.len()
        );
    }
}

/// Mistyped numbers make spans of many metres, or branches thinner than a hair: what is not found with so much work is given up,
/// and says so. Work in steps of one element, of which the most stubborn span of our own routes takes some 1e5.
#[test]
fn hopeless_rigs_are_given_up() {
    for (far, to_spare, diameter) in [(6.0, 0.006, 7e-3), (46.0, 0.2, 7e-3), (0.2, 0.03, 7e-5)] {
        let joint = Joint::steering(Point3::origin(), 0.5, -0.6, 0.6);
        let tube = Shape::Tube {
            along: vec![
                Point3::new(0.3 * far, -0.2, -0.01),
                Point3::new(0.3 * far, 0.2, -0.01),
            ],
            diameter: 0.04,
        };
        let mut rig = Rig::new(joint, 0.06)
            .fix(0, [-0.1, 0.0, 0.0], Some([1.0, 0.0, 0.0]), 0.0)
            .fix(1, [far, 0.2, 0.1], Some([-0.1, 0.2, 0.95]), 0.0)
            .part(tube);
        let branch = &mut rig.route.branches[0];
        branch.lay[1].length = LengthRule::Slack(to_spare);
        branch.diameter = diameter;
        let (bend, mass) = (rig.stiffness().bend, rig.stiffness().mass);
        let solution = rig.solve(&refined(1e-2));
        // Over many metres rounding of positions leaves more: no more than a ten-thousand-millionth of the weight, relative
        // to EI/L² that is.
        let weight = mass * 9.806_65 * far.powi(3) / bend;
        let unconverged = sound(&solution, LEFT.max(1e-10 * weight)).unwrap();
        let resolution = &solution.branches[0].resolution;
        println!("{far} m, {diameter} m thick: {unconverged} not converged, {resolution:?}");
        let work = resolution.newton_steps * resolution.elements;
        assert!(work < 1_000_000, "{far} m, {diameter} m thick: {work}");
    }
}

/// A thin branch strapped twice, one per cent longer than the way between: bows to all sides turn into each other with hardly
/// any force, and one of them is found, however it was measured.
#[test]
fn hardly_slack_spans_are_found() {
    let mut random = Random::new(3);
    let mut lost = Vec::new();
    for case in 0..200 {
        let step = Vector3::new(0.038_65, 0.002_46, -0.067_44) + random.vector(0.000_3);
        let facing = Some([0.5, 0.0, -0.866]);
        let mut rig = Rig::new(Joint::Fixed, 0.0149);
        *rig.stiffness() = Stiffness {
            bend: 5.1e-4,
            twist: 3.72e-4,
            stretch: 8.2e4,
            ..*rig.stiffness()
        };
        let length = step.norm() * (1.0 + random.between(0.008, 0.011));
        let rig = rig
            .fix(0, [0.0; 3], facing, 0.0)
            .fix(0, step.into(), facing, length);
        let solution = rig.solve(&refined(1e-2));
        if sound(&solution, LEFT).unwrap() > 0 {
            lost.push((case, step, length));
        }
    }
    assert!(lost.is_empty(), "{} lost: {lost:?}", lost.len());
}
