//! A changed route, and the text of the file with the same change.

use nalgebra::{Point3, Rotation3, Unit, Vector3};
use neckloom::geometry::Shape;
use neckloom::harness::{FixingKind, LengthRule};
use neckloom::read::{changed_text, route_file, route_text};
use neckloom::route::{Change, Route, Step, What};

use crate::geometry::Random;

/// What is the same to a tape is the same: a ten thousandth of a millimetre.
const SAME: f64 = 1e-6;

/// Everything that the solver and the checks look at, with positions in place of indices of places.
fn assert_same(a: &Route, b: &Route, why: &str) {
    assert_eq!(a.title, b.title, "{why}");
    let names = |route: &Route| -> Vec<String> {
        route
            .changes
            .iter()
            .map(|change| change.name.clone())
            .collect()
    };
    assert_eq!(names(a), names(b), "{why}");
    assert_eq!(a.branches.len(), b.branches.len(), "{why}");
    let rest = (
        a.machine.stance(&a.machine.rest()),
        b.machine.stance(&b.machine.rest()),
    );
    for (x, y) in a.branches.iter().zip(&b.branches) {
        assert_eq!(x.name, y.name, "{why}");
        assert_eq!(
            x.cover.is_some(),
            y.cover.is_some(),
            "{why}: cover of {}",
            x.name
        );
        assert!(
            (x.diameter - y.diameter).abs() < SAME,
            "{why}: {} {}",
            x.diameter,
            y.diameter
        );
        let stiffness = |s: &neckloom::harness::Stiffness| [s.bend, s.twist, s.stretch, s.mass];
        for (p, q) in stiffness(&x.stiffness)
            .into_iter()
            .zip(stiffness(&y.stiffness))
        {
            assert!(
                (p - q).abs() <= 1e-4 * p.abs(),
                "{why}: {p} {q} of {}",
                x.name
            );
        }
        assert_eq!(x.lay.len(), y.lay.len(), "{why}: {}", x.name);
        for (lay, (p, q)) in x.lay.iter().zip(&y.lay).enumerate() {
            let (f, g) = (&p.fixing, &q.fixing);
            let why = format!("{why}: {}", f.name);
            assert_eq!(f.name, g.name, "{why}");
            assert_eq!(
                a.machine.bodies[f.on.0].name, b.machine.bodies[g.on.0].name,
                "{why}"
            );
            if !a.is_drawn_only(f) {
                let (at, other) = (a.places[f.place].at, b.places[g.place].at);
                assert!((at - other).norm() < SAME, "{why}: {at} {other}");
            }
            match (f.facing, g.facing) {
                (Some(u), Some(v)) => assert!((*u - *v).norm() < 1e-5, "{why}: {u:?} {v:?}"),
                (u, v) => assert_eq!(u.is_some(), v.is_some(), "{why}"),
            }
            assert_eq!(
                std::mem::discriminant(&f.kind),
                std::mem::discriminant(&g.kind),
                "{why}"
            );
            if let (
                FixingKind::Tie { pull, loose, .. },
                FixingKind::Tie {
                    pull: r, loose: l, ..
                },
            ) = (f.kind, g.kind)
            {
                assert_eq!(loose, l, "{why}");
                assert!(
                    (pull.unwrap_or(0.0) - r.unwrap_or(0.0)).abs() < 1e-6,
                    "{why}"
                );
            }
            assert!(
                (f.width.unwrap_or(0.0) - g.width.unwrap_or(0.0)).abs() < SAME,
                "{why}"
            );
            assert_eq!(p.vias.len(), q.vias.len(), "{why}");
            for (v, w) in p.vias.iter().zip(&q.vias) {
                assert!(
                    (a.places[v.place].at - b.places[w.place].at).norm() < SAME,
                    "{why}"
                );
            }
            // Which fixings stand on the same point is the same.
            for (other, (r, s)) in x.lay.iter().zip(&y.lay).enumerate().skip(lay + 1) {
                let here = f.place == r.fixing.place;
                assert_eq!(here, g.place == s.fixing.place, "{why}, {other}");
            }
        }
        let lengths = |route: &Route, rest| -> Vec<f64> {
            let branch = route.branches.iter().find(|b| b.name == x.name).unwrap();
            route
                .spans(branch, rest)
                .iter()
                .map(|span| span.length)
                .collect()
        };
        for (p, q) in lengths(a, &rest.0).into_iter().zip(lengths(b, &rest.1)) {
            assert!((p - q).abs() < 3.0 * SAME, "{why}: {p} {q} in {}", x.name);
        }
    }
    for (x, y) in a.machine.parts.iter().zip(&b.machine.parts) {
        for probe in [[0.1, 0.2, 0.3], [-0.4, 0.1, -0.2], [-0.9, -0.2, 0.2]] {
            let probe = Point3::from(probe);
            let (p, q) = (x.shape.distance(&probe), y.shape.distance(&probe));
            assert!((p - q).abs() < 5.0 * SAME, "{why}: {p} {q} to {}", x.name);
        }
    }
    for (x, y) in a.machine.bodies.iter().zip(&b.machine.bodies) {
        let ((from, to), (least, most)) = (x.joint.stops(), y.joint.stops());
        assert!(
            (from - least).abs() < SAME && (to - most).abs() < SAME,
            "{why}: {}",
            x.name
        );
        for value in [from, to] {
            let at = Point3::new(0.3, 0.2, 0.1);
            let (p, q) = (x.joint.motion(value) * at, y.joint.motion(value) * at);
            assert!((p - q).norm() < 5.0 * SAME, "{why}: {}", x.name);
        }
    }
    for (x, y) in a.wires.iter().zip(&b.wires) {
        assert!(
            (x.outside - y.outside).abs() < SAME && (x.area - y.area).abs() < 1e-12,
            "{why}"
        );
        assert_eq!(
            (x.strands, x.class, x.safety),
            (y.strands, y.class, y.safety),
            "{why}"
        );
    }
}

