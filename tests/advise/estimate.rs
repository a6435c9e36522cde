//! The quick answer: its closed form against a published rotation, its answers against machines that are made up at
//! random and solved in full.

use nalgebra::{Point3, Rotation3, Unit, Vector3};
use neckloom::advise::estimate::{Answer, Change, Chord, Readings, Side, estimate};
use neckloom::check::Limits;

use crate::geometry::random::Random;

#[test]
fn the_straight_way_follows_a_tilted_axis() {
    // Axis through the origin leaning back by 24°, steered point (60, 20, 40), still point (−70, 10, −30) mm. Distances
    // by Rodrigues' formula at high precision; the greatest lies inside the range.
    let rake = 24f64.to_radians();
    let axis = Vector3::new(-rake.sin(), 0.0, rake.cos());
    let steered = Vector3::new(0.060, 0.020, 0.040);
    let still = Vector3::new(-0.070, 0.010, -0.030);
    let chord = Chord::between(&steered, &still, &axis);
    for (degrees, mm) in [
        (-35f64, 150.2566),
        (-20.0, 150.99428),
        (0.0, 147.98649),
        (20.0, 140.51055),
        (35.0, 132.10588),
    ] {
        let found = 1e3 * chord.distance(degrees.to_radians());
        assert!(
            (found - mm).abs() < 1e-4,
            "{degrees}°: {found} mm, wanted {mm} mm"
        );
    }
    let lock = 35f64.to_radians();
    let (longest, at) = chord.longest(-lock, lock);
    // Brute force: every hundredth of a degree.
    let brute = (-3500..=3500).map(|i| {
        let turn = Rotation3::from_axis_angle(
            &Unit::new_normalize(axis),
            (f64::from(i) / 100.0).to_radians(),
        );
        (turn * steered - still).norm()
    });
    let brute = brute.fold(0.0, f64::max);
    assert!((longest - brute).abs() < 1e-8, "{longest} against {brute}");
    assert!(
        at > -lock && at < -15f64.to_radians(),
        "{}",
        at.to_degrees()
    );
}

/// A machine made up at random: where its ties are and how it steers; what is read of it.
struct MadeUp {
    still: Point3<f64>,
    changed: Point3<f64>,
    rake: f64,
    lock: [f64; 2],
    length: f64,
    readings: Readings,
}

fn normal(random: &mut Random) -> f64 {
    (0..12).map(|_| random.between(-0.5, 0.5)).sum()
}

/// Not from the distribution that the estimate expects: even between bounds that go beyond it.
fn made_up(random: &mut Random) -> MadeUp {
    let mut between = |low: f64, high: f64| random.between(low, high);
    let still = Point3::new(
        between(-0.24, 0.04),
        between(-0.07, 0.07),
        between(-0.24, 0.05),
    );
    let bars = [
        between(0.04, 0.20),
        between(0.05, 0.25),
        between(0.70, 0.90),
    ];
    let out = between(0.02, 0.5 * bars[2] - 0.17);
    let share = (out / (0.5 * bars[2] - 0.17)).min(1.0);
    let steered = Point3::new(
        between(-0.03, 0.05) - 0.8 * share * bars[1],
        out,
        between(0.0, 0.06) + share.max(0.5) * bars[0],
    );
    let rake = between(22.0, 34.0).to_radians();
    let lock = [
        between(28.0, 42.0).to_radians(),
        between(28.0, 42.0).to_radians(),
    ];
    let change = [
        between(-0.02, 0.12),
        between(-0.06, 0.08),
        between(-0.05, 0.06),
    ];
    let roll = between(-10.0, 10.0).to_radians();
    let turned = Rotation3::from_axis_angle(&Vector3::y_axis(), roll)
        * Vector3::new(-change[1], share * 0.5 * change[2], change[0]);
    let axis = Vector3::new(-rake.sin(), 0.0, rake.cos());
    let chord = Chord::between(&steered.coords, &still.coords, &axis);
    let length = chord.longest(-lock[1], lock[0]).0 + between(0.005, 0.10);
    let spare = |angle: f64| length - chord.distance(angle);
    let truth = [spare(lock[0]), spare(0.0), spare(-lock[1])];
    let mut read =
        |value: f64, fixed: f64, part: f64| value + normal(random) * (fixed + part * value.abs());
    let spare = truth.map(|value| Some(read(value, 3e-3, 0.01).max(0.0)));
    let sizes = |random_read: &mut dyn FnMut(f64) -> f64, old: f64, by: f64| Change {
        old: random_read(old),
        new: random_read(old + by),
    };
    let mut of_bars = |value: f64| read(value, 4e-3, 0.0);
    let rise = sizes(&mut of_bars, bars[0], change[0]);
    let pullback = sizes(&mut of_bars, bars[1], change[1]);
    let width = sizes(&mut of_bars, bars[2], change[2]);
    MadeUp {
        still,

        changed: steered + turned,
        rake,
        lock,
        length,
        readings: Readings {
            spare,
            length: Some(read(length, 3e-3, 0.01)),
            rise: Some(rise),
            pullback: Some(pullback),
            width: Some(width),
            diameter: Some(0.008),
            lock: Some(lock.map(|angle| read(angle, 1f64.to_radians(), 0.0))),
            rake: None,
            out: Some(read(out, 5e-3, 0.0)),
            side: Side::Left,
        },
    }
}

