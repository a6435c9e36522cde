//! Numbers with units: as text in, as text out.

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
    /// Radian per metre.
    TwistRate,
}
