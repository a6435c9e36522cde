//! Scans on the page: laid by points that are touched, a point put where one was touched, and what a finger touches.

use std::fmt::Write as _;

use nalgebra::{Matrix3, Point3, Rotation3, Vector3};
use serde_json::Value;

use super::chromium::Page;
use super::client::{SMALL, Server};
use super::opened::{CHECKED, enlarge, fixing, pick, press, save, url, write};
use crate::cli::run::Folder;

/// Places on the machine that a person marked with tape before the scan \[mm\], far apart and not in a line.
const MARKS: [(&str, [f64; 3]); 4] = [
    ("left peg", [-300.0, 190.0, -60.0]),
    ("right peg", [-240.0, -210.0, -20.0]),
    ("tail", [-560.0, 30.0, 40.0]),
    ("lamp bolt", [60.0, -70.0, 90.0]),
];
/// Half the side of the piece of surface about each mark \[mm\].
const HALF: f64 = 30.0;

/// How the scan's own axes lie to those of the machine: turned over all three, and elsewhere \[mm\].
fn scanned(p: [f64; 3]) -> Point3<f64> {
    let turned = Rotation3::from_euler_angles(0.06, -0.09, 0.7);
    turned.inverse() * (Point3::from(p) - Vector3::new(70.0, -25.0, 140.0))
}

/// A mesh of one square about each mark, level in the scan's axes, in centimetres.
fn squares() -> String {
    let mut text = String::new();
    for (nth, (_, p)) in MARKS.iter().enumerate() {
        let at = scanned(*p);
        for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)] {
            let (x, y) = (at.x + x * HALF, at.y + y * HALF);
            writeln!(text, "v {} {} {}", x / 10.0, y / 10.0, at.z / 10.0).unwrap();
        }
        let first = 4 * nth + 1;
        writeln!(text, "f {} {} {}", first, first + 1, first + 2).unwrap();
        writeln!(text, "f {} {} {}", first, first + 2, first + 3).unwrap();
    }
    text
}

/// The small machine with the marks as points and a scan in axes of its own on a body.
fn with_scan(body: &str, scan: &str) -> String {
    let mut points = String::new();
    for (name, [x, y, z]) in MARKS {
        write!(points, "\"{name}\": ({x}, {y}, {z}), ").unwrap();
    }
    let part = format!("(name: \"phone scan\", on: \"{body}\", shape: {scan}),");
    SMALL
        .replacen(
            "    bodies:",
            &format!("    points: {{ {points} }},\n    bodies:"),
            1,
        )
        .replacen(
            "    parts: [",
            &format!("    parts: [\n        // As the phone gave it.\n        {part}"),
            1,
        )
}

fn opened(body: &str) -> Option<(Folder, Server, Page)> {
    let mut page = Page::open(1920, 1080)?;
    let folder = Folder::new();
    folder.write("squares.obj", &squares());
    let scan = "Scan(file: \"squares.obj\", unit: \"cm\")";
    folder.write("my.ron", &with_scan(body, scan));
    let server = Server::start(&folder, Some("my.ron"));
    page.go(&url(&server));
    page.until(CHECKED);
    Some((folder, server, page))
}

/// From above, from a place of the machine \[mm\] to the pixel, by two fixings that are drawn; and the size of a pixel \[mm\].
/// Forward is to the left on the screen, left is down.
fn from_above(page: &mut Page) -> (impl Fn([f64; 2]) -> (f64, f64) + use<>, f64) {
    enlarge(page, "top");
    let (a, b) = (fixing(page, "K1"), fixing(page, "switch"));
    let (p, q) = ([-330.0, 30.0], [-44.0, 178.0]);
    let pixel = (q[0] - p[0]) / (a.0 - b.0);
    // The same scale both ways, or this is no view from above.
    assert!(((q[1] - p[1]) / (b.1 - a.1) - pixel).abs() < 0.02 * pixel);
    let to = move |at: [f64; 2]| (a.0 - (at[0] - p[0]) / pixel, a.1 + (at[1] - p[1]) / pixel);
    (to, pixel)
}

fn touch(page: &mut Page, (x, y): (f64, f64)) {
    page.mouse("mousePressed", x, y);
    page.mouse("mouseReleased", x, y);
}

