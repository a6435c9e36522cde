//! Every call once, and that its numbers are those of the command line.

use base64::Engine;
use serde_json::{Value, json};

use super::client::{SHARP, SMALL, Server};
use crate::cli::run::Folder;

/// A packed row of numbers.
pub(super) fn floats(packed: &Value) -> Vec<f64> {
    let bytes = base64::engine::general_purpose::STANDARD
        .decode(packed.as_str().unwrap())
        .unwrap();
    let (numbers, rest) = bytes.as_chunks::<4>();
    assert!(rest.is_empty());
    numbers
        .iter()
        .map(|b| f64::from(f32::from_le_bytes(*b)))
        .collect()
}

/// A packed row of whole numbers.
pub(super) fn indices(packed: &Value) -> Vec<u32> {
    let bytes = base64::engine::general_purpose::STANDARD
        .decode(packed.as_str().unwrap())
        .unwrap();
    let (numbers, _) = bytes.as_chunks::<4>();
    numbers.iter().map(|b| u32::from_le_bytes(*b)).collect()
}

#[test]
fn the_report_is_that_of_the_command_line() {
    let folder = Folder::new();
    folder.write("a.ron", SHARP);
    let server = Server::start(&folder, Some("a.ron"));
    for (call, line) in [
        ("api/report", "check a.ron --json"),
        ("api/report?spread=no", "check a.ron --json --no-spread"),
        ("api/report?units=inch", "check a.ron --json --units inch"),
    ] {
        let page = server.get(call).good();
        let program: Value = serde_json::from_str(&folder.run(line).out).unwrap();
        for (key, value) in program.as_object().unwrap() {
            let mut own = page[key].clone();
            if key == "findings" {
                // Told in addition: where it is in space, and what is compared.
                for finding in own.as_array_mut().unwrap() {
                    let fields = finding.as_object_mut().unwrap();
                    assert_eq!(fields["point_mm"].as_array().unwrap().len(), 3);
                    for more in ["point_mm", "measure", "use_of_limit"] {
                        fields.remove(more).unwrap();
                    }
                }
            }
            assert_eq!(own, *value, "{call}: {key}");
        }
    }
}

#[test]
fn a_finding_lies_on_the_line_that_is_drawn() {
    let folder = Folder::new();
    folder.write("a.ron", SHARP);
    let server = Server::start(&folder, Some("a.ron"));
    let shapes = server.get("api/shapes").good();
    let report = server.get("api/report?spread=no").good();
    let mut seen = 0;
    for finding in report["findings"].as_array().unwrap() {
        let branches = shapes["branches"].as_array().unwrap();
        let branch = branches
            .iter()
            .find(|b| b["name"] == finding["branch"])
            .unwrap();
        let pose = usize::try_from(finding["pose"].as_u64().unwrap()).unwrap();
        let line = floats(&branch["lines"][pose]);
        let point: Vec<f64> = finding["point_mm"]
            .as_array()
            .unwrap()
            .iter()
            .map(|c| c.as_f64().unwrap())
            .collect();
        let apart = |p: &[f64]| {
            p.iter()
                .zip(&point)
                .map(|(a, b)| (a - b).powi(2))
                .sum::<f64>()
                .sqrt()
        };
        let nearest = line.chunks(3).map(apart).fold(f64::INFINITY, f64::min);
        // Drawn points stand at most 4 mm apart, or a 240th of the branch.
        assert!(nearest < 4.0, "{}: {nearest} mm", finding["place"]);
        let stations = floats(&branch["stations_mm"]);
        assert_eq!(stations.len() * 3, line.len());
        let radii = floats(&branch["radius_mm"][pose]);
        assert_eq!(radii.len(), stations.len());
        if finding["check"] == "bend radius" {
            // Drawn where it was found. At a fixing the bend differs on its two sides: either may be the one drawn.
            let at = finding["at_mm"].as_f64().unwrap();
            let near = stations
                .iter()
                .zip(&radii)
                .filter(|(s, _)| (*s - at).abs() < 9.0);
            let drawn = near.map(|(_, r)| *r).fold(f64::INFINITY, f64::min);
            let half = 0.5 * report["branches"][0]["diameter_mm"].as_f64().unwrap();
            let found = finding["value"].as_f64().unwrap() + half;
            assert!(drawn < 1.2 * found, "{drawn} and {found}");
            seen += 1;
        }
    }
    assert!(seen > 0);
}

