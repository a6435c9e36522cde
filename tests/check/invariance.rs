//! The same machine stood elsewhere, turned about the vertical, mirrored, in inches: the same findings. Only gravity
//! tells a direction, so nothing may change but words that name sides.

use nalgebra::{Rotation3, Vector3};
use neckloom::check::{Finding, Options, check};
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};

/// How the machine is written down.
#[derive(Clone, Copy)]
pub(super) struct Written {
    turned: f64,
    moved: [f64; 3],
    mirrored: bool,
    inch: bool,
}

pub(super) const PLAIN: Written = Written {
    turned: 0.0,
    moved: [0.0; 3],
    mirrored: false,
    inch: false,
};

impl Written {
    fn vector(self, [x, y, z]: [f64; 3]) -> Vector3<f64> {
        let y = if self.mirrored { -y } else { y };
        Rotation3::from_axis_angle(&Vector3::z_axis(), self.turned) * Vector3::new(x, y, z)
    }

    fn length(self, mm: f64) -> f64 {
        if self.inch { mm / 25.4 } else { mm }
    }

    fn at(self, place: [f64; 3]) -> String {
        let p = (self.vector(place) + Vector3::from(self.moved)).map(|mm| self.length(mm));
        format!("({}, {}, {})", p.x, p.y, p.z)
    }

    fn along(self, direction: [f64; 3]) -> String {
        let d = self.vector(direction);
        format!("({}, {}, {})", d.x, d.y, d.z)
    }

