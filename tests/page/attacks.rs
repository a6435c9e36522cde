//! What others may try: none of it is answered, changes anything or stops the page.

use serde_json::{Value, json};

use super::client::{SMALL, Server};
use crate::cli::run::Folder;

fn served() -> (Folder, Server) {
    let folder = Folder::new();
    folder.write("a.ron", SMALL);
    let server = Server::start(&folder, Some("a.ron"));
    (folder, server)
}

#[test]
fn without_the_token_nothing_is_answered() {
    let (_folder, server) = served();
    let host = &server.address;
    let long = "0".repeat(server.token.len());
    let mut near = server.token.clone();
    near.pop();
    for path in [
        "/",
        "/api/state",
        &format!("/{long}/api/state"),
        &format!("/{near}/api/state"),
        &format!("//{}/api/state", long),
        "/../api/state",
        &format!("/%2e%2e/{}/api/state", server.token),
    ] {
        let answer = server.send(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
        ));
        assert_eq!(answer.status, 403, "{path}");
    }
    assert!(server.token.len() >= 32);
    let (_folder, other) = served();
    assert_ne!(server.token, other.token);
}

#[test]
fn another_name_or_origin_is_refused() {
    let (_folder, server) = served();
    let (host, token) = (&server.address, &server.token);
    let port = host.split(':').nth(1).unwrap();
    let ask = |lines: &str| {
        server.send(&format!(
            "GET /{token}/api/state HTTP/1.1\r\n{lines}\r\nConnection: close\r\n\r\n"
        ))
    };
    assert_eq!(ask(&format!("Host: {host}")).status, 200);
    assert_eq!(ask(&format!("Host: localhost:{port}")).status, 200);
    for lines in [
        "Host: evil.example".to_owned(),
        format!("Host: evil.example:{port}"),
        "Host: 127.0.0.1".to_owned(),
        format!("Host: {host}.evil.example"),
        format!("Host: {host}\r\nOrigin: http://evil.example"),
        format!("Host: {host}\r\nOrigin: https://{host}"),
        format!("Host: {host}\r\nOrigin: null"),
        format!("Host: {host}\r\nOrigin: http://{host}\r\nOrigin: http://evil.example"),
        format!("Host: {host}\r\nSec-Fetch-Site: cross-site"),
        format!("Host: {host}\r\nSec-Fetch-Site: same-site"),
        format!("Host: {host}\r\nSec-Fetch-Site: none"),
    ] {
        let status = ask(&lines).status;
        assert!(status == 403 || status == 400, "{lines}: {status}");
    }
    // The page itself may be opened from the address bar.
    let opened = server.send(&format!("GET /{token}/ HTTP/1.1\r\nHost: {host}\r\nSec-Fetch-Site: none\r\nConnection: close\r\n\r\n"));
    assert_eq!(opened.status, 200);
}

#[test]
fn a_form_of_another_page_changes_nothing() {
    let (_folder, server) = served();
    let (host, token) = (&server.address, &server.token);
    let body = json!({ "rev": server.rev(), "edits": [{ "text": "()" }] }).to_string();
    for kind in [
        "text/plain",
        "application/x-www-form-urlencoded",
        "multipart/form-data; boundary=x",
        "",
    ] {
        let request = format!(
            "POST /{token}/api/edit HTTP/1.1\r\nHost: {host}\r\nContent-Type: {kind}\r\nConnection: close\r\n\
            Content-Length: {}\r\n\r\n{body}",
            body.len()
        );
        server.send(&request).refused(403);
    }
    for method in ["PUT", "DELETE", "OPTIONS", "PATCH", "TRACE"] {
        server
            .send(&server.request(method, "api/state", ""))
            .refused(403);
    }
    // By GET nothing changes.
    assert_eq!(server.get("api/undo").status, 400);
    assert_eq!(server.text(), SMALL);
    assert_eq!(server.state()["undo"], 0);
}

