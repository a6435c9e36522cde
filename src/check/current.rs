//! Current: the voltage that the wires of a circuit take, there and back; what each of them may carry in its bundle;
//! and whether the fuse goes before the thinnest of them.

use crate::conductor::{
    ampacity, branches_of, class_limit, conductor_temperature, greatest_resistance, wire_length,
};
use crate::harness::{BranchId, CircuitKind, Load, WireId};
use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome};
use super::{Finding, LimitKey};

const CHECK: &str = "current";

/// Air about the harness \[°C\]: a hot day. Our own choice.
pub(super) const AIR: f64 = 40.0;
/// Voltage that a limit in per cent is a share of \[V\]: that of FAA AC 43.13-1B Table 11-6.
const NOMINAL: f64 = 14.0;
/// More current than this in a wire counts as loading its bundle \[A\]: our own choice.
const LOADED: f64 = 0.2;

/// What one wire of a load may carry.
struct Carries {
    wire: WireId,
    branch: BranchId,
    loaded: f64,
    most: f64,
}

pub(super) fn current(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    if !job.is_whole() {
        return outcome;
    }
    for circuit in &job.route.circuits {
        let CircuitKind::Load(load) = &circuit.kind else {
            continue;
        };
        outcome
            .findings
            .extend(findings(job, &circuit.name, load).into_iter().flatten());
    }
    outcome
}

fn findings(job: &Job<'_>, name: &str, load: &Load) -> [Option<Finding>; 3] {
    let wires: Vec<WireId> = load.there.iter().chain(&load.back).copied().collect();
    let carries: Vec<Carries> = wires
        .iter()
        .filter_map(|&wire| carries(job, wire))
        .collect();
    let worst = carries.iter().min_by(|a, b| a.most.total_cmp(&b.most));
    let Some(worst) = worst else {
        return [None, None, None];
    };
    [
        Some(drop(job, name, load, &wires, &carries)),
        Some(carried(job, name, load, worst)),
        load.fuse.map(|fuse| fused(job, name, fuse, worst)),
    ]
}

/// What a wire may carry in the fullest of its bundles; `None` where it runs through none.
fn carries(job: &Job<'_>, wire: WireId) -> Option<Carries> {
    let kind = &job.route.wires[wire.0];
    branches_of(job.route, wire)
        .map(|branch| {
            let others = &job.branch(branch).wires;
            let loaded = others
                .iter()
                .filter(|other| **other != wire && current_of(job, **other) > LOADED);
            let loaded = 1.0 + u32::try_from(loaded.count()).map_or(0.0, f64::from);
            Carries {
                wire,
                branch,
                loaded,
                most: ampacity(kind, loaded, AIR),
            }
        })
        .min_by(|a, b| a.most.total_cmp(&b.most))
}

/// The current of a wire \[A\]: that of the circuits that it belongs to, added, or its own.
pub(super) fn current_of(job: &Job<'_>, wire: WireId) -> f64 {
    let loads = job
        .route
        .circuits
        .iter()
        .filter_map(|circuit| match &circuit.kind {
            CircuitKind::Load(load) if circuit.wires().contains(&wire) => Some(load.current),
            _ => None,
        });
    let sum: f64 = loads.sum();
    sum.max(job.route.wires[wire.0].current.unwrap_or(0.0))
}

/// What a finding is about: a whole circuit, told at the start of a branch.
fn measured<'l>(
    job: &Job<'l>,
    subject: String,
    place: String,
    branch: BranchId,
    key: LimitKey,
) -> Measured<'l> {
    let limit = job.limit(key);
    Measured {
        check: CHECK,
        subject,
        branch,
        place,
        at: 0.0,
        pose: job.rest(),
        value: 0.0,
        limit: limit.value(),
        kind: limit.kind,
        at_most: true,
        from: limit,
    }
}

fn drop(job: &Job<'_>, name: &str, load: &Load, wires: &[WireId], carries: &[Carries]) -> Finding {
    let (mut volts, mut length, mut thinnest) = (0.0, 0.0, f64::INFINITY);
    for &id in wires {
        let wire = &job.route.wires[id.0];
        let most = carries
            .iter()
            .find(|c| c.wire == id)
            .map_or(f64::INFINITY, |c| c.most);
        let share = (current_of(job, id).max(load.current) / most).min(1.0);
        let warm = conductor_temperature(AIR, class_limit(wire.class), share);
        let own = wire_length(job.route, job.solution, id);
        // What others send through the same wire adds to its drop.
        volts += current_of(job, id).max(load.current) * greatest_resistance(wire, warm) * own;
        length += own;
        thinnest = wire.area.min(thinnest);
    }
    let limit = job.limit(LimitKey::VoltageDrop);
    let allowed = match (load.drop, limit.kind) {
        (Some(own), _) => own,
        (None, Kind::Ratio) => limit.value() * NOMINAL,
        (None, _) => limit.value(),
    };
    let back = if load.back.is_empty() {
        "; the way back through the frame is not counted"
    } else {
        ", there and back"
    };
    let told = format!(
        "{} through {} of wire{back}, as warm as it gets and with as much resistance as its size may have; contacts and switches \
         come on top",
        job.units.show(load.current, Kind::Current),
        job.show(length)
    );
    let place = format!("circuit \"{name}\"");
    Measured {
        value: volts,
        limit: allowed,
        kind: Kind::Voltage,
        ..measured(job, format!("{name} drop"), place, carries[0].branch, LimitKey::VoltageDrop)
    }
    .judged(
        || {
            format!(
                "Too much is lost on the way: {told}. Use wire of at least {} throughout, or a relay near the load.",
                job.units.show(thinnest * volts / allowed, Kind::Area)
            )
        },
        || format!("{told}."),
    )
}

fn carried(job: &Job<'_>, name: &str, load: &Load, worst: &Carries) -> Finding {
    let wire = &job.route.wires[worst.wire.0];
    let value = current_of(job, worst.wire).max(load.current);
    let place = format!("circuit \"{name}\", wire \"{}\"", wire.name);
    let told = format!(
        "\"{}\" among {} loaded wires in air of {}, its insulation good for {}",
        wire.name,
        worst.loaded,
        job.units.show(AIR, Kind::Temperature),
        job.units.show(class_limit(wire.class), Kind::Temperature)
    );
    Measured {
        value,
        limit: worst.most * job.limit(LimitKey::Ampacity).value(),
        kind: Kind::Current,
        ..measured(job, format!("{name} load"), place, worst.branch, LimitKey::Ampacity)
    }
    .judged(
        || format!("Gets too warm: {told}. Use a thicker wire, or one of a higher class, or take it out of the bundle."),
        || format!("{told}."),
    )
}

fn fused(job: &Job<'_>, name: &str, fuse: f64, worst: &Carries) -> Finding {
    let wire = &job.route.wires[worst.wire.0];
    let shown = |value: f64| job.units.show(value, Kind::Current);
    let place = format!("circuit \"{name}\", its fuse");
    Measured {
        value: fuse,
        limit: worst.most * job.limit(LimitKey::Ampacity).value(),
        kind: Kind::Current,
        ..measured(job, format!("{name} fuse"), place, worst.branch, LimitKey::Ampacity)
    }
    .judged(
        || {
            format!(
                "A fuse of {} lets \"{}\" get hotter than its insulation bears before it goes: fit one of at most {}, or thicker wire.",
                shown(fuse),
                wire.name,
                shown(worst.most.floor())
            )
        },
        || format!("The fuse goes before \"{}\", the thinnest of its wires, is overloaded.", wire.name),
    )
}
