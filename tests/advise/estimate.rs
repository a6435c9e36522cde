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
        assert!((found - mm).abs() < 1e-4, "{degrees}°: {found} mm, wanted {mm} mm");
    }
    let lock = 35f64.to_radians();
    let (longest, at) = chord.longest(-lock, lock);
    // Brute force: every hundredth of a degree.
    let brute = (-3500..=3500).map(|i| {
        let turn = Rotation3::from_axis_angle(&Unit::new_normalize(axis), (f64::from(i) / 100.0).to_radians());
        (turn * steered - still).norm()
    });
    let brute = brute.fold(0.0, f64::max);
    assert!((longest - brute).abs() < 1e-8, "{longest} against {brute}");
    assert!(at > -lock && at < -15f64.to_radians(), "{}", at.to_degrees());
}

/// A machine made up at random: where its ties are and how it steers; what is read of it.
struct MadeUp {
    still: Point3<f64>,
    steered: Point3<f64>,
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
    let still = Point3::new(between(-0.24, 0.04), between(-0.07, 0.07), between(-0.24, 0.05));
    let bars = [between(0.04, 0.20), between(0.05, 0.25), between(0.70, 0.90)];
    let out = between(0.02, 0.5 * bars[2] - 0.17);
    let share = (out / (0.5 * bars[2] - 0.17)).min(1.0);
    let steered = Point3::new(
        between(-0.03, 0.05) - 0.8 * share * bars[1],
        out,
        between(0.0, 0.06) + share.max(0.5) * bars[0],
    );
    let rake = between(22.0, 34.0).to_radians();
    let lock = [between(28.0, 42.0).to_radians(), between(28.0, 42.0).to_radians()];
    let change = [between(-0.02, 0.12), between(-0.06, 0.08), between(-0.05, 0.06)];
    let roll = between(-10.0, 10.0).to_radians();
    let turned = Rotation3::from_axis_angle(&Vector3::y_axis(), roll)
        * Vector3::new(-change[1], share * 0.5 * change[2], change[0]);
    let axis = Vector3::new(-rake.sin(), 0.0, rake.cos());
    let chord = Chord::between(&steered.coords, &still.coords, &axis);
    let length = chord.longest(-lock[1], lock[0]).0 + between(0.005, 0.10);
    let spare = |angle: f64| length - chord.distance(angle);
    let truth = [spare(lock[0]), spare(0.0), spare(-lock[1])];
    let mut read = |value: f64, fixed: f64, part: f64| value + normal(random) * (fixed + part * value.abs());
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
        steered,
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

#[derive(Debug, Default)]
struct Tally {
    yes: [u32; 2],
    no: [u32; 2],
    open: u32,
    within_two: u32,
}

impl Tally {
    fn count(&mut self, answer: Answer, reaches: bool) {
        match answer {
            Answer::Yes => self.yes[usize::from(reaches)] += 1,
            Answer::No => self.no[usize::from(!reaches)] += 1,
            Answer::CannotTell => self.open += 1,
        }
    }
}

#[test]
fn explore() {
    let mut limits = Limits::new(&[]);
    let _ = &mut limits;
    for variant in 0..6 {
        let mut random = Random::new(7);
        let mut tally = Tally::default();
        let n = 1500;
        let mut sd = 0.0;
        for _ in 0..n {
            let machine = made_up(&mut random);
            let mut r = machine.readings;
            match variant {
                1 => r.out = None,
                2 => { r.out = None; r.lock = None; }
                3 => { r.length = None; }
                4 => { r.spare[1] = None; }
                5 => { r.spare = [None, r.spare[1], None]; r.lock=None; r.out=None; r.length=None; }
                _ => {}
            }
            let Ok(found) = estimate(&r, &limits, 1) else { continue };
            tally.count(found.answer, machine.spare() >= found.margin);
            sd += found.spread;
            if (found.spare - machine.spare()).abs() < 2.0 * found.spread { tally.within_two += 1; }
        }
        println!("{variant}: {tally:?} mean sd {:.1} mm", sd / f64::from(n) * 1e3);
    }
}