#[test]
fn the_scene_tells_bodies_parts_fixings_and_limits() {
    let folder = Folder::new();
    folder.write("a.ron", include_str!("../../routes/tourer_all_joints.ron"));
    let server = Server::start(&folder, Some("a.ron"));
    let scene = server.get("api/scene").good();
    let bodies = scene["bodies"].as_array().unwrap();
    let steering = bodies.iter().find(|b| b["name"] == "steering").unwrap();
    assert_eq!(steering["joint"]["kind"], "turns");
    for part in scene["parts"].as_array().unwrap() {
        let corners = floats(&part["mesh"]["at"]);
        assert!(
            corners.iter().all(|c| c.is_finite()) && corners.len() > 20,
            "{}",
            part["name"]
        );
    }
    // The way to each fixing leads to it in the text.
    let text = server.text();
    let mut fixings = 0;
    for branch in scene["branches"].as_array().unwrap() {
        for entry in branch["lay"].as_array().unwrap() {
            if entry["waypoint"] == true {
                continue;
            }
            let way: Vec<neckloom::read::At> = entry["path"]
                .as_array()
                .unwrap()
                .iter()
                .map(|step| match step {
                    Value::String(name) => neckloom::read::At::Name(name.clone()),
                    item => neckloom::read::At::Item(item.as_u64().unwrap().try_into().unwrap()),
                })
                .collect();
            let stands = neckloom::read::value_text(&text, &way).unwrap();
            let name = entry["name"].as_str().unwrap();
            assert!(stands.contains(&format!("\"{name}\"")), "{name}: {stands}");
            fixings += 1;
        }
    }
    assert!(fixings > 10);
    assert!(scene["poses"].as_array().unwrap().len() > 40);
    let limits = scene["limits"].as_array().unwrap();
    assert!(
        limits
            .iter()
            .all(|l| !l["source"].as_str().unwrap().is_empty())
    );
    assert_eq!(
        scene["cautions"].as_array().unwrap().len(),
        neckloom::check::CAUTIONS.len()
    );
}

#[test]
fn a_pose_between_two_of_the_sweep_lies_between_them() {
    let folder = Folder::new();
    folder.write("a.ron", include_str!("../../routes/tourer_stock.ron"));
    let server = Server::start(&folder, Some("a.ron"));
    let shapes = server.get("api/shapes").good();
    let scene = server.get("api/scene").good();
    let poses = scene["poses"].as_array().unwrap();
    let angle = |pose: &Value| pose["values"]["steering"].as_f64().unwrap();
    // A pose of the sweep itself comes out as it stands there.
    let third = &poses[3];
    let call_text = |value: &str| format!("api/pose?values=%7B%22steering%22:{value}%7D");
    let call = |value: f64| call_text(&value.to_string());
    let same = server.get(&call(angle(third))).good();
    let (a, b) = (
        &same["branches"][0]["lines"][0],
        &shapes["branches"][0]["lines"][3],
    );
    let off = |a: &[f64], b: &[f64]| {
        a.iter()
            .zip(b)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max)
    };
    assert!(off(&floats(a), &floats(b)) < 0.05);
    let half = 0.5 * (angle(&poses[3]) + angle(&poses[4]));
    let between = server.get(&call(half)).good();
    assert_eq!(between["poses"][0]["converged"], true);
    let (a, b) = (
        floats(&shapes["branches"][0]["lines"][3]),
        floats(&shapes["branches"][0]["lines"][4]),
    );
    let middle: Vec<f64> = a.iter().zip(&b).map(|(a, b)| 0.5 * (a + b)).collect();
    let found = floats(&between["branches"][0]["lines"][0]);
    assert!(off(&found, &middle) < 0.2 * off(&a, &b) + 0.05);
    // Beyond a stop nothing moves: it lies as at the stop.
    let stop = server.get(&call(38.0)).good();
    for beyond in [38.5, 1e9] {
        let there = server.get(&call(beyond)).good();
        assert_eq!(there["poses"][0]["stances"], stop["poses"][0]["stances"]);
        assert_eq!(there["branches"], stop["branches"], "{beyond}");
    }
    assert_ne!(stop["branches"], between["branches"]);
    server.get(&call_text("1e999")).refused(400);
    server.get("api/pose?values=nonsense").refused(400);
    server
        .get("api/pose?values=%7B%22nothing%22:1%7D")
        .refused(400);
}

