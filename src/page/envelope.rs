//! What the harness sweeps over all poses: how far each place travels, and the box that it needs.

use nalgebra::Point3;
use serde_json::{Value, json};

use crate::rod::Solution;
use crate::route::Route;

use super::packed;
use super::shapes::stations;

const MM: f64 = 1e3;

/// Of each branch at each station the farthest that it gets from where it lies at rest, and the box about all poses.
pub(super) fn envelope(route: &Route, solution: &Solution) -> Value {
    let one = |(branch, solved): (&crate::harness::Branch, &crate::rod::BranchSolution)| {
        let length = solved.spans.last().map_or(0.0, |span| span.end());
        let stations = stations(length);
        let rest = solved.shapes.get(solution.sweep.rest);
        let half = 0.5 * branch.diameter;
        let mut low = Point3::new(f64::INFINITY, f64::INFINITY, f64::INFINITY);
        let mut high = -low;
        let travel: Vec<f64> = stations
            .iter()
            .map(|at| {
                let mut far = 0.0_f64;
                for shape in &solved.shapes {
                    let p = shape.curve.position(*at);
                    low = low.inf(&p);
                    high = high.sup(&p);
                    if let Some(rest) = rest {
                        far = far.max((p - rest.curve.position(*at)).norm());
                    }
                }
                far * MM
            })
            .collect();
        json!({
            "name": branch.name,
            "stations_mm": packed::floats(stations.iter().map(|at| at * MM)),
            "travel_mm": packed::floats(travel),
            "low_mm": low.coords.map(|c| (c - half) * MM).as_slice(),
            "high_mm": high.coords.map(|c| (c + half) * MM).as_slice(),
        })
    };
    let branches = route.branches.iter().zip(&solution.branches);
    branches.map(one).collect()
}
