//! Wires, covers, fixings, branches; the stiffness of a bundle.

mod branch;
mod breakout;
mod fixing;
mod stiffness;
mod string;
mod wire;

pub use branch::{Branch, BranchId, Lay, LengthRule, Via};
pub use breakout::{Breakout, Held, Meeting};
pub use fixing::{Finish, Fixing, FixingKind};
pub use stiffness::{Stiffness, bundle_diameter};
pub use string::{StringReading, StringReadings, string_sd};
pub use wire::{Cover, CoverKind, InsulationClass, Wire, WireId, WireMarks};
