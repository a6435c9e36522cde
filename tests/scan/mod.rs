//! Scans: distances against brute force, closed forms and another library; alignment against known rotations; files
//! that are whole, broken and mutated.

mod alignment;
mod broken;
mod demo;
mod demo_frame;
mod distance;
mod formats;
mod in_route;
pub(crate) mod made;
pub(crate) mod make_demo;
mod mutation;