/// The text with the change reads as the changed route.
fn agree(text: &str, file: &str, change: &Change, share: f64) -> String {
    let route = route_text(text, file).unwrap_or_else(|faults| panic!("{faults}"));
    let why = format!("{change:?} at {share}");
    let target = match route.changed(change, share) {
        Ok(target) => target,
        Err(error) => {
            assert!(
                changed_text(text, file, change, share).is_err(),
                "{why}: {error}"
            );
            return String::new();
        }
    };
    let edited = changed_text(text, file, change, share);
    let edited = edited.unwrap_or_else(|error| panic!("{why}: {error}"));
    let read =
        route_text(&edited, file).unwrap_or_else(|faults| panic!("{why}\n{edited}\n{faults}"));
    assert_same(&target, &read, &format!("{why}\n{edited}"));
    edited
}

/// An invented machine in inches with all that makes editing hard: named points that several fixings share, taped ones,
/// one that a part and an axis use too, waypoints, a breakout, lengths of every kind, things left out.
pub(super) const HARD: &str = r#"// Invented.
(
    format: 1,
    title: "hard to edit",
    units: (length: "in", temperature: "degF"),
    points: {
        "head": (0, 0, 0), // the datum
        "peg": (-13, 10.2, -20.5), "other peg": (-13, -10.2, -20.5), "axle": (-39.8, 0, -22),
        "shared": (-4, 1.25, 1.5), // two ties stand here
        "rail": (-12, 2, 4),
        "taped": Tape(from: [("head", 21.54), ("peg", 21.77), ("other peg", 28.29), ("axle", 30.66)], side: "left"),
    },
    tape_error: 2,
    bodies: {
        "frame": Fixed,
        "steering": Turns(on: "frame", through: "head", rake: "27 deg", from: "-35 deg", to: "35 deg"),
        "risers": Slides(on: "steering", along: (0, 0, 1), from: 0, to: 0.5, said: "raised"),
        "seat": Slides(on: "frame", along: (0, 0, -1), from: 0, to: 0.4),
    },
    parts: [
        (name: "tube", on: "frame", shape: Tube(along: ["rail", (-20, 2, 4), (-24, 4, 3)], diameter: 1)),
        (name: "pan", on: "seat", shape: Box(centre: (-25, 0, 9), size: (12, 9, 0.25))),
        (name: "clamp", on: "steering", shape: Slab(centre: (0.6, 0, 3), normal: (-0.5, 0, 0.87), along: (0, 1, 0), size: (9, 3, 0.8))),
        (name: "lamp", on: "steering", shape: Ball(centre: (7, 0, -3), diameter: 6)),
        (name: "bar", on: "risers", shape: Cylinder(from: (0, -13, 7), to: (0, 13, 7), diameter: 0.875)),
    ],
    wires: {
        "feed": (size: "1.5 mm2", outside: "2.7 mm", class: "B", runs: ["trunk", "left"]),
        "sense": (size: "20 AWG", outside: "1.8 mm", runs: ["trunk", "right"]),
    },
    branches: [
        (name: "trunk", cover: (kind: "braid", wall: "0.8 mm"), lay: [
            Connector(name: "plug", on: "frame", at: "taped", facing: (1, 0, 0)),
            Tie(name: "A1", on: "frame", at: "rail", width: 0.2, pull: "4 lbf"), // on the tube
            Via(on: "frame", at: (-8, 1.75, 3)),
            Tie(name: "A2", on: "frame", at: "shared", facing: (1, 0, 0.2), slack: 0.1),
            Breakout(name: "Y", length: 4.5, branches: ["left", "right"]),
        ]),
        (name: "left", lay: [
            Clamp(name: "L1", on: "steering", at: (1, 2.5, 4.5), facing: (0, 1, 0.2), length: 5),
            Tie(name: "L2", on: "risers", at: (0.5, 6, 6.4))
        ]),
        (name: "right", lay: [Clamp(name: "R1", on: "steering", at: (1, -2.5, 4.5), facing: (0, -1, 0.2), length: 6.5), Tie(name: "R2", on: "risers", at: (0.5, -6, 6.4), slack: 0.2)]),
        (name: "by the way", diameter: 0.3, lay: [Tie(name: "B1", on: "frame", at: "shared"), Clamp(name: "B2", on: "frame", at: (-9, 3, 1)), Tie(name: "B3", on: "frame", at: (-14, 3.4, 0.6), length: 5.3)]),
    ],
    changes: {
        "bars up": [Move(what: "risers", by: (-0.5, 0, 1.5))],
        "tilted": [Turn(what: "pan", about: (-19, 0, 9), axis: (0, 1, 0), by: "3 deg"), Turn(what: "A2", axis: (0, 1, 0), by: "-10 deg")],
        "tied anew": [
            Remove(what: "A1"),
            Add(branch: "trunk", after: "plug", fixing: Tie(name: "A9", on: "frame", at: (-13, 2.1, 3.3), width: 0.2)),
            Shift(what: "A9", along: 0.5),
            Hold(what: "A2", free: true, pull: "3 lbf", width: 0.3),
        ],
        "other": [Lengthen(to: "L1", by: 0.5), Travel(what: "seat", to: 0.8), Cover(branch: "trunk", cover: (kind: "tape", wall: "0.3 mm")), Wire(name: "feed", size: "2.5 mm2", outside: "3.4 mm")],
        "clamped": [Hold(what: "A1", into: "clamp"), Shift(what: "B2", by: (0.5, 0, 0)), Hold(what: "B3", loose: false, facing: (-1, 0, 0))],
    },
)
"#;

