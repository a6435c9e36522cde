//! Scans in route files: placed, checked, hot, in contact; and what is said where they cannot be.

use std::fs;
use std::path::PathBuf;

use nalgebra::{Point3, Vector3};
use neckloom::geometry::Shape;
use neckloom::read::{Faults, route_text};
use neckloom::route::Route;

use super::made::Made;

/// A folder of its own with a scan in it: a torus of 100 mm and 20 mm, in mm, its axis along z.
fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"))
        .join("scans")
        .join(name);
    fs::create_dir_all(&folder).unwrap();
    let torus = Made::torus(100.0, 20.0, 60, 30);
    fs::write(folder.join("torus.stl"), torus.stl_binary()).unwrap();
    let cloud = Made {
        triangles: Vec::new(),
        ..torus.clone()
    };
    fs::write(folder.join("torus.ply"), cloud.ply_binary(true)).unwrap();
    fs::write(folder.join("damaged.stl"), &torus.stl_binary()[..500]).unwrap();
    let sheet = Made::sheet(120.0, 0.0, 40);
    fs::write(folder.join("sheet.obj"), sheet.obj()).unwrap();
    let mut block = "o box\n".to_owned();
    for i in 0..8 {
        let side = |bit: u32| if i >> bit & 1 == 1 { 1 } else { -1 };
        block += &format!("v {} {} {}\n", 25 * side(0), 30 * side(1), 30 + 6 * side(2));
    }
    block += "f 1 3 4 2\nf 5 6 8 7\nf 1 2 6 5\nf 3 7 8 4\nf 1 5 7 3\nf 2 4 8 6\n";
    fs::write(folder.join("box.obj"), block).unwrap();
    folder
}

fn text(scan: &str, more: &str) -> String {
    format!(
        r#"(
    format: 1,
    title: "A scan (invented)",
    units: (length: "mm", temperature: "degC"),
    tolerance: 1,
    tape_error: 3,
    points: {{ "left lug": (100, 50, 300), "right lug": (100, -50, 300), "tail": (-80, 0, 310) }},
    bodies: {{ "frame": Fixed }},
    parts: [(name: "scanned", on: "frame", shape: {scan}{more})],
    branches: [(
        name: "neck", wires: [], diameter: 6,
        stiffness: (bend: "0.004 N m2", twist: "0.003 N m2", stretch: "60000 N", mass: "0.05 kg/m"),
        lay: [
            Clamp(name: "K1", on: "frame", at: (-60, 0, 40), facing: (1, 0, 0), width: 10),
            Clamp(name: "K2", on: "frame", at: (60, 0, 40), facing: (1, 0, 0), width: 10, slack: 1),
        ],
    )],
)"#
    )
}

fn read(name: &str, scan: &str) -> Result<Route, Faults> {
    let file = folder(name).join("route.ron");
    route_text(&text(scan, ""), file.to_str().unwrap())
}

fn fault(name: &str, scan: &str, says: &str) {
    let faults = read(name, scan).unwrap_err().to_string();
    assert!(faults.contains(says), "{faults}\n(wanted \"{says}\")");
    assert!(faults.contains("9:"), "{faults}\n(wanted the line)");
}

#[test]
fn a_scan_stands_where_its_axis_says() {
    let (x, y, z) = (Vector3::x(), Vector3::y(), Vector3::z());
    // Forward is x with z up (ISO 8855), z with y up (glTF 2.0, 3.4), and so round to y with x up.
    for (up, tip, ahead) in [
        ("z", z, x),
        ("-z", -z, x),
        ("y", y, z),
        ("-y", -y, z),
        ("x", x, y),
        ("-x", -x, y),
    ] {
        let route = read(
            "axis",
            &format!("Scan(file: \"torus.stl\", unit: \"mm\", up: \"{up}\")"),
        )
        .unwrap();
        let Shape::Scan(scan) = &route.machine.parts[0].shape else {
            panic!("no scan");
        };
        let turned = [tip, ahead].map(|v| scan.placed.rotation * v);
        assert!((turned[0] - z).norm() < 1e-12, "{up}: {turned:?}");
        assert!((turned[1] - x).norm() < 1e-12, "{up}: {turned:?}");
        let said = route.assumed.join("\n");
        assert!(
            said.contains("3600 triangles") && said.contains("closed"),
            "{said}"
        );
    }
}

