//! In which ways a cluster may move: its breakouts shift and turn, length slides through its holes.

use nalgebra::{DVector, Isometry3, Translation3, UnitQuaternion, Vector3};

use super::cluster::{Cluster, Whole};
use super::response::Asks;
use super::strand::Strand;

/// No step is longer than this fraction of the scale, nor takes more than this fraction of what is left of a span.
const LONGEST: f64 = 0.3;

/// One way in which a cluster may move: a component of a block row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Way {
    pub(super) row: usize,
    pub(super) component: usize,
}

impl Cluster<'_> {
    /// Whether the fixing `fixing` of strand `i` rides on a breakout that floats.
    pub(super) fn floats_at(&self, i: usize, fixing: usize) -> bool {
        self.float_at(i, fixing).is_some()
    }

    fn float_at(&self, i: usize, fixing: usize) -> Option<usize> {
        let piece = &self.pieces[i];
        let on = piece.branch.lay[piece.first + fixing].fixing.on;
        self.floats.iter().position(|float| float.body == on)
    }

    /// The floating breakout at the start and at the end of strand `i`.
    pub(super) fn ends(&self, i: usize) -> [Option<usize>; 2] {
        [0, self.pieces[i].fixings - 1].map(|fixing| self.float_at(i, fixing))
    }

    /// The components of the block row of a breakout: places, then turns; one that is held in place only turns.
    pub(super) fn components(&self, float: usize) -> std::ops::Range<usize> {
        if self.floats[float].carrier.is_some() {
            3..6
        } else {
            0..6
        }
    }

    pub(super) fn sizes(&self) -> Vec<usize> {
        let floats = (0..self.floats.len()).map(|f| self.components(f).len());
        floats.chain(self.slides.iter().map(|_| 1)).collect()
    }

    /// The ways that strand `i` feels.
    pub(super) fn ways(&self, i: usize) -> Vec<Way> {
        let mut floats: Vec<usize> = self.ends(i).into_iter().flatten().collect();
        floats.dedup();
        let of_float = |row: usize| {
            self.components(row)
                .map(move |component| Way { row, component })
        };
        let of_slide = self
            .slides
            .iter()
            .enumerate()
            .filter(|(_, slide)| slide.at.iter().any(|at| at.0 == i))
            .map(|(s, _)| Way {
                row: self.floats.len() + s,
                component: 0,
            });
        floats
            .into_iter()
            .flat_map(of_float)
            .chain(of_slide)
            .collect()
    }

    /// Column of a way in its block.
    pub(super) fn column(&self, way: Way) -> (usize, usize) {
        let first = if way.row < self.floats.len() {
            self.components(way.row).start
        } else {
            0
        };
        (way.row, way.component - first)
    }

    /// What strand `i` asks in the direction of a way.
    pub(super) fn component(&self, i: usize, asks: &Asks, way: Way) -> f64 {
        if let Some(slide) = way
            .row
            .checked_sub(self.floats.len())
            .map(|s| &self.slides[s])
        {
            let own = slide.at.iter().filter(|at| at.0 == i);
            return own.map(|at| asks.pulls[at.1]).sum();
        }
        let ends = self.ends(i).into_iter().zip(&asks.holds);
        ends.filter(|(float, _)| *float == Some(way.row))
            .map(|(_, hold)| match way.component {
                c @ 0..3 => hold.force[c],
                c => hold.moment[c - 3] / self.scale,
            })
            .sum()
    }

    /// A breakout moved along a way by `by` \[m\].
    pub(super) fn moved(&self, frame: &Isometry3<f64>, way: Way, by: f64) -> Isometry3<f64> {
        let mut axis = Vector3::zeros();
        axis[way.component % 3] = by;
        if way.component < 3 {
            return Translation3::from(axis) * frame;
        }
        let centre = frame * self.floats[way.row].about;
        let turn = UnitQuaternion::from_scaled_axis(axis / self.scale);
        Isometry3::rotation_wrt_point(turn, centre) * frame
    }

    /// The fraction of a step that may be taken at once.
    pub(super) fn room(&self, strands: &[Strand], whole: &Whole, step: &[DVector<f64>]) -> f64 {
        let mut part = 1.0_f64;
        for (row, step) in step.iter().enumerate() {
            let length = step.norm();
            let mut most = LONGEST * self.scale;
            if let Some(slide) = row.checked_sub(self.floats.len()).map(|s| &self.slides[s]) {
                for &(i, fixing) in &slide.at {
                    let laid = strands[i].laid(&whole.strands[i].slid);
                    let spans = laid.fixings.windows(2).enumerate();
                    for (span, ends) in spans {
                        if span == fixing || span + 1 == fixing {
                            most = most.min(LONGEST * (laid.at[ends[1]] - laid.at[ends[0]]));
                        }
                    }
                }
            }
            if length > most {
                part = part.min(most / length);
            }
        }
        part
    }

    /// Takes a part of a step.
    pub(super) fn step(&self, whole: &mut Whole, step: &[DVector<f64>], part: f64) {
        for (row, step) in step.iter().enumerate() {
            if row < self.floats.len() {
                let components = self.components(row);
                let mut turn = Vector3::zeros();
                let mut shift = Vector3::zeros();
                for (component, by) in components.zip(step.iter()) {
                    if component < 3 {
                        shift[component] = part * by;
                    } else {
                        turn[component - 3] = part * by / self.scale;
                    }
                }
                let frame = &mut whole.floats[row];
                let centre = *frame * self.floats[row].about;
                let turn = UnitQuaternion::from_scaled_axis(turn);
                *frame = Translation3::from(shift)
                    * Isometry3::rotation_wrt_point(turn, centre)
                    * *frame;
            } else {
                whole.slid[row - self.floats.len()] += part * step[0];
            }
        }
        self.share_length(whole);
    }
}