#[test]
fn every_step_is_the_same_in_the_text() {
    let route = route_text(HARD, "hard.ron").unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(route.changes.len(), 5);
    for change in &route.changes {
        for share in [0.25, 1.0, 1.4] {
            let edited = agree(HARD, "hard.ron", change, share);
            assert!(edited.starts_with("// Invented."));
            assert!(edited.contains("// the datum"), "{edited}");
        }
        for step in &change.steps {
            let one = Change {
                name: "one".to_owned(),
                steps: vec![step.clone()],
            };
            agree(HARD, "hard.ron", &one, 0.7);
        }
    }
}

fn move_of(what: What, by: [f64; 3]) -> Change {
    Change {
        name: "moved".to_owned(),
        steps: vec![Step::Move {
            what,
            by: Vector3::from(by),
        }],
    }
}

#[test]
fn a_share_of_nothing_leaves_the_text_as_it_is() {
    let change = move_of(What::Point("shared".to_owned()), [0.0, 0.0, 0.01]);
    assert_eq!(agree(HARD, "hard.ron", &change, 0.0), HARD);
}

#[test]
fn a_point_moves_where_it_is_defined_if_all_that_use_it_move() {
    let change = move_of(What::Point("shared".to_owned()), [0.0, 0.0, 0.0254]);
    let edited = agree(HARD, "hard.ron", &change, 1.0);
    let lines = HARD.lines().zip(edited.lines());
    let differing: Vec<_> = lines.filter(|(old, new)| old != new).collect();
    let defined = "        \"shared\": (-4, 1.25, 2.5), // two ties stand here";
    assert!(differing.iter().any(|(_, new)| *new == defined), "{edited}");
    // One of the two alone leaves the point where it is.
    let change = move_of(What::Fixing("B1".to_owned()), [0.0, 0.0, 0.0254]);
    let edited = agree(HARD, "hard.ron", &change, 1.0);
    assert!(
        edited.contains("at: (-4, 1.25, 2.5) /* \"shared\" until moved */"),
        "{edited}"
    );
    assert!(edited.contains("\"shared\": (-4, 1.25, 1.5),"));
    // A point that a part uses too stays for the part.
    let change = move_of(What::Point("rail".to_owned()), [0.0, 0.01, 0.0]);
    let edited = agree(HARD, "hard.ron", &change, 1.0);
    assert!(edited.contains("\"rail\": (-12, 2, 4)"), "{edited}");
}

