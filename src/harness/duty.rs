//! How the machine is used: how often its joints are swept, in what air it stands and rides.

use crate::machine::BodyId;

/// How the machine is used, as far as the route file says.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Duty {
    /// Sweeps a year from end to end and back, by the body whose joint it is.
    pub sweeps: Vec<(BodyId, f64)>,
    /// Insulation ages twice as fast every so many kelvin (the halving interval of IEC 60216), where given.
    pub halving: Option<f64>,
}
