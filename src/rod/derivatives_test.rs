//! Derivatives against finite differences, the factorisation against a dense one.
#![allow(
    clippy::unwrap_used,
    clippy::needless_range_loop,
    clippy::manual_is_multiple_of,
    reason = "a test that cannot go on should stop; indices are those of the formulas"
)]

use nalgebra::{DMatrix, DVector, Matrix3, Point3, UnitVector3, Vector3};

use crate::geometry::Shape;
use crate::machine::{Body, BodyId, Joint, Machine, Part, Surroundings};

use super::bend;
use super::chain::{Chain, Factor, Six, ZERO};
use super::contact::Contacts;
use super::element::{Element, Material, Node};
use super::held::{HeldAt, Target};
use super::strand::{State, Strand};
use super::{tension, twist};

/// Relative error allowed.
const TOLERANCE: f64 = 1e-6;

/// Seeded numbers in −1…1 (a linear congruence; only that they are arbitrary matters).
struct Numbers(u64);

impl Numbers {
    fn next(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        f64::from(u32::try_from(self.0 >> 33).unwrap()) / f64::from(1_u32 << 30) - 1.0
    }

    fn vector(&mut self, size: f64) -> Vector3<f64> {
        Vector3::from_fn(|_, _| size * self.next())
    }
}

const MATERIAL: Material = Material {
    bend: 0.004,
    stretch: 40.0,
    weight: Vector3::new(0.1, -0.3, -0.9),
};

/// An element of length h, bent and stretched, with the multipliers that belong to its strain.
fn element(numbers: &mut Numbers, moment: f64) -> Element {
    let h = 0.03;
    let mut node = |x: f64| {
        (
            Vector3::new(x, 0.0, 0.0) + numbers.vector(0.002),
            Vector3::x() + numbers.vector(0.2),
        )
    };
    let (a, b) = (node(0.0), node(h));
    let mut element = Element {
        h,
        q: [a.0, a.1, b.0, b.1],
        lambda: [0.0; 3],
        moment,
        pole: Vector3::new(0.6, 0.0, 0.8),
    };
    element.lambda = element
        .strains()
        .map(|e| tension::multiplier_of(e, MATERIAL.stretch));
    element
}

/// Five-point difference of `f` by coordinate `i` of the element's twelve; steps in proportion to what is differenced.
fn by_coordinate<T>(element: &Element, i: usize, f: impl Fn(&Element) -> T) -> T
where
    T: std::ops::Mul<f64, Output = T> + std::ops::Add<Output = T>,
{
    let step = if (i / 3) % 2 == 0 { 3e-5 } else { 1e-3 };
    let at = |by: f64| {
        let mut moved = *element;
        moved.q[i / 3][i % 3] += by * step;
        f(&moved)
    };
    (at(-2.0) + at(-1.0) * -8.0 + at(1.0) * 8.0 + at(2.0) * -1.0) * (1.0 / (12.0 * step))
}

fn assert_close(got: &DMatrix<f64>, want: &DMatrix<f64>, what: &str) {
    let scale = want.amax();
    let off = (got - want).amax();
    assert!(
        off < TOLERANCE * scale,
        "{what}: {:e} of {scale:e}",
        off / scale
    );
}

fn twelve(four: &[Vector3<f64>; 4]) -> DVector<f64> {
    DVector::from_iterator(12, four.iter().flat_map(|v| [v.x, v.y, v.z]))
}

/// Rows and columns of the two nodes' chain as a dense matrix, symmetric from its stored half.
fn dense(chain: &Chain) -> DMatrix<f64> {
    let nodes = chain.diagonal.len();
    let mut full = DMatrix::zeros(6 * nodes, 6 * nodes);
    for j in 0..nodes {
        for c in 0..6 {
            for r in 0..6 {
                full[(6 * j + r, 6 * j + c)] = chain.diagonal[j][c][r];
                if j + 1 < nodes {
                    let x = chain.below[j][c][r];
                    full[(6 * j + 6 + r, 6 * j + c)] = x;
                    full[(6 * j + c, 6 * j + 6 + r)] = x;
                }
            }
        }
    }
    full
}

