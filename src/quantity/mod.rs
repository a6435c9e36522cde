//! Numbers with units: as text in, as text out.

mod awg;
mod parse;
mod show;
mod unit;

pub use awg::{awg_area, awg_diameter};
pub use parse::{Accepts, QuantityError, parse};
pub(crate) use parse::{check, parse_diameters};
pub use show::{LengthUnit, TemperatureUnit, Units};
pub use unit::accepted_units;

/// Kinds of quantity. Inside the program a value of a kind is an `f64` in the SI unit named here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Metre.
    Length,
    /// Radian.
    Angle,
    /// Degree Celsius.
    Temperature,
    /// Newton.
    Force,
    /// Newton metre.
    Torque,
    /// Pascal.
    Pressure,
    /// A plain ratio (0.01 is one per cent).
    Ratio,
    /// Square metre.
    Area,
    /// Newton square metre (bending and torsional stiffness).
    BendingStiffness,
    /// Kilogram per metre.
    MassPerLength,
    /// Ampere.
    Current,
    /// Volt.
    Voltage,
    /// Ohm.
    Resistance,
    /// Radian per metre.
    TwistRate,
}

impl Kind {
    /// The kind in words, with its article: "a length".
    pub fn phrase(self) -> &'static str {
        match self {
            Self::Length => "a length",
            Self::Angle => "an angle",
            Self::Temperature => "a temperature",
            Self::Force => "a force",
            Self::Torque => "a torque",
            Self::Pressure => "a pressure",
            Self::Ratio => "a share",
            Self::Area => "a cross-section",
            Self::BendingStiffness => "a stiffness",
            Self::MassPerLength => "a mass per length",
            Self::Current => "a current",
            Self::Voltage => "a voltage",
            Self::Resistance => "a resistance",
            Self::TwistRate => "a twist per length",
        }
    }

    /// A value as a person would write it, as an example of the kind.
    pub fn example(self) -> &'static str {
        match self {
            Self::Length => "40 mm",
            Self::Angle => "30 deg",
            Self::Temperature => "150 degC",
            Self::Force => "1.2 N",
            Self::Torque => "0.5 N m",
            Self::Pressure => "1.5 MPa",
            Self::Ratio => "12 %",
            Self::Area => "0.5 mm2",
            Self::BendingStiffness => "0.004 N m2",
            Self::MassPerLength => "0.09 kg/m",
            Self::Current => "20 mA",
            Self::Voltage => "0.13 V",
            Self::Resistance => "5 mohm",
            Self::TwistRate => "30 deg/100 mm",
        }
    }
}
