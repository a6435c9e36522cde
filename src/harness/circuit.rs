//! Circuits: which wires belong together, and what they carry.

use super::WireId;

/// A circuit.
#[derive(Debug, Clone, PartialEq)]
pub struct Circuit {
    /// Name from the route file.
    pub name: String,
    /// What it is.
    pub kind: CircuitKind,
}

/// Kinds of circuit.
#[derive(Debug, Clone, PartialEq)]
pub enum CircuitKind {
    /// A current that goes there and back.
    Load(Load),
    /// A sensor of two signals that add up to a constant.
    Pair(SignalPair),
}

/// A load and its wires.
#[derive(Debug, Clone, PartialEq)]
pub struct Load {
    /// Wires on the way there, one after the other.
    pub there: Vec<WireId>,
    /// Wires on the way back; empty where the frame carries it.
    pub back: Vec<WireId>,
    /// Steady current \[A\].
    pub current: f64,
    /// Rating of its fuse \[A\], where given.
    pub fuse: Option<f64>,
    /// Voltage drop that is allowed on its wires, there and back \[V\], where given.
    pub drop: Option<f64>,
}

/// Two wipers on two tracks between one supply and one ground, one rising as the other falls: their voltages add up to
/// that of the supply.
#[derive(Debug, Clone, PartialEq)]
pub struct SignalPair {
    /// The supply's wire.
    pub supply: WireId,
    /// The ground's wire.
    pub ground: WireId,
    /// The two signals' wires.
    pub signals: [WireId; 2],
    /// Voltage of the supply \[V\].
    pub sum: f64,
    /// By how much the sum may be off \[V\], where given.
    pub allowed: Option<f64>,
    /// Resistance of each track \[Ω\].
    pub track: f64,
    /// Resistance to ground of each input that reads a signal \[Ω\].
    pub input: f64,
    /// Current that others send through the same ground \[A\].
    pub shared: f64,
}

impl Circuit {
    /// Every wire of the circuit, in the order of the way round.
    pub fn wires(&self) -> Vec<WireId> {
        match &self.kind {
            CircuitKind::Load(load) => load.there.iter().chain(&load.back).copied().collect(),
            CircuitKind::Pair(pair) => {
                vec![pair.supply, pair.signals[0], pair.signals[1], pair.ground]
            }
        }
    }
}