/// Gradient by differencing `energy`, Hessian by differencing `gradient`, both over the twelve coordinates.
fn check(
    element: &Element,
    energy: impl Fn(&Element) -> f64,
    gradient: impl Fn(&Element) -> DVector<f64>,
    hessian: &DMatrix<f64>,
    what: &str,
) {
    let by_energy = DVector::from_fn(12, |i, _| by_coordinate(element, i, &energy));
    let exact = gradient(element);
    let column = |v: &DVector<f64>| DMatrix::from_column_slice(12, 1, v.as_slice());
    // Positions and slopes have different units: each is compared on its own scale.
    for of in 0..2 {
        let pick = |v: &DVector<f64>| {
            let chosen: Vec<f64> = (0..12)
                .filter(|i| (i / 3) % 2 == of)
                .map(|i| v[i])
                .collect();
            DMatrix::from_column_slice(6, 1, &chosen)
        };
        assert_close(
            &pick(&exact),
            &pick(&by_energy),
            &format!("{what}: gradient {of}"),
        );
    }
    assert_eq!(column(&exact).len(), 12);
    let by_gradient = DMatrix::from_columns(
        &(0..12)
            .map(|i| by_coordinate(element, i, &gradient))
            .collect::<Vec<_>>(),
    );
    for (a, b) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
        let pick = |m: &DMatrix<f64>| {
            DMatrix::from_fn(6, 6, |r, c| {
                m[(r / 3 * 6 + 3 * a + r % 3, c / 3 * 6 + 3 * b + c % 3)]
            })
        };
        let (got, want) = (pick(hessian), pick(&by_gradient));
        assert_close(&got, &want, &format!("{what}: Hessian {a}{b}"));
    }
}

/// Derivatives of the slope (first) and of r″ (second) at ξ of an element by its four vectors.
fn slopes(h: f64, xi: f64) -> ([f64; 4], [f64; 4]) {
    let (x, y) = (xi, 1.0 - xi);
    let first = [
        -6.0 * x * y / h,
        y * (1.0 - 3.0 * x),
        6.0 * x * y / h,
        x * (3.0 * x - 2.0),
    ];
    let second = [
        (12.0 * x - 6.0) / (h * h),
        (6.0 * x - 4.0) / h,
        (6.0 - 12.0 * x) / (h * h),
        (6.0 * x - 2.0) / h,
    ];
    (first, second)
}

/// ½ EI ∫|r″|² by two Gauss points, exact for the square of a linear function.
#[test]
fn bending() {
    let mut numbers = Numbers(1);
    for _ in 0..5 {
        let e = element(&mut numbers, 0.0);
        let aside = 0.5 / 3.0_f64.sqrt();
        let by_places: f64 = [0.5 - aside, 0.5 + aside]
            .iter()
            .map(|&xi| {
                let (_, second) = slopes(e.h, xi);
                let r2 = super::element::combine(&second, &e.q);
                0.25 * MATERIAL.bend * e.h * r2.norm_squared()
            })
            .sum();
        let got = bend::energy(MATERIAL.bend, e.h, &e.modes());
        assert!(
            (got - by_places).abs() < 1e-12 * by_places,
            "{got} for {by_places}"
        );
    }
}

/// Slope and r″ at the places of Gauss, and in the middle, are those of the cubic piece there.
#[test]
fn modes_are_those_of_the_piece() {
    let mut numbers = Numbers(6);
    for _ in 0..5 {
        let e = element(&mut numbers, 0.0);
        let modes = e.modes();
        let aside = 0.5 / 3.0_f64.sqrt();
        let there = super::element::gauss(&modes, e.h);
        for (xi, (u, w)) in [0.5 - aside, 0.5 + aside].into_iter().zip(there) {
            let (first, second) = slopes(e.h, xi);
            let (want_u, want_w) = (
                super::element::combine(&first, &e.q),
                super::element::combine(&second, &e.q),
            );
            assert!((u - want_u).norm() < 1e-13, "{u} for {want_u}");
            assert!(
                (w - want_w).norm() < 1e-13 * want_w.norm(),
                "{w} for {want_w}"
            );
        }
        let (first, _) = slopes(e.h, 0.5);
        let want = super::element::combine(&first, &e.q);
        assert!((modes.middle() - want).norm() < 1e-13);
    }
}

