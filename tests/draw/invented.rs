//! An invented machine with a harness whose shapes are made up: smooth curves through where the fixings are. For
//! looking at sheets, not for believing numbers.

use nalgebra::{Point3, Rotation3, Unit, UnitVector3, Vector3};
use neckloom::check::{Findings, Options, check};
use neckloom::geometry::{Curve, Knot, Shape as Solid, Waypoint, smooth_path};
use neckloom::harness::{Branch, Fixing, FixingKind, Lay, LengthRule, Stiffness, Wire, WireId};
use neckloom::machine::{Body, BodyId, Joint, Machine, Part, Sweep};
use neckloom::rod::{BranchSolution, Hold, Resolution, Shape, Solution, SpanState, Station};
use neckloom::route::{Place, Route, Span};

pub(crate) const FRAME: BodyId = BodyId(0);
pub(crate) const STEERING: BodyId = BodyId(1);
const RAKE: f64 = 29.0;

fn mm(x: f64, y: f64, z: f64) -> Point3<f64> {
    Point3::new(x, y, z) * 1e-3
}

fn axis() -> UnitVector3<f64> {
    let (sin, cos) = RAKE.to_radians().sin_cos();
    Unit::new_normalize(Vector3::new(-sin, 0.0, cos))
}

/// A point given along the steering axis (up), ahead of it and to the rider's left \[mm\].
fn steered(up: f64, ahead: f64, left: f64) -> Point3<f64> {
    let (sin, cos) = RAKE.to_radians().sin_cos();
    mm(-sin * up + cos * ahead, left, cos * up + sin * ahead)
}

pub(crate) fn machine() -> Machine {
    let body = |name: &str, on, joint| Body {
        name: name.to_owned(),
        on,
        joint,
        said: None,
    };
    let part = |name: &str, on, shape, surface| Part {
        name: name.to_owned(),
        on,
        shape,
        surface,
        emissivity: None,
        edge: None,
        carries: None,
    };
    let tube = |along: &[Point3<f64>], d: f64| Solid::Tube {
        along: along.to_vec(),
        diameter: d * 1e-3,
    };
    let block = |c: Point3<f64>, s: [f64; 3], pitch: f64| Solid::Block {
        centre: c,
        size: Vector3::from(s) * 1e-3,
        turned: Rotation3::from_axis_angle(&Vector3::y_axis(), pitch.to_radians()),
    };
    let rod = |a, b, d: f64| Solid::Cylinder {
        from: a,
        to: b,
        diameter: d * 1e-3,
    };
    let header = |side: f64| {
        tube(
            &[
                mm(-160.0, side * 75.0, -330.0),
                mm(-95.0, side * 82.0, -372.0),
                mm(-110.0, side * 90.0, -560.0),
                mm(-330.0, side * 105.0, -640.0),
                mm(-560.0, side * 110.0, -640.0),
            ],
            42.0,
        )
    };
    let cylinder = |side: f64| {
        rod(
            mm(-300.0, side * 75.0, -480.0),
            mm(-225.0, side * 75.0, -260.0),
            120.0,
        )
    };
    Machine {
        bodies: vec![
            body("frame", None, Joint::Fixed),
            body(
                "steering",
                Some(FRAME),
                Joint::Turns {
                    through: Point3::origin(),
                    axis: axis(),
                    from: -38_f64.to_radians(),
                    to: 38_f64.to_radians(),
                },
            ),
        ],
        parts: vec![
            part(
                "backbone",
                FRAME,
                tube(
                    &[
                        mm(20.0, 0.0, -80.0),
                        mm(-330.0, 0.0, -95.0),
                        mm(-620.0, 0.0, -210.0),
                    ],
                    54.0,
                ),
                None,
            ),
            part(
                "down tube",
                FRAME,
                tube(
                    &[
                        mm(65.0, 0.0, -150.0),
                        mm(-30.0, 0.0, -480.0),
                        mm(-120.0, 0.0, -690.0),
                        mm(-560.0, 0.0, -690.0),
                    ],
                    38.0,
                ),
                None,
            ),
            part(
                "head tube",
                FRAME,
                rod(steered(-15.0, 0.0, 0.0), steered(-195.0, 0.0, 0.0), 56.0),
                None,
            ),
            part(
                "gusset",
                FRAME,
                block(mm(-40.0, 0.0, -135.0), [150.0, 8.0, 90.0], 20.0),
                None,
            ),
            part(
                "tank",
                FRAME,
                block(mm(-350.0, 0.0, -10.0), [440.0, 270.0, 130.0], -6.0),
                None,
            ),
            part(
                "seat pan",
                FRAME,
                block(mm(-790.0, 0.0, -110.0), [420.0, 230.0, 22.0], 4.0),
                None,
            ),
            part("left cylinder", FRAME, cylinder(1.0), Some(180.0)),
            part("right cylinder", FRAME, cylinder(-1.0), Some(180.0)),
            part("left header", FRAME, header(1.0), Some(420.0)),
            part("right header", FRAME, header(-1.0), Some(420.0)),
            part(
                "crankcase",
                FRAME,
                block(mm(-330.0, 0.0, -560.0), [330.0, 230.0, 190.0], 0.0),
                None,
            ),
            part(
                "left fork ear",
                STEERING,
                rod(
                    steered(25.0, 45.0, 102.0),
                    steered(-560.0, 45.0, 102.0),
                    46.0,
                ),
                None,
            ),
            part(
                "right fork ear",
                STEERING,
                rod(
                    steered(25.0, 45.0, -102.0),
                    steered(-560.0, 45.0, -102.0),
                    46.0,
                ),
                None,
            ),
            part(
                "upper fork clamp",
                STEERING,
                block(steered(8.0, 30.0, 0.0), [75.0, 250.0, 26.0], -RAKE),
                None,
            ),
            part(
                "lower fork clamp",
                STEERING,
                block(steered(-215.0, 30.0, 0.0), [75.0, 250.0, 32.0], -RAKE),
                None,
            ),
            part(
                "head lamp",
                STEERING,
                Solid::Ball {
                    centre: steered(-120.0, 150.0, 0.0),
                    diameter: 0.17,
                },
                None,
            ),
            part(
                "bars",
                STEERING,
                tube(
                    &[
                        mm(-190.0, 370.0, 105.0),
                        mm(-90.0, 230.0, 110.0),
                        mm(-5.0, 90.0, 55.0),
                        mm(-5.0, -90.0, 55.0),
                        mm(-90.0, -230.0, 110.0),
                        mm(-190.0, -370.0, 105.0),
                    ],
                    22.0,
                ),
                None,
            ),
        ],
    }
}

