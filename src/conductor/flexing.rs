//! Bending in the frame of the section: which side of the bundle is the outside of the bend, in every pose.
//!
//! Strands feel not how tight a bend is but how it changes, and a bend that keeps its tightness while it goes round the
//! bundle strains them as much as one that comes and goes. So the curvature is a vector in a frame that is fixed to the
//! wires: carried from the fixing that holds the bundle along the centreline without turning (Bishop, "There is more
//! than one way to frame a curve", Amer. Math. Monthly 82 (1975) 246–251; by double reflection, Wang, Jüttler, Zheng &
//! Liu, ACM TOG 27(1), 2008), then turned by the twist.

use nalgebra::{UnitVector3, Vector3};
use rayon::prelude::*;

use crate::harness::BranchId;
use crate::machine::Stance;
use crate::rod::{Shape, Solution, Station};
use crate::route::Route;

/// What the bundle does at one place in one pose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flexing {
    /// Curvature of the centreline along two directions that are fixed to the wires \[1/m\].
    pub bend: [f64; 2],
    /// Twist about itself per length \[rad/m\].
    pub twist: f64,
    /// Tension \[N\], negative in compression.
    pub tension: f64,
}

/// All places of a branch in all poses.
#[derive(Debug, Clone, PartialEq)]
pub struct Flexed {
    /// Distance of each place along the branch from its first fixing \[m\], never falling: two share that of an inner
    /// fixing, the end of one span and the start of the next.
    pub at: Vec<f64>,
    /// Index of the span of each place.
    pub span: Vec<usize>,
    /// For each pose by id, one entry a place.
    pub poses: Vec<Vec<Flexing>>,
}

/// Two stations closer than this are the two sides of one fixing \[m\].
const SAME: f64 = 1e-9;

/// Works out how a branch flexes at the stations that it has at rest.
pub fn flexed(route: &Route, solution: &Solution, branch: BranchId) -> Flexed {
    let shapes = &solution.branches[branch.0].shapes;
    let rest = solution.sweep.rest;
    let held = holds(route, solution, branch);
    let at_rest = &shapes[rest].stations;
    let at: Vec<f64> = at_rest.iter().map(|station| station.at).collect();
    let span = spans_of(at_rest);
    let poses = shapes
        .par_iter()
        .zip(&solution.stances)
        .map(|(shape, stance)| {
            let own = in_section(solution, branch, shape, stance, &held);
            resampled(&shape.stations, own, &at, &span)
        })
        .collect();
    Flexed { at, span, poses }
}

/// The span of each station: a new one begins where two share a place.
fn spans_of(stations: &[Station]) -> Vec<usize> {
    let mut span = 0;
    let mut spans = Vec::with_capacity(stations.len());
    for (index, station) in stations.iter().enumerate() {
        if index > 0 && (station.at - stations[index - 1].at).abs() < SAME {
            span += 1;
        }
        spans.push(span);
    }
    spans
}

/// A stretch of the branch and the frame that one of its ends gives it.
struct Held {
    /// First and last span.
    spans: (usize, usize),
    /// Whether the frame comes from the stretch's end.
    from_end: bool,
    /// The body of that fixing.
    body: usize,
    /// A direction across the branch there, fixed to that body.
    across: Vector3<f64>,
}

fn holds(route: &Route, solution: &Solution, branch: BranchId) -> Vec<Held> {
    let bundle = &route.branches[branch.0];
    let rest = &solution.stances[solution.sweep.rest];
    bundle
        .stretches()
        .map(|(first, last)| {
            let holds = |lay: usize| bundle.lay[lay].fixing.holds_direction();
            let from_end = !holds(first) && holds(last);
            let lay = if from_end { last } else { first };
            let fixing = &bundle.lay[lay].fixing;
            let along = fixing.facing.unwrap_or_else(|| {
                let chord = route.fixing_position(bundle, last, rest)
                    - route.fixing_position(bundle, first, rest);
                let chord = UnitVector3::try_new(chord, 0.0).unwrap_or(Vector3::x_axis());
                rest.bodies[fixing.on.0].rotation.inverse() * chord
            });
            Held {
                spans: (first, last - 1),
                from_end,
                body: fixing.on.0,
                across: any_across(&along),
            }
        })
        .collect()
}

/// A unit vector at right angles to `along`.
fn any_across(along: &UnitVector3<f64>) -> Vector3<f64> {
    let axis = if along.x.abs() < 0.6 {
        Vector3::x()
    } else {
        Vector3::y()
    };
    along.cross(&axis).normalize()
}

