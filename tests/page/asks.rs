//! Questions: answered as the command line answers, listened to more than once, cancelled.

use std::time::{Duration, Instant};

use serde_json::{Value, json};

use super::client::Server;
use crate::cli::run::Folder;

const TALLER: &str = include_str!("../../routes/tourer_stock.ron");

fn served() -> (Folder, Server) {
    let folder = Folder::new();
    folder.write("a.ron", TALLER);
    let server = Server::start(&folder, Some("a.ron"));
    (folder, server)
}

fn ask(server: &Server, what: &str, options: &Value) -> u64 {
    let job = server
        .post("api/ask", &json!({ "what": what, "options": options }))
        .good();
    job["job"].as_u64().unwrap()
}

fn listened(server: &Server, job: u64) -> Vec<Value> {
    server.lines(&server.request("GET", &format!("api/job/{job}"), ""))
}

fn result(server: &Server, what: &str, options: &Value) -> Value {
    let lines = listened(server, ask(server, what, options));
    let last = lines.last().unwrap();
    assert!(last["result"].is_object(), "{what}: {last}");
    last["result"].clone()
}

/// The same without what only the page is told.
fn plain(mut result: Value) -> Value {
    result.as_object_mut().unwrap().remove("proposals");
    result
}

#[test]
fn answers_are_those_of_the_command_line() {
    let (folder, server) = served();
    let scene = server.get("api/scene").good();
    let change = scene["changes"][0]["name"].as_str().unwrap().to_owned();
    let asked: [(&str, Value, Vec<&str>); 4] = [
        ("place", json!({}), vec!["place", "a.ron", "--json"]),
        (
            "reach",
            json!({ "change": change, "no_spread": true }),
            vec![
                "reach",
                "a.ron",
                "--change",
                &change,
                "--no-spread",
                "--json",
            ],
        ),
        (
            "compare",
            json!({ "change": change, "share": 50, "no_spread": true }),
            vec![
                "compare",
                "a.ron",
                "--change",
                &change,
                "--share",
                "50",
                "--no-spread",
                "--json",
            ],
        ),
        (
            "estimate",
            json!({ "spare_left": "62", "spare_straight": 48, "spare_right": 31, "length": 285, "lock": [38], "rise": ["110", "160"], "diameter": "8" }),
            vec![
                "estimate",
                "--spare-left",
                "62",
                "--spare-straight",
                "48",
                "--spare-right",
                "31",
                "--length",
                "285",
                "--lock",
                "38",
                "--rise",
                "110",
                "160",
                "--diameter",
                "8",
                "--json",
            ],
        ),
    ];
    for (what, options, words) in asked {
        let page = plain(result(&server, what, &options));
        let program: Value = serde_json::from_str(&folder.run_words(&words).out).unwrap();
        assert_eq!(page, program, "{what}");
    }
}

#[test]
fn a_proposal_can_be_accepted() {
    let (_folder, server) = served();
    let scene = server.get("api/scene").good();
    let change = scene["changes"][0]["name"].clone();
    let compared = result(
        &server,
        "compare",
        &json!({ "change": change, "no_spread": true }),
    );
    let proposal = &compared["proposals"][0];
    assert!(proposal["shapes"]["branches"].is_array());
    server
        .post(
            "api/edit",
            &json!({ "rev": server.rev(), "edits": proposal["edits"], "says": proposal["says"] }),
        )
        .good();
    let now = server.get("api/shapes").good();
    assert_eq!(
        now["branches"], proposal["shapes"]["branches"],
        "the ghost is what comes of it"
    );
}

#[test]
fn a_question_that_makes_no_sense_is_answered_with_why() {
    let (folder, server) = served();
    let refused = |what: &str, options: Value| {
        let lines = listened(&server, ask(&server, what, &options));
        let last = lines.last().unwrap().clone();
        assert!(
            last["error"]["says"].is_string(),
            "{what} {options}: {last}"
        );
        last["error"]["says"].as_str().unwrap().to_owned()
    };
    assert!(refused("reach", json!({ "change": "nothing of the kind" })).contains("no change"));
    refused("reach", json!({}));
    refused("reach", json!({ "change": "x", "output": "evil.svg" }));
    refused("retie", json!({ "write": 1, "output": "evil.ron" }));
    refused("locate", json!({ "failing": ["--output=evil"] }));
    refused("reroute", json!({ "branch": "main", "within": { "a": 1 } }));
    refused("start", json!({}));
    refused("page", json!({}));
    refused("--help", json!({}));
    refused("study", json!({}));
    assert_eq!(folder.names(), ["a.ron"]);
    server.get("api/job/999").refused(404);
    server.post("api/job/999/cancel", &json!({})).refused(404);
}

#[test]
fn a_long_question_is_cancelled_soon() {
    let (_folder, server) = served();
    for (what, options) in [
        ("reroute", json!({ "branch": "main" })),
        ("retie", json!({ "change": "bars 75 mm up" })),
    ] {
        let job = ask(&server, what, &options);
        std::thread::sleep(Duration::from_millis(1500));
        let asked = Instant::now();
        server
            .post(&format!("api/job/{job}/cancel"), &json!({}))
            .good();
        let lines = listened(&server, job);
        let took = asked.elapsed();
        assert!(lines.iter().any(|line| line["progress"].is_string()));
        let last = lines.last().unwrap();
        // It may have been done before.
        assert!(
            last["cancelled"] == true || last["result"].is_object() || last["error"].is_object(),
            "{last}"
        );
        assert!(
            took < Duration::from_secs(60),
            "{what} went on for {took:?}"
        );
        // Who comes later hears the same.
        assert_eq!(listened(&server, job), lines);
    }
    server.get("api/report?spread=no").good();
}