/// The motion that three pairs of points say, by axes of each three: along the first two, square to all.
fn motion(pairs: &[(Point3<f64>, Point3<f64>)]) -> impl Fn(Point3<f64>) -> Point3<f64> + use<> {
    let axes = |a: Point3<f64>, b: Point3<f64>, c: Point3<f64>| {
        let x = (b - a).normalize();
        let z = x.cross(&(c - a)).normalize();
        Matrix3::from_columns(&[x, z.cross(&x), z])
    };
    let from = axes(pairs[0].0, pairs[1].0, pairs[2].0);
    let to = axes(pairs[0].1, pairs[1].1, pairs[2].1);
    let (a, b) = (pairs[0].0, pairs[0].1);
    move |p| b + to * from.transpose() * (p - a)
}

/// The pairs that a saved file lays its scan by, in the scan's unit.
fn pairs_in(saved: &str) -> Vec<(Point3<f64>, String)> {
    let list = saved.split_once("placed: [").expect(saved).1;
    let list = list.split_once(']').unwrap().0;
    let one = |pair: &str| {
        let (at, name) = pair.split_once("), \"")?;
        let at: Vec<f64> = at
            .trim_start_matches([',', ' ', '('])
            .split(',')
            .map(|x| x.trim().parse().unwrap())
            .collect();
        Some((
            Point3::new(at[0], at[1], at[2]),
            name.trim_matches('"').to_owned(),
        ))
    };
    list.split("\")").filter_map(one).collect()
}

