//! In which order ways are tried: each looked at once, then mended and confirmed, those first that miss least.

use std::collections::VecDeque;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use crate::check::Finding;
use crate::route::Route;

use super::candidates::Candidate;
use super::fixings::{Clamp, smoothed};
use super::trial::{self, Trials, Tried};
use super::{Hooks, Options, Proposal, Rejected, Rerouted};

/// Ways that are mended at a time.
const TOGETHER: usize = 2;

/// A way that was looked at once.
#[derive(Debug)]
struct Looked {
    words: String,
    class: usize,
    clamps: Vec<Clamp>,
    found: Vec<Finding>,
}

/// Looks at every way once, then mends and confirms them, those first that miss least. Ways are looked at, and mended by so
/// many together, on all cores; what comes of it does not depend on how many there are.
pub(super) fn try_all(
    route: &Route,
    options: &Options,
    candidates: Vec<Candidate>,
    hooks: &Hooks<'_>,
    rerouted: &mut Rerouted,
) {
    let trials = Trials::new(route, options);
    let (mut looked, mut fallen) = look_at_all(&trials, candidates, hooks, rerouted);
    looked.sort_by(|a, b| trial::missing(&a.found).total_cmp(&trial::missing(&b.found)));
    let mut held: Vec<(usize, Vec<String>)> = Vec::new();
    let is_held = |held: &[(usize, Vec<String>)], class: usize, words: &str| {
        let same = same_way(words);
        held.iter().any(|own| own.0 == class || own.1 == same)
    };
    let mut left: VecDeque<Looked> = looked.into();
    while !left.is_empty() && rerouted.proposals.len() < options.most {
        if (hooks.stop)() {
            rerouted.stopped = true;
            for Looked {
                words,
                class,
                found,
                ..
            } in left
            {
                if let Some(why) = trials.first_why(&found) {
                    fallen.push((class, Rejected { way: words, why }));
                }
            }
            break;
        }
        // Of each way one, so that none is mended in vain because another of it holds.
        let mut some: Vec<Looked> = Vec::new();
        let mut later = VecDeque::new();
        for one in left {
            let same = same_way(&one.words);
            let twice = some
                .iter()
                .any(|own| own.class == one.class || same_way(&own.words) == same);
            if is_held(&held, one.class, &one.words) {
                continue;
            }
            if some.len() < TOGETHER && !twice {
                some.push(one);
            } else {
                later.push_back(one);
            }
        }
        left = later;
        (hooks.say)(&format!(
            "{} found; mending {}, {} ways left",
            rerouted.proposals.len(),
            some.iter()
                .map(|one| one.words.as_str())
                .collect::<Vec<_>>()
                .join("; "),
            left.len()
        ));
        let tried: Vec<(usize, String, Tried)> = some
            .into_par_iter()
            .map(|one| {
                let tried = trials.try_out(&one.words, one.clamps, one.found, hooks);
                (one.class, one.words, tried)
            })
            .collect();
        for (class, words, tried) in tried {
            match tried {
                Tried::Holds(proposal) if rerouted.proposals.len() < options.most => {
                    held.push((class, same_way(&words)));
                    rerouted.proposals.push(*proposal);
                }
                Tried::Holds(_) => {}
                Tried::Fails(why) => fallen.push((class, Rejected { way: words, why })),
            }
        }
    }
    // A class that came through with other clamps did not fall; of one that did, what was tried first is told.
    let mut told: Vec<(usize, Vec<String>)> = Vec::new();
    for (class, rejected) in fallen {
        if !is_held(&held, class, &rejected.way) && !is_held(&told, class, &rejected.way) {
            told.push((class, same_way(&rejected.way)));
            rerouted.rejected.push(rejected);
        }
    }
    rerouted
        .proposals
        .sort_by(|a, b| rank(b).total_cmp(&rank(a)));
}

/// Every way looked at once; and those that cannot hold a clamp.
fn look_at_all(
    trials: &Trials<'_>,
    candidates: Vec<Candidate>,
    hooks: &Hooks<'_>,
    rerouted: &mut Rerouted,
) -> (Vec<Looked>, Vec<(usize, Rejected)>) {
    let (count, begun) = (candidates.len(), AtomicUsize::new(0));
    let all: Vec<Option<Result<Looked, (usize, Rejected)>>> = candidates
        .into_par_iter()
        .map(|candidate| {
            if (hooks.stop)() {
                return None;
            }
            let nth = begun.fetch_add(1, Ordering::Relaxed) + 1;
            (hooks.say)(&format!(
                "looking at way {nth} of {count}: {}",
                candidate.words
            ));
            Some(look_at(trials, candidate))
        })
        .collect();
    let (mut looked, mut fallen) = (Vec::new(), Vec::new());
    for one in all {
        match one {
            None => rerouted.stopped = true,
            Some(Ok(one)) => looked.push(one),
            Some(Err(one)) => fallen.push(one),
        }
    }
    (looked, fallen)
}

/// A way looked at once, with its clamps turned as does best.
fn look_at(trials: &Trials<'_>, candidate: Candidate) -> Result<Looked, (usize, Rejected)> {
    let (route, options) = (trials.route, trials.options);
    let rest = route.machine.stance(&route.machine.rest());
    let branch = &route.branches[options.branch.0];
    let ends = [options.from, options.to].map(|lay| route.fixing_position(branch, lay, &rest));
    let Candidate {
        words,
        clamps,
        class,
    } = candidate;
    let clamps = match clamps {
        Ok(clamps) => clamps,
        Err(why) => return Err((class, Rejected { way: words, why })),
    };
    // The clamps beside the joint as the closed forms have them, or turned into the run like all others.
    let mut smooth = clamps.clone();
    smoothed(&mut smooth, ends);
    let mut eased = smooth.clone();
    for (i, clamp) in clamps.iter().enumerate() {
        let beside =
            clamp.length.is_some() || clamps.get(i + 1).is_some_and(|next| next.length.is_some());
        if beside {
            eased[i] = clamp.clone();
        }
    }
    // Or as the branch lies of itself where it is free to turn there.
    let free = trials.settled(&eased);
    let first = (trials.look(&smooth), smooth);
    let (found, clamps) = [Some(eased), free]
        .into_iter()
        .flatten()
        .map(|clamps| (trials.look(&clamps), clamps))
        .fold(first, |best, new| {
            if trial::missing(&new.0) < trial::missing(&best.0) {
                new
            } else {
                best
            }
        });
    Ok(Looked {
        words,
        class,
        clamps,
        found,
    })
}

/// What a way passes, in no order: two ways that pass the same on the same sides are one at the machine, however the grid
/// came by them.
fn same_way(words: &str) -> Vec<String> {
    let mut passed: Vec<String> = words.split(", ").map(str::to_owned).collect();
    passed.sort_unstable();
    passed.dedup();
    passed
}

/// What ranks a proposal: margin first, then length, fixings and heat; all as shares of a limit.
fn rank(proposal: &Proposal) -> f64 {
    let heat = proposal.heat.map_or(0.0, |share| 0.1 / share.max(0.1));
    proposal.margin.min(0.5) - 0.15 * proposal.length - 0.01 * trial::number(proposal.ties) - heat
}
