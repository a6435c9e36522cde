//! Whole route files against an independent solver: tests/data/rod, made by the script that lies there
//! (Kirchhoff rod as a boundary value problem in quaternions, solved by collocation with `scipy.integrate.solve_bvp`,
//! `SciPy` 1.17.1, relative residual 1e-7; Kierzenka and Shampine, "A BVP solver based on residual control and the
//! MATLAB PSE", ACM TOMS 27(3), 2001). The rod is that of Antman, "Nonlinear Problems of Elasticity", chapter 8.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use neckloom::check::{self, Options};
use neckloom::machine::Joint;
use neckloom::read::route_file;
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::Route;

const SPANS: &str = include_str!("../data/rod/spans.csv");
const GAPS: &str = include_str!("../data/rod/gaps.csv");

/// How far neckloom may miss the reference.
#[derive(Debug, Clone, Copy)]
struct Tolerance {
    radius_pct: f64,
    slack_mm: f64,
    twist_deg: f64,
    gap_mm: f64,
    /// Of tension, beside [`Tolerance::tension_pct`] of it.
    tension_n: f64,
    tension_pct: f64,
}

/// Measured at the default settings: 0.012 %, 0.0001 mm, 0.003°, 0.004 mm, 0.002 N where nothing runs taut.
const HELD: Tolerance = Tolerance {
    radius_pct: 0.2,
    slack_mm: 0.01,
    twist_deg: 0.2,
    gap_mm: 0.05,
    tension_n: 0.005,
    tension_pct: 0.2,
};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/rod")
}

/// Rows of a table, by case, without comments and the heading.
fn by_case(table: &str) -> BTreeMap<&str, Vec<Vec<&str>>> {
    let mut cases: BTreeMap<&str, Vec<Vec<&str>>> = BTreeMap::new();
    let rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    for row in rows {
        let cells: Vec<&str> = row.split(',').collect();
        cases.entry(cells[0]).or_default().push(cells);
    }
    cases
}

fn number(cell: &str) -> f64 {
    cell.parse().unwrap()
}

/// The value of the one joint that moves, in degrees or millimetres; 0 where none does.
fn joint_value(route: &Route, solution: &Solution, pose: usize) -> f64 {
    let joints = &solution.sweep.poses[pose].joints;
    let mut values = route.machine.bodies.iter().zip(joints);
    let moved = values.find_map(|(body, value)| match body.joint {
        Joint::Fixed => None,
        Joint::Turns { .. } => Some(value.to_degrees()),
        Joint::Slides { .. } => Some(value * 1e3),
    });
    moved.unwrap_or(0.0)
}

fn solved(case: &str) -> (Route, Solution) {
    let route = route_file(&folder().join(format!("{case}.ron"))).unwrap();
    let solution = solve(&route, &Settings::default());
    (route, solution)
}

#[test]
fn every_pose_of_every_span() {
    let cases = by_case(SPANS);
    assert!(cases.len() >= 30, "{}", cases.len());
    for (case, rows) in cases {
        let (route, solution) = solved(case);
        let branch = &solution.branches[0];
        assert_eq!(
            rows.len(),
            solution.sweep.poses.len() * branch.spans.len(),
            "{case}: as many rows as poses and spans"
        );
        assert!(branch.snaps.is_empty(), "{case} jumps");
        for row in rows {
            let (span, joint) = (row[1].parse::<usize>().unwrap(), number(row[2]));
            let pose = (0..solution.sweep.poses.len())
                .find(|&pose| (joint_value(&route, &solution, pose) - joint).abs() < 1e-3)
                .unwrap_or_else(|| panic!("{case}: no pose at {joint}"));
            let shape = &branch.shapes[pose];
            let state = &shape.spans[span];
            let [radius, slack, tension, twist, strain_pct] =
                [3, 4, 5, 6, 7].map(|column| number(row[column]));
            let place = format!("{case}, span {span}, joint at {joint}");
            let near = |what: &str, found: f64, wanted: f64, tolerance: f64| {
                assert!(
                    (found - wanted).abs() <= tolerance,
                    "{place}: {what} {found}, reference {wanted}"
                );
            };
            assert!(shape.converged, "{place} did not converge");
            near(
                "radius",
                1e3 / state.curvature,
                radius,
                radius * HELD.radius_pct / 100.0,
            );
            near("slack", state.slack * 1e3, slack, HELD.slack_mm);
            near("twist", state.twist.to_degrees(), twist, HELD.twist_deg);
            // The reference is linear in the strain e; strain measures that agree to first order differ by 3/2 e.
            let law = 1.6 * strain_pct.max(0.0);
            near(
                "tension",
                state.tension,
                tension,
                HELD.tension_n + tension.abs() * (HELD.tension_pct + law) / 100.0,
            );
        }
    }
}

#[test]
fn least_gap_to_hot_parts() {
    let cases = by_case(GAPS);
    assert!(cases.len() >= 6, "{}", cases.len());
    for (case, rows) in cases {
        let (route, solution) = solved(case);
        let options = Options {
            spread: false,
            ..Options::default()
        };
        let findings = check::check(&route, &solution, &options);
        for row in rows {
            let gap = findings.nearest[0]
                .iter()
                .find(|gap| route.machine.parts[gap.part.0].name == row[1])
                .unwrap_or_else(|| panic!("{case}: nothing about {}", row[1]));
            let (found, wanted) = (gap.gap * 1e3, number(row[2]));
            assert!(
                (found - wanted).abs() <= HELD.gap_mm,
                "{case}: gap to {} is {found}, reference {wanted}",
                row[1]
            );
            let joint = joint_value(&route, &solution, gap.pose);
            assert!(
                (joint - number(row[3])).abs() < 1e-3,
                "{case}: nearest to {} at {joint}, reference {}",
                row[1],
                row[3]
            );
        }
    }
}
