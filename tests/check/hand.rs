//! Routes and solutions made by hand, so that a check is tested against shapes that are known exactly.

use nalgebra::{Point3, Unit, UnitVector3, Vector3};
use neckloom::check::{Findings, Options, check_with};
use neckloom::geometry::{Curve, Knot};
use neckloom::harness::{Branch, Fixing, FixingKind, Lay, LengthRule, Stiffness, Wire, WireId};
use neckloom::machine::{Body, BodyId, Joint, Machine, Part, Sweep};
use neckloom::rod::{BranchSolution, Hold, Resolution, Shape, Solution, SpanState, Station};
use neckloom::route::{Place, Route, Span};

pub(crate) const FRAME: BodyId = BodyId(0);
pub(crate) const STEERING: BodyId = BodyId(1);

/// A fixed frame, and a steering that turns about the vertical through the origin by ±`lock` degrees.
pub(crate) fn machine(lock: f64) -> Machine {
    let body = |name: &str, on, joint| Body {
        name: name.to_owned(),
        on,
        joint,
        said: None,
    };
    Machine {
        bodies: vec![
            body("frame", None, Joint::Fixed),
            body(
                "steering",
                Some(FRAME),
                Joint::Turns {
                    through: Point3::origin(),
                    axis: Vector3::z_axis(),
                    from: -lock.to_radians(),
                    to: lock.to_radians(),
                },
            ),
        ],
        parts: Vec::new(),
    }
}

pub(crate) const SEAT: BodyId = BodyId(2);

/// The same with a seat that comes down by `travel` millimetres.
pub(crate) fn machine_with_seat(lock: f64, travel: f64) -> Machine {
    let mut machine = machine(lock);
    machine.bodies.push(Body {
        name: "seat".to_owned(),
        on: Some(FRAME),
        joint: Joint::Slides {
            along: -Vector3::z_axis(),
            from: 0.0,
            to: travel * 1e-3,
        },
        said: None,
    });
    machine
}

pub(crate) fn part(name: &str, on: BodyId, shape: neckloom::geometry::Shape) -> Part {
    Part {
        name: name.to_owned(),
        on,
        shape,
        surface: None,
        emissivity: None,
        edge: None,
        carries: None,
    }
}

/// A fixing by hand: its name, body, place in millimetres, and kind.
pub(crate) struct Hand {
    pub(crate) name: &'static str,
    pub(crate) on: BodyId,
    pub(crate) at_mm: [f64; 3],
    pub(crate) kind: FixingKind,
    pub(crate) facing: Option<UnitVector3<f64>>,
}

pub(crate) fn tie(name: &'static str, on: BodyId, at_mm: [f64; 3]) -> Hand {
    Hand {
        name,
        on,
        at_mm,
        kind: FixingKind::Tie {
            pull: None,
            loose: false,
            rated: None,
        },
        facing: Some(Unit::new_normalize(Vector3::x())),
    }
}

/// A route of one branch called "neck".
pub(crate) fn route(machine: Machine, diameter_mm: f64, fixings: Vec<Hand>) -> Route {
    let mut places = Vec::new();
    let lay = fixings
        .into_iter()
        .map(|hand| {
            places.push(Place {
                name: None,
                at: Point3::from(Vector3::from(hand.at_mm) * 1e-3),
                misfit: None,
            });
            Lay {
                fixing: Fixing {
                    name: hand.name.to_owned(),
                    kind: hand.kind,
                    on: hand.on,
                    place: places.len() - 1,
                    facing: hand.facing,
                    width: None,
                },
                vias: Vec::new(),
                length: LengthRule::Slack(0.0),
            }
        })
        .collect();
    Route {
        title: "By hand".to_owned(),
        tolerance: 3e-3,
        places,
        machine,
        wires: vec![Wire {
            name: "lamp".to_owned(),
            area: 1e-6,
            strands: 30,
            outside: 1.9e-3,
            class: None,
            safety: false,
            current: None,
            marks: neckloom::harness::WireMarks::default(),
        }],
        branches: vec![Branch {
            name: "neck".to_owned(),
            wires: vec![WireId(0)],
            diameter: diameter_mm * 1e-3,
            cover: None,
            pitch: None,
            stiffness: Stiffness {
                bend: 0.004,
                twist: 0.0027,
                stretch: 4e4,
                mass: 0.09,
                range: (1.0, 1.0),
            },
            lay,
        }],
        breakouts: Vec::new(),
        circuits: Vec::new(),
        splices: Vec::new(),
        duty: neckloom::harness::Duty::default(),
        limits: Vec::new(),
        changes: Vec::new(),
        assumed: Vec::new(),
        warnings: Vec::new(),
    }
}

/// A solution of a one-branch route whose shape in each pose comes from `shape`.
pub(crate) fn solution(
    route: &Route,
    shape: impl Fn(usize, &Solution, &[Span]) -> Shape,
) -> Solution {
    let sweep = Sweep::of(&route.machine);
    let stances: Vec<_> = sweep
        .poses
        .iter()
        .map(|pose| route.machine.stance(&pose.joints))
        .collect();
    let spans = route.spans(&route.branches[0], &stances[sweep.rest]);
    let mut solution = Solution {
        sweep,
        stances,
        branches: Vec::new(),
    };
    let shapes = (0..solution.stances.len())
        .map(|pose| shape(pose, &solution, &spans).into())
        .collect();
    solution.branches.push(BranchSolution {
        spans,
        shapes,
        snaps: Vec::new(),
        resolution: Resolution {
            contact: 2e6,
            elements: 1,
            radius_error: 0.0,
            newton_steps: 0,
            rest_steps: 0,
        },
        contact: Vec::new(),
    });
    solution
}

