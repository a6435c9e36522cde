//! How far strands and wires hold each other fast, by place.
//!
//! A bundle that is k times as stiff as one whose strands slip, and B times when all is bonded, carries the share (k −
//! 1)/(B − 1) of the bonded section's strain. The least is always free slip, k = 1. The most is our own choice, from
//! what is said of looms (from memory, low confidence: one to three times when loose, three to ten when taped): 3 in a
//! free span, 10 under and beside a tight strap and in tape. In a crimp, in solder and in a shrunk sleeve the strands
//! of a conductor are one bar.

use crate::harness::{Branch, CoverKind, FixingKind};
use crate::route::Span;

/// How a place is bonded at most.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Bond {
    /// Strands and wires slip.
    Free,
    /// Pressed together.
    Pressed,
    /// The strands of each conductor are one bar.
    Solid,
}

/// Pressure above which a strap counts as tight \[Pa\]: a quarter of the strap pressure that ships as limit, our own
/// choice.
const TIGHT: f64 = 0.5e6;
/// Width of a strap where none is given \[m\]: the common standard class (SAE AS33671, from memory).
const USUAL_WIDTH: f64 = 4.8e-3;
/// A crimp and its seal reach so far into the wire behind a connector \[m\]: our own choice.
const CRIMP: f64 = 12.0e-3;

impl Bond {
    /// How many times stiffer than slipping the bundle is here at most; a solid conductor is told by its own outline.
    pub fn stiffer(self) -> f64 {
        match self {
            Self::Free => 3.0,
            Self::Pressed | Self::Solid => 10.0,
        }
    }
}

/// How a place of a branch is bonded: by its cover, and by fixings within half their width and one diameter of it.
pub fn bond_at(branch: &Branch, spans: &[Span], at: f64) -> Bond {
    let cover = match branch.cover.as_ref().map(|cover| cover.kind) {
        Some(CoverKind::Shrink) => Bond::Solid,
        Some(CoverKind::Tape) => Bond::Pressed,
        _ => Bond::Free,
    };
    let ends = spans.last().map_or(0.0, Span::end);
    let fixings = branch.lay.iter().enumerate().map(|(lay, entry)| {
        let station = spans.get(lay).map_or(ends, |span| span.start);
        let far = (station - at).abs();
        match entry.fixing.kind {
            FixingKind::Tie {
                pull: Some(pull),
                loose: false,
                ..
            } => {
                let width = entry.fixing.width.unwrap_or(USUAL_WIDTH);
                let tight = pull / (width * 0.5 * branch.diameter) >= TIGHT;
                let near = far <= 0.5 * width + branch.diameter;
                if tight && near {
                    Bond::Pressed
                } else {
                    Bond::Free
                }
            }
            FixingKind::Connector { .. } if far <= CRIMP => Bond::Solid,
            _ => Bond::Free,
        }
    });
    fixings.fold(cover, Bond::max)
}