#[test]
fn many_random_changes_are_the_same_in_the_text() {
    let mut random = Random::new(7);
    let route = route_text(HARD, "hard.ron").unwrap();
    let mut tried = 0;
    for _ in 0..60 {
        let (by, about) = (random.vector(0.03), random.vector(0.3));
        let axis = random.vector(1.0) + Vector3::new(0.0, 1.5, 0.0);
        let whats = [
            What::Part("pan".to_owned()),
            What::Part("tube".to_owned()),
            What::Part("clamp".to_owned()),
            What::Point("shared".to_owned()),
            What::Point("taped".to_owned()),
            What::Point("rail".to_owned()),
            What::Fixing("A2".to_owned()),
            What::Fixing("L1".to_owned()),
            What::Fixing("B2".to_owned()),
            What::Body("steering".to_owned()),
            What::Body("risers".to_owned()),
            What::Body("frame".to_owned()),
        ];
        let mut steps = Vec::new();
        for _ in 0..=random.below(3) {
            let what = whats[random.below(whats.len())].clone();
            steps.push(if random.below(2) == 0 {
                Step::Move { what, by }
            } else {
                Step::Turn {
                    what,
                    about: Some(Point3::from(about)),
                    axis: Unit::new_normalize(axis),
                    by: random.between(0.01, 0.3),
                }
            });
        }
        let change = Change {
            name: "random".to_owned(),
            steps,
        };
        let share = random.between(0.05, 1.5);
        assert!(route.changed(&change, share).is_ok());
        agree(HARD, "hard.ron", &change, share);
        tried += 1;
    }
    assert_eq!(tried, 60);
}

#[test]
fn the_demo_routes_change_in_place() {
    for name in ["tourer_lower_seat", "tourer_all_joints"] {
        let path = format!("routes/{name}.ron");
        let text = std::fs::read_to_string(&path).unwrap();
        let route = route_file(path.as_ref()).unwrap();
        for change in &route.changes {
            let edited = agree(&text, &path, change, 0.5);
            let same = text.lines().filter(|line| edited.contains(line)).count();
            assert!(same + 12 > text.lines().count(), "{edited}");
        }
    }
}

#[test]
fn a_finished_harness_keeps_its_length() {
    let route = route_file("routes/tourer_stock.ron".as_ref()).unwrap();
    let change = move_of(What::Body("steering".to_owned()), [-0.01, 0.0, 0.03]);
    let raised = route.changed(&change, 1.0).unwrap();
    let rest = route.machine.stance(&route.machine.rest());
    for (a, b) in route.branches.iter().zip(&raised.branches) {
        let (old, new) = (route.spans(a, &rest), raised.spans(b, &rest));
        for (old, new) in old.iter().zip(&new) {
            assert!((old.length - new.length).abs() < 1e-9);
        }
    }
    // Of the spans on the steering alone nothing is frozen: their fixings rise together.
    let slack = |route: &Route| {
        let rules = route.branches[0].lay.iter().map(|entry| entry.length);
        rules
            .filter(|rule| matches!(rule, LengthRule::Slack(_)))
            .count()
    };
    assert_eq!(slack(&route), slack(&raised));
    let all: Vec<&str> = raised.assumed.iter().map(String::as_str).collect();
    assert_eq!(all.len(), route.assumed.len(), "{all:?}");
    let change = move_of(What::Fixing("T1".to_owned()), [0.0, 0.0, 0.01]);
    let moved = route.changed(&change, 1.0).unwrap();
    assert!(
        moved
            .assumed
            .iter()
            .any(|line| line.contains("\"T1\"") && line.contains("keeps"))
    );
    // All that rides moves alike, directions too.
    let turn = Change {
        name: "turned".to_owned(),
        steps: vec![Step::Turn {
            what: What::Body("steering".to_owned()),
            about: Some(Point3::origin()),
            axis: Vector3::y_axis(),
            by: 0.2,
        }],
    };
    let turned = route.changed(&turn, 0.5).unwrap();
    let half = Rotation3::from_axis_angle(&Vector3::y_axis(), 0.1);
    for (a, b) in route.machine.parts.iter().zip(&turned.machine.parts) {
        if let (Shape::Ball { centre, .. }, Shape::Ball { centre: new, .. }) = (&a.shape, &b.shape)
        {
            assert!((half * centre - new).norm() < 1e-12, "{}", a.name);
        }
    }
}

