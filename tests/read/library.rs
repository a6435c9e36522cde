//! The library: whole, with a source for each value, and what a route file takes from it.

use neckloom::check::{Options, check, report};
use neckloom::harness::{CoverKind, FixingKind, InsulationClass};
use neckloom::read::{library, route_text};
use neckloom::rod::{Settings, solve};

const STATUSES: [&str; 6] = [
    "named",
    "read",
    "second-hand",
    "from memory",
    "computed",
    "own choice",
];

fn route(library: &str, wire: &str, part: &str) -> String {
    format!(
        r#"(format: 1, title: "invented", {library}
    bodies: {{ "frame": Fixed }},
    parts: [(name: "pipe", on: "frame", shape: Tube(along: [(0, 0, 200), (300, 0, 200)], diameter: 40){part})],
    wires: {{ "lamp": ({wire}) }},
    branches: [(name: "main", wires: ["lamp", "lamp", "lamp"], cover: (like: "cloth tape"), lay: [
        Connector(name: "P1", on: "frame", at: (0, 0, 0), facing: (1, 0, 0), finish: "tin"),
        Tie(name: "T1", on: "frame", at: (150, 0, 0), like: "4.8 mm nylon strap", width: 3.5, slack: 2),
        Clamp(name: "K1", on: "frame", at: (300, 0, 0), facing: (1, 0, 0), slack: 2),
    ])],
)"#
    )
}

#[test]
fn every_value_has_a_source_and_how_well_it_is_known() {
    let entries = library();
    for shelf in ["wires", "covers", "ties", "finishes", "hot_parts"] {
        let count = entries.iter().filter(|entry| entry.shelf == shelf).count();
        assert!(count >= 3, "{shelf}: {count}");
    }
    for entry in &entries {
        assert!(!entry.values.is_empty(), "{entry:?}");
        for value in &entry.values {
            assert!(
                STATUSES.contains(&value.status.as_str()),
                "{}: {value:?}",
                entry.name
            );
            assert!(value.source.len() > 8, "{}: {value:?}", entry.name);
        }
    }
}

