//! The sum of two signals that must add up to a constant, with series resistance in each wire.
//!
//! Two tracks stand between supply and ground, the wiper of one at the share s of its travel, that of the other at 1 −
//! s; each signal is read by an input with a resistance to ground. Exact for resistances that are small against the
//! tracks' (nodes solved in closed form, loading of the supply by the inputs neglected: it is of the order
//! track/input).

use crate::harness::SignalPair;

/// Series resistance of each wire with its contacts \[Ω\].
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Series {
    /// In the supply.
    pub supply: f64,
    /// In the ground.
    pub ground: f64,
    /// In each signal.
    pub signals: [f64; 2],
}

/// One of the four wires.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PairWire {
    /// The supply.
    Supply,
    /// The ground.
    Ground,
    /// One of the signals, 0 or 1.
    Signal(usize),
}

impl Series {
    /// The same with more in one wire \[Ω\].
    pub fn with(mut self, wire: PairWire, more: f64) -> Self {
        match wire {
            PairWire::Supply => self.supply += more,
            PairWire::Ground => self.ground += more,
            PairWire::Signal(which) => self.signals[which] += more,
        }
        self
    }
}

/// The two signals as they are read \[V\], at the share `travel` of the travel.
pub fn signals(pair: &SignalPair, series: &Series, travel: f64) -> [f64; 2] {
    let tracks = 0.5 * pair.track;
    let to_supply = tracks + series.supply;
    // What others send through the ground lifts its end of the tracks.
    let low = series.ground * (pair.sum + pair.shared * to_supply) / (to_supply + series.ground);
    let high = pair.sum - series.supply * (pair.sum - low) / to_supply;
    let read = |which: usize, share: f64| {
        let open = low + share * (high - low);
        let source = pair.track * share * (1.0 - share) + series.signals[which];
        open * pair.input / (pair.input + source)
    };
    [read(0, travel), read(1, 1.0 - travel)]
}

/// By how much the sum is off at most over the travel \[V\], without what the sound circuit's own inputs take, and at
/// which share of the travel.
pub fn greatest_error(pair: &SignalPair, series: &Series) -> (f64, f64) {
    let sum = |series: &Series, travel: f64| {
        let [a, b] = signals(pair, series, travel);
        a + b
    };
    (0..=50)
        .map(|step| f64::from(step) / 50.0)
        .map(|travel| {
            let off = sum(series, travel) - sum(&Series::default(), travel);
            (off.abs(), travel)
        })
        .fold(
            (0.0, 0.0),
            |worst, here| if here.0 > worst.0 { here } else { worst },
        )
}

/// How much one wire may gain before the sum is off by `allowed` \[V\], in ohm; `None` where it already is. Infinite
/// where not even an open wire does that by this model.
pub fn room(pair: &SignalPair, series: &Series, wire: PairWire, allowed: f64) -> Option<f64> {
    let off = |more: f64| greatest_error(pair, &series.with(wire, more)).0;
    if off(0.0) > allowed {
        return None;
    }
    let (mut low, mut high) = (0.0, 1e-3);
    while off(high) <= allowed {
        (low, high) = (high, high * 4.0);
        if high > 1e9 {
            return Some(f64::INFINITY);
        }
    }
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if off(middle) <= allowed {
            low = middle;
        } else {
            high = middle;
        }
    }
    Some(low)
}
