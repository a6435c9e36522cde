//! Stiffness and mass of a bundle: as given, or estimated from its wires or from its diameter.
//!
//! No published measurement of the bending stiffness of a vehicle harness was found. Two bounds are exact theory:
//! strands that slip freely give Σ E I over every strand and every insulation; strands that are bonded add Σ E A y².
//! Insulated looms are said to lie near the lower bound, up to three times it when loose and three to ten times it
//! when taped (from memory, low confidence). The estimate here is three times the lower bound, and says that the
//! truth may lie between one and ten times it: our own choice.

use super::packing::pack;
use super::{Cover, InsulationClass, Wire, WireMarks};

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

/// Young's modulus of annealed copper \[Pa\] (handbooks give 110 to 120 `GPa`; from memory).
pub(super) const COPPER: f64 = 117e9;
/// Poisson's ratio of copper (handbook value, from memory).
pub(super) const COPPER_POISSON: f64 = 0.34;
/// Density of copper \[kg/m³\] (IACS definition, NBS Handbook 100).
pub(super) const COPPER_DENSITY: f64 = 8890.0;
/// Poisson's ratio of soft insulation, which hardly changes its volume (from memory).
pub(super) const INSULATION_POISSON: f64 = 0.45;
/// Density of insulation and cover \[kg/m³\]: between polyethylene and filled PVC (from memory).
pub(super) const INSULATION_DENSITY: f64 = 1300.0;
/// How many times stiffer than freely slipping strands a bundle is taken to be: our own choice.
const BINDING: f64 = 3.0;
/// The range of that factor: free, and taped.
const BINDING_RANGE: (f64, f64) = (1.0, 10.0);
/// How much wider a bundle of many wires is than the root of its wires' diameters squared and summed (common practice,
/// 1.15 to 1.2, no source): for a bundle of which the diameter alone is known.
const PACKING: f64 = 1.15;

/// Young's modulus of an insulation by its temperature class \[Pa\]: soft PVC 5 to 30 `MPa` for A and B, cross-linked
/// polyethylene 100 to 300 `MPa` for C and D, fluoropolymers and silicone mixed above (from memory, low confidence).
/// Copper outweighs it in most bundles.
pub(super) fn insulation_modulus(class: Option<InsulationClass>) -> f64 {
    match class {
        None | Some(InsulationClass::A | InsulationClass::B) => 20e6,
        Some(InsulationClass::C | InsulationClass::D) => 200e6,
        Some(_) => 500e6,
    }
}

/// Second moment of area of a disc of this diameter \[m⁴\].
pub(super) fn second_moment(diameter: f64) -> f64 {
    std::f64::consts::PI / 64.0 * diameter.powi(4)
}

/// Diameter about the strands of a wire \[m\]: they fill about four fifths of it (from memory), and it cannot exceed
/// the insulation.
pub(super) fn bore(wire: &Wire) -> f64 {
    f64::sqrt(wire.area / 0.8 * 4.0 / std::f64::consts::PI).min(wire.outside)
}

/// Diameter of a bundle \[m\]: its wires lying as close as they can in their section, touching, and the cover's wall
/// twice. A bundle laid by hand is a few per cent thicker, which calipers tell.
pub fn bundle_diameter<'w>(wires: impl Iterator<Item = &'w Wire>, cover: Option<&Cover>) -> f64 {
    let radii: Vec<f64> = wires.map(|wire| 0.5 * wire.outside).collect();
    2.0 * pack(&radii).radius + cover.map_or(0.0, |cover| 2.0 * cover.wall)
}

