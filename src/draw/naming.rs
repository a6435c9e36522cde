//! The labels of a view: what gets one, in which order they choose their places.

use crate::check::Verdict;

use super::bodies::{self, Seen};
use super::desk::{Desk, Text};
use super::display::{Frame, Mark, Ring, Spot};
use super::harness::Drawn;
use super::ink::{Ink, Stroke};
use super::labels::{Board, Wanted};
use super::order;
use super::scene::Scene;
use super::silhouette::Area;
use super::symbols;
use super::view::{SeenFixing, View};
use super::words;

/// What a view shows, as labels need it.
#[derive(Debug)]
pub(crate) struct Shown<'s> {
    /// The parts.
    pub(crate) seen: &'s [Seen<'s>],
    /// Outline of what is too near to hot parts.
    pub(crate) keep_away: &'s Area,
    /// Lines of the harness.
    pub(crate) drawn: &'s [Drawn],
    /// Centrelines.
    pub(crate) axes: &'s [(String, [Spot; 2])],
    /// The fixings.
    pub(crate) fixings: &'s [SeenFixing],
}

/// More fixings than this are named only in views that name parts.
const CROWD: usize = 20;

/// Places the labels, the most important first: numbers of findings, hot parts, poses, fixings, axes, branches,
/// parts. What finds no place is left out here; findings and hot parts look over the whole view.
pub(crate) fn labels(scene: &Scene<'_>, view: &View, shown: &Shown<'_>) -> Vec<Mark> {
    let mut desk = Desk {
        board: Board::new(view.cell),
        cell: view.cell,
        marks: Vec::new(),
    };
    prepare(scene, shown, &mut desk.board, view);
    flags(scene, view, &mut desk);
    hot_parts(scene, shown, &mut desk);
    poses(scene, shown, &mut desk);
    // A crowd of fixings is named where it is seen best.
    let named = if view.names || shown.fixings.len() <= CROWD {
        shown.fixings
    } else {
        &[]
    };
    for fixing in named {
        desk.label(fixing.at, 2.6, 24.0, &[Text::plain(&fixing.name)]);
    }
    let mut named: Vec<&str> = Vec::new();
    for (name, line) in shown.axes {
        if !named.contains(&name.as_str()) {
            named.push(name);
            let near = |t: f64| {
                [
                    line[0][0] + t * (line[1][0] - line[0][0]),
                    line[0][1] + t * (line[1][1] - line[0][1]),
                ]
            };
            let anchor = if line[0][1] < line[1][1] {
                near(0.06)
            } else {
                near(0.94)
            };
            desk.label(anchor, 1.2, 14.0, &[Text::soft(name)]);
        }
    }
    if view.names {
        branches(scene, shown, &mut desk);
        parts(shown, &mut desk);
    }
    desk.marks
}

/// Tells the board what is on the paper already.
fn prepare(scene: &Scene<'_>, shown: &Shown<'_>, board: &mut Board, view: &View) {
    for one in shown.seen {
        for contour in &one.outline {
            board.draw(contour, 0.12);
        }
    }
    for contour in shown.keep_away {
        board.draw(contour, 0.7);
    }
    for (_, line) in shown.axes {
        board.draw(line, 0.4);
    }
    for drawn in shown.drawn {
        board.draw(&drawn.line, 1.0);
    }
    for flag in &scene.flags {
        let points = scene.span_line(flag.finding.branch.0, flag.span, flag.finding.pose);
        board.draw(&super::harness::on_paper(points, &view.projection), 1.0);
    }
    for fixing in shown.fixings {
        let spots = fixing
            .symbol
            .iter()
            .flat_map(Mark::spots)
            .collect::<Vec<_>>();
        board.keep_clear(
            Frame::around(&spots)
                .unwrap_or(Frame::new(fixing.at[0], fixing.at[1], 0.0, 0.0))
                .grown(0.3),
        );
    }
}

/// Tags with the numbers of the findings; those at one place share a tag.
fn flags(scene: &Scene<'_>, view: &View, desk: &mut Desk) {
    let mut tags: Vec<(Spot, Vec<usize>, Verdict)> = Vec::new();
    // A number that no list explains says nothing; how the span is drawn still tells its verdict.
    for flag in scene.flags.iter().filter(|f| f.number <= scene.listed) {
        let at = view.projection.spot(&flag.place);
        let near =
            |s: &Spot| (s[0] - at[0]).hypot(s[1] - at[1]) < if view.detail { 2.0 } else { 8.0 };
        match tags.iter_mut().find(|(spot, ..)| near(spot)) {
            Some((_, numbers, verdict)) => {
                numbers.push(flag.number);
                *verdict = flag.finding.verdict.max(*verdict);
            }
            None => tags.push((at, vec![flag.number], flag.finding.verdict)),
        }
    }
    for (at, numbers, verdict) in tags {
        if !desk.cell.holds_spot(at) {
            continue;
        }
        let mut text = numbers
            .iter()
            .take(4)
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join(" · ");
        if numbers.len() > 4 {
            text.push_str(" …");
        }
        let wanted = Wanted {
            anchor: at,
            size: symbols::tag_size(&text),
            clear: 3.2,
            reach: 160.0,
        };
        if let Some(placed) = desk.board.place(&wanted) {
            let ink = if verdict == Verdict::Over {
                Ink::Rust
            } else {
                Ink::Black
            };
            let pole = placed.leader.unwrap_or([at, placed.frame.nearest(at)]);
            desk.marks.push(Mark::line(
                pole.to_vec(),
                Stroke::solid(ink, super::ink::MEDIUM),
            ));
            desk.marks.push(Mark::Ring(Ring {
                centre: at,
                radius: 0.85,
                stroke: Some(Stroke::solid(ink, super::ink::MEDIUM)),
                fill: Some(Ink::Paper),
            }));
            desk.marks
                .extend(symbols::tag(verdict, placed.frame, &text));
        }
    }
}

