//! Symbols for fixings and verdicts, each told apart by its shape.

use crate::check::Verdict;
use crate::harness::FixingKind;

use super::display::{Anchor, Frame, Line, Mark, Ring, Spot};
use super::ink::{Ink, MEDIUM, SMALL, Stroke};
use super::lettering;

/// The symbol of a fixing at `at`; `along` is the direction of the branch on paper (need not be a unit vector).
pub(crate) fn fixing(kind: &FixingKind, at: Spot, along: Spot) -> Vec<Mark> {
    let length = along[0].hypot(along[1]);
    let u = if length > 1e-6 {
        [along[0] / length, along[1] / length]
    } else {
        [1.0, 0.0]
    };
    let place = |a: f64, b: f64| [at[0] + a * u[0] - b * u[1], at[1] + a * u[1] + b * u[0]];
    let block = |a: [f64; 2], b: [f64; 2], fill: Ink| {
        Mark::area(
            vec![vec![
                place(a[0], b[0]),
                place(a[1], b[0]),
                place(a[1], b[1]),
                place(a[0], b[1]),
            ]],
            Some(Stroke::solid(Ink::Black, MEDIUM)),
            Some(fill),
        )
    };
    match kind {
        // A strap across the branch, with its head on one side.
        FixingKind::Tie { loose, .. } => vec![
            block([-0.38, 0.38], [-1.7, 1.7], Ink::Paper),
            // The head of a loose one is open.
            block(
                [-0.7, 0.7],
                [1.0, 2.1],
                if *loose { Ink::Paper } else { Ink::Black },
            ),
        ],
        // The two lips of a hole, the branch between them.
        FixingKind::Grommet => vec![
            block([-0.55, 0.55], [0.9, 2.2], Ink::Black),
            block([-0.55, 0.55], [-2.2, -0.9], Ink::Black),
        ],
        // A knot.
        FixingKind::Breakout => vec![Mark::Ring(Ring {
            centre: at,
            radius: 1.15,
            stroke: Some(Stroke::solid(Ink::Paper, MEDIUM)),
            fill: Some(Ink::Black),
        })],
        // A loop round the branch, on a foot.
        FixingKind::Clamp => vec![
            block([-0.45, 0.45], [1.2, 2.6], Ink::Black),
            Mark::Ring(Ring {
                centre: at,
                radius: 1.4,
                stroke: Some(Stroke::solid(Ink::Black, MEDIUM)),
                fill: Some(Ink::Paper),
            }),
            Mark::Ring(Ring {
                centre: at,
                radius: 0.5,
                stroke: None,
                fill: Some(Ink::Black),
            }),
        ],
        // A housing in two halves.
        FixingKind::Connector { .. } => vec![
            block([-1.7, 0.2], [-1.3, 1.3], Ink::Paper),
            block([0.2, 1.7], [-1.0, 1.0], Ink::Black),
        ],
    }
}

/// What a kind of fixing is called.
pub(crate) fn fixing_name(kind: &FixingKind) -> &'static str {
    match kind {
        FixingKind::Tie { loose: false, .. } => "cable tie",
        FixingKind::Tie { loose: true, .. } => "loose cable tie: slides",
        FixingKind::Grommet => "grommet: slides",
        FixingKind::Breakout => "breakout",
        FixingKind::Clamp => "cushioned clamp",
        FixingKind::Connector { .. } => "connector",
    }
}

/// What a verdict is called.
pub(crate) fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Over => "over the limit",
        Verdict::Close => "too close to call",
        Verdict::Within => "within the limit",
    }
}

/// The symbol of a verdict, `size` high with its middle at `at`: a cross on a filled square, a wave in an open
/// lozenge, a tick in an open circle.
pub(crate) fn verdict(verdict: Verdict, at: Spot, size: f64) -> Vec<Mark> {
    let r = 0.5 * size;
    let spot = |x: f64, y: f64| [at[0] + x * r, at[1] + y * r];
    let pen = |ink| Stroke::solid(ink, (0.13 * size).max(MEDIUM));
    match verdict {
        Verdict::Over => vec![
            Mark::frame(
                Frame::new(at[0] - r, at[1] - r, size, size),
                None,
                Some(Ink::Rust),
            ),
            Mark::line(vec![spot(-0.5, -0.5), spot(0.5, 0.5)], pen(Ink::Paper)),
            Mark::line(vec![spot(-0.5, 0.5), spot(0.5, -0.5)], pen(Ink::Paper)),
        ],
        Verdict::Close => vec![
            Mark::area(
                vec![vec![
                    spot(0.0, -1.15),
                    spot(1.15, 0.0),
                    spot(0.0, 1.15),
                    spot(-1.15, 0.0),
                ]],
                Some(pen(Ink::Black)),
                Some(Ink::Paper),
            ),
            Mark::line(vec![spot(-0.42, 0.0), spot(0.42, 0.0)], pen(Ink::Black)),
        ],
        Verdict::Within => vec![
            Mark::Ring(Ring {
                centre: at,
                radius: r,
                stroke: Some(pen(Ink::Black)),
                fill: Some(Ink::Paper),
            }),
            Mark::line(
                vec![spot(-0.45, 0.02), spot(-0.1, 0.4), spot(0.5, -0.38)],
                pen(Ink::Black),
            ),
        ],
    }
}

/// Width and height of a tag with a finding's number.
pub(crate) fn tag_size(text: &str) -> [f64; 2] {
    [lettering::width(text, SMALL, true) + 2.2, 3.9]
}

/// A tag with the number of a finding: filled where it is over, open where it is close, plain where it is within.
pub(crate) fn tag(verdict: Verdict, frame: Frame, text: &str) -> Vec<Mark> {
    let (fill, ink, edge) = match verdict {
        Verdict::Over => (Ink::Rust, Ink::Paper, Ink::Rust),
        Verdict::Close => (Ink::Paper, Ink::Black, Ink::Black),
        Verdict::Within => (Ink::Paper, Ink::Grey, Ink::Pale),
    };
    let middle = [frame.x + 0.5 * frame.w, frame.y + 0.5 * frame.h];
    let drop = 0.5 * (lettering::RISE - 0.04) * SMALL;
    vec![
        Mark::frame(frame, Some(Stroke::solid(edge, MEDIUM)), Some(fill)),
        Mark::Line(
            Line::new([middle[0], middle[1] + drop], SMALL, text)
                .bold()
                .ink(ink)
                .anchor(Anchor::Middle),
        ),
    ]
}
