//! Named what-ifs: what changes on a route, step by step.
//!
//! A step names what it changes, since the steps before it may have added, removed or moved things.

use nalgebra::{Point3, UnitVector3, Vector3};

use crate::harness::{Cover, FixingKind, LengthRule, Wire};
use crate::quantity::{Kind, Units};

/// A named what-if.
#[derive(Debug, Clone, PartialEq)]
pub struct Change {
    /// Its name.
    pub name: String,
    /// What it does, in order.
    pub steps: Vec<Step>,
}

/// What a step moves or turns.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What {
    /// A part.
    Part(String),
    /// A named point: every fixing and waypoint that stands on it. Parts, axes and taped points that use it stay.
    Point(String),
    /// One fixing; others that stand on the same point stay.
    Fixing(String),
    /// All that rides on a body: parts, fixings, bodies that move on it. The axis about which the body itself turns
    /// belongs to what carries it, and stays.
    Body(String),
}

impl What {
    /// Its name in the route file.
    pub fn name(&self) -> &str {
        match self {
            Self::Part(name) | Self::Point(name) | Self::Fixing(name) | Self::Body(name) => name,
        }
    }
}

/// One step of a change. Amounts are those of the whole change; a share of it has that share of them.
#[derive(Debug, Clone, PartialEq)]
pub enum Step {
    /// Moves something, with every joint at zero.
    Move {
        /// What.
        what: What,
        /// How far \[m\].
        by: Vector3<f64>,
    },
    /// Turns something about an axis, with every joint at zero.
    Turn {
        /// What.
        what: What,
        /// A point on the axis \[m\]; `None`: where the fixing or point itself is.
        about: Option<Point3<f64>>,
        /// Direction of the axis; right-handed.
        axis: UnitVector3<f64>,
        /// How far \[rad\].
        by: f64,
    },
    /// Adds a fixing.
    Add(Box<Added>),
    /// Takes a fixing away: its two spans become one.
    Remove {
        /// The fixing.
        what: String,
    },
    /// Undoes a fixing and does it up elsewhere: the branch slides through it, and what one neighbouring span loses
    /// the other gains.
    Shift {
        /// The fixing.
        what: String,
        /// How far it moves \[m\]; `None`: along the smooth path of its branch, by `along`.
        by: Option<Vector3<f64>>,
        /// How much of the branch slides through, toward its end \[m\]; `None`: as much of `by` as runs along it.
        along: Option<f64>,
    },
    /// Changes how a fixing holds.
    Hold {
        /// The fixing.
        what: String,
        /// What changes.
        hold: HeldAs,
    },
    /// Makes a span longer (or shorter).
    Lengthen {
        /// The branch; `None` where the fixing stands in one alone.
        branch: Option<String>,
        /// The fixing that ends the span.
        to: String,
        /// By how much \[m\].
        by: f64,
    },
    /// Gives a body's joint another range.
    Travel {
        /// The body.
        what: String,
        /// Least value \[rad or m\], where it changes.
        from: Option<f64>,
        /// Greatest value \[rad or m\], where it changes.
        to: Option<f64>,
    },
    /// Gives a branch another cover, or none.
    Cover {
        /// The branch.
        branch: String,
        /// The new one.
        cover: Option<Cover>,
    },
    /// Replaces a kind of wire, wherever it runs.
    Wire {
        /// The new one; its name is that of the old one.
        wire: Wire,
    },
}

/// A fixing that is added.
#[derive(Debug, Clone, PartialEq)]
pub struct Added {
    /// The branch.
    pub branch: String,
    /// The fixing after which it stands.
    pub after: String,
    /// Its name.
    pub name: String,
    /// What it is.
    pub kind: FixingKind,
    /// Name of the body that it is on.
    pub on: String,
    /// Where it is with every joint at zero \[m\].
    pub at: Point3<f64>,
    /// The direction that it holds; `None`: along the smooth path, or none for a tie.
    pub facing: Option<UnitVector3<f64>>,
    /// Its width \[m\], where given.
    pub width: Option<f64>,
    /// The span that leads to it; `None`: its share of the old span by the straight distances.
    pub length: Option<LengthRule>,
}

/// How a fixing holds from now on; `None` leaves a thing as it is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeldAs {
    /// Its direction; `Some(None)` lets it go.
    pub facing: Option<Option<UnitVector3<f64>>>,
    /// Whether the branch slides through a tie.
    pub loose: Option<bool>,
    /// Strap tension of a tie \[N\].
    pub pull: Option<f64>,
    /// Width \[m\].
    pub width: Option<f64>,
    /// A strap becomes a cushioned clamp (true), a clamp a strap (false).
    pub cushioned: Option<bool>,
}

