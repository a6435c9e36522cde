//! The machine's parts in a view: nearer over farther, hot ones hatched and with the distance to keep.

use crate::check::LimitKey;
use crate::machine::Part;

use super::display::{Mark, Spot};
use super::hatch::hatch;
use super::ink::{Ink, MEDIUM, Pattern, Stroke, THIN};
use super::project::Projection;
use super::scene::Scene;
use super::silhouette::{self, Area};

/// A part as it is seen.
#[derive(Debug, Clone)]
pub(crate) struct Seen<'a> {
    /// Its index.
    pub(crate) index: usize,
    /// The part.
    pub(crate) part: &'a Part,
    /// Its outline.
    pub(crate) outline: Area,
}

/// The parts in view at rest, farthest first.
pub(crate) fn seen<'a>(scene: &Scene<'a>, projection: &Projection) -> Vec<Seen<'a>> {
    let Some(rest) = scene.rest() else {
        return Vec::new();
    };
    let parts = &scene.route.machine.parts;
    let outlines: Vec<Area> = parts
        .iter()
        .map(|part| silhouette::outline(&part.shape, &rest.bodies[part.on.0], 0.0, projection))
        .collect();
    super::order::farthest_first(parts, rest, &outlines, projection)
        .into_iter()
        .map(|index| Seen {
            index,
            part: &parts[index],
            outline: outlines[index].clone(),
        })
        .collect()
}

/// Draws the parts, farthest first.
pub(crate) fn parts(
    scene: &Scene<'_>,
    seen: &[Seen<'_>],
    projection: &Projection,
    id: &str,
) -> Mark {
    let mut groups = Vec::new();
    for one in seen {
        let moved = moves(scene, one.part);
        let hot = one.part.surface.is_some();
        let (fill, ink) = match (hot, moved) {
            (true, _) => (Ink::Warm, Ink::Rust),
            (false, true) => (Ink::Steered, Ink::Grey),
            (false, false) => (Ink::Still, Ink::Grey),
        };
        let mut marks = vec![Mark::area(one.outline.clone(), None, Some(fill))];
        if hot {
            marks.push(Mark::lines(
                hatch(&one.outline, 1.3, std::f64::consts::FRAC_PI_4),
                Stroke::solid(Ink::Rust, THIN),
            ));
        }
        if let Some(rest) = scene.rest() {
            let motion = &rest.bodies[one.part.on.0];
            let edges = silhouette::edges(&one.part.shape, motion, projection);
            if !edges.is_empty() {
                marks.push(Mark::lines(edges, Stroke::solid(ink, THIN)));
            }
        }
        marks.push(Mark::area(
            one.outline.clone(),
            Some(Stroke::solid(ink, MEDIUM)),
            None,
        ));
        groups.push(Mark::group(
            format!("{id}-part-{}", one.index),
            one.part.name.clone(),
            marks,
        ));
    }
    Mark::group(format!("{id}-parts"), "parts", groups)
}

/// Faint outlines of the parts that move, at both ends of the motion.
pub(crate) fn ghosts(scene: &Scene<'_>, projection: &Projection, id: &str) -> Option<Mark> {
    let motion = scene.motion.as_ref()?;
    let rest = scene.rest()?;
    let mut marks = Vec::new();
    for pose in [motion.low, motion.high] {
        let stance = scene.solution.stances.get(pose)?;
        for part in &scene.route.machine.parts {
            let (still, moved) = (&rest.bodies[part.on.0], &stance.bodies[part.on.0]);
            if (still.to_homogeneous() - moved.to_homogeneous()).norm() < 1e-9 {
                continue;
            }
            let outline = silhouette::outline(&part.shape, moved, 0.0, projection);
            marks.push(Mark::area(
                outline,
                Some(Stroke::solid(Ink::Pale, THIN)),
                None,
            ));
        }
    }
    (!marks.is_empty())
        .then(|| Mark::group(format!("{id}-stops"), "moving parts at both stops", marks))
}

/// The distance that the limits keep to a hot part \[m\].
pub(crate) fn keep_away(scene: &Scene<'_>, part: &Part) -> Option<f64> {
    let limit = scene.findings.limits.get(LimitKey::HotDistance);
    part.surface.map(|surface| limit.distance(surface))
}

/// Outlines of the space to keep clear around hot parts; those that meet are drawn as one.
pub(crate) fn keep_away_outline(scene: &Scene<'_>, projection: &Projection) -> Area {
    let Some(rest) = scene.rest() else {
        return Area::new();
    };
    let pieces: Vec<Vec<Spot>> = scene
        .route
        .machine
        .parts
        .iter()
        .filter_map(|part| Some((part, keep_away(scene, part)?)))
        .flat_map(|(part, distance)| {
            silhouette::pieces(&part.shape, &rest.bodies[part.on.0], distance, projection)
        })
        .collect();
    silhouette::merge(pieces)
}

/// Draws the space to keep clear.
pub(crate) fn keep_away_mark(outline: &Area, id: &str) -> Option<Mark> {
    (!outline.is_empty()).then(|| {
        let line = Mark::area(
            outline.clone(),
            Some(Stroke::with(Ink::Rust, MEDIUM, Pattern::ShortDash)),
            None,
        );
        Mark::group(
            format!("{id}-keep-away"),
            "distance to keep from hot parts",
            vec![line],
        )
    })
}

/// Whether a part moves with the motion that is drawn.
pub(crate) fn moves(scene: &Scene<'_>, part: &Part) -> bool {
    let Some(motion) = &scene.motion else {
        return false;
    };
    let mut body = Some(part.on);
    while let Some(id) = body {
        if id == motion.joint {
            return true;
        }
        body = scene.route.machine.bodies[id.0].on;
    }
    false
}