#[test]
fn tension_at_one_place() {
    let mut numbers = Numbers(2);
    for _ in 0..5 {
        let slope = Vector3::x() + numbers.vector(0.3);
        let lambda = tension::multiplier_of(tension::strain(&slope), MATERIAL.stretch);
        let k = tension::stiffness(1.0, lambda, MATERIAL.stretch, &slope);
        let pull =
            |s: &Vector3<f64>| s * tension::multiplier_of(tension::strain(s), MATERIAL.stretch);
        for i in 0..3 {
            let mut e = Vector3::zeros();
            e[i] = 1e-4;
            let stored =
                |s: Vector3<f64>| tension::energy_of(tension::strain(&s), MATERIAL.stretch);
            let by_energy = (stored(slope + e) - stored(slope - e)) / 2e-4;
            assert!((by_energy - pull(&slope)[i]).abs() < TOLERANCE * MATERIAL.stretch);
            let column = (pull(&(slope + e)) - pull(&(slope - e))) / 2e-4;
            assert!((column - k.column(i)).norm() < TOLERANCE * k.norm());
        }
    }
}

#[test]
fn twisting() {
    let mut numbers = Numbers(3);
    for _ in 0..20 {
        let a = UnitVector3::new_normalize(numbers.vector(1.0)).into_inner();
        let u = a * 0.7 + numbers.vector(0.5);
        let w = numbers.vector(20.0);
        let (_, by_u, by_w) = twist::turn(&a, &u, &w);
        let (by_uu, by_uw) = twist::second(&a, &u, &w);
        let difference = |f: &dyn Fn(f64) -> Vector3<f64>| {
            (f(-2.0) - f(-1.0) * 8.0 + f(1.0) * 8.0 - f(2.0)) / 12.0
        };
        for i in 0..3 {
            let mut e = Vector3::zeros();
            e[i] = 1e-3;
            let value = |by: f64| Vector3::repeat(twist::turn(&a, &(u + e * by), &w).0);
            let got = difference(&value).x / 1e-3;
            assert!((got - by_u[i]).abs() < TOLERANCE * by_u.norm());
            let value = |by: f64| Vector3::repeat(twist::turn(&a, &u, &(w + e * by)).0);
            let got = difference(&value).x / 1e-3;
            assert!((got - by_w[i]).abs() < TOLERANCE * by_w.norm());
            let slope = |by: f64| twist::turn(&a, &(u + e * by), &w).1;
            let got = difference(&slope) / 1e-3;
            assert!((got - by_uu.column(i)).norm() < TOLERANCE * by_uu.norm());
            let slope = |by: f64| twist::turn(&a, &u, &(w + e * by)).1;
            let got = difference(&slope) / 1e-3;
            assert!((got - by_uw.column(i)).norm() < TOLERANCE * by_uw.norm());
        }
    }
}

/// Bending (at the stretch of the step before), tension, twist and weight together.
#[test]
fn whole_element() {
    let mut numbers = Numbers(4);
    for moment in [0.0, 0.02, -0.3] {
        for _ in 0..5 {
            let element = element(&mut numbers, moment);
            let held = element.lambda;
            // The multipliers follow the strain in the tension; in the bending's stretch they are held.
            let gradient = |e: &Element| {
                let mut at = *e;
                at.lambda = held;
                let mut force = at.force(&MATERIAL);
                let strains = e.strains();
                let gap = std::array::from_fn(|i| {
                    tension::multiplier_of(strains[i], MATERIAL.stretch) - held[i]
                });
                for (force, more) in force.iter_mut().zip(at.tension(&gap)) {
                    *force += more;
                }
                twelve(&force)
            };
            let energy = |e: &Element| {
                let mut at = *e;
                at.lambda = held;
                at.energy(&MATERIAL) - moment * at.turn().0
            };
            let mut chain = Chain::default();
            chain.begin(2);
            element.put_stiffness(&MATERIAL, 0, &mut chain);
            check(&element, energy, gradient, &dense(&chain), "element");
        }
    }
}

