//! Several joints at once: the worst of a span that they all stretch stands where all are at an end together.
//!
//! A fixing on the fork's lower half turns with the steering and slides along its axis, so its straight distance from
//! a point on the frame has a closed form: d² = (h + s)² + r₁² + r₂² − 2·r₁·r₂·cos(φ + θ), with h the difference of
//! the heights along the axis, s the fork's travel, r the radii about the axis, φ the angle between the two.

use neckloom::check::{Options, check, report, warnings};
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};

/// Distance from the frame fixing to the one on the fork \[mm\]: the axis is upright through the origin.
fn distance(degrees: f64, travel: f64) -> f64 {
    let (a, b) = ([-120.0_f64, 40.0_f64, -60.0], [20.0_f64, 90.0_f64, -200.0]);
    let (r1, r2) = (a[0].hypot(a[1]), b[0].hypot(b[1]));
    let between = b[1].atan2(b[0]) - a[1].atan2(a[0]) + degrees.to_radians();
    let height = b[2] + travel - a[2];
    (height * height + r1 * r1 + r2 * r2 - 2.0 * r1 * r2 * between.cos()).sqrt()
}

const ROUTE: &str = r#"(
    format: 1, title: "Corners", units: (length: "mm", temperature: "degC"), tolerance: 2, tape_error: 6,
    bodies: {
        "frame": Fixed,
        "steering": Turns(on: "frame", through: (0, 0, 0), axis: (0, 0, 1), from: "-30 deg", to: "24 deg"),
        "seat": Slides(on: "frame", along: (0, 0, -1), from: 0, to: 12, said: "pressed"),
        "fork": Slides(on: "steering", along: (0, 0, 1), from: -40, to: 110, said: ("extended", "compressed")),
        "engine": Turns(on: "frame", through: (-200, 0, -300), axis: (0, 1, 0), from: "-2 deg", to: "2 deg",
            said: ("rocked back", "rocked forward")),
    },
    branches: [(name: "brake lamp", diameter: 5, lay: [
        Tie(name: "T1", on: "frame", at: (-120, 40, -60)),
        Tie(name: "T2", on: "fork", at: (20, 90, -200), length: 330),
    ])],
)"#;

#[test]
fn a_finding_names_the_combination_of_joints() {
    let route = route_text(ROUTE, "a.ron").unwrap_or_else(|faults| panic!("{faults}"));
    let solution = solve(&route, &Settings::default());
    let findings = check(
        &route,
        &solution,
        &Options {
            spread: false,
            ..Options::default()
        },
    );
    let report = report(&route, &solution, &findings);
    let poses = report["poses"].as_array().unwrap();
    let value = |pose: &serde_json::Value, joint: &str| pose["joints"][joint].as_f64().unwrap();
    // Every combination of the ends of all four joints is there.
    for corner in 0..16 {
        let end = |bit: usize, from: f64, to: f64| if corner >> bit & 1 == 0 { from } else { to };
        let wanted = [
            ("steering", end(0, -30.0, 24.0)),
            ("seat", end(1, 0.0, 12.0)),
            ("fork", end(2, -40.0, 110.0)),
            ("engine", end(3, -2.0, 2.0)),
        ];
        let there = poses.iter().any(|pose| {
            wanted
                .iter()
                .all(|(joint, v)| (value(pose, joint) - v).abs() < 1e-6)
        });
        assert!(there, "{wanted:?}");
    }
    // Each joint alone in steps: at least five for what slides, at most 2° for what turns.
    let alone = |joint: &str| {
        let others = ["steering", "seat", "fork", "engine"];
        let at_rest = |pose: &&serde_json::Value| {
            others
                .iter()
                .all(|o| *o == joint || value(pose, o).abs() < 1e-9)
        };
        poses.iter().filter(at_rest).count()
    };
    assert_eq!(
        [
            alone("steering"),
            alone("seat"),
            alone("fork"),
            alone("engine")
        ],
        [28, 6, 7, 3]
    );
    // Slack in every pose is the length less the closed-form distance; seat and engine do not matter to it.
    let span = &report["branches"][0]["spans"][0];
    let mut worst = (f64::INFINITY, 0);
    for (id, pose) in poses.iter().enumerate() {
        let slack = 330.0 - distance(value(pose, "steering"), value(pose, "fork"));
        let found = span["by_pose"][id]["slack_mm"].as_f64().unwrap();
        assert!((slack - found).abs() < 1e-3, "{pose}: {slack} {found}");
        assert_eq!(span["by_pose"][id]["converged"], true, "{pose}");
        if slack < worst.0 - 1e-6 {
            worst = (slack, id);
        }
    }
    assert_eq!(span["slack_least"]["pose"], worst.1);
    let words = "steering full right (30°), fork extended 40 mm";
    assert_eq!(
        poses[worst.1]["in_words"],
        format!("{words}, engine rocked back 2°")
    );
    let slack = report["findings"]
        .as_array()
        .unwrap()
        .iter()
        .find(|f| f["subject"] == "T1–T2 slack")
        .unwrap();
    assert!(
        slack["advice"]
            .as_str()
            .is_some_and(|advice| advice.contains(words) && !advice.contains("engine")),
        "{slack}"
    );
    assert_eq!(slack["pose_in_words"], poses[worst.1]["in_words"]);
    // The words of other corners, both ways.
    let all: Vec<&str> = poses
        .iter()
        .map(|pose| pose["in_words"].as_str().unwrap())
        .collect();
    assert!(all.contains(&"steering full left (24°), seat pressed 12 mm, fork compressed 110 mm, engine rocked forward 2°"), "{all:?}");
    assert!(
        all.contains(&"at rest") && all.contains(&"seat pressed 4.8 mm"),
        "{all:?}"
    );
}

