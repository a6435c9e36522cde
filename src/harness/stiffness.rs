//! Stiffness and mass of a bundle.

/// Stiffness and mass of a bundle, used by the rod.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stiffness {
    /// Bending stiffness EI \[N m²\].
    pub bend: f64,
    /// Torsional stiffness GJ \[N m²\].
    pub twist: f64,
    /// Stretching stiffness EA \[N\].
    pub stretch: f64,
    /// Mass per length \[kg/m\].
    pub mass: f64,
    /// How far the true bending and torsional stiffness may lie below and above, as factors of `bend`;
    /// (1, 1) where the file gives the value.
    pub range: (f64, f64),
}
