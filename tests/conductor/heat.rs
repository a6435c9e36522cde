//! Radiation, air and balance against published values and closed forms.

use nalgebra::{Point3, Vector3};
use neckloom::conductor::heat::{
    Around, Hot, Rays, Viewer, ageing, air_at, clamped, core, forced_cylinder, forced_film,
    natural_cylinder, natural_film, parallel_cylinders, plume, seen, seen_at_most, steady,
};
use neckloom::geometry::Shape;
use neckloom::machine::{PartId, Surroundings};

use crate::check::hand::{FRAME, machine, part};

/// W26: Churchill & Chu (1975), Pr 0.7.
#[test]
fn a_level_cylinder_in_standing_air() {
    for (rayleigh, nusselt) in [
        (1.0, 0.848_098_1),
        (1e2, 1.667_731),
        (1e3, 2.607_727),
        (1e4, 4.366_387),
        (1e5, 7.764_132),
        (1e6, 14.510_19),
        (1e8, 56.461_16),
    ] {
        let got = natural_cylinder(rayleigh, 0.7);
        assert!((got / nusselt - 1.0).abs() < 1e-5, "{rayleigh}: {got}");
    }
}

/// W27: Incropera, example 9.4 (from memory): a steam pipe of 0.1 m at 165 °C in a room of 23 °C, emissivity 0.85: 325
/// W/m by air and 441 W/m by radiation. The number of Nusselt with the book's air; the losses with ours.
#[test]
fn a_steam_pipe() {
    let rayleigh = 9.8 * 2.725e-3 * 142.0 * 1e-3 / (22.8e-6 * 32.8e-6);
    assert!((rayleigh / 5.073e6 - 1.0_f64).abs() < 1e-3);
    assert!((natural_cylinder(rayleigh, 0.697) - 23.3).abs() < 0.35);
    let area = std::f64::consts::PI * 0.1;
    let by_air = natural_film(0.1, 165.0, 23.0) * area * 142.0;
    assert!((by_air / 325.0 - 1.0).abs() < 0.03, "{by_air}");
    // What the balance lets out: heated by that much current it stands at that temperature.
    let pipe = Around {
        diameter: 0.1,
        emissivity: 0.85,
        air: 23.0,
        surroundings: 23.0,
        speed: 0.0,
        joule: 325.0 + 441.0,
        hot: Vec::new(),
        film: None,
    };
    assert!((steady(&pipe) - 165.0).abs() < 1.5, "{}", steady(&pipe));
}

/// Incropera, table A.4 (from memory): air at 300 K and 350 K. Example 7.4: 10 m/s across 12.7 mm, Re 6071, Pr 0.700:
/// Nu 40.6 by Churchill & Bernstein.
#[test]
fn air_that_blows() {
    for (kelvin, viscosity, conductivity, prandtl) in [
        (300.0, 15.89e-6, 26.3e-3, 0.707),
        (350.0, 20.92e-6, 30.0e-3, 0.700),
    ] {
        let air = air_at(kelvin - 273.15);
        assert!((air.viscosity / viscosity - 1.0).abs() < 0.02, "{air:?}");
        assert!(
            (air.conductivity / conductivity - 1.0).abs() < 0.015,
            "{air:?}"
        );
        assert!((air.prandtl / prandtl - 1.0).abs() < 0.025, "{air:?}");
    }
    assert!((forced_cylinder(6071.0, 0.700) - 40.6).abs() < 0.2);
    let film = forced_film(12.7e-3, 128.4, 26.2, 10.0);
    assert!((film / 96.0 - 1.0).abs() < 0.03, "{film}");
    assert!(forced_film(8e-3, 60.0, 40.0, 0.0) >= natural_film(8e-3, 60.0, 40.0));
}

