//! Resistance, drop, ampacity, and the sum of two signals.

use nalgebra::{DMatrix, DVector};
use neckloom::conductor::{
    PairWire, Series, broken_strands, bundle_factor, conductor_temperature,
    conductor_temperature_estimate, free_air_current, greatest_error, greatest_resistance,
    ideal_resistance, room, signals, wire_length,
};
use neckloom::harness::{SignalPair, Wire, WireId};
use neckloom::quantity::awg_area;

const FOOT: f64 = 0.3048;

fn wire(area_mm2: f64, strands: u32) -> Wire {
    Wire {
        name: "w".to_owned(),
        area: area_mm2 * 1e-6,
        strands,
        outside: 3e-3,
        class: None,
        safety: false,
        current: None,
        marks: neckloom::harness::WireMarks::default(),
    }
}

/// W1 to W5: FAA AC 43.13-1B Tables 11-7 and 11-8 (read in the document; two of its rows are misprinted, here as
/// multiplied out).
#[test]
fn drops_of_the_advisory_circular() {
    for (per_foot, feet, drop, tolerance) in [
        (0.00044, 107.0, 0.942, 1e-3),
        (0.00028, 90.0, 0.504, 1e-3),
        (0.00306, 100.0, 6.12, 5e-3),
        (0.00126, 39.0, 0.983, 5e-3),
        (0.00126, 156.0, 3.931, 5e-3),
        (0.00126, 273.0, 6.880, 5e-3),
        (0.00126, 19.5, 0.4914, 1e-3),
        (0.00202, 88.0, 3.555, 1e-3),
    ] {
        let per_metre = per_foot / FOOT;
        let got = 20.0 * per_metre * feet * FOOT;
        assert!((got - drop).abs() < tolerance, "{per_foot} {feet}: {got}");
    }
}

/// W8, W9, W35: ideal copper at 1/58 Ω mm²/m and 0.00393 1/K (NBS Handbook 100, second-hand; IEC 60028, from memory).
#[test]
fn ideal_copper_by_size_and_temperature() {
    assert!((10.0 * 3.0 * ideal_resistance(1e-6, 20.0) - 0.517_24).abs() < 1e-4);
    let warm = ideal_resistance(0.5e-6, 80.0);
    assert!((warm * 1e3 - 42.614).abs() < 1e-3, "{warm}");
    assert!((5.0 * 4.0 * warm - 0.852_28).abs() < 1e-4);
    let gauge = ideal_resistance(awg_area(22.0), 20.0) * 1e3;
    assert!((gauge / 52.963 - 1.0).abs() < 1e-5);
}

/// W10: 18.5 mΩ/m of ISO 6722-1 (from memory) at 80 °C; and no size of the list lies below ideal copper.
#[test]
fn the_greatest_resistance_of_a_size() {
    assert!((greatest_resistance(&wire(1.0, 32), 80.0) * 1e3 - 22.862).abs() < 1e-3);
    for size in [
        0.22, 0.35, 0.5, 0.75, 1.0, 1.5, 2.0, 2.5, 4.0, 6.0, 10.0, 0.6, 3.0,
    ] {
        let ratio =
            greatest_resistance(&wire(size, 19), 20.0) / ideal_resistance(size * 1e-6, 20.0);
        assert!((1.03..1.13).contains(&ratio), "{size}: {ratio}");
    }
}

/// One strand left of 19 over 5 mm: some 3 mΩ, which a hand meter cannot tell.
#[test]
fn the_last_strand_hides_in_the_leads() {
    let added = broken_strands(&wire(0.5, 19), 1, 5e-3);
    assert!(
        (added * 1e3 - 17.241 * 5e-3 * 18.0 / 0.5).abs() < 0.01,
        "{added}"
    );
    assert!(broken_strands(&wire(0.5, 19), 19, 5e-3).abs() < 1e-15);
    assert!(broken_strands(&wire(0.5, 19), 0, 5e-3).is_infinite());
}

