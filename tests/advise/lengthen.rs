//! Lengths to add, against closed forms where the worst pose lies inside the sweep; cuts, splices and voltage drops.

use neckloom::advise::lengthen::{
    Join, Lengthened, Options, SpliceRules, cuts, drops, lengthen, longer, ohms_per_metre, splices,
    voltage_drop,
};
use neckloom::check::{Verdict, check};
use neckloom::quantity::awg_area;
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};
use neckloom::route::Route;

/// A lead over a tilted axis: 24° back, from (−70, 10, −30) to (60, 20, 40) mm. The straight way is longest inside the
/// sweep: 150.99428 mm at −20° and 151.05268 mm at −23.2°, more than at either stop of ±35° (Rodrigues' formula).
pub(super) fn over_the_axis(length_mm: f64) -> Route {
    let text = format!(
        r#"(format: 1, title: "over the axis", units: (length: "mm", temperature: "degC"), tolerance: 1,
        bodies: {{ "frame": Fixed, "steering": Turns(on: "frame", through: (0, 0, 0), rake: "24 deg",
            from: "-35 deg", to: "35 deg") }},
        parts: [],
        wires: {{
            "lamp": (size: "1.5 mm2", strands: 30, outside: 2.4, current: "4.6 A", colour: "yellow/red",
                from: "plug, cavity 3", to: "switch, cavity 1"),
            "sensor": (size: "20 AWG", strands: 19, outside: 1.8, safety: true),
        }},
        branches: [(name: "lead", wires: ["lamp", "lamp", "sensor"], diameter: 2.5, lay: [
            Connector(name: "plug", on: "frame", at: (-470, 10, -30), facing: (1, 0, 0)),
            Tie(name: "T1", on: "frame", at: (-270, 10, -30), width: 4.8, slack: 0.5),
            Tie(name: "A", on: "frame", at: (-70, 10, -30), width: 4.8, slack: 0.5),
            Tie(name: "P", on: "steering", at: (60, 20, 40), width: 4.8, length: {length_mm}),
            Connector(name: "switch", on: "steering", at: (60, 220, 40), facing: (0, 1, 0), slack: 2),
        ])])"#
    );
    route_text(&text, "over the axis").unwrap_or_else(|faults| panic!("{faults}"))
}

/// The longest straight way of [`over_the_axis`] in the poses of its sweep \[mm\].
fn longest(route: &Route) -> f64 {
    let solution = solve(route, &Settings::default());
    let branch = &route.branches[0];
    let ways = solution.stances.iter().map(|stance| {
        let at = |lay: usize| route.fixing_position(branch, lay, stance);
        1e3 * (at(3) - at(2)).norm()
    });
    ways.fold(0.0, f64::max)
}

pub(super) fn settings(step: f64, spread: bool) -> Options {
    Options {
        step,
        spread,
        ..Options::default()
    }
}

fn added(done: &Lengthened) -> Vec<(usize, f64)> {
    done.adds
        .iter()
        .map(|add| (add.span, 1e3 * add.by))
        .collect()
}

#[test]
fn the_worst_pose_inside_the_sweep_decides() {
    let route = over_the_axis(152.0);
    let longest = longest(&route);
    assert!((150.994..151.0527).contains(&longest), "{longest}");
    // 15 mm are asked at the tightest angle (`slack least`).
    let needed = 15.0 + longest - 152.0;
    for step in [1.0, 2.5, 10.0] {
        let done = lengthen(&route, &settings(step * 1e-3, false));
        let wanted = (needed / step).ceil() * step;
        let [(span, add)] = added(&done)[..] else {
            panic!("{:?}", done.adds)
        };
        assert_eq!(span, 2);
        assert!(
            (add - wanted).abs() < 1e-6,
            "step {step}: {add}, wanted {wanted}"
        );
        assert!(done.uncured.is_empty(), "{:?}", done.uncured);
        // One step less does not do.
        let mut less = done.adds.clone();
        less[0].by -= step * 1e-3;
        let less = longer(&route, &less);
        let options = neckloom::check::Options {
            spread: false,
            ..Default::default()
        };
        let found = check(&less, &solve(&less, &Settings::default()), &options);
        let over = found
            .findings
            .iter()
            .any(|f| f.check == "elongation" && f.verdict == Verdict::Over);
        assert!(over);
    }
}

#[test]
fn the_spread_is_counted_on_top() {
    let route = over_the_axis(152.0);
    let bare = added(&lengthen(&route, &settings(1e-3, false)))[0].1;
    let sure = lengthen(&route, &settings(1e-3, true));
    let slack = sure
        .findings
        .findings
        .iter()
        .find(|f| f.check == "elongation" && !f.at_most)
        .unwrap();
    assert_eq!(slack.verdict, Verdict::Within);
    let spread = 1e3 * slack.spread.unwrap();
    // Two points at 1 mm each along the way; 95 % lie within 1.645 standard deviations on one side.
    assert!((1.2..1.6).contains(&spread), "{spread}");
    let more = added(&sure)[0].1 - bare;
    assert!((more - 1.645 * spread).abs() <= 1.0, "{more} for {spread}");
}