#[test]
fn no_path_leads_out_of_the_page_or_the_folder() {
    let outer = Folder::new();
    outer.write("secret.ron", SMALL);
    std::fs::create_dir(outer.path("inner")).unwrap();
    outer.write("inner/a.ron", SMALL);
    #[cfg(unix)]
    std::os::unix::fs::symlink(outer.path("secret.ron"), outer.path("inner/link.ron")).unwrap();
    let server = Server::start_in(&outer.path("inner"), Some("a.ron"));
    for name in [
        "../secret.ron",
        "..",
        ".",
        "",
        "/etc/passwd",
        "link.ron",
        "inner/../a.ron",
        "..\\secret.ron",
        "a.ron\0",
        ".hidden.ron",
        "c:a.ron",
        "%2e%2e/secret.ron",
        "a.ron/",
        "secret",
    ] {
        let opened = server.post("api/open", &json!({ "file": name }));
        assert!(
            [400, 404].contains(&opened.status),
            "{name}: {}",
            opened.status
        );
        let saved = server.post("api/save", &json!({ "as": name, "over": true }));
        let fine = [400, 403].contains(&saved.status)
            || name == "%2e%2e/secret.ron" && saved.status == 400;
        assert!(fine, "{name}: {}", saved.status);
    }
    assert_eq!(outer.read("secret.ron"), SMALL.as_bytes());
    let files = server.get("api/examples").good()["files"].clone();
    assert_eq!(files, json!(["a.ron"]));
    for name in [
        "../Cargo.toml",
        "..%2f..%2fCargo.toml",
        "%2e%2e/%2e%2e/Cargo.toml",
        "/etc/passwd",
        "....//x",
        "font/../../../lib.rs",
    ] {
        let answer = server.get(&format!("desk/{name}"));
        assert_ne!(answer.status, 200, "{name}");
    }
}

#[test]
fn a_route_reads_no_file_outside_the_folder() {
    let outer = Folder::new();
    outer.write(
        "cloud.ply",
        "ply\nformat ascii 1.0\nelement vertex 0\nend_header\n",
    );
    outer.write("points.csv", "name,x,y,z\nsecret word,1,2,3\n");
    std::fs::create_dir(outer.path("inner")).unwrap();
    outer.write("inner/a.ron", SMALL);
    #[cfg(unix)]
    std::os::unix::fs::symlink(outer.path("points.csv"), outer.path("inner/link.csv")).unwrap();
    let server = Server::start_in(&outer.path("inner"), Some("a.ron"));
    let names = [
        "../points.csv",
        "/etc/passwd",
        "link.csv",
        "../../nothing.csv",
        "/proc/self/environ",
    ];
    for name in names {
        let from = json!({ "set": { "path": ["points_from"], "to": format!("\"{name}\"") } });
        for call in ["api/edit", "api/try"] {
            let answer = server.post(call, &json!({ "rev": server.rev(), "edits": [from] }));
            let text = String::from_utf8_lossy(&answer.body).into_owned();
            assert!(text.contains("is not read"), "{name}: {text}");
            assert!(
                !text.contains("secret") && !text.contains("root:"),
                "{text}"
            );
        }
        let part =
            format!("(name: \"s\", on: \"frame\", shape: Scan(file: \"{name}\", unit: \"mm\"))");
        let scan = json!({ "set": { "path": ["parts", 0], "to": part } });
        server.edit(&scan).refused(403);
        let whole = SMALL.replacen("parts: [", &format!("parts: [{part},"), 1);
        server.edit(&json!({ "text": whole })).refused(403);
    }
    assert_eq!(server.text(), SMALL);
}

#[test]
fn nonsense_and_too_much_are_refused_and_the_page_goes_on() {
    let (_folder, server) = served();
    let posts = [
        "open",
        "edit",
        "try",
        "undo",
        "redo",
        "undo_to",
        "save",
        "take_disk",
        "ask",
    ];
    for call in posts {
        for body in [
            "",
            "{",
            "[]",
            "null",
            "{\"rev\": -1}",
            "{\"rev\": \"x\", \"edits\": 3}",
            "\u{0}",
            "{\"edits\": [{}]}",
        ] {
            let answer = server.send(&server.request("POST", &format!("api/{call}"), body));
            assert!(
                (400..500).contains(&answer.status),
                "{call} {body}: {}",
                answer.status
            );
            answer.json();
        }
    }
    let deep = format!("{{\"rev\": 1, \"edits\": {}", "[".repeat(100_000));
    server
        .send(&server.request("POST", "api/edit", &deep))
        .refused(400);
    let large = json!({ "rev": server.rev(), "edits": [{ "text": " ".repeat(17 << 20) }] });
    server.post("api/edit", &large).refused(413);
    let many: Vec<Value> = (0..1000).map(|_| json!({ "text": "" })).collect();
    server
        .post("api/edit", &json!({ "rev": server.rev(), "edits": many }))
        .refused(400);
    for call in ["job/99", "job/x", "tables/..%2fa", "pose", "pose?values=1"] {
        let status = server.get(&format!("api/{call}")).status;
        assert!((400..500).contains(&status), "{call}: {status}");
    }
    // A caller that sends half a request holds up nobody.
    let mut half = server.connect();
    std::io::Write::write_all(&mut half, b"POST /").unwrap();
    assert_eq!(server.text(), SMALL);
    drop(half);
    assert_eq!(server.state()["undo"], 0);
}
