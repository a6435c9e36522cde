//! What an edit does to the text: what was asked, and nothing else.

use serde_json::{Value, json};

use super::client::Server;
use crate::cli::run::Folder;

const STOCK: &str = include_str!("../../routes/tourer_stock.ron");

fn served() -> (Folder, Server) {
    let folder = Folder::new();
    folder.write("a.ron", STOCK);
    let server = Server::start(&folder, Some("a.ron"));
    (folder, server)
}

fn comments(text: &str) -> Vec<&str> {
    text.lines()
        .filter_map(|line| line.split_once("//"))
        .map(|(_, comment)| comment)
        .collect()
}

#[test]
fn a_step_a_change_and_a_value_go_into_the_text_and_come_out_as_one_undo() {
    let (folder, server) = served();
    let fixing = |server: &Server, name: &str| -> Value {
        let scene = server.get("api/scene").good();
        let lays: Vec<Value> = scene["branches"]
            .as_array()
            .unwrap()
            .iter()
            .flat_map(|b| b["lay"].as_array().unwrap().clone())
            .collect();
        lays.into_iter().find(|f| f["name"] == name).unwrap()
    };
    let before = fixing(&server, "K2");
    let path = before["path"].as_array().unwrap().clone();
    let mut facing = path.clone();
    facing.push(json!("facing"));
    let state = server
        .post("api/edit", &json!({ "rev": server.rev(), "edits": [
            { "step": "Move(what: \"K2\", by: (0, 0, 7))" },
            { "set": { "path": ["tolerance"], "to": "2.5" } },
            { "set": { "path": ["limits", "pinch squeeze"], "to": "(value: \"8 %\", why: \"soft cover\")" } },
            { "set": { "path": facing, "to": "(-1, 0.25, 0)" } },
        ] }))
        .good();
    assert_eq!(state["undo"], 1);
    assert!(state["undo_says"].as_str().unwrap().contains("K2"));
    let after = fixing(&server, "K2");
    let up = after["at_mm"][2].as_f64().unwrap() - before["at_mm"][2].as_f64().unwrap();
    assert!((up - 7.0).abs() < 1e-6);
    let scene = server.get("api/scene").good();
    assert_eq!(scene["tolerance_mm"], 2.5);
    let limit = scene["limits"]
        .as_array()
        .unwrap()
        .iter()
        .find(|l| l["name"] == "pinch squeeze")
        .unwrap()
        .clone();
    assert_eq!(
        (&limit["value"], &limit["own"]),
        (&json!(8.0), &json!("soft cover"))
    );
    let text = server.text();
    assert_eq!(comments(&text), comments(STOCK), "every comment stays");
    // What the page reckons is what the program says of the saved file.
    server.post("api/save", &json!({})).good();
    let page = server.get("api/report?spread=no").good();
    let program: Value =
        serde_json::from_str(&folder.run("check a.ron --json --no-spread").out).unwrap();
    assert_eq!(page["branches"], program["branches"]);
    server.post("api/undo", &json!({})).good();
    assert_eq!(server.text(), STOCK);
}

#[test]
fn a_named_change_is_made_in_part() {
    let (_folder, server) = served();
    let scene = server.get("api/scene").good();
    let change = scene["changes"][0].clone();
    let whole = change["amount"]["value"].as_f64().unwrap();
    assert!(whole > 0.0);
    let state = server
        .edit(&json!({ "change": change["name"], "share": 0.5 }))
        .good();
    assert!(state["undo_says"].as_str().unwrap().contains("50 %"));
    assert_ne!(server.text(), STOCK);
    assert_eq!(state["faults"], Value::Null);
    server
        .edit(&json!({ "change": "no such thing" }))
        .refused(400);
    server
        .edit(&json!({ "change": change["name"], "share": 1e9 }))
        .refused(400);
}

#[test]
fn what_is_set_cannot_reach_beyond_its_place() {
    let (_folder, server) = served();
    for to in [
        "3, title: \"x\"",
        "3) // ",
        "",
        "(",
        "3 /* ",
        "3 // x",
        "\"",
        "1, 2",
        "]",
        "Fixed), (name: \"x\"",
        "3\n//",
    ] {
        let answer = server.edit(&json!({ "set": { "path": ["tolerance"], "to": to } }));
        assert_eq!(answer.status, 422, "{to:?}");
    }
    // Slashes within quotes are a text like any other.
    server
        .edit(&json!({ "set": { "path": ["title"], "to": "\"with // in it\"" } }))
        .good();
    assert_eq!(server.state()["title"], "with // in it");
    for path in [
        json!([]),
        json!(["parts", 999, "name"]),
        json!(["parts", -1]),
        json!(["title", "x"]),
        json!([null]),
        json!("title"),
        json!(["branches", 0, 1e300]),
    ] {
        let answer = server.edit(&json!({ "set": { "path": path, "to": "1" } }));
        assert!(
            [400, 422].contains(&answer.status),
            "{path}: {}",
            answer.status
        );
    }
    // What would leave a file that cannot be read is refused with the reason: a part that a change moves, no length.
    let parts = server.get("api/scene").good()["parts"].clone();
    let bars = parts
        .as_array()
        .unwrap()
        .iter()
        .position(|part| part["name"] == "bars");
    let gone = json!({ "set": { "path": ["parts", bars.unwrap()], "to": null } });
    let says = server.edit(&gone).refused(422);
    assert!(says.contains("bars"), "{says}");
    let vague = json!({ "set": { "path": ["tolerance"], "to": "\"a bit\"" } });
    server.edit(&vague).refused(422);
    for step in [
        "Explode(what: \"K2\")",
        "Move(what: \"nothing\", by: (0, 0, 1))",
        "Move(what: \"K2\", by: (0, 0, 1))], \"x\": [",
        "",
        "Move(",
    ] {
        let answer = server.edit(&json!({ "step": step }));
        assert_eq!(
            answer.status,
            422,
            "{step:?}: {}",
            String::from_utf8_lossy(&answer.body)
        );
    }
    assert_eq!(server.state()["undo"], 1);
}

#[test]
fn items_and_entries_are_added_and_taken_out() {
    let (_folder, server) = served();
    let count = server.get("api/scene").good()["parts"]
        .as_array()
        .unwrap()
        .len();
    let part =
        "(name: \"tool roll\", on: \"frame\", shape: Ball(centre: (-700, 0, 300), diameter: 60))";
    server
        .edit(&json!({ "set": { "path": ["parts", count], "to": part } }))
        .good();
    let scene = server.get("api/scene").good();
    assert_eq!(scene["parts"][count]["name"], "tool roll");
    assert_eq!(comments(&server.text()), comments(STOCK));
    server
        .edit(&json!({ "set": { "path": ["parts", count], "to": null } }))
        .good();
    assert_eq!(server.text(), STOCK);
    server
        .edit(&json!({ "set": { "path": ["points", "new bolt"], "to": "(-10, 20, 30)" } }))
        .good();
    let points = server.get("api/scene").good()["points"].clone();
    let bolt = points
        .as_array()
        .unwrap()
        .iter()
        .find(|p| p["name"] == "new bolt")
        .unwrap()
        .clone();
    assert_eq!(bolt["at_mm"], json!([-10.0, 20.0, 30.0]));
    server
        .edit(&json!({ "set": { "path": ["points", "new bolt"], "to": null } }))
        .good();
    assert_eq!(server.text(), STOCK);
}
