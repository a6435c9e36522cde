//! The sheet of a changed route with the ghost of how the harness lay before: thin, dashed, grey, and named.

use nalgebra::Point3;

use crate::check::Findings;
use crate::rod::Solution;
use crate::route::Route;

use super::display::{Line, Mark, Spot};
use super::harness::on_paper;
use super::ink::{Ink, MEDIUM, Pattern, SMALL, Stroke};
use super::scene::{self, Scene};
use super::view::View;
use super::{SheetOptions, sheet, svg_out};

/// Where the harness lay before, at rest.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Ghost {
    /// Name of each branch and its centreline \[m\].
    lines: Vec<(String, Vec<Point3<f64>>)>,
}

/// A harness that moved by less than this is drawn once \[m\].
const SAME: f64 = 1e-3;

/// The sheet of a route with the ghost of another one, seen from the same places.
pub fn compare_sheet(
    (route, solution, findings): (&Route, &Solution, &Findings),
    before: (&Route, &Solution),
    options: &SheetOptions,
) -> String {
    let mut scene = Scene::new(route, solution, findings, options.units);
    let (old, solved) = before;
    let rest = solved.sweep.rest;
    let branches = solved.branches.iter().zip(&old.branches);
    let lines: Vec<(String, Vec<Point3<f64>>)> = branches
        .map(|(branch, bundle)| (bundle.name.clone(), scene::line_at(branch, rest)))
        .filter(|(name, line)| {
            let now = scene.rest_line(name);
            line.iter().any(|p| away(p, &now).1 > SAME)
        })
        .collect();
    // Where nothing has moved at rest there is nothing to show, and no entry in the key.
    scene.before = (!lines.is_empty()).then_some(Ghost { lines });
    svg_out::svg_of_sheet(&sheet::compose(scene))
}

/// How the ghost is drawn.
pub(crate) fn stroke() -> Stroke {
    Stroke::with(Ink::Grey, 0.75 * MEDIUM, Pattern::LongDash)
}

/// Draws the ghost in a view, and says once what it is.
pub(crate) fn ghost(scene: &Scene<'_>, view: &View) -> Option<Mark> {
    let ghost = scene.before.as_ref()?;
    let projection = &view.projection;
    let mut marks = Vec::new();
    let mut furthest: Option<(f64, Spot, Spot)> = None;
    for (name, line) in &ghost.lines {
        let now = scene.rest_line(name);
        let moved = line.iter().map(|p| (p, away(p, &now)));
        let most = moved.max_by(|a, b| a.1.1.total_cmp(&b.1.1));
        let Some((place, (nearest, far))) = most.filter(|(_, (_, far))| *far > SAME) else {
            continue;
        };
        marks.push(Mark::line(on_paper(line, projection), stroke()));
        let spots = [projection.spot(place), projection.spot(&nearest)];
        if furthest.as_ref().is_none_or(|(other, ..)| far > *other) {
            furthest = Some((far, spots[0], spots[1]));
        }
    }
    if let (Some((_, at, now)), true) = (furthest, view.names || view.detail) {
        marks.extend(label(at, now, view));
    }
    (!marks.is_empty()).then(|| {
        let id = format!("{}-before", view.id);
        Mark::group(id, "harness before the change", marks)
    })
}

/// "before", on the side of the ghost away from the harness.
fn label(at: Spot, now: Spot, view: &View) -> Option<Mark> {
    let run = [at[0] - now[0], at[1] - now[1]];
    let length = run[0].hypot(run[1]);
    let away = if length > 1e-6 {
        [run[0] / length, run[1] / length]
    } else {
        [0.0, 1.0]
    };
    let text = Line::new([0.0, 0.0], SMALL, "before").ink(Ink::Grey);
    let size = text.frame();
    let place = [
        at[0] + away[0] * (0.5 * size.w + 1.0) - 0.5 * size.w,
        at[1] + away[1] * (0.5 * size.h + 1.0) + 0.36 * SMALL,
    ];
    let inside = place[0] >= view.cell.x
        && place[0] + size.w <= view.cell.right()
        && place[1] - size.h >= view.cell.y
        && place[1] <= view.cell.bottom();
    inside.then(|| Mark::Line(Line::new(place, SMALL, "before").ink(Ink::Grey)))
}

/// The point of a line that is nearest to another point, and how far that is.
fn away(from: &Point3<f64>, line: &[Point3<f64>]) -> (Point3<f64>, f64) {
    let near = line.iter().map(|p| (*p, (p - from).norm()));
    near.min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((*from, 0.0))
}