/// Each entry stands in a route that reads without a fault.
#[test]
fn every_entry_can_be_taken() {
    for entry in library() {
        let name = &entry.name;
        let (mut wire, mut part) = (r#"size: "1 mm2", outside: 2"#.to_owned(), String::new());
        let mut text = None;
        match entry.shelf {
            "wires" => wire = format!("like: \"{name}\""),
            "hot_parts" => part = format!(", like: \"{name}\""),
            "covers" => text = Some(("cloth tape", name.clone())),
            "ties" => text = Some(("4.8 mm nylon strap", name.clone())),
            _ => text = Some((r#"finish: "tin""#, format!("finish: \"{name}\""))),
        }
        let mut route = route("", &wire, &part);
        if let Some((from, to)) = text {
            route = route.replace(from, &to);
        }
        let read = route_text(&route, "r.ron");
        assert!(read.is_ok(), "{name}: {}", read.unwrap_err());
    }
}

#[test]
fn what_is_left_out_is_taken_and_said() {
    let text = route(
        "",
        r#"like: "thin-wall PVC 0.5 mm2""#,
        r#", like: "silencer""#,
    );
    let read = route_text(&text, "r.ron").unwrap_or_else(|faults| panic!("{faults}"));
    let wire = &read.wires[0];
    assert!((wire.area - 0.5e-6).abs() < 1e-15 && (wire.outside - 1.6e-3).abs() < 1e-12);
    assert_eq!((wire.strands, wire.class), (16, Some(InsulationClass::B)));
    let cover = read.branches[0].cover.as_ref().unwrap();
    assert_eq!((cover.kind, cover.rated), (CoverKind::Tape, Some(125.0)));
    assert_eq!(read.machine.parts[0].surface, Some(180.0));
    let tie = &read.branches[0].lay[1].fixing;
    // The file's own goes before the library's.
    assert!((tie.width.unwrap() - 3.5e-3).abs() < 1e-12);
    assert!(
        matches!(tie.kind, FixingKind::Tie { rated: Some(rated), .. } if (rated - 85.0).abs() < 1e-9)
    );
    let plug = read.branches[0].lay[0].fixing.kind;
    assert!(
        matches!(plug, FixingKind::Connector { rated: Some(rated), .. } if (rated - 105.0).abs() < 1e-9)
    );
    for said in [
        "outside 1.6 mm (from memory: ISO 6722-1",
        "rated 85 degC (from memory",
        "surface 180 degC (own choice",
    ] {
        assert!(
            read.assumed.iter().any(|sentence| sentence.contains(said)),
            "{said}: {:?}",
            read.assumed
        );
    }
    assert!(!read.assumed.iter().any(|s| s.contains("width 4.8")));
    // And it is checked like any other.
    let solution = solve(&read, &Settings::default());
    let findings = check(&read, &solution, &Options::default());
    assert!(report(&read, &solution, &findings)["findings"].is_array());
}

#[test]
fn the_files_own_library_goes_first_and_adds() {
    let own = r#"library: (
        wires: {
            "thin-wall PVC 0.5 mm2": (like: "thin-wall PVC 0.5 mm2", outside: 1.75),
            "shop wire": (size: "0.6 mm2", outside: 1.9, strands: 12),
        },
        hot_parts: { "my pipe": (surface: 410) },
    ),"#;
    let read = |wire: &str| {
        let text = route(own, wire, r#", like: "my pipe""#);
        route_text(&text, "r.ron").unwrap_or_else(|faults| panic!("{faults}"))
    };
    let changed = read(r#"like: "thin-wall PVC 0.5 mm2""#);
    assert!((changed.wires[0].outside - 1.75e-3).abs() < 1e-12);
    assert_eq!(changed.wires[0].strands, 16);
    assert_eq!(changed.machine.parts[0].surface, Some(410.0));
    let added = read(r#"like: "shop wire", strands: 24"#);
    assert!((added.wires[0].area - 0.6e-6).abs() < 1e-15);
    assert_eq!(added.wires[0].strands, 24);
}

#[test]
fn faults_name_the_place_and_the_nearest_name() {
    let cases = [
        (
            route("", r#"like: "thin wall PVC 0.5 mm2""#, ""),
            "there is no wire \"thin wall PVC 0.5 mm2\"",
            "did you mean \"thin-wall PVC 0.5 mm2\"?",
        ),
        (
            route(
                "library: (wires: { \"w\": (sise: 3) }),",
                r#"like: "w", outside: 3"#,
                "",
            ),
            "a wire has no field `sise`",
            "did you mean \"size\"?",
        ),
        (
            route("library: (wire: {}),", r#"size: "1 mm2", outside: 2"#, ""),
            "the `library` has no field `wire`",
            "did you mean \"wires\"?",
        ),
        (
            route("", "like: 5", ""),
            "`like` is a text, found the number 5",
            "write it in quotes",
        ),
        (
            route("", r#"like: "cloth tape""#, ""),
            "there is no wire \"cloth tape\"",
            "known are",
        ),
    ];
    for (text, message, cure) in cases {
        let faults = route_text(&text, "r.ron").expect_err(message);
        let found = faults.faults.iter().find(|fault| fault.message == message);
        let found = found.unwrap_or_else(|| panic!("{message}: {faults}"));
        assert!(
            found.place.is_some() && found.cure.contains(cure),
            "{found:?}"
        );
    }
}

#[test]
fn a_body_that_does_not_move_is_not_swept() {
    let text = route(
        "duty: (sweeps: {\"frame\": 10}, halving: 8),",
        r#"size: "1 mm2", outside: 2"#,
        "",
    );
    let faults = route_text(&text, "r.ron").expect_err("the frame does not move");
    assert!(faults.to_string().contains("does not move"), "{faults}");
    let text = route("duty: (halving: 8),", r#"size: "1 mm2", outside: 2"#, "");
    let read = route_text(&text, "r.ron").unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(read.duty.halving, Some(8.0));
}
