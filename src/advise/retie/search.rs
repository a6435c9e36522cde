//! In which order things are tried: one fixing at a time, those that the straight ways allow first; the nearest of them a
//! few millimetres on; then two fixings.

use rayon::prelude::*;

use crate::advise::margin::excess;
use crate::route::Step;

use super::confirm::{different, in_words, key};
use super::drawn::{Drawn, length_added};
use super::moves::{Deed, Touch};
use super::obstacles::{Obstacle, out_of_the_way};
use super::places::Room;
use super::problem::{Problem, Reached, said};

/// Tried at a time: enough to keep the cores busy, few enough to stop soon.
const TOGETHER: usize = 8;
/// Single changes that cannot hold alone and are tried for what they may do together with another.
const PARTIAL: usize = 48;
/// Share of the tries that single changes may take.
const SINGLES: f64 = 0.45;
/// Share of the tries after which pairs are left off.
const PAIRS: f64 = 0.9;
/// Ways that came nearest and are bettered.
const BETTERED: usize = 6;
/// Single changes that others are joined to, and how many pairs are solved.
const JOINED: (usize, usize) = (10, 160);
/// Ways that are given on, so that some may fall through when they are checked again.
const GIVEN: usize = 6;

impl Problem<'_> {
    /// Tries ways to mend it, until enough of them hold. What was `done` before, when no length might be added, is not
    /// tried again but built upon.
    pub(super) fn try_ways(&self, obstacles: &[Obstacle], done: &mut Vec<Reached>) {
        let room = self.room();
        let mut given = self.given();
        given.extend(out_of_the_way(obstacles));
        let anew = done.is_empty();
        self.say("trying one fixing at a time");
        let mut singles: Vec<Drawn> = self
            .singles(&room)
            .into_par_iter()
            .flat_map_iter(|touch| self.drawn(&room, &joined(&given, touch)))
            .collect();
        singles.extend(
            self.drawn(&room, &given)
                .into_iter()
                .filter(|one| !one.touches.is_empty()),
        );
        singles.retain(|one| anew || length_added(&one.touches) > 0.0);
        singles.sort_by(by_promise);
        let hold = singles.iter().take_while(|one| one.short <= 1e-9).count();
        let (first, rest) = singles.split_at(hold);
        self.try_all(first.iter().map(|one| one.touches.clone()), done, SINGLES);
        self.better(done);
        self.try_others(done);
        if holding(done).len() >= self.options.proposals.max(1) {
            return;
        }
        // Where one change is enough, two that are too are worth as many tries again and no more.
        let share = if holding(done).is_empty() {
            PAIRS
        } else {
            (2.0 * self.watch.used()).min(PAIRS)
        };
        self.say("trying two fixings together");
        let partial = rest.iter().take(PARTIAL).map(|one| one.touches.clone());
        self.try_all(partial, done, share.min(SINGLES));
        let pairs = self.pairs(&room, done, &singles, &given);
        self.try_all(pairs.into_iter(), done, share);
        self.better(done);
        self.try_others(done);
    }

    fn say(&self, what: &str) {
        (self.watch.hooks.say)(what);
    }

    /// What must be done in any case: straps that squeeze too hard become something else.
    fn given(&self) -> Vec<Touch> {
        let exchanges = self.exchanges().into_iter();
        exchanges
            .filter_map(|(name, ways)| {
                Some(Touch {
                    exchange: Some(*ways.first()?),
                    ..Touch::new(&name, Deed::Stay)
                })
            })
            .collect()
    }

    /// Tries candidates until enough hold, or this share of the tries is used.
    fn try_all(
        &self,
        candidates: impl Iterator<Item = Vec<Touch>>,
        done: &mut Vec<Reached>,
        share: f64,
    ) {
        let all: Vec<Vec<Touch>> = candidates.collect();
        for some in all.chunks(TOGETHER) {
            let late = self.watch.used() > share || self.watch.is_late();
            if self.watch.is_over() || late || self.enough(done) {
                return;
            }
            let new: Vec<Reached> = some
                .par_iter()
                .filter_map(|touches| self.reached(touches.clone()))
                .collect();
            done.extend(new);
            if !holding(done).is_empty() {
                self.watch.first.get_or_init(|| self.watch.used());
            }
            self.say(&format!(
                "{} tried, {} hold so far",
                self.watch.count(),
                holding(done).len()
            ));
        }
    }

    /// Whether as many ways as are asked for, and one to spare, hold and differ.
    fn enough(&self, done: &[Reached]) -> bool {
        holding(done).len() > self.options.proposals
    }

    /// Of what holds, the same with a strap exchanged for something else.
    fn try_others(&self, done: &mut Vec<Reached>) {
        let exchanges = self.exchanges();
        let mut others = Vec::new();
        for reached in holding(done).into_iter().take(2) {
            for (name, ways) in &exchanges {
                for way in &ways[1..] {
                    let mut touches = reached.touches.clone();
                    let own = touches.iter_mut().find(|touch| touch.fixing == *name);
                    if let Some(own) = own.filter(|own| own.exchange.is_some()) {
                        own.exchange = Some(*way);
                        others.push(touches);
                    }
                }
            }
        }
        self.try_all(others.into_iter(), done, 1.0);
    }

    /// Betters those that came nearest, each kind once, where none is sure yet.
    fn better(&self, done: &mut Vec<Reached>) {
        if self.enough(done) || holding(done).iter().any(|r| r.sure) {
            return;
        }
        let mut near: Vec<Reached> = done.iter().filter(|r| !r.sure).cloned().collect();
        near.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        different(&mut near, |r| key(&r.steps));
        near.truncate(BETTERED);
        self.say("going on from what came nearest");
        let more: Vec<Reached> = near.par_iter().map(|near| self.refined(near)).collect();
        done.extend(more);
    }

    /// Two changes of different fixings: what came nearest with every other that the straight ways allow beside it.
    fn pairs(
        &self,
        room: &Room<'_>,
        done: &[Reached],
        singles: &[Drawn],
        given: &[Touch],
    ) -> Vec<Vec<Touch>> {
        let mut near: Vec<&Reached> = done.iter().filter(|r| !r.holds()).collect();
        near.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        near.truncate(JOINED.0);
        // Of each single change how it did, where it was tried.
        let mut all: Vec<(f64, Vec<Touch>)> = near
            .par_iter()
            .flat_map_iter(|one| {
                // What only drew length in for it is worked out anew for both.
                let own: Vec<Touch> = one
                    .touches
                    .iter()
                    .filter(|t| !t.only_draws())
                    .cloned()
                    .collect();
                singles.iter().flat_map(move |other| {
                    let Some(more) = other.touches.iter().find(|touch| !given.contains(touch))
                    else {
                        return Vec::new();
                    };
                    if own.iter().any(|touch| touch.fixing == more.fixing) {
                        return Vec::new();
                    }
                    let alone = done.iter().filter(|r| {
                        r.touches
                            .iter()
                            .any(|t| t.fixing == more.fixing && t.deed == more.deed)
                    });
                    let alone = alone.map(|r| r.cost).fold(f64::INFINITY, f64::min);
                    let expected = one.cost + if alone.is_finite() { alone } else { 2.0 };
                    let drawn = self.drawn(room, &joined(&own, more.clone()));
                    drawn
                        .into_iter()
                        .filter(|pair| pair.short <= 1e-9)
                        .map(|pair| (expected + 4.0 * pair.crowded, pair.touches))
                        .collect()
                })
            })
            .collect();
        all.sort_by(|a, b| a.0.total_cmp(&b.0).then(size(&a.1).total_cmp(&size(&b.1))));
        let mut pairs: Vec<Vec<Touch>> = Vec::new();
        for (_, touches) in all {
            if pairs.len() < JOINED.1 && !pairs.contains(&touches) {
                pairs.push(touches);
            }
        }
        pairs
    }

    /// The ways to mend it, the best first; and where there is none what came nearest, and by how much it fails.
    pub(super) fn told(&self, done: Vec<Reached>) -> (Vec<Vec<Step>>, Vec<(String, f64)>) {
        let mut ways: Vec<Vec<Step>> = holding(&done)
            .into_iter()
            .take(GIVEN)
            .map(|reached| reached.steps.clone())
            .collect();
        if ways.is_empty() {
            // What holds by a hair may hold with narrow steps too.
            let hair = done
                .iter()
                .filter(|r| r.worst <= 0.0 && !r.steps.is_empty());
            ways.extend(hair.take(GIVEN).map(|reached| reached.steps.clone()));
        }
        let mut near: Vec<Reached> = done
            .into_iter()
            .filter(|r| !r.holds() && !r.steps.is_empty())
            .collect();
        near.sort_by(|a, b| a.worst.total_cmp(&b.worst));
        different(&mut near, |r| key(&r.steps));
        let mut nearest: Vec<(String, f64)> = near
            .iter()
            .filter(|r| r.worst.is_finite())
            .take(3)
            .map(|r| {
                let words = r.steps.iter().map(|step| in_words(&self.own, step));
                let words: Vec<String> = words.collect();
                (format!("{}: {}", words.join("; "), r.what), r.worst)
            })
            .collect();
        if ways.is_empty() && nearest.is_empty() {
            // Nothing may be moved, or nothing was found: then as it is.
            let found = self.own.findings.findings.iter();
            if let Some(worst) = found.max_by(|a, b| excess(a).total_cmp(&excess(b))) {
                let words = format!("as it is: {}", said(worst, self.options.check.units));
                nearest.push((words, excess(worst)));
            }
        }
        (ways, nearest)
    }
}

