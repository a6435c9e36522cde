//! What the way in which a bundle lies does to its conductors: bending in the section's own frame, strand strain,
//! fatigue, resistance, the sum of two signals, heat.
//!
//! Each function here works out values from a solved route; what is too much of them, the checks say.

mod ampacity;
mod bond;
mod fatigue;
mod flexing;
pub mod heat;
mod pair;
mod resistance;
mod strain;

pub use ampacity::{
    ampacity, bundle_factor, class_limit, conductor_temperature, conductor_temperature_estimate,
    free_air_current,
};
pub use bond::{Bond, bond_at};
pub use fatigue::{
    ANNEALED_COPPER, Ductility, cycles_ductility, cycles_universal_slopes, damage_of,
    range_ductility, range_universal_slopes, ranges_of,
};
pub use flexing::{Flexed, Flexing, flexed};
pub use pair::{PairWire, Series, greatest_error, room, signals};
pub use resistance::{
    COPPER_COEFFICIENT, COPPER_RESISTIVITY, branches_of, broken_strands, greatest_resistance,
    ideal_resistance, warmed, wire_length,
};
pub use strain::{Lever, Sweep, Swept, lever, sweeps};
