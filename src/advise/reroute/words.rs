//! Ways and what closes them, in words.

use nalgebra::Point3;

use crate::machine::{BodyId, PartId};
use crate::quantity::{Kind, Units};
use crate::route::Route;

use super::Rejected;
use super::field::Field;
use super::fixings::side_of;
use super::paths::{Search, Way};

pub(super) fn unheld(at: f64, units: Units) -> String {
    format!(
        "nothing cool and without an edge is near enough to hold a clamp about {} along it",
        units.show_to(at, Kind::Length, 0)
    )
}

/// That there is no way, and what closes it.
pub(super) fn closed(
    route: &Route,
    field: &Field<'_>,
    search: &Search<'_, '_>,
    ends: [Point3<f64>; 2],
    units: Units,
) -> Rejected {
    let reached = search.run(false);
    let grid = &field.grid;
    let nearest = (0..grid.len())
        .filter(|index| reached.cost(*index).is_finite())
        .map(|index| grid.point(index))
        .min_by(|a, b| (a - ends[1]).norm().total_cmp(&(b - ends[1]).norm()))
        .unwrap_or(ends[0]);
    let run = ends[1] - nearest;
    let steps = 200;
    let wall = (0..=steps)
        .map(|i| nearest + run * (f64::from(i) / f64::from(steps)))
        .find_map(|p| {
            let (room, part) = field.room(&p);
            part.filter(|_| room < 0.0)
        });
    let why = match wall {
        Some(part) => format!(
            "no way was found: {} closes it, {} before the end; the bundle and what is to be kept do not fit past it",
            route.machine.parts[part.0].name,
            units.show_to(run.norm(), Kind::Length, 0)
        ),
        None => "no way was found within the space searched".to_owned(),
    };
    Rejected {
        way: "any way".to_owned(),
        why,
    }
}

/// A way in words: the sides on which it passes the parts nearest to it, in order.
pub(super) fn in_words(route: &Route, ways: &[&Way]) -> String {
    let points: Vec<Point3<f64>> = ways.iter().flat_map(|way| way.iter().copied()).collect();
    let mut passed: Vec<(usize, f64, String)> = Vec::new();
    for part in &route.machine.parts {
        if route.machine.moves_against(part.on, BodyId(0)) && ways.len() == 1 {
            continue;
        }
        let nearest = points
            .iter()
            .enumerate()
            .map(|(i, p)| (i, part.shape.distance(p)))
            .min_by(|a, b| a.1.total_cmp(&b.1));
        let Some((i, distance)) =
            nearest.filter(|(i, d)| *d < 0.06 && *i > 0 && i + 1 < points.len())
        else {
            continue;
        };
        let normal = part.shape.slope(&points[i]).normal;
        passed.push((
            i,
            distance,
            format!("{} the {}", side_of(&normal), part.name),
        ));
    }
    passed.sort_by(|a, b| a.1.total_cmp(&b.1));
    passed.truncate(4);
    passed.sort_by_key(|(i, ..)| *i);
    if passed.is_empty() {
        return "through the open".to_owned();
    }
    let words: Vec<String> = passed.into_iter().map(|(.., words)| words).collect();
    words.join(", ")
}

/// The part that a clamp stands on, in words.
pub(super) fn on_part(route: &Route, part: Option<PartId>) -> String {
    part.map_or_else(String::new, |part| {
        format!(", on {}", route.machine.parts[part.0].name)
    })
}
