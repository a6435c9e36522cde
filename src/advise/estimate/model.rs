//! What the readings depend on: where the two ties are, the lead, the steering, the change of the bars.
//!
//! Frame of the machine, zero where the steering axis passes the top of the stem. What is not read is taken from
//! experience with a wide error: our own choice, since nothing is published; each stands in `assumed`.

use nalgebra::{SVector, Vector3};

use super::chord::Chord;
use super::readings::{ANGLE_SD, BARS_SD, OUT_SD, Reading, Readings, Side};

/// Number of unknowns.
pub(super) const UNKNOWNS: usize = 14;
/// The unknowns, each less its expected value, in units of its standard deviation.
pub(super) type State = SVector<f64, UNKNOWNS>;

/// Indices of the unknowns.
const FRAME_TIE: usize = 0;
const BARS_TIE: usize = 3;
const LENGTH: usize = 6;
const LOCK: usize = 7;
const RAKE: usize = 9;
const UP: usize = 10;
const BACK: usize = 11;
const OUTWARD: usize = 12;
const ROLL: usize = 13;

/// Mean squared misfit of the readings above which they do not go together.
pub(super) const ODD: f64 = 4.0;

/// A tie on the frame before the steering head: expected at this place, with these errors \[m\].
const FRAME_TIE_AT: [(f64, f64); 3] = [(-0.10, 0.10), (0.0, 0.055), (-0.09, 0.10)];
/// How far the bars' clamp stands above the top of the stem and ahead of the axis, and how well that and the bars' shape
/// tell where a tie on them is \[m\].
const BARS_CLAMP: [(f64, f64); 2] = [(0.02, 0.05), (0.03, 0.05)];
/// Rise, pullback and width of common bars \[m\].
const COMMON_BARS: [f64; 3] = [0.10, 0.15, 0.78];
/// From the end of the bars to the switch housing's lead \[m\].
const GRIP: f64 = 0.17;
/// Length of a lead that was not measured, and its error \[m\].
const USUAL_LENGTH: (f64, f64) = (0.32, 0.15);
/// Steering stops that were not measured: 32 to 40° on road machines (from memory) \[rad\].
const USUAL_LOCK: (f64, f64) = (0.63, 0.06);
/// Rake that was not measured: 22 to 34° (from memory) \[rad\].
const USUAL_RAKE: (f64, f64) = (0.47, 0.06);
/// How far the bars may be rolled in their clamp against the way their rise is measured \[rad\].
const ROLL_SD: f64 = 0.12;

/// Error of a size that stays what it is \[m\].
const SAME: f64 = 1e-6;

/// The model of one lead.
#[derive(Debug, Clone, Copy)]
pub(super) struct Model {
    mean: State,
    sd: State,
    /// Half the old bars' width less the grip \[m\]: a tie there follows the width in full.
    reach: f64,
    side: f64,
}

impl Model {
    pub(super) fn new(readings: &Readings) -> Self {
        let (mut mean, mut sd) = (State::zeros(), State::zeros());
        let mut set = |at: usize, (value, error): (f64, f64)| {
            mean[at] = value;
            sd[at] = error;
        };
        let side = match readings.side {
            Side::Left => 1.0,
            Side::Right => -1.0,
        };
        let half = 0.5 * readings.width.map_or(COMMON_BARS[2], |width| width.old);
        let reach = (half - GRIP).max(0.05);
        let out = readings
            .out
            .map_or((0.6 * reach, 0.4 * reach), |out| (out, OUT_SD));
        let share = (out.0 / reach).min(1.0);
        let rise = readings.rise.map_or(COMMON_BARS[0], |rise| rise.old);
        let pullback = readings
            .pullback
            .map_or(COMMON_BARS[1], |pullback| pullback.old);
        for (i, at) in FRAME_TIE_AT.into_iter().enumerate() {
            set(FRAME_TIE + i, at);
        }
        let [ahead, above] = BARS_CLAMP;
        // Where the tie is along the bars says how far back and up it is.
        let along = if readings.out.is_some() {
            0.0
        } else {
            out.1 / reach
        };
        let back_error = ahead.1.hypot(along * pullback);
        let up_error = above.1.hypot(0.5 * along * rise);
        set(BARS_TIE, (ahead.0 - 0.7 * share * pullback, back_error));
        set(BARS_TIE + 1, (side * out.0, out.1));
        set(BARS_TIE + 2, (above.0 + share * rise, up_error));
        // A measured length is a reading; before it, nothing is known of it.
        set(
            LENGTH,
            (readings.length.unwrap_or(USUAL_LENGTH.0), USUAL_LENGTH.1),
        );
        for i in 0..2 {
            set(
                LOCK + i,
                readings.lock.map_or(USUAL_LOCK, |lock| (lock[i], ANGLE_SD)),
            );
        }
        set(
            RAKE,
            readings.rake.map_or(USUAL_RAKE, |rake| (rake, ANGLE_SD)),
        );
        let [up, back, outward] = readings.changes();
        // Old and new are each off by as much; half the width by half.
        let both = |given: bool, share: f64| {
            let error = if given { BARS_SD } else { SAME };
            share * std::f64::consts::SQRT_2 * error
        };
        set(UP, (up, both(readings.rise.is_some(), 1.0)));
        set(BACK, (back, both(readings.pullback.is_some(), 1.0)));
        set(OUTWARD, (outward, both(readings.width.is_some(), 0.5)));
        set(ROLL, (0.0, ROLL_SD));
        Self {
            mean,
            sd,
            reach,
            side,
        }
    }

