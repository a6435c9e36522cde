//! Wires, covers, fixings, branches; the section and the stiffness of a bundle.

mod branch;
mod breakout;
mod circuit;
mod duty;
mod fixing;
mod packing;
mod section;
mod splice;
mod stiffness;
mod string;
mod wire;

pub use branch::{Branch, BranchId, Lay, LengthRule, Via};
pub use breakout::{Breakout, Held, Meeting};
pub use circuit::{Circuit, CircuitKind, Load, SignalPair};
pub use duty::Duty;
pub use fixing::{Finish, Fixing, FixingKind};
pub use packing::{Packing, pack};
pub use section::{PlacedWire, Rigidity, Section};
pub use splice::Splice;
pub use stiffness::{Stiffness, bundle_diameter};
pub use string::{StringReading, StringReadings, string_sd};
pub use wire::{Cover, CoverKind, InsulationClass, Wire, WireId, WireMarks};
