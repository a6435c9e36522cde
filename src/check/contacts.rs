//! Contacts: what the branch does to the connectors at its ends over the sweep: how far its wires sway just behind the
//! housing (the motion that feeds fretting), how hard it pulls, whether both halves carry the same finish, how far away
//! the first thing is that holds the branch, and how far it runs straight before it bends.

use crate::geometry::Curve;
use crate::harness::{BranchId, Finish, FixingKind};
use crate::quantity::Kind;

use super::between::runs;
use super::job::{Job, Measured, Outcome, below};
use super::wording::fixing_stations;
use super::{Finding, LimitKey};

const CHECK: &str = "contacts";

/// Where the sway is told: so far behind the connector \[m\], or half the span where that is shorter.
const BEHIND: f64 = 25e-3;
/// A branch that has turned by so much \[rad\] from how it leaves the housing has begun to bend: our own choice.
const BENT: f64 = 30.0 * std::f64::consts::PI / 180.0;
/// So finely the straight run is told \[m\].
const STEP: f64 = 0.25e-3;
/// Less sway \[m\] and less pull \[N\] than these are not worth a line.
const STILL: (f64, f64) = (0.05e-3, 0.3);

/// A connector at one end of a branch.
struct Plug<'a> {
    branch: BranchId,
    lay: usize,
    name: &'a str,
    at: f64,
    /// Length along the branch to the first thing that holds it, past a breakout that floats \[m\].
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
                outcome.findings.extend(support(job, &plug));
                outcome.findings.extend(straight(job, &plug));
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
    let index = lay.min(spans.len().checked_sub(1)?);
    let span = spans.get(index)?;
    let step = BEHIND.min(0.5 * span.length);
    let ways = runs(job.route, job.solution, &[branch], true);
    let free = ways
        .iter()
        .filter(|run| run.spans.contains(&(branch, index)))
        .map(|run| run.length)
        .fold(f64::INFINITY, f64::min);
    Some(Plug {
        branch,
        lay,
        name: &fixing.name,
        at,
        free: if free.is_finite() { free } else { span.length },
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
        "What first holds the branch is {} away.",
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

/// How far away the first thing is that holds the branch.
fn support(job: &Job<'_>, plug: &Plug<'_>) -> Option<Finding> {
    let limit = job.limit(LimitKey::ConnectorSupport);
    // Well within is not worth a line.
    if plug.free < 0.5 * limit.value() {
        return None;
    }
    let finding = Measured {
        check: CHECK,
        subject: format!("{} support", plug.name),
        branch: plug.branch,
        place: format!("behind {}", plug.name),
        at: plug.at,
        pose: job.rest(),
        value: plug.free,
        limit: limit.value(),
        kind: Kind::Length,
        at_most: true,
        from: limit,
    };
    Some(finding.judged(
        || {
            format!(
                "The contacts carry the harness: fix it {} or less behind {}.",
                job.show(limit.value()),
                plug.name
            )
        },
        || {
            format!(
                "{} to what first holds the branch; 75 to 150 mm is common practice (from memory).",
                job.show(plug.free)
            )
        },
    ))
}

/// How far the branch runs straight behind the housing, in the pose in which it bends soonest.
fn straight(job: &Job<'_>, plug: &Plug<'_>) -> Option<Finding> {
    let limit = job.limit(LimitKey::ConnectorRun);
    let least = limit.radius(job.route, job.branch(plug.branch));
    let onward = if plug.lay == 0 { 1.0 } else { -1.0 };
    // Twice as far as it must is not worth a line.
    let farthest = (2.0 * least).min(plug.free);
    let straight_to = |curve: &Curve, farthest: f64| {
        let out = curve.tangent(plug.at);
        let turned = |far: f64| out.dot(&curve.tangent(plug.at + onward * far));
        let mut far = 0.0;
        while far < farthest && turned(far) > BENT.cos() {
            far += STEP;
        }
        far
    };
    let mut soonest = (farthest, job.rest());
    for (pose, shape) in job.solved(plug.branch).shapes.iter().enumerate() {
        let far = straight_to(&shape.curve, soonest.0);
        if below(far, soonest.0) {
            soonest = (far, pose);
        }
    }
    let (run, pose) = soonest;
    if run >= farthest {
        return None;
    }
    let finding = Measured {
        check: CHECK,
        subject: format!("{} straight run", plug.name),
        branch: plug.branch,
        place: format!("{} behind {}", job.show(run), plug.name),
        at: plug.at + onward * run,
        pose,
        value: run,
        limit: least,
        kind: Kind::Length,
        at_most: false,
        from: limit,
    };
    Some(finding.judged(
        || {
            format!(
                "The branch bends {} behind {}: turn the next fixing, or move it, so that it leaves the housing straight for {}.",
                job.show(run),
                plug.name,
                job.show(least)
            )
        },
        String::new,
    ))
}