#[test]
fn it_begins_with_examples_and_the_files_of_the_folder() {
    let folder = Folder::new();
    folder.write("mine.ron", SMALL);
    folder.write("note.txt", "no route");
    let server = Server::start(&folder, None);
    assert_eq!(server.state()["open"], false);
    server.get("api/scene").refused(404);
    let offers = server.get("api/examples").good();
    assert_eq!(offers["files"], json!(["mine.ron"]));
    for example in offers["examples"].as_array().unwrap() {
        let state = server
            .post("api/open", &json!({ "example": example["name"] }))
            .good();
        assert_eq!(
            (&state["open"], &state["has_file"]),
            (&json!(true), &json!(false))
        );
        assert_eq!(state["faults"], Value::Null, "{}", example["name"]);
        assert_eq!(state["title"], example["title"]);
    }
    let blank = server.post("api/open", &json!({ "blank": true })).good();
    assert_eq!(blank["faults"], Value::Null);
    server.post("api/save", &json!({})).refused(409);
    let saved = server.post("api/save", &json!({ "as": "new.ron" })).good();
    assert_eq!(
        (&saved["file"], &saved["dirty"]),
        (&json!("new.ron"), &json!(false))
    );
    assert_eq!(folder.read("new.ron"), neckloom::read::starter().as_bytes());
    server
        .post("api/open", &json!({ "file": "mine.ron" }))
        .good();
    assert_eq!(server.text(), SMALL);
    assert_eq!(server.get("api/examples").good()["opened"], "mine.ron");
}

#[test]
fn a_file_full_of_faults_is_shown_with_them() {
    let folder = Folder::new();
    folder.write(
        "bad.ron",
        "(format: 1, title: \"Odd\", bodies: { \"frame\": Fixd })",
    );
    let server = Server::start(&folder, Some("bad.ron"));
    let state = server.state();
    assert_eq!(state["title"], "Odd");
    assert!(!state["faults"].as_array().unwrap().is_empty());
    assert_eq!(state["faults"][0]["line"], 1);
    let scene = server.get("api/scene");
    scene.refused(422);
    assert!(scene.json()["error"]["faults"].is_array());
    // It can be mended here.
    let mended = server.edit(&json!({ "text": SMALL })).good();
    assert_eq!(mended["faults"], Value::Null);
    server.get("api/report?spread=no").good();
}

#[test]
fn every_answer_carries_the_headers_that_keep_others_out() {
    let folder = Folder::new();
    folder.write("a.ron", SMALL);
    let server = Server::start(&folder, Some("a.ron"));
    for call in [
        "",
        "api/state",
        "api/nothing",
        "desk/font/WorkshopSheet-Regular.ttf",
    ] {
        let head = server.get(call).head;
        for part in [
            "content-security-policy: default-src 'none'",
            "frame-ancestors 'none'",
            "x-content-type-options: nosniff",
            "referrer-policy: no-referrer",
            "cross-origin-resource-policy: same-origin",
        ] {
            assert!(head.contains(part), "{call}: {part}");
        }
        assert!(!head.contains("access-control-allow"));
    }
}

/// What is packed on the way is what is told otherwise; whoever does not ask for it, or says that it is refused, is not given it;
/// and the page with all that the demo shows first is light on the wire.
#[test]
fn what_is_packed_on_the_way_is_the_same() {
    let folder = Folder::new();
    folder.write("a.ron", include_str!("../../routes/tourer_stock.ron"));
    let server = Server::start(&folder, Some("a.ron"));
    let plain = server.get("");
    let text = String::from_utf8(plain.body).unwrap();
    let links = text.split('"').filter(|word| word.starts_with("desk/"));
    let mut calls: Vec<String> = links.map(str::to_owned).collect();
    let rev = server.rev();
    calls.extend(["scene", "shapes", "report"].map(|call| format!("api/{call}?rev={rev}")));
    let mut wire = text.len();
    let mut packed = 0;
    for call in &calls {
        let plain = server.get(call);
        assert_eq!(plain.status, 200, "{call}");
        assert!(!plain.head.contains("content-encoding"), "{call}");
        let asked = |coding: &str| {
            let request = server.request("GET", call, "");
            let (first, rest) = request.split_once("\r\n").unwrap();
            server.send(&format!("{first}\r\naccept-encoding: {coding}\r\n{rest}"))
        };
        let refused = asked("gzip, deflate;q=0");
        assert!(refused.body == plain.body, "{call}");
        let answer = asked("gzip, deflate, br");
        wire += answer.body.len();
        if !answer.head.contains("content-encoding: deflate") {
            assert!(answer.body == plain.body, "{call}");
            continue;
        }
        packed += 1;
        assert!(answer.head.contains("vary: accept-encoding"), "{call}");
        let body = miniz_oxide::inflate::decompress_to_vec_zlib(&answer.body).unwrap();
        assert!(body == plain.body, "{call}");
        assert!(answer.body.len() < plain.body.len(), "{call}");
    }
    assert!(packed > 20, "{packed} of {}", calls.len());
    assert!(wire < 1_500_000, "{wire} bytes");
}

