//! Resistance of conductors by size and temperature, and what strands that break add to it.

use crate::harness::{Branch, BranchId, Section, Wire, WireId};
use crate::rod::Solution;
use crate::route::Route;

/// Resistivity of annealed copper at 20 °C \[Ω m\]: 100 % IACS, 1/58 Ω mm²/m (NBS Handbook 100, 1966; second-hand).
pub const COPPER_RESISTIVITY: f64 = 1e-6 / 58.0;
/// Temperature coefficient at 20 °C \[1/K\] (IEC 60028; from memory, as 1/(234.5 + 20) read in FAA AC 43.13-1B para
/// 11-66).
pub const COPPER_COEFFICIENT: f64 = 0.003_93;

/// Greatest resistance at 20 °C of plain copper by size: square metres, ohm per metre (ISO 6722-1:2011, from memory).
const GREATEST: [(f64, f64); 11] = [
    (0.22e-6, 84.4e-3),
    (0.35e-6, 54.4e-3),
    (0.5e-6, 37.1e-3),
    (0.75e-6, 24.7e-3),
    (1.0e-6, 18.5e-3),
    (1.5e-6, 12.7e-3),
    (2.0e-6, 9.42e-3),
    (2.5e-6, 7.60e-3),
    (4.0e-6, 4.71e-3),
    (6.0e-6, 3.14e-3),
    (10.0e-6, 1.82e-3),
];

/// Resistance per length of a conductor of this copper area \[m²\] without lay, at a temperature \[°C\] \[Ω/m\].
pub fn ideal_resistance(area: f64, temperature: f64) -> f64 {
    warmed(COPPER_RESISTIVITY / area, temperature)
}

/// A resistance at 20 °C, at another temperature \[°C\].
pub fn warmed(at_20: f64, temperature: f64) -> f64 {
    at_20 * (1.0 + COPPER_COEFFICIENT * (temperature - 20.0))
}

/// Greatest resistance per length that a wire may have \[Ω/m\] at a temperature \[°C\]: that of the standard for its
/// size, else ideal copper with 10 % for lay and tolerance, about as much as the standard leaves.
pub fn greatest_resistance(wire: &Wire, temperature: f64) -> f64 {
    let row = GREATEST
        .iter()
        .find(|row| (wire.area / row.0 - 1.0).abs() < 0.02);
    let at_20 = row.map_or(1.10 * COPPER_RESISTIVITY / wire.area, |row| row.1);
    warmed(at_20, temperature)
}

/// What a wire adds where all but `left` of its strands are broken over a length \[m\], at 20 °C \[Ω\]. With none left
/// the wire is open: infinite.
pub fn broken_strands(wire: &Wire, left: u32, over: f64) -> f64 {
    let all = wire.strands.max(1);
    let one = COPPER_RESISTIVITY * f64::from(all) / wire.area;
    one * over / f64::from(left) - one * over / f64::from(all)
}

/// Length of a wire \[m\]: that of every branch that holds it, added.
pub fn wire_length(route: &Route, solution: &Solution, wire: WireId) -> f64 {
    branches_of(route, wire)
        .map(|branch| {
            let spans = &solution.branches[branch.0].spans;
            let length: f64 = spans.iter().map(|span| span.length).sum();
            length * twisted(&route.branches[branch.0], route, wire)
        })
        .sum()
}

/// By how much a wire of a branch is longer than it, where its wires are twisted.
fn twisted(branch: &Branch, route: &Route, wire: WireId) -> f64 {
    let Some(pitch) = branch.pitch else {
        return 1.0;
    };
    let wires: Vec<&Wire> = branch.wires.iter().map(|id| &route.wires[id.0]).collect();
    let longer = Section::of(&wires, branch.cover.as_ref(), None).longer(Some(pitch));
    let own = branch.wires.iter().position(|id| *id == wire);
    own.map_or(1.0, |own| longer[own])
}

/// The branches that hold a wire.
pub fn branches_of(route: &Route, wire: WireId) -> impl Iterator<Item = BranchId> + '_ {
    (0..route.branches.len())
        .map(BranchId)
        .filter(move |branch| route.branches[branch.0].wires.contains(&wire))
}
