//! What is read beside the machine, how well each reading is known, and what cannot be true.

use crate::harness::string_sd;

/// One standard deviation of a size of bars from a catalogue or by tape \[m\]: such sizes are off by 5 to 10 mm, since the
/// place that they are measured from varies (shop practice, no source found).
pub(super) const BARS_SD: f64 = 4e-3;
/// One standard deviation of an angle by hand \[rad\]: 1°, from memory.
pub(super) const ANGLE_SD: f64 = std::f64::consts::PI / 180.0;
/// One standard deviation of where the tie stands along the bars \[m\]: shop practice, no source found.
pub(super) const OUT_SD: f64 = 5e-3;

/// On which end of the bars the lead goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Side {
    /// The rider's left.
    #[default]
    Left,
    /// The rider's right.
    Right,
}

/// A size of the old bars and of the new ones \[m\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Change {
    /// Of the old ones.
    pub old: f64,
    /// Of the new ones.
    pub new: f64,
}

impl Change {
    /// New less old.
    pub fn by(&self) -> f64 {
        self.new - self.old
    }
}

/// All that is read. Lengths in metres, angles in radians; `None` is what was not read.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Readings {
    /// Slack that can be gathered by hand at full left, straight ahead and full right, with the old bars, until the lead
    /// runs straight between its last tie on the frame and its first on the bars.
    pub spare: [Option<f64>; 3],
    /// Length of the lead between those two ties.
    pub length: Option<f64>,
    /// Rise of the bars: from their clamp up to the grip.
    pub rise: Option<Change>,
    /// Pullback: from their clamp back to the grip's end.
    pub pullback: Option<Change>,
    /// Width from end to end.
    pub width: Option<Change>,
    /// Outside diameter of the lead.
    pub diameter: Option<f64>,
    /// Angle from straight ahead to full left and to full right.
    pub lock: Option<[f64; 2]>,
    /// Rake of the steering axis.
    pub rake: Option<f64>,
    /// How far the tie on the bars is from their middle.
    pub out: Option<f64>,
    /// On which end of the bars the lead goes.
    pub side: Side,
}

/// One of the readings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reading {
    /// Slack: 0 at full left, 1 straight ahead, 2 at full right.
    Spare(usize),
    /// Length from tie to tie.
    Length,
    /// Rise, old and new.
    Rise,
    /// Pullback, old and new.
    Pullback,
    /// Width, old and new.
    Width,
    /// The steering's stops: 0 left, 1 right.
    Lock(usize),
    /// Rake.
    Rake,
    /// Where the tie on the bars is.
    Out,
}

impl Reading {
    /// What it is called.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Spare(0) => "slack at full left",
            Self::Spare(1) => "slack straight ahead",
            Self::Spare(_) => "slack at full right",
            Self::Length => "length of the lead from tie to tie",
            Self::Rise => "rise of the bars, old and new",
            Self::Pullback => "pullback of the bars, old and new",
            Self::Width => "width of the bars, old and new",
            Self::Lock(0) => "angle to the left stop",
            Self::Lock(_) => "angle to the right stop",
            Self::Rake => "rake of the steering axis",
            Self::Out => "distance of the bars' tie from the middle of the bars",
        }
    }
}

/// Why readings give no answer. Shown, it says what was seen and what to give.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ReadingsError {
    /// No slack.
    #[error(
        "no slack was read\n    gather the lead's slack by hand at full left, straight ahead and full right, and give at \
         least one"
    )]
    NoSlack,
    /// No change.
    #[error(
        "nothing changes: rise, pullback and width are all the same or not given\n    give old and new of what differs"
    )]
    NoChange,
    /// Slack as long as the lead.
    #[error(
        "{} is as long as the whole lead between its ties\n    check both: slack is what is left over when the lead is \
         pulled straight", reading.in_words()
    )]
    SlackTooLong {
        /// Which slack.
        reading: Reading,
    },
    /// A steering angle out of all measure.
    #[error(
        "an angle of {:.0} degrees from straight ahead to a stop cannot be\n    give each stop from 5 to 85 degrees",
        angle.to_degrees()
    )]
    Lock {
        /// The angle \[rad\].
        angle: f64,
    },
    /// A rake out of all measure.
    #[error("a rake of {:.0} degrees cannot be\n    give the lean of the steering axis from the vertical, 0 to 60 degrees",
        angle.to_degrees())]
    Rake {
        /// The angle \[rad\].
        angle: f64,
    },
    /// The tie beyond the bars' end.
    #[error(
        "the tie on the bars is farther out than the bars reach\n    check its distance from the middle, and the width"
    )]
    BeyondTheBars,
    /// A length out of all measure.
    #[error(
        "{name} of {:.2} m cannot be\n    check the number and its unit",
        value
    )]
    OutOfMeasure {
        /// What it is.
        name: &'static str,
        /// What was read \[m\].
        value: f64,
    },
}

