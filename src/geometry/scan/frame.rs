//! Boxes in single precision, and what they are measured in: the directions of a node.

use nalgebra::{Matrix3, Point3, Vector3};

use super::triangle::Primitive;

/// Runs of up to so many primitives are boxed along directions of their own.
const TURNED: usize = 1024;

/// A box.
#[derive(Debug, Clone, Copy)]
pub(super) struct Frame {
    pub(super) low: [f32; 3],
    pub(super) high: [f32; 3],
}

impl Frame {
    pub(super) const EMPTY: Self = Self {
        low: [f32::INFINITY; 3],
        high: [f32::NEG_INFINITY; 3],
    };

    /// The box around corners, measured along the rows of `turn` from `centre`, not smaller than they are.
    pub(super) fn around<'a, P: Primitive + 'a>(
        primitives: impl IntoIterator<Item = &'a P>,
        centre: &Point3<f64>,
        turn: Option<&Matrix3<f64>>,
    ) -> Self {
        let mut low = Vector3::repeat(f64::INFINITY);
        let mut high = Vector3::repeat(f64::NEG_INFINITY);
        for primitive in primitives {
            for corner in primitive.corners() {
                let local = corner - centre;
                let local = turn.map_or(local, |turn| turn * local);
                low = low.inf(&local);
                high = high.sup(&local);
            }
        }
        Self {
            low: [low.x, low.y, low.z].map(|c| narrow(c).next_down()),
            high: [high.x, high.y, high.z].map(|c| narrow(c).next_up()),
        }
    }

    pub(super) fn with(mut self, other: &Self) -> Self {
        for i in 0..3 {
            self.low[i] = self.low[i].min(other.low[i]);
            self.high[i] = self.high[i].max(other.high[i]);
        }
        self
    }

    /// Half its surface.
    pub(super) fn half_area(&self) -> f32 {
        let [x, y, z] = [0, 1, 2].map(|i| (self.high[i] - self.low[i]).max(0.0));
        x * y + y * z + z * x
    }

    /// Twice its middle.
    pub(super) fn middle(&self, axis: usize) -> f32 {
        self.low[axis] + self.high[axis]
    }
}

/// Directions square to each other, one of them across a run of primitives that is nearly flat; `None` where there are
/// too many of them to be flat, or nothing tells.
pub(super) fn directions<P: Primitive>(run: &[P]) -> Option<Matrix3<f64>> {
    if run.len() > TURNED {
        return None;
    }
    let mut across = Vector3::zeros();
    let mut longest = Vector3::zeros();
    for primitive in run {
        let (normal, side) = primitive.lies();
        // Which side is which does not matter.
        across += if normal.dot(&across) < 0.0 {
            -normal
        } else {
            normal
        };
        if side.norm_squared() > longest.norm_squared() {
            longest = side;
        }
    }
    let across = across.try_normalize(0.0).or_else(|| flattest(run))?;
    let along = (longest - across * across.dot(&longest))
        .try_normalize(1e-9 * longest.norm())
        .or_else(|| {
            let square = across.cross(&Vector3::ith(across.iamin(), 1.0));
            square.try_normalize(0.0)
        })?;
    let turn = Matrix3::from_rows(&[
        along.transpose(),
        across.cross(&along).transpose(),
        across.transpose(),
    ]);
    // What is kept is single precision, and boxes are measured along what is kept.
    turn.iter()
        .all(|c| c.is_finite())
        .then(|| turn.map(|c| f64::from(narrow(c))))
}

/// The direction along which corners spread least.
fn flattest<P: Primitive>(run: &[P]) -> Option<Vector3<f64>> {
    let corners = || run.iter().flat_map(|p| p.corners());
    let count = corners().count() as f64;
    let middle = corners().map(|p| p.coords).sum::<Vector3<f64>>() / count;
    let mut spread = Matrix3::zeros();
    for corner in corners() {
        let off = corner.coords - middle;
        spread += off * off.transpose();
    }
    if !spread.iter().all(|c| c.is_finite()) {
        return None;
    }
    let eigen = spread.symmetric_eigen();
    eigen
        .eigenvectors
        .column(eigen.eigenvalues.imin())
        .into_owned()
        .try_normalize(0.0)
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "boxes are single precision, and grown for it"
)]
pub(super) fn narrow(c: f64) -> f32 {
    c as f32
}
