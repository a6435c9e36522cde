//! The same machine, its places counted from elsewhere.

use nalgebra::{Translation3, Vector3};

use crate::machine::Joint;

use super::Route;

impl Route {
    /// The route with every position counted from `origin` \[m\], without its changes.
    pub(crate) fn counted_from(&self, origin: &Vector3<f64>) -> Self {
        let mut route = Self {
            changes: Vec::new(),
            ..self.clone()
        };
        for place in &mut route.places {
            place.at -= origin;
        }
        let motion = Translation3::from(-origin).into();
        for part in &mut route.machine.parts {
            part.shape.displace(&motion);
        }
        for body in &mut route.machine.bodies {
            if let Joint::Turns { through, .. } = &mut body.joint {
                *through -= origin;
            }
        }
        route
    }
}