/// 16 mm are 0.63 in, not one inch.
#[test]
fn a_change_is_told_in_hundredths_of_an_inch() {
    let folder = Folder::new();
    folder.write("a.ron", include_str!("../../routes/tourer_stock.ron"));
    let server = Server::start(&folder, Some("a.ron"));
    for (units, told) in [("mm", "seat 16 mm down"), ("inch", "seat 0.63 in down")] {
        let scene = server.get(&format!("api/scene?units={units}")).good();
        let changes = scene["changes"].as_array().unwrap();
        let lower = changes.iter().find(|c| c["name"] == "seat 16 mm lower");
        assert_eq!(lower.unwrap()["steps"], json!([told]));
    }
}

#[test]
fn units_that_are_not_known_are_refused() {
    let folder = Folder::new();
    folder.write("a.ron", SMALL);
    let server = Server::start(&folder, Some("a.ron"));
    for call in [
        "api/scene?units=furlong",
        "api/report?units=furlong",
        "api/picture.svg?units=furlong",
        "api/tables/findings.csv?units=furlong",
    ] {
        let answer = server.get(call);
        assert_eq!(
            answer.refused(400),
            "there are no units \"furlong\"",
            "{call}"
        );
        assert_eq!(answer.json()["error"]["cure"], "ask for `mm` or `inch`");
    }
    let edit = json!({ "rev": server.rev(), "edits": [{ "text": SMALL }], "units": "furlong" });
    server.post("api/edit", &edit).refused(400);
    let lines = server.lines(&server.request("POST", "api/try", &edit.to_string()));
    assert_eq!(lines[0]["error"]["says"], "there are no units \"furlong\"");
    server.get("api/report?units=mm").good();
}

/// Every module of the page is named in its head, so that none is asked for by another first.
#[test]
fn the_page_names_all_its_modules() {
    let folder = Folder::new();
    let server = Server::start(&folder, None);
    let page = String::from_utf8(server.get("").body).unwrap();
    let desk = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/page/desk");
    let mut modules = Vec::new();
    for room in std::fs::read_dir(&desk).unwrap() {
        let room = room.unwrap();
        if room.path().is_dir() {
            let files = std::fs::read_dir(room.path()).unwrap();
            let files = files.map(|file| file.unwrap().file_name().into_string().unwrap());
            let room = room.file_name().into_string().unwrap();
            modules.extend(
                files
                    .filter(|f| f.ends_with(".js"))
                    .map(|f| format!("{room}/{f}")),
            );
        }
    }
    assert!(modules.len() > 30, "{modules:?}");
    for module in modules {
        let link = format!("<link rel=\"modulepreload\" href=\"desk/{module}\">");
        assert!(page.contains(&link), "{module}");
    }
}

/// Every worked example can be opened and is read without a fault.
#[test]
fn every_example_opens() {
    let folder = Folder::new();
    let server = Server::start(&folder, None);
    let offers = server.get("api/examples").good();
    let examples = offers["examples"].as_array().unwrap();
    assert!(examples.len() >= 12);
    for example in examples {
        let state = server
            .post("api/open", &json!({ "example": example["name"] }))
            .good();
        assert_eq!(state["faults"], Value::Null, "{}", example["name"]);
        // Whoever sees it must not take it for a real machine.
        assert!(
            server.text().to_lowercase().contains("invented"),
            "{}",
            example["name"]
        );
    }
}