#[test]
fn what_is_long_enough_stays_as_it_is() {
    let route = over_the_axis(172.0);
    let done = lengthen(&route, &settings(1e-2, true));
    assert!(
        done.adds.is_empty() && done.asked.is_empty(),
        "{:?}",
        done.asked
    );
}

#[test]
fn cuts_and_splices_keep_clear_of_what_moves() {
    let route = over_the_axis(152.0);
    let done = lengthen(&route, &settings(1e-2, false));
    let cut = cuts(&done.route, &done.solution, &done.adds);
    assert_eq!(cut.len(), 3);
    let total = 1e3 * done.solution.branches[0].spans.last().unwrap().end();
    for row in &cut {
        assert!((1e3 * row.finished - total).abs() < 1e-9);
        // Two re-terminations of 20 mm at each of two connectors.
        assert!((1e3 * (row.cut - row.finished) - 80.0).abs() < 1e-9);
    }
    assert_eq!(cut[0].marks.colour.as_deref(), Some("yellow/red"));
    assert_eq!(cut[1].marks.from.as_deref(), Some("plug, cavity 3"));
    assert_eq!(cut[2].marks.to, None);
    let rules = SpliceRules::default();
    for join in [Join::Crimp, Join::SolderSleeve] {
        let (placed, none) = splices(&done.route, &done.solution, &done.adds, &cut, join, &rules);
        assert_eq!(placed.len(), 2, "{placed:?}");
        assert_eq!(none.len(), 1);
        assert_eq!(none[0].wire, "sensor");
        let half = 0.5 * join.sleeve();
        let spans = &done.solution.branches[0].spans;
        for splice in &placed {
            for span in spans.iter().filter(|span| span.moving) {
                let clear = splice.at + half + rules.from_moving <= span.start + 1e-9
                    || splice.at - half - rules.from_moving >= span.end() - 1e-9;
                assert!(clear, "{splice:?} near {span:?}");
            }
            for station in spans.iter().map(|span| span.start) {
                assert!(
                    (splice.at - station).abs() >= half + rules.from_fixing + 0.0024 - 1e-9,
                    "{splice:?}"
                );
            }
            assert!(join.sleeve() >= 0.030 && join.sleeve() <= 0.050);
        }
        assert!((placed[0].at - placed[1].at).abs() >= rules.apart - 1e-9);
        assert_eq!((placed[0].number, placed[1].number), (1, 2));
    }
}

#[test]
fn voltage_drops_are_those_of_the_handbook() {
    // FAA AC 43.13-1B, Tables 11-7 and 11-8 (Ω/ft, ft, A, V). Where the print is known to slip (3.60 V for the fifth
    // row, .366 V for the sixth) Ohm's law stands here.
    const FOOT: f64 = 0.3048;
    for (per_foot, feet, amperes, volts, off) in [
        (0.00044, 107.0, 20.0, 0.942, 0.001),
        (0.00028, 90.0, 20.0, 0.504, 0.001),
        (0.00306, 100.0, 20.0, 6.12, 0.005),
        (0.00126, 39.0, 20.0, 0.983, 0.005),
        (0.00202, 88.0, 20.0, 3.555, 0.001),
        (0.00126, 19.5, 20.0, 0.4914, 0.001),
        (0.00126, 156.0, 20.0, 3.931, 0.005),
        (0.00126, 273.0, 20.0, 6.880, 0.005),
    ] {
        let found = voltage_drop(per_foot / FOOT, feet * FOOT, amperes);
        assert!((found - volts).abs() <= off, "{found} V, wanted {volts} V");
    }
}

#[test]
fn resistance_follows_the_size() {
    // Table 11-9 of the same, converted (mΩ/m): AWG 20, 16, 10, 4.
    for (gauge, milliohms) in [(20.0, 32.41), (16.0, 15.78), (10.0, 4.134), (4.0, 0.919)] {
        let found = 1e3 * ohms_per_metre(awg_area(gauge)).ohms_per_metre;
        assert!(
            (found / milliohms - 1.0).abs() < 1e-3,
            "AWG {gauge}: {found}"
        );
    }
    // ISO 6722-1, plain copper, from memory: 0.5 and 1.0 mm².
    for (size, milliohms) in [(0.5, 37.1), (1.0, 18.5)] {
        let found = 1e3 * ohms_per_metre(size * 1e-6).ohms_per_metre;
        assert!((found - milliohms).abs() < 1e-9, "{size}: {found}");
    }
    // Any other size: 1/58 Ω mm²/m (NBS Handbook 100) and 2 % for the lay.
    let found = ohms_per_metre(1.2e-6).ohms_per_metre;
    assert!((found - 1.02 / 58.0 / 1.2).abs() < 1e-12);
}

#[test]
fn a_drop_is_told_for_each_wire_with_a_current() {
    let route = over_the_axis(152.0);
    let done = lengthen(&route, &settings(1e-2, false));
    let rows = drops(&done.route, &done.solution, &done.adds);
    let [row] = &rows[..] else { panic!("{rows:?}") };
    assert_eq!(row.wire, "lamp");
    let add: f64 = done.adds.iter().map(|add| add.by).sum();
    // 1.5 mm² at 12.7 mΩ/m and 4.6 A.
    assert!((row.after - row.before - 0.0127 * 4.6 * add).abs() < 1e-12);
}
