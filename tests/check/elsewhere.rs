//! Every machine that comes with the program, stood elsewhere, turned about the vertical or seen in a mirror: every number
//! of its report is the same.

use nalgebra::{Matrix3, Point3, Reflection3, Rotation3, UnitQuaternion, UnitVector3, Vector3};
use neckloom::check::{Finding, Options, check};
use neckloom::geometry::Shape;
use neckloom::machine::Joint;
use neckloom::rod::{Settings, solve};
use neckloom::route::Route;

use super::demos::demos;
use crate::geometry::Random;

/// Where a machine stands: turned about the vertical \[rad\], then moved \[m\]; mirrored left to right before that.
#[derive(Debug, Clone, Copy)]
struct Stood {
    turned: f64,
    moved: [f64; 3],
    mirrored: bool,
}

impl Stood {
    fn matrix(self) -> Matrix3<f64> {
        let mut matrix = Matrix3::identity();
        if self.mirrored {
            Reflection3::new(Vector3::y_axis(), 0.0).reflect(&mut matrix);
        }
        Rotation3::from_axis_angle(&Vector3::z_axis(), self.turned) * matrix
    }

    fn point(self, point: &mut Point3<f64>) {
        *point = Point3::from(self.matrix() * point.coords + Vector3::from(self.moved));
    }

    fn direction(self, direction: &mut UnitVector3<f64>) {
        *direction = UnitVector3::new_normalize(self.matrix() * direction.into_inner());
    }

    fn shape(self, shape: &mut Shape) {
        match shape {
            Shape::Tube { along, .. } => along.iter_mut().for_each(|point| self.point(point)),
            Shape::Ball { centre, .. } => self.point(centre),
            Shape::Cylinder { from, to, .. } => [from, to].into_iter().for_each(|p| self.point(p)),
            Shape::Block { centre, turned, .. } => {
                self.point(centre);
                let mut axes = self.matrix() * turned.matrix();
                // Of the axes of a box each may as well look the other way.
                if self.mirrored {
                    axes.column_mut(2).neg_mut();
                }
                *turned = Rotation3::from_matrix_unchecked(axes);
            }
            Shape::Scan(scan) => {
                assert!(
                    !self.mirrored,
                    "a scan cannot be mirrored by standing elsewhere"
                );
                let turn = UnitQuaternion::from_axis_angle(&Vector3::z_axis(), self.turned);
                scan.placed = turn * scan.placed;
                scan.placed.translation.vector += Vector3::from(self.moved);
            }
        }
    }

    /// The route as it is measured there.
    fn route(self, route: &Route) -> Route {
        let mut route = route.clone();
        for place in &mut route.places {
            self.point(&mut place.at);
        }
        for part in &mut route.machine.parts {
            self.shape(&mut part.shape);
        }
        for body in &mut route.machine.bodies {
            match &mut body.joint {
                Joint::Fixed => {}
                Joint::Slides { along, .. } => self.direction(along),
                Joint::Turns { through, axis, .. } => {
                    self.point(through);
                    self.direction(axis);
                    // In a mirror what turns to the left turns to the right.
                    if self.mirrored {
                        *axis = -*axis;
                    }
                }
            }
        }
        for lay in route.branches.iter_mut().flat_map(|branch| &mut branch.lay) {
            if let Some(facing) = &mut lay.fixing.facing {
                self.direction(facing);
            }
        }
        route
    }
}

fn has_scan(route: &Route) -> bool {
    let mut parts = route.machine.parts.iter();
    parts.any(|part| matches!(part.shape, Shape::Scan(_)))
}

fn findings(route: &Route, spread: bool) -> Vec<Finding> {
    let options = Options {
        spread,
        charts: false,
        ..Options::default()
    };
    let mut findings = check(route, &solve(route, &Settings::default()), &options).findings;
    findings.sort_by(|a, b| (a.check, &a.subject, a.branch).cmp(&(b.check, &b.subject, b.branch)));
    findings
}

/// Spreads may differ by this part of themselves: what is nudged is followed to some parts in a thousand of the nudge, and
/// rounding may decide whether one step more is taken. Below the same part of the limit nobody sees them.
const SPREAD: f64 = 0.05;