/// W29, W30: crossed strings.
#[test]
fn parallel_cylinders_see_each_other() {
    for (x, view) in [
        (1.0, 0.181_690_11),
        (1.5, 0.110_695_97),
        (2.0, 0.081_375_79),
        (5.0, 0.031_938_39),
    ] {
        let got = parallel_cylinders(1.0, 1.0, 2.0 * (x - 1.0));
        assert!((got - view).abs() < 1e-7, "{x}: {got}");
    }
    for (gap, view) in [
        (0.0, 0.306_131_1),
        (10.0, 0.194_758_8),
        (25.0, 0.131_267_5),
        (50.0, 0.085_992_68),
        (100.0, 0.051_163_55),
    ] {
        let got = parallel_cylinders(5.0, 20.0, gap);
        assert!((got - view).abs() < 1e-6, "{gap}: {got}");
        // Both see the same: r₁F₁₂ = r₂F₂₁.
        assert!((5.0 * got - 20.0 * parallel_cylinders(20.0, 5.0, gap)).abs() < 1e-9);
    }
}

/// From a bundle that lies `round` the pipe from its upper side.
fn pipe(gap: f64, round: f64, shield: bool) -> Vec<f64> {
    let mut machine = machine(30.0);
    let along = vec![Point3::new(-3.0, 0.0, 0.0), Point3::new(3.0, 0.0, 0.0)];
    machine.parts.push(part(
        "pipe",
        FRAME,
        Shape::Tube {
            along,
            diameter: 0.040,
        },
    ));
    if shield {
        let centre = Point3::new(0.0, 0.0, 0.020 + 0.5 * gap);
        let slab = Shape::slab(centre, Vector3::z(), Vector3::x(), 6.0, 6.0, 1e-3);
        machine
            .parts
            .push(part("shield", FRAME, slab.expect("a slab")));
    }
    let surroundings = Surroundings::new(&machine);
    let stance = machine.stance(&[0.0, 0.0]);
    let away = 0.020 + gap + 0.005;
    let at = Point3::new(0.0, away * round.sin(), away * round.cos());
    let viewer = Viewer {
        at,
        along: Vector3::x(),
        radius: 0.005,
    };
    let hot = [PartId(0)];
    let most = seen_at_most(&surroundings, &stance, &viewer, &hot)[0];
    [2048, 8192]
        .map(|rays| {
            let view = seen(&surroundings, &stance, &viewer, &hot, &Rays::new(rays))[0];
            assert!(view <= most, "{gap}, {round}: {view} of at most {most}");
            view
        })
        .to_vec()
}

/// No more is seen of a short or round part than what is said to be the most, which is not far off for a ball far away
/// that is seen from the side.
#[test]
fn no_more_is_seen_than_the_most() {
    let near = |shape: &dyn Fn() -> Shape, at: Point3<f64>, along: Vector3<f64>| {
        let mut machine = machine(30.0);
        machine.parts.push(part("hot", FRAME, shape()));
        let surroundings = Surroundings::new(&machine);
        let stance = machine.stance(&[0.0, 0.0]);
        let radius = 0.005;
        let viewer = Viewer { at, along, radius };
        let hot = [PartId(machine.parts.len() - 1)];
        let view = seen(&surroundings, &stance, &viewer, &hot, &Rays::new(8192))[0];
        let most = seen_at_most(&surroundings, &stance, &viewer, &hot)[0];
        assert!(view <= most, "{at}, {along}: {view} of at most {most}");
        view / most
    };
    let ball = || Shape::Ball {
        centre: Point3::origin(),
        diameter: 0.1,
    };
    let stub = || Shape::Cylinder {
        from: Point3::new(-0.03, 0.0, 0.0),
        to: Point3::new(0.03, 0.0, 0.0),
        diameter: 0.04,
    };
    let bent = || Shape::Tube {
        along: vec![
            Point3::new(-0.5, 0.0, 0.1),
            Point3::new(0.0, 0.0, 0.0),
            Point3::new(0.3, -0.2, 0.0),
        ],
        diameter: 0.04,
    };
    let mut best = 0.0_f64;
    for far in [0.06, 0.1, 0.25, 1.0] {
        for turn in [0.0, 0.4, 1.2, 1.57] {
            let along = Vector3::new(f64::cos(turn), f64::sin(turn), 0.0);
            let at = Point3::new(0.0, far, 0.0);
            best = best.max(near(&ball, at, along));
            near(&stub, at, along);
            near(&bent, at, along);
        }
    }
    assert!(best > 0.7, "{best}");
}

