//! A scan's hollows: creases of a mesh, and what lies between the points of a cloud.

use nalgebra::{Matrix3, Point3, Vector3};

use super::tree::Tree;
use super::triangle::{Feature, Foot, Primitive};
use super::{Held, Scan, Surface, closed};
use crate::geometry::Contact;
use crate::geometry::eased::{Eased, Near, mixed, reach};
use crate::geometry::shape::NO_GRADIENT;

/// Cosine of an angle (0.3°) so small that a place is straight over a face.
const STRAIGHT: f64 = 1.0 - 1e-5;

impl Scan {
    /// As `contact`, smoothed over so many metres where the surface is hollow.
    pub(in crate::geometry) fn eased(&self, p: &Point3<f64>, over: f64) -> Eased {
        let turn = self.placed.rotation.to_rotation_matrix();
        self.surface
            .eased(&self.placed.inverse_transform_point(p), over)
            .turned(&turn)
    }
}

impl Surface {
    /// As `contact`, smoothed over so many metres where the surface is hollow.
    fn eased(&self, p: &Point3<f64>, over: f64) -> Eased {
        let Some((i, foot, inside)) = self.nearest(p, None) else {
            return Contact::flat(f64::NAN, Vector3::x()).into();
        };
        if inside || (p - foot.at).norm() <= NO_GRADIENT {
            return self.contact_at(p, i, &foot, inside).into();
        }
        let pieces = match &self.held {
            Held::Mesh { tree, .. } => near(tree, p, &foot, over),
            Held::Cloud { tree, .. } => near(tree, p, &foot, over),
        };
        mixed(pieces, self.allowance(), over)
            .unwrap_or_else(|| self.contact_at(p, i, &foot, inside).into())
    }
}

/// Second derivative of the distance from a piece to a place outside it \[1/m\].
pub(super) fn bend(corners: &[Point3<f64>], foot: &Foot, away: &Vector3<f64>) -> Matrix3<f64> {
    let d = away.norm();
    let n = away / d;
    let flat = Matrix3::identity() - n * n.transpose();
    let along = match (corners, foot.feature) {
        (_, Feature::Face) => flat,
        // Straight over a face, if only just: of an edge between two in one plane nothing is to be felt.
        (&[a, b, c], _)
            if closed::normal(&[a, b, c])
                .unwrap_or_else(Vector3::z)
                .dot(&n)
                .abs()
                > STRAIGHT =>
        {
            flat
        }
        (&[_, _, _], Feature::Edge(e)) => {
            let u = (corners[(e + 1) % 3] - corners[e]).try_normalize(0.0);
            u.map_or_else(Matrix3::zeros, |u| u * u.transpose())
        }
        _ => Matrix3::zeros(),
    };
    (flat - along) / d
}

/// The pieces that matter at a place whose nearest foot is known.
fn near<P: Primitive>(tree: &Tree<P>, p: &Point3<f64>, foot: &Foot, over: f64) -> Vec<Near> {
    let reach = reach((p - foot.at).norm(), over);
    let mut pieces = Vec::new();
    let mut add = |piece: &P| {
        let foot = piece.foot(p);
        let away = p - foot.at;
        if away.norm() <= reach {
            let bend = bend(piece.corners(), &foot, &away);
            pieces.push(Near { away, bend });
        }
        reach
    };
    tree.near_box(p, p, &mut add, reach);
    pieces
}
