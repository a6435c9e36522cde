//! What the rod found: the shape of every branch in every pose, and how far to trust it.

use std::sync::Arc;

use nalgebra::{Point3, Vector3};

use crate::geometry::Curve;
use crate::machine::{Stance, Sweep};
use crate::route::Span;

/// The shapes of all branches in all poses.
#[derive(Debug, Clone, PartialEq)]
pub struct Solution {
    /// The poses; a pose's id is its index.
    pub sweep: Sweep,
    /// Where the bodies are in each pose.
    pub stances: Vec<Stance>,
    /// One solution per branch, in the order of [`crate::route::Route::branches`].
    pub branches: Vec<BranchSolution>,
}

/// The shapes of one branch.
#[derive(Debug, Clone, PartialEq)]
pub struct BranchSolution {
    /// Its spans.
    pub spans: Vec<Span>,
    /// Its shape in each pose, by pose id; shared with the solutions that differ from this one elsewhere alone.
    pub shapes: Vec<Arc<Shape>>,
    /// Jumps between neighbouring poses.
    pub snaps: Vec<Snap>,
    /// How finely it was resolved.
    pub resolution: Resolution,
    /// Of each strand, from one fixing that holds direction to the next, how stiff contact with parts was in the end, force
    /// per length and depth \[N/m²\]. May be empty: then as [`Resolution::contact`].
    pub contact: Vec<f64>,
}

/// How finely a branch was resolved, and what that cost.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Resolution {
    /// Number of elements.
    pub elements: usize,
    /// Estimated relative error of the tightest radius from the discretisation.
    pub radius_error: f64,
    /// Stiffness of contact with parts that was needed, force per length and depth \[N/m²\].
    pub contact: f64,
    /// Newton steps taken over all poses.
    pub newton_steps: usize,
    /// Those of them that rest took, before the walk through the other poses.
    pub rest_steps: usize,
}

/// The shape of one branch in one pose.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// The centreline; `at` counts unstretched length from the branch's first fixing.
    pub curve: Curve,
    /// Places along the branch, dense enough to draw and to look for extremes between; `at` never falls.
    /// At every inner fixing there are two stations with the same `at`: the end of one span and the start
    /// of the next.
    pub stations: Vec<Station>,
    /// One state per span.
    pub spans: Vec<SpanState>,
    /// What each fixing does to the branch, in the order of the lay.
    pub holds: Vec<Hold>,
    /// What the fixings at both ends of each strand do to that strand alone, strand after strand. May be empty.
    pub ends: Vec<[Hold; 2]>,
    /// How much more of the branch lies before each fixing, in the order of the lay, than when it was laid \[m\]; empty
    /// where it slides through none.
    pub slid: Vec<f64>,
    /// Multipliers of the strain \[N\] at each node and in the middle of each element, strand after strand: what a
    /// solve close by starts from. May be empty.
    pub multipliers: Vec<f64>,
    /// Whether the solve converged.
    pub converged: bool,
    /// Greatest residual force left, relative to EI/L² of the branch's shortest span.
    pub residual: f64,
}

impl BranchSolution {
    /// How stiff contact with parts was in the end for a strand \[N/m²\].
    pub(super) fn contact_of(&self, strand: usize) -> f64 {
        let own = self.contact.get(strand).copied();
        own.unwrap_or(self.resolution.contact)
    }
}

impl Shape {
    /// How much more of the branch lies before the fixing `lay` than when it was laid \[m\].
    pub fn slid_at(&self, lay: usize) -> f64 {
        self.slid.get(lay).copied().unwrap_or(0.0)
    }
}

/// What the branch does at one place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Station {
    /// Distance along the branch from its first fixing \[m\].
    pub at: f64,
    /// Position of the centreline \[m\].
    pub position: Point3<f64>,
    /// Unit tangent, from start to end.
    pub tangent: Vector3<f64>,
    /// Curvature of the centreline \[1/m\].
    pub curvature: f64,
    /// Tension, negative in compression \[N\].
    pub tension: f64,
    /// Force pressing the branch against parts here \[N/m\].
    pub contact: f64,
}

/// One span in one pose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpanState {
    /// Greatest curvature of the centreline \[1/m\].
    pub curvature: f64,
    /// Where that is, from the branch's first fixing \[m\].
    pub curvature_at: f64,
    /// Unstretched length \[m\]; that of the [`Span`] but where the branch slides.
    pub length: f64,
    /// Unstretched length less the straight distance between its fixings \[m\].
    pub slack: f64,
    /// Greatest strain of the centreline (not below zero).
    pub strain: f64,
    /// Greatest tension in the span \[N\]; negative where it is pushed together throughout.
    pub tension: f64,
    /// Pulls that would draw length out of the span through a hole at its start and through one at its end \[N\]: less the
    /// derivative of its energy by its length, heights counted from the hole; for a string the tension there. `None` where
    /// the strand slides through nothing.
    pub pulls: Option<[f64; 2]>,
    /// Twist of the span about itself \[rad\], right-handed from start to end, zero at rest.
    pub twist: f64,
}

/// What a fixing does to the branch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hold {
    /// Force on the branch, machine frame \[N\].
    pub force: Vector3<f64>,
    /// Moment on the branch about the fixing, machine frame \[N m\].
    pub moment: Vector3<f64>,
}

/// A jump of the branch between neighbouring poses, much larger than the motion that caused it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Snap {
    /// Pose id before.
    pub from: usize,
    /// Pose id after.
    pub to: usize,
    /// How far the branch jumped at most \[m\].
    pub jump: f64,
    /// Where along the branch that is \[m\].
    pub at: f64,
}
