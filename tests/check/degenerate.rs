//! Machines on the edge of what makes sense: fixings in one place, directions against each other, no slack or far too much,
//! parts that just touch, half turns, machines a thousand times too small or too large. Nothing panics; what is told is a
//! number and judged as it stands; what was not found is said; and what is refused is refused with its line.

use std::panic::catch_unwind;
use std::sync::Mutex;

use neckloom::check::{Options, Verdict, check};
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};
use rayon::prelude::*;

/// How far from the edge itself \[mm, or rad, or share\].
const OFF: [f64; 6] = [0.0, 1e-12, 1e-9, 1e-6, 1e-3, 1e-1];

/// A machine by what is odd about it.
struct Odd {
    unit: &'static str,
    scale: f64,
    turns: (f64, f64),
    parts: String,
    lay: String,
}

impl Odd {
    fn with(lay: String) -> Self {
        Self {
            unit: "mm",
            scale: 1.0,
            turns: (-35.0, 35.0),
            parts: String::new(),
            lay,
        }
    }

    fn text(&self) -> String {
        let (from, to) = self.turns;
        let s = self.scale;
        format!(
            "(format: 1, title: \"odd (invented)\", units: (length: \"{}\", temperature: \"degC\"), tolerance: {},
             bodies: {{
                \"frame\": Fixed,
                \"steering\": Turns(on: \"frame\", through: (0, 0, 0), axis: (-0.42, 0, 0.9), from: \"{from} deg\", to: \"{to} deg\"),
             }},
             parts: [
                (name: \"backbone\", on: \"frame\", shape: Tube(along: [({}, 0, {}), ({}, 0, {})], diameter: {})),
                {}
             ],
             wires: {{ \"lamp\": (size: \"0.75 mm2\", outside: {}, class: \"C\", runs: [\"neck\"]) }},
             branches: [(name: \"neck\", diameter: {}, lay: [{}])])",
            self.unit,
            2.0 * s,
            -40.0 * s,
            -90.0 * s,
            -430.0 * s,
            -110.0 * s,
            30.0 * s,
            self.parts,
            2.1 * s,
            8.0 * s,
            self.lay
        )
    }
}

const K1: &str = "Clamp(name: \"K1\", on: \"frame\", at: (-260, 30, -40), facing: (1, 0, 0.1))";
const END: &str =
    "Clamp(name: \"K3\", on: \"steering\", at: (-40, 20, 90), facing: (0.1, 0.1, 1), length: 190)";

fn cases() -> Vec<(String, Odd)> {
    let mut cases = Vec::new();
    for off in OFF {
        let mut case = |what: &str, odd: Odd| cases.push((format!("{what}, {off:e} off"), odd));
        case(
            "two fixings in one place",
            Odd::with(format!(
                "{K1}, Tie(name: \"T1\", on: \"frame\", at: ({}, 30, -40), slack: 0), {END}",
                -260.0 + off
            )),
        );
        let (sin, cos) = off.sin_cos();
        case(
            "directions against each other",
            Odd::with(format!(
                "{K1}, Clamp(name: \"K2\", on: \"frame\", at: (-160, 30, -40), facing: ({}, {sin}, 0), slack: 12), {END}",
                -cos
            )),
        );
        case(
            "no slack",
            Odd::with(format!(
                "{K1}, Tie(name: \"T1\", on: \"frame\", at: (-160, 30, -40), length: {}), {END}",
                100.0 * (1.0 + off)
            )),
        );
        let beside = |gap: f64| {
            let y = 30.0 + 4.0 + 10.0 + gap;
            format!(
                "(name: \"rail\", on: \"frame\", shape: Tube(along: [(-300, {y}, -40), (-100, {y}, -40)], diameter: 20)),
                 (name: \"other rail\", on: \"frame\", shape: Tube(along: [(-300, {}, -40), (-100, {}, -40)], diameter: 20)),",
                60.0 - y,
                60.0 - y
            )
        };
        for (word, gap) in [("just apart", off), ("just overlapping", -off)] {
            case(
                word,
                Odd {
                    parts: beside(gap),
                    ..Odd::with(format!(
                        "{K1}, Tie(name: \"T1\", on: \"frame\", at: (-160, 30, -40), slack: 1), {END}"
                    ))
                },
            );
        }
        case(
            "a way that doubles back",
            Odd::with(format!(
                "{K1}, Via(on: \"frame\", at: (-120, {}, -40)), Via(on: \"frame\", at: (-230, 30, -40)), Tie(name: \"T1\", on: \"frame\", at: (-160, 30, -40), slack: 0), {END}",
                30.0 + off
            )),
        );
        case(
            "half turns",
            Odd {
                turns: (-180.0 + off, 180.0 - off),
                ..Odd::with(format!("{K1}, {END}"))
            },
        );
        case(
            "a fixing on the axis",
            Odd::with(format!(
                "{K1}, Tie(name: \"T1\", on: \"steering\", at: ({off}, 0, 0), length: 270), Tie(name: \"T2\", on: \"steering\", at: (-42, 0, 90), slack: 1)"
            )),
        );
    }
    for times in [3.0, 30.0, 200.0] {
        cases.push((
            format!("{times} times as long as it must be"),
            Odd::with(format!(
                "{K1}, Tie(name: \"T1\", on: \"frame\", at: (-160, 30, -40), length: {}), {END}",
                100.0 * times
            )),
        ));
    }
    for (unit, scale) in [
        ("mm", 1e-3),
        ("mm", 0.1),
        ("mm", 100.0),
        ("in", 0.1 / 25.4),
        ("in", 100.0 / 25.4),
        ("in", 1e6),
    ] {
        let at = |x: f64, y: f64, z: f64| format!("({}, {}, {})", x * scale, y * scale, z * scale);
        cases.push((
            format!("{unit}, {scale:e} times"),
            Odd {
                unit,
                scale,
                ..Odd::with(format!(
                    "Clamp(name: \"K1\", on: \"frame\", at: {}, facing: (1, 0, 0.1)),
                     Clamp(name: \"K3\", on: \"steering\", at: {}, facing: (0.1, 0.1, 1), slack: {})",
                    at(-260.0, 30.0, -40.0),
                    at(-40.0, 20.0, 90.0),
                    12.0 * scale
                ))
            },
        ));
    }
    cases
}

/// What is wrong with what is told of it; `None` where nothing is. What is refused goes to `refused`.
fn fault(odd: &Odd, spread: bool, refused: &Mutex<Vec<String>>) -> Option<String> {
    let route = match route_text(&odd.text(), "odd.ron") {
        Ok(route) => route,
        // Refused: then with the place.
        Err(why) => {
            let why = why.to_string();
            refused.lock().unwrap().push(why.clone());
            return (!why.contains("odd.ron:")).then_some(why);
        }
    };
    let solution = solve(&route, &Settings::default());
    let options = Options {
        spread,
        ..Options::default()
    };
    let found = check(&route, &solution, &options);
    for finding in &found.findings {
        let told = format!("{} {}", finding.check, finding.subject);
        let spreads = finding.spread.into_iter().chain(finding.chance_over);
        if [finding.value, finding.limit]
            .into_iter()
            .chain(spreads)
            .any(f64::is_nan)
        {
            return Some(format!("{told}: not a number: {finding:?}"));
        }
        let (value, limit) = (finding.value, finding.limit);
        let beyond = if finding.at_most {
            value - limit
        } else {
            limit - value
        };
        let clearly = 1e-6 * limit.abs().max(1e-9);
        let over = finding.verdict == Verdict::Over;
        if (beyond > clearly && !over) || (beyond < -clearly && over) {
            return Some(format!(
                "{told}: {value} against {limit} is {:?}",
                finding.verdict
            ));
        }
    }
    let lost = solution.branches[0].shapes.iter().any(|s| !s.converged);
    let said = found.findings.iter().any(|f| f.check == "solve") || !found.blanks.is_empty();
    (lost && !said).then(|| "a pose was not found, and nothing says so".to_owned())
}

#[test]
fn on_the_edge_of_sense_nothing_is_lost_or_made_up() {
    let cases = cases();
    let refused = Mutex::new(Vec::new());
    let faults: Vec<String> = cases
        .par_iter()
        .enumerate()
        .filter_map(|(i, (what, odd))| {
            // With the spread, which nudges it over the edge, every third: in turn each kind of them.
            let fault = catch_unwind(|| fault(odd, i % 3 == 0, &refused));
            let fault = fault.unwrap_or_else(|_| Some("it panics".to_owned()));
            fault.map(|fault| format!("{what}: {fault}"))
        })
        .collect();
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    let refused = refused.into_inner().unwrap();
    let few = 4 * refused.len() < cases.len();
    assert!(
        few,
        "{} of {}:\n{}",
        refused.len(),
        cases.len(),
        refused.join("\n")
    );
}
