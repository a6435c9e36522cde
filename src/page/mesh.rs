//! Shapes as triangles to look at: one tessellator for all of them, from the shape's own definition.

use std::f64::consts::{PI, TAU};

use nalgebra::{Point3, Vector3};

use crate::geometry::Shape;

use super::thinning;

/// Sides of what is round.
const SIDES: u32 = 24;
/// Rings from pole to pole of a ball.
const RINGS: u32 = 12;

/// Triangles to look at \[m\]; corners of flat faces are not shared, so that edges stay edges.
#[derive(Debug, Default)]
pub(super) struct Mesh {
    pub(super) corners: Vec<Point3<f64>>,
    pub(super) triangles: Vec<[u32; 3]>,
}

/// What of a part is drawn.
#[derive(Debug)]
pub(super) enum Drawn {
    /// Triangles, and how many were left out.
    Mesh(Mesh, usize),
    /// Points, and how many were left out.
    Points(Vec<Point3<f64>>, usize),
}

/// A shape as triangles or points, with every joint at zero.
pub(super) fn drawn(shape: &Shape) -> Drawn {
    let mut mesh = Mesh::default();
    match shape {
        Shape::Tube { along, diameter } => {
            let radius = 0.5 * diameter;
            for pair in along.windows(2) {
                mesh.tube(pair[0], pair[1], radius);
            }
            for at in along {
                mesh.ball(*at, radius);
            }
        }
        Shape::Ball { centre, diameter } => mesh.ball(*centre, 0.5 * diameter),
        Shape::Cylinder { from, to, diameter } => {
            mesh.tube(*from, *to, 0.5 * diameter);
            let axis = (to - from).try_normalize(0.0).unwrap_or_else(Vector3::z);
            mesh.disc(*from, -axis, 0.5 * diameter);
            mesh.disc(*to, axis, 0.5 * diameter);
        }
        Shape::Block {
            centre,
            size,
            turned,
        } => {
            for axis in 0..3 {
                for side in [-1.0, 1.0] {
                    let out = turned * (Vector3::ith(axis, 0.5 * side * size[axis]));
                    let (a, b) = ((axis + 1) % 3, (axis + 2) % 3);
                    let u = turned * Vector3::ith(a, 0.5 * size[a]);
                    let v = turned * Vector3::ith(b, 0.5 * side * size[b]);
                    mesh.quad([
                        centre + out - u - v,
                        centre + out + u - v,
                        centre + out + u + v,
                        centre + out - u + v,
                    ]);
                }
            }
        }
        Shape::Scan(scan) => return thinning::of_scan(scan),
    }
    Drawn::Mesh(mesh, 0)
}

impl Mesh {
    /// Index of the next corner.
    pub(super) fn next(&self) -> u32 {
        u32::try_from(self.corners.len()).unwrap_or(u32::MAX)
    }

    fn quad(&mut self, corners: [Point3<f64>; 4]) {
        let first = self.next();
        self.corners.extend(corners);
        self.triangles.push([first, first + 1, first + 2]);
        self.triangles.push([first, first + 2, first + 3]);
    }

    /// The round side between two points.
    fn tube(&mut self, from: Point3<f64>, to: Point3<f64>, radius: f64) {
        let Some(axis) = (to - from).try_normalize(0.0) else {
            return;
        };
        let (u, v) = across(&axis);
        let first = self.next();
        for side in 0..SIDES {
            let (sin, cos) = (TAU * f64::from(side) / f64::from(SIDES)).sin_cos();
            let out = (u * cos + v * sin) * radius;
            self.corners.push(from + out);
            self.corners.push(to + out);
        }
        for side in 0..SIDES {
            let (a, b) = (first + 2 * side, first + 2 * ((side + 1) % SIDES));
            self.triangles.push([a, b, a + 1]);
            self.triangles.push([b, b + 1, a + 1]);
        }
    }

