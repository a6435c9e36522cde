//! Good files parse to what they say.

use std::path::Path;

use neckloom::geometry::Shape;
use neckloom::harness::{FixingKind, InsulationClass, LengthRule};
use neckloom::machine::{BodyId, Edge, Fluid, Joint};
use neckloom::quantity::awg_area;
use neckloom::read::{route_file, route_text};
use neckloom::route::{LimitValue, Route, Step, What};

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-12 * (1.0 + b.abs())
}

pub(super) fn every_field() -> Route {
    let path = Path::new("tests/data/routes/every_field.ron");
    route_file(path).unwrap_or_else(|faults| panic!("{faults}"))
}

#[test]
fn every_field_of_the_format() {
    let route = every_field();
    assert_eq!(route.title, "Twin tourer, as built");
    assert!(near(route.tolerance, 0.003));
    let [frame, steering, seat] = route.machine.bodies.as_slice() else {
        panic!("{:?}", route.machine.bodies);
    };
    assert_eq!((frame.on, steering.on), (None, Some(BodyId(0))));
    let Joint::Turns { axis, from, to, .. } = steering.joint else {
        panic!("{steering:?}");
    };
    assert!(
        near(axis.x, -0.5) && near(axis.z, 0.75_f64.sqrt()),
        "{axis:?}"
    );
    assert!(near(from.to_degrees(), -38.0) && near(to.to_degrees(), 38.0));
    assert!(
        matches!(seat.joint, Joint::Slides { from, to, .. } if from.abs() <= 0.0 && near(to, 0.012))
    );

    let part = |name: &str| {
        route
            .machine
            .parts
            .iter()
            .find(|part| part.name == name)
            .unwrap()
    };
    assert_eq!(part("rear header").surface, Some(340.0));
    assert_eq!(part("rear header").emissivity, Some(0.85));
    assert_eq!(part("gusset").edge, Some(Edge::Sharp));
    assert_eq!(part("fuel hose").carries, Some(Fluid::Fuel));
    assert!(matches!(&part("seat pan").shape, Shape::Block { size, .. } if near(size.z, 0.006)));
    assert!(matches!(part("bars").shape, Shape::Cylinder { .. }));
    let Shape::Block { turned, .. } = &part("radiator").shape else {
        panic!("a slab is a block");
    };
    assert!((turned.matrix().determinant() - 1.0).abs() < 1e-12);

    let branch = &route.branches[0];
    assert!(near(route.wires[0].area, awg_area(20.0)));
    assert_eq!(route.wires[0].class, Some(InsulationClass::C));
    assert!(route.wires[0].safety && !route.wires[1].safety);
    assert_eq!(route.wires[1].current, Some(4.6));
    let counts = branch.wires.iter().map(|wire| wire.0).collect::<Vec<_>>();
    assert_eq!(counts, [0, 0, 1]);
    assert!(near(branch.diameter, 0.0095));
    assert!(near(branch.stiffness.twist, 0.0027));
    assert_eq!(branch.stiffness.range, (1.0, 1.0));
    let [t1, t2] = branch.lay.as_slice() else {
        panic!("{:?}", branch.lay);
    };
    assert_eq!(
        route.places[t1.fixing.place].name.as_deref(),
        Some("tunnel mouth")
    );
    assert!(matches!(
        t1.fixing.kind,
        FixingKind::Tie {
            pull: None,
            loose: false,
            ..
        }
    ));
    assert!(matches!(t2.length, LengthRule::Measured(length) if near(length, 0.232)));
    assert_eq!(t2.vias.len(), 1);

    assert_eq!(route.limits[0].key, "bend radius moving");
    assert_eq!(route.limits[0].value, LimitValue::Diameters(10.0));
    let Step::Move { what, by } = &route.changes[0].steps[0] else {
        panic!("{:?}", route.changes);
    };
    assert_eq!(*what, What::Body("seat".to_owned()));
    assert!(near(by.z, -0.025));
    assert_eq!(route.assumed, [""; 0]);
    assert_eq!(route.warnings, [""; 0]);
}

