//! A space curve in cubic Hermite pieces.

use nalgebra::{Point3, Vector3};

/// A point of a [`Curve`] with its slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knot {
    /// Distance along the unstretched harness from the curve's start \[m\].
    pub at: f64,
    /// Position \[m\].
    pub position: Point3<f64>,
    /// Derivative of position by `at` (its length is 1 where the harness is not stretched).
    pub slope: Vector3<f64>,
}

/// A curve of cubic Hermite pieces, continuous with its slope. At least two knots, `at` strictly increasing.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    pub(super) knots: Vec<Knot>,
}

impl Curve {
    /// A curve through `knots`; `None` with fewer than two knots or where `at` does not increase.
    pub fn new(knots: Vec<Knot>) -> Option<Self> {
        let rising = knots.windows(2).all(|w| w[0].at < w[1].at);
        (knots.len() >= 2 && rising).then_some(Self { knots })
    }

    /// One metre along x: a curve to begin with.
    pub fn straight() -> Self {
        let knot = |at: f64| Knot {
            at,
            position: Point3::new(at, 0.0, 0.0),
            slope: Vector3::x(),
        };
        Self {
            knots: vec![knot(0.0), knot(1.0)],
        }
    }

    /// Moves every position \[m\].
    pub fn shift(&mut self, by: &Vector3<f64>) {
        for knot in &mut self.knots {
            knot.position += by;
        }
    }

    /// The knots, in order.
    pub fn knots(&self) -> &[Knot] {
        &self.knots
    }

    /// `at` of the first knot \[m\].
    pub fn start(&self) -> f64 {
        self.knots[0].at
    }

    /// `at` of the last knot \[m\].
    pub fn end(&self) -> f64 {
        self.knots[self.knots.len() - 1].at
    }

    /// Position, first and second derivative by `at`; `at` is clamped to the curve's ends.
    pub fn sample(&self, at: f64) -> (Point3<f64>, Vector3<f64>, Vector3<f64>) {
        let piece = self.piece_at(at);
        let (a, b) = (&self.knots[piece], &self.knots[piece + 1]);
        let h = b.at - a.at;
        let u = ((at - a.at) / h).clamp(0.0, 1.0);
        let chord = b.position - a.position;
        let (ta, tb) = (a.slope * h, b.slope * h);
        // p(u) = pa + u ta + u²(3c − 2ta − tb) + u³(ta + tb − 2c)
        let (q, k) = (chord * 3.0 - ta * 2.0 - tb, ta + tb - chord * 2.0);
        let position = a.position + (ta + (q + k * u) * u) * u;
        let first = (ta + (q * 2.0 + k * (3.0 * u)) * u) / h;
        let second = (q * 2.0 + k * (6.0 * u)) / (h * h);
        (position, first, second)
    }

    /// Position at `at` \[m\], clamped to the ends.
    pub fn position(&self, at: f64) -> Point3<f64> {
        self.sample(at).0
    }

    /// Unit tangent at `at`; zero only where the curve stands still.
    pub fn tangent(&self, at: f64) -> Vector3<f64> {
        let slope = self.sample(at).1;
        slope.try_normalize(0.0).unwrap_or_else(Vector3::zeros)
    }

    /// The stretch from `from` to `to` \[m\], the same curve: pieces that are cut stay cubic. `None` where nothing of it
    /// lies between them.
    pub fn between(&self, from: f64, to: f64) -> Option<Self> {
        let (from, to) = (from.max(self.start()), to.min(self.end()));
        let cut = |at: f64| {
            let (position, slope, _) = self.sample(at);
            Knot {
                at,
                position,
                slope,
            }
        };
        let inner = self.knots.iter().filter(|k| from < k.at && k.at < to);
        let ends = [cut(from), cut(to)];
        let knots = std::iter::once(ends[0]).chain(inner.copied());
        Self::new(knots.chain([ends[1]]).collect())
    }

    /// Index of the piece that holds `at`.
    pub fn piece_at(&self, at: f64) -> usize {
        let above = self.knots.partition_point(|k| k.at <= at);
        above.clamp(1, self.knots.len() - 1) - 1
    }

    /// True length of the curve in space \[m\].
    pub fn length(&self) -> f64 {
        self.length_between(0, self.knots.len() - 1)
    }

    /// True length in space from one knot to a later one \[m\], by five-point Gauss quadrature of each piece;
    /// zero where `to` is not after `from`.
    pub fn length_between(&self, from: usize, to: usize) -> f64 {
        const NODES: [(f64, f64); 3] = [
            (0.0, 0.568_888_888_888_888_9),
            (0.538_469_310_105_683_1, 0.478_628_670_499_366_47),
            (0.906_179_845_938_664, 0.236_926_885_056_189_08),
        ];
        let piece = |w: &[Knot]| {
            let (mid, half) = (0.5 * (w[0].at + w[1].at), 0.5 * (w[1].at - w[0].at));
            let speed = |x: f64| self.sample(mid + half * x).1.norm();
            NODES
                .iter()
                .map(|&(x, weight)| {
                    let both = if x > 0.0 {
                        speed(x) + speed(-x)
                    } else {
                        speed(x)
                    };
                    half * weight * both
                })
                .sum::<f64>()
        };
        self.knots
            .get(from..=to)
            .map_or(0.0, |knots| knots.windows(2).map(piece).sum())
    }
}
