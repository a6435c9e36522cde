//! The five-minute answer without any 3D: does the lead still reach with other bars?
//!
//! What was read by hand (slack gathered at both stops and straight ahead, the length from tie to tie, the bars' sizes)
//! says more than it seems to. The straight distance from the frame's tie to the bars' tie, squared, is a cosine of the
//! steering angle (`chord.rs`), so three slacks and the length give the distance at every angle, and narrow down where
//! the two ties can be (`model.rs`). New bars move one tie by a known vector; how much of that lengthens the way follows
//! from where the ties are. All of it is put together as one least-squares problem with the error of every reading
//! (`posterior.rs`): what is left of the doubt is told, and so is the reading whose repetition would take most of it
//! away.
//!
//! Whatever the places, the way grows by no more than the straight-line change of the bars; the plain sum of the changes
//! is what a lead needs that is led along them round square corners. Both stand beside the answer.

mod chord;
mod model;
mod posterior;
mod readings;

use crate::check::{LimitKey, Limits};
use crate::geometry::Reach;

pub use chord::Chord;
pub use readings::{Change, Reading, Readings, ReadingsError, Side};

use model::Model;
use posterior::{Posterior, posterior};

/// A chance of reaching of at least this is a yes; at most the rest to one a no.
const SURE: f64 = 0.975;

/// Whether the lead reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Answer {
    /// It reaches with the margin.
    Yes,
    /// It does not.
    No,
    /// The readings do not tell.
    CannotTell,
}

impl Answer {
    /// The answer as the report has it.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::No => "no",
            Self::CannotTell => "cannot tell",
        }
    }
}

/// The quick answer, with all that it rests on. Lengths in metres, angles in radians.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// Whether the lead reaches.
    pub answer: Answer,
    /// Chance that it reaches with the margin, 0 to 1.
    pub chance: f64,
    /// Slack that is asked at the tightest angle.
    pub margin: f64,
    /// Where that margin comes from, with its status.
    pub margin_source: String,
    /// Slack at the tightest angle with the new bars: the most likely value.
    pub spare: f64,
    /// One standard deviation of it.
    pub spread: f64,
    /// Between these two it lies at 95 %.
    pub spare_between: (f64, f64),
    /// The steering angle at which it is least, positive to the left.
    pub tightest: f64,
    /// How much of the way's growth the tightest angle sees: what the new bars take of the slack there.
    pub taken: f64,
    /// Straight-line change of the bars: the way grows by no more.
    pub straight_line: f64,
    /// Plain sum of the changes: what a lead needs that is led along the bars round square corners.
    pub plain_sum: f64,
    /// Length to add so that the margin holds at 97.5 %; zero where it does.
    pub add: f64,
    /// How far the middle can be pulled aside at the loosest angle with the new bars.
    pub aside: f64,
    /// Smallest radius of the inside of a bend that moves, where the diameter was given, and its source.
    pub bend: Option<(f64, String)>,
    /// Every reading with its error and its share of the doubt, the greatest share first.
    pub readings: Vec<Share>,
    /// The reading whose repetition takes most of the doubt away; it may not have been made yet.
    pub repeat: Reading,
    /// What was filled in, each as a sentence.
    pub assumed: Vec<String>,
    /// What makes the answer weaker, each as a sentence.
    pub warnings: Vec<String>,
}

/// A reading in the answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Share {
    /// Which.
    pub reading: Reading,
    /// What was read; `None` where it is taken from experience.
    pub read: Option<f64>,
    /// Its standard deviation.
    pub sd: f64,
    /// How much of the variance of the answer repeating it would take away, 0 to 1.
    pub share: f64,
}

impl Estimate {
    /// The length that is missing to the margin; zero where none is.
    pub fn short(&self) -> f64 {
        (self.margin - self.spare).max(0.0)
    }
}

/// What no reading of this kind can tell, each as a sentence.
pub const CANNOT_SEE: [&str; 6] = [
    "What is in the way: the lead is taken to run freely from tie to tie. Led round the bars' corners it can need up to \
     the plain sum of the changes.",
    "How tightly it bends, turns about itself, rubs or is squeezed: a route file with points tells that.",
    "Hot parts, edges, the tank and the fork stop.",
    "Any other lead: measure each one, both switch leads and the ignition lead too; the shortest decides.",
    "Throttle, clutch and brake lines: they have limits of their own; measure each in the same way.",
    "Whether a wire inside is sound.",
];

/// Works out whether the lead reaches. `limits` gives the margin (`slack least`) and the radius of a bend that moves.
///
/// Deterministic: the same readings and `seed` give the same answer. The seed draws the 4096 samples of what is not
/// known; another moves the spread by some per cent.
///
/// # Errors
/// Where no slack was read, no change of the bars is given, or readings cannot be true together.
pub fn estimate(
    readings: &Readings,
    limits: &Limits,
    seed: u64,
) -> Result<Estimate, ReadingsError> {
    readings.check()?;
    let slack_least = limits.get(LimitKey::SlackLeast);
    let margin = slack_least.value();
    let model = Model::new(readings);
    let found = posterior(&model, readings, seed);
    let spread = found.spare.sd();
    let spare = found.spare.mean();
    let chance = found.spare.share_above(margin);
    let answer = if chance >= SURE {
        Answer::Yes
    } else if chance <= 1.0 - SURE {
        Answer::No
    } else {
        Answer::CannotTell
    };
    let between = (found.spare.quantile(1.0 - SURE), found.spare.quantile(SURE));
    let after = model.after(&found.mode);
    let (from, to) = model.stops(&found.mode);
    let (longest, tightest) = after.longest(from, to);
    let before = model.before(&found.mode);
    let length = model.length(&found.mode);
    let thread = |straight: f64| Reach {
        from: nalgebra::Point3::origin(),
        to: nalgebra::Point3::new(straight, 0.0, 0.0),
        length,
    };
    let bend = readings.diameter.map(|diameter| {
        let limit = limits.get(LimitKey::BendRadiusMoving);
        let radius = match limit.rule {
            crate::check::LimitRule::Diameters(factor) => factor * diameter,
            _ => limit.value(),
        };
        (radius, limit.cited())
    });
    Ok(Estimate {
        answer,
        chance,
        margin,
        margin_source: slack_least.cited(),
        spare,
        spread,
        spare_between: between,
        tightest,
        taken: longest - before.distance(tightest),
        straight_line: readings.straight_line(),
        plain_sum: readings.plain_sum(),
        add: (margin - between.0).max(0.0),
        aside: thread(after.shortest(from, to).0).aside(),
        bend,
        repeat: found
            .shares
            .first()
            .map_or(Reading::Spare(0), |share| share.reading),
        assumed: model.assumed(readings),
        warnings: warnings(readings, &found),
        readings: found.shares,
    })
}

fn warnings(readings: &Readings, found: &Posterior) -> Vec<String> {
    let mut warnings = Vec::new();
    if found.misfit > model::ODD {
        warnings.push(
            "The readings do not go together well: repeat the one named, and look whether slack was gathered between \
             the same two ties each time."
                .to_owned(),
        );
    }
    if readings.length.is_none() || readings.lock.is_none() || readings.spare.contains(&None) {
        warnings.push(
            "Not everything was measured; what is missing is taken from experience with a wide error.".to_owned(),
        );
    }
    warnings
}