/// A fixing: its name, kind, body, place and facing.
type Held = (
    &'static str,
    FixingKind,
    BodyId,
    Point3<f64>,
    Option<[f64; 3]>,
);

fn branch(route: &mut Route, name: &str, diameter: f64, slack: f64, held: Vec<Held>) {
    let lay = held
        .into_iter()
        .map(|(name, kind, on, at, facing)| {
            route.places.push(Place {
                name: None,
                at,
                misfit: None,
            });
            Lay {
                fixing: Fixing {
                    name: name.to_owned(),
                    kind,
                    on,
                    place: route.places.len() - 1,
                    facing: facing.map(|f| Unit::new_normalize(Vector3::from(f))),
                    width: None,
                },
                vias: Vec::new(),
                length: LengthRule::Slack(slack),
            }
        })
        .collect();
    route.branches.push(Branch {
        name: name.to_owned(),
        wires: vec![WireId(0); 9],
        diameter: diameter * 1e-3,
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
    });
}

pub(crate) fn bare_route(machine: Machine) -> Route {
    Route {
        title: "Invented twin-cylinder tourer, taller bars on the stock harness".to_owned(),
        tolerance: 4e-3,
        places: Vec::new(),
        machine,
        wires: vec![Wire {
            name: "lamp".to_owned(),
            area: 1e-6,
            strands: 32,
            outside: 1.9e-3,
            class: None,
            safety: false,
            current: None,
            marks: neckloom::harness::WireMarks::default(),
        }],
        branches: Vec::new(),
        breakouts: Vec::new(),
        circuits: Vec::new(),
        splices: Vec::new(),
        duty: neckloom::harness::Duty::default(),
        limits: Vec::new(),
        changes: Vec::new(),
        assumed: vec![
            "Strap tension of T1, T2, T3: 40 N, since none was given.".to_owned(),
            "Bending stiffness of main loom: from its wires, free to slip.".to_owned(),
            "Positions were measured to ± 4 mm.".to_owned(),
        ],
        warnings: Vec::new(),
    }
}

pub(crate) fn route() -> Route {
    let tie = FixingKind::Tie {
        pull: None,
        loose: false,
        rated: None,
    };
    let plug = FixingKind::Connector {
        finish: None,
        mated: None,
        rated: None,
    };
    let mut route = bare_route(machine());
    branch(
        &mut route,
        "main loom",
        8.5,
        0.024,
        vec![
            (
                "seat plug",
                plug,
                FRAME,
                mm(-720.0, 60.0, -175.0),
                Some([1.0, 0.0, 0.1]),
            ),
            (
                "K1",
                FixingKind::Clamp,
                FRAME,
                mm(-450.0, 48.0, -175.0),
                Some([1.0, -0.05, 0.12]),
            ),
            (
                "T1",
                tie,
                FRAME,
                mm(-215.0, 42.0, -125.0),
                Some([1.0, 0.0, 0.1]),
            ),
            (
                "T2",
                tie,
                FRAME,
                mm(-60.0, 40.0, -90.0),
                Some([1.0, 0.1, 0.2]),
            ),
            (
                "T3",
                tie,
                STEERING,
                steered(-45.0, 62.0, 66.0),
                Some([0.95, 0.1, -0.25]),
            ),
            (
                "lamp plug",
                plug,
                STEERING,
                steered(-95.0, 165.0, 40.0),
                Some([0.8, -0.4, -0.5]),
            ),
        ],
    );
    branch(
        &mut route,
        "left switch lead",
        6.0,
        0.045,
        vec![
            (
                "T4",
                tie,
                FRAME,
                mm(-125.0, 52.0, -85.0),
                Some([1.0, 0.2, 0.5]),
            ),
            (
                "T5",
                tie,
                STEERING,
                mm(-15.0, 118.0, 66.0),
                Some([-0.2, 0.9, 0.3]),
            ),
            (
                "switch",
                plug,
                STEERING,
                mm(-150.0, 310.0, 95.0),
                Some([-0.6, 0.8, 0.0]),
            ),
        ],
    );
    route
}

