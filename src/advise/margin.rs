//! Findings on one scale: how much of a limit is used, signed and smooth through the limit.

use crate::check::{Finding, Verdict};
use crate::quantity::Kind;
use crate::route::{Change, Step};

use super::Solved;

/// What a finding is, whatever its value: check, branch, subject.
pub(super) type Identity = (&'static str, String, String);

pub(super) fn identity(solved: &Solved, finding: &Finding) -> Identity {
    (
        finding.check,
        solved.route.branches[finding.branch.0].name.clone(),
        finding.subject.clone(),
    )
}

/// By how much a finding breaks its limit, as a share of the limit: zero at the limit, above zero over it. Radii by their
/// curvature, which follows the fixings in proportion.
pub(super) fn excess(finding: &Finding) -> f64 {
    let scale = finding.limit.abs().max(1e-9);
    let excess = if finding.at_most {
        (finding.value - finding.limit) / scale
    } else if finding.measure() == "inside radius" && finding.limit > 0.0 {
        // As curvature of the inside line, which has no end where the radius goes to zero.
        let value = finding.value + 0.5 * finding.limit;
        let limit = 1.5 * finding.limit;
        limit / value.max(1e-3 * finding.limit) - 1.0
    } else {
        (finding.limit - finding.value) / scale
    };
    // What a rule counts as over is over whatever the number says.
    if finding.verdict == Verdict::Over {
        excess.max(1e-12)
    } else {
        excess.min(0.0)
    }
}

/// Least room to a limit over all findings, as a share of the limit \[1\]; below zero where one is broken.
pub(super) fn margin(solved: &Solved) -> f64 {
    let findings = solved.findings.findings.iter();
    findings.map(|f| -excess(f)).fold(f64::INFINITY, f64::min)
}

/// How large a change is: the motion of its largest step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Amount {
    /// In the SI unit of its kind; a ratio where the change has no motion.
    pub value: f64,
    /// Its kind.
    pub kind: Kind,
}

/// How large a change is.
pub fn amount(change: &Change) -> Amount {
    let mut largest: Option<Amount> = None;
    for step in &change.steps {
        let found = match step {
            Step::Move { by, .. } => Some((by.norm(), Kind::Length)),
            Step::Shift { by, along, .. } => {
                let far = by.map_or_else(|| along.unwrap_or(0.0).abs(), |by| by.norm());
                Some((far, Kind::Length))
            }
            Step::Lengthen { by, .. } => Some((by.abs(), Kind::Length)),
            Step::Turn { by, .. } => Some((by.abs(), Kind::Angle)),
            Step::Add(_)
            | Step::Remove { .. }
            | Step::Hold { .. }
            | Step::Travel { .. }
            | Step::Cover { .. }
            | Step::Wire { .. } => None,
        };
        let Some((value, kind)) = found else { continue };
        let larger = largest.is_none_or(|old| {
            (old.kind == Kind::Angle && kind == Kind::Length)
                || (old.kind == kind && value > old.value)
        });
        if larger {
            largest = Some(Amount { value, kind });
        }
    }
    largest.unwrap_or(Amount {
        value: 1.0,
        kind: Kind::Ratio,
    })
}
