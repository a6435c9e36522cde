//! Small machines with one branch, built by hand.

use nalgebra::{Point3, UnitVector3, Vector3};
use neckloom::geometry::Shape;
use neckloom::harness::{Branch, Fixing, FixingKind, Lay, LengthRule, Stiffness, Via};
use neckloom::machine::{Body, BodyId, Joint, Machine, Part};
use neckloom::rod::{Settings, Solution, solve};
use neckloom::route::{Place, Route};

/// One branch between fixings; bare numbers are metres, newtons and radians.
pub(crate) struct Rig {
    pub(crate) route: Route,
}

pub(crate) const BEND: f64 = 0.004;
pub(crate) const TWIST: f64 = 0.0027;
/// How far the steering of these tests turns each way \[rad\].
pub(crate) const LOCK: f64 = 40.0_f64.to_radians();
/// EA \[N\] at which a rod of these tests counts as inextensible.
pub(crate) const STIFF: f64 = 1e9;

/// No refinement: `elements` a span.
pub(crate) fn even(elements: usize) -> Settings {
    Settings {
        elements,
        accuracy: f64::INFINITY,
        ..Settings::default()
    }
}

/// Refined to `accuracy`.
pub(crate) fn refined(accuracy: f64) -> Settings {
    Settings {
        accuracy,
        ..Settings::default()
    }
}

impl Rig {
    /// A machine with a frame (body 0) and, on it, a body that moves by `joint` (body 1).
    pub(crate) fn new(joint: Joint, mass: f64) -> Self {
        let frame = Body {
            name: "frame".into(),
            on: None,
            joint: Joint::Fixed,
            said: None,
        };
        let moved = Body {
            name: "moved".into(),
            on: Some(BodyId(0)),
            joint,
            said: None,
        };
        let branch = Branch {
            name: "rig".into(),
            wires: Vec::new(),
            diameter: 0.008,
            cover: None,
            pitch: None,
            stiffness: Stiffness {
                bend: BEND,
                twist: TWIST,
                stretch: 4e4,
                mass,
                range: (1.0, 1.0),
            },
            lay: Vec::new(),
        };
        let route = Route {
            title: "rig".into(),
            tolerance: 0.003,
            places: Vec::new(),
            machine: Machine {
                bodies: vec![frame, moved],
                parts: Vec::new(),
            },
            wires: Vec::new(),
            branches: vec![branch],
            breakouts: Vec::new(),
            circuits: Vec::new(),
            splices: Vec::new(),
            duty: neckloom::harness::Duty::default(),
            limits: Vec::new(),
            changes: Vec::new(),
            assumed: Vec::new(),
            warnings: Vec::new(),
        };
        Self { route }
    }

    /// A machine in which nothing moves and nothing weighs, with a branch too stiff in tension for its
    /// compliance to matter to the sixth digit.
    pub(crate) fn still() -> Self {
        let mut rig = Self::new(Joint::Fixed, 0.0);
        rig.stiffness().stretch = STIFF;
        rig
    }

    /// The steering of the tests: rake 30° through the origin, 40° each way.
    pub(crate) fn steered(length: f64, mass: f64) -> Self {
        Self::steered_by(LOCK, length, mass)
    }

    /// The same with another lock \[rad\].
    pub(crate) fn steered_by(lock: f64, length: f64, mass: f64) -> Self {
        let joint = Joint::steering(Point3::origin(), 30.0_f64.to_radians(), -lock, lock);
        Self::new(joint, mass)
            .fix(0, [-0.095, 0.028, 0.035], Some([1.0, 0.0, 0.2]), 0.0)
            .fix(1, [0.070, 0.025, 0.120], Some([0.0, 0.0, 1.0]), length)
    }

    pub(crate) fn stiffness(&mut self) -> &mut Stiffness {
        &mut self.route.branches[0].stiffness
    }

    /// Adds a part on the frame.
    pub(crate) fn part(mut self, shape: Shape) -> Self {
        self.route.machine.parts.push(Part {
            name: "part".into(),
            on: BodyId(0),
            shape,
            surface: None,
            emissivity: None,
            edge: None,
            carries: None,
        });
        self
    }

    pub(crate) fn solve(&self, settings: &Settings) -> Solution {
        let solution = solve(&self.route, settings);
        let branch = &solution.branches[0];
        assert_eq!(branch.shapes.len(), solution.sweep.poses.len());
        solution
    }

    /// Solves and insists that every pose converged.
    pub(crate) fn solved(&self, settings: &Settings) -> Solution {
        let solution = self.solve(settings);
        for (pose, shape) in solution.branches[0].shapes.iter().enumerate() {
            assert!(
                shape.converged,
                "pose {pose} did not converge, residual {:e}",
                shape.residual
            );
        }
        solution
    }

    pub(crate) fn place(&mut self, at: [f64; 3]) -> usize {
        self.route.places.push(Place {
            name: None,
            at: Point3::from(at),
            misfit: None,
        });
        self.route.places.len() - 1
    }

    /// Adds a fixing; `length` is that of the span leading to it.
    pub(crate) fn fix(
        mut self,
        body: usize,
        at: [f64; 3],
        facing: Option<[f64; 3]>,
        length: f64,
    ) -> Self {
        self.fix_via(body, at, facing, length, &[]);
        self
    }

    pub(crate) fn fix_via(
        &mut self,
        body: usize,
        at: [f64; 3],
        facing: Option<[f64; 3]>,
        length: f64,
        vias: &[[f64; 3]],
    ) {
        let vias = vias
            .iter()
            .map(|via| Via {
                on: BodyId(0),
                place: self.place(*via),
            })
            .collect();
        let place = self.place(at);
        let lay = &mut self.route.branches[0].lay;
        let fixing = Fixing {
            name: format!("T{}", lay.len() + 1),
            kind: FixingKind::Tie {
                pull: None,
                loose: false,
                rated: None,
            },
            on: BodyId(body),
            place,
            facing: facing.map(|f| UnitVector3::new_normalize(Vector3::from(f))),
            width: None,
        };
        lay.push(Lay {
            fixing,
            vias,
            length: LengthRule::Measured(length),
        });
    }
}

/// Signed relative difference.
pub(crate) fn relative(got: f64, want: f64) -> f64 {
    got / want - 1.0
}

/// Numbers in short, for what a failing test prints.
pub(crate) fn short(numbers: &[f64]) -> String {
    let short: Vec<_> = numbers.iter().map(|x| format!("{x:.1e}")).collect();
    short.join(", ")
}