/// Why a change cannot be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChangeError {
    /// A share that is no number, or below zero.
    #[error("a share of a change is a number of at least 0")]
    Share,
    /// What it names is not there.
    #[error("there is no {what} \"{name}\" (any more)")]
    Unknown {
        /// Kind of thing.
        what: &'static str,
        /// Its name.
        name: String,
    },
    /// A name that is taken.
    #[error("there is a fixing \"{0}\" already")]
    Taken(String),
    /// A fixing that stands in several branches.
    #[error("\"{0}\" stands in several branches: say which, with `branch`")]
    Which(String),
    /// A branch would end nowhere.
    #[error("the branch begins or ends at \"{0}\", which therefore stays")]
    End(String),
    /// Nothing comes before the fixing.
    #[error("no span leads to \"{0}\": its branch begins there")]
    First(String),
    /// A breakout, which other branches need.
    #[error("\"{0}\" is a breakout, where branches meet")]
    Breakout(String),
    /// What this kind of fixing has not.
    #[error("\"{name}\" cannot {what}")]
    Kind {
        /// The fixing.
        name: String,
        /// What it cannot.
        what: &'static str,
    },
    /// A span that would have no length.
    #[error("the span that leads to \"{to}\" would be {length} long")]
    NoLength {
        /// The fixing that ends it.
        to: String,
        /// What would be left.
        length: String,
    },
    /// A joint whose stops would be exchanged, or that has none.
    #[error("\"{0}\" would have no way between its stops")]
    Travel(String),
    /// Two neighbouring fixings at one place.
    #[error("\"{0}\" and \"{1}\" would stand at the same place")]
    SamePlace(String, String),
    /// Something that would not be thick, heavy or stiff enough to be a harness.
    #[error("the branch \"{0}\" would have no thickness")]
    Thin(String),
}

impl Step {
    /// What it does, in words: "K2 25 mm up", "T1 taken off".
    pub fn in_words(&self, units: Units) -> String {
        let mm =
            |value: f64| units.show_to(value, Kind::Length, usize::from(value.abs() < 9.95e-3));
        match self {
            Self::Move { what, by } => format!("{} {}", what.name(), way(*by, units)),
            Self::Turn { what, by, .. } => format!(
                "{} turned by {}",
                what.name(),
                units.show_to(*by, Kind::Angle, 0)
            ),
            Self::Add(added) => format!("{} added after {}", added.name, added.after),
            Self::Remove { what } => format!("{what} taken off"),
            Self::Shift { what, by, along } => match (by, along) {
                (Some(by), None) => format!("{what} {}", way(*by, units)),
                // Less than a tape can tell is not said.
                (Some(by), Some(along)) if along.abs() < 5e-4 => {
                    format!("{what} {}", way(*by, units))
                }
                (Some(by), Some(along)) => {
                    let toward = if *along < 0.0 { "start" } else { "end" };
                    format!(
                        "{what} {}, {} of the branch drawn through toward its {toward}",
                        way(*by, units),
                        mm(along.abs())
                    )
                }
                (None, along) => {
                    let along = along.unwrap_or(0.0);
                    let toward = if along < 0.0 { "start" } else { "end" };
                    format!("{what} {} toward the branch's {toward}", mm(along.abs()))
                }
            },
            Self::Hold { what, hold } => format!("{what} {}", hold.in_words(units)),
            Self::Lengthen { to, by, .. } if *by < 0.0 => {
                format!("the span to {to} {} shorter", mm(-by))
            }
            Self::Lengthen { to, by, .. } => format!("the span to {to} {} longer", mm(*by)),
            Self::Travel { what, .. } => format!("{what} travels differently"),
            Self::Cover {
                branch,
                cover: None,
            } => format!("{branch} without its cover"),
            Self::Cover { branch, .. } => format!("{branch} with another cover"),
            Self::Wire { wire } => format!("another wire for {}", wire.name),
        }
    }
}

impl HeldAs {
    fn in_words(&self, units: Units) -> String {
        let mut words = Vec::new();
        match self.cushioned {
            Some(true) => words.push("as a cushioned clamp".to_owned()),
            Some(false) => words.push("as a strap".to_owned()),
            None => {}
        }
        match self.facing {
            Some(Some(_)) => words.push("turned".to_owned()),
            Some(None) => words.push("free to turn".to_owned()),
            None => {}
        }
        match self.loose {
            Some(true) => words.push("loose, so that the branch slides through".to_owned()),
            Some(false) => words.push("tight".to_owned()),
            None => {}
        }
        if let Some(pull) = self.pull {
            words.push(format!(
                "pulled with {}",
                units.show_to(pull, Kind::Force, 0)
            ));
        }
        if let Some(width) = self.width {
            let digits = units.digits(Kind::Length).max(1);
            words.push(format!(
                "{} wide",
                units.show_to(width, Kind::Length, digits)
            ));
        }
        words.join(", ")
    }
}

/// A displacement in words: "25 mm up, 8 mm back".
pub(crate) fn way(by: Vector3<f64>, units: Units) -> String {
    let names = [["forward", "back"], ["left", "right"], ["up", "down"]];
    // Less than a tape can tell is not said.
    const LEAST: f64 = 5e-4;
    let mut parts: Vec<(f64, String)> = by
        .iter()
        .zip(names)
        .filter(|(value, _)| value.abs() >= LEAST)
        .map(|(value, [ahead, behind])| {
            // Below a centimetre a millimetre is too coarse; an inch is shown in hundredths anyway.
            let finer = usize::from(value.abs() < 9.95e-3);
            let digits = units.digits(Kind::Length).max(finer);
            let shown = units.show_to(value.abs(), Kind::Length, digits);
            let word = if *value > 0.0 { ahead } else { behind };
            (value.abs(), format!("{shown} {word}"))
        })
        .collect();
    parts.sort_by(|a, b| b.0.total_cmp(&a.0));
    if parts.is_empty() {
        return "where it is".to_owned();
    }
    let words: Vec<String> = parts.into_iter().map(|(_, words)| words).collect();
    words.join(", ")
}
