//! Undo and redo without end, over a reload, a kill and a restart; two tabs; a file changed on disk; saving.

use serde_json::{Value, json};

use super::client::{SMALL, Server};
use crate::cli::run::Folder;

fn titled(name: &str) -> Value {
    json!({ "set": { "path": ["title"], "to": format!("\"{name}\"") } })
}

fn opened() -> (Folder, Server) {
    let folder = Folder::new();
    folder.write("a.ron", SMALL);
    let server = Server::start(&folder, Some("a.ron"));
    (folder, server)
}

#[test]
fn nothing_is_written_before_the_first_edit_and_the_file_only_when_saved() {
    let (folder, server) = opened();
    server.get("api/scene").good();
    assert_eq!(folder.names(), ["a.ron"]);
    let state = server.edit(&titled("one")).good();
    assert_eq!((&state["dirty"], &state["undo"]), (&json!(true), &json!(1)));
    assert_eq!(folder.names(), [".a.ron.draft", "a.ron"]);
    assert_eq!(folder.read("a.ron"), SMALL.as_bytes());
    let state = server.post("api/save", &json!({})).good();
    assert_eq!(state["dirty"], false);
    let saved = String::from_utf8(folder.read("a.ron")).unwrap();
    // Only the title differs: comments and order are where they were.
    let differing: Vec<(&str, &str)> = SMALL
        .lines()
        .zip(saved.lines())
        .filter(|(a, b)| a != b)
        .collect();
    assert_eq!(differing.len(), 1);
    assert!(differing[0].1.contains("\"one\""));
    assert_eq!(SMALL.lines().count(), saved.lines().count());
    assert_eq!(folder.run("check a.ron --no-spread").status, 0);
}

#[test]
fn undo_and_redo_survive_a_kill_and_a_restart() {
    let (folder, server) = opened();
    for nth in 0..40 {
        server.edit(&titled(&format!("step {nth}"))).good();
    }
    for _ in 0..5 {
        server.post("api/undo", &json!({})).good();
    }
    let (text, state) = (server.text(), server.state());
    assert!(text.contains("step 34"));
    server.kill();
    let server = Server::start(&folder, Some("a.ron"));
    let again = server.state();
    assert_eq!(server.text(), text);
    for key in ["undo", "redo", "undo_says", "redo_says", "dirty", "title"] {
        assert_eq!(again[key], state[key], "{key}");
    }
    assert_eq!(again["draft"], true);
    assert_eq!((&again["undo"], &again["redo"]), (&json!(35), &json!(5)));
    for _ in 0..5 {
        server.post("api/redo", &json!({})).good();
    }
    assert!(server.text().contains("step 39"));
    server.post("api/redo", &json!({})).refused(409);
    let steps = server.get("api/steps").good();
    let first = steps["steps"][0]["rev"].clone();
    assert_eq!(steps["steps"].as_array().unwrap().len(), 41);
    server.post("api/undo_to", &json!({ "rev": first })).good();
    assert_eq!(server.text(), SMALL);
    server.post("api/undo", &json!({})).refused(409);
    // And what was saved can be undone after the next restart.
    server.post("api/redo", &json!({})).good();
    server.post("api/save", &json!({})).good();
    server.kill();
    let server = Server::start(&folder, Some("a.ron"));
    let state = server.state();
    assert_eq!(
        (&state["dirty"], &state["draft"]),
        (&json!(false), &json!(false))
    );
    server.post("api/undo", &json!({})).good();
    assert_eq!(server.text(), SMALL);
}

#[test]
fn a_draft_that_was_cut_off_keeps_all_whole_steps() {
    let (folder, server) = opened();
    server.edit(&titled("one")).good();
    server.edit(&titled("two")).good();
    server.kill();
    let whole = folder.read(".a.ron.draft");
    let lines: Vec<usize> = whole
        .iter()
        .enumerate()
        .filter(|(_, b)| **b == b'\n')
        .map(|(i, _)| i + 1)
        .collect();
    assert_eq!(lines.len(), 3);
    for cut in (0..=whole.len()).step_by(7).chain(lines.iter().copied()) {
        std::fs::write(folder.path(".a.ron.draft"), &whole[..cut]).unwrap();
        let server = Server::start(&folder, Some("a.ron"));
        let expected = lines
            .iter()
            .filter(|end| **end <= cut)
            .count()
            .saturating_sub(1);
        assert_eq!(server.state()["undo"], expected, "cut at {cut}");
        server.kill();
    }
    // What is no draft at all harms nothing, and a step afterwards is kept.
    std::fs::write(
        folder.path(".a.ron.draft"),
        b"\xff\x00 nonsense\n{\"edit\":{}}\n",
    )
    .unwrap();
    let server = Server::start(&folder, Some("a.ron"));
    assert_eq!(server.text(), SMALL);
    server.edit(&titled("three")).good();
    server.kill();
    let server = Server::start(&folder, Some("a.ron"));
    assert!(server.text().contains("three"));
}

