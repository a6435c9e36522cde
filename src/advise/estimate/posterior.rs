//! What readings leave open: the most likely state, and samples of all states that agree with them.
//!
//! Expected values with their errors are readings too. The most likely state is the least-squares solution
//! (Levenberg–Marquardt, from several beginnings); its covariance is (I + JᵀJ)⁻¹ in units of the expected errors, J the
//! sensitivities of the readings over their errors. Samples are drawn from that normal distribution, widened, and weighted
//! by how probable the state really is (importance sampling), so that the bends of the model are counted.

use nalgebra::{Cholesky, SMatrix};

use super::Share;
use super::model::{Model, State, UNKNOWNS};
use super::readings::{Reading, Readings};

type Square = SMatrix<f64, UNKNOWNS, UNKNOWNS>;

/// Samples: enough for the 2.5 % ends to hold to about half a per cent of chance.
const SAMPLES: usize = 4096;
/// How much wider the samples are drawn than the linear covariance.
const WIDER: f64 = 1.2;
/// Step of a numerical derivative, in units of an unknown's error.
const STEP: f64 = 1e-4;
/// Most steps to the most likely state.
const STEPS: usize = 200;

/// All that is left open.
#[derive(Debug, Clone)]
pub(super) struct Posterior {
    /// The most likely state.
    pub(super) mode: State,
    /// Slack at the tightest angle with the new bars \[m\].
    pub(super) spare: Samples,
    /// Mean squared misfit of the readings with string, in units of their errors.
    pub(super) misfit: f64,
    /// Every reading, the one that takes most doubt away first.
    pub(super) shares: Vec<Share>,
}

/// Weighted samples of one value, rising.
#[derive(Debug, Clone, Default)]
pub(super) struct Samples {
    of: Vec<(f64, f64)>,
}

impl Samples {
    fn new(mut of: Vec<(f64, f64)>) -> Self {
        let sum: f64 = of.iter().map(|(_, weight)| weight).sum();
        of.iter_mut().for_each(|(_, weight)| *weight /= sum);
        of.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self { of }
    }

    pub(super) fn mean(&self) -> f64 {
        self.of.iter().map(|(value, weight)| value * weight).sum()
    }

    pub(super) fn sd(&self) -> f64 {
        let mean = self.mean();
        let squares = self
            .of
            .iter()
            .map(|(value, weight)| weight * (value - mean).powi(2));
        squares.sum::<f64>().sqrt()
    }

    pub(super) fn share_above(&self, bound: f64) -> f64 {
        let above = self.of.iter().filter(|(value, _)| *value >= bound);
        above.map(|(_, weight)| weight).sum::<f64>().clamp(0.0, 1.0)
    }

    pub(super) fn quantile(&self, share: f64) -> f64 {
        let mut sum = 0.0;
        for (value, weight) in &self.of {
            sum += weight;
            if sum >= share {
                return *value;
            }
        }
        self.of.last().map_or(0.0, |(value, _)| *value)
    }
}

pub(super) fn posterior(model: &Model, readings: &Readings, seed: u64) -> Posterior {
    let problem = Problem {
        model,
        made: readings.made().collect(),
    };
    let mode = problem.most_likely();
    let normal = problem.normal(&mode);
    let covariance = normal.try_inverse().unwrap_or_else(Square::identity);
    Posterior {
        mode,
        spare: problem.samples(&mode, &normal, &covariance, seed),
        misfit: problem.misfit(&mode) / problem.made.len().max(1) as f64,
        shares: problem.shares(&mode, &covariance, readings),
    }
}

struct Problem<'m> {
    model: &'m Model,
    made: Vec<(Reading, f64, f64)>,
}