fn hot_parts(scene: &Scene<'_>, shown: &Shown<'_>, desk: &mut Desk) {
    for one in shown.seen {
        let (Some(surface), Some(anchor)) = (one.part.surface, open_spot(shown, one, &desk.cell))
        else {
            continue;
        };
        let mut lines = vec![Text::hot(
            &format!("{}, {} °C", one.part.name, words::rounded(surface, 0)),
            true,
        )];
        if let Some(keep) = bodies::keep_away(scene, one.part) {
            lines.push(Text::hot(
                &format!("keep {} away", words::length(keep, scene.units)),
                false,
            ));
        }
        desk.label(anchor, 1.5, 120.0, &lines);
    }
}

/// Names the lines of the poses where they are furthest from rest.
fn poses(scene: &Scene<'_>, shown: &Shown<'_>, desk: &mut Desk) {
    let Some(motion) = &scene.motion else { return };
    let rest: Vec<&Drawn> = shown
        .drawn
        .iter()
        .filter(|d| d.pose == motion.rest)
        .collect();
    let apart = |s: &Spot, line: &[Spot]| {
        line.iter()
            .map(|r| (r[0] - s[0]).hypot(r[1] - s[1]))
            .fold(f64::INFINITY, f64::min)
    };
    for (pose, name) in [
        (motion.low, &motion.names[0]),
        (motion.high, &motion.names[2]),
    ] {
        let mut best: Option<(f64, Spot)> = None;
        for drawn in shown
            .drawn
            .iter()
            .filter(|d| d.pose == pose && d.pose != motion.rest)
        {
            let Some(still) = rest
                .iter()
                .find(|r| (r.branch, r.span) == (drawn.branch, drawn.span))
            else {
                continue;
            };
            for s in drawn.line.iter().filter(|s| desk.cell.holds_spot(**s)) {
                let off = apart(s, &still.line);
                if best.is_none_or(|(most, _)| off > most + 1e-6) {
                    best = Some((off, *s));
                }
            }
        }
        if let Some((_, anchor)) = best {
            desk.label(anchor, 1.6, 40.0, &[Text::strong(name)]);
        }
    }
    let moving = |d: &&Drawn| {
        shown
            .drawn
            .iter()
            .any(|o| o.pose != d.pose && (o.branch, o.span) == (d.branch, d.span))
    };
    let longest = rest
        .iter()
        .copied()
        .filter(moving)
        .max_by_key(|d| d.line.len());
    if let Some(anchor) = longest.and_then(|d| d.line.get(d.line.len() / 2)) {
        desk.label(*anchor, 1.6, 40.0, &[Text::strong(&motion.names[1])]);
    }
}

fn branches(scene: &Scene<'_>, shown: &Shown<'_>, desk: &mut Desk) {
    for (index, branch) in scene.route.branches.iter().enumerate() {
        let still = shown
            .drawn
            .iter()
            .filter(|d| d.branch == index && d.pose == scene.solution.sweep.rest);
        let spots: Vec<Spot> = still
            .flat_map(|d| d.line.iter().copied())
            .filter(|s| desk.cell.holds_spot(*s))
            .collect();
        if let Some(anchor) = spots.get(spots.len() / 3) {
            desk.label(*anchor, 1.6, 24.0, &[Text::strong(&branch.name)]);
        }
    }
}

fn parts(shown: &Shown<'_>, desk: &mut Desk) {
    for one in shown
        .seen
        .iter()
        .rev()
        .filter(|one| one.part.surface.is_none())
    {
        // A name stands on its part where it fits, so it may start at the anchor itself.
        if let Some(anchor) = open_spot(shown, one, &desk.cell) {
            desk.label(anchor, 0.0, 18.0, &[Text::soft(&one.part.name)]);
        }
    }
}

/// A spot of a part that no nearer part hides, as near to the middle of what is in the frame as can be; `None`
/// where the part is hidden.
fn open_spot(shown: &Shown<'_>, one: &Seen<'_>, cell: &Frame) -> Option<Spot> {
    let nearer: Vec<&Seen<'_>> = shown
        .seen
        .iter()
        .skip_while(|other| other.index != one.index)
        .skip(1)
        .collect();
    let open = |s: Spot| {
        order::inside(&one.outline, s) && !nearer.iter().any(|n| order::inside(&n.outline, s))
    };
    let frame = Frame::around(one.outline.iter().flatten())?;
    let (x, y) = (frame.x.max(cell.x), frame.y.max(cell.y));
    let (w, h) = (
        frame.right().min(cell.right()) - x,
        frame.bottom().min(cell.bottom()) - y,
    );
    let middle = [x + 0.5 * w, y + 0.5 * h];
    let mut best: Option<(f64, Spot)> = None;
    for i in 0..31 {
        for j in 0..31 {
            let part = |k: i32| (f64::from(k) + 0.5) / 31.0;
            let s = [x + w * part(i), y + h * part(j)];
            let off = (s[0] - middle[0]).hypot(s[1] - middle[1]);
            let better = best.is_none_or(|(least, _)| off < least - 1e-9);
            if better && cell.holds_spot(s) && open(s) {
                best = Some((off, s));
            }
        }
    }
    best.map(|(_, s)| s)
}