    fn values(&self, state: &State) -> State {
        self.mean + self.sd.component_mul(state)
    }

    fn chord(&self, state: &State, changed: bool) -> Chord {
        let v = self.values(state);
        let (sin, cos) = v[RAKE].sin_cos();
        let axis = Vector3::new(-sin, 0.0, cos);
        let still = Vector3::new(v[FRAME_TIE], v[FRAME_TIE + 1], v[FRAME_TIE + 2]);
        let mut steered = Vector3::new(v[BARS_TIE], v[BARS_TIE + 1], v[BARS_TIE + 2]);
        if changed {
            let follows = (self.side * steered.y / self.reach).clamp(0.0, 1.0);
            let (roll, level) = v[ROLL].sin_cos();
            steered += Vector3::new(
                -v[BACK] * level + v[UP] * roll,
                self.side * follows * v[OUTWARD],
                v[UP] * level + v[BACK] * roll,
            );
        }
        Chord::between(&steered, &still, &axis)
    }

    /// The straight way with the old bars.
    pub(super) fn before(&self, state: &State) -> Chord {
        self.chord(state, false)
    }

    /// The straight way with the new bars.
    pub(super) fn after(&self, state: &State) -> Chord {
        self.chord(state, true)
    }

    /// Full right and full left \[rad\].
    pub(super) fn stops(&self, state: &State) -> (f64, f64) {
        let v = self.values(state);
        (-v[LOCK + 1].max(0.0), v[LOCK].max(0.0))
    }

    /// Length of the lead \[m\].
    pub(super) fn length(&self, state: &State) -> f64 {
        self.values(state)[LENGTH]
    }

    /// Slack at the tightest angle with the new bars \[m\].
    pub(super) fn spare(&self, state: &State) -> f64 {
        let (from, to) = self.stops(state);
        self.length(state) - self.after(state).longest(from, to).0
    }

    /// What a reading with string would be; `None` for those that are unknowns themselves.
    pub(super) fn expected(&self, reading: Reading, state: &State) -> Option<f64> {
        let length = self.length(state);
        let (right, left) = self.stops(state);
        match reading {
            Reading::Spare(at) => {
                let angle = [left, 0.0, right][at.min(2)];
                Some(length - self.before(state).distance(angle))
            }
            Reading::Length => Some(length),
            _ => None,
        }
    }

    /// The unknown that a reading is, with the error of reading it once more \[m or rad\], in units of the unknown's own.
    pub(super) fn unknown(&self, reading: Reading) -> Option<(usize, f64)> {
        let (at, error) = match reading {
            Reading::Rise => (UP, self.sd[UP]),
            Reading::Pullback => (BACK, self.sd[BACK]),
            Reading::Width => (OUTWARD, self.sd[OUTWARD]),
            Reading::Lock(side) => (LOCK + side.min(1), ANGLE_SD),
            Reading::Rake => (RAKE, ANGLE_SD),
            Reading::Out => (BARS_TIE + 1, OUT_SD),
            Reading::Spare(_) | Reading::Length => return None,
        };
        Some((at, error / self.sd[at]))
    }

    /// Standard deviation of an unknown that is read \[m or rad\].
    pub(super) fn error_of(&self, at: usize) -> f64 {
        self.sd[at]
    }

    /// What was filled in.
    pub(super) fn assumed(&self, readings: &Readings) -> Vec<String> {
        let mm = |metres: f64| format!("{:.0} mm", 1e3 * metres);
        let degrees = |angle: f64| format!("{:.0}°", angle.to_degrees());
        let mut assumed = vec![
            format!(
                "each slack and the length are good to 3 mm + 1 %, sizes of the bars to {}, angles to 1° (one standard \
                 deviation, from memory)",
                mm(BARS_SD)
            ),
            "the tie on the bars goes up and back with them in full, and outward with their width as far out as it sits"
                .to_owned(),
            "the tie on the frame is near the steering head: 0 to 200 mm behind the top of the stem, up to 100 mm to \
             either side, 100 mm above to 250 mm below (our own choice)"
                .to_owned(),
        ];
        let not_given = [
            (readings.rise.is_none(), "rise"),
            (readings.pullback.is_none(), "pullback"),
            (readings.width.is_none(), "width"),
        ];
        for (_, name) in not_given.into_iter().filter(|(missing, _)| *missing) {
            assumed.push(format!("the bars' {name} stays what it is (not given)"));
        }
        if readings.length.is_none() {
            assumed.push(format!(
                "the lead is {} from tie to tie, give or take {} (not given)",
                mm(USUAL_LENGTH.0),
                mm(USUAL_LENGTH.1)
            ));
        }
        if readings.lock.is_none() {
            assumed.push(format!(
                "the steering turns {} each way, give or take {} (not given)",
                degrees(USUAL_LOCK.0),
                degrees(USUAL_LOCK.1)
            ));
        }
        if readings.rake.is_none() {
            assumed.push(format!(
                "the steering axis leans by {}, give or take {} (not given)",
                degrees(USUAL_RAKE.0),
                degrees(USUAL_RAKE.1)
            ));
        }
        if readings.out.is_none() {
            assumed.push(format!(
                "the tie on the bars is {} from their middle, give or take {} (not given)",
                mm(self.mean[BARS_TIE + 1].abs()),
                mm(self.sd[BARS_TIE + 1])
            ));
        }
        if readings.diameter.is_none() {
            assumed.push(
                "no limit of bends is told, since the lead's diameter was not given".to_owned(),
            );
        }
        assumed
    }
}