/// A route of one span, with `fields` before its bodies and `lay` as its lay.
pub(super) fn small(fields: &str, lay: &str) -> String {
    format!(
        "(
    format: 1, title: \"small\", tolerance: 3, tape_error: 6, {fields}
    bodies: {{ \"frame\": Fixed }},
    branches: [(name: \"b\", diameter: 8, lay: [
{lay}
    ])],
)"
    )
}

#[test]
fn what_is_left_out_is_filled_in_and_said() {
    let text = "(format: 1, bodies: { \"frame\": Fixed,
            \"seat\": Slides(on: \"frame\", along: (0, 0, -1), from: 4, to: 12) },
        wires: { \"w\": (size: \"0.75 mm2\", outside: 1.9) },
        branches: [(name: \"b\", wires: [\"w\", \"w\", \"w\", \"w\"], lay: [
            Connector(name: \"C1\", on: \"frame\", at: (0, 0, 0)),
            Clamp(name: \"C2\", on: \"seat\", at: (200, 0, 0)),
        ])])";
    let route = route_text(text, "small.ron").unwrap_or_else(|faults| panic!("{faults}"));
    let expected = [
        "lengths without a unit are in mm (no `units` given)",
        "temperatures without a unit are in degC (no `units` given)",
        "positions were measured to ±3 mm, one standard deviation (no `tolerance` given)",
        "taped distances may miss their point by 6 mm (no `tape_error` given)",
        "the title is the file's name, small.ron (no `title` given)",
        "wire \"w\" has 19 strands (no `strands` given)",
        "branch \"b\": diameter 4.6 mm, from its wires lying close, touching",
        "branch \"b\": bending stiffness 0.0034 N m², from its wires: three times that of freely slipping strands, \
         our own choice; the truth may lie between 0.0011 N m² and 0.0115 N m²",
        "\"seat\" rests at 4.0 mm, the end of its range that is nearest to zero",
        "\"C1\" faces (1.00, 0.00, -0.02), along the smooth path through the fixings (no `facing` given)",
        "\"C1\" to \"C2\" is 200 mm long, that of the smooth path between them (no `length` or `slack` given)",
    ];
    for line in expected {
        assert!(
            route.assumed.iter().any(|said| said == line),
            "not said: {line}\nsaid:\n{}",
            route.assumed.join("\n")
        );
    }
    assert_eq!(
        route.assumed.len(),
        expected.len() + 4,
        "{:#?}",
        route.assumed
    );
    let (least, most) = route.branches[0].stiffness.range;
    assert!(near(least, 1.0 / 3.0) && near(most, 10.0 / 3.0));
    // Four discs touching in a square: (1 + √2) times their diameter.
    let least = 1.9e-3 * (1.0 + 2.0_f64.sqrt());
    assert!((route.branches[0].diameter / least - 1.0).abs() < 1e-3);
}

#[test]
fn inches_and_fahrenheit() {
    let fields = "units: (length: \"in\", temperature: \"degF\"),
        parts: [(name: \"pipe\", on: \"frame\", surface: 644, shape: Ball(centre: (1, 2, \"25.4 mm\"), diameter: 1))],";
    let lay = "Tie(name: \"A\", on: \"frame\", at: (0, 0, 0)),
        Tie(name: \"B\", on: \"frame\", at: (10, 0, 0), length: \"11 3/8 in\"),";
    let route = route_text(&small(fields, lay), "t").unwrap_or_else(|faults| panic!("{faults}"));
    let part = &route.machine.parts[0];
    assert!(near(part.surface.unwrap(), 340.0));
    assert!(
        matches!(&part.shape, Shape::Ball { centre, .. } if near(centre.x, 0.0254) && near(centre.z, 0.0254))
    );
    assert!(
        matches!(route.branches[0].lay[1].length, LengthRule::Measured(l) if near(l, 11.375 * 0.0254))
    );
    assert!(near(route.tolerance, 3.0 * 0.0254));
}

#[test]
fn a_named_point_is_one_place_however_often_it_is_used() {
    let lay = "Tie(name: \"A\", on: \"frame\", at: \"p\"),
        Via(on: \"frame\", at: \"q\"), Via(on: \"frame\", at: (9, 9, 9)), Via(on: \"frame\", at: \"q\"),
        Tie(name: \"B\", on: \"frame\", at: (10, 0, 0), slack: 5),";
    let fields = "points: { \"p\": (0, 0, 0), \"q\": (1, 0, 0), \"unused\": (2, 0, 0) },";
    let route = route_text(&small(fields, lay), "t").unwrap_or_else(|faults| panic!("{faults}"));
    let names: Vec<_> = route
        .places
        .iter()
        .map(|place| place.name.as_deref())
        .collect();
    assert_eq!(names, [Some("p"), Some("q"), None, None]);
    let vias = &route.branches[0].lay[1].vias;
    assert_eq!(vias[0].place, vias[2].place);
}

#[test]
fn bodies_may_stand_in_any_order() {
    let text = "(format: 1, bodies: {
            \"wheel\": Turns(on: \"fork\", through: (0, 0, 0), axis: (0, 1, 0), from: \"0 deg\", to: \"10 deg\"),
            \"fork\": Turns(on: \"frame\", through: (0, 0, 0), rake: \"0 deg\", from: \"-10 deg\", to: \"10 deg\"),
            \"frame\": Fixed,
        }, branches: [(name: \"b\", diameter: 8, lay: [
            Tie(name: \"A\", on: \"wheel\", at: (0, 0, 0)), Tie(name: \"B\", on: \"frame\", at: (99, 0, 0), slack: 9),
        ])])";
    let route = route_text(text, "t").unwrap_or_else(|faults| panic!("{faults}"));
    let names: Vec<_> = route
        .machine
        .bodies
        .iter()
        .map(|body| body.name.as_str())
        .collect();
    assert_eq!(names, ["frame", "fork", "wheel"]);
    assert_eq!(route.branches[0].lay[0].fixing.on, BodyId(2));
}

#[test]
fn ron_in_all_its_forms() {
    let text = "#![enable(implicit_some)]
        /* a /* nested */ comment */
        ( format: 1_0e-1, title: r#\"a \"raw\" title\"#, tolerance: Some(0x3), units: None,
          bodies: { \"fr\\u{61}me\": Fixed, }, // a comment at the end
          branches: [ ( name: \"b\", diameter: +8., lay: [
            Tie ( name : \"A\" , on: \"frame\", at: (0,0,0), ) ,
            Tie(name: \"B\", on: \"frame\", at: (-.5, 1e2, 3_0.5), slack: 0),
          ] ) ] )
        // the end";
    let route = route_text(text, "t").unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(route.title, "a \"raw\" title");
    assert!(near(route.tolerance, 0.003));
    assert_eq!(route.machine.bodies[0].name, "frame");
    assert!(near(route.places[1].at.z, 0.0305));
}

#[test]
fn a_point_may_be_taped_from_taped_points() {
    // (300, 300, 300) from four corners 600 mm apart, then (0, 0, 300) from it and three corners.
    let fields = "points: {
        \"second\": Tape(from: [(\"first\", 424.264), (\"a\", 300), (\"b\", 670.82), (\"c\", 670.82)], side: \"above\"),
        \"first\": Tape(from: [(\"a\", 519.615), (\"b\", 519.615), (\"c\", 519.615), ((0, 0, 600), \"519.615 mm\")]),
        \"a\": \"corner\", \"corner\": (0, 0, 0), \"b\": (600, 0, 0), \"c\": (0, 600, 0) },";
    let lay = "Tie(name: \"A\", on: \"frame\", at: \"second\"), Tie(name: \"B\", on: \"frame\", at: \"first\", slack: 9)";
    let route = route_text(&small(fields, lay), "t").unwrap_or_else(|faults| panic!("{faults}"));
    for (place, want) in route.places.iter().zip([[0.0, 0.0, 0.3], [0.3, 0.3, 0.3]]) {
        for (got, want) in place.at.iter().zip(want) {
            assert!((got - want).abs() < 1e-4, "{place:?}");
        }
        assert!(place.misfit.unwrap() < 1e-4, "{place:?}");
    }
}
