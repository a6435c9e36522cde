//! The spread against chance itself: positions drawn at random, the machine solved and checked anew for each draw
//! (propagation of distributions by a Monte Carlo method: JCGM 101:2008, 7).

use std::collections::BTreeMap;

use nalgebra::Vector3;
use neckloom::check::{Finding, Options, check};
use neckloom::geometry::Shape;
use neckloom::machine::Joint;
use neckloom::read::route_file;
use neckloom::rod::{Settings, solve};
use neckloom::route::Route;

use crate::geometry::Random;

/// Three independent coordinates, normally distributed.
fn off(random: &mut Random, deviation: f64) -> Vector3<f64> {
    Vector3::from_fn(|_, _| random.normal()) * deviation
}

/// The machine as somebody else might have measured it.
fn measured_again(route: &Route, random: &mut Random) -> Route {
    let mut route = route.clone();
    let deviation = route.tolerance;
    for place in &mut route.places {
        place.at += off(random, deviation);
    }
    for part in &mut route.machine.parts {
        let by = off(random, deviation);
        match &mut part.shape {
            Shape::Tube { along, .. } => along.iter_mut().for_each(|point| *point += by),
            Shape::Block { centre, .. } | Shape::Ball { centre, .. } => *centre += by,
            Shape::Cylinder { from, to, .. } => {
                *from += by;
                *to += by;
            }
            Shape::Scan(scan) => scan.placed.translation.vector += by,
        }
    }
    for body in &mut route.machine.bodies {
        if let Joint::Turns { through, .. } = &mut body.joint {
            *through += off(random, deviation);
        }
    }
    route
}

fn told(route: &Route, spread: bool) -> Vec<Finding> {
    let options = Options {
        spread,
        charts: false,
        ..Options::default()
    };
    check(route, &solve(route, &Settings::default()), &options).findings
}

/// Half of what holds the middle 68 % of the draws.
fn half_of_the_middle(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let last = sorted.len() - 1;
    0.5 * (sorted[last * 84 / 100] - sorted[last * 16 / 100])
}

/// Distances to parts and slack follow in proportion. A radius does so as long as the branch lies free, and draws in which it
/// comes to lie against another part are none of the first order's business: of radii the middle one counts.
#[test]
fn the_spread_is_what_chance_makes_of_it() {
    // So many draws tell the half width to some 15 %.
    const DRAWS: u64 = 60;
    let route = route_file("routes/tourer_stock.ron".as_ref()).unwrap();
    let mut values: BTreeMap<(&str, String, usize), Vec<f64>> = BTreeMap::new();
    for draw in 0..DRAWS {
        let again = measured_again(&route, &mut Random::new(draw));
        for finding in told(&again, false) {
            let key = (finding.check, finding.subject, finding.branch.0);
            values.entry(key).or_default().push(finding.value);
        }
    }
    let (mut distances, mut radii) = (0, Vec::new());
    for finding in told(&route, true) {
        let key = (finding.check, finding.subject.clone(), finding.branch.0);
        let (Some(spread), Some(values)) = (finding.spread, values.get(&key)) else {
            continue;
        };
        if spread < 1e-3 * finding.limit.abs() {
            continue;
        }
        let ratio = spread / half_of_the_middle(values);
        match finding.check {
            "heat distance" | "snag" | "elongation" => {
                distances += 1;
                let what = format!("{} {}", finding.check, finding.subject);
                assert!(
                    (0.6..1.6).contains(&ratio),
                    "{what}: {ratio} of what is drawn"
                );
            }
            "bend radius" => radii.push(ratio),
            _ => {}
        }
    }
    radii.sort_by(f64::total_cmp);
    let middle = radii[radii.len() / 2];
    assert!(
        distances > 10 && radii.len() > 15,
        "{distances} {}",
        radii.len()
    );
    assert!(
        (0.8..1.25).contains(&middle),
        "{middle} of what is drawn: {radii:?}"
    );
}
