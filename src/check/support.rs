//! Support: the length along the branch between neighbouring fixings.

use crate::quantity::Kind;

use super::LimitKey;
use super::between::runs;
use super::job::{Job, Measured, Outcome};

const CHECK: &str = "support";

pub(super) fn support(job: &Job<'_>) -> Outcome {
    let limit = job.limit(LimitKey::SupportDistance);
    let runs = runs(job.route, job.solution, job.branches, true);
    let findings = runs.iter().map(|run| {
        let words = run.words(job.route);
        let (branch, index) = run.last();
        let span = &job.solved(branch).spans[index];
        let whole = if run.spans.len() == 1 {
            "whole span"
        } else {
            "the whole way"
        };
        Measured {
            check: CHECK,
            subject: words.clone(),
            branch,
            place: format!("{words}, {whole}"),
            at: 0.5 * (span.start + span.end()),
            pose: job.rest(),
            value: run.length,
            limit: limit.value(),
            kind: Kind::Length,
            at_most: true,
            from: limit,
        }
        .judged(
            || {
                let more = (run.length / limit.value() - 1e-9).ceil() - 1.0;
                let each = run.length / (more + 1.0);
                let every = job.show(each);
                if run.moving {
                    format!(
                        "Move {} closer together: a span that moves cannot take a fixing between. {} is too \
                         much.",
                        words.replace('–', " and "),
                        job.show(run.length - limit.value())
                    )
                } else if more > 1.5 {
                    format!("Add {more:.0} fixings between, about every {every}.")
                } else {
                    format!("Add a fixing about {every} after {}.", {
                        &job.branch(branch).lay[span.from].fixing.name
                    })
                }
            },
            || format!("{} between fixings.", job.show(run.length)),
        )
    });
    Outcome {
        findings: findings.collect(),
        blanks: Vec::new(),
    }
}
