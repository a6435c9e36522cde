//! Every pose once more, each from a state that is close to it; once only where several are alike.

use rayon::prelude::*;

use crate::machine::{PartId, Stance, Sweep};

use super::cluster::{Cluster, Whole};
use super::follow::Unfollowed;
use super::held::Target;
use super::newton::Scratch;
use super::patience::Patience;
use super::strand::{State, Strand};
use super::walk::Reached;

/// How often everything is tried for a pose that is not found.
pub(super) const TRIES: u32 = 2;

/// Where the pose before took so many steps, the next one is begun as that one was displaced: what made it hard is most often
/// there too.
const HARD: usize = 4;

/// States that differ by less everywhere are alike \[m\].
const ALIKE: f64 = 1e-7;

/// From where a pose was begun to what was found there.
struct Way<'w> {
    from: &'w Whole,
    to: &'w Reached,
}

impl Whole {
    /// Whether every node is where it is in `other`.
    fn is_like(&self, other: &Self) -> bool {
        let strands = self.strands.iter().zip(&other.strands);
        strands.into_iter().all(|(a, b)| {
            let nodes = a.nodes.iter().zip(&b.nodes);
            a.nodes.len() == b.nodes.len()
                && nodes.into_iter().all(|(a, b)| (a.r - b.r).norm() < ALIKE)
        })
    }
}

impl Cluster<'_> {
    /// Every pose again from a state close to it. What was tried often enough and not found is looked for straight on alone.
    pub(super) fn again(
        &mut self,
        strands: &mut [Strand],
        sweep: &Sweep,
        mut seeds: Vec<Whole>,
        tried: &[u32],
        scratch: &mut Scratch,
    ) -> Vec<Reached> {
        let rest = self.rest_again(strands, seeds[sweep.rest].clone(), sweep, scratch);
        if self.near_only && !self.stands_alone() && !rest.converged {
            // Where rest is not known, neither is what untwisted means.
            return vec![rest; seeds.len()];
        }
        let like = self.alike(&seeds, sweep);
        if self.near_only {
            self.displace_like_rest(&mut seeds, &rest, sweep);
        }
        let one = |pose: usize, seed: &Whole, found: &[Way<'_>], scratch: &mut Scratch| {
            let joints = &sweep.poses[pose].joints;
            let as_before = |way: &Way<'_>, scratch: &mut Scratch| {
                let guess = seed.displaced_like(way.from, &way.to.whole);
                let reached = self.relax_straight(strands, guess, joints, scratch);
                Some(reached).filter(|reached| reached.converged)
            };
            // Near by, one pose that is not found already tells that there is nothing to be told.
            let lost = self.near_only && found.iter().any(|way| !way.to.converged);
            let before = found.last().filter(|_| self.near_only && !lost);
            let (hard, easy) = (
                before.filter(|way| way.to.steps >= HARD),
                before.filter(|way| way.to.steps < HARD),
            );
            if let Some(reached) = hard.and_then(|way| as_before(way, scratch)) {
                return reached;
            }
            let followed = match self.tangents.get(pose) {
                Some(tangent) => self.follow(strands, seed, joints, tangent, scratch),
                None => Err(Unfollowed::from(seed.clone())),
            };
            followed.unwrap_or_else(|Unfollowed { from, straight }| {
                if lost || tried[pose] >= TRIES {
                    return self.relax_straight(strands, from, joints, scratch);
                }
                easy.filter(|_| !straight)
                    .and_then(|way| as_before(way, scratch))
                    .unwrap_or_else(|| self.relax(strands, from, joints, straight, scratch))
            })
        };
        let others: Vec<(usize, Whole)> = (0..seeds.len())
            .zip(seeds)
            .filter(|(pose, _)| like[*pose] == *pose && *pose != sweep.rest)
            .collect();
        let firsts: Vec<(usize, Reached)> = if strands.len() == 1 {
            // A single strand is done before it could be handed to another core.
            let mut firsts: Vec<(usize, Reached)> = Vec::new();
            for (pose, seed) in &others {
                let ways = others.iter().zip(&firsts);
                let found: Vec<Way<'_>> =
                    ways.map(|((_, from), (_, to))| Way { from, to }).collect();
                let reached = one(*pose, seed, &found, scratch);
                firsts.push((*pose, reached));
            }
            firsts
        } else {
            let given = scratch.patience.shared(others.len());
            let (firsts, left): (Vec<_>, Vec<Patience>) = others
                .into_par_iter()
                .map_init(Scratch::default, |scratch, (pose, seed)| {
                    scratch.patience = given;
                    let reached = one(pose, &seed, &[], scratch);
                    ((pose, reached), scratch.patience)
                })
                .unzip();
            for left in left {
                scratch.patience.less(given, left);
            }
            firsts
        };
        let same = |first: usize, pose: usize, whole: &Whole| {
            let poses = [first, pose];
            let stances = poses.map(|pose| self.stance(&sweep.poses[pose].joints, whole));
            strands.iter().enumerate().all(|(i, strand)| {
                let here = (i, strand, &whole.strands[i]);
                self.amid_the_same(here, poses, [&stances[0], &stances[1]])
            })
        };
        let mut reached: Vec<Option<Reached>> = vec![None; like.len()];
        reached[sweep.rest] = Some(rest.clone());
        for (pose, state) in firsts {
            reached[pose] = Some(state);
        }
        let all = like.iter().enumerate().map(|(pose, &first)| {
            let first_of = reached[first].clone().unwrap_or_else(|| rest.clone());
            if pose == first || !first_of.converged {
                return first_of;
            }
            if same(first, pose, &first_of.whole) {
                return Reached {
                    steps: 0,
                    ..first_of
                };
            }
            one(pose, &first_of.whole, &[], scratch)
        });
        all.collect()
    }

    /// For each pose the first one in which the strands were as they are here, and are held as here.
    fn alike(&self, seeds: &[Whole], sweep: &Sweep) -> Vec<usize> {
        let mut firsts: Vec<(usize, Vec<Target>)> = Vec::new();
        let mut like = Vec::new();
        // Rest comes first, being the only one that is proved.
        let order =
            std::iter::once(sweep.rest).chain((0..seeds.len()).filter(|&p| p != sweep.rest));
        for pose in order {
            let stance = self.stance(&sweep.poses[pose].joints, &seeds[pose]);
            let targets = self.targets(&stance);
            let found = firsts.iter().find(|(first, held)| {
                let same = held.iter().zip(&targets).all(|(a, b)| a.is_like(b));
                same && seeds[*first].is_like(&seeds[pose])
            });
            like.push((pose, found.map_or(pose, |found| found.0)));
            if found.is_none() {
                firsts.push((pose, targets));
            }
        }
        like.sort_unstable();
        like.into_iter().map(|(_, first)| first).collect()
    }

    /// Whether strand `i` in a state has the same parts near it in two poses, each in the same place; not where that is not
    /// known.
    pub(super) fn amid_the_same(
        &self,
        (i, strand, state): (usize, &Strand, &State),
        poses: [usize; 2],
        stances: [&Stance; 2],
    ) -> bool {
        let [Some(one), Some(other)] = poses.map(|pose| self.tangents.get(pose)) else {
            return false;
        };
        let stays = |part: &PartId| {
            let on = self.route.machine.parts[part.0].on.0;
            stances[0].bodies[on] == stances[1].bodies[on]
        };
        let (near, like) = (|| one.near(i), other.near(i));
        near().eq(like)
            && near().all(|part| stays(&part))
            && [one, other]
                .iter()
                .all(|known| known.lists(i, strand, state, self.shifted).is_some())
    }
}