/// Shapes made up for every branch and pose.
pub(crate) fn solution(route: &Route) -> Solution {
    let sweep = Sweep::of(&route.machine);
    let stances: Vec<_> = sweep
        .poses
        .iter()
        .map(|p| route.machine.stance(&p.joints))
        .collect();
    let branches = route
        .branches
        .iter()
        .map(|branch| {
            let spans = route.spans(branch, &stances[sweep.rest]);
            let shapes = sweep
                .poses
                .iter()
                .zip(&stances)
                .map(|(pose, stance)| {
                    let waypoints: Vec<Waypoint> = (0..branch.lay.len())
                        .map(|lay| Waypoint {
                            position: route.fixing_position(branch, lay, stance),
                            direction: route.fixing_facing(branch, lay, stance),
                        })
                        .collect();
                    shape(
                        &waypoints,
                        &spans,
                        pose.joints.last().copied().unwrap_or(0.0),
                    )
                    .into()
                })
                .collect();
            BranchSolution {
                spans,
                shapes,
                snaps: Vec::new(),
                resolution: Resolution {
                    contact: 2e6,
                    elements: 40,
                    radius_error: 1e-3,
                    newton_steps: 3,
                    rest_steps: 1,
                },
                contact: Vec::new(),
            }
        })
        .collect();
    Solution {
        sweep,
        stances,
        branches,
    }
}

fn shape(waypoints: &[Waypoint], spans: &[Span], turned: f64) -> Shape {
    let path = smooth_path(waypoints);
    let knots_of_path = path.knots().to_vec();
    let mut knots: Vec<Knot> = Vec::new();
    let mut stations = Vec::new();
    let mut states = Vec::new();
    for (index, span) in spans.iter().enumerate() {
        let (a, b) = (knots_of_path[index].at, knots_of_path[index + 1].at);
        let (mut most, mut most_at) = (0.0, span.start);
        let chord = knots_of_path[index + 1].position - knots_of_path[index].position;
        for step in 0..=40 {
            let share = f64::from(step) / 40.0;
            let (position, first, second) = path.sample(a + share * (b - a));
            // Less slack than at rest lets the span bend less.
            let curvature = first.cross(&second).norm() / first.norm().powi(3);
            let at = span.start + share * span.length;
            if curvature > most {
                (most, most_at) = (curvature, at);
            }
            if step > 0 || index == 0 {
                knots.push(Knot {
                    at,
                    position,
                    slope: first * ((b - a) / span.length),
                });
            }
            stations.push(Station {
                at,
                position,
                tangent: first.normalize(),
                curvature,
                tension: 0.0,
                contact: 0.0,
            });
        }
        let slack = span.length - chord.norm();
        states.push(SpanState {
            curvature: most,
            curvature_at: most_at,
            length: span.length,
            slack,
            strain: (-slack / span.length).max(0.0),
            tension: if slack < 0.0 {
                -slack / span.length * 4e4
            } else {
                0.0
            },
            pulls: None,
            twist: if span.moving { 0.35 * turned } else { 0.0 },
        });
    }
    let hold = |lay: usize| Hold {
        force: Vector3::zeros(),
        moment: if lay > 0 && spans[lay - 1].moving {
            axis().into_inner() * (0.12 * turned + 0.25 * turned.powi(3))
        } else {
            Vector3::zeros()
        },
    };
    Shape {
        curve: Curve::new(knots).expect("rising"),
        stations,
        spans: states,
        holds: (0..waypoints.len()).map(hold).collect(),
        slid: Vec::new(),
        ends: Vec::new(),
        multipliers: Vec::new(),
        converged: true,
        residual: 0.0,
    }
}

pub(crate) fn findings(route: &Route, solution: &Solution) -> Findings {
    let options = Options {
        spread: false,
        ..Options::default()
    };
    check(route, solution, &options)
}

/// One span between a fixed and a steered tie, and nothing else on the machine.
pub(crate) fn single_span() -> Route {
    let mut machine = machine();
    machine.parts.clear();
    let tie = FixingKind::Tie {
        pull: None,
        loose: false,
        rated: None,
    };
    let mut route = bare_route(machine);
    branch(
        &mut route,
        "span",
        8.0,
        0.03,
        vec![
            (
                "A",
                tie,
                FRAME,
                mm(-120.0, 30.0, -80.0),
                Some([1.0, 0.0, 0.3]),
            ),
            (
                "B",
                tie,
                STEERING,
                steered(-40.0, 60.0, 50.0),
                Some([1.0, 0.0, 0.0]),
            ),
        ],
    );
    route
}