#[test]
fn two_tabs_do_not_write_over_each_other() {
    let (_folder, server) = opened();
    let rev = server.rev();
    let edit =
        |name: &str| server.post("api/edit", &json!({ "rev": rev, "edits": [titled(name)] }));
    edit("first tab").good();
    let second = edit("second tab");
    second.refused(409);
    // It is told what is now, and nothing was lost.
    assert_eq!(second.json()["state"]["undo"], 1);
    assert!(server.text().contains("first tab"));
    server.post("api/save", &json!({ "rev": rev })).refused(409);
    server
        .post("api/save", &json!({ "rev": server.rev() }))
        .good();
}

#[test]
fn a_file_changed_outside_is_not_written_over() {
    let (folder, server) = opened();
    server.edit(&titled("mine")).good();
    let theirs = SMALL.replacen("title:", "title: /* theirs */", 1);
    folder.write("a.ron", &theirs);
    assert_eq!(server.state()["changed_on_disk"], true);
    server.post("api/save", &json!({})).refused(409);
    assert_eq!(folder.read("a.ron"), theirs.as_bytes());
    // Unsaved work and the other change both survive a restart.
    server.kill();
    let server = Server::start(&folder, Some("a.ron"));
    let state = server.state();
    assert_eq!(
        (&state["draft"], &state["changed_on_disk"]),
        (&json!(true), &json!(true))
    );
    assert!(server.text().contains("mine"));
    let taken = server
        .post("api/take_disk", &json!({ "rev": server.rev() }))
        .good();
    assert_eq!(
        (&taken["dirty"], &taken["changed_on_disk"]),
        (&json!(false), &json!(false))
    );
    assert_eq!(server.text(), theirs);
    server.post("api/undo", &json!({})).good();
    assert!(server.text().contains("mine"));
    server.post("api/save", &json!({})).good();
    // Knowingly it can be written over.
    folder.write("a.ron", &theirs);
    server.post("api/save", &json!({ "over": true })).good();
    assert!(
        String::from_utf8(folder.read("a.ron"))
            .unwrap()
            .contains("mine")
    );
    // All saved, then changed outside: that change is what is shown, as a step.
    server.kill();
    folder.write("a.ron", &theirs);
    let server = Server::start(&folder, Some("a.ron"));
    assert_eq!(server.text(), theirs);
    assert_eq!(server.state()["dirty"], false);
    server.post("api/undo", &json!({})).good();
    assert!(server.text().contains("mine"));
}

#[test]
fn another_program_on_the_same_file_is_told_so() {
    let (folder, server) = opened();
    server.edit(&titled("one")).good();
    let second = folder.run("page a.ron");
    assert_eq!(second.status, 2);
    assert!(
        second.err.contains("open in another page"),
        "{}",
        second.err
    );
    drop(server);
    let server = Server::start(&folder, Some("a.ron"));
    assert!(server.text().contains("one"));
}

#[test]
fn saving_under_another_name_leaves_the_first_file_alone() {
    let (folder, server) = opened();
    server.edit(&titled("one")).good();
    folder.write("taken.ron", "mine");
    server
        .post("api/save", &json!({ "as": "taken.ron" }))
        .refused(409);
    assert_eq!(folder.read("taken.ron"), b"mine");
    let state = server.post("api/save", &json!({ "as": "b.ron" })).good();
    assert_eq!(
        (&state["file"], &state["dirty"]),
        (&json!("b.ron"), &json!(false))
    );
    assert_eq!(folder.read("a.ron"), SMALL.as_bytes());
    server.post("api/undo", &json!({})).good();
    server.kill();
    let server = Server::start(&folder, Some("b.ron"));
    assert_eq!(server.text(), SMALL);
    server.post("api/redo", &json!({})).good();
    assert!(server.text().contains("one"));
}

#[cfg(unix)]
#[test]
fn where_no_draft_can_be_kept_the_state_says_so() {
    use std::os::unix::fs::symlink;
    let folder = Folder::new();
    folder.write("a.ron", SMALL);
    folder.write("other", "precious");
    // A link in the draft's place is never followed.
    symlink(folder.path("other"), folder.path(".a.ron.draft")).unwrap();
    let server = Server::start(&folder, Some("a.ron"));
    let state = server.edit(&titled("one")).good();
    assert!(state["draft_fault"].is_string());
    assert_eq!(folder.read("other"), b"precious");
    server.post("api/save", &json!({})).good();
    assert_eq!(folder.read("other"), b"precious");
}
