//! Pure geometry: curves, smooth paths, shapes with a signed distance, scans, points from taped distances.

mod curve;
mod path;
mod samples;
mod scan;
mod shape;
mod tape;
mod trilateration;

pub use curve::{Curve, Knot};
pub use path::{Waypoint, smooth_path};
pub use scan::{Alignment, AlignmentError, Open, Scan, Surface, SurfaceError, align};
pub(crate) use scan::{Mixing, Piece};
pub use shape::{Contact, Shape};
pub use tape::{Side, TapeError, TapeFix, fix_from_tape};