/// Rays against crossed strings, on a pipe of 6 m; and nothing is seen through a shield.
#[test]
fn rays_see_what_crossed_strings_tell() {
    for gap in [0.010, 0.025, 0.050, 0.100] {
        let exact = parallel_cylinders(0.005, 0.020, gap);
        for round in [0.0, 0.7, 1.5, 2.0, 3.1] {
            let [few, many] = pipe(gap, round, false)[..] else {
                panic!()
            };
            for (seen, most) in [(few, 0.06), (many, 0.01)] {
                let off = seen / exact - 1.0;
                assert!(
                    off.abs() < most,
                    "{gap}, {round}: {seen}, exact {exact}, off {off:.4}"
                );
            }
        }
    }
    assert!(pipe(0.025, 0.0, true).iter().all(|view| *view < 1e-12));
}

/// W31, W32: a bundle of emissivity 0.9 beside a black pipe, h 10, 40 °C about (closed form, solved by itself).
#[test]
fn a_bundle_beside_a_hot_pipe() {
    let at = |gap: f64, surface: f64| {
        let view = parallel_cylinders(5.0, 20.0, gap);
        steady(&Around {
            diameter: 10e-3,
            emissivity: 0.9,
            air: 40.0,
            surroundings: 40.0,
            speed: 0.0,
            joule: 0.0,
            hot: vec![Hot {
                view,
                surface,
                emissivity: 1.0,
            }],
            film: Some(10.0),
        })
    };
    for (gap, wanted) in [
        (10.0, 137.90),
        (25.0, 110.09),
        (50.0, 88.08),
        (100.0, 69.68),
    ] {
        let got = at(gap, 400.0);
        assert!((got - wanted).abs() < 0.05, "{gap} mm: {got}");
    }
    for (surface, wanted) in [(200.0, 56.18), (300.0, 77.65), (500.0, 153.27)] {
        let got = at(25.0, surface);
        assert!((got - wanted).abs() < 0.05, "{surface} °C: {got}");
    }
}

/// W34: 3000 h at 125 °C are 12 000 h at 105 °C by the 10 K rule.
#[test]
fn ageing_by_the_halving_interval() {
    assert!((3000.0 * ageing(125.0, 105.0, 10.0) - 12_000.0).abs() < 1e-9);
    assert!((ageing(125.0, 125.0, 8.0) - 1.0).abs() < 1e-15);
}

#[test]
fn a_clamp_lies_between_part_and_air_and_current_warms_the_middle() {
    for copper in [1e-7, 1e-6, 1e-5, 1e-4] {
        let warm = clamped(200.0, 40.0, 8e-3, 12e-3, copper);
        assert!((40.0..200.0).contains(&warm), "{warm}");
    }
    assert!(clamped(200.0, 40.0, 8e-3, 12e-3, 1e-6) > clamped(200.0, 40.0, 8e-3, 12e-3, 1e-5));
    assert!((core(4.0 * std::f64::consts::PI * 0.2) - 1.0).abs() < 1e-12);
}

#[test]
fn air_rises_over_what_is_hot() {
    let rise = |above: f64, aside: f64| plume(above, aside, 0.04, 350.0, 40.0);
    assert!(rise(0.05, 0.0) > rise(0.10, 0.0) && rise(0.10, 0.0) > rise(0.30, 0.0));
    assert!(rise(0.10, 0.05) < 0.3 * rise(0.10, 0.0));
    assert!(rise(-0.05, 0.0).abs() < 1e-12 && plume(0.1, 0.0, 0.04, 30.0, 40.0).abs() < 1e-12);
    assert!(rise(0.001, 0.0) <= 310.0);
    // Some tens of kelvin a hand's breadth over an exhaust, none an arm's length away.
    assert!(
        (15.0..90.0).contains(&rise(0.10, 0.0)),
        "{}",
        rise(0.10, 0.0)
    );
}
