//! A route cut into strands, and the strands that hang together put into clusters.

use nalgebra::{Point3, Vector3};

use crate::harness::{Branch, BranchId, Held};
use crate::machine::{PartId, Surroundings};
use crate::route::{Route, Span};

use super::Settings;
use super::cluster::{Cluster, Float, Slide};
use super::contact::Seated;
use super::newton::Stop;
use super::piece::Piece;
use super::resolve::FIRST_CONTACT;
use super::solution::Solution;

/// A fixing sits on a part if the branch's surface comes this close to it \[m\].
const ON_PART: f64 = 1e-3;

/// The strands of all branches: each is cut at the fixings that hold direction.
pub(super) fn pieces<'r>(
    route: &'r Route,
    surroundings: &'r Surroundings<'r>,
    seated: &'r [Vec<Seated>],
    near: Option<&Solution>,
    settings: &Settings,
) -> Vec<Piece<'r>> {
    let axes = route.axes();
    let mut pieces = Vec::new();
    for (b, branch) in route.branches.iter().enumerate() {
        let known = near.and_then(|near| near.branches.get(b));
        for (strand, (first, last)) in branch.stretches().enumerate() {
            pieces.push(Piece {
                axes,
                route,
                branch,
                id: BranchId(b),
                first,
                fixings: last - first + 1,
                surroundings,
                seated: &seated[b],
                // As stiff as in the solution close by: a softer contact would shift what presses on a part.
                contact: known.map_or(FIRST_CONTACT, |known| {
                    known.contact_of(strand).max(FIRST_CONTACT)
                }),
                stop: Stop {
                    halt: settings.halt,
                    ..near.map_or_else(|| Stop::for_accuracy(settings.accuracy), |_| Stop::NEAR)
                },
                directors: (Vector3::zeros(), Vector3::zeros()),
            });
        }
    }
    pieces
}

/// Puts together the strands that meet at breakouts that float, or share length through a hole.
pub(super) fn clusters<'r>(route: &'r Route, pieces: Vec<Piece<'r>>) -> Vec<Cluster<'r>> {
    let floating: Vec<_> = route.breakouts.iter().filter(|b| b.floats()).collect();
    // For each piece the piece that stands for its cluster.
    let mut with: Vec<usize> = (0..pieces.len()).collect();
    let root = |with: &[usize], mut i: usize| {
        while with[i] != i {
            i = with[i];
        }
        i
    };
    let on = |piece: &Piece<'_>, fixing: usize| piece.branch.lay[piece.first + fixing].fixing.on;
    let join = |with: &mut Vec<usize>, a: usize, b: usize| {
        let (a, b) = (root(with, a), root(with, b));
        with[a.max(b)] = a.min(b);
    };
    for breakout in &floating {
        let meeting: Vec<usize> = (0..pieces.len())
            .filter(|&i| {
                let ends = [0, pieces[i].fixings - 1];
                ends.iter().any(|&end| on(&pieces[i], end) == breakout.body)
            })
            .collect();
        for pair in meeting.windows(2) {
            join(&mut with, pair[0], pair[1]);
        }
    }
    let mut slides: Vec<Slide> = Vec::new();
    for (b, branch) in route.branches.iter().enumerate() {
        for lay in 1..branch.lay.len().saturating_sub(1) {
            if !branch.lay[lay].fixing.slides() {
                continue;
            }
            let at: Vec<(usize, usize)> = pieces
                .iter()
                .enumerate()
                .filter(|(_, p)| p.id.0 == b && (p.first..p.first + p.fixings).contains(&lay))
                .map(|(i, p)| (i, lay - p.first))
                .collect();
            for pair in at.windows(2) {
                join(&mut with, pair[0].0, pair[1].0);
            }
            slides.push(Slide {
                branch: BranchId(b),
                lay,
                at,
            });
        }
    }
    let roots: Vec<usize> = (0..pieces.len()).map(|i| root(&with, i)).collect();
    let mut clusters: Vec<(usize, Cluster<'r>)> = Vec::new();
    // Where each piece stands in its cluster.
    let mut index = Vec::new();
    for (piece, &root) in pieces.into_iter().zip(&roots) {
        let found = clusters.iter().position(|(r, _)| *r == root);
        let found = found.unwrap_or_else(|| {
            clusters.push((root, Cluster::empty(route)));
            clusters.len() - 1
        });
        index.push(clusters[found].1.pieces.len());
        clusters[found].1.pieces.push(piece);
    }
    for (root, cluster) in &mut clusters {
        let ends = cluster
            .pieces
            .iter()
            .flat_map(|p| [on(p, 0), on(p, p.fixings - 1)]);
        let ends: Vec<_> = ends.collect();
        for breakout in floating.iter().filter(|b| ends.contains(&b.body)) {
            cluster.floats.push(Float {
                body: breakout.body,
                about: route.places[breakout.place].at,
                carrier: match breakout.held {
                    Held::Pivots => route.machine.bodies[breakout.body.0].on,
                    Held::Floats | Held::Firmly => None,
                },
            });
        }
        for slide in slides.iter().filter(|slide| roots[slide.at[0].0] == *root) {
            let mut own = slide.clone();
            for at in &mut own.at {
                at.0 = index[at.0];
            }
            cluster.slides.push(own);
        }
    }
    clusters.into_iter().map(|(_, cluster)| cluster).collect()
}

/// What was known of the fixings of a branch before something moved.
#[derive(Clone, Copy)]
pub(super) struct SatBefore<'a> {
    /// Where all places were.
    pub(super) places: &'a [Point3<f64>],
    pub(super) seated: &'a [Seated],
    /// The part that moved, if one did.
    pub(super) moved: Option<PartId>,
}

/// The fixings that sit on parts of their own body.
pub(super) fn seated(
    route: &Route,
    branch: &Branch,
    spans: &[Span],
    before: Option<SatBefore<'_>>,
) -> Vec<Seated> {
    let mut seated = Vec::new();
    for (lay, entry) in branch.lay.iter().enumerate() {
        let at = if lay == 0 { 0.0 } else { spans[lay - 1].end() };
        let place = &route.places[entry.fixing.place].at;
        let stayed = before.filter(|before| before.places.get(entry.fixing.place) == Some(place));
        for (part, shape) in route.machine.parts.iter().enumerate() {
            let part = PartId(part);
            if shape.on != entry.fixing.on {
                continue;
            }
            if let Some(before) = stayed.filter(|before| before.moved != Some(part)) {
                let mut own = before.seated.iter();
                let sat = own.find(|sat| sat.lay == lay && sat.part == part);
                seated.extend(sat.map(|sat| Seated { at, ..*sat }));
                continue;
            }
            let depth = 0.5 * branch.diameter - shape.shape.distance(place);
            if depth > -ON_PART {
                seated.push(Seated {
                    lay,
                    part,
                    at,
                    depth: depth.max(0.0),
                });
            }
        }
    }
    seated
}