fn ball() -> Machine {
    Machine {
        bodies: vec![Body {
            name: "frame".into(),
            on: None,
            joint: Joint::Fixed,
            said: None,
        }],
        parts: vec![Part {
            name: "ball".into(),
            on: BodyId(0),
            shape: Shape::Ball {
                centre: Point3::new(0.015, 0.001, -0.0185),
                diameter: 0.03,
            },
            surface: None,
            emissivity: None,
            edge: None,
            carries: None,
        }],
    }
}

/// What a little more length does to the energy, its four vectors held.
#[test]
fn by_length() {
    let mut numbers = Numbers(11);
    for moment in [0.0, 0.002] {
        for _ in 0..5 {
            let element = element(&mut numbers, moment);
            // The stretch that divides the bending stiffness is held, the twisting energy is −moment × turn.
            let energy = |e: &Element| e.energy(&MATERIAL) - moment * e.turn().0;
            let step = 1e-4 * element.h;
            let at = |by: f64| {
                energy(&Element {
                    h: element.h + by * step,
                    ..element
                })
            };
            let by_energy = (at(-2.0) - 8.0 * at(-1.0) + 8.0 * at(1.0) - at(2.0)) / (12.0 * step);
            let exact = element.by_length(&MATERIAL);
            assert!(
                (exact - by_energy).abs() < 1e-7 * by_energy.abs().max(1.0),
                "{exact} for {by_energy}"
            );
        }
    }
}

#[test]
fn contact() {
    let machine = ball();
    let surroundings = Surroundings::new(&machine);
    let mut numbers = Numbers(5);
    for _ in 0..5 {
        let mut element = element(&mut numbers, 0.0);
        for i in [0, 2] {
            element.q[i].z = 0.1 * element.q[i].z - 0.0006;
            element.q[i + 1] = Vector3::x() + numbers.vector(0.02);
        }
        let stance = machine.stance(&machine.rest());
        let mut contacts = Contacts::new(
            &surroundings,
            stance,
            0.004,
            2e6,
            std::borrow::Cow::Borrowed(&[]),
        );
        contacts.look_around(std::iter::once(element), 0.01);
        assert!(contacts.touches(0));
        assert!(contacts.energy(0, 0.0, &element) > 0.0, "it presses");
        // The potential has a third derivative that jumps: the differences stay on one side of it.
        let fine = |i: usize, f: &dyn Fn(&Element) -> DVector<f64>| {
            let step = if (i / 3) % 2 == 0 { 1e-8 } else { 1e-6 };
            let at = |by: f64| {
                let mut moved = element;
                moved.q[i / 3][i % 3] += by * step;
                f(&moved)
            };
            (at(1.0) - at(-1.0)) / (2.0 * step)
        };
        let energy = |e: &Element| DVector::from_element(1, contacts.energy(0, 0.0, e));
        let gradient = |e: &Element| {
            let mut force = [Vector3::zeros(); 4];
            for push in contacts.pushes(0, 0.0, e) {
                push.add_force(&mut force);
            }
            twelve(&force)
        };
        let exact = gradient(&element);
        let mut k = [[Matrix3::zeros(); 4]; 4];
        for push in contacts.pushes(0, 0.0, &element) {
            push.add_stiffness(&mut k);
        }
        let mut chain = Chain::default();
        chain.begin(2);
        super::element::scatter(&k, 0, &mut chain);
        let hessian = dense(&chain);
        for i in 0..12 {
            let got = fine(i, &energy)[0];
            assert!(
                (got - exact[i]).abs() < TOLERANCE * exact.amax(),
                "{got} {}",
                exact[i]
            );
            let column = fine(i, &gradient);
            let off = (column - hessian.column(i)).amax();
            assert!(
                off < TOLERANCE * hessian.amax(),
                "column {i}: {off:e} of {:e}",
                hessian.amax()
            );
        }
    }
}

