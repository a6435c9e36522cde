//! Polylines as an OBJ file: one object a branch and pose, its vertices (`v`) and one line through them (`l`, whose
//! numbers count all vertices of the file from one).

use std::fmt::Write;

use super::polylines::FRAME;
use super::{LineUnit, Polyline};

pub(super) fn obj(lines: &[Polyline], unit: LineUnit) -> Vec<u8> {
    let mut text = format!(
        "# centrelines of a wiring harness, all lengths in {}\n# {FRAME}\n",
        unit.name()
    );
    let mut before = 0;
    for line in lines {
        // Some readers end a name at a blank.
        let name = format!("{} pose {} {}", line.branch, line.pose, line.words).replace(' ', "_");
        // Writing to a text cannot fail.
        let _ = writeln!(
            text,
            "# {}, pose {}, {}\no {name}",
            line.branch, line.pose, line.words
        );
        for point in &line.points {
            let [x, y, z] = [point.x, point.y, point.z].map(|v| unit.text(v));
            let _ = writeln!(text, "v {x} {y} {z}");
        }
        if line.points.len() > 1 {
            text.push('l');
            for vertex in before + 1..=before + line.points.len() {
                let _ = write!(text, " {vertex}");
            }
            text.push('\n');
        }
        before += line.points.len();
    }
    text.into_bytes()
}
