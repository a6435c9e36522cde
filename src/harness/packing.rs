//! Discs packed into the least circle: how the wires of a bundle lie in its section.
//!
//! A penalty method: the radius of the circle and the places of the discs are unknowns together, and R + ½μ Σ overlap²
//! is brought down with a rising μ by limited-memory BFGS (Nocedal & Wright, *Numerical Optimization*, 2nd ed., 2006,
//! algorithms 7.4 and 3.5 with the Armijo condition alone). From several starts drawn from a fixed sequence the
//! tightest is kept, and spread by the little that still overlaps. There is no proof that it is the least circle; the
//! tests hold it to the published optima for one to nineteen equal discs.

use std::collections::HashMap;
use std::sync::{LazyLock, Mutex, PoisonError};

/// Discs in a circle about the origin, none overlapping another.
#[derive(Debug, Clone, PartialEq)]
pub struct Packing {
    /// Centre of each disc, in the order in which the radii were given \[unit of the radii\].
    pub centres: Vec<[f64; 2]>,
    /// Radius of the circle about all of them \[unit of the radii\].
    pub radius: f64,
}

impl Packing {
    /// The same discs, of which the one that stands at `k` belongs to `order[k]`: a permutation.
    pub(super) fn put_back(self, order: &[usize]) -> Self {
        let mut centres = self.centres.clone();
        for (&i, &centre) in order.iter().zip(&self.centres) {
            centres[i] = centre;
        }
        Self { centres, ..self }
    }
}

/// Steps of the minimiser for each penalty.
const STEPS: usize = 60;
/// Penalties: each ten times stiffer, until what overlaps is far below what calipers read.
const PENALTIES: [f64; 5] = [3.0, 30.0, 300.0, 3e3, 3e4];
/// Pairs of steps that the minimiser remembers.
const MEMORY: usize = 6;
/// Work for all starts together, in discs squared: more starts for few discs, fewer for many.
const WORK: usize = 10_000;
/// Least and most starts.
const STARTS: (usize, usize) = (1, 40);

/// So many packings are remembered: a harness has a few dozen bundles, and its copies have the same.
const REMEMBERED: usize = 512;

/// Packings that were found before, by the bits of their radii, the largest first.
static FOUND: LazyLock<Mutex<HashMap<Vec<u64>, Packing>>> = LazyLock::new(Mutex::default);

/// Packs discs of these radii (each above zero). The same radii always give the same packing, in whatever order they are
/// given.
///
/// Cost: work grows with the number of discs for few and with its square for many; 60 discs take some 20 ms, asked for again
/// some microseconds.
pub fn pack(radii: &[f64]) -> Packing {
    match radii {
        [] => Packing {
            centres: Vec::new(),
            radius: 0.0,
        },
        [one] => Packing {
            centres: vec![[0.0, 0.0]],
            radius: *one,
        },
        [a, b] => Packing {
            centres: vec![[-b, 0.0], [*a, 0.0]],
            radius: a + b,
        },
        many => {
            let mut order: Vec<usize> = (0..many.len()).collect();
            order.sort_by(|&a, &b| many[b].total_cmp(&many[a]));
            let sorted: Vec<f64> = order.iter().map(|&i| many[i]).collect();
            let key: Vec<u64> = sorted.iter().map(|radius| radius.to_bits()).collect();
            // What is held is whole at any moment, also where somebody else stopped while holding it.
            let found = || FOUND.lock().unwrap_or_else(PoisonError::into_inner);
            let known = found().get(&key).cloned();
            let packing = known.unwrap_or_else(|| {
                let packing = pack_many(&sorted);
                let mut found = found();
                if found.len() >= REMEMBERED {
                    found.clear();
                }
                found.insert(key, packing.clone());
                packing
            });
            packing.put_back(&order)
        }
    }
}

