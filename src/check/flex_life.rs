//! Flex life: how far the strands of each wire are worked by one sweep of a joint, as a band between free and bonded,
//! and where that is most.
//!
//! Two published relations between strain range and cycles turn the band into sweeps, by Miner's sum over the cycles of
//! a sweep. The verdict follows the band: over the limit where even its better end lies beyond it, close where only the
//! worse end does. No number of sweeps is promised: what holds is the order of the places.

use crate::conductor::{
    ANNEALED_COPPER, Lever, Sweep, Swept, cycles_ductility, cycles_universal_slopes, damage_of,
    flexed, lever, range_ductility, range_universal_slopes, ranges_of, sweeps,
};
use crate::harness::{BranchId, Section};
use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome};
use super::wording::joint_name;
use super::{LimitKey, Verdict};

const CHECK: &str = "flex life";

/// A span whose strands work by less is still \[strain\]: far below what either relation knows of.
const STILL: f64 = 2e-4;

/// The worst place of a span.
struct Worst<'a> {
    wire: &'a str,
    safety: bool,
    at: f64,
    sweep: usize,
    swept: Swept,
    strain: [f64; 2],
}

pub(super) fn flex_life(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    // It is summed over a sweep, which a nudged route does not hold.
    if !job.is_whole() {
        return outcome;
    }
    let sweeps = sweeps(job.route, job.solution);
    for &branch in job.branches {
        if job.branch(branch).wires.is_empty() || !job.solved(branch).spans.iter().any(|s| s.moving)
        {
            continue;
        }
        for (span, worst) in worst_by_span(job, branch, &sweeps).into_iter().enumerate() {
            if let Some(worst) = worst.filter(|worst| worst.strain[1] > STILL) {
                outcome
                    .findings
                    .push(finding(job, branch, span, &worst, &sweeps));
            }
        }
    }
    outcome
}

fn worst_by_span<'a>(job: &Job<'a>, branch: BranchId, sweeps: &[Sweep]) -> Vec<Option<Worst<'a>>> {
    let bundle = job.branch(branch);
    let wires: Vec<_> = bundle
        .wires
        .iter()
        .map(|id| &job.route.wires[id.0])
        .collect();
    let section = Section::of(&wires, bundle.cover.as_ref(), bundle.pitch);
    let flexed = flexed(job.route, job.solution, branch);
    let spans = &job.solved(branch).spans;
    let mut worst: Vec<Option<Worst<'a>>> = spans.iter().map(|_| None).collect();
    for (index, sweep) in sweeps.iter().enumerate() {
        for swept in sweep.of(job.route, job.solution, branch, &flexed) {
            let span = flexed.span[swept.place];
            if !spans.get(span).is_some_and(|span| span.moving) {
                continue;
            }
            for (wire, placed) in wires.iter().zip(&section.wires) {
                let Lever { least, most } = lever(wire, placed, &section, swept.bond);
                let strain = [least, most].map(|h| swept.strain(h, bundle.stiffness.stretch));
                if worst[span]
                    .as_ref()
                    .is_none_or(|w| strain[1] > w.strain[1] * (1.0 + 1e-9))
                {
                    worst[span] = Some(Worst {
                        wire: &wire.name,
                        safety: wire.safety,
                        at: flexed.at[swept.place],
                        sweep: index,
                        swept: swept.clone(),
                        strain,
                    });
                }
            }
        }
    }
    worst
}

/// Sweeps that one strain range and its smaller companions stand for, by both relations: the worse and the better.
fn sweeps_of(swept: &Swept, strain: f64) -> [f64; 2] {
    let ranges: Vec<f64> = ranges_of(&swept.course)
        .iter()
        .map(|bend| strain * bend / swept.bend.max(f64::MIN_POSITIVE))
        .collect();
    let ranges = if ranges.is_empty() {
        vec![strain]
    } else {
        ranges
    };
    let metal = &ANNEALED_COPPER;
    let a = 1.0 / damage_of(&ranges, |range| cycles_ductility(metal, range));
    let b = 1.0 / damage_of(&ranges, |range| cycles_universal_slopes(metal, range));
    [a.min(b), a.max(b)]
}