/// Of more than six joints, each branch has the corners of those that can reach it, and says which it does not.
#[test]
fn many_joints_combine_by_branch() {
    let bodies: String = (0..9)
        .map(|i| {
            format!(
                "\"j{i}\": Slides(on: \"frame\", along: (0, 0, 1), from: 0, to: {}),\n",
                5 + i
            )
        })
        .collect();
    let branch = |name: &str, on: &[usize]| {
        let ties: String = on
            .iter()
            .enumerate()
            .map(|(n, body)| {
                let x = 120 * (n + 1);
                format!("Tie(name: \"{name}{n}\", on: \"j{body}\", at: ({x}, 0, 0), facing: (1, 0, 0), slack: 15),\n")
            })
            .collect();
        format!(
            "(name: \"{name}\", diameter: 5, lay: [Tie(name: \"{name}\", on: \"frame\", at: (0, 0, 0), facing: (1, 0, 0)),\n{ties}]),\n"
        )
    };
    let text = |branches: &str| {
        format!(
            "(format: 1, title: \"Many\", units: (length: \"mm\", temperature: \"degC\"), tolerance: 2, tape_error: 6,\n\
                 bodies: {{ \"frame\": Fixed,\n{bodies} }}, branches: [{branches}])"
        )
    };
    let route = route_text(
        &text(&[branch("a", &[8, 2]), branch("b", &[5])].concat()),
        "a.ron",
    )
    .unwrap();
    assert_eq!(route.corner_groups().len(), 2);
    let solution = solve(&route, &Settings::default());
    let ends = |joints: &[(usize, f64)]| {
        solution.sweep.poses.iter().any(|pose| {
            (0..9).all(|j| {
                let wanted = joints
                    .iter()
                    .find(|(joint, _)| *joint == j)
                    .map_or(0.0, |(_, v)| *v);
                (pose.joints[j + 1] - wanted * 1e-3).abs() < 1e-12
            })
        })
    };
    assert!(ends(&[(8, 13.0), (2, 7.0)]) && ends(&[(5, 10.0)]));
    assert!(!ends(&[(8, 13.0), (5, 10.0)]), "no branch feels both");
    assert!(warnings(&route, &solution).is_empty());
    // Rest, five steps of each of nine, and the one new corner.
    assert_eq!(solution.sweep.poses.len(), 1 + 45 + 1);

    let route = route_text(&text(&branch("a", &[0, 1, 2, 3, 4, 5, 6, 7])), "a.ron").unwrap();
    let solution = solve(&route, &Settings::default());
    assert_eq!(solution.sweep.poses.len(), 1 + 45 + 64 - 7);
    let warnings = warnings(&route, &solution);
    assert!(
        warnings
            .iter()
            .any(|w| w.contains("\"j6\", \"j7\" is moved on its own")),
        "{warnings:?}"
    );
}

#[test]
fn words_of_motion_have_faults_of_their_own() {
    let body = |said: &str| {
        ROUTE.replace(
            "from: 0, to: 12, said: \"pressed\"",
            &format!("from: -3, to: 12, said: {said}"),
        )
    };
    for (said, message) in [
        (
            "\"pressed\"",
            "`said` is one word, but this body moves both ways",
        ),
        ("\"\"", "`said` is empty"),
        ("(\"up\", \"down\", \"away\")", "`said` holds 3 words"),
        ("4", "`said` is a text"),
        ("(\"up\", 4)", "`said` is a text"),
    ] {
        let faults = route_text(&body(said), "a.ron").expect_err(said);
        assert!(
            faults
                .faults
                .iter()
                .any(|fault| fault.message.contains(message)),
            "{said}: {faults}"
        );
    }
    assert!(route_text(&body("(\"up\", \"down\")"), "a.ron").is_ok());
}
