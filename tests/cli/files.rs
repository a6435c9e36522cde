//! `start`, `draw`, `place`, `completions`, `manual`.

use super::run::{Folder, exists, small_route};

#[test]
fn start_writes_a_file_that_checks_and_never_overwrites() {
    let folder = Folder::new();
    assert_eq!(folder.run("start mine.ron").status, 0);
    let ran = folder.run("check mine.ron");
    assert_eq!(ran.status, 0, "{}{}", ran.out, ran.err);
    folder.write("mine.ron", "my own");
    let ran = folder.run("start mine.ron");
    assert_eq!(ran.status, 2);
    assert!(ran.err.contains("choose another name"), "{}", ran.err);
    assert_eq!(folder.read("mine.ron"), b"my own");
    assert_eq!(folder.names(), ["mine.ron"], "nothing left lying about");
    assert_eq!(folder.run("start no/such/folder/mine.ron").status, 2);
}

#[test]
fn draw_writes_the_same_bytes_twice() {
    let folder = Folder::new();
    folder.write("a.ron", &small_route(280.0));
    let ran = folder.run("draw a.ron --no-spread --png");
    assert_eq!(
        (ran.status, ran.out.as_str()),
        (0, "a.svg\na.png\n"),
        "{}",
        ran.err
    );
    let (svg, png) = (folder.read("a.svg"), folder.read("a.png"));
    assert!(svg.starts_with(b"<?xml") || svg.starts_with(b"<svg"));
    assert!(png.starts_with(b"\x89PNG\r\n\x1a\n"));
    let again = folder.run("draw a.ron --no-spread -o -");
    assert_eq!(again.out.as_bytes(), svg);
    folder.run("draw a.ron --no-spread -o b.svg --png c.png --quiet");
    assert_eq!(
        folder.names(),
        ["a.png", "a.ron", "a.svg", "b.svg", "c.png"]
    );
    assert_eq!(folder.read("c.png"), png);
    // A route that breaks limits is drawn all the same.
    folder.write("short.ron", &small_route(255.0));
    assert_eq!(folder.run("draw short.ron").status, 0);
    assert!(exists(&folder.path("short.svg")));
    let ran = folder.run("draw a.ron -o no/such/folder/a.svg");
    assert_eq!(ran.status, 2);
    assert!(
        ran.err
            .contains("there is no folder \"no/such/folder\"\n    make the folder"),
        "{}",
        ran.err
    );
    let ran = folder.run("draw a.ron -o .");
    assert!(ran.err.contains("this is a folder"), "{}", ran.err);
    // More threads than cores are not started.
    assert_eq!(
        folder.run("check a.ron --quiet --threads 1000000").status,
        0
    );
}

/// Distances from (0, 0, 0), (400, 0, 0), (0, 300, 0) and (0, 0, 200) to (120, 90, 60), to the millimetre.
#[test]
fn place_finds_a_point_from_its_distances() {
    let folder = Folder::new();
    let at: [f64; 3] = [120.0, 90.0, 60.0];
    let known: [[f64; 3]; 4] = [
        [0.0; 3],
        [400.0, 0.0, 0.0],
        [0.0, 300.0, 0.0],
        [0.0, 0.0, 200.0],
    ];
    let read = |k: [f64; 3]| {
        ((k[0] - at[0]).powi(2) + (k[1] - at[1]).powi(2) + (k[2] - at[2]).powi(2)).sqrt()
    };
    let tape: Vec<String> = known
        .iter()
        .zip(["a", "b", "c", "d"])
        .map(|(point, name)| format!("(\"{name}\", {:.0})", read(*point)))
        .collect();
    folder.write(
        "p.ron",
        &format!(
            "(format: 1, points: {{ \"a\": (0, 0, 0), \"b\": (400, 0, 0), \"c\": (0, 300, 0), \"d\": (0, 0, 200), \
             \"coil\": Tape(from: [{}]) }})",
            tape.join(", ")
        ),
    );
    let ran = folder.run("place p.ron --json");
    assert_eq!(ran.status, 0, "{}", ran.err);
    let report: serde_json::Value = serde_json::from_str(&ran.out).unwrap();
    let point = &report["points"][0];
    assert_eq!(point["name"], "coil");
    for (found, expected) in point["at_mm"].as_array().unwrap().iter().zip(at) {
        assert!((found.as_f64().unwrap() - expected).abs() < 1.0, "{point}");
    }
    assert!(point["residual_mm"].as_f64().unwrap() < 1.0);
    assert!(point["error95_mm"].as_f64().unwrap() > 0.0);
    let table = folder.run("place p.ron");
    assert!(
        table.out.contains("coil") && table.out.contains("All in millimetres."),
        "{}",
        table.out
    );
    let inch = folder.run("place p.ron --units inch");
    assert!(inch.out.contains("4.7"), "{}", inch.out);
}

#[test]
fn completions_and_manual_come_from_the_definition() {
    let folder = Folder::new();
    for shell in ["bash", "zsh", "fish"] {
        let ran = folder.run(&format!("completions {shell}"));
        assert!(ran.status == 0 && ran.out.contains("no-spread"), "{shell}");
    }
    let manual = folder.run("manual");
    assert_eq!(manual.status, 0);
    for word in [".TH neckloom", "DRAW", "EXIT STATUS", "no\\-spread"] {
        assert!(manual.out.contains(word), "{word} in {}", manual.out);
    }
    let help = folder.run("check --help");
    assert!(help.out.contains("EXAMPLES"), "{}", help.out);
}
