//! Inks, line weights, line patterns and text sizes: the few that a sheet may use.
//!
//! Every difference that ink shows is also shown by weight or pattern, so that a black and white print says
//! the same.

/// An ink.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Blue-black: everything that matters.
    Black,
    /// Grey: what stands back (captions, rules, outlines of parts).
    Grey,
    /// Pale grey: what stands furthest back (parts at the stops, grids).
    Pale,
    /// Rust: hot parts, and what is over a limit.
    Rust,
    /// The paper itself.
    Paper,
    /// Pale fill of parts that do not move.
    Still,
    /// Pale fill of parts that move.
    Steered,
    /// Pale fill of the space that the harness sweeps.
    Swept,
    /// Pale fill of hot parts.
    Warm,
    /// The harness at its true width.
    Band,
}

impl Ink {
    /// The colour, as SVG writes it.
    pub fn colour(self) -> &'static str {
        match self {
            Self::Black => "#1c2733",
            Self::Grey => "#5d666b",
            Self::Pale => "#a9aca6",
            Self::Rust => "#a8371a",
            Self::Paper => "#fcfaf3",
            Self::Still => "#f4f0e3",
            Self::Steered => "#e6ebe6",
            Self::Swept => "#d3dfe4",
            Self::Warm => "#f6e2d3",
            Self::Band => "#b9c6cc",
        }
    }
}

impl Ink {
    /// How much of what is below a fill it hides, 0 to 1.
    pub fn opacity(self) -> f64 {
        if self == Self::Swept { 0.72 } else { 1.0 }
    }
}

/// A line pattern.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pattern {
    /// Unbroken.
    Solid,
    /// Long dashes.
    LongDash,
    /// Short dashes.
    ShortDash,
    /// Round dots.
    Dots,
    /// Long dash, short dash: centrelines.
    DashDot,
}

/// Weights of line \[mm\].
pub const THIN: f64 = 0.15;
/// See [`THIN`].
pub const MEDIUM: f64 = 0.3;
/// See [`THIN`].
pub const HEAVY: f64 = 0.7;

/// A stroke.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// Its ink.
    pub ink: Ink,
    /// Its width \[mm\].
    pub width: f64,
    /// Its pattern.
    pub pattern: Pattern,
}

impl Stroke {
    /// An unbroken stroke.
    pub const fn solid(ink: Ink, width: f64) -> Self {
        Self {
            ink,
            width,
            pattern: Pattern::Solid,
        }
    }

    /// A stroke with a pattern.
    pub const fn with(ink: Ink, width: f64, pattern: Pattern) -> Self {
        Self {
            ink,
            width,
            pattern,
        }
    }

    /// Lengths of dash and gap \[mm\]; empty for an unbroken line.
    pub fn dashes(&self) -> Vec<f64> {
        let w = self.width.max(0.2);
        match self.pattern {
            Pattern::Solid => Vec::new(),
            Pattern::LongDash => vec![5.5 * w, 2.6 * w],
            Pattern::ShortDash => vec![5.0 * w, 4.0 * w],
            Pattern::Dots => vec![0.01, 2.0 * w],
            Pattern::DashDot => vec![4.0, 0.9, 0.6, 0.9],
        }
    }
}

/// Height of the title's type \[mm\].
pub const TITLE: f64 = 7.0;
/// Height of headings \[mm\].
pub const HEADING: f64 = 4.0;
/// Height of running text \[mm\].
pub const BODY: f64 = 3.1;
/// Height of labels and notes \[mm\]: the smallest that a sheet uses, 5.5 points when printed on A4.
pub const SMALL: f64 = 2.75;
