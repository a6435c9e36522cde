//! Strip charts: a panel with axes, curves, limits and marks.

use super::display::{Anchor, Frame, Line, Mark, Ring, Spot};
use super::hatch::hatch;
use super::ink::{HEAVY, Ink, MEDIUM, Pattern, SMALL, Stroke, THIN};
use super::words;
use crate::quantity::{Kind, Units};

/// One axis of a panel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Axis {
    /// Value at the left or lower end.
    pub(crate) from: f64,
    /// Value at the right or upper end.
    pub(crate) to: f64,
    /// Whether equal ratios take equal room.
    pub(crate) log: bool,
}

impl Axis {
    /// An even axis; ends that are the same or not finite are spread.
    pub(crate) fn even(from: f64, to: f64) -> Self {
        let known = from.is_finite() && to.is_finite() && (to - from).abs() > 1e-12;
        let (from, to) = if known { (from, to) } else { (0.0, 1.0) };
        Self {
            from,
            to,
            log: false,
        }
    }

    /// Where a value lies: 0 at the near end, 1 at the far end.
    pub(crate) fn part(&self, x: f64) -> f64 {
        if self.log {
            (x.max(1e-12) / self.from).ln() / (self.to / self.from).ln()
        } else {
            (x - self.from) / (self.to - self.from)
        }
    }

    /// Values within the axis that are round in a unit worth `unit`, about `wish` of them.
    pub(crate) fn ticks(&self, wish: f64, unit: f64) -> Vec<f64> {
        let shown = Self {
            from: self.from / unit,
            to: self.to / unit,
            log: self.log,
        };
        shown
            .round_values(wish)
            .into_iter()
            .map(|tick| tick * unit)
            .collect()
    }

    fn round_values(&self, wish: f64) -> Vec<f64> {
        let (low, high) = (self.from.min(self.to), self.from.max(self.to));
        if self.log {
            let decades = (low.log10().floor(), high.log10().ceil());
            let mut found = Vec::new();
            let mut decade = decades.0;
            while decade <= decades.1 && found.len() < 40 {
                for m in [1.0, 2.0, 5.0] {
                    found.push(m * 10_f64.powf(decade));
                }
                decade += 1.0;
            }
            found.retain(|t| *t >= low * 0.999 && *t <= high * 1.001);
            return found;
        }
        let raw = (high - low) / wish;
        let decade = 10_f64.powf(raw.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .map(|m| m * decade)
            .find(|s| *s >= raw * 0.999);
        let step = step.unwrap_or(raw);
        let first = (low / step - 1e-9).ceil();
        let mut found = Vec::new();
        let mut i = 0.0;
        while (first + i) * step <= high + 1e-9 * step && i < 40.0 {
            found.push((first + i) * step + 0.0);
            i += 1.0;
        }
        found
    }
}

/// A panel on paper.
#[derive(Debug, Clone)]
pub(crate) struct Panel {
    /// Its frame.
    pub(crate) frame: Frame,
    /// Its level axis.
    pub(crate) x: Axis,
    /// Its upright axis.
    pub(crate) y: Axis,
    /// What has been drawn.
    pub(crate) marks: Vec<Mark>,
}

/// A step line of limits on one side of which values must not be.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Forbidden<'a> {
    /// Places along the level axis.
    pub(crate) at: &'a [f64],
    /// The limit at each.
    pub(crate) limit: &'a [f64],
    /// Whether it is forbidden below (true) or above.
    pub(crate) below: bool,
}

impl Panel {
    /// An empty panel.
    pub(crate) fn new(frame: Frame, x: Axis, y: Axis) -> Self {
        Self {
            frame,
            x,
            y,
            marks: Vec::new(),
        }
    }

    /// Where values land.
    pub(crate) fn spot(&self, x: f64, y: f64) -> Spot {
        let part = self.y.part(y).clamp(0.0, 1.0);
        [
            self.frame.x + self.frame.w * self.x.part(x).clamp(0.0, 1.0),
            self.frame.bottom() - self.frame.h * part,
        ]
    }

