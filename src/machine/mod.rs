//! Bodies, joints and parts; joint values to where everything is; the poses of a sweep; clearances.

mod body;
mod clearance;
mod nearest;
mod nearest_scan;
mod part;
mod sweep;

pub use body::{Body, BodyId, Joint, Machine, Said, Stance};
pub use clearance::{Nearest, Surroundings};
pub use nearest::Searched;
pub use part::{Edge, Fluid, Part, PartId};
pub(crate) use sweep::MOST_CORNER_JOINTS;
pub use sweep::{Pose, PoseStep, Sweep};
