//! Twist: how far every moving span is turned about itself, over all poses, against its free length.

use crate::quantity::Kind;

use super::LimitKey;
use super::job::{Job, Measured, Outcome, below};
use super::wording::degrees;

const CHECK: &str = "twist";

pub(super) fn twist(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    for (branch, index, span) in job.spans().filter(|(_, _, span)| span.moving) {
        let (mut most, mut pose) = (0.0, job.rest());
        let mut first = true;
        for (id, shape) in job.solved(branch).shapes.iter().enumerate() {
            let twist = shape.spans[index].twist.abs();
            if first || below(-twist, -most) {
                (most, pose, first) = (twist, id, false);
            }
        }
        let limit = job.limit(LimitKey::Twist);
        let words = job.span_words(branch, span);
        // A route file may give the limit as an angle for any span instead of a rate.
        let (allowed, free_length) = match limit.kind {
            Kind::Angle => (limit.value(), f64::INFINITY),
            _ => (limit.value() * span.length, most / limit.value()),
        };
        let rate = job.units.show(most / span.length, Kind::TwistRate);
        outcome.findings.push(
            Measured {
                check: CHECK,
                subject: words.clone(),
                branch,
                place: format!("{words}, whole span"),
                at: 0.5 * (span.start + span.end()),
                pose,
                value: most,
                limit: allowed,
                kind: Kind::Angle,
                at_most: true,
                from: limit,
            }
            .judged(
                || {
                    let names = words.replace('–', " or ");
                    let move_it = if free_length.is_finite() {
                        format!(
                            "move {names} so that the free length grows by at least {} (first estimate), or ",
                            job.show_up(free_length - span.length)
                        )
                    } else {
                        String::new()
                    };
                    format!(
                        "Twisted by {rate} of its {}: {move_it}let {names} pivot instead of holding its \
                         direction.",
                        job.show(span.length)
                    )
                },
                || format!("{} in all, {rate} of free length.", degrees(most)),
            ),
        );
    }
    outcome
}