    /// Draws the frame, the upright axis's ticks with their values, and what the panel shows above it.
    pub(crate) fn axes(
        &mut self,
        title: &str,
        note: &str,
        ticks: &[f64],
        show: impl Fn(f64) -> String,
    ) {
        let f = self.frame;
        let mut last = f64::INFINITY;
        for &tick in ticks {
            let y = self.spot(self.x.from, tick)[1];
            self.marks.push(Mark::line(
                vec![[f.x, y], [f.right(), y]],
                Stroke::solid(Ink::Pale, THIN),
            ));
            if last - y >= SMALL * 0.98 {
                last = y;
                self.marks.push(Mark::Line(
                    Line::new([f.x - 1.2, y + 0.35 * SMALL], SMALL, show(tick))
                        .ink(Ink::Grey)
                        .anchor(Anchor::End),
                ));
            }
        }
        let title = Line::new([f.x, f.y - 1.2], SMALL, title).bold();
        let after = title.frame().right() + 1.4;
        self.marks.push(Mark::Line(title));
        self.marks.push(Mark::Line(
            Line::new([after, f.y - 1.2], SMALL, note).ink(Ink::Grey),
        ));
        self.marks
            .push(Mark::frame(f, Some(Stroke::solid(Ink::Grey, THIN)), None));
    }

    /// Hatches what is forbidden and draws the limit.
    pub(crate) fn forbid(&mut self, forbidden: &Forbidden<'_>) {
        let edge = if forbidden.below {
            self.frame.bottom()
        } else {
            self.frame.y
        };
        let pairs = forbidden.at.iter().zip(forbidden.limit);
        let limit: Vec<Spot> = pairs
            .filter(|(_, l)| l.is_finite())
            .map(|(x, l)| self.spot(*x, *l))
            .collect();
        let limit = super::harness::thinned(&limit, 0.005);
        let (Some(first), Some(last)) = (limit.first(), limit.last()) else {
            return;
        };
        let mut area = limit.clone();
        area.extend([[last[0], edge], [first[0], edge]]);
        let area = vec![area];
        self.marks
            .push(Mark::area(area.clone(), None, Some(Ink::Warm)));
        let lines = hatch(&area, 1.6, std::f64::consts::FRAC_PI_4);
        self.marks
            .push(Mark::lines(lines, Stroke::solid(Ink::Rust, THIN)));
        self.marks.push(Mark::line(
            limit,
            Stroke::with(Ink::Rust, MEDIUM, Pattern::LongDash),
        ));
    }

    /// Draws a curve; breaks it where the value is not known or off the top of the panel.
    pub(crate) fn curve(&mut self, at: &[f64], values: &[f64]) {
        let top = self.y.from.max(self.y.to);
        let mut run: Vec<Spot> = Vec::new();
        let mut before: Option<(f64, f64)> = None;
        let mut runs = Vec::new();
        for (&x, &value) in at.iter().zip(values) {
            let shown = value.is_finite() && value <= top;
            if shown {
                if let (true, Some((x0, v0))) = (run.is_empty(), before)
                    && v0 > top
                {
                    run.push(self.spot(crossing(x0, v0.min(1e9), x, value, top), top));
                }
                run.push(self.spot(x, value));
            } else if !run.is_empty() {
                if let (Some((x0, v0)), true) = (before, value > top) {
                    run.push(self.spot(crossing(x0, v0, x, value.min(1e9), top), top));
                }
                runs.push(std::mem::take(&mut run));
            }
            before = (!value.is_nan()).then_some((x, value));
        }
        runs.push(run);
        for run in runs {
            let line = super::harness::thinned(&run, 0.01);
            if line.len() > 1 {
                self.marks
                    .push(Mark::line(line, Stroke::solid(Ink::Black, 0.75 * HEAVY)));
            }
        }
    }

