//! Bodies, joints and parts; joint values to where everything is; the poses of a sweep; clearances.

mod body;
mod clearance;
mod nearest;
mod nearest_scan;
mod part;
mod sweep;

pub use body::{Body, BodyId, Joint, Machine, Stance};
pub use clearance::{Nearest, Surroundings};
pub use part::{Edge, Part, PartId};
pub use sweep::{Pose, PoseStep, Sweep};
