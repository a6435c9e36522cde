//! Slack gathered by hand, reconciled with points and string.
//!
//! The straight distance between a point on the frame and one that turns about a tilted axis has a closed form:
//! with heights h along the axis, radii r about it and the angle φ between the two,
//! d² = (h₂ − h₁)² + r₁² + r₂² − 2·r₁·r₂·cos(φ + θ). (The law of cosines in the plane across the axis.)

use neckloom::harness::{LengthRule, StringReading};
use neckloom::read::route_text;
use neckloom::route::{Route, StringFit};

/// Where the two fixings are: on the frame and on the steering \[mm\].
const A: [f64; 3] = [-150.0, 60.0, 20.0];
const B: [f64; 3] = [-20.0, 110.0, 140.0];
const RAKE: f64 = 27.0;
/// Right and left stop \[deg\].
const STOPS: [f64; 2] = [-34.0, 38.0];

fn text(tolerance: f64, fields: &str) -> String {
    let steering = format!(
        r#"Turns(on: "frame", through: (10, 0, -20), rake: "{RAKE} deg", from: "{} deg", to: "{} deg")"#,
        STOPS[0], STOPS[1]
    );
    with_steering(tolerance, &steering, fields)
}

fn with_steering(tolerance: f64, steering: &str, fields: &str) -> String {
    format!(
        r#"(
    format: 1, title: "One span", units: (length: "mm", temperature: "degC"), tolerance: {tolerance}, tape_error: 6,
    bodies: {{ "frame": Fixed, "steering": {steering} }},
    branches: [(name: "neck", diameter: 8, lay: [
        Tie(name: "T1", on: "frame", at: ({}, {}, {})),
        Tie(name: "T2", on: "steering", at: ({}, {}, {}), {fields}),
    ])],
)"#,
        A[0], A[1], A[2], B[0], B[1], B[2]
    )
}

/// Straight distance at a steering angle \[mm\], by the law of cosines.
fn distance(degrees: f64) -> f64 {
    let (sin, cos) = RAKE.to_radians().sin_cos();
    // Height along the axis, and the two coordinates across it (one in the machine's middle plane, one to the left).
    let across = |p: [f64; 3]| {
        let (x, z) = (p[0] - 10.0, p[2] + 20.0);
        (-sin * x + cos * z, cos * x + sin * z, p[1])
    };
    let ((h1, x1, y1), (h2, x2, y2)) = (across(A), across(B));
    let (r1, r2) = (x1.hypot(y1), x2.hypot(y2));
    let between = y2.atan2(x2) - y1.atan2(x1) + degrees.to_radians();
    ((h2 - h1).powi(2) + r1 * r1 + r2 * r2 - 2.0 * r1 * r2 * between.cos()).sqrt()
}

fn read(text: &str) -> (Route, StringFit) {
    let route = route_text(text, "a.ron").unwrap_or_else(|faults| panic!("{faults}\n{text}"));
    let branch = &route.branches[0];
    let LengthRule::Strung(readings) = branch.lay[1].length else {
        panic!("{:?}", branch.lay[1]);
    };
    let fit = route.string_fit(branch, 1, &readings).unwrap();
    (route, fit)
}

/// What a hand would gather of a span of `length` \[mm\], left, straight, right, and what the string reads.
fn gathered(length: f64) -> [f64; 4] {
    [
        length,
        length - distance(STOPS[1]),
        length - distance(0.0),
        length - distance(STOPS[0]),
    ]
}

const NAMES: [&str; 4] = ["length", "left", "straight", "right"];

fn fields(read: [Option<f64>; 4]) -> String {
    let spare: Vec<String> = (1..4)
        .filter_map(|i| read[i].map(|value| format!("{}: {value:.6}", NAMES[i])))
        .collect();
    let length = read[0].map_or_else(String::new, |length| format!("length: {length:.6}, "));
    format!("{length}spare: ({})", spare.join(", "))
}

