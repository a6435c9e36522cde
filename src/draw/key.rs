//! The key to lines and symbols, and the bar that shows whether a print has its full size.

use crate::check::Verdict;
use crate::harness::FixingKind;

use super::display::{Frame, Line, Mark, Spot};
use super::harness;
use super::hatch::hatch;
use super::ink::{HEADING, HEAVY, Ink, MEDIUM, Pattern, SMALL, Stroke, THIN};
use super::lettering;
use super::scene::Scene;
use super::symbols;

/// Draws the key: only what this sheet shows.
pub(crate) fn key(scene: &Scene<'_>, frame: Frame) -> Mark {
    let mut rows: Vec<(Vec<Mark>, String)> = Vec::new();
    let wide = 11.0;
    let sample = |stroke: Stroke| vec![Mark::line(vec![[0.0, 0.0], [wide, 0.0]], stroke)];
    match &scene.motion {
        Some(motion) => {
            for (pose, name) in [motion.high, motion.rest, motion.low]
                .into_iter()
                .zip(motion.names.iter().rev())
            {
                rows.push((
                    sample(harness::stroke(scene, pose)),
                    format!("harness, {name}"),
                ));
            }
            rows.push((
                swatch(Ink::Swept, Ink::Grey, false, wide),
                "space that the harness sweeps".to_owned(),
            ));
            rows.push((
                sample(Stroke::solid(Ink::Pale, MEDIUM)),
                "moving parts at both stops".to_owned(),
            ));
        }
        None => rows.push((
            sample(Stroke::solid(Ink::Black, HEAVY)),
            "harness".to_owned(),
        )),
    }
    if scene.before.is_some() {
        let name = "harness before the change, at rest".to_owned();
        rows.push((sample(super::compare::stroke()), name));
    }
    if scene
        .flags
        .iter()
        .any(|f| f.finding.verdict == Verdict::Over)
    {
        let mut marks = sample(Stroke::solid(Ink::Rust, 1.6 * HEAVY));
        for i in 0..5 {
            let x = 1.5 + 2.0 * f64::from(i);
            marks.push(Mark::line(
                vec![[x - 0.6, 1.2], [x + 0.6, -1.2]],
                Stroke::solid(Ink::Rust, MEDIUM),
            ));
        }
        rows.push((marks, "span over a limit".to_owned()));
    }
    if scene
        .flags
        .iter()
        .any(|f| f.finding.verdict == Verdict::Close)
    {
        let mut marks = sample(Stroke::solid(Ink::Black, 2.0 * HEAVY));
        marks.extend(sample(Stroke::solid(Ink::Paper, 0.7 * HEAVY)));
        rows.push((marks, "span too close to call".to_owned()));
    }
    if scene
        .route
        .machine
        .parts
        .iter()
        .any(|p| p.surface.is_some())
    {
        rows.push((
            swatch(Ink::Warm, Ink::Rust, true, wide),
            "hot part".to_owned(),
        ));
        rows.push((
            sample(Stroke::with(Ink::Rust, MEDIUM, Pattern::ShortDash)),
            "distance to keep from it".to_owned(),
        ));
    }
    let kinds = [
        FixingKind::Connector {
            finish: None,
            mated: None,
            rated: None,
        },
        FixingKind::Clamp,
        FixingKind::Grommet,
        FixingKind::Tie {
            pull: None,
            loose: false,
            rated: None,
        },
        FixingKind::Tie {
            pull: None,
            loose: true,
            rated: None,
        },
        FixingKind::Breakout,
    ];
    for kind in kinds {
        let used = scene
            .route
            .branches
            .iter()
            .flat_map(|b| &b.lay)
            .any(|l| symbols::fixing_name(&l.fixing.kind) == symbols::fixing_name(&kind));
        if used {
            rows.push((
                symbols::fixing(&kind, [0.5 * wide, 0.0], [1.0, 0.0]),
                symbols::fixing_name(&kind).to_owned(),
            ));
        }
    }
    rows.push((Vec::new(), "The harness shows through parts.".to_owned()));

    let mut marks = vec![Mark::Line(
        Line::new([frame.x, frame.y + 0.75 * HEADING], HEADING, "Key").bold(),
    )];
    let top = frame.y + HEADING + 3.0;
    let step = ((frame.bottom() - top) / rows.len() as f64).min(5.4);
    for (row, (sample, name)) in rows.into_iter().enumerate() {
        let y = top + step * row as f64;
        let text = if sample.is_empty() {
            frame.x
        } else {
            frame.x + wide + 2.5
        };
        let room = frame.right() - text;
        marks.extend(sample.into_iter().map(|m| m.moved([frame.x, y])));
        marks.push(Mark::Line(
            Line::new(
                [text, y + 0.34 * SMALL],
                SMALL,
                lettering::fit(&name, SMALL, false, room),
            )
            .ink(if text > frame.x {
                Ink::Black
            } else {
                Ink::Grey
            }),
        ));
    }
    Mark::group("key", "key", marks)
}

fn swatch(fill: Ink, line: Ink, hatched: bool, wide: f64) -> Vec<Mark> {
    let frame = Frame::new(0.0, -1.4, wide, 2.8);
    let area = vec![vec![[0.0, -1.4], [wide, -1.4], [wide, 1.4], [0.0, 1.4]]];
    let mut marks = vec![Mark::frame(frame, None, Some(fill))];
    if hatched {
        let lines = hatch(&area, 1.3, std::f64::consts::FRAC_PI_4);
        marks.push(Mark::lines(lines, Stroke::solid(line, THIN)));
    }
    marks.push(Mark::frame(
        frame,
        Some(Stroke::solid(line, if hatched { MEDIUM } else { THIN })),
        None,
    ));
    marks
}

/// Draws a bar that is 100 mm long on a print of full size, with its upper left corner at `at`.
pub(crate) fn check_bar(at: Spot) -> Mark {
    const LENGTH: f64 = 100.0;
    const HIGH: f64 = 1.6;
    let mut marks = Vec::new();
    for i in 0..10 {
        let x = at[0] + 10.0 * f64::from(i);
        let fill = if i % 2 == 0 { Ink::Black } else { Ink::Paper };
        marks.push(Mark::frame(
            Frame::new(x, at[1], 10.0, HIGH),
            Some(Stroke::solid(Ink::Black, THIN)),
            Some(fill),
        ));
    }
    let text = "100 mm on A3. Measure it: if the print shrank, so did every length on it (on A4 it is 71 mm).";
    marks.push(Mark::Line(
        Line::new(
            [at[0] + LENGTH + 2.5, at[1] + 0.5 * HIGH + 0.34 * SMALL],
            SMALL,
            text,
        )
        .ink(Ink::Grey),
    ));
    Mark::group(
        "check-bar",
        "a bar 100 mm long on a print of full size",
        marks,
    )
}
