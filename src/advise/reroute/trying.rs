//! In which order ways are tried: each looked at once, then mended and confirmed, those first that miss least.

use crate::check::Finding;
use crate::route::Route;

use super::candidates::Candidate;
use super::fixings::{Clamp, smoothed};
use super::trial::{self, Trials, Tried};
use super::{Hooks, Options, Proposal, Rejected, Rerouted};

/// A way that was looked at once.
#[derive(Debug)]
struct Looked {
    words: String,
    class: usize,
    clamps: Vec<Clamp>,
    found: Vec<Finding>,
}

/// Looks at every way once, then mends and confirms them, those first that miss least.
pub(super) fn try_all(
    route: &Route,
    options: &Options,
    candidates: Vec<Candidate>,
    hooks: &Hooks<'_>,
    rerouted: &mut Rerouted,
) {
    let trials = Trials::new(route, options);
    let rest = route.machine.stance(&route.machine.rest());
    let branch = &route.branches[options.branch.0];
    let ends = [options.from, options.to].map(|lay| route.fixing_position(branch, lay, &rest));
    let count = candidates.len();
    let mut looked: Vec<Looked> = Vec::new();
    let mut fallen: Vec<(usize, Rejected)> = Vec::new();
    for (
        nth,
        Candidate {
            words,
            clamps,
            class,
            ..
        },
    ) in candidates.into_iter().enumerate()
    {
        if (hooks.stop)() {
            rerouted.stopped = true;
            break;
        }
        (hooks.say)(&format!("looking at way {} of {count}: {words}", nth + 1));
        match clamps {
            Err(why) => fallen.push((class, Rejected { way: words, why })),
            Ok(clamps) => {
                // The clamps beside the joint as the closed forms have them, or turned into the run like all others.
                let mut smooth = clamps.clone();
                smoothed(&mut smooth, ends);
                let mut eased = smooth.clone();
                for (i, clamp) in clamps.iter().enumerate() {
                    let beside = clamp.length.is_some()
                        || clamps.get(i + 1).is_some_and(|next| next.length.is_some());
                    if beside {
                        eased[i] = clamp.clone();
                    }
                }
                // Or as the branch lies of itself where it is free to turn there.
                let free = trials.settled(&eased);
                let looks = [Some(smooth), Some(eased), free].into_iter().flatten();
                let looks = looks.map(|clamps| (trials.look(&clamps), clamps));
                let best =
                    looks.min_by(|a, b| trial::missing(&a.0).total_cmp(&trial::missing(&b.0)));
                let Some((found, clamps)) = best else {
                    continue;
                };
                looked.push(Looked {
                    found,
                    words,
                    class,
                    clamps,
                });
            }
        }
    }
    looked.sort_by(|a, b| trial::missing(&a.found).total_cmp(&trial::missing(&b.found)));
    let mut held: Vec<usize> = Vec::new();
    for Looked {
        words,
        class,
        clamps,
        found,
    } in looked
    {
        // What reads alike at the machine is one way, however the grid came by it.
        let twice = rerouted.proposals.iter().any(|other| other.way == words);
        if held.contains(&class) || twice || rerouted.proposals.len() >= options.most {
            continue;
        }
        if (hooks.stop)() {
            rerouted.stopped = true;
            if let Some(why) = trials.first_why(&found) {
                fallen.push((class, Rejected { way: words, why }));
            }
            continue;
        }
        (hooks.say)(&format!(
            "{} found; mending: {words}",
            rerouted.proposals.len()
        ));
        match trials.try_out(&words, clamps, found, hooks) {
            Tried::Holds(proposal) => {
                held.push(class);
                rerouted.proposals.push(*proposal);
            }
            Tried::Fails(why) => fallen.push((class, Rejected { way: words, why })),
        }
    }
    // A class that came through with other clamps did not fall; of one that did, what was tried first is told.
    let mut told: Vec<usize> = Vec::new();
    for (class, rejected) in fallen {
        if !held.contains(&class) && !told.contains(&class) {
            told.push(class);
            rerouted.rejected.push(rejected);
        }
    }
    rerouted
        .proposals
        .sort_by(|a, b| rank(b).total_cmp(&rank(a)));
}

/// What ranks a proposal: margin first, then length, fixings and heat; all as shares of a limit.
fn rank(proposal: &Proposal) -> f64 {
    let heat = proposal.heat.map_or(0.0, |share| 0.1 / share.max(0.1));
    proposal.margin.min(0.5) - 0.15 * proposal.length - 0.01 * trial::number(proposal.ties) - heat
}
