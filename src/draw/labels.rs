//! Where labels go: beside what they name, clear of each other and of what matters.
//!
//! Every label tries places round its anchor, near ones first. A place counts only if it is inside the
//! bounds, overlaps nothing that was kept clear and is not run through by another label's leader; of those
//! the one with the least ink under it and the shortest leader wins. Same input, same places.

use super::display::{Frame, Spot};

/// A label that wants a place.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Wanted {
    /// What it names.
    pub(crate) anchor: Spot,
    /// Width and height \[mm\].
    pub(crate) size: [f64; 2],
    /// Least distance from the anchor \[mm\].
    pub(crate) clear: f64,
    /// Greatest distance from the anchor \[mm\].
    pub(crate) reach: f64,
}

/// Where a label went.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Placed {
    /// Its frame.
    pub(crate) frame: Frame,
    /// The line from what it names to its frame, where they do not touch.
    pub(crate) leader: Option<[Spot; 2]>,
}

/// What is already on a piece of paper.
#[derive(Debug, Clone)]
pub(crate) struct Board {
    bounds: Frame,
    taken: Vec<Frame>,
    leaders: Vec<[Spot; 2]>,
    ink: Ink,
}

/// Space kept between labels \[mm\].
const APART: f64 = 0.7;
/// Labels nearer to their anchor than this need no leader \[mm\].
const BESIDE: f64 = 2.6;
/// What a square millimetre of ink under a label costs, in millimetres of leader.
const INK_COST: f64 = 1.6;
/// What a millimetre of ink under a leader costs.
const CROSS_COST: f64 = 0.35;
/// What a crossing of two leaders costs.
const TANGLE_COST: f64 = 40.0;

impl Board {
    /// An empty piece of paper.
    pub(crate) fn new(bounds: Frame) -> Self {
        Self {
            bounds,
            taken: Vec::new(),
            leaders: Vec::new(),
            ink: Ink::new(bounds),
        }
    }

    /// Keeps a frame clear of labels.
    pub(crate) fn keep_clear(&mut self, frame: Frame) {
        self.taken.push(frame);
    }

    /// Tells labels that there is a line of some importance here; 1 is that of the harness.
    pub(crate) fn draw(&mut self, line: &[Spot], importance: f64) {
        for ends in line.windows(2) {
            for s in steps(ends[0], ends[1], CELL) {
                self.ink.put(s, importance);
            }
        }
    }

    /// The best place for a label, which is then taken; `None` where none is free.
    pub(crate) fn place(&mut self, wanted: &Wanted) -> Option<Placed> {
        let mut best: Option<(f64, Placed)> = None;
        let mut distance = wanted.clear;
        while distance <= wanted.reach {
            // A place further out costs at least its distance.
            if best.as_ref().is_some_and(|(cost, _)| *cost <= distance) {
                break;
            }
            for turn in 0..32_u32 {
                let placed = candidate(wanted, distance, turn);
                let Some(cost) = self.cost(&placed, wanted.anchor, distance) else {
                    continue;
                };
                if best.as_ref().is_none_or(|(least, _)| cost < *least - 1e-9) {
                    best = Some((cost, placed));
                }
            }
            distance += if distance < 12.0 { 1.0 } else { 2.5 };
        }
        let (_, placed) = best?;
        self.taken.push(placed.frame);
        self.leaders.extend(placed.leader);
        Some(placed)
    }

    /// What a place costs; `None` where it cannot be.
    fn cost(&self, placed: &Placed, anchor: Spot, distance: f64) -> Option<f64> {
        let roomy = placed.frame.grown(APART);
        let free = self.bounds.holds(&placed.frame)
            && !self.taken.iter().any(|t| t.overlaps(&roomy))
            && !self.leaders.iter().any(|l| runs_through(l, &roomy));
        if !free {
            return None;
        }
        let mut cost = distance + INK_COST * self.ink.under(&roomy);
        if let Some([from, to]) = placed.leader {
            // The anchor's own symbol may be under the leader's start, other labels may not be under it.
            let blocked = self
                .taken
                .iter()
                .any(|t| runs_through(&[from, to], t) && !t.holds_spot(anchor));
            if blocked {
                return None;
            }
            cost += CROSS_COST
                * steps(from, to, CELL)
                    .skip(4)
                    .map(|s| self.ink.at(s))
                    .sum::<f64>();
            let tangles = self
                .leaders
                .iter()
                .filter(|l| cross(l, &[from, to]))
                .count();
            cost += TANGLE_COST * tangles as f64;
        }
        Some(cost)
    }
}