impl Stiffness {
    /// Estimate for a bundle of wires: three times that of freely slipping strands and insulations, with the range
    /// from one to ten times; stretching stiffness of the copper laid straight, which a loose lay stays below; the
    /// cover counts by its mass alone. `diameter` is the bundle's outside \[m\].
    pub fn of_bundle<'w>(
        wires: impl Iterator<Item = &'w Wire>,
        cover: Option<&Cover>,
        diameter: f64,
    ) -> Self {
        let mut sum = Self {
            bend: 0.0,
            twist: 0.0,
            stretch: 0.0,
            mass: 0.0,
            range: (BINDING_RANGE.0 / BINDING, BINDING_RANGE.1 / BINDING),
        };
        for wire in wires {
            let strands = f64::from(wire.strands.max(1));
            // n strands of equal size that make up the copper area: I = n · π d⁴/64 with n · π d²/4 = A.
            let copper_moment = wire.area * wire.area / (4.0 * std::f64::consts::PI * strands);
            let bore = bore(wire);
            let modulus = insulation_modulus(wire.class);
            let sleeve_moment = second_moment(wire.outside) - second_moment(bore);
            let sleeve_area = std::f64::consts::FRAC_PI_4 * (wire.outside.powi(2) - bore.powi(2));
            let (copper, sleeve) = (COPPER * copper_moment, modulus * sleeve_moment);
            sum.bend += BINDING * (copper + sleeve);
            // GJ = EI / (1 + ν) for a round section.
            sum.twist +=
                BINDING * (copper / (1.0 + COPPER_POISSON) + sleeve / (1.0 + INSULATION_POISSON));
            sum.stretch += COPPER * wire.area + modulus * sleeve_area;
            sum.mass += COPPER_DENSITY * wire.area + INSULATION_DENSITY * sleeve_area;
        }
        if let Some(cover) = cover {
            let wall = cover.wall.min(diameter / 2.0);
            sum.mass += INSULATION_DENSITY * std::f64::consts::PI * (diameter - wall) * wall;
        }
        sum
    }

    /// Estimate for a bundle of which only the outside diameter \[m\] is known: filled with wires of 0.75 mm², 24
    /// strands, 1.9 mm over the insulation, as many as that diameter holds.
    pub fn of_diameter(diameter: f64) -> Self {
        let wire = Wire {
            name: String::new(),
            area: 0.754e-6,
            strands: 24,
            outside: 1.9e-3,
            class: None,
            safety: false,
            current: None,
            marks: WireMarks::default(),
        };
        let count = (diameter / (PACKING * wire.outside)).powi(2);
        let one = Self::of_bundle(std::iter::once(&wire), None, wire.outside);
        Self {
            bend: one.bend * count,
            twist: one.twist * count,
            stretch: one.stretch * count,
            mass: one.mass * count,
            range: one.range,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wire(area: f64, strands: u32, outside: f64) -> Wire {
        Wire {
            name: "w".to_owned(),
            area,
            strands,
            outside,
            class: None,
            safety: false,
            current: None,
            marks: WireMarks::default(),
        }
    }

    #[test]
    fn strands_that_slip_add_up() {
        // 19 × 0.19 mm, 117 GPa: Σ E π d⁴/64 = 142.21 N mm² (closed form, high precision).
        let area = 19.0 * std::f64::consts::FRAC_PI_4 * 0.19e-3_f64.powi(2);
        let bare = f64::sqrt(area / 0.8 * 4.0 / std::f64::consts::PI);
        let wire = wire(area, 19, bare);
        let stiffness = Stiffness::of_bundle(std::iter::once(&wire), None, bare);
        let free = stiffness.bend / BINDING * 1e6;
        assert!((free / 142.21 - 1.0).abs() < 1e-4, "{free} N mm²");
        assert!((stiffness.stretch / (117e9 * area) - 1.0).abs() < 1e-9);
        let (least, most) = stiffness.range;
        assert!((stiffness.bend * least * 1e6 / free - 1.0).abs() < 1e-12);
        assert!((stiffness.bend * most * 1e6 / free - 10.0).abs() < 1e-9);
    }

    #[test]
    fn a_bundle_of_equal_wires_is_as_stiff_as_their_number() {
        let one = wire(0.754e-6, 24, 1.9e-3);
        let wires = vec![one; 7];
        let diameter = PACKING * 1.9e-3 * 7.0_f64.sqrt();
        let by_wires = Stiffness::of_bundle(wires.iter(), None, diameter);
        let by_diameter = Stiffness::of_diameter(diameter);
        assert!((by_wires.bend / by_diameter.bend - 1.0).abs() < 1e-12);
        assert!((by_wires.mass / by_diameter.mass - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_cover_adds_two_walls_and_its_mass() {
        let cover = Cover {
            kind: crate::harness::CoverKind::Braid,
            wall: 0.8e-3,
            rated: None,
        };
        let wires = [wire(0.5e-6, 19, 1.8e-3), wire(0.5e-6, 19, 1.8e-3)];
        let bare = bundle_diameter(wires.iter(), None);
        let clad = bundle_diameter(wires.iter(), Some(&cover));
        assert!((clad - bare - 1.6e-3).abs() < 1e-12);
        let mass = |cover| Stiffness::of_bundle(wires.iter(), cover, clad).mass;
        let sleeve = std::f64::consts::FRAC_PI_4 * (clad.powi(2) - bare.powi(2));
        assert!((mass(Some(&cover)) - mass(None) - 1300.0 * sleeve).abs() < 1e-9);
    }
}
