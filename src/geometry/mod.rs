//! Pure geometry: curves, smooth paths, shapes with a signed distance, scans, points from taped distances, lengths
//! from string, and where slack can be pulled to.

mod curve;
mod displace;
mod eased;
mod path;
mod ray;
mod reach;
mod samples;
mod scan;
mod shape;
mod string;
mod tape;
mod trilateration;

pub use curve::{Curve, Knot};
pub use eased::Eased;
pub use path::{Waypoint, smooth_path};
pub use reach::Reach;
pub use scan::{Alignment, AlignmentError, Open, Scan, Surface, SurfaceError, align};
pub(crate) use scan::{Mixing, Piece};
pub(crate) use shape::outer;
pub use shape::{Contact, Shape, Slope};
pub use string::{FittedLength, LengthReading, fit_length, suspect_length};
pub use tape::{Side, TapeError, TapeFix, fix_from_tape};
