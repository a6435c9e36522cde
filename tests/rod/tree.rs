//! Breakouts: branches that meet in a rigid joint, all in one equilibrium.

use nalgebra::{Point3, Vector3};
use neckloom::read::route_text;
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::Route;

const STEERING: &str = r#"
    "frame": Fixed,
    "steering": Turns(on: "frame", through: (0, 0, 0), rake: "28 deg", from: "-38 deg", to: "38 deg"),
"#;

fn route(branches: &str) -> Route {
    let text = format!(
        r#"(format: 1, title: "a tree", units: (length: "mm", temperature: "degC"), tolerance: 3, tape_error: 6,
            bodies: {{ {STEERING} }}, branches: [ {branches} ])"#
    );
    route_text(&text, "tree.ron").unwrap_or_else(|faults| panic!("{faults}"))
}

const HARNESS: &str = r#"diameter: 9.5,
    stiffness: (bend: "0.004 N m2", twist: "0.0027 N m2", stretch: "40000 N", mass: "0.09 kg/m"),"#;

/// Forces and moments that the branches leave over at a breakout, each relative to the greatest there.
fn left_over(route: &Route, solution: &Solution, breakout: usize, pose: usize) -> (f64, f64) {
    let (mut force, mut moment) = (Vector3::zeros(), Vector3::zeros());
    let (mut most_force, mut most_moment) = (0.0_f64, 0.0_f64);
    for meeting in &route.breakouts[breakout].meets {
        let hold = &solution.branches[meeting.branch.0].shapes[pose].holds[meeting.lay];
        force += hold.force;
        moment += hold.moment;
        most_force = most_force.max(hold.force.norm());
        most_moment = most_moment.max(hold.moment.norm());
    }
    (force.norm() / most_force, moment.norm() / most_moment)
}

/// A breakout that only one branch runs through holds nothing: the branch lies as if it were not there, twist and all.
/// The lengths on both sides of it are loops: where along the branch it is must not matter.
#[test]
fn a_breakout_alone_changes_nothing() {
    let ends = |middle: &str| {
        format!(
            r#"(name: "neck", {HARNESS} lay: [
                Clamp(name: "T1", on: "frame", at: (-95, 28, 35), facing: (1, 0, 0.2)),
                {middle}
            ])"#
        )
    };
    let last = |length: f64| {
        format!(
            r#"Clamp(name: "T2", on: "steering", at: (70, 25, 120), facing: (0, 0, 1), length: {length})"#
        )
    };
    let whole = route(&ends(&last(260.0)));
    let settings = Settings::default();
    let plain = solve(&whole, &settings);
    for share in [0.2, 0.5, 0.85] {
        let first = 260.0 * share;
        let drawn = "at: (0, 30, 60), facing: (1, 0, 0.4),";
        let middle = format!(
            r#"Breakout(name: "Y", {drawn} length: {first}), {}"#,
            last(260.0 - first)
        );
        let cut = route(&ends(&middle));
        let solved = solve(&cut, &settings);
        for (pose, (a, b)) in plain.branches[0]
            .shapes
            .iter()
            .zip(&solved.branches[0].shapes)
            .enumerate()
        {
            assert!(b.converged, "share {share}, pose {pose}");
            for i in 0..=20 {
                let at = 0.26 * f64::from(i) / 20.0;
                let off = (a.curve.position(at) - b.curve.position(at)).norm();
                assert!(off < 2e-5, "share {share}, pose {pose}, at {at}: {off:e} m");
            }
            let twist =
                |spans: &[neckloom::rod::SpanState]| spans.iter().map(|s| s.twist).sum::<f64>();
            let off = twist(&a.spans) - twist(&b.spans);
            assert!(
                off.abs() < 2e-4,
                "share {share}, pose {pose}: twist {off} rad"
            );
            for end in [0, 1] {
                let (hold, other) = (a.holds[end], b.holds[2 * end]);
                assert!((hold.force - other.force).norm() < 1e-3 * hold.force.norm());
                assert!((hold.moment - other.moment).norm() < 1e-3 * hold.moment.norm());
            }
        }
    }
}

