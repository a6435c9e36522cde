//! Heat distance: the least gap to every hot part over all poses, against a keep-away distance that depends on
//! the part's surface temperature.

use crate::quantity::Kind;

use super::job::{Job, Measured, Outcome};
use super::{Blank, LimitKey};

const CHECK: &str = "heat distance";

/// A hot part further away than so many keep-away distances is not worth a line, unless it is the nearest.
const WORTH_A_LINE: f64 = 3.0;

pub(super) fn heat_distance(job: &Job<'_>) -> Outcome {
    let mut outcome = Outcome::default();
    let limit = job.limit(LimitKey::HotDistance);
    for &branch in job.branches {
        let hot: Vec<_> = job.nearest[branch.0]
            .iter()
            .filter_map(|gap| {
                let part = &job.route.machine.parts[gap.part.0];
                part.surface.map(|surface| (gap, part, surface))
            })
            .collect();
        let nearest = hot
            .iter()
            .map(|(gap, ..)| gap.gap)
            .fold(f64::INFINITY, f64::min);
        for (gap, part, surface) in hot {
            let keep_away = limit.distance(surface);
            if gap.gap > WORTH_A_LINE * keep_away && gap.gap > nearest {
                continue;
            }
            // Coarser than what is asked for, a cloud cannot say that nothing is nearer.
            let cloud = part.shape.cloud();
            if let Some((spacing, allowance)) = cloud
                && spacing > keep_away
                && gap.gap + allowance >= keep_away
            {
                outcome.blanks.push(Blank {
                    check: CHECK,
                    branch,
                    why: format!(
                        "the points of {} are {} apart, wider than the {} to keep from it: scan it more finely, or give \
                         it as a simple shape",
                        part.name,
                        job.show(spacing),
                        job.show(keep_away)
                    ),
                });
                continue;
            }
            let doubt = cloud.map_or_else(String::new, |(_, allowance)| {
                format!(
                    " {} is known by its points alone: {} are taken off for what lies between them, and where the scan \
                     has a hole look by hand.",
                    part.name,
                    job.show_up(allowance)
                )
            });
            outcome.findings.push(
                Measured {
                    check: CHECK,
                    subject: part.name.clone(),
                    branch,
                    place: format!("{}, beside {}", job.place_words(branch, gap.at), part.name),
                    at: gap.at,
                    pose: gap.pose,
                    value: gap.gap,
                    limit: keep_away,
                    kind: Kind::Length,
                    at_most: false,
                    from: limit,
                }
                .judged(
                    || {
                        let hot = job.units.show(surface, Kind::Temperature);
                        let missing = job.show_up(keep_away - gap.gap);
                        let touching = if gap.gap <= 0.0 {
                            "Touches"
                        } else {
                            "Too near"
                        };
                        format!(
                            "{touching} {} at {hot}: move the branch here at least {missing} away \
                             from it, or fit a heat shield and a sleeve rated for it.{doubt}",
                            part.name
                        )
                    },
                    || {
                        format!(
                            "{} from {} at {}.{doubt}",
                            job.show(gap.gap),
                            part.name,
                            job.units.show(surface, Kind::Temperature)
                        )
                    },
                ),
            );
        }
    }
    outcome
}
