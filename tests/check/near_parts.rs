//! Gaps to hot parts and between parts, against distances that are known exactly.

use nalgebra::{Point3, Rotation3, Vector3};
use neckloom::check::Verdict;
use neckloom::geometry::Shape;

use super::hand::{
    FRAME, STEERING, checked, checked_with_spread, finding, machine, part, route, straight, tie,
};

/// A straight branch of 10 mm along x at the height z = 0.
fn along_x() -> neckloom::route::Route {
    route(
        machine(30.0),
        10.0,
        vec![
            tie("T1", FRAME, [0.0; 3]),
            tie("T2", FRAME, [250.0, 0.0, 0.0]),
        ],
    )
}

fn plate(z_mm: f64) -> Shape {
    Shape::Block {
        centre: Point3::new(0.125, 0.0, z_mm * 1e-3),
        size: Vector3::new(0.05, 0.1, 0.004),
        turned: Rotation3::identity(),
    }
}

#[test]
fn the_gap_to_a_hot_part_is_from_surface_to_surface() {
    let mut route = along_x();
    let mut header = part(
        "rear header",
        FRAME,
        Shape::Tube {
            along: vec![Point3::new(0.1, 0.06, -0.1), Point3::new(0.1, 0.06, 0.1)],
            diameter: 0.048,
        },
    );
    header.surface = Some(300.0);
    route.machine.parts.push(header);
    let findings = checked(&route, &straight(&route));
    let heat = finding(&findings, "heat distance", "rear header");
    // 60 − 24 − 5 = 31 mm, at 100 mm along the branch; 50 mm are asked for at 300 °C.
    assert!((heat.value * 1e3 - 31.0).abs() < 1e-4, "{}", heat.value);
    assert!((heat.at * 1e3 - 100.0).abs() < 0.1, "{}", heat.at);
    assert_eq!((heat.verdict, heat.pose), (Verdict::Over, 0));
    assert!((heat.limit * 1e3 - 50.0).abs() < 1e-9);
    assert!(heat.advice.contains("19 mm"), "{}", heat.advice);
    let chart = &findings.along[0];
    let least = chart.hot_gap.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(
        least >= heat.value - 1e-9 && least < heat.value + 5e-3,
        "{least}"
    );
}

#[test]
fn a_part_further_than_three_keep_away_distances_is_told_only_if_nearest() {
    let mut route = along_x();
    for (name, y) in [("near pipe", 0.3), ("far pipe", 0.6)] {
        let mut pipe = part(
            name,
            FRAME,
            Shape::Ball {
                centre: Point3::new(0.1, y, 0.0),
                diameter: 0.02,
            },
        );
        pipe.surface = Some(300.0);
        route.machine.parts.push(pipe);
    }
    let findings = checked(&route, &straight(&route));
    let told: Vec<_> = findings
        .findings
        .iter()
        .filter(|f| f.check == "heat distance")
        .map(|f| f.subject.as_str())
        .collect();
    assert_eq!(told, ["near pipe"]);
}

/// Two plates above and below: the free width is the distance between their faces, wherever the branch lies.
#[test]
fn the_width_between_two_plates_is_that_between_their_faces() {
    for (gap, expected) in [
        (12.0, Verdict::Within),
        (9.0, Verdict::Within),
        (8.5, Verdict::Over),
    ] {
        for off_centre in [0.0, 0.8] {
            let mut route = along_x();
            let middle = off_centre;
            let (low, high) = (middle - gap / 2.0 - 2.0, middle + gap / 2.0 + 2.0);
            route.machine.parts = vec![
                part("rail", FRAME, plate(low)),
                part("seat pan", FRAME, plate(high)),
            ];
            let findings = checked(&route, &straight(&route));
            let pinch = finding(&findings, "pinch", "rail and seat pan");
            assert!(
                (pinch.value * 1e3 - gap).abs() < 1e-6,
                "gap {gap}: {} mm",
                pinch.value * 1e3
            );
            assert_eq!(pinch.verdict, expected, "gap {gap} mm");
        }
    }
}

