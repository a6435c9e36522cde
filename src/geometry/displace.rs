//! Shapes put elsewhere.

use nalgebra::Isometry3;

use super::Shape;

impl Shape {
    /// Puts the shape where a motion takes it.
    pub fn displace(&mut self, motion: &Isometry3<f64>) {
        match self {
            Self::Tube { along, .. } => along.iter_mut().for_each(|p| *p = motion * *p),
            Self::Block { centre, turned, .. } => {
                *centre = motion * *centre;
                if motion.rotation.angle() > 0.0 {
                    *turned = motion.rotation.to_rotation_matrix() * *turned;
                }
            }
            Self::Ball { centre, .. } => *centre = motion * *centre,
            Self::Cylinder { from, to, .. } => {
                *from = motion * *from;
                *to = motion * *to;
            }
            Self::Scan(scan) => scan.placed = motion * scan.placed,
        }
    }
}