#[test]
fn pairs_place_it_and_tell_how_well() {
    let placed = "placed: [((-50, 100, 0), \"left lug\"), ((50, 100, 0), \"right lug\"), ((0, -80.0, 11), \"tail\"), \
                  ((50, 0, 7), (0, -50, 307))]";
    let scan = format!(
        "Scan(file: \"torus.stl\", unit: \"mm\", {placed}, known: ((-50, 100, 0), (50, 100, 0), 101))"
    );
    let route = read("pairs", &scan).unwrap();
    let said = route.assumed.join("\n");
    assert!(
        said.contains("placed by 4 pairs") && said.contains("worst"),
        "{said}"
    );
    assert!(said.contains("known length of 101"), "{said}");
    // Its ring lies about (0, 0, 300) now; the point (0, 100, 20) of the ring's crest is at (100, 0, 320).
    let shape = &route.machine.parts[0].shape;
    let got = shape.distance(&Point3::new(0.1, 0.0, 0.33));
    assert!((got - 0.01).abs() < 1.5e-3, "{got}");
}

#[test]
fn what_cannot_be_placed_is_said_with_line_and_cure() {
    let stl = |rest: &str| format!("Scan(file: \"torus.stl\", {rest})");
    let three = |scale: f64| {
        stl(&format!(
            "unit: \"mm\", placed: [(({}, {}, 0), \"left lug\"), (({}, {}, 0), \"right lug\"), ((0, {}, {}), \"tail\")]",
            -50.0 * scale,
            100.0 * scale,
            50.0 * scale,
            100.0 * scale,
            -80.0 * scale,
            10.0 * scale
        ))
    };
    fault("faults", &stl("up: \"z\""), "lacks its `unit`");
    fault("faults", &stl("unit: \"parsec\", up: \"z\""), "parsec");
    fault(
        "faults",
        "Scan(file: \"torus.stp\", unit: \"mm\", up: \"z\")",
        "does not end in",
    );
    fault(
        "faults",
        "Scan(file: \"no.stl\", unit: \"mm\", up: \"z\")",
        "there is no file",
    );
    fault(
        "faults",
        "Scan(file: \"damaged.stl\", unit: \"mm\", up: \"z\")",
        "holds 8",
    );
    fault(
        "faults",
        &three(25.4),
        "25.4 times too large: was \"in\" given as `unit` for a scan in \"mm\"",
    );
    let off = "unit: \"mm\", placed: [((-50, 100, 0), \"left lug\"), ((50, 100, 0), \"right lug\"), ((0, -80.0, 10), \"tail\"), \
               ((50, 0, 37), (0, -50, 307))]";
    fault("faults", &stl(off), "does not fit its points: the pair at");
    fault(
        "faults",
        &stl("unit: \"mm\", placed: [((0, 0, 0), \"tail\")]"),
        "three or more pairs",
    );
    let line = "unit: \"mm\", placed: [((0, 0, 0), (0, 0, 0)), ((10, 0, 0), (10, 0, 0)), ((20, 0, 0), (20, 0, 0))]";
    fault("faults", &stl(line), "in a line");
    fault(
        "faults",
        &stl("unit: \"mm\", up: \"z\", known: ((0, 0, 0), (100, 0, 0), \"10 mm\")"),
        "10 times too large",
    );
    let big = read("faults", &stl("unit: \"m\", up: \"z\"")).unwrap();
    assert!(
        big.warnings.iter().any(|w| w.contains("1000 times")),
        "{:?}",
        big.warnings
    );
}

fn checked(name: &str, scan: &str, more: &str) -> serde_json::Value {
    checked_with(name, scan, more, "slack: 1")
}

fn checked_with(name: &str, scan: &str, more: &str, slack: &str) -> serde_json::Value {
    let file = folder(name).join(format!("{}.ron", scan.len() + more.len()));
    fs::write(&file, text(scan, more).replace("slack: 1", slack)).unwrap();
    let out = std::process::Command::new(env!("CARGO_BIN_EXE_neckloom"))
        .args(["check", "--json", "--no-spread"])
        .arg(&file)
        .output()
        .unwrap();
    let said = String::from_utf8_lossy(&out.stdout);
    serde_json::from_str(&said)
        .unwrap_or_else(|_| panic!("{said}{}", String::from_utf8_lossy(&out.stderr)))
}

fn gap(report: &serde_json::Value) -> f64 {
    report["branches"][0]["nearest"][0]["gap_mm"]
        .as_f64()
        .unwrap()
}

/// The branch lies about 40 mm above the sheet, less its radius; as points the same, less the allowance.
#[test]
fn a_hot_scan_is_kept_away_from() {
    let mesh = checked(
        "hot",
        "Scan(file: \"sheet.obj\", unit: \"mm\", up: \"z\")",
        ", surface: 300",
    );
    let found = mesh["findings"].as_array().unwrap();
    let heat = found
        .iter()
        .find(|f| f["check"] == "heat distance")
        .unwrap();
    assert_eq!(heat["verdict"], "over", "37 mm, where 50 mm are asked for");
    let value = heat["value"].as_f64().unwrap();
    assert!(
        (value - gap(&mesh)).abs() < 1e-6 && (30.0..38.0).contains(&value),
        "{value}"
    );
}

