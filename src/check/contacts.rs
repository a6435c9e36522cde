//! Contacts: what the branch does to the connectors at its ends over the sweep: how far its wires sway just behind the
//! housing (the motion that feeds fretting), how hard it pulls, and whether both halves carry the same finish.

use crate::harness::{BranchId, Finish, FixingKind};
use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome, below};
use super::wording::fixing_stations;
use super::{Finding, LimitKey};

const CHECK: &str = "contacts";

/// Where the sway is told: so far behind the connector \[m\], or half the span where that is shorter.
const BEHIND: f64 = 25e-3;
/// Less sway \[m\] and less pull \[N\] than these are not worth a line.
const STILL: (f64, f64) = (0.05e-3, 0.3);

/// A connector at one end of a branch.
struct Plug<'a> {
    branch: BranchId,
    lay: usize,
    name: &'a str,
    at: f64,
    /// Length of the span behind it \[m\].
    free: f64,
    /// A place behind it along the branch \[m\].
    behind: f64,
    finishes: (Option<Finish>, Option<Finish>),
}

pub(super) fn contacts(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    // The sway is a range over the whole sweep.
    if !job.is_whole() {
        return outcome;
    }
    for &branch in job.branches {
        let last = job.branch(branch).lay.len() - 1;
        for lay in [0, last] {
            if let Some(plug) = plug(job, branch, lay) {
                outcome.findings.extend(sway(job, &plug));
                outcome.findings.extend(pull(job, &plug));
            }
        }
    }
    outcome
}

fn plug<'a>(job: &Job<'a>, branch: BranchId, lay: usize) -> Option<Plug<'a>> {
    let fixing = &job.branch(branch).lay[lay].fixing;
    let FixingKind::Connector { finish, mated, .. } = fixing.kind else {
        return None;
    };
    let spans = &job.solved(branch).spans;
    let at = fixing_stations(spans)[lay];
    let span = spans.get(lay.min(spans.len().checked_sub(1)?))?;
    let step = BEHIND.min(0.5 * span.length);
    Some(Plug {
        branch,
        lay,
        name: &fixing.name,
        at,
        free: span.length,
        behind: if lay == 0 { at + step } else { at - step },
        finishes: (finish, mated),
    })
}

fn word(finish: Finish) -> &'static str {
    match finish {
        Finish::Tin => "tin",
        Finish::Silver => "silver",
        Finish::Gold => "gold",
    }
}

fn sway(job: &Job<'_>, plug: &Plug<'_>) -> Option<Finding> {
    let on = job.branch(plug.branch).lay[plug.lay].fixing.on;
    let places: Vec<_> = job
        .solved(plug.branch)
        .shapes
        .iter()
        .zip(&job.solution.stances)
        .map(|(shape, stance)| stance.bodies[on.0].inverse() * shape.curve.position(plug.behind))
        .collect();
    let (mut most, mut pose) = (0.0, job.rest());
    for (id, a) in places.iter().enumerate() {
        for b in &places[..id] {
            let far = (a - b).norm();
            if below(-far, -most) {
                (most, pose) = (far, id);
            }
        }
    }
    let unlike = match plug.finishes {
        (Some(own), Some(other)) if own != other => Some((own, other)),
        _ => None,
    };
    if most < STILL.0 && unlike.is_none() {
        return None;
    }
    let limit = job.limit(LimitKey::ConnectorSway);
    let allowed = if unlike.is_some() { 0.0 } else { limit.value() };
    let fixing = format!(
        "The first fixing is {} away (75 to 150 mm is common practice, from memory).",
        job.show(plug.free)
    );
    let finding = Measured {
        check: CHECK,
        subject: format!("{} sway", plug.name),
        branch: plug.branch,
        place: format!(
            "{} behind {}",
            job.show((plug.behind - plug.at).abs()),
            plug.name
        ),
        at: plug.behind,
        pose,
        value: most,
        limit: allowed,
        kind: Kind::Length,
        at_most: true,
        from: limit,
    };
    let tin = match plug.finishes.0 {
        Some(Finish::Tin) => " Tin bears no motion: it frets from a few µm on (from memory).",
        _ => "",
    };
    let mut finding = finding.judged(
        || match unlike {
            Some((own, other)) => format!(
                "{} mates {} with {}: unlike finishes corrode and fret where anything moves, so fit the other half in the same finish. {fixing}",
                plug.name,
                word(own),
                word(other)
            ),
            None => format!(
                "The wires sway by {} just behind {} in one sweep, which works its contacts: fix the branch nearer to it. {fixing}{tin}",
                job.show(most),
                plug.name
            ),
        },
        || format!("{fixing}{tin}"),
    );
    if let Some((own, other)) = unlike
        && finding.verdict != super::Verdict::Over
    {
        finding.verdict = super::Verdict::Close;
        finding.advice = format!(
            "{} mates {} with {}: unlike finishes corrode each other, though nothing moves here. Fit the other half in the same finish.",
            plug.name,
            word(own),
            word(other)
        );
    }
    Some(finding)
}

fn pull(job: &Job<'_>, plug: &Plug<'_>) -> Option<Finding> {
    let bundle = job.branch(plug.branch);
    let (mut most, mut pose, mut side) = (0.0, job.rest(), 0.0_f64);
    for (id, (shape, stance)) in job
        .solved(plug.branch)
        .shapes
        .iter()
        .zip(&job.solution.stances)
        .enumerate()
    {
        let facing = job.route.fixing_facing(bundle, plug.lay, stance)?;
        // The connector pulls back: against the run of the branch at its start, with it at its end.
        let out = if plug.lay == 0 { -1.0 } else { 1.0 };
        let force = shape.holds.get(plug.lay)?.force;
        let along = out * force.dot(&facing);
        side = side.max((force - *facing * force.dot(&facing)).norm());
        if below(-along, -most) {
            (most, pose) = (along, id);
        }
    }
    if most < STILL.1 && side < STILL.1 {
        return None;
    }
    let limit = job.limit(LimitKey::ConnectorPull);
    let shown = |value: f64| job.units.show_to(value, Kind::Force, 1);
    let told = format!("Side load up to {}.", shown(side));
    let finding = Measured {
        check: CHECK,
        subject: format!("{} pull", plug.name),
        branch: plug.branch,
        place: format!("at {}", plug.name),
        at: plug.at,
        pose,
        value: most.max(0.0),
        limit: limit.value(),
        kind: Kind::Force,
        at_most: true,
        from: limit,
    };
    Some(finding.judged(
        || format!("Pulls at {} and its contacts: give the branch more length there, or fix it before the connector. {told}", plug.name),
        || told.clone(),
    ))
}
