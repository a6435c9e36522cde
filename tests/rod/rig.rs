//! Small machines with one branch, built by hand.

use nalgebra::{Point3, UnitVector3, Vector3};
use neckloom::harness::{Branch, Fixing, FixingKind, Lay, LengthRule, Stiffness, Via};
use neckloom::machine::{Body, BodyId, Joint, Machine};
use neckloom::route::{Place, Route};

/// One branch between fixings; bare numbers are metres, newtons and radians.
pub(crate) struct Rig {
    pub(crate) route: Route,
}

pub(crate) const BEND: f64 = 0.004;
pub(crate) const TWIST: f64 = 0.0027;

impl Rig {
    /// A machine with a frame (body 0) and, on it, a body that moves by `joint` (body 1).
    pub(crate) fn new(joint: Joint, mass: f64) -> Self {
        let frame = Body {
            name: "frame".into(),
            on: None,
            joint: Joint::Fixed,
        };
        let moved = Body {
            name: "moved".into(),
            on: Some(BodyId(0)),
            joint,
        };
        let branch = Branch {
            name: "rig".into(),
            wires: Vec::new(),
            diameter: 0.008,
            cover: None,
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
            limits: Vec::new(),
            changes: Vec::new(),
            assumed: Vec::new(),
            warnings: Vec::new(),
        };
        Self { route }
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
            kind: FixingKind::Tie { pull: None },
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

pub(crate) fn slides(to: f64) -> Joint {
    Joint::Slides {
        along: Vector3::x_axis(),
        from: 0.0,
        to,
    }
}