/// W6: the example of FAA AC 43.13-1B p. 11-27 (read in the document): one #14 wire in free air 150 K warmer carries 47
/// A; eight wires, 60 % of them loaded, factor 0.6. And rows of Table 11-9 among themselves: 33 wires of which a fifth
/// is loaded.
#[test]
fn ampacity_goes_through_the_points_that_can_be_read() {
    assert!((free_air_current(awg_area(14.0), 150.0) - 47.0).abs() < 1e-3);
    assert!((bundle_factor(8.0 * 0.6) - 0.6).abs() < 0.005);
    assert!((0.91 * 47.0 * 0.6 - 25.66_f64).abs() < 0.01);
    assert!((bundle_factor(1.0) - 1.0).abs() < 1e-12 && (bundle_factor(0.0) - 1.0).abs() < 1e-12);
    let row = |gauge: f64, rated: f64| free_air_current(awg_area(gauge), rated - 70.0);
    let base = row(14.0, 200.0) / 18.0;
    for (gauge, rated, amperes) in [
        (24.0, 105.0, 2.5),
        (22.0, 105.0, 3.0),
        (20.0, 105.0, 4.0),
        (20.0, 150.0, 7.0),
        (20.0, 200.0, 9.0),
        (16.0, 150.0, 11.0),
        (14.0, 105.0, 10.0),
        (12.0, 150.0, 19.0),
        (10.0, 200.0, 32.0),
    ] {
        let got = row(gauge, rated) / base;
        assert!(
            (got / amperes - 1.0_f64).abs() < 0.25,
            "{gauge} {rated}: {got} against {amperes}"
        );
    }
}

/// W7: air 50, rated 200 °C, 20 A of 26 A by the AC's own (conservative) form: 181.56 °C; squared as heat is, less.
/// Length by the copper constant of para 11-66 (read in the document): 254.5·15.5/(234.5 + 182) = 9.471 ft.
#[test]
fn a_conductor_under_load() {
    let estimate = conductor_temperature_estimate(50.0, 200.0, 20.0 / 26.0);
    assert!((estimate - 181.56).abs() < 0.1, "{estimate}");
    assert!(conductor_temperature(50.0, 200.0, 20.0 / 26.0) < estimate);
    let ratio = ideal_resistance(1e-6, 182.0) / ideal_resistance(1e-6, 20.0);
    assert!((15.5 / ratio - 9.471).abs() < 0.01);
}

fn pair() -> SignalPair {
    SignalPair {
        supply: WireId(0),
        ground: WireId(1),
        signals: [WireId(2), WireId(3)],
        sum: 5.0,
        allowed: None,
        track: 5e3,
        input: 200e3,
        shared: 0.0,
    }
}

/// The whole network solved by nodes: supply's end, ground's end, two wipers, two inputs (Kirchhoff's current law).
fn by_nodes(pair: &SignalPair, series: &Series, travel: f64) -> [f64; 2] {
    let mut g = DMatrix::<f64>::zeros(6, 6);
    let mut i = DVector::<f64>::zeros(6);
    let mut join = |a: usize, b: Option<usize>, ohms: f64| {
        let s = 1.0 / ohms.max(1e-6);
        g[(a, a)] += s;
        if let Some(b) = b {
            g[(b, b)] += s;
            g[(a, b)] -= s;
            g[(b, a)] -= s;
        }
    };
    join(0, None, series.supply);
    join(1, None, series.ground);
    for (which, share) in [(0, travel), (1, 1.0 - travel)] {
        join(0, Some(2 + which), pair.track * (1.0 - share));
        join(1, Some(2 + which), pair.track * share);
        join(2 + which, Some(4 + which), series.signals[which]);
        join(4 + which, None, pair.input);
    }
    i[0] = pair.sum / series.supply.max(1e-6);
    i[1] = pair.shared;
    let v = g.lu().solve(&i).unwrap();
    [v[4], v[5]]
}