#[test]
fn each_reading_alone_gives_the_length() {
    let truth = 300.0;
    for i in 1..4 {
        let mut read_ones = [None; 4];
        read_ones[i] = Some(gathered(truth)[i]);
        let (route, fit) = read(&text(3.0, &fields(read_ones)));
        assert!(
            (fit.length * 1e3 - truth).abs() < 1e-5,
            "{}: {fit:?}",
            NAMES[i]
        );
        assert!(!fit.disagree && fit.suspect.is_none());
        // The span is as long as the readings say.
        let rest = route.machine.stance(&route.machine.rest());
        let spans = route.spans(&route.branches[0], &rest);
        assert!((spans[0].length - fit.length).abs() < 1e-15);
    }
}

/// With one reading the length is as good as that reading, both points and the angle: for one that the angle does
/// not change, sd² = (3 mm + 1 %)² + 2·tolerance².
#[test]
fn the_error_of_the_length_is_that_of_string_and_points() {
    for tolerance in [0.0, 1.0, 3.0, 8.0] {
        let on_axis = "Turns(on: \"frame\", through: (-20, 110, 140), axis: (0, 0, 1), from: \"-30 deg\", to: \"30 deg\")";
        let (_, fit) = read(&with_steering(tolerance, on_axis, "spare: (straight: 40)"));
        let expected = (3.4_f64.powi(2) + 2.0 * tolerance * tolerance).sqrt();
        assert!(
            (fit.sd * 1e3 - expected).abs() < 1e-6,
            "{} {expected}",
            fit.sd * 1e3
        );
        let (_, fit) = read(&with_steering(
            tolerance,
            on_axis,
            "length: 240, spare: (straight: 40)",
        ));
        let (string, hand) = (5.4_f64.powi(-2), expected.powi(-2));
        assert!((fit.sd * 1e3 - (string + hand).powf(-0.5)).abs() < 1e-6);
    }
}

#[test]
fn right_readings_agree_whatever_the_tolerance() {
    for tolerance in [0.0, 1.0, 3.0, 8.0] {
        for truth in [290.0, 330.0] {
            let (route, fit) = read(&text(tolerance, &fields(gathered(truth).map(Some))));
            assert!((fit.length * 1e3 - truth).abs() < 1e-4, "{fit:?}");
            assert!(!fit.disagree && fit.suspect.is_none(), "{fit:?}");
            assert!(fit.readings.iter().all(|one| one.off().abs() < 1e-7));
            assert!(route.warnings.is_empty(), "{:?}", route.warnings);
        }
    }
}

/// A slip in any one reading is found, named and not counted: the length stays the true one.
#[test]
fn the_wrong_reading_is_the_one_named() {
    let truth = 310.0;
    for tolerance in [0.0, 1.0, 2.0, 3.0] {
        for (wrong, slip) in (0..4).flat_map(|i| [(i, 45.0), (i, 60.0)]) {
            for leave in [None, Some(0)] {
                if leave == Some(wrong) {
                    continue;
                }
                let mut readings = gathered(truth).map(Some);
                *readings[wrong].as_mut().unwrap() += slip;
                if let Some(leave) = leave {
                    readings[leave] = None;
                }
                let (route, fit) = read(&text(tolerance, &fields(readings)));
                let case = format!(
                    "{} +{slip}, tolerance {tolerance}, without {leave:?}",
                    NAMES[wrong]
                );
                assert!(fit.disagree, "{case}");
                assert_eq!(
                    fit.suspect.map(StringReading::name),
                    Some(NAMES[wrong]),
                    "{case}"
                );
                assert!((fit.length * 1e3 - truth).abs() < 1e-4, "{case}: {fit:?}");
                let off = fit.readings.iter().find(|one| Some(one.at) == fit.suspect);
                assert!((off.unwrap().off() * 1e3 - slip).abs() < 1e-4, "{case}");
                let told = [
                    "the `length` of",
                    "at full left",
                    "straight ahead",
                    "at full right",
                ];
                let [warning] = route.warnings.as_slice() else {
                    panic!("{case}: {:?}", route.warnings);
                };
                assert!(
                    warning.contains(&format!("{} ", told[wrong])),
                    "{case}: {warning}"
                );
                assert!(warning.contains("looks wrong") && warning.contains("again"));
            }
        }
    }
}