/// Bending of every station of a shape in the section's frame.
fn in_section(
    solution: &Solution,
    branch: BranchId,
    shape: &Shape,
    stance: &Stance,
    held: &[Held],
) -> Vec<Flexing> {
    let stations = &shape.stations;
    let spans = spans_of(stations);
    let lengths = &solution.branches[branch.0].spans;
    let still = Flexing {
        bend: [0.0, 0.0],
        twist: 0.0,
        tension: 0.0,
    };
    let mut flexing = vec![still; stations.len()];
    for held in held {
        let mut own: Vec<usize> = (0..stations.len())
            .filter(|&i| held.spans.0 <= spans[i] && spans[i] <= held.spans.1)
            .collect();
        if held.from_end {
            own.reverse();
        }
        let Some(&begin) = own.first() else {
            continue;
        };
        let tangent = stations[begin].tangent;
        let mut before = &stations[begin];
        let mut across = stance.bodies[held.body].rotation * held.across;
        across = (across - tangent * across.dot(&tangent))
            .try_normalize(1e-9)
            .unwrap_or_else(|| any_across(&UnitVector3::new_unchecked(tangent)));
        let mut turned = 0.0;
        for &index in &own {
            let station = &stations[index];
            across = carried(across, before, station);
            let (state, span) = (shape.spans.get(spans[index]), lengths.get(spans[index]));
            let rate = match (state, span) {
                (Some(state), Some(_)) if state.length > 0.0 => state.twist / state.length,
                _ => 0.0,
            };
            turned += rate * (station.at - before.at);
            before = station;
            let bend = bend(stations, &spans, index);
            let other = station.tangent.cross(&across);
            let first = across * f64::cos(turned) + other * f64::sin(turned);
            let second = station.tangent.cross(&first);
            flexing[index] = Flexing {
                bend: [bend.dot(&first), bend.dot(&second)],
                twist: rate,
                tension: station.tension,
            };
        }
    }
    flexing
}

/// A direction across the branch carried from one station to the next without turning about it: reflected in the plane
/// halfway between them, then in that which brings the tangent home (Wang, Jüttler, Zheng & Liu, 2008, table I). What is
/// left is fourth order in the distance, so that either end of a stretch gives the same frame.
fn carried(across: Vector3<f64>, from: &Station, to: &Station) -> Vector3<f64> {
    let chord = to.position - from.position;
    // The two sides of one fixing.
    if chord.norm() < SAME {
        return across;
    }
    let tangent = reflected(from.tangent, chord);
    reflected(reflected(across, chord), to.tangent - tangent)
}

/// A vector seen in a mirror that stands across `normal`.
fn reflected(vector: Vector3<f64>, normal: Vector3<f64>) -> Vector3<f64> {
    let norm = normal.norm_squared();
    if norm < 1e-24 {
        return vector;
    }
    vector - normal * (2.0 * normal.dot(&vector) / norm)
}

/// The curvature at a station as a vector toward the middle of the bend: its size from the moments, its direction from
/// the tangents on both sides.
fn bend(stations: &[Station], spans: &[usize], index: usize) -> Vector3<f64> {
    let here = &stations[index];
    let same = |other: usize| spans.get(other).is_some_and(|span| *span == spans[index]);
    let before = index.checked_sub(1).filter(|&i| same(i)).unwrap_or(index);
    let after = Some(index + 1).filter(|&i| same(i)).unwrap_or(index);
    let turn = stations[after].tangent - stations[before].tangent;
    let across = turn - here.tangent * turn.dot(&here.tangent);
    across
        .try_normalize(1e-15)
        .map_or_else(Vector3::zeros, |way| way * here.curvature)
}

/// Values at the stations of one shape, at the places of another: linear between stations.
fn resampled(
    stations: &[Station],
    values: Vec<Flexing>,
    at: &[f64],
    span: &[usize],
) -> Vec<Flexing> {
    let same = stations.len() == at.len()
        && stations
            .iter()
            .zip(at)
            .all(|(s, at)| (s.at - at).abs() < SAME);
    if same {
        return values;
    }
    let mut found = Vec::with_capacity(at.len());
    for (index, &place) in at.iter().enumerate() {
        let starts = index > 0 && span[index] != span[index - 1];
        let after = if starts {
            stations.partition_point(|s| s.at <= place + SAME)
        } else {
            stations.partition_point(|s| s.at < place - SAME)
        };
        let (low, high) = (after.saturating_sub(1), after.min(values.len() - 1));
        let (a, b) = (&stations[low], &stations[high]);
        let share = if b.at > a.at {
            ((place - a.at) / (b.at - a.at)).clamp(0.0, 1.0)
        } else {
            0.0
        };
        let mix = |from: f64, to: f64| from + (to - from) * share;
        let (v, w) = (&values[low], &values[high]);
        found.push(Flexing {
            bend: [mix(v.bend[0], w.bend[0]), mix(v.bend[1], w.bend[1])],
            twist: mix(v.twist, w.twist),
            tension: mix(v.tension, w.tension),
        });
    }
    found
}
