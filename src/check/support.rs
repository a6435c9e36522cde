//! Support: the length along the branch between neighbouring fixings.

use crate::quantity::Kind;

use super::LimitKey;
use super::job::{Job, Measured, Outcome};

const CHECK: &str = "support";

pub(super) fn support(job: &Job<'_>) -> Outcome {
    let limit = job.limit(LimitKey::SupportDistance);
    let findings = job.spans().map(|(branch, _, span)| {
        let words = job.span_words(branch, span);
        Measured {
            check: CHECK,
            subject: words.clone(),
            branch,
            place: format!("{words}, whole span"),
            at: 0.5 * (span.start + span.end()),
            pose: job.rest(),
            value: span.length,
            limit: limit.value(),
            kind: Kind::Length,
            at_most: true,
            from: limit,
        }
        .judged(
            || {
                let more = (span.length / limit.value() - 1e-9).ceil() - 1.0;
                let each = span.length / (more + 1.0);
                let every = job.show(each);
                if span.moving {
                    format!(
                        "Move {} closer together: a span that moves cannot take a fixing between. {} is too \
                         much.",
                        words.replace('–', " and "),
                        job.show(span.length - limit.value())
                    )
                } else if more > 1.5 {
                    format!("Add {more:.0} fixings between, about every {every}.")
                } else {
                    format!("Add a fixing about {every} after {}.", {
                        &job.branch(branch).lay[span.from].fixing.name
                    })
                }
            },
            || format!("{} between fixings.", job.show(span.length)),
        )
    });
    Outcome {
        findings: findings.collect(),
        blanks: Vec::new(),
    }
}
