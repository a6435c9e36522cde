//! Taped points alone.

use neckloom::read::{places_text, starter};

const KNOWN: &str = "\"a\": (0, 0, 0), \"b\": (600, 0, 0), \"c\": (0, 600, 0), \"d\": (100, -300, 500), \"e\": (-400, 100, 300)";

/// Distance from `from` to (210, 320, 180), in mm to a tenth as a tape might show it.
fn taped(from: [f64; 3], misread: f64) -> f64 {
    let [x, y, z] = [from[0] - 210.0, from[1] - 320.0, from[2] - 180.0];
    ((x * x + y * y + z * z).sqrt() * 10.0).round() / 10.0 + misread
}

fn file(misread: f64, count: usize) -> String {
    let known = [
        ("a", [0.0, 0.0, 0.0]),
        ("b", [600.0, 0.0, 0.0]),
        ("c", [0.0, 600.0, 0.0]),
        ("d", [100.0, -300.0, 500.0]),
        ("e", [-400.0, 100.0, 300.0]),
    ];
    let readings: Vec<String> = known[..count]
        .iter()
        .map(|(name, at)| {
            let off = if *name == "b" { misread } else { 0.0 };
            format!("(\"{name}\", {:.1})", taped(*at, off))
        })
        .collect();
    format!(
        "(format: 1, units: (length: \"mm\", temperature: \"degC\"), tape_error: 6,
        points: {{ {KNOWN}, \"bar end\": Tape(from: [{}], side: \"above\") }})",
        readings.join(", ")
    )
}

#[test]
fn good_readings_give_the_point() {
    for count in [3, 4, 5] {
        let found =
            places_text(&file(0.0, count), "p.ron").unwrap_or_else(|faults| panic!("{faults}"));
        let [point] = found.points.as_slice() else {
            panic!("{found:?}");
        };
        assert_eq!(point.name, "bar end");
        for (got, want) in point.at.iter().zip([0.210, 0.320, 0.180]) {
            // Readings are rounded to 0.1 mm.
            assert!((got - want).abs() < 3e-4, "{point:?}");
        }
        assert!(point.residual < 1e-4 && point.error95 > 0.0, "{point:?}");
        assert_eq!(point.readings[0].from, "a");
        assert_eq!((point.suspect, found.warnings.len()), (None, 0));
        assert_eq!(found.assumed, [""; 0]);
    }
}

#[test]
fn a_bad_reading_is_named() {
    let found = places_text(&file(45.0, 5), "p.ron").unwrap_or_else(|faults| panic!("{faults}"));
    let point = &found.points[0];
    assert_eq!(point.suspect.unwrap().reading, 1, "{point:?}");
    assert!(point.suspect.unwrap().residual_without < 1e-3);
    let warning = &found.warnings[0];
    assert!(
        warning.contains("without the distance from \"b\""),
        "{warning}"
    );
    assert!(warning.contains("measure that one again"), "{warning}");
}

#[test]
fn three_readings_blame_none() {
    let found = places_text(&file(20.0, 3), "p.ron").unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(found.points[0].suspect, None);
}

#[test]
fn a_whole_route_file_will_do() {
    let found = places_text(starter(), "start.ron").unwrap_or_else(|faults| panic!("{faults}"));
    assert_eq!(found.points.len(), 1);
    assert!(found.points[0].residual < 1e-3, "{found:?}");
}

#[test]
fn without_taped_points_there_is_nothing_to_place() {
    let faults = places_text("(format: 1, points: { \"a\": (0, 0, 0) })", "p.ron").unwrap_err();
    assert!(
        faults
            .to_string()
            .contains("p.ron:1:21: there is no taped point here"),
        "{faults}"
    );
}