/// A ball over a plate: from a place beside its lowest point the walk finds the narrowest pair near the branch.
#[test]
fn the_width_under_a_ball_is_the_narrowest_near_the_branch() {
    let mut route = along_x();
    route.machine.parts = vec![
        part("rail", FRAME, plate(-9.0)),
        part(
            "boss",
            FRAME,
            Shape::Ball {
                centre: Point3::new(0.125, 0.002, 0.027),
                diameter: 0.04,
            },
        ),
    ];
    let findings = checked(&route, &straight(&route));
    let pinch = finding(&findings, "pinch", "boss and rail");
    // Faces at −7 mm and 27 − 20 = 7 mm.
    assert!(
        (pinch.value * 1e3 - 14.0).abs() < 1e-3,
        "{}",
        pinch.value * 1e3
    );
}

/// A pipe bent to a U, whose legs stand on either side of the branch: two faces of one part.
#[test]
fn the_width_between_two_faces_of_one_part() {
    for (gap, expected) in [
        (12.0, Verdict::Within),
        (9.0, Verdict::Within),
        (8.5, Verdict::Over),
    ] {
        for aside in [0.0, 0.8] {
            let mut route = along_x();
            let leg = (gap + 8.0) / 2.0;
            let corner = |y: f64, z: f64| Point3::new(0.125, (aside + y) * 1e-3, z * 1e-3);
            let bent = Shape::Tube {
                along: vec![
                    corner(-leg, 60.0),
                    corner(-leg, -60.0),
                    corner(leg, -60.0),
                    corner(leg, 60.0),
                ],
                diameter: 0.008,
            };
            route.machine.parts = vec![part("bent pipe", FRAME, bent)];
            let findings = checked(&route, &straight(&route));
            let pinch = finding(&findings, "pinch", "bent pipe");
            assert!(
                (pinch.value * 1e3 - gap).abs() < 1e-4,
                "gap {gap}: {} mm",
                pinch.value * 1e3
            );
            assert_eq!(pinch.verdict, expected, "gap {gap} mm");
            let squeeze = format!("by {:.0} %", 100.0 - 10.0 * gap);
            assert_eq!(
                pinch.advice.contains(&squeeze),
                gap < 10.0,
                "{}",
                pinch.advice
            );
        }
    }
}

#[test]
fn two_parts_on_the_same_side_do_not_pinch() {
    let mut route = along_x();
    route.machine.parts = vec![
        part("rail", FRAME, plate(8.0)),
        part("seat pan", FRAME, plate(14.0)),
    ];
    let findings = checked(&route, &straight(&route));
    assert!(findings.findings.iter().all(|f| f.check != "pinch"));
}

/// The gap to a plate above moves one to one with the plate, and with the branch as far as its fixings move it:
/// at the middle of a straight span by half of each.
#[test]
fn the_spread_of_a_gap_adds_part_and_fixings() {
    let mut route = along_x();
    let mut hot = part("cover", FRAME, plate(60.0));
    hot.surface = Some(200.0);
    route.machine.parts.push(hot);
    let findings = checked_with_spread(&route);
    let heat = finding(&findings, "heat distance", "cover");
    let spread = heat.spread.expect("asked for") * 1e3;
    // The nearest place may lie anywhere under the plate, 100 to 150 mm along: √(1 + s² + (1 − s)²), s = 0.4 … 0.6,
    // or at its ends where a tilt decides.
    let least = 3.0 * (1.0_f64 + 0.5).sqrt();
    let most = 3.0 * (1.0_f64 + 0.36 + 0.36).sqrt();
    assert!((least - 0.01..=most + 0.01).contains(&spread), "{spread}");
}

/// A steered part that comes near at one lock only.
#[test]
fn the_pose_of_the_least_gap_is_named() {
    let mut route = along_x();
    let mut lamp = part(
        "lamp",
        STEERING,
        Shape::Ball {
            centre: Point3::new(0.1, 0.1, 0.0),
            diameter: 0.02,
        },
    );
    lamp.surface = Some(100.0);
    route.machine.parts.push(lamp);
    let findings = checked(&route, &straight(&route));
    let heat = finding(&findings, "heat distance", "lamp");
    // Turned to full right the ball stands at 45° − 30° = 15° from the branch.
    let expected = 0.02_f64.sqrt() * 15.0_f64.to_radians().sin() - 0.01 - 0.005;
    assert!((heat.value - expected).abs() < 1e-6, "{}", heat.value);
    assert_eq!(heat.pose, 0);
}