#[test]
fn what_cannot_be_changed_says_why() {
    let route = route_text(HARD, "hard.ron").unwrap();
    let one = |step: Step| {
        let change = Change {
            name: "one".to_owned(),
            steps: vec![step],
        };
        route.changed(&change, 1.0).unwrap_err().to_string()
    };
    let remove = |what: &str| Step::Remove {
        what: what.to_owned(),
    };
    assert_eq!(
        one(remove("L2")),
        "the branch begins or ends at \"L2\", which therefore stays"
    );
    assert_eq!(one(remove("Y")), "\"Y\" is a breakout, where branches meet");
    assert_eq!(one(remove("Z9")), "there is no fixing \"Z9\" (any more)");
    let shorter = Step::Lengthen {
        branch: None,
        to: "L1".to_owned(),
        by: -0.2,
    };
    assert_eq!(
        one(shorter),
        "the span that leads to \"L1\" would be -73.0 mm long"
    );
    assert!(route.changed(&route.changes[0], f64::NAN).is_err());
    assert!(route.changed(&route.changes[0], -0.1).is_err());
}

#[test]
fn faults_of_changes_have_place_and_cure() {
    let with = |change: &str| {
        let text = HARD.replace(
            "\"bars up\": [",
            &format!("\"new\": [{change}],\n        \"bars up\": ["),
        );
        route_text(&text, "hard.ron").unwrap_err().to_string()
    };
    for (change, says) in [
        ("Push(what: \"seat\")", "there is no change `Push`"),
        (
            "Move(what: \"seet\", by: (0, 0, 1))",
            "did you mean \"seat\"",
        ),
        (
            "Turn(what: \"pan\", axis: (0, 1, 0), by: \"3 deg\")",
            "lacks its `about`",
        ),
        ("Remove(what: \"L2\")", "which therefore stays"),
        ("Shift(what: \"A1\")", "lacks its `by` or `along`"),
        ("Hold(what: \"A1\")", "changes nothing"),
        (
            "Hold(what: \"L1\", free: true)",
            "cannot let the direction go",
        ),
        ("Travel(what: \"frame\", to: 3)", "has no travel"),
        ("Lengthen(to: \"plug\", by: 1)", "no span leads to \"plug\""),
        ("Lengthen(to: \"A2\", by: -20)", "long"),
        (
            "Add(branch: \"trunk\", after: \"plug\", fixing: Connector(name: \"x\"))",
            "a fixing to add",
        ),
        (
            "Add(branch: \"trunk\", after: \"plug\", fixing: Tie(name: \"A2\", on: \"frame\", at: \"rail\"))",
            "already",
        ),
        ("Cover(branch: \"trunk\")", "needs `cover` or `bare: true`"),
        ("Wire(name: \"feed\", size: \"9 mm2\")", "thinner outside"),
    ] {
        let fault = with(change);
        assert!(fault.contains(says), "{change}: {fault}");
        assert!(fault.starts_with("hard.ron:4"), "{fault}");
    }
}

#[test]
fn points_of_a_table_are_written_out() {
    let folder = std::env::temp_dir().join("neckloom-edit-points");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(
        folder.join("points.csv"),
        "name,x,y,z\ntable point,-100,20,30\nfar,-300,20,30\n",
    )
    .unwrap();
    let text = r#"(
    format: 1, title: "t", points_from: "points.csv", bodies: { "frame": Fixed },
    branches: [
        (name: "a", diameter: 6, lay: [Tie(name: "A", on: "frame", at: "table point"), Tie(name: "B", on: "frame", at: "far", slack: 4)]),
        (name: "b", diameter: 6, lay: [Tie(name: "C", on: "frame", at: "table point"), Tie(name: "D", on: "frame", at: (-120, 90, 0), slack: 4)]),
    ],
)"#;
    let file = folder.join("r.ron").display().to_string();
    let far = move_of(What::Point("far".to_owned()), [0.0, 0.0, 0.01]);
    let edited = agree(text, &file, &far, 1.0);
    assert!(
        edited.contains("at: (-300, 20, 40) /* \"far\" until moved */"),
        "{edited}"
    );
    let both = move_of(What::Point("table point".to_owned()), [0.0, 0.0, 0.01]);
    let edited = agree(text, &file, &both, 1.0);
    assert!(
        edited.contains("\"table point, moved\": (-100, 20, 40)"),
        "{edited}"
    );
}