impl Problem<'_> {
    /// Sum of the squared misfits of the readings with string.
    fn misfit(&self, state: &State) -> f64 {
        let off = |(reading, read, sd): &(Reading, f64, f64)| {
            let expected = self.model.expected(*reading, state).unwrap_or(*read);
            ((expected - read) / sd).powi(2)
        };
        self.made.iter().map(off).sum()
    }

    fn cost(&self, state: &State) -> f64 {
        state.norm_squared() + self.misfit(state)
    }

    /// Gradient of any value by the unknowns.
    fn gradient(&self, state: &State, value: impl Fn(&State) -> f64) -> State {
        State::from_fn(|i, _| {
            let (mut up, mut down) = (*state, *state);
            up[i] += STEP;
            down[i] -= STEP;
            (value(&up) - value(&down)) / (2.0 * STEP)
        })
    }

    fn sensitivity(&self, state: &State, reading: Reading) -> State {
        self.gradient(state, |s| self.model.expected(reading, s).unwrap_or(0.0))
    }

    fn normal(&self, state: &State) -> Square {
        let mut normal = Square::identity();
        for (reading, _, sd) in &self.made {
            let j = self.sensitivity(state, *reading) / *sd;
            normal += j * j.transpose();
        }
        normal
    }

    fn most_likely(&self) -> State {
        let begin = |shift: [f64; 2]| {
            let mut state = State::zeros();
            (state[0], state[2]) = (shift[0], shift[1]);
            self.descend(state)
        };
        let beginnings = [[0.0, 0.0], [1.5, 0.0], [-1.5, 0.0], [0.0, 1.5], [0.0, -1.5]];
        let found = beginnings.map(begin);
        let mut best = found[0];
        for state in found {
            if self.cost(&state) < self.cost(&best) - 1e-9 {
                best = state;
            }
        }
        best
    }

    fn descend(&self, from: State) -> State {
        let (mut state, mut cost, mut damping) = (from, self.cost(&from), 1e-3);
        for _ in 0..STEPS {
            let mut gradient = state;
            for (reading, read, sd) in &self.made {
                let off = self.model.expected(*reading, &state).unwrap_or(*read) - read;
                gradient += self.sensitivity(&state, *reading) * (off / (sd * sd));
            }
            let normal = self.normal(&state) + Square::identity() * damping;
            let Some(step) = normal.cholesky().map(|factor| factor.solve(&gradient)) else {
                break;
            };
            let next = state - step;
            let lower = self.cost(&next);
            if lower <= cost {
                let settled = step.norm() < 1e-9;
                (state, cost, damping) = (next, lower, 0.3 * damping);
                if settled {
                    break;
                }
            } else if damping > 1e9 {
                break;
            } else {
                damping *= 8.0;
            }
        }
        state
    }

    fn samples(&self, mode: &State, normal: &Square, covariance: &Square, seed: u64) -> Samples {
        let root = Cholesky::new(*covariance).map_or_else(Square::identity, |factor| factor.l());
        let mut random = Random(seed);
        let least = self.cost(mode);
        let drawn = (0..SAMPLES).map(|_| {
            let step = root * State::from_fn(|_, _| WIDER * random.normal());
            let state = mode + step;
            // Density wanted over density drawn, both up to a factor.
            let drawn = (step.transpose() * normal * step)[0] / (WIDER * WIDER);
            let weight = (-0.5 * (self.cost(&state) - least) + 0.5 * drawn)
                .min(30.0)
                .exp();
            (self.model.spare(&state), weight)
        });
        Samples::new(
            drawn
                .filter(|(value, weight)| value.is_finite() && weight.is_finite())
                .collect(),
        )
    }

    /// What repeating each reading once would take of the variance of the slack (first order).
    fn shares(&self, mode: &State, covariance: &Square, readings: &Readings) -> Vec<Share> {
        let of_spare = covariance * self.gradient(mode, |s| self.model.spare(s));
        let variance = self.gradient(mode, |s| self.model.spare(s)).dot(&of_spare);
        let reduced = |j: &State, error: f64| {
            let known = (j.transpose() * covariance * j)[0] + error * error;
            (of_spare.dot(j).powi(2) / known / variance.max(f64::MIN_POSITIVE)).clamp(0.0, 1.0)
        };
        let mut shares = Vec::new();
        for reading in [
            Reading::Spare(0),
            Reading::Spare(1),
            Reading::Spare(2),
            Reading::Length,
        ] {
            let made = self.made.iter().find(|(which, ..)| *which == reading);
            let expected = self.model.expected(reading, mode).unwrap_or(0.0);
            let sd = made.map_or_else(|| crate::harness::string_sd(expected), |(_, _, sd)| *sd);
            shares.push(Share {
                reading,
                read: made.map(|(_, read, _)| *read),
                sd,
                share: reduced(&self.sensitivity(mode, reading), sd),
            });
        }
        let unknowns = [
            (Reading::Rise, readings.rise.map(|change| change.by())),
            (
                Reading::Pullback,
                readings.pullback.map(|change| change.by()),
            ),
            (Reading::Width, readings.width.map(|change| change.by())),
            (Reading::Lock(0), readings.lock.map(|lock| lock[0])),
            (Reading::Lock(1), readings.lock.map(|lock| lock[1])),
            (Reading::Rake, readings.rake),
            (Reading::Out, readings.out),
        ];
        let same = |reading: Reading, read: Option<f64>| {
            let of_bars = matches!(reading, Reading::Rise | Reading::Pullback | Reading::Width);
            of_bars && read.is_none()
        };
        for (reading, read) in unknowns {
            if same(reading, read) {
                continue;
            }
            if let Some((at, error)) = self.model.unknown(reading) {
                let mut j = State::zeros();
                j[at] = 1.0;
                shares.push(Share {
                    reading,
                    read,
                    sd: self.model.error_of(at),
                    share: reduced(&j, error),
                });
            }
        }
        shares.sort_by(|a, b| b.share.total_cmp(&a.share));
        shares
    }
}

/// `SplitMix64` (Steele, Lea & Flood, OOPSLA 2014; constants from memory, only their mixing matters), and normal numbers
/// from it by the Box–Muller method.
struct Random(u64);

impl Random {
    /// Even between 0 and 1, neither of them.
    fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 12) as f64 / (1u64 << 52) as f64 + 1e-17
    }

    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.even().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}
