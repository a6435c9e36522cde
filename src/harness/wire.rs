//! Wires and covers.

/// Index of a wire in [`crate::route::Route::wires`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WireId(pub usize);

/// One kind of wire.
#[derive(Debug, Clone, PartialEq)]
pub struct Wire {
    /// Name from the route file.
    pub name: String,
    /// Copper area \[m²\].
    pub area: f64,
    /// Number of strands.
    pub strands: u32,
    /// Outside diameter over the insulation \[m\].
    pub outside: f64,
    /// Temperature class of the insulation, where given.
    pub class: Option<InsulationClass>,
    /// A circuit whose loss can hurt someone (throttle, brake …).
    pub safety: bool,
    /// Steady current \[A\], where given.
    pub current: Option<f64>,
    /// What tells it from others on the bench.
    pub marks: WireMarks,
}

/// What tells a wire from others on the bench: for cut lists, nothing is computed from it.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct WireMarks {
    /// Colour and stripe, where given.
    pub colour: Option<String>,
    /// Connector and cavity where it begins, where given.
    pub from: Option<String>,
    /// Connector and cavity where it ends, where given.
    pub to: Option<String>,
}

/// Temperature class letters of road-vehicle cable (ISO 6722-1 / ISO 19642; letters and limits from memory).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum InsulationClass {
    /// 85 °C.
    A,
    /// 100 °C.
    B,
    /// 125 °C.
    C,
    /// 150 °C.
    D,
    /// 175 °C.
    E,
    /// 200 °C.
    F,
    /// 225 °C.
    G,
    /// 250 °C.
    H,
}

/// What the bundle is wrapped in.
#[derive(Debug, Clone, PartialEq)]
pub struct Cover {
    /// What it is.
    pub kind: CoverKind,
    /// Wall thickness \[m\].
    pub wall: f64,
    /// Temperature rating \[°C\], where given.
    pub rated: Option<f64>,
}

/// Kinds of cover.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CoverKind {
    /// Woven braid.
    Braid,
    /// Wound tape.
    Tape,
    /// Plain tube (PVC and the like).
    Tube,
    /// Split corrugated tube.
    SplitTube,
    /// Heat-shrink sleeve.
    Shrink,
    /// Heat sleeve (glass, silicone, aluminised).
    HeatSleeve,
}