/// A bent strand of `elements` between two held ends with twist.
fn strand(elements: u32) -> (Strand, State, Target) {
    let length = 0.2;
    let at: Vec<f64> = (0..=elements)
        .map(|i| length * f64::from(i) / f64::from(elements))
        .collect();
    let mut numbers = Numbers(6);
    let nodes: Vec<Node> = at
        .iter()
        .map(|s| {
            let phase = 8.0 * s;
            Node {
                r: Vector3::new(phase.sin() / 8.0, (1.0 - phase.cos()) / 8.0, 0.02 * phase)
                    + numbers.vector(2e-4),
                t: Vector3::new(phase.cos(), phase.sin(), 0.16) + numbers.vector(0.02),
            }
        })
        .collect();
    let strand = Strand {
        material: MATERIAL,
        fixings: vec![0, at.len() - 1],
        at,
        compliance: Some(length / 0.0027),
    };
    let facing = |n: &Node| Some(UnitVector3::new_normalize(n.t));
    let (first, last) = (nodes[0], nodes[nodes.len() - 1]);
    let target = Target {
        holds: vec![
            HeldAt {
                position: first.r,
                facing: facing(&first),
            },
            HeldAt {
                position: last.r,
                facing: facing(&last),
            },
        ],
        directors: (
            twist::any_across(&first.t.normalize()),
            twist::any_across(&last.t.normalize()),
        ),
    };
    let mut state = State {
        end: vec![0.0; nodes.len()],
        middle: vec![0.0; nodes.len() - 1],
        pole: twist::pole(
            nodes.iter().map(|n| n.t),
            None,
            &[Vector3::x(), Vector3::y(), Vector3::z()],
        ),
        nodes,
        moment: 0.0,
        angle: 0.0,
        slid: Vec::new(),
    };
    strand.strain_multipliers(&mut state);
    state.angle = strand.twist_angle(&state, &target);
    state.moment = state.angle * 0.0027 / length;
    (strand, state, target)
}

fn flat(sixes: &[Six]) -> DVector<f64> {
    DVector::from_iterator(6 * sixes.len(), sixes.iter().flatten().copied())
}

/// Chain plus the border's rank-one term: the second derivative with the twist following the shape.
#[test]
fn whole_strand_with_its_border() {
    let (strand, state, target) = strand(5);
    let compliance = strand.compliance.unwrap();
    let held = state.clone();
    let moved = |i: usize, by: f64| {
        let mut moved = held.clone();
        let node = &mut moved.nodes[i / 6];
        if i % 6 < 3 {
            node.r[i % 6] += by;
        } else {
            node.t[i % 6 - 3] += by;
        }
        moved
    };
    // Gradient with tension and twist following the shape, the bending's stretch held.
    let gradient = |state: &State| {
        let mut state = state.clone();
        state.moment = strand.twist_angle(&state, &target) / compliance;
        let (mut force, mut missing) = (Vec::new(), Vec::new());
        strand.forces(&state, &[], &mut force, &mut missing);
        flat(&force) + flat(&missing)
    };
    let energy = |state: &State| strand.energy(state, &target, None);
    let mut chain = Chain::default();
    strand.stiffness(&state, &[], &mut chain);
    let mut turn = Vec::new();
    strand.twist_gradient(&state, &mut turn);
    let turn = flat(&turn);
    let full = dense(&chain) + &turn * turn.transpose() / compliance;
    let exact = gradient(&state);
    // The ends are held: their tangents count the twist, so they stay out.
    let free = 6..6 * (strand.at.len() - 1);
    for i in free.clone() {
        let step = if i % 6 < 3 { 3e-6 } else { 1e-4 };
        let e = |by: f64| energy(&moved(i, by * step));
        let by_energy = (e(-2.0) - 8.0 * e(-1.0) + 8.0 * e(1.0) - e(2.0)) / (12.0 * step);
        let scale = free
            .clone()
            .filter(|k| (k % 6 < 3) == (i % 6 < 3))
            .map(|k| exact[k].abs())
            .fold(0.0, f64::max);
        assert!(
            (by_energy - exact[i]).abs() < TOLERANCE * scale,
            "gradient {i}: {by_energy} for {}",
            exact[i]
        );
        let g = |by: f64| gradient(&moved(i, by * step));
        let column = (g(-2.0) - g(-1.0) * 8.0 + g(1.0) * 8.0 - g(2.0)) / (12.0 * step);
        for k in free.clone() {
            let scale = free
                .clone()
                .filter(|m| (m % 6 < 3) == (k % 6 < 3))
                .map(|m| full[(m, i)].abs())
                .fold(0.0, f64::max);
            assert!(
                (column[k] - full[(k, i)]).abs() < TOLERANCE * scale,
                "Hessian {k}, {i}: {} for {}",
                column[k],
                full[(k, i)]
            );
        }
    }
}

