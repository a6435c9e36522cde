//! Signal pairs: how far the sum of two signals goes wrong when a contact ages and a conductor hangs by its last
//! strand, and how much each wire may gain before that matters.

use crate::conductor::{
    PairWire, Series, branches_of, broken_strands, greatest_error, greatest_resistance, room,
    wire_length,
};
use crate::harness::{CircuitKind, SignalPair, WireId};
use crate::quantity::Kind;

use super::current::AIR;
use super::job::{Job, Measured, Outcome};
use super::{Finding, LimitKey};

const CHECK: &str = "signal pairs";

/// A sound contact \[Ω\] (some milliohms, from memory); two in each wire.
const SOUND: f64 = 5e-3;
/// A contact counts as failed by fretting at this \[Ω\]: Park, Sankara Narayanan & Lee, Tribology Int. 41(7), 2008,
/// 616–628 (read in its abstract).
const AGED: f64 = 0.1;
/// A conductor that hangs by its last strand does so over this length \[m\]: our own choice.
const NECK: f64 = 5e-3;

pub(super) fn signal_pairs(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    if !job.is_whole() {
        return outcome;
    }
    for circuit in &job.route.circuits {
        if let CircuitKind::Pair(pair) = &circuit.kind {
            outcome.findings.extend(finding(job, &circuit.name, pair));
        }
    }
    outcome
}

fn finding(job: &Job<'_>, name: &str, pair: &SignalPair) -> Option<Finding> {
    let branch = branches_of(job.route, pair.supply).next()?;
    let limit = job.limit(LimitKey::SignalSum);
    let allowed = pair.allowed.unwrap_or(limit.value());
    let wire = |id: WireId| {
        let kind = &job.route.wires[id.0];
        greatest_resistance(kind, AIR) * wire_length(job.route, job.solution, id) + 2.0 * SOUND
    };
    let series = Series {
        supply: wire(pair.supply),
        ground: wire(pair.ground),
        signals: pair.signals.map(wire),
    };
    let all = [
        (PairWire::Supply, pair.supply),
        (PairWire::Ground, pair.ground),
        (PairWire::Signal(0), pair.signals[0]),
        (PairWire::Signal(1), pair.signals[1]),
    ];
    let worse = |id: WireId| AGED - SOUND + broken_strands(&job.route.wires[id.0], 1, NECK);
    let (value, travel, worst) = all
        .iter()
        .map(|&(which, id)| {
            let (off, travel) = greatest_error(pair, &series.with(which, worse(id)));
            (off, travel, id)
        })
        .fold((0.0, 0.0, pair.supply), |worst, here| {
            if here.0 > worst.0 { here } else { worst }
        });
    let rooms: Vec<String> = all
        .iter()
        .map(|&(which, id)| {
            let wire = &job.route.wires[id.0];
            match room(pair, &series, which, allowed) {
                None => format!("\"{}\" nothing", wire.name),
                Some(room) => format!("\"{}\" {}{}", wire.name, ohms(room), strands(wire, room)),
            }
        })
        .collect();
    let volts = |value: f64| job.units.show_to(value, Kind::Voltage, 3);
    let told = format!(
        "Before the sum is off by {}, each alone may gain: {}.",
        volts(allowed),
        rooms.join("; ")
    );
    Some(
        Measured {
            check: CHECK,
            subject: name.to_owned(),
            branch,
            place: format!("circuit \"{name}\", wire \"{}\"", job.route.wires[worst.0].name),
            at: 0.0,
            pose: job.rest(),
            value,
            limit: allowed,
            kind: Kind::Voltage,
            at_most: true,
            from: limit,
        }
        .judged(
            || {
                format!(
                    "With one contact aged to {} and one conductor on its last strand the sum is off by {} at {:.0} % of the travel. {told} \
                     Give the sensor a ground of its own, thicker wire, and contacts that do not move.",
                    ohms(AGED),
                    volts(value),
                    100.0 * travel
                )
            },
            || {
                format!(
                    "With one contact aged to {} and one conductor on its last strand. {told} So a sum that holds does not say that the \
                     wires are sound.",
                    ohms(AGED)
                )
            },
        ),
    )
}

fn ohms(value: f64) -> String {
    if value.is_infinite() {
        "any resistance".to_owned()
    } else if value < 1.0 {
        format!("{:.0} mΩ", value * 1e3)
    } else if value < 1e4 {
        format!("{value:.0} Ω")
    } else {
        format!("{:.0} kΩ", value / 1e3)
    }
}

/// How many strands may break before a wire gains so much.
fn strands(wire: &crate::harness::Wire, room: f64) -> String {
    let broken = (1..wire.strands.max(1))
        .rev()
        .find(|&broken| broken_strands(wire, wire.strands - broken, NECK) <= room);
    match broken {
        Some(broken) if broken + 1 == wire.strands => " (all strands but one may break)".to_owned(),
        Some(broken) => format!(" ({broken} of {} strands may break)", wire.strands),
        None => " (no strand may break)".to_owned(),
    }
}