/// Longer than this is nothing about bars or their leads \[m\].
const LONGEST: f64 = 3.0;

impl Readings {
    /// What differs between the bars; zero where it was not given.
    pub(super) fn changes(&self) -> [f64; 3] {
        let by = |change: Option<Change>| change.map_or(0.0, |change| change.by());
        [by(self.rise), by(self.pullback), 0.5 * by(self.width)]
    }

    /// √(Δrise² + Δpullback² + Δhalf-width²) \[m\].
    pub fn straight_line(&self) -> f64 {
        self.changes().iter().map(|by| by * by).sum::<f64>().sqrt()
    }

    /// |Δrise| + |Δpullback| + |Δhalf-width| \[m\].
    pub fn plain_sum(&self) -> f64 {
        self.changes().iter().map(|by| by.abs()).sum()
    }

    /// Every reading that was made: which, what was read and its standard deviation.
    pub(super) fn made(&self) -> impl Iterator<Item = (Reading, f64, f64)> {
        let spare = self.spare.into_iter().enumerate();
        spare
            .map(|(at, read)| (Reading::Spare(at), read))
            .chain([(Reading::Length, self.length)])
            .filter_map(|(reading, read)| read.map(|read| (reading, read, string_sd(read))))
    }

    pub(super) fn check(&self) -> Result<(), ReadingsError> {
        let lengths = [
            ("slack", self.spare[0]),
            ("slack", self.spare[1]),
            ("slack", self.spare[2]),
            ("a length of the lead", self.length),
            ("a rise", self.rise.map(|change| change.new)),
            ("a rise", self.rise.map(|change| change.old)),
            ("a pullback", self.pullback.map(|change| change.new)),
            ("a pullback", self.pullback.map(|change| change.old)),
            ("a width", self.width.map(|change| change.new)),
            ("a width", self.width.map(|change| change.old)),
            ("a diameter", self.diameter.map(|d| 10.0 * d)),
            ("a distance of the tie", self.out),
        ];
        for (name, value) in lengths {
            if let Some(value) = value.filter(|value| value.is_nan() || value.abs() > LONGEST) {
                return Err(ReadingsError::OutOfMeasure { name, value });
            }
        }
        if self.spare == [None; 3] {
            return Err(ReadingsError::NoSlack);
        }
        if self.plain_sum() <= 0.0 {
            return Err(ReadingsError::NoChange);
        }
        if let Some(length) = self.length {
            let too_long = |read: &Option<f64>| read.is_some_and(|read| read >= length);
            if let Some(at) = self.spare.iter().position(too_long) {
                return Err(ReadingsError::SlackTooLong {
                    reading: Reading::Spare(at),
                });
            }
        }
        for angle in self.lock.into_iter().flatten() {
            if !(5.0..=85.0).contains(&angle.to_degrees()) {
                return Err(ReadingsError::Lock { angle });
            }
        }
        if let Some(angle) = self
            .rake
            .filter(|rake| !(0.0..=60.0).contains(&rake.to_degrees()))
        {
            return Err(ReadingsError::Rake { angle });
        }
        if let (Some(out), Some(width)) = (self.out, self.width)
            && out > 0.5 * width.old
        {
            return Err(ReadingsError::BeyondTheBars);
        }
        Ok(())
    }
}