impl MadeUp {
    /// Slack at the tightest angle with the new bars, by the closed form.
    fn spare(&self) -> f64 {
        let axis = Vector3::new(-self.rake.sin(), 0.0, self.rake.cos());
        let chord = Chord::between(&self.changed.coords, &self.still.coords, &axis);
        self.length - chord.longest(-self.lock[1], self.lock[0]).0
    }
}

/// Right and wrong answers of each kind, and how often the readings did not tell.
#[derive(Debug, Default)]
struct Tally {
    yes: [u32; 2],
    no: [u32; 2],
    open: u32,
    /// Cases whose slack lies within two standard deviations of the estimate.
    near: u32,
}

impl Tally {
    fn count(&mut self, answer: Answer, reaches: bool) {
        match answer {
            Answer::Yes => self.yes[usize::from(reaches)] += 1,
            Answer::No => self.no[usize::from(!reaches)] += 1,
            Answer::CannotTell => self.open += 1,
        }
    }

    fn right(of: [u32; 2]) -> f64 {
        f64::from(of[1]) / f64::from(of[0] + of[1])
    }
}

fn tally(count: u32, seed: u64, forget: impl Fn(&mut Readings)) -> Tally {
    let limits = Limits::new(&[]);
    let mut random = Random::new(seed);
    let mut tally = Tally::default();
    for _ in 0..count {
        let machine = made_up(&mut random);
        let mut readings = machine.readings;
        forget(&mut readings);
        let found = estimate(&readings, &limits, 1).unwrap();
        tally.count(found.answer, machine.spare() >= found.margin);
        if (found.spare - machine.spare()).abs() <= 2.0 * found.spread {
            tally.near += 1;
        }
    }
    tally
}

#[test]
fn answers_are_right_and_seldom_left_open() {
    let tally = tally(500, 11, |_| {});
    println!("all read: {tally:?}");
    assert!(Tally::right(tally.yes) >= 0.97, "{tally:?}");
    assert!(Tally::right(tally.no) >= 0.97, "{tally:?}");
    // Of 500 machines whose slack and bars are spread evenly about the limit.
    assert!(tally.open <= 175, "{tally:?}");
    assert!(tally.near >= 425, "{tally:?}");
}

#[test]
fn with_fewer_readings_it_says_less_and_stays_right() {
    let little = tally(300, 12, |readings| {
        readings.spare = [None, readings.spare[1], None];
        readings.lock = None;
        readings.length = None;
        readings.out = None;
    });
    println!("slack straight ahead alone: {little:?}");
    assert!(Tally::right(little.yes) >= 0.95, "{little:?}");
    assert!(little.open > 100, "{little:?}");
}

#[test]
fn the_full_solver_agrees() {
    let limits = Limits::new(&[]);
    let mut random = Random::new(13);
    let mut tally = Tally::default();
    for _ in 0..40 {
        let machine = made_up(&mut random);
        let found = estimate(&machine.readings, &limits, 1).unwrap();
        let text = machine.route_text();
        let route =
            neckloom::read::route_text(&text, "made up").unwrap_or_else(|f| panic!("{f}\n{text}"));
        let solution = neckloom::rod::solve(&route, &neckloom::rod::Settings::default());
        let options = neckloom::check::Options {
            spread: false,
            ..neckloom::check::Options::default()
        };
        let findings = neckloom::check::check(&route, &solution, &options);
        let short = |f: &neckloom::check::Finding| {
            f.check == "elongation" && f.verdict == neckloom::check::Verdict::Over
        };
        let slack = findings
            .findings
            .iter()
            .find(|f| f.check == "elongation" && !f.at_most);
        let slack = slack.unwrap().value;
        // The sweep stands still every two degrees, the closed form does not.
        assert!(
            (slack - machine.spare()).abs() < 0.2e-3,
            "{slack} against {}",
            machine.spare()
        );
        tally.count(found.answer, !findings.findings.iter().any(short));
    }
    println!("solved in full: {tally:?}");
    assert!(tally.yes[0] + tally.no[0] <= 1, "{tally:?}");
    assert!(tally.yes[1] + tally.no[1] >= 20, "{tally:?}");
}