/// Three strings that pull equally meet at 120° (statics: three equal forces in balance). Anchors stand at different
/// distances about the knot, each string is shorter than its distance by the same share, so their tensions are equal
/// there and nowhere else. The stiffer the strings bend, the less exact; the knot is drawn elsewhere.
#[test]
fn strings_meet_at_120_degrees() {
    let knot = Point3::new(20.0, -10.0, 15.0);
    for (bend, tolerance) in [(1e-7, 5e-5), (1e-9, 5e-6)] {
        let mut branches = String::new();
        for (i, distance) in [120.0, 180.0, 240.0].into_iter().enumerate() {
            let angle = f64::from(u32::try_from(i).unwrap()) * std::f64::consts::TAU / 3.0 + 0.4;
            let out = Vector3::new(angle.cos(), 0.6 * angle.sin(), 0.8 * angle.sin());
            let at = knot + out * distance;
            let length = distance / 1.01;
            branches += &format!(
                r#"(name: "s{i}", diameter: 2,
                    stiffness: (bend: "{bend} N m2", twist: "{bend} N m2", stretch: "100 N", mass: "0 kg/m"),
                    lay: [
                        Breakout(name: "knot", {}),
                        Tie(name: "A{i}", on: "frame", at: ({}, {}, {}), length: {length}),
                    ]),"#,
                if i == 0 { "at: (35, 0, 5)," } else { "" },
                at.x,
                at.y,
                at.z
            );
        }
        let route = route(&branches);
        let solution = solve(&route, &Settings::default());
        let pose = solution.sweep.rest;
        let at = solution.stances[pose].bodies[route.breakouts[0].body.0]
            * route.places[route.breakouts[0].place].at;
        let off = (at - knot * 1e-3).norm();
        assert!(off < tolerance, "bend {bend}: off by {off:e} m");
        let pulls: Vec<Vector3<f64>> = (0..3)
            .map(|b| solution.branches[b].shapes[pose].holds[0].force)
            .collect();
        for (a, b) in [(0, 1), (1, 2), (2, 0)] {
            let angle = pulls[a].angle(&pulls[b]).to_degrees();
            assert!((angle - 120.0).abs() < 0.05, "{angle}°");
            assert!(
                (pulls[a].norm() - 1.0).abs() < 2e-3,
                "{} N",
                pulls[a].norm()
            );
        }
    }
}

/// A harness of seven branches and three breakouts, one of them held in place: in every pose forces and moments balance
/// at each, and the branches keep the angles to each other in which they were drawn.
#[test]
fn a_tree_balances() {
    let thin = HARNESS.replace("9.5", "6").replace("0.004", "0.0015");
    let text = format!(
        r#"
        (name: "trunk", {HARNESS} lay: [
            Clamp(name: "F1", on: "frame", at: (-300, 20, 60), facing: (1, 0, 0)),
            Breakout(name: "B1", length: 150, branches: ["horn"]),
            Tie(name: "F2", on: "frame", at: (-60, 25, 40), length: 130),
            Breakout(name: "B2", length: 120, branches: ["left", "right", "lamp"]),
        ]),
        (name: "horn", {thin} lay: [Connector(name: "H", on: "frame", at: (-140, 80, -40), facing: (0.3, 1, 0), length: 140)]),
        (name: "left", {thin} lay: [Tie(name: "L", on: "steering", at: (60, 120, 130), facing: (0, 1, 0.2), length: 190)]),
        (name: "right", {thin} lay: [
            Breakout(name: "B3", on: "steering", at: (70, -40, 110), length: 140, branches: ["switch", "key"]),
        ]),
        (name: "lamp", {thin} lay: [Connector(name: "P", on: "steering", at: (120, 10, 60), facing: (1, 0, 0), length: 150)]),
        (name: "switch", {thin} lay: [Tie(name: "S", on: "steering", at: (40, -180, 150), length: 170)]),
        (name: "key", {thin} lay: [Clamp(name: "K", on: "steering", at: (20, -30, 160), facing: (-1, 0.2, 0.4), length: 90)]),
        "#
    );
    let route = route(&text);
    assert_eq!(route.breakouts.len(), 3);
    let solution = solve(&route, &Settings::default());
    for pose in 0..solution.sweep.poses.len() {
        for (b, breakout) in route.breakouts.iter().enumerate() {
            let (force, moment) = left_over(&route, &solution, b, pose);
            let held = breakout.name == "B3";
            assert!(
                held || force < 1e-6,
                "{}, pose {pose}: {force:e}",
                breakout.name
            );
            assert!(moment < 1e-6, "{}, pose {pose}: {moment:e}", breakout.name);
            // Held in place: it is where its body carries it.
            if held {
                let carried = solution.stances[pose].bodies[1] * route.places[breakout.place].at;
                let at = solution.stances[pose].bodies[breakout.body.0]
                    * route.places[breakout.place].at;
                assert!((carried - at).norm() < 1e-9);
            }
            let meets = &breakout.meets;
            let tangent = |m: usize, pose: usize| {
                let meeting = meets[m];
                let branch = &solution.branches[meeting.branch.0];
                let at = if meeting.lay == 0 {
                    0.0
                } else {
                    branch.spans[meeting.lay - 1].end()
                };
                branch.shapes[pose].curve.tangent(at)
            };
            for m in 1..meets.len() {
                let drawn = |m: usize| {
                    let lay = &route.branches[meets[m].branch.0].lay[meets[m].lay];
                    lay.fixing.facing.unwrap().into_inner()
                };
                let now = tangent(0, pose).angle(&tangent(m, pose));
                let want = drawn(0).angle(&drawn(m));
                assert!(
                    (now - want).abs() < 1e-6,
                    "{}: {now} for {want}",
                    breakout.name
                );
            }
        }
        for branch in &solution.branches {
            assert!(branch.shapes[pose].converged, "pose {pose}");
        }
    }
}