/// Along a sheet that leaves less than its radius the branch is pushed aside on the side that it is on; at its clamps it
/// sits 1 mm in.
#[test]
fn an_open_scan_presses_on_the_side_that_the_branch_is_on() {
    let sheet = "Scan(file: \"sheet.obj\", unit: \"mm\", placed: [((0, 0, 0), (0, 0, 38)), ((40, 0, 0), (40, 0, 38)), \
                 ((0, 40, 0), (0, 40, 38))])";
    let report = checked_with("open", sheet, "", "slack: 0.03");
    let gap = gap(&report);
    // Free to hang through it would sink to -2.
    assert!(gap > -1.1 && gap < 0.5, "{gap}");
    assert!(
        report["branches"][0]["spans"][0]["by_pose"][0]["converged"]
            .as_bool()
            .unwrap()
    );
}

/// A box and a scan of the same box press alike.
#[test]
fn a_scanned_box_presses_as_the_box_does() {
    let as_box = checked("pressed", "Box(centre: (0, 0, 30), size: (50, 60, 12))", "");
    let scanned = checked(
        "pressed",
        "Scan(file: \"box.obj\", unit: \"mm\", up: \"z\")",
        "",
    );
    let (want, got) = (gap(&as_box), gap(&scanned));
    assert!(want > -0.2 && want < 0.11, "it lies on the box: {want}");
    assert!((got - want).abs() < 0.02, "got {got}, want {want}");
    let radius = |report: &serde_json::Value| {
        report["branches"][0]["spans"][0]["tightest_bend"]["radius_mm"]
            .as_f64()
            .unwrap()
    };
    let (want, got) = (radius(&as_box), radius(&scanned));
    assert!((got / want - 1.0).abs() < 0.01, "got {got}, want {want}");
}

/// A tube of 40 mm across y, as points all over it: no side of it is inside.
fn scanned_tube() -> Made {
    let points = (0..84_u32).flat_map(|around| {
        (0..81_u32).map(move |along| {
            let angle = std::f64::consts::TAU * f64::from(around) / 84.0;
            let y = 1.5 * (f64::from(along) - 40.0);
            Point3::new(20.0 * angle.cos(), y, 20.0 * angle.sin())
        })
    });
    Made {
        points: points.collect(),
        triangles: Vec::new(),
    }
}

/// The straight way between the clamps runs through a scanned tube, so many millimetres below its crest; the branch has the
/// length to lie over it and does, its surface no more than a point's spacing lower than that of the tube.
#[test]
fn a_branch_drawn_through_a_scan_lies_beside_it() {
    for deep in [1.0, 3.0, 6.0, 10.0, 15.0] {
        let axis = 40.0 + deep - 20.0;
        let scan = format!(
            "Scan(file: \"tube.ply\", unit: \"mm\", placed: [((0, 0, 0), (0, 0, {axis})), ((40, 0, 0), (40, 0, {axis})), \
             ((0, 40, 0), (0, 40, {axis}))])"
        );
        let name = format!("through_{deep}");
        fs::write(
            folder(&name).join("tube.ply"),
            scanned_tube().ply_binary(true),
        )
        .unwrap();
        let report = checked_with(&name, &scan, "", "slack: 16");
        let span = &report["branches"][0]["spans"][0];
        assert!(
            span["by_pose"][0]["converged"].as_bool().unwrap(),
            "{deep} mm"
        );
        let gap = gap(&report);
        assert!(gap > -0.75, "{deep} mm: {gap}");
    }
}

#[test]
fn a_cloud_carries_its_doubt() {
    let cloud = "Scan(file: \"torus.ply\", unit: \"mm\", up: \"z\")";
    let report = checked("cloud", cloud, ", surface: 90");
    let said = report["assumed"].to_string();
    assert!(
        said.contains("1800 points") && said.contains("holes nothing is known"),
        "{said}"
    );
    let found = report["findings"].as_array().unwrap();
    let blanks = report["blanks"].as_array().unwrap();
    let told = found
        .iter()
        .find(|f| f["check"] == "heat distance")
        .map(|f| f["advice"].to_string())
        .or_else(|| {
            blanks
                .iter()
                .find(|b| b["check"] == "heat distance")
                .map(|b| b["why"].to_string())
        })
        .unwrap();
    assert!(told.contains("points"), "{told}");
}