impl MadeUp {
    /// The machine with its new bars as a route file.
    fn route_text(&self) -> String {
        let mm =
            |p: &Point3<f64>| format!("({:.4}, {:.4}, {:.4})", 1e3 * p.x, 1e3 * p.y, 1e3 * p.z);
        format!(
            r#"(format: 1, title: "made up", units: (length: "mm", temperature: "degC"), tolerance: 1,
            bodies: {{ "frame": Fixed, "steering": Turns(on: "frame", through: (0, 0, 0), rake: "{:.6} deg",
                from: "{:.6} deg", to: "{:.6} deg") }},
            parts: [], wires: {{ "w": (size: "0.5 mm2", strands: 19, outside: 1.6) }},
            branches: [(name: "lead", wires: ["w", "w"], lay: [
                Tie(name: "A", on: "frame", at: {}, width: 4.8),
                Tie(name: "B", on: "steering", at: {}, width: 4.8, length: {:.4}),
            ])])"#,
            self.rake.to_degrees(),
            -self.lock[1].to_degrees(),
            self.lock[0].to_degrees(),
            mm(&self.still),
            mm(&self.changed),
            1e3 * self.length
        )
    }
}

#[test]
fn the_reading_to_repeat_is_one_that_was_missing_or_doubtful() {
    let limits = Limits::new(&[]);
    let mut random = Random::new(5);
    for _ in 0..20 {
        let machine = made_up(&mut random);
        let all = estimate(&machine.readings, &limits, 1).unwrap();
        assert_eq!(all.repeat, all.readings[0].reading);
        assert!(all.readings.windows(2).all(|w| w[0].share >= w[1].share));
        // Without the slack on its tighter side that is what to measure, and the spread is wider.
        let tight = if all.tightest > 0.0 { 0 } else { 2 };
        if all.tightest.abs() < 0.2 {
            continue;
        }
        let mut fewer = machine.readings;
        fewer.spare[tight] = None;
        fewer.length = None;
        let fewer = estimate(&fewer, &limits, 1).unwrap();
        assert!(fewer.spread > all.spread, "{} {}", fewer.spread, all.spread);
    }
}

#[test]
fn what_cannot_be_is_refused() {
    let limits = Limits::new(&[]);
    let good = Readings {
        spare: [Some(0.05), Some(0.04), Some(0.03)],
        length: Some(0.28),
        rise: Some(Change {
            old: 0.1,
            new: 0.15,
        }),
        ..Readings::default()
    };
    assert!(estimate(&good, &limits, 1).is_ok());
    let refused = |readings: Readings| estimate(&readings, &limits, 1).unwrap_err().to_string();
    assert!(
        refused(Readings {
            spare: [None; 3],
            ..good
        })
        .contains("no slack was read")
    );
    assert!(refused(Readings { rise: None, ..good }).contains("nothing changes"));
    assert!(
        refused(Readings {
            length: Some(0.05),
            ..good
        })
        .contains("as long as the whole lead")
    );
    assert!(
        refused(Readings {
            lock: Some([2.0, 0.6]),
            ..good
        })
        .contains("115 degrees")
    );
    assert!(
        refused(Readings {
            length: Some(28.0),
            ..good
        })
        .contains("28.00 m")
    );
}

#[test]
fn the_bounds_are_the_straight_line_and_the_plain_sum() {
    // 30, 40 and half of 240 mm: √(30² + 40² + 120²) = 130 (a Pythagorean quadruple), sum 190.
    let readings = Readings {
        spare: [Some(0.2), Some(0.2), Some(0.2)],
        rise: Some(Change {
            old: 0.10,
            new: 0.13,
        }),
        pullback: Some(Change {
            old: 0.10,
            new: 0.14,
        }),
        width: Some(Change {
            old: 0.70,
            new: 0.94,
        }),
        ..Readings::default()
    };
    assert!((readings.straight_line() - 0.130).abs() < 1e-12);
    assert!((readings.plain_sum() - 0.190).abs() < 1e-12);
    let found = estimate(&readings, &Limits::new(&[]), 1).unwrap();
    assert!(found.taken <= 0.130 + 1e-9, "{}", found.taken);
}
