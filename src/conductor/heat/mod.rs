//! Steady temperature of a bundle: radiation from hot parts, air that rises, stands or blows, and its own current.

mod balance;
mod convection;
mod view_factor;

pub use balance::{Around, Hot, ageing, clamped, core, steady};
pub use convection::{
    Air, air_at, forced_cylinder, forced_film, natural_cylinder, natural_film, plume,
};
pub use view_factor::{Rays, Viewer, parallel_cylinders, seen, seen_at_most};

/// 0 °C \[K\].
pub const ZERO_CELSIUS: f64 = 273.15;