    /// An invented machine: a steering with unlike stops, a seat that comes down, a hot pipe, a tank, a loom with a
    /// breakout and a grommet.
    pub(super) fn route(self) -> String {
        let (at, along, mm) = (
            |p| self.at(p),
            |d| self.along(d),
            |value: f64| self.length(value),
        );
        let (from, to) = if self.mirrored { (-31, 38) } else { (-38, 31) };
        let rake = 27_f64.to_radians();
        format!(
            "(format: 1, title: \"stands anywhere (invented)\", units: (length: \"{}\", temperature: \"degC\"), tolerance: {},
             bodies: {{
                \"frame\": Fixed,
                \"steering\": Turns(on: \"frame\", through: {}, axis: {}, from: \"{from} deg\", to: \"{to} deg\"),
                \"seat\": Slides(on: \"frame\", along: {}, from: 0, to: {}),
             }},
             parts: [
                (name: \"head tube\", on: \"frame\", shape: Cylinder(from: {}, to: {}, diameter: {})),
                (name: \"backbone\", on: \"frame\", shape: Tube(along: [{}, {}], diameter: {})),
                (name: \"header\", on: \"frame\", surface: \"350 degC\", shape: Tube(along: [{}, {}, {}], diameter: {})),
                (name: \"seat pan\", on: \"seat\", shape: Tube(along: [{}, {}], diameter: {})),
                (name: \"tank\", on: \"frame\", shape: Ball(centre: {}, diameter: {})),
             ],
             wires: {{
                \"low beam\": (size: \"1 mm2\", strands: 32, outside: {}, class: \"C\", runs: [\"loom\", \"neck\"]),
                \"horn\": (size: \"0.75 mm2\", strands: 24, outside: {}, class: \"C\", runs: [\"loom\", \"stub\"]),
             }},
             branches: [
                (name: \"loom\", diameter: {}, lay: [
                    Clamp(name: \"K1\", on: \"frame\", at: {}, facing: {}),
                    Tie(name: \"T1\", on: \"frame\", at: {}, width: {}, pull: \"20 N\", slack: {}),
                    Breakout(name: \"Y\", at: {}, slack: {}, branches: [\"neck\", \"stub\"]),
                ]),
                (name: \"neck\", diameter: {}, lay: [
                    Clamp(name: \"K2\", on: \"frame\", at: {}, facing: {}, slack: {}),
                    Connector(name: \"switch\", on: \"steering\", at: {}, facing: {}, length: {}),
                ]),
                (name: \"stub\", diameter: {}, lay: [
                    Tie(name: \"T2\", on: \"frame\", at: {}, slack: {}),
                ]),
             ])",
            if self.inch { "in" } else { "mm" },
            mm(2.0),
            at([0.0, 0.0, 0.0]),
            along([-rake.sin(), 0.0, rake.cos()]),
            along([0.0, 0.0, -1.0]),
            mm(8.0),
            at([5.0, 0.0, -10.0]),
            at([68.0, 0.0, -134.0]),
            mm(46.0),
            at([45.0, 0.0, -95.0]),
            at([-430.0, 0.0, -70.0]),
            mm(44.0),
            at([-420.0, 110.0, -190.0]),
            at([-250.0, 110.0, -160.0]),
            at([-120.0, 90.0, -320.0]),
            mm(42.0),
            at([-430.0, 60.0, 30.0]),
            at([-280.0, 60.0, 30.0]),
            mm(20.0),
            at([-180.0, 160.0, 60.0]),
            mm(90.0),
            mm(2.1),
            mm(1.9),
            mm(8.0),
            at([-420.0, 40.0, -40.0]),
            along([1.0, 0.05, 0.02]),
            at([-330.0, 45.0, -38.0]),
            mm(4.8),
            mm(2.0),
            at([-245.0, 42.0, -42.0]),
            mm(3.0),
            mm(6.5),
            at([-165.0, 27.0, -46.0]),
            along([1.0, -0.36, 0.11]),
            mm(3.0),
            at([-46.0, 5.0, 104.0]),
            along([0.0, 0.14, 0.99]),
            mm(219.0),
            mm(4.0),
            at([-180.0, 95.0, -60.0]),
            mm(6.0),
        )
    }

    fn findings(self) -> Vec<Finding> {
        let route = route_text(&self.route(), "anywhere.ron").unwrap_or_else(|why| panic!("{why}"));
        let solution = solve(&route, &Settings::default());
        let options = Options {
            spread: false,
            ..Options::default()
        };
        let mut findings = check(&route, &solution, &options).findings;
        findings
            .sort_by(|a, b| (a.check, &a.subject, a.branch).cmp(&(b.check, &b.subject, b.branch)));
        findings
    }
}

#[test]
fn the_same_findings_wherever_and_however_it_is_written() {
    let plain = PLAIN.findings();
    assert!(plain.len() > 15, "{}", plain.len());
    let others = [
        (
            "in inches",
            Written {
                inch: true,
                ..PLAIN
            },
        ),
        (
            "10 m away",
            Written {
                moved: [10e3, -4e3, 2e3],
                ..PLAIN
            },
        ),
        (
            "turned",
            Written {
                turned: 1.234,
                ..PLAIN
            },
        ),
        (
            "mirrored",
            Written {
                mirrored: true,
                ..PLAIN
            },
        ),
        (
            "all of it",
            Written {
                turned: -2.5,
                moved: [-3e3, 7e3, 10e3],
                mirrored: true,
                inch: true,
            },
        ),
    ];
    for (how, written) in others {
        let other = written.findings();
        let names = |all: &[Finding]| -> Vec<String> {
            all.iter()
                .map(|f| format!("{} {}", f.check, f.subject))
                .collect()
        };
        assert_eq!(names(&plain), names(&other), "{how}");
        for (a, b) in plain.iter().zip(&other) {
            let same = |x: f64, y: f64| {
                x.total_cmp(&y).is_eq() || (x - y).abs() <= 1e-6 * x.abs().max(y.abs()).max(1e-3)
            };
            assert!(
                same(a.value, b.value) && same(a.limit, b.limit) && a.verdict == b.verdict,
                "{how}: {} {}: {} of {}, and {} of {}",
                a.check,
                a.subject,
                a.value,
                a.limit,
                b.value,
                b.limit
            );
        }
    }
}