/// What holds, one of each kind, fewest changes first, then most room.
fn holding(done: &[Reached]) -> Vec<&Reached> {
    let mut all: Vec<&Reached> = done
        .iter()
        .filter(|r| r.holds() && !r.steps.is_empty())
        .collect();
    all.sort_by(|a, b| {
        key(&a.steps)
            .len()
            .cmp(&key(&b.steps).len())
            .then(b.sure.cmp(&a.sure))
            .then(a.cost.total_cmp(&b.cost))
            .then(a.worst.total_cmp(&b.worst))
    });
    different(&mut all, |r| key(&r.steps));
    all
}

/// What the straight ways and the room along the smooth path promise most of comes first; of what promises alike, each kind
/// of thing to each fixing before the same farther.
fn by_promise(a: &Drawn, b: &Drawn) -> std::cmp::Ordering {
    let coarse = |crowded: f64| (crowded * 8.0).round();
    a.short
        .total_cmp(&b.short)
        .then(coarse(a.crowded).total_cmp(&coarse(b.crowded)))
        .then(size(&a.touches).total_cmp(&size(&b.touches)))
}

/// Some touches and one more, of the same fixing or another.
fn joined(given: &[Touch], more: Touch) -> Vec<Touch> {
    let mut all = given.to_vec();
    match all.iter_mut().find(|touch| touch.fixing == more.fixing) {
        Some(own) if more.deed == Deed::Remove => *own = more,
        Some(own) => {
            let exchange = more.exchange.or(own.exchange);
            *own = Touch { exchange, ..more };
        }
        None => all.push(more),
    }
    all
}

/// How far it all goes \[m\]: what is small is tried first.
fn size(touches: &[Touch]) -> f64 {
    touches
        .iter()
        .map(|touch| match &touch.deed {
            Deed::Stay => 0.0,
            Deed::Shift { by, .. } => by.norm(),
            // The same for all.
            Deed::Move(_) => 0.0,
            Deed::Remove => 0.05,
            Deed::Add(_) => 0.06,
        })
        .sum()
}
