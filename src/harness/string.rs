//! What string and hand say about the length of a span.

use crate::machine::BodyId;

/// Own error of a reading with string or of slack gathered by hand, one standard deviation: 3 mm and 1 % of what was
/// read. From memory, no source found; that it is one standard deviation is our own choice.
const STRING_ERROR: (f64, f64) = (3e-3, 0.01);

/// Readings of one span's length, at least one of slack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StringReadings {
    /// The body whose joint turns between the two fixings and was turned for the readings.
    pub joint: BodyId,
    /// Length along the span, laid off with string \[m\].
    pub length: Option<f64>,
    /// Slack gathered by hand with the joint turned full left, straight and full right: what is over the straight
    /// distance between the two fixings \[m\].
    pub spare: [Option<f64>; 3],
    /// The reading that disagrees with all others and is not counted.
    pub set_aside: Option<StringReading>,
}

/// Which reading of a span.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StringReading {
    /// The length along the span.
    Length,
    /// Slack at full left.
    Left,
    /// Slack straight ahead.
    Straight,
    /// Slack at full right.
    Right,
}

impl StringReading {
    /// Every reading, in the order of a report.
    pub const ALL: [Self; 4] = [Self::Length, Self::Left, Self::Straight, Self::Right];

    /// Its name in route files and reports.
    pub fn name(self) -> &'static str {
        match self {
            Self::Length => "length",
            Self::Left => "left",
            Self::Straight => "straight",
            Self::Right => "right",
        }
    }
}

impl StringReadings {
    /// The readings of a span that is longer by `by` \[m\].
    pub fn longer(mut self, by: f64) -> Self {
        let all = self.spare.iter_mut().chain([&mut self.length]);
        all.flatten().for_each(|read| *read += by);
        self
    }

    /// What was read \[m\].
    pub fn read(&self, reading: StringReading) -> Option<f64> {
        let [left, straight, right] = self.spare;
        match reading {
            StringReading::Length => self.length,
            StringReading::Left => left,
            StringReading::Straight => straight,
            StringReading::Right => right,
        }
    }
}

/// Standard deviation of a reading with string \[m\].
pub fn string_sd(read: f64) -> f64 {
    let (fixed, share) = STRING_ERROR;
    fixed + share * read.abs()
}