/// Three named points are touched on a scan that lies anywhere; the saved file lays it where it belongs.
#[test]
fn a_scan_is_laid_by_three_points_that_are_touched() {
    let Some((folder, server, mut page)) = opened("frame") else {
        return;
    };
    let (pixel_of, pixel) = from_above(&mut page);
    page.click("#tab-measure");
    press(&mut page, "Lay a scan by three named points");
    let lay = |page: &mut Page, lies: fn([f64; 3]) -> Point3<f64>| {
        for (name, p) in &MARKS[..3] {
            pick(page, "A point that you know on the machine", name);
            press(page, "Touch this point on the scan");
            let at = lies(*p);
            touch(page, pixel_of([at.x, at.y]));
            page.until(&format!("[...document.querySelectorAll('.leaf li')].some(e => e.textContent.includes({name:?} + ': touched'))"));
        }
        press(page, "Lay the scan");
    };
    lay(&mut page, scanned);
    // How well it fits is said at once, and stays where it can be read.
    page.until("document.querySelector('#said').textContent.includes('is placed by 3 pairs of points that fit to')");
    page.until("document.querySelector('.leaf').textContent.includes('is placed by 3 pairs of points that fit to')");
    page.until(CHECKED);
    save(&mut page);
    let saved = String::from_utf8(folder.read("my.ron")).unwrap();
    assert!(saved.contains("// As the phone gave it."), "comments stay");
    let pairs = pairs_in(&saved);
    assert_eq!(pairs.len(), 3, "{saved}");
    let known = |name: &str| MARKS.iter().find(|(mark, _)| *mark == name).unwrap().1;
    let pairs: Vec<_> = pairs
        .iter()
        .map(|(at, name)| (at * 10.0, Point3::from(known(name))))
        .collect();
    for (at, machine) in &pairs {
        let off = (at - scanned((*machine).into())).norm();
        // The browser tells whole pixels: up to one of them short each way.
        assert!(off < 1.5 * pixel, "{off} mm off, a pixel is {pixel} mm");
    }
    // The fourth mark was not touched: it comes to lie where it is on the machine.
    let motion = motion(&pairs);
    let (_, fourth) = MARKS[3];
    let allowed = 3.0 * pixel;
    let off = (motion(scanned(fourth)) - Point3::from(fourth)).norm();
    assert!(off < allowed, "{off} mm");
    // And the program lays it there too.
    let scene = server.get("api/scene").good();
    let part = scene["parts"]
        .as_array()
        .unwrap()
        .iter()
        .find(|p| p["kind"] == "scan")
        .unwrap();
    let placed: Vec<f64> = serde_json::from_value(part["spec"]["placed"].clone()).unwrap();
    let placed = nalgebra::Matrix4::from_column_slice(&placed);
    let at = placed.transform_point(&(scanned(fourth) / 1000.0)) * 1000.0;
    let off = (at - Point3::from(fourth)).norm();
    assert!(off < allowed, "{off} mm");
    // Laid again from where it lies now, it is written in its own numbers once more.
    lay(&mut page, Point3::from);
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Save'");
    page.until(CHECKED);
    save(&mut page);
    for (at, name) in pairs_in(&String::from_utf8(folder.read("my.ron")).unwrap()) {
        let off = (at * 10.0 - scanned(known(&name))).norm();
        assert!(off < allowed, "{name}: {off} mm off when laid again");
    }
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

/// A place is touched while the bars are turned; the point is written as it lies at rest.
#[test]
fn a_point_is_put_where_a_scan_is_touched() {
    let Some((folder, _server, mut page)) = opened("steering") else {
        return;
    };
    let (pixel_of, pixel) = from_above(&mut page);
    page.value("document.querySelector(\"input[aria-label^='steering, from']\").focus()");
    page.key("End", false);
    page.until("document.querySelector('.pose-words').textContent.includes('35°')");
    page.value("new Promise(done => setTimeout(done, 400))");
    page.click("#tab-measure");
    press(&mut page, "A new point, touched in a view");
    write(&mut page, "Name", "fuel tap");
    press(&mut page, "Touch it");
    // The middle of the first square, and where full left takes it: about the axis that leans by 27°.
    let at = scanned(MARKS[0].1);
    let lean = 27.0_f64.to_radians();
    let axis = nalgebra::Unit::new_normalize(Vector3::new(-lean.sin(), 0.0, lean.cos()));
    let turned = Rotation3::from_axis_angle(&axis, 35.0_f64.to_radians()) * at;
    touch(&mut page, pixel_of([turned.x, turned.y]));
    page.until("document.querySelectorAll('.tools button')[2].textContent === 'Save'");
    page.until(CHECKED);
    save(&mut page);
    folder.write(
        "again.ron",
        &String::from_utf8(folder.read("my.ron")).unwrap(),
    );
    let again = Server::start(&folder, Some("again.ron"));
    let scene = again.get("api/scene").good();
    let found = scene["points"]
        .as_array()
        .unwrap()
        .iter()
        .find(|p| p["name"] == "fuel tap")
        .unwrap();
    let found: [f64; 3] = serde_json::from_value(found["at_mm"].clone()).unwrap();
    let off = (Point3::from(found) - at).norm();
    // A pixel from above is more on a surface that leans.
    assert!(off < 1.5 * pixel, "{found:?}, not {at}: {off} mm");
    assert!(page.complaints.is_empty(), "{:?}", page.complaints);
}

fn touched(server: &Server, from: [f64; 3], toward: [f64; 3], near: f64) -> Value {
    let call = format!("api/touch?part=phone%20scan&from={from:?}&toward={toward:?}&near={near}")
        .replace(' ', "");
    server.get(&call).good()["at_mm"].clone()
}

/// Of a mesh the side in front is touched, from either side; of bare points the nearest in front, not one that shines
/// through from behind.
#[test]
fn what_lies_in_front_is_touched() {
    let folder = Folder::new();
    // Two floors 100 mm apart, as one mesh and as bare points 4 mm apart.
    let mut mesh = String::new();
    let mut points = String::new();
    let mut count = 0;
    for z in [0.0, 100.0] {
        for (x, y) in [(-80, -80), (80, -80), (80, 80), (-80, 80)] {
            writeln!(mesh, "v {x} {y} {z}").unwrap();
        }
        for x in -20..=20 {
            for y in -20..=20 {
                // The upper one stands between the points of the lower one.
                let aside = if z > 0.0 { 2.0 } else { 0.0 };
                writeln!(
                    points,
                    "{} {} {z}",
                    f64::from(4 * x) + aside,
                    f64::from(4 * y) + aside
                )
                .unwrap();
                count += 1;
            }
        }
    }
    mesh.push_str("f 1 2 3\nf 1 3 4\nf 5 6 7\nf 5 7 8\n");
    folder.write("floors.obj", &mesh);
    let head = format!(
        "ply\nformat ascii 1.0\nelement vertex {count}\nproperty float x\nproperty float y\nproperty float z\nend_header\n"
    );
    folder.write("floors.ply", &(head + &points));
    for (file, off) in [("floors.obj", 1e-6), ("floors.ply", 3.0)] {
        let scan = format!("Scan(file: \"{file}\", unit: \"mm\")");
        folder.write("my.ron", &with_scan("frame", &scan));
        let server = Server::start(&folder, Some("my.ron"));
        // Just over a point of the lower floor, and between those of the upper one.
        for (from, toward, z) in [(900.0, -1.0, 100.0), (-900.0, 1.0, 0.0)] {
            let at = touched(&server, [40.0, 20.0, from], [0.0, 0.0, toward], 8.0);
            let at: [f64; 3] = serde_json::from_value(at).unwrap();
            assert!((at[2] - z).abs() < 1e-6, "{file}: {at:?}");
            assert!((at[0] - 40.0).hypot(at[1] - 20.0) <= off, "{file}: {at:?}");
        }
        // A little beside the edge: a mesh is missed, of bare points the nearest counts within reach.
        let beside = touched(&server, [87.0, 0.0, 900.0], [0.0, 0.0, -1.0], 8.0);
        assert_eq!(beside.is_null(), file == "floors.obj", "{beside}");
        assert!(touched(&server, [120.0, 0.0, 900.0], [0.0, 0.0, -1.0], 8.0).is_null());
        for wrong in [
            "api/touch?part=nobody&from=[0,0,1]&toward=[0,0,1]&near=1",
            "api/touch?part=bars&from=[0,0,1]&toward=[0,0,1]&near=1",
            "api/touch?part=phone%20scan&from=[0,0]&toward=[0,0,1]&near=1",
            "api/touch?part=phone%20scan&from=[0,0,1e999]&toward=[0,0,1]&near=1",
            "api/touch?part=phone%20scan&from=[0,0,1]&toward=[0,0,0]&near=1",
            "api/touch?part=phone%20scan&from=[0,0,1]&toward=[0,0,1]&near=NaN",
            "api/touch?part=phone%20scan",
        ] {
            let status = server.get(wrong).status;
            assert!((400..500).contains(&status), "{wrong}: {status}");
        }
    }
}

/// A scan of more triangles than are drawn is drawn with fewer that still make its surface.
#[test]
fn a_large_scan_is_drawn_with_fewer_triangles_that_leave_no_holes() {
    let folder = Folder::new();
    // A bowl of 2 × 200² triangles.
    let side = 200;
    let mut mesh = String::new();
    for i in 0..=side {
        for j in 0..=side {
            let (x, y) = (f64::from(2 * i - side), f64::from(2 * j - side));
            writeln!(mesh, "v {x} {y} {}", (x * x + y * y) / 400.0).unwrap();
        }
    }
    for i in 0..side {
        for j in 0..side {
            let a = i * (side + 1) + j + 1;
            writeln!(mesh, "f {a} {} {}", a + side + 1, a + 1).unwrap();
            writeln!(mesh, "f {} {} {}", a + 1, a + side + 1, a + side + 2).unwrap();
        }
    }
    folder.write("bowl.obj", &mesh);
    folder.write(
        "my.ron",
        &with_scan("frame", "Scan(file: \"bowl.obj\", unit: \"mm\")"),
    );
    let server = Server::start(&folder, Some("my.ron"));
    let scene = server.get("api/scene").good();
    let part = scene["parts"]
        .as_array()
        .unwrap()
        .iter()
        .find(|p| p["kind"] == "scan")
        .unwrap();
    let at = super::calls::floats(&part["mesh"]["at"]);
    let corners: Vec<Point3<f64>> = at
        .chunks(3)
        .map(|p| Point3::new(p[0], p[1], p[2]))
        .collect();
    let triangles = super::calls::indices(&part["mesh"]["triangles"]);
    let count = triangles.len() / 3;
    assert!((5_000..=60_000).contains(&count), "{count}");
    assert!(
        part["thinned"].as_str().unwrap().contains("80000"),
        "{}",
        part["thinned"]
    );
    // Seen from above it covers what the scan covers but for its rim, and it lies where the scan lies.
    let mut area = 0.0;
    for triangle in triangles.chunks(3) {
        let [a, b, c] = [0, 1, 2].map(|i| corners[triangle[i] as usize]);
        area += 0.5 * (b - a).cross(&(c - a)).z.abs();
    }
    assert!((0.97..1.01).contains(&(area / 160_000.0)), "{area}");
    for p in &corners {
        let off = p.z - (p.x * p.x + p.y * p.y) / 400.0;
        assert!(off.abs() < 1.5, "{p}: {off} mm");
    }
}
