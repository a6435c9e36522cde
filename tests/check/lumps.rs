//! A splice makes a bundle thicker: pinch counts it.

use neckloom::check::{Options, check};
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};

/// A straight branch of 6 mm between two plates, spliced or not.
fn pinch(gap: f64, splices: &str) -> (f64, f64, f64) {
    let half = 0.5 * gap + 1.0;
    let text = format!(
        r#"(format: 1, title: "invented", tolerance: 0,
    bodies: {{ "frame": Fixed }},
    parts: [
        (name: "below", on: "frame", shape: Box(centre: (150, 0, -{half}), size: (120, 60, 2))),
        (name: "above", on: "frame", shape: Box(centre: (150, 0, {half}), size: (120, 60, 2))),
    ],
    wires: {{ "lamp": (size: "1 mm2", outside: 2.5, strands: 19) }},
    splices: [{splices}],
    branches: [(name: "main", wires: ["lamp", "lamp"], diameter: 6, lay: [
        Clamp(name: "A", on: "frame", at: (0, 0, 0), facing: (1, 0, 0)),
        Clamp(name: "B", on: "frame", at: (300, 0, 0), facing: (1, 0, 0), length: 300),
    ])],
)"#
    );
    let route = route_text(&text, "r.ron").unwrap_or_else(|faults| panic!("{faults}"));
    let solution = solve(&route, &Settings::default());
    let options = Options {
        spread: false,
        ..Options::default()
    };
    let findings = check(&route, &solution, &options);
    let found = findings.findings.iter().find(|f| f.check == "pinch");
    let found = found.expect("it lies between two plates");
    (found.value, found.limit, found.at)
}

#[test]
fn a_splice_is_squeezed_where_the_plain_bundle_is_not() {
    for gap in [6.5, 7.0, 9.0] {
        let (width, least, _) = pinch(gap, "");
        assert!((width - gap * 1e-3).abs() < 1e-6, "{width}");
        // 0.6 × 2.5 mm more, at the splice.
        let (width, thick, at) = pinch(gap, r#"(wire: "lamp", branch: "main", at: 160)"#);
        assert!((width - gap * 1e-3).abs() < 1e-6, "{width}");
        assert!((thick / least - 7.5 / 6.0).abs() < 1e-9, "{thick}, {least}");
        assert!((at - 0.160).abs() <= 0.0126, "{at}");
        // Two side by side make two lumps; one outside the plates none.
        let both =
            r#"(wire: "lamp", branch: "main", at: 160), (wire: "lamp", branch: "main", at: 165)"#;
        assert!((pinch(gap, both).1 / least - 9.0 / 6.0).abs() < 1e-9);
        let outside = pinch(gap, r#"(wire: "lamp", branch: "main", at: 40)"#);
        assert!((outside.1 / least - 1.0).abs() < 1e-9);
    }
}
