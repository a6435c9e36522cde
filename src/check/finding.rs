//! The finding: a check's verdict on one place, as data.

use crate::harness::BranchId;
use crate::quantity::Kind;

use super::{AgainstJoint, AlongBranch, LeastGap, Limits};

/// Whether a limit holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Verdict {
    /// Holds, at 95 %.
    Within,
    /// Holds, but not at 95 % given how well positions were measured; or holds only by a rule's second best.
    Close,
    /// Does not hold.
    Over,
}

/// What one check found at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// Name of the check, as in the README: "bend radius", "elongation", …
    pub check: &'static str,
    /// What tells this finding from the others of the same check and branch ("T1–T2", a part's name …);
    /// the same in a perturbed route, so that the two can be compared.
    pub subject: String,
    /// The branch.
    pub branch: BranchId,
    /// Where it is, in words: "T1–T2 at 141 mm".
    pub place: String,
    /// Distance along the branch from its first fixing \[m\].
    pub at: f64,
    /// Pose id where it is worst.
    pub pose: usize,
    /// The value, in the SI unit of `kind`.
    pub value: f64,
    /// The limit, in the SI unit of `kind`.
    pub limit: f64,
    /// Kind of value and limit.
    pub kind: Kind,
    /// Whether the value must stay below the limit (true) or above it (false).
    pub at_most: bool,
    /// Whether the limit holds.
    pub verdict: Verdict,
    /// One standard deviation of the value, in the SI unit of `kind`; `None` where it was not asked for.
    pub spread: Option<f64>,
    /// Chance that the limit does not hold, 0 to 1; `None` where the spread was not asked for.
    pub chance_over: Option<f64>,
    /// Where the limit comes from, with its status.
    pub source: String,
    /// What to do about it, or how much room is left.
    pub advice: String,
    /// Where another finding brings this one about: that cause, as it stands after "follows from".
    pub follows_from: Option<String>,
}

impl Finding {
    /// How much of the limit is used: 1 at the limit, above 1 over it. Orders findings worst first.
    ///
    /// Over the limit it is 1 and what is missing or too much, as a share of the limit: a slack or a radius that
    /// falls to zero and below stays comparable with a pressure that is thrice what it may be.
    pub fn use_of_limit(&self) -> f64 {
        let beyond = if self.at_most {
            self.value - self.limit
        } else {
            self.limit - self.value
        };
        if self.limit <= 0.0 {
            if beyond > 0.0 { f64::INFINITY } else { 0.0 }
        } else if beyond > 0.0 || self.at_most {
            1.0 + beyond / self.limit
        } else {
            self.limit / self.value
        }
    }

    /// Whether the centreline bends more tightly than half the diameter, so that no inside radius is left.
    pub fn has_no_inside(&self) -> bool {
        self.measure() == "inside radius" && self.value <= 0.0
    }

    /// What the value is, in a word or two: "slack", "inside radius".
    pub fn measure(&self) -> &'static str {
        match (self.check, self.kind) {
            ("bend radius", _) | ("tie pinch", Kind::Length) => "inside radius",
            ("elongation", Kind::Ratio) => "stretch",
            ("elongation", _) => "slack",
            ("steering drag", Kind::Torque) => "torque",
            ("steering drag", _) => "free travel",
            ("tie pinch", Kind::Pressure) => "pressure",
            ("tie pinch", _) => "squeeze",
            ("edge distance", Kind::Force) => "force",
            ("pinch" | "heat distance" | "edge distance" | "snag" | "fluid lines", _) => "gap",
            ("chafe", _) => "rubbing",
            ("slack most", _) => "slack",
            ("drip loop", _) => "depth",
            ("twist", _) => "twist",
            ("support", _) => "length",
            ("flex life", _) => "strain range",
            ("contacts", Kind::Force) => "pull",
            ("contacts", _) => "sway",
            ("splice", _) => "distance",
            ("heat", _) => "temperature",
            ("current", Kind::Voltage) => "voltage drop",
            ("current", _) => "current",
            ("signal pairs", _) => "error of the sum",
            ("snap", _) => "jump",
            ("solve", _) => "poses not found",
            _ => "value",
        }
    }
}

/// A check that could not be computed somewhere, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Blank {
    /// Name of the check.
    pub check: &'static str,
    /// The branch.
    pub branch: BranchId,
    /// Why, and what to give so that it can be.
    pub why: String,
}

/// All that the checks found.
#[derive(Debug, Clone, PartialEq)]
pub struct Findings {
    /// Worst first.
    pub findings: Vec<Finding>,
    /// What could not be computed.
    pub blanks: Vec<Blank>,
    /// The limits that were used.
    pub limits: Limits,
    /// Least gap to every part, by branch, in the order of the parts.
    pub nearest: Vec<Vec<LeastGap>>,
    /// One chart a branch.
    pub along: Vec<AlongBranch>,
    /// One chart for each branch and each joint that the branch bridges.
    pub against: Vec<AgainstJoint>,
}
