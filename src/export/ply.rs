//! Polylines as a PLY file: a vertex element and an edge element, in text (Greg Turk, "The PLY Polygon File Format",
//! 1994, which names `edge` with `vertex1` and `vertex2` among the usual elements).

use std::fmt::Write;

use super::polylines::FRAME;
use super::{LineUnit, Polyline};

/// Beside its place, every vertex tells the `line` that it is on, as counted in the comments, and the outside
/// `radius` of the branch.
pub(super) fn ply(lines: &[Polyline], unit: LineUnit) -> Vec<u8> {
    let vertices: usize = lines.iter().map(|line| line.points.len()).sum();
    let edges: usize = lines
        .iter()
        .map(|line| line.points.len().saturating_sub(1))
        .sum();
    let mut text = format!(
        "ply\nformat ascii 1.0\ncomment centrelines of a wiring harness, all lengths in {}\ncomment {FRAME}\n",
        unit.name()
    );
    for (index, line) in lines.iter().enumerate() {
        // Writing to a text cannot fail.
        let _ = writeln!(
            text,
            "comment line {index}: {}, pose {}, {}",
            line.branch, line.pose, line.words
        );
    }
    let _ = write!(
        text,
        "element vertex {vertices}\nproperty double x\nproperty double y\nproperty double z\nproperty int line\n\
         property double radius\nelement edge {edges}\nproperty int vertex1\nproperty int vertex2\nend_header\n"
    );
    for (index, line) in lines.iter().enumerate() {
        let radius = unit.text(line.radius);
        for point in &line.points {
            let [x, y, z] = [point.x, point.y, point.z].map(|v| unit.text(v));
            let _ = writeln!(text, "{x} {y} {z} {index} {radius}");
        }
    }
    let mut first = 0;
    for line in lines {
        for vertex in first + 1..first + line.points.len() {
            let _ = writeln!(text, "{} {vertex}", vertex - 1);
        }
        first += line.points.len();
    }
    text.into_bytes()
}