fn finding(
    job: &Job<'_>,
    branch: BranchId,
    index: usize,
    worst: &Worst<'_>,
    sweeps: &[Sweep],
) -> super::Finding {
    let limit = job.limit(LimitKey::FlexSweeps);
    let wanted = limit.value();
    let metal = &ANNEALED_COPPER;
    let allowed = range_ductility(metal, wanted).min(range_universal_slopes(metal, wanted));
    let fewest = sweeps_of(&worst.swept, worst.strain[1])[0];
    let most = sweeps_of(&worst.swept, worst.strain[0])[1];
    let span = &job.solved(branch).spans[index];
    let words = job.span_words(branch, span);
    let joint = sweeps[worst.sweep].joint;
    let percent = |strain: f64| job.units.show_to(strain, Kind::Ratio, 2);
    let moved = joint_name(&job.route.machine, joint);
    let safety = if worst.safety {
        ", whose loss can hurt,"
    } else {
        ""
    };
    let worked = format!(
        "One sweep of {moved} works the strands of \"{}\"{safety} by {} if they slip and by {} as far as they may hold each other \
         fast here. Two published relations put that at {} (a ranking of places, no promise of life){}.",
        worst.wire,
        percent(worst.strain[0]),
        percent(worst.strain[1]),
        band(fewest, most),
        yearly(job, joint, fewest, most)
    );
    let mut found = Measured {
        check: CHECK,
        subject: words.clone(),
        branch,
        place: job.place_in_span(branch, span, worst.at),
        at: worst.at,
        pose: worst.swept.between[1],
        value: worst.strain[1],
        limit: allowed,
        kind: Kind::Ratio,
        at_most: true,
        from: limit,
    }
    .judged(
        || {
            format!(
                "{worked} Give the bend more room or the span more length, and no strap, tape, crimp or solder where it bends."
            )
        },
        || worked.clone(),
    );
    found.verdict = if most < wanted {
        Verdict::Over
    } else if fewest < wanted {
        Verdict::Close
    } else {
        Verdict::Within
    };
    found
}

/// "some 20 thousand to 3 million sweeps".
fn band(fewest: f64, most: f64) -> String {
    let (low, high) = (rough(fewest), rough(most));
    if fewest >= 1e7 {
        format!("{low} sweeps")
    } else if low == high {
        format!("about {low} sweeps")
    } else {
        format!("anything from {low} to {high} sweeps")
    }
}

/// One digit of a count, in words.
fn rough(count: f64) -> String {
    if count >= 1e7 {
        return "more than 10 million".to_owned();
    }
    let power = 10.0_f64.powf(count.max(1.0).log10().floor());
    let one = (count / power).floor() * power;
    if one >= 1e6 {
        format!("{:.0} million", one / 1e6)
    } else if one >= 1e3 {
        format!("{:.0} 000", one / 1e3)
    } else {
        format!("{one:.0}")
    }
}

/// The same against the sweeps a year that the route file gives.
fn yearly(job: &Job<'_>, joint: crate::machine::BodyId, fewest: f64, most: f64) -> String {
    let given = job
        .route
        .duty
        .sweeps
        .iter()
        .find(|(body, _)| *body == joint);
    given.map_or_else(String::new, |(_, a_year)| {
        let share = |sweeps: f64| {
            let share = 100.0 * a_year / sweeps;
            if share >= 0.1 {
                format!("{share:.1} %")
            } else {
                "less than 0.1 %".to_owned()
            }
        };
        format!(
            "; {a_year:.0} sweeps a year would use up {} to {} of that",
            share(most),
            share(fewest)
        )
    })
}
