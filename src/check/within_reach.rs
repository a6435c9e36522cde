//! What the slack of a span can be pulled to, and whether that touches a part.
//!
//! Two bounds hold at once. No place can be drawn further than a thread of the span's length lets it
//! ([`Reach`]). And where the fixings hold the branch so that it must bend, the bends need length that cannot be drawn out:
//! only what is over the length of the smooth path between the two fixings, in their directions, is loose, and draws
//! the branch from where it lies no further than it would draw a straight span aside.

use crate::geometry::{Reach, Waypoint, smooth_path};
use crate::harness::BranchId;
use crate::machine::{PartId, Stance};
use crate::route::Span;

use super::job::{Job, stations_of};

/// Rounds of alternating projection between two convex bodies; it is done in far fewer where they are apart.
const ROUNDS: usize = 40;
/// A round that gains less than this \[m\] is the last.
const SETTLED: f64 = 1e-6;
/// Places on the straight way from which the search begins, since parts need not be convex.
const STARTS: [f64; 3] = [0.5, 0.15, 0.85];

/// Where the slack of a span lets its centreline be in one pose.
pub(super) fn reach(job: &Job<'_>, branch: BranchId, span: &Span, pose: usize) -> Reach {
    let length = job.solved(branch).shapes[pose].spans[span.from].length;
    between(job, branch, (span.from, span.from + 1), length, pose)
}

/// The same between any two fixings of a branch, for a length between them \[m\].
pub(super) fn between(
    job: &Job<'_>,
    branch: BranchId,
    (from, to): (usize, usize),
    length: f64,
    pose: usize,
) -> Reach {
    let (bundle, stance) = (job.branch(branch), &job.solution.stances[pose]);
    Reach {
        from: job.route.fixing_position(bundle, from, stance),
        to: job.route.fixing_position(bundle, to, stance),
        length,
    }
}

/// What is loose of a span in one pose, and where it can be.
#[derive(Debug, Clone, Copy)]
pub(super) struct Loose {
    pub(super) room: Reach,
    /// Slack that the bends of the span need \[m\].
    pub(super) bends: f64,
    /// How far what is loose lets the branch be drawn from where it lies \[m\].
    pub(super) aside: f64,
}

/// What is loose of a span in one pose.
pub(super) fn loose(job: &Job<'_>, branch: BranchId, span: &Span, pose: usize) -> Loose {
    let (bundle, stance) = (job.branch(branch), &job.solution.stances[pose]);
    let room = reach(job, branch, span, pose);
    let ends = [(span.from, room.from), (span.from + 1, room.to)].map(|(lay, position)| Waypoint {
        position,
        direction: job.route.fixing_facing(bundle, lay, stance),
    });
    let straight = room.straight();
    let bends = (smooth_path(&ends).length() - straight).max(0.0);
    let length = room.length - bends;
    let aside = Reach { length, ..room }.aside();
    Loose { room, bends, aside }
}

impl Loose {
    /// Whether it lets the branch's surface touch a part, from where the branch lies in that pose.
    pub(super) fn touches(
        &self,
        job: &Job<'_>,
        branch: BranchId,
        span: &Span,
        pose: usize,
        part: PartId,
    ) -> bool {
        let stance = &job.solution.stances[pose];
        let radius = 0.5 * job.branch(branch).diameter;
        self.must_be_drawn(job, branch, span, pose, part) <= self.aside
            && can_touch(job, stance, &self.room, part, radius)
    }

    /// How far the middle of the span would have to be drawn from where it lies until some place of it touches a part
    /// \[m\]; infinite where no slack of the span leads there. Toward its fixings a span can be drawn less far, as
    /// the ellipse of a straight one has it.
    pub(super) fn must_be_drawn(
        &self,
        job: &Job<'_>,
        branch: BranchId,
        span: &Span,
        pose: usize,
        part: PartId,
    ) -> f64 {
        let stance = &job.solution.stances[pose];
        let radius = 0.5 * job.branch(branch).diameter;
        let from_middle = job.surroundings.distance(stance, part, &self.room.middle());
        if from_middle > self.room.farthest() + radius {
            return f64::INFINITY;
        }
        let shape = &job.solved(branch).shapes[pose];
        stations_of(shape, span)
            .iter()
            .map(|s| {
                let from_middle = 2.0 * (s.at - span.start) / span.length - 1.0;
                let share = (1.0 - from_middle * from_middle).max(0.0).sqrt();
                let gap = job.surroundings.distance(stance, part, &s.position) - radius;
                gap.max(0.0) / share.max(1e-9)
            })
            .fold(f64::INFINITY, f64::min)
    }
}

/// Whether slack lets a branch's surface touch a part.
pub(super) fn can_touch(
    job: &Job<'_>,
    stance: &Stance,
    reach: &Reach,
    part: PartId,
    radius: f64,
) -> bool {
    let distance = |p| job.surroundings.distance(stance, part, p);
    if distance(&reach.middle()) > reach.farthest() + radius {
        return false;
    }
    STARTS.iter().any(|share| {
        let mut p = reach.from + (reach.to - reach.from) * *share;
        let mut last = f64::INFINITY;
        for _ in 0..ROUNDS {
            let contact = job.surroundings.slope(stance, part, &p);
            if contact.distance <= radius {
                return true;
            }
            if contact.distance > last - SETTLED {
                return false;
            }
            last = contact.distance;
            // To the part, and from there back to the nearest place within reach.
            p = reach.nearest(&(p - contact.normal.into_inner() * contact.distance));
        }
        false
    })
}

/// The greatest slack with which a branch cannot yet touch a part, over the same two fixings \[m\]; no less than
/// `least` and no more than `most`, of which the branch can touch the part with the latter.
pub(super) fn slack_to_touch(
    job: &Job<'_>,
    stance: &Stance,
    reach: &Reach,
    part: PartId,
    radius: f64,
    (least, most): (f64, f64),
) -> f64 {
    // To a hundredth of a millimetre from a metre.
    const HALVINGS: u32 = 17;
    let straight = reach.straight();
    let (mut clear, mut touches) = (least, most);
    for _ in 0..HALVINGS {
        let slack = 0.5 * (clear + touches);
        let length = straight + slack;
        if can_touch(job, stance, &Reach { length, ..*reach }, part, radius) {
            touches = slack;
        } else {
            clear = slack;
        }
    }
    clear
}