/// Packs three discs or more, the largest first.
fn pack_many(radii: &[f64]) -> Packing {
    let count = radii.len();
    let squares: f64 = radii.iter().map(|r| r * r).sum();
    // In units of the root of the summed squares the circle is always a little larger than one.
    let scale = squares.sqrt();
    let unit: Vec<f64> = radii.iter().map(|r| r / scale).collect();
    let starts = (WORK / (count * count)).clamp(STARTS.0, STARTS.1);
    let mut chance = Chance(0x9E37_79B9_7F4A_7C15);
    let mut best: Option<(Vec<f64>, f64)> = None;
    for start in 0..starts {
        let mut x = if start == 0 {
            spiral(&unit)
        } else {
            scattered(count, &mut chance)
        };
        for penalty in PENALTIES {
            descend(&unit, penalty, &mut x);
        }
        let radius = made_valid(&unit, &mut x);
        if best
            .as_ref()
            .is_none_or(|(_, least)| radius < *least - 1e-9)
        {
            best = Some((x, radius));
        }
    }
    let (x, radius) = best.unwrap_or_default();
    Packing {
        centres: (0..count)
            .map(|i| [x[2 * i] * scale, x[2 * i + 1] * scale])
            .collect(),
        radius: radius * scale,
    }
}

/// A fixed sequence of numbers between 0 and 1 (xorshift64*; Vigna, ACM TOMS 42(4), 2016, art. 30).
#[derive(Debug)]
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let bits = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 40;
        // 24 bits fit exactly.
        f64::from(u32::try_from(bits).unwrap_or(0)) / f64::from(1_u32 << 24)
    }
}

/// As they are given, the largest first, from the middle outward, turned by the golden angle each.
fn spiral(unit: &[f64]) -> Vec<f64> {
    let mut x = vec![0.0; 2 * unit.len() + 1];
    let golden = std::f64::consts::PI * (3.0 - 5.0_f64.sqrt());
    let (mut inside, mut angle) = (0.0, 0.0_f64);
    for (index, radius) in unit.iter().enumerate() {
        let share = radius * radius;
        let out = (inside + 0.5 * share).sqrt();
        (x[2 * index], x[2 * index + 1]) = (out * angle.cos(), out * angle.sin());
        inside += share;
        angle += golden;
    }
    x[2 * unit.len()] = 1.2;
    x
}

fn scattered(count: usize, chance: &mut Chance) -> Vec<f64> {
    let mut x = vec![0.0; 2 * count + 1];
    for disc in 0..count {
        let (out, angle) = (chance.next().sqrt(), std::f64::consts::TAU * chance.next());
        (x[2 * disc], x[2 * disc + 1]) = (out * angle.cos(), out * angle.sin());
    }
    x[2 * count] = 1.2;
    x
}