    /// A flat end.
    fn disc(&mut self, middle: Point3<f64>, out: Vector3<f64>, radius: f64) {
        let (u, v) = across(&out);
        let first = self.next();
        self.corners.push(middle);
        for side in 0..SIDES {
            let (sin, cos) = (TAU * f64::from(side) / f64::from(SIDES)).sin_cos();
            self.corners.push(middle + (u * cos + v * sin) * radius);
        }
        for side in 0..SIDES {
            let next = (side + 1) % SIDES;
            self.triangles
                .push([first, first + 1 + side, first + 1 + next]);
        }
    }

    fn ball(&mut self, middle: Point3<f64>, radius: f64) {
        let first = self.next();
        for ring in 0..=RINGS {
            let (sin, cos) = (PI * f64::from(ring) / f64::from(RINGS)).sin_cos();
            for side in 0..SIDES {
                let (s, c) = (TAU * f64::from(side) / f64::from(SIDES)).sin_cos();
                let out = Vector3::new(sin * c, sin * s, cos);
                self.corners.push(middle + out * radius);
            }
        }
        for ring in 0..RINGS {
            for side in 0..SIDES {
                let next = (side + 1) % SIDES;
                let (a, b) = (first + ring * SIDES, first + (ring + 1) * SIDES);
                if ring > 0 {
                    self.triangles.push([a + side, b + side, a + next]);
                }
                if ring + 1 < RINGS {
                    self.triangles.push([a + next, b + side, b + next]);
                }
            }
        }
    }
}

/// Two directions square to a unit vector and to each other, right-handed with it.
fn across(axis: &Vector3<f64>) -> (Vector3<f64>, Vector3<f64>) {
    let least = Vector3::ith(axis.iamin(), 1.0);
    let u = (least - axis * axis.dot(&least)).normalize();
    (u, axis.cross(&u))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Volume enclosed, by the divergence theorem; positive where triangles turn outward.
    fn volume(mesh: &Mesh) -> f64 {
        let corner = |i: u32| mesh.corners[i as usize].coords;
        let of = |t: &[u32; 3]| corner(t[0]).dot(&corner(t[1]).cross(&corner(t[2]))) / 6.0;
        mesh.triangles.iter().map(of).sum()
    }

    #[test]
    fn triangles_enclose_the_volume_of_the_shape_and_look_outward() {
        let shapes = [
            (
                Shape::Block {
                    centre: Point3::new(0.1, 0.2, 0.3),
                    size: Vector3::new(0.2, 0.3, 0.4),
                    turned: nalgebra::Rotation3::from_euler_angles(0.3, 0.2, 0.9),
                },
                0.024,
            ),
            (
                Shape::Ball {
                    centre: Point3::new(0.1, 0.2, 0.3),
                    diameter: 0.2,
                },
                PI / 6.0 * 0.008,
            ),
            (
                Shape::Cylinder {
                    from: Point3::new(0.1, 0.0, 0.0),
                    to: Point3::new(0.1, 0.3, 0.4),
                    diameter: 0.1,
                },
                PI * 0.0025 * 0.5,
            ),
        ];
        for (shape, exact) in shapes {
            let (mesh, left) = match drawn(&shape) {
                Drawn::Mesh(mesh, left) => (mesh, left),
                Drawn::Points(..) => (Mesh::default(), 1),
            };
            assert_eq!(left, 0, "a simple shape is drawn whole");
            // A round side of 24 flat ones loses 1.1 % of a circle, a ball of 12 rings somewhat more.
            let ratio = volume(&mesh) / exact;
            assert!((0.95..=1.000_001).contains(&ratio), "{shape:?}: {ratio}");
            // And every corner lies on the surface, to what a flat face between them allows.
            for corner in &mesh.corners {
                assert!(shape.distance(corner).abs() < 1e-9 || shape.distance(corner) < 0.0);
            }
        }
    }
}
