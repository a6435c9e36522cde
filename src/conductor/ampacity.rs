//! How much current a wire carries, alone and in a bundle, and how warm it gets.
//!
//! FAA AC 43.13-1B (1998) gives its derating as figures without equations. What can be read are the points of its own
//! example (p. 11-27: one #14 wire in free air, 150 K warmer than the air, 47 A; eight wires of which 60 % are loaded,
//! factor 0.6) and Table 11-9 (p. 11-23). The curves here are **our own fit through those few points**: current by
//! copper area to the power 0.64 and by the warming to the power 0.52 (the table's rows), bundle factor 1/(1 + 0.425 ln
//! n) with n loaded wires. Between the points they interpolate, beyond them they guess.

use crate::harness::{InsulationClass, Wire};

/// The point in free air: copper area of AWG 14 (ASTM B258) \[m²\], warming \[K\], current \[A\].
const FREE_AIR: (f64, f64, f64) = (2.080_91e-6, 150.0, 47.0);
const BY_AREA: f64 = 0.64;
const BY_WARMING: f64 = 0.52;
const BY_NUMBER: f64 = 0.425;

/// Upper limit of a temperature class \[°C\] (ISO 6722-1: letters from memory, numbers second-hand). Without a class
/// the lowest, 85 °C.
pub fn class_limit(class: Option<InsulationClass>) -> f64 {
    use InsulationClass as Class;
    match class {
        None | Some(Class::A) => 85.0,
        Some(Class::B) => 100.0,
        Some(Class::C) => 125.0,
        Some(Class::D) => 150.0,
        Some(Class::E) => 175.0,
        Some(Class::F) => 200.0,
        Some(Class::G) => 225.0,
        Some(Class::H) => 250.0,
    }
}

/// Current of a single wire of this copper area \[m²\] in still air at sea level that makes it so much warmer \[K\], in
/// ampere.
pub fn free_air_current(area: f64, warming: f64) -> f64 {
    let (at, by, current) = FREE_AIR;
    current * (area / at).powf(BY_AREA) * (warming.max(0.0) / by).powf(BY_WARMING)
}

/// Share of that which each of `loaded` wires in a bundle may carry.
pub fn bundle_factor(loaded: f64) -> f64 {
    1.0 / (1.0 + BY_NUMBER * loaded.max(1.0).ln())
}

/// Current that a wire may carry beside `loaded` loaded wires, itself among them, in air of this temperature \[°C\], in
/// ampere.
pub fn ampacity(wire: &Wire, loaded: f64, air: f64) -> f64 {
    free_air_current(wire.area, class_limit(wire.class) - air) * bundle_factor(loaded)
}

/// Temperature of a conductor \[°C\] by FAA AC 43.13-1B para 11-66 d(6): `T₂ = T₁ + (T_R − T₁)√(I/I_max)`. "Quite
/// conservative", as the paragraph says: heating goes with the square of the current, so [`conductor_temperature`] is
/// used here.
pub fn conductor_temperature_estimate(air: f64, rated: f64, share: f64) -> f64 {
    air + (rated - air) * share.max(0.0).sqrt()
}

/// Temperature of a conductor that carries this share of its ampacity \[°C\], heating by the square of the current.
pub fn conductor_temperature(air: f64, rated: f64, share: f64) -> f64 {
    air + (rated - air) * share * share
}
