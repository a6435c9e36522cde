//! Two published relations between the strain range of copper and the number of cycles to failure, and damage summed.
//!
//! Neither was made for the strands of a harness, and no confirmed set of values for annealed copper wire was found.
//! They differ by a factor of two to four; what lies between them is a band for ranking places, and says nothing of the
//! life of any one wire.

/// What a relation needs to know of the metal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ductility {
    /// Ultimate strength over Young's modulus.
    pub strength: f64,
    /// Fatigue ductility of the first relation (a strain).
    pub fatigue: f64,
    /// Reduction of area in a tensile test, for the second (a share).
    pub reduction: f64,
}

/// Annealed copper: 220 `MPa` over 117 `GPa`; fatigue ductility 0.3, the usual figure for annealed foil; reduction of
/// area 60 %. All handbook values, from memory.
pub const ANNEALED_COPPER: Ductility = Ductility {
    strength: 220.0 / 117_000.0,
    fatigue: 0.3,
    reduction: 0.6,
};

/// Cycles beyond these are not told apart.
const CYCLES: (f64, f64) = (1.0, 1e8);

/// Total strain range that breaks after so many cycles: IPC-TM-650 method 2.4.3.2 and ASTM E796, after Engelmaier
/// (form from memory, high confidence):
/// Δε = N^−0.6 D^0.75 + 0.9 S [e^D/0.36]^(0.1785 log₁₀(10⁵/N)).
pub fn range_ductility(metal: &Ductility, cycles: f64) -> f64 {
    let exponent = 0.1785 * (1e5 / cycles).log10();
    cycles.powf(-0.6) * metal.fatigue.powf(0.75)
        + 0.9 * metal.strength * (metal.fatigue.exp() / 0.36).powf(exponent)
}

/// The same by the method of universal slopes (Manson, *Experimental Mechanics* 5 (1965) 193–226; form from memory,
/// high confidence): Δε = 3.5 S N^−0.12 + D^0.6 N^−0.6 with D = ln 1/(1 − RA).
pub fn range_universal_slopes(metal: &Ductility, cycles: f64) -> f64 {
    let ductility = (1.0 / (1.0 - metal.reduction)).ln();
    3.5 * metal.strength * cycles.powf(-0.12) + ductility.powf(0.6) * cycles.powf(-0.6)
}

/// Cycles to failure at a strain range by [`range_ductility`], between 1 and 10⁸.
pub fn cycles_ductility(metal: &Ductility, range: f64) -> f64 {
    solved(range, |cycles| range_ductility(metal, cycles))
}

/// Cycles to failure at a strain range by [`range_universal_slopes`], between 1 and 10⁸.
pub fn cycles_universal_slopes(metal: &Ductility, range: f64) -> f64 {
    solved(range, |cycles| range_universal_slopes(metal, cycles))
}

/// Where a falling curve meets `range`, by halving the logarithm of the cycles.
fn solved(range: f64, curve: impl Fn(f64) -> f64) -> f64 {
    let (mut low, mut high) = (CYCLES.0.ln(), CYCLES.1.ln());
    if curve(CYCLES.1) >= range {
        return CYCLES.1;
    }
    if curve(CYCLES.0) <= range {
        return CYCLES.0;
    }
    while high - low > 1e-9 {
        let middle = 0.5 * (low + high);
        if curve(middle.exp()) > range {
            low = middle;
        } else {
            high = middle;
        }
    }
    (0.5 * (low + high)).exp()
}

/// The closed cycles in one sweep there and back: rainflow counting of a repeating history (ASTM E1049, section 5.4.5;
/// from memory), each cycle by its range. `course` is the way out; the way back is the same backward.
pub fn ranges_of(course: &[f64]) -> Vec<f64> {
    let back = course.iter().rev().skip(1);
    let history: Vec<f64> = course.iter().chain(back).copied().collect();
    let Some(highest) = (0..history.len()).max_by(|&a, &b| history[a].total_cmp(&history[b]))
    else {
        return Vec::new();
    };
    // Begun at its highest, a repeating history closes every cycle. First and last value of it are the same.
    let round = history[highest..].iter().chain(&history[1..=highest]);
    let mut turns: Vec<f64> = Vec::new();
    for &value in round {
        match turns.as_slice() {
            [.., last] if (*last - value).abs() <= 0.0 => {}
            [.., before, last] if (last - before) * (value - last) > 0.0 => {
                let end = turns.len() - 1;
                turns[end] = value;
            }
            _ => turns.push(value),
        }
    }
    let (mut open, mut closed): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
    for value in turns {
        open.push(value);
        while let [.., a, b, c] = open.as_slice() {
            let (before, after) = ((b - a).abs(), (c - b).abs());
            if after < before {
                break;
            }
            closed.push(before);
            let keep = open.len() - 3;
            open.drain(keep..keep + 2);
        }
    }
    closed.retain(|range| *range > 0.0);
    closed
}

/// Share of its cycles that one sweep uses up, by Palmgren and Miner's sum over its strain ranges.
pub fn damage_of(ranges: &[f64], cycles: impl Fn(f64) -> f64) -> f64 {
    ranges.iter().map(|&range| 1.0 / cycles(range)).sum()
}
