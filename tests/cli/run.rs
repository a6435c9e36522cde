//! Runs the program in a folder of its own.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use tempfile::TempDir;

/// A folder to run in.
pub(crate) struct Folder(TempDir);

/// What a run gave.
pub(crate) struct Ran {
    pub(crate) status: i32,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Folder {
    pub(crate) fn new() -> Self {
        Self(TempDir::new().unwrap())
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn write(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).unwrap();
    }

    pub(crate) fn read(&self, name: &str) -> Vec<u8> {
        std::fs::read(self.path(name)).unwrap()
    }

    pub(crate) fn names(&self) -> Vec<String> {
        let mut names: Vec<String> = std::fs::read_dir(self.0.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    pub(crate) fn command(&self, line: &str) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_neckloom"));
        command.current_dir(self.0.path()).args(line.split(' '));
        command
    }

    pub(crate) fn run(&self, line: &str) -> Ran {
        self.run_words(&line.split(' ').collect::<Vec<_>>())
    }

    /// The same with arguments that hold spaces.
    pub(crate) fn run_words(&self, words: &[&str]) -> Ran {
        let mut command = Command::new(env!("CARGO_BIN_EXE_neckloom"));
        let Output {
            status,
            stdout,
            stderr,
        } = command
            .current_dir(self.0.path())
            .args(words)
            .output()
            .unwrap();
        Ran {
            status: status.code().unwrap(),
            out: String::from_utf8(stdout).unwrap(),
            err: String::from_utf8(stderr).unwrap(),
        }
    }
}

/// A route of one short moving span between two ties that hold no direction; slack and limits are easy to tell.
/// The steered tie stands on the axis, so that the distance is 250 mm at every angle.
pub(crate) fn small_route(length_mm: f64) -> String {
    format!(
        r#"(
    format: 1,
    title: "One span",
    units: (length: "mm", temperature: "degC"),
    tolerance: 1,
    tape_error: 6,
    bodies: {{
        "frame": Fixed,
        "steering": Turns(on: "frame", through: (0, 0, 0), axis: (0, 0, 1), from: "-30 deg", to: "30 deg"),
    }},
    wires: {{ "lamp": (size: "0.5 mm2", strands: 19, outside: 1.6) }},
    branches: [(
        name: "neck",
        wires: ["lamp"],
        diameter: 4,
        stiffness: (bend: "0.002 N m2", twist: "0.0015 N m2", stretch: "20000 N", mass: "0.02 kg/m"),
        lay: [
            Tie(name: "T1", on: "frame", at: (0, 0, 0), facing: (0.3, 0, 1)),
            Tie(name: "T2", on: "steering", at: (0, 0, 250), facing: (-0.3, 0, 1), length: {length_mm}),
        ],
    )],
)"#
    )
}

pub(crate) fn exists(path: &Path) -> bool {
    path.try_exists().unwrap()
}

/// As Ctrl-C does it.
#[cfg(unix)]
pub(crate) fn interrupt(child: &std::process::Child) {
    let sent = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status()
        .unwrap();
    assert!(sent.success());
}