/// Any symmetric chain, of any inertia.
fn arbitrary(numbers: &mut Numbers, nodes: usize, shift: f64) -> Chain {
    let mut chain = Chain::default();
    chain.begin(nodes);
    for block in &mut chain.diagonal {
        *block = ZERO;
        for c in 0..6 {
            for r in 0..=c {
                let x = numbers.next();
                block[c][r] = x;
                block[r][c] = x;
            }
            block[c][c] += shift;
        }
    }
    for block in &mut chain.below {
        for column in block.iter_mut() {
            column.iter_mut().for_each(|x| *x = numbers.next());
        }
    }
    chain
}

#[test]
fn factorisation_against_a_dense_one() {
    let mut numbers = Numbers(7);
    for nodes in [1, 2, 3, 10] {
        for shift in [0.0, 1.0, 3.0, 10.0] {
            for _ in 0..5 {
                let chain = arbitrary(&mut numbers, nodes, shift);
                let full = dense(&chain);
                let mut factor = Factor::default();
                chain.factorise((0.0, 0.0), &mut factor);
                let eigenvalues = full.clone().symmetric_eigenvalues();
                let below = eigenvalues.iter().filter(|x| **x < 0.0).count();
                assert_eq!(
                    factor.negative, below,
                    "inertia, {nodes} nodes, shift {shift}"
                );
                let mut y: Vec<Six> = (0..nodes)
                    .map(|_| std::array::from_fn(|_| numbers.next()))
                    .collect();
                let right = flat(&y);
                factor.solve([&mut y]);
                let want = full.clone().lu().solve(&right).unwrap();
                let got = flat(&y);
                // Without pivoting an indefinite matrix loses some digits.
                let allowed = if below == 0 { 1e-11 } else { 1e-6 };
                assert!(
                    (&got - &want).norm() < allowed * want.norm(),
                    "{nodes} nodes, shift {shift}: {:e}",
                    (got - &want).norm() / want.norm()
                );
            }
        }
    }
}

/// The matrix of a strand with its fixings held, stable and (pushed together) not.
#[test]
fn inertia_of_a_strand() {
    for (squeeze, saddle) in [(0.0, false), (-60.0, true)] {
        let (strand, mut state, target) = strand(8);
        state.moment = 0.0;
        state
            .end
            .iter_mut()
            .chain(&mut state.middle)
            .for_each(|l| *l = squeeze);
        let mut chain = Chain::default();
        strand.stiffness(&state, &[], &mut chain);
        strand.hold(&target, &mut chain);
        let full = dense(&chain);
        let mut factor = Factor::default();
        chain.factorise((0.0, 0.0), &mut factor);
        let below = full
            .symmetric_eigenvalues()
            .iter()
            .filter(|x| **x < 0.0)
            .count();
        assert_eq!(factor.negative, below);
        assert_eq!(below > 0, saddle, "{below}");
    }
}