#[test]
fn the_sum_of_two_signals_follows_the_whole_network() {
    for shared in [0.0, 0.8] {
        let pair = SignalPair { shared, ..pair() };
        for series in [
            Series::default(),
            Series {
                supply: 60.0,
                ..Series::default()
            },
            Series {
                ground: 40.0,
                ..Series::default()
            },
            Series {
                signals: [9e3, 0.0],
                ..Series::default()
            },
            Series {
                supply: 1.0,
                ground: 2.0,
                signals: [3.0, 4.0],
            },
        ] {
            for step in 1..10 {
                let travel = f64::from(step) / 10.0;
                let (got, exact) = (
                    signals(&pair, &series, travel),
                    by_nodes(&pair, &series, travel),
                );
                for (got, exact) in got.iter().zip(exact) {
                    // The inputs' load on the supply is left out: of the order track/input, 1/40 of the drop in it.
                    let drop =
                        5.0 * (series.supply + series.ground) / 2500.0 + shared * series.ground;
                    assert!(
                        (got - exact).abs() < 2e-4 + 0.05 * drop,
                        "{series:?} {travel}: {got} {exact}"
                    );
                }
            }
        }
    }
}

/// Supply and ground shift the sum opposite ways: V = 5 − I r in one, 5 + I r in the other, I = 2 mA through both
/// tracks. 0.13 V of 2 mA is 65 Ω (a little more, since the resistance lowers the current), far beyond what a meter
/// calls a bad contact; a shared ground at 1 A bears 130 mΩ.
#[test]
fn how_much_a_wire_may_gain() {
    let sound = Series::default();
    for wire in [PairWire::Supply, PairWire::Ground] {
        let gain = room(&pair(), &sound, wire, 0.13).unwrap();
        assert!((gain - 66.7).abs() < 1.5, "{wire:?}: {gain}");
    }
    let lifted = SignalPair {
        shared: 1.0,
        ..pair()
    };
    let gain = room(&lifted, &sound, PairWire::Ground, 0.13).unwrap();
    assert!((gain - 0.13).abs() < 0.002, "{gain}");
    // A signal's wire carries almost nothing: 5 V · r/(200 kΩ + r) = 0.13 V at 5.3 kΩ.
    let gain = room(&pair(), &sound, PairWire::Signal(1), 0.13).unwrap();
    assert!((gain - 5.34e3).abs() < 200.0, "{gain}");
    assert_eq!(
        room(
            &pair(),
            &Series {
                supply: 500.0,
                ..sound
            },
            PairWire::Supply,
            0.13
        ),
        None
    );
    let (off, _) = greatest_error(&pair(), &sound);
    assert!(off.abs() < 1e-12);
}

/// Two wires of outside diameter d, twisted: each runs on a helix of radius d/2, longer by √(1 + (πd/pitch)²).
#[test]
fn twisted_wires_are_longer_than_the_branch() {
    let text = |pitch: &str| {
        format!(
            "(format: 1, title: \"twisted (invented)\", bodies: {{ \"frame\": Fixed }},
             wires: {{ \"a\": (size: \"0.5 mm2\", outside: 2), \"b\": (size: \"0.5 mm2\", outside: 2) }},
             branches: [(name: \"pair\", wires: [\"a\", \"b\"], {pitch} lay: [
                 Clamp(name: \"K1\", on: \"frame\", at: (0, 0, 0), facing: (1, 0, 0)),
                 Clamp(name: \"K2\", on: \"frame\", at: (200, 0, 0), facing: (1, 0, 0), length: 200),
             ])])"
        )
    };
    let length = |pitch: &str| {
        let route = neckloom::read::route_text(&text(pitch), "pair.ron")
            .unwrap_or_else(|faults| panic!("{faults}"));
        let solution = neckloom::rod::solve(&route, &neckloom::rod::Settings::default());
        wire_length(&route, &solution, WireId(1))
    };
    assert!((length("") - 0.2).abs() < 1e-9);
    for pitch in [10.0, 25.0, 40.0_f64] {
        let wanted = 0.2 * (1.0 + (std::f64::consts::PI * 2.0 / pitch).powi(2)).sqrt();
        let got = length(&format!("pitch: {pitch},"));
        assert!((got - wanted).abs() < 1e-6, "{pitch}: {got} {wanted}");
    }
}
