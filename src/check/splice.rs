//! Splice: not in a span that moves, not under a strap, staggered, not at a connector, one in a wire.

use crate::harness::{FixingKind, Splice};
use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome};
use super::wording::fixing_stations;
use super::{Blank, Finding, LimitKey, Verdict};

const CHECK: &str = "splice";

/// One rule at one splice: how far it keeps from what it must keep from.
struct Rule {
    key: LimitKey,
    what: &'static str,
    far: f64,
    from: String,
}

pub(super) fn splice(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    if !job.is_whole() {
        return outcome;
    }
    for splice in &job.route.splices {
        let length = job
            .solved(splice.branch)
            .spans
            .last()
            .map_or(0.0, |span| span.end());
        if splice.at > length {
            outcome.blanks.push(Blank {
                check: CHECK,
                branch: splice.branch,
                why: format!(
                    "The splice of \"{}\" at {} lies beyond the end of the branch, which is {} long: give where it is from the first \
                     fixing on.",
                    job.route.wires[splice.wire.0].name,
                    job.show(splice.at),
                    job.show(length)
                ),
            });
            continue;
        }
        let mut found: Vec<Finding> = rules(job, splice)
            .into_iter()
            .map(|rule| finding(job, splice, &rule))
            .collect();
        // All that is broken, else what comes nearest to being so.
        found.sort_by(|a, b| b.use_of_limit().total_cmp(&a.use_of_limit()));
        let broken = found
            .iter()
            .filter(|f| f.verdict != Verdict::Within)
            .count();
        found.truncate(broken.max(1));
        outcome.findings.extend(found);
    }
    outcome
}

fn rules(job: &Job<'_>, splice: &Splice) -> Vec<Rule> {
    let bundle = job.branch(splice.branch);
    let spans = &job.solved(splice.branch).spans;
    let mut rules = Vec::new();
    for span in spans.iter().filter(|span| span.moving) {
        // Inside it counts as that far beyond its edge.
        let far = (span.start - splice.at).max(splice.at - span.end());
        rules.push(Rule {
            key: LimitKey::SpliceMoving,
            what: "moving",
            far,
            from: format!(
                "the span {} that moves",
                job.span_words(splice.branch, span)
            ),
        });
    }
    for (entry, station) in bundle.lay.iter().zip(fixing_stations(spans)) {
        let half = 0.5 * entry.fixing.width.unwrap_or(5e-3);
        let far = (station - splice.at).abs();
        let name = &entry.fixing.name;
        match entry.fixing.kind {
            FixingKind::Tie { .. } | FixingKind::Clamp | FixingKind::Grommet => rules.push(Rule {
                key: LimitKey::SpliceStrap,
                what: "strap",
                far: far - half,
                from: name.clone(),
            }),
            FixingKind::Connector { .. } => rules.push(Rule {
                key: LimitKey::SpliceEnd,
                what: "end",
                far,
                from: format!("the connector {name}"),
            }),
            FixingKind::Breakout => {}
        }
    }
    for other in &job.route.splices {
        if std::ptr::eq(other, splice) || other.branch != splice.branch {
            continue;
        }
        rules.push(Rule {
            key: LimitKey::SpliceStagger,
            what: "stagger",
            far: (other.at - splice.at).abs(),
            from: format!("the splice of \"{}\"", job.route.wires[other.wire.0].name),
        });
    }
    // Of each kind the nearest.
    rules.sort_by(|a, b| a.what.cmp(b.what).then(a.far.total_cmp(&b.far)));
    rules.dedup_by(|b, a| a.what == b.what);
    rules
}

fn finding(job: &Job<'_>, splice: &Splice, rule: &Rule) -> Finding {
    let wire = &job.route.wires[splice.wire.0];
    let limit = job.limit(rule.key);
    let same = job
        .route
        .splices
        .iter()
        .filter(|other| other.wire == splice.wire)
        .count();
    let bulge = job.show(splice.lump(wire.outside));
    let many = if same > 1 {
        format!(
            " \"{}\" is spliced {same} times: one in a wire is what FAA AC 43.13-1B para 11-167 allows (from memory), so run a new wire \
             from end to end.",
            wire.name
        )
    } else {
        String::new()
    };
    let mut finding = Measured {
        check: CHECK,
        subject: format!("{} at {:.0}, {}", wire.name, splice.at * 1e3, rule.what),
        branch: splice.branch,
        place: format!(
            "splice of \"{}\", {}",
            wire.name,
            job.place_words(splice.branch, splice.at)
        ),
        at: splice.at,
        pose: job.rest(),
        value: rule.far,
        limit: limit.value(),
        kind: Kind::Length,
        at_most: false,
        from: limit,
    }
    .judged(
        || {
            let missing = job.show_up(limit.value() - rule.far);
            format!(
                "Too near to {}: move the splice at least {missing} away from it.{many}",
                rule.from
            )
        },
        || {
            format!(
                "{} from {}; the bundle is up to {bulge} thicker here.{many}",
                job.show(rule.far),
                rule.from
            )
        },
    );
    if same > 1 && finding.verdict == Verdict::Within {
        finding.verdict = Verdict::Close;
    }
    finding
}
