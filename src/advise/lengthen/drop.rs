//! Voltage drop of a conductor, before and after.
//!
//! Ohm's law on the length of the conductor alone: the way back through ground or frame comes on top.

use crate::quantity::awg_area;

/// Most voltage drop of a continuous load on a 14 V system \[V\]: FAA AC 43.13-1B Table 11-6 (from memory; 0.5 V stands as
/// a row of Table 11-7, read in the document).
pub const VOLTAGE_DROP: f64 = 0.5;

/// Greatest resistance at 20 °C of tinned copper by gauge \[mΩ/m\]: FAA AC 43.13-1B Table 11-9, from ohms per 1000 ft.
const GAUGES: [(f64, f64); 11] = [
    (24.0, 28.40),
    (22.0, 16.20),
    (20.0, 9.88),
    (18.0, 6.23),
    (16.0, 4.81),
    (14.0, 3.06),
    (12.0, 2.02),
    (10.0, 1.26),
    (8.0, 0.70),
    (6.0, 0.44),
    (4.0, 0.28),
];

#[allow(clippy::approx_constant, reason = "a resistance of the table, not pi")]
/// Greatest resistance at 20 °C of plain copper by size \[mΩ/m\]: ISO 6722-1, from memory.
const SIZES: [(f64, f64); 12] = [
    (0.22, 84.4),
    (0.35, 54.4),
    (0.5, 37.1),
    (0.75, 24.7),
    (1.0, 18.5),
    (1.5, 12.7),
    (2.0, 9.42),
    (2.5, 7.60),
    (4.0, 4.71),
    (6.0, 3.14),
    (10.0, 1.82),
    (16.0, 1.16),
];

/// Metres in a thousand feet.
const KFT: f64 = 304.8;
/// Sizes that agree to this share are the same.
const SAME: f64 = 0.01;
/// Resistivity of annealed copper at 20 °C, 1/58 Ω mm²/m (NBS Handbook 100), and 2 % for the lay of strands.
const COPPER: f64 = 1.02 / 58.0;

/// Resistance of a conductor, and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resistance {
    /// At 20 °C \[Ω/m\].
    pub ohms_per_metre: f64,
    /// Where it comes from.
    pub source: &'static str,
}

/// Resistance of a copper conductor of `area` \[m²\].
pub fn ohms_per_metre(area: f64) -> Resistance {
    let size = area * 1e6;
    let same = |other: f64| (size / other - 1.0).abs() < SAME;
    if let Some((_, ohms)) = GAUGES
        .iter()
        .find(|(gauge, _)| same(awg_area(*gauge) * 1e6))
    {
        return Resistance {
            ohms_per_metre: ohms / KFT,
            source: "FAA AC 43.13-1B Table 11-9, greatest at 20 °C",
        };
    }
    if let Some((_, milliohms)) = SIZES.iter().find(|(square, _)| same(*square)) {
        return Resistance {
            ohms_per_metre: milliohms * 1e-3,
            source: "ISO 6722-1, greatest at 20 °C (from memory)",
        };
    }
    Resistance {
        ohms_per_metre: COPPER / size,
        source: "annealed copper, 1/58 Ω mm²/m and 2 % for the lay",
    }
}

/// Voltage that a conductor loses \[V\]: `ohms_per_metre` \[Ω/m\], `length` \[m\], `current` \[A\].
pub fn voltage_drop(ohms_per_metre: f64, length: f64, current: f64) -> f64 {
    ohms_per_metre * length * current
}

/// The drop of one wire over one branch, before and after.
#[derive(Debug, Clone, PartialEq)]
pub struct Drop {
    /// The wire's name.
    pub wire: String,
    /// The branch's name.
    pub branch: String,
    /// Current \[A\].
    pub current: f64,
    /// Before \[V\].
    pub before: f64,
    /// After \[V\].
    pub after: f64,
    /// Where the resistance comes from.
    pub source: &'static str,
}

/// The drops of every wire with a current over the branches that grow: one row a wire and branch.
pub fn drops(
    route: &crate::route::Route,
    solution: &crate::rod::Solution,
    adds: &[super::Add],
) -> Vec<Drop> {
    let mut rows: Vec<Drop> = Vec::new();
    for (index, branch) in route.branches.iter().enumerate() {
        let grown: f64 = adds
            .iter()
            .filter(|a| a.branch.0 == index)
            .map(|a| a.by)
            .sum();
        if grown <= 0.0 {
            continue;
        }
        let spans = &solution.branches[index].spans;
        let length = spans.last().map_or(0.0, crate::route::Span::end);
        let mut wires = branch.wires.clone();
        wires.sort_unstable();
        wires.dedup();
        for wire in wires.iter().map(|wire| &route.wires[wire.0]) {
            let Some(current) = wire.current else {
                continue;
            };
            let resistance = ohms_per_metre(wire.area);
            let lost = |length: f64| voltage_drop(resistance.ohms_per_metre, length, current);
            rows.push(Drop {
                wire: wire.name.clone(),
                branch: branch.name.clone(),
                current,
                before: lost(length - grown),
                after: lost(length),
                source: resistance.source,
            });
        }
    }
    rows
}