/// The branch in straight lines between its fixings: slack, strain and the rest as the distances have it.
pub(crate) fn straight(route: &Route) -> Solution {
    solution(route, |pose, solution, spans| {
        let branch = &route.branches[0];
        let stance = &solution.stances[pose];
        let at = |lay| route.fixing_position(branch, lay, stance);
        let mut knots = Vec::new();
        let mut stations = Vec::new();
        let mut states = Vec::new();
        for span in spans {
            let (a, b) = (at(span.from), at(span.from + 1));
            let slope = (b - a) / span.length;
            for share in [0.0, 0.25, 0.5, 0.75, 1.0] {
                let place = span.start + share * span.length;
                let position = a + (b - a) * share;
                if share > 0.0 || span.from == 0 {
                    knots.push(Knot {
                        at: place,
                        position,
                        slope,
                    });
                }
                stations.push(station(place, position, slope.normalize(), 0.0));
            }
            states.push(SpanState {
                curvature: 0.0,
                curvature_at: span.start,
                length: span.length,
                slack: span.length - (b - a).norm(),
                strain: ((b - a).norm() / span.length - 1.0).max(0.0),
                tension: 0.0,
                pulls: None,
                twist: 0.0,
            });
        }
        Shape {
            curve: Curve::new(knots).expect("rising"),
            stations,
            spans: states,
            holds: vec![no_hold(); branch.lay.len()],
            slid: Vec::new(),
            ends: Vec::new(),
            multipliers: Vec::new(),
            converged: true,
            residual: 0.0,
        }
    })
}

/// A single span bent to an arc whose centreline has the radius that `radius_mm` gives for a pose.
pub(crate) fn arc(route: &Route, radius_mm: impl Fn(usize) -> f64) -> Solution {
    solution(route, |pose, solution, spans| {
        let stance = &solution.stances[pose];
        let start = route.fixing_position(&route.branches[0], 0, stance);
        let radius = radius_mm(pose) * 1e-3;
        let span = &spans[0];
        let mut knots = Vec::new();
        let mut stations = Vec::new();
        for step in 0..=100 {
            let at = span.length * f64::from(step) / 100.0;
            let angle = at / radius;
            let slope = Vector3::new(angle.cos(), 0.0, angle.sin());
            let position = start + Vector3::new(angle.sin(), 0.0, 1.0 - angle.cos()) * radius;
            knots.push(Knot {
                at,
                position,
                slope,
            });
            stations.push(station(at, position, slope, 1.0 / radius));
        }
        Shape {
            curve: Curve::new(knots).expect("rising"),
            stations,
            spans: vec![SpanState {
                curvature: 1.0 / radius,
                curvature_at: 0.5 * span.length,
                length: span.length,
                slack: 0.05,
                strain: 0.0,
                tension: 0.0,
                pulls: None,
                twist: 0.0,
            }],
            holds: vec![no_hold(); 2],
            slid: Vec::new(),
            ends: Vec::new(),
            multipliers: Vec::new(),
            converged: true,
            residual: 0.0,
        }
    })
}

pub(crate) fn station(
    at: f64,
    position: Point3<f64>,
    tangent: Vector3<f64>,
    curvature: f64,
) -> Station {
    Station {
        at,
        position,
        tangent,
        curvature,
        tension: 0.0,
        contact: 0.0,
    }
}

fn no_hold() -> Hold {
    Hold {
        force: Vector3::zeros(),
        moment: Vector3::zeros(),
    }
}

/// All findings, without the spread.
pub(crate) fn checked(route: &Route, solution: &Solution) -> Findings {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    check_with(route, solution, &options, &|_, near| near.clone())
}

/// All findings, with the spread; a nudged route lies in straight lines again.
pub(crate) fn checked_with_spread(route: &Route) -> Findings {
    let options = Options::default();
    check_with(route, &straight(route), &options, &|nudged, near| {
        let mut whole = straight(nudged);
        let keep: Vec<usize> = near
            .sweep
            .poses
            .iter()
            .filter_map(|pose| whole.sweep.poses.iter().position(|other| other == pose))
            .collect();
        assert_eq!(keep.len(), near.sweep.poses.len());
        let shapes = &whole.branches[0].shapes;
        whole.branches[0].shapes = keep.iter().map(|&pose| shapes[pose].clone()).collect();
        whole.stances = keep
            .iter()
            .map(|&pose| whole.stances[pose].clone())
            .collect();
        whole.sweep = near.sweep.clone();
        whole
    })
}

/// The finding of a check with this subject.
pub(crate) fn finding<'f>(
    findings: &'f Findings,
    check: &str,
    subject: &str,
) -> &'f neckloom::check::Finding {
    findings
        .findings
        .iter()
        .find(|finding| finding.check == check && finding.subject == subject)
        .unwrap_or_else(|| panic!("no {check} of {subject} in {:#?}", findings.findings))
}
