//! What is exported reads back as what was computed: tables against the report, polylines by readers of the formats.

mod lines; // PLY and OBJ by the crates that read them
mod tables; // CSV against the JSON report

use std::sync::OnceLock;

use neckloom::check::{Findings, Options, check};
use neckloom::export::{ExportFile, ExportOptions, export};
use neckloom::read::route_text;
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::Route;

/// Two branches across a steering and a seat; a hot part, and a name that needs quotes.
const ROUTE: &str = r#"(
    format: 1, title: "Two", units: (length: "mm", temperature: "degC"), tolerance: 2, tape_error: 6,
    bodies: {
        "frame": Fixed,
        "steering": Turns(on: "frame", through: (0, 0, 0), rake: "25 deg", from: "-6 deg", to: "4 deg"),
        "seat": Slides(on: "frame", along: (0, 0, -1), from: 0, to: 10, said: "pressed"),
    },
    parts: [(name: "header", on: "frame", shape: Ball(centre: (-120, 80, -60), diameter: 40), surface: 300)],
    branches: [
        (name: "neck, left", diameter: 8, lay: [
            Clamp(name: "K1", on: "frame", at: (-160, 30, -40), facing: (1, 0, 0)),
            Tie(name: "T1", on: "frame", at: (-60, 30, -40), slack: 4),
            Clamp(name: "K2", on: "steering", at: (-40, 40, 90), facing: (0, 0, 1), slack: 40),
        ]),
        (name: "Sitz", diameter: 5, lay: [
            Clamp(name: "K3", on: "frame", at: (-500, 0, -40), facing: (-1, 0, 0)),
            Clamp(name: "K4", on: "seat", at: (-640, 0, 0), facing: (-1, 0, 0), slack: 25),
        ]),
    ],
)"#;

/// The route, solved and checked once for all tests.
fn job() -> &'static (Route, Solution, Findings) {
    static JOB: OnceLock<(Route, Solution, Findings)> = OnceLock::new();
    JOB.get_or_init(|| {
        let route = route_text(ROUTE, "a.ron").unwrap_or_else(|faults| panic!("{faults}"));
        let solution = solve(&route, &Settings::default());
        let findings = check(&route, &solution, &Options::default());
        (route, solution, findings)
    })
}

fn written(file: ExportFile, options: &ExportOptions) -> Vec<u8> {
    let (route, solution, findings) = job();
    export(file, route, solution, findings, options)
}