/// R + ½μ Σ overlap², and its gradient. The last unknown is R.
fn energy(unit: &[f64], penalty: f64, x: &[f64], gradient: &mut [f64]) -> f64 {
    let count = unit.len();
    let around = x[2 * count];
    gradient.fill(0.0);
    gradient[2 * count] = 1.0;
    let mut overlaps = 0.0;
    for i in 0..count {
        let (a, b) = (x[2 * i], x[2 * i + 1]);
        let out = (a * a + b * b).sqrt();
        let beyond = out + unit[i] - around;
        if beyond > 0.0 {
            overlaps += beyond * beyond;
            gradient[2 * count] -= penalty * beyond;
            if out > 0.0 {
                gradient[2 * i] += penalty * beyond * a / out;
                gradient[2 * i + 1] += penalty * beyond * b / out;
            }
        }
        for j in 0..i {
            let (dx, dy) = (a - x[2 * j], b - x[2 * j + 1]);
            let (square, reach) = (dx * dx + dy * dy, unit[i] + unit[j]);
            if square < reach * reach {
                let distance = square.sqrt().max(1e-12);
                let overlap = reach - distance;
                overlaps += overlap * overlap;
                let push = penalty * overlap / distance;
                gradient[2 * i] -= push * dx;
                gradient[2 * i + 1] -= push * dy;
                gradient[2 * j] += push * dx;
                gradient[2 * j + 1] += push * dy;
            }
        }
    }
    around + 0.5 * penalty * overlaps
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Limited-memory BFGS with a backtracking line search.
fn descend(unit: &[f64], penalty: f64, x: &mut Vec<f64>) {
    let size = x.len();
    let (mut gradient, mut next) = (vec![0.0; size], vec![0.0; size]);
    let mut value = energy(unit, penalty, x, &mut gradient);
    let mut pairs: Vec<(Vec<f64>, Vec<f64>)> = Vec::new();
    for _ in 0..STEPS {
        if gradient.iter().all(|g| g.abs() < 1e-7) {
            break;
        }
        let mut way = direction(&gradient, &pairs);
        let mut slope = dot(&gradient, &way);
        if slope >= 0.0 {
            pairs.clear();
            way = gradient.iter().map(|g| -g).collect();
            slope = -dot(&gradient, &gradient);
        }
        // Not further at once than a third of the circle.
        let longest = way.iter().fold(0.0, |a: f64, b| a.max(b.abs()));
        let mut step = (0.3 / longest).min(1.0);
        let accepted = loop {
            let trial: Vec<f64> = x.iter().zip(&way).map(|(x, w)| x + step * w).collect();
            let there = energy(unit, penalty, &trial, &mut next);
            if there <= value + 1e-4 * step * slope {
                break Some((trial, there));
            }
            step *= 0.4;
            if step < 1e-9 {
                break None;
            }
        };
        let Some((trial, there)) = accepted else {
            break;
        };
        let s: Vec<f64> = trial.iter().zip(x.iter()).map(|(a, b)| a - b).collect();
        let y: Vec<f64> = next.iter().zip(&gradient).map(|(a, b)| a - b).collect();
        if dot(&s, &y) > 1e-14 {
            if pairs.len() == MEMORY {
                pairs.remove(0);
            }
            pairs.push((s, y));
        }
        let gained = value - there;
        (*x, value) = (trial, there);
        std::mem::swap(&mut gradient, &mut next);
        if gained < 1e-11 {
            break;
        }
    }
}

/// The two-loop recursion.
fn direction(gradient: &[f64], pairs: &[(Vec<f64>, Vec<f64>)]) -> Vec<f64> {
    let mut q = gradient.to_vec();
    let mut alphas = Vec::with_capacity(pairs.len());
    for (s, y) in pairs.iter().rev() {
        let alpha = dot(s, &q) / dot(s, y);
        q.iter_mut().zip(y).for_each(|(q, y)| *q -= alpha * y);
        alphas.push(alpha);
    }
    if let Some((s, y)) = pairs.last() {
        let scale = dot(s, y) / dot(y, y);
        q.iter_mut().for_each(|q| *q *= scale);
    }
    for ((s, y), alpha) in pairs.iter().zip(alphas.iter().rev()) {
        let beta = dot(y, &q) / dot(s, y);
        q.iter_mut()
            .zip(s)
            .for_each(|(q, s)| *q += (alpha - beta) * s);
    }
    q.iter_mut().for_each(|q| *q = -*q);
    q
}

/// Spreads the centres until nothing overlaps, and gives the radius about all of them.
fn made_valid(unit: &[f64], x: &mut [f64]) -> f64 {
    let count = unit.len();
    let mut spread = 1.0_f64;
    for i in 0..count {
        for j in 0..i {
            let apart = (x[2 * i] - x[2 * j]).hypot(x[2 * i + 1] - x[2 * j + 1]);
            spread = spread.max((unit[i] + unit[j]) / apart.max(1e-9));
        }
    }
    let mut radius = 0.0_f64;
    for i in 0..count {
        x[2 * i] *= spread;
        x[2 * i + 1] *= spread;
        radius = radius.max(x[2 * i].hypot(x[2 * i + 1]) + unit[i]);
    }
    radius
}
