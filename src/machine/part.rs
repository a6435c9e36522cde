//! Parts: what is in the way, what is hot, what closes on the harness.

use crate::geometry::Shape;

use super::BodyId;

/// Index of a part in [`super::Machine::parts`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PartId(pub usize);

/// A part on a body, drawn where it is with every joint at zero.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Name from the route file.
    pub name: String,
    /// The body that carries it.
    pub on: BodyId,
    /// Its shape.
    pub shape: Shape,
    /// Surface temperature \[°C\]; `None` for a part that is not hot.
    pub surface: Option<f64>,
    /// Emissivity of the surface, 0 to 1.
    pub emissivity: Option<f64>,
    /// Kind of edge, where the part has one that can chafe.
    pub edge: Option<Edge>,
    /// What it carries, where it is a line or hose.
    pub carries: Option<Fluid>,
}

/// What a line or hose carries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fluid {
    /// Fuel, or its vapour.
    Fuel,
    /// Engine, fork or gear oil.
    Oil,
    /// Brake or clutch fluid: it burns on hot parts, and softens insulation.
    BrakeFluid,
    /// Water and glycol: does not burn as a liquid.
    Coolant,
}

impl Fluid {
    /// Whether it feeds a fire.
    pub fn is_flammable(self) -> bool {
        self != Self::Coolant
    }

    /// Its name, as in a route file.
    pub fn name(self) -> &'static str {
        match self {
            Self::Fuel => "fuel",
            Self::Oil => "oil",
            Self::BrakeFluid => "brake fluid",
            Self::Coolant => "coolant",
        }
    }
}

/// Kinds of edge, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// Cut or stamped, not broken.
    Sharp,
    /// Rolled or rounded.
    Rolled,
    /// Lined with a grommet.
    Grommet,
}