/// The label at `distance` from its anchor in the `turn`th of 32 directions.
fn candidate(wanted: &Wanted, distance: f64, turn: u32) -> Placed {
    // Level directions first: labels read best beside what they name.
    let order = if turn.is_multiple_of(2) {
        turn / 2
    } else {
        31 - turn / 2
    };
    let (sin, cos) = (std::f64::consts::TAU * f64::from(order) / 32.0).sin_cos();
    let [w, h] = wanted.size;
    let lean = |x: f64| (1.6 * x).clamp(-1.0, 1.0);
    let centre = [
        wanted.anchor[0] + distance * cos + 0.5 * w * lean(cos),
        wanted.anchor[1] + distance * sin + 0.5 * h * lean(sin),
    ];
    let frame = Frame::new(centre[0] - 0.5 * w, centre[1] - 0.5 * h, w, h);
    let end = frame.nearest(wanted.anchor);
    let long = (end[0] - wanted.anchor[0]).hypot(end[1] - wanted.anchor[1]) > BESIDE;
    Placed {
        frame,
        leader: long.then_some([wanted.anchor, end]),
    }
}

/// Spots from `a` to `b`, at most `step` apart.
fn steps(a: Spot, b: Spot, step: f64) -> impl Iterator<Item = Spot> {
    let length = (b[0] - a[0]).hypot(b[1] - a[1]);
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to a small positive count"
    )]
    let count = (length / step).ceil().clamp(1.0, 4000.0) as u32;
    (0..=count).map(move |i| {
        let t = f64::from(i) / f64::from(count);
        [a[0] + t * (b[0] - a[0]), a[1] + t * (b[1] - a[1])]
    })
}

/// Whether a line passes through a frame (Liang–Barsky clipping).
fn runs_through(line: &[Spot; 2], frame: &Frame) -> bool {
    let (low, high) = ([frame.x, frame.y], [frame.right(), frame.bottom()]);
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for i in 0..2 {
        let run = line[1][i] - line[0][i];
        if run.abs() < 1e-12 {
            if line[0][i] <= low[i] || line[0][i] >= high[i] {
                return false;
            }
            continue;
        }
        let (a, b) = ((low[i] - line[0][i]) / run, (high[i] - line[0][i]) / run);
        enter = enter.max(a.min(b));
        leave = leave.min(a.max(b));
    }
    enter < leave
}

/// Whether two lines cross.
fn cross(a: &[Spot; 2], b: &[Spot; 2]) -> bool {
    let side = |l: &[Spot; 2], p: Spot| {
        (l[1][0] - l[0][0]) * (p[1] - l[0][1]) - (l[1][1] - l[0][1]) * (p[0] - l[0][0])
    };
    side(a, b[0]) * side(a, b[1]) < 0.0 && side(b, a[0]) * side(b, a[1]) < 0.0
}

/// Side of a cell of [`Ink`] \[mm\].
const CELL: f64 = 0.5;

/// How much ink is where, in square cells.
#[derive(Debug, Clone)]
struct Ink {
    bounds: Frame,
    across: usize,
    cells: Vec<f64>,
}

impl Ink {
    fn new(bounds: Frame) -> Self {
        let (across, down) = (count(bounds.w) + 1, count(bounds.h) + 1);
        Self {
            bounds,
            across,
            cells: vec![0.0; across * down],
        }
    }

    fn put(&mut self, s: Spot, importance: f64) {
        if self.bounds.holds_spot(s) {
            let cell = self.cell(s);
            self.cells[cell] = self.cells[cell].max(importance);
        }
    }

    fn at(&self, s: Spot) -> f64 {
        if self.bounds.holds_spot(s) {
            self.cells[self.cell(s)]
        } else {
            0.0
        }
    }

    fn cell(&self, s: Spot) -> usize {
        count(s[1] - self.bounds.y) * self.across + count(s[0] - self.bounds.x)
    }

    /// Ink within a frame, each cell by its area \[mm²\].
    fn under(&self, frame: &Frame) -> f64 {
        let (x, y) = (
            frame.x.max(self.bounds.x) - self.bounds.x,
            frame.y.max(self.bounds.y) - self.bounds.y,
        );
        let right = frame.right().min(self.bounds.right()) - self.bounds.x;
        let bottom = frame.bottom().min(self.bounds.bottom()) - self.bounds.y;
        let columns = count(x)..=count(right);
        let sum: f64 = (count(y)..=count(bottom))
            .map(|row| {
                let start = row * self.across;
                self.cells[start + columns.start()..=start + columns.end()]
                    .iter()
                    .sum::<f64>()
            })
            .sum();
        sum * CELL * CELL
    }
}

/// Whole cells in a length.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "clamped to what a sheet can hold"
)]
fn count(length: f64) -> usize {
    (length / CELL).clamp(0.0, 4000.0) as usize
}
