//! Where a finger touches a scan: the page draws a scan thinned, so that the place is looked for here, among all of it.

use nalgebra::{Point3, UnitVector3, Vector3};
use serde::Deserialize;
use serde_json::{Value, json};

use crate::geometry::{Scan, Shape};

use super::session::Session;
use super::wrong::Wrong;

const MM: f64 = 1e3;
/// A ray this nearly along a face misses it: twice the area that is seen, to the square of the longest side.
const EDGE_ON: f64 = 1e-12;

/// `?part=frame&from=[0,0,900]&toward=[0,0,-1]&near=8`: a line of sight past a part as it lies at rest \[mm\], and how far
/// beside a bare point it may pass.
#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    part: String,
    from: String,
    toward: String,
    near: f64,
}

/// A line of sight in a scan's own frame \[m\].
struct Sight {
    from: Point3<f64>,
    toward: UnitVector3<f64>,
}

/// The place that is touched \[mm, at rest\]; `null` where the line of sight passes by.
pub(super) fn touched(session: &Session, asked: &Asked) -> Result<Value, Wrong> {
    let route = session.now()?.route()?;
    let part = route.machine.parts.iter().find(|p| p.name == asked.part);
    let scan = match part.map(|part| &part.shape) {
        Some(Shape::Scan(scan)) => scan,
        Some(_) => return Err(Wrong::asked(format!("\"{}\" is not a scan", asked.part))),
        None => return Err(Wrong::missing(format!("no part \"{}\"", asked.part))),
    };
    let from = Point3::from(numbers("from", &asked.from)? / MM);
    let toward = UnitVector3::try_new(numbers("toward", &asked.toward)?, 0.0)
        .ok_or_else(|| Wrong::asked("`toward` has no length"))?;
    if !asked.near.is_finite() {
        return Err(Wrong::asked("`near` is not a finite number"));
    }
    let sight = Sight {
        from: scan.placed.inverse() * from,
        toward: scan.placed.inverse() * toward,
    };
    let at = met(scan, &sight, asked.near / MM).map(|at| (scan.placed * at).coords * MM);
    Ok(json!({ "at_mm": at.map(|at| [at.x, at.y, at.z]) }))
}

fn numbers(name: &str, text: &str) -> Result<Vector3<f64>, Wrong> {
    let wrong = || Wrong::asked(format!("`{name}` is not three finite numbers"));
    let found: [f64; 3] = serde_json::from_str(text).map_err(|_| wrong())?;
    let found = Vector3::from(found);
    if found.iter().all(|x| x.is_finite()) {
        Ok(found)
    } else {
        Err(wrong())
    }
}

/// The first place of a scan on a line of sight, in the scan's own frame \[m\].
fn met(scan: &Scan, sight: &Sight, near: f64) -> Option<Point3<f64>> {
    match scan.surface.spacing() {
        Some(spacing) => among_points(scan, sight, spacing, near),
        None => {
            let pieces = scan.surface.pieces();
            let far = pieces.filter_map(|corners| sight.through(corners));
            far.min_by(f64::total_cmp).map(|far| sight.at(far))
        }
    }
}

/// Bare points hide what lies behind them as balls as wide as they stand apart. Of those in front the one that the line
/// passes closest by; where it passes between all balls, whichever it comes nearest to.
fn among_points(scan: &Scan, sight: &Sight, spacing: f64, near: f64) -> Option<Point3<f64>> {
    let places: Vec<(f64, f64, Point3<f64>)> = scan
        .surface
        .pieces()
        .filter_map(|corners| corners.first())
        .filter_map(|point| {
            let (far, beside) = sight.past(point);
            (far >= 0.0 && beside <= near.max(spacing)).then_some((far, beside, *point))
        })
        .collect();
    let front = places.iter().filter(|(_, beside, _)| *beside <= spacing);
    let front = front.map(|(far, ..)| *far).min_by(f64::total_cmp);
    let counts = |far: f64| front.is_none_or(|front| far <= front + spacing);
    let counted = places.iter().filter(|(far, ..)| counts(*far));
    let closest = counted.min_by(|a, b| a.1.total_cmp(&b.1));
    closest.map(|(.., point)| *point)
}

impl Sight {
    fn at(&self, far: f64) -> Point3<f64> {
        self.from + self.toward.into_inner() * far
    }

    /// How far along the line a place is, and how far beside it.
    fn past(&self, place: &Point3<f64>) -> (f64, f64) {
        let far = (place - self.from).dot(&self.toward);
        (far, (place - self.at(far)).norm())
    }

    /// How far along the line it goes through a triangle, seen from either side (Möller, Trumbore, "Fast, Minimum Storage
    /// Ray/Triangle Intersection", Journal of Graphics Tools 2(1), 1997, section 3).
    fn through(&self, corners: &[Point3<f64>]) -> Option<f64> {
        let [a, b, c] = corners else { return None };
        let (ab, ac) = (b - a, c - a);
        let across = self.toward.cross(&ac);
        let seen = ab.dot(&across);
        if seen.abs() <= EDGE_ON * ab.norm_squared().max(ac.norm_squared()) {
            return None;
        }
        let from = (self.from - a) / seen;
        let u = from.dot(&across);
        let square = from.cross(&ab);
        let v = self.toward.dot(&square);
        let far = ac.dot(&square);
        (u >= 0.0 && v >= 0.0 && u + v <= 1.0 && far >= 0.0).then_some(far)
    }
}