/// What differs by more than this part of the value, or of the limit where that is greater.
fn differences(one: &[Finding], two: &[Finding], tolerance: f64) -> Vec<String> {
    if one.len() != two.len() {
        return vec![format!("{} findings, {}", one.len(), two.len())];
    }
    let mut off = Vec::new();
    for (a, b) in one.iter().zip(two) {
        let scale = a.value.abs().max(a.limit.abs());
        let same = |x: f64, y: f64| x.total_cmp(&y).is_eq() || (x - y).abs() <= tolerance * scale;
        let named = (a.check, &a.subject, a.branch) == (b.check, &b.subject, b.branch);
        let spread = match (a.spread, b.spread) {
            (Some(x), Some(y)) => {
                x.total_cmp(&y).is_eq() || (x - y).abs() <= SPREAD * x.max(y).max(SPREAD * scale)
            }
            (x, y) => x.is_none() && y.is_none(),
        };
        if !(named && same(a.value, b.value) && same(a.limit, b.limit) && spread)
            || a.verdict != b.verdict
        {
            off.push(format!(
                "{} {}: {} (of {}, ±{:?}), {} (of {}, ±{:?}): {:.1e}",
                a.check,
                a.subject,
                a.value,
                a.limit,
                a.spread,
                b.value,
                b.limit,
                b.spread,
                (a.value - b.value).abs() / scale
            ));
        }
    }
    off
}

#[test]
fn every_machine_may_stand_anywhere() {
    let mut off = Vec::new();
    for (name, route) in demos() {
        // Those that look like machines; the others have one branch of the same. The largest would take as long as all.
        let machine = name.contains("tourer") || name.contains("off_road");
        let spread = machine && !name.contains("whole_harness");
        let plain = findings(&route, spread);
        for (how, stood) in [
            (
                "10 m away",
                Stood {
                    turned: 0.0,
                    moved: [10.0, -4.0, 2.0],
                    mirrored: false,
                },
            ),
            (
                "turned",
                Stood {
                    turned: 1.234,
                    moved: [0.0; 3],
                    mirrored: false,
                },
            ),
            (
                "mirrored",
                Stood {
                    turned: 0.0,
                    moved: [0.0; 3],
                    mirrored: true,
                },
            ),
        ] {
            if stood.mirrored && has_scan(&route) {
                continue;
            }
            let other = findings(&stood.route(&route), spread);
            off.extend(
                differences(&plain, &other, 1e-6)
                    .into_iter()
                    .map(|off| format!("{name} {how}: {off}")),
            );
        }
    }
    assert!(off.is_empty(), "{} off:\n{}", off.len(), off.join("\n"));
}

/// Far from where its places are counted from, rounding of them leaves forces in a squeezed branch that no step takes away:
/// what is found at home is found there too, however the places were measured.
#[test]
fn what_is_squeezed_is_found_far_away_too() {
    let (_, route) = demos()
        .into_iter()
        .find(|(name, _)| name == "pinch_over")
        .unwrap();
    let far = Stood {
        turned: 0.0,
        moved: [9.08, -2.35, 0.0],
        mirrored: false,
    };
    let mut random = Random::new(7);
    for measured in 0..24 {
        let mut route = route.clone();
        for place in &mut route.places {
            place.at += random.point(0.006).coords;
        }
        let (here, there) = (findings(&route, false), findings(&far.route(&route), false));
        let off = differences(&here, &there, 1e-6);
        assert!(off.is_empty(), "{measured}: {off:?}");
    }
}

/// Branches that hang together have many ways to rest; which one it is hangs on how they were measured, never on where the
/// machine stood while they were.
#[test]
fn what_hangs_together_rests_alike_elsewhere() {
    let (_, route) = demos()
        .into_iter()
        .find(|(name, _)| name == "tourer_whole_harness")
        .unwrap();
    let mut random = Random::new(11);
    let mut off = Vec::new();
    for measured in 0..12 {
        let mut route = route.clone();
        for place in &mut route.places {
            place.at += random.vector(0.002);
        }
        let moved = Stood {
            turned: 0.0,
            moved: random.vector(10.0).into(),
            mirrored: false,
        };
        let turned = Stood {
            turned: random.between(-3.0, 3.0),
            moved: [0.0; 3],
            mirrored: false,
        };
        let plain = findings(&route, false);
        for stood in [moved, turned] {
            let other = findings(&stood.route(&route), false);
            off.extend(
                differences(&plain, &other, 1e-6)
                    .into_iter()
                    .map(|off| format!("{measured}, {stood:?}: {off}")),
            );
        }
    }
    assert!(off.is_empty(), "{} off:\n{}", off.len(), off.join("\n"));
}
