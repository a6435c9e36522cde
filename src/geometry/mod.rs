//! Pure geometry: curves, smooth paths, shapes with a signed distance, points from taped distances,
//! and where slack can be pulled to.

mod curve;
mod path;
mod reach;
mod samples;
mod shape;
mod tape;
mod trilateration;

pub use curve::{Curve, Knot};
pub use path::{Waypoint, smooth_path};
pub use reach::Reach;
pub use shape::{Contact, Shape};
pub use tape::{Side, TapeError, TapeFix, fix_from_tape};