#[test]
fn two_readings_cannot_tell() {
    let mut readings = [None; 4];
    readings[1] = Some(gathered(310.0)[1]);
    readings[3] = Some(gathered(360.0)[3]);
    let (route, fit) = read(&text(2.0, &fields(readings)));
    assert!(fit.disagree && fit.suspect.is_none());
    assert!(fit.length > 0.310 && fit.length < 0.360);
    assert!(
        route.warnings[0].contains("310 mm at full left and 360 mm at full right"),
        "{:?}",
        route.warnings
    );
    assert!(
        route.warnings[0].contains("cannot tell") && route.warnings[0].contains("third position")
    );
}

/// The slack that a hand gathers stays what it is when a point is measured anew: the length follows the point.
#[test]
fn the_length_follows_the_points() {
    let spare = "spare: (left: 30, straight: 42, right: 18)";
    let (mut route, before) = read(&text(3.0, spare));
    let LengthRule::Strung(readings) = route.branches[0].lay[1].length else {
        panic!("{route:?}");
    };
    let place = route.branches[0].lay[1].fixing.place;
    route.places[place].at.z += 0.005;
    let after = route.string_fit(&route.branches[0], 1, &readings).unwrap();
    assert!(after.length > before.length + 0.001);
}

#[test]
fn left_is_left_whichever_way_the_axis_points() {
    let up = "Turns(on: \"frame\", through: (0, 0, 0), axis: (0, 0, 1), from: \"-20 deg\", to: \"35 deg\")";
    let down = "Turns(on: \"frame\", through: (0, 0, 0), axis: (0, 0, -1), from: \"-35 deg\", to: \"20 deg\")";
    let spare = "spare: (left: 30)";
    let lengths = [up, down].map(|steering| read(&with_steering(3.0, steering, spare)).1.length);
    assert!((lengths[0] - lengths[1]).abs() < 1e-12, "{lengths:?}");
}

/// Every fault of a `spare`, with its place and its cure.
#[test]
fn faults_of_spare() {
    let lever = "Turns(on: \"frame\", through: (0, 0, 0), axis: (0, 1, 0), from: \"-20 deg\", to: \"35 deg\")";
    let cases = [
        (text(3.0, "spare: ()"), "`spare` has no reading in it"),
        (text(3.0, "spare: (left: -3)"), "`left`: -3 is negative"),
        (
            text(3.0, "spare: (left: \"3 deg\")"),
            "`left`: \"3 deg\" is an angle",
        ),
        (
            text(3.0, "spare: (middle: 3)"),
            "a `spare` has no field `middle`",
        ),
        (text(3.0, "spare: 12"), "a `spare` is wanted here"),
        (
            text(3.0, "slack: 5, spare: (left: 3)"),
            "both `slack` and `spare` are given",
        ),
        (
            with_steering(3.0, lever, "spare: (left: 3)"),
            "left and right say nothing there",
        ),
        (
            text(3.0, "spare: (left: 3)").replace("on: \"steering\"", "on: \"frame\""),
            "nothing turns between \"T1\" and \"T2\"",
        ),
        (
            text(3.0, "spare: (left: 3)")
                .replace(
                    "\"frame\": Fixed,",
                    "\"frame\": Fixed, \"arm\": Turns(on: \"steering\", through: (0, 0, 0), \
                          axis: (0, 0, 1), from: \"-5 deg\", to: \"5 deg\"),",
                )
                .replace("on: \"steering\", at", "on: \"arm\", at"),
            "turn \"steering\" and \"arm\"",
        ),
        (
            text(3.0, "slack: 3")
                .replace("Tie(name: \"T1\",", "Tie(name: \"T1\", spare: (left: 3),"),
            "the first fixing has a `spare`",
        ),
    ];
    for (text, message) in cases {
        let faults = route_text(&text, "a.ron").expect_err(message);
        let found = faults
            .faults
            .iter()
            .find(|fault| fault.message.contains(message));
        let fault = found.unwrap_or_else(|| panic!("{message}: {faults}"));
        assert_eq!(faults.faults.len(), 1, "{faults}");
        assert!(
            fault
                .place
                .is_some_and(|place| place.0 == 5 || place.0 == 6),
            "{faults}"
        );
        assert!(!fault.cure.is_empty());
    }
}

#[test]
fn nothing_to_gather_is_said() {
    let (route, _) = read(&text(3.0, "spare: (left: 0, straight: 20)"));
    assert!(
        route
            .warnings
            .iter()
            .any(|w| w.contains("nothing could be gathered at full left")),
        "{:?}",
        route.warnings
    );
}