    /// Marks the worst place with a ring and its value beside it.
    pub(crate) fn mark(&mut self, x: f64, y: f64, text: &str) {
        let shown = |part: f64| (-1e-6..=1.0 + 1e-6).contains(&part);
        if !(shown(self.x.part(x)) && shown(self.y.part(y))) {
            return;
        }
        let s = self.spot(x, y);
        self.marks.push(Mark::Ring(Ring {
            centre: s,
            radius: 1.0,
            stroke: Some(Stroke::solid(Ink::Black, MEDIUM)),
            fill: Some(Ink::Paper),
        }));
        let width = super::lettering::width(text, SMALL, true);
        let fits = s[0] + 1.6 + width <= self.frame.right() - 0.5;
        let (dx, anchor) = if fits {
            (1.6, Anchor::Start)
        } else {
            (-1.6, Anchor::End)
        };
        // Above the ring where there is room, else below it.
        let above = s[1] - 1.7;
        let y = if above - SMALL * 0.75 > self.frame.y {
            above
        } else {
            s[1] + 1.7 + SMALL * 0.7
        };
        self.marks.push(Mark::Line(
            Line::new([s[0] + dx, y], SMALL, text)
                .bold()
                .anchor(anchor)
                .rim(),
        ));
    }

    /// Upright lines at values of the level axis.
    pub(crate) fn uprights(&mut self, at: &[f64], stroke: Stroke) {
        for &x in at {
            let s = self.spot(x, self.y.from);
            self.marks.push(Mark::line(
                vec![[s[0], self.frame.y], [s[0], self.frame.bottom()]],
                stroke,
            ));
        }
    }

    /// Values of the level axis, written below the panel.
    pub(crate) fn level_values(&mut self, ticks: &[f64], show: impl Fn(f64) -> String) {
        let mut last = f64::NEG_INFINITY;
        let mut ticks = ticks.to_vec();
        ticks.sort_by(|a, b| self.x.part(*a).total_cmp(&self.x.part(*b)));
        for tick in ticks {
            let s = self.spot(tick, self.y.from);
            let line = Line::new(
                [s[0], self.frame.bottom() + 1.4 + SMALL * 0.74],
                SMALL,
                show(tick),
            )
            .ink(Ink::Grey)
            .anchor(Anchor::Middle);
            self.marks.push(Mark::line(
                vec![
                    [s[0], self.frame.bottom()],
                    [s[0], self.frame.bottom() + 0.9],
                ],
                Stroke::solid(Ink::Grey, THIN),
            ));
            if line.frame().x > last + 1.0 {
                last = line.frame().right();
                self.marks.push(Mark::Line(line));
            }
        }
    }
}

fn crossing(x0: f64, v0: f64, x1: f64, v1: f64, level: f64) -> f64 {
    let run = v1 - v0;
    if run.abs() < 1e-12 {
        x1
    } else {
        x0 + (x1 - x0) * ((level - v0) / run).clamp(0.0, 1.0)
    }
}

/// A radius that looks straight on any machine \[m\].
const STRAIGHT: f64 = 2.0;

/// An axis of radii: in equal ratios, from below the tightest value or limit to four times the greatest limit, and as
/// far as the tightest value unless nobody would call that a bend.
pub(crate) fn radius_axis(values: &[f64], limits: &[f64]) -> Axis {
    let known = |x: &&f64| x.is_finite() && **x > 1e-6;
    let least = values
        .iter()
        .chain(limits)
        .filter(known)
        .copied()
        .fold(f64::INFINITY, f64::min);
    let most = limits.iter().filter(known).copied().fold(0.0, f64::max);
    if !least.is_finite() {
        return Axis {
            from: 0.01,
            to: 1.0,
            log: true,
        };
    }
    let tightest = values.iter().filter(known).copied().reduce(f64::min);
    let bent = tightest.filter(|value| *value < STRAIGHT);
    let to = (4.0 * most).max(3.0 * least).max(1.5 * bent.unwrap_or(0.0));
    Axis {
        from: (0.7 * least).max(1e-3 * to),
        to,
        log: true,
    }
}

/// What one of the units that a kind is shown in is worth in SI.
pub(crate) fn worth(kind: Kind, units: Units) -> f64 {
    1.0 / units.convert(1.0, kind).0
}

/// A tick's length in the sheet's units, without the unit.
pub(crate) fn bare_length(metres: f64, units: Units) -> String {
    let (number, _) = units.convert(metres, Kind::Length);
    let decimals = (0..3).find(|d| {
        let scaled = number * 10_f64.powi(*d);
        (scaled - scaled.round()).abs() < 0.01
    });
    words::rounded(
        number,
        decimals.map_or(3, |d| usize::try_from(d).unwrap_or(0)),
    )
}
