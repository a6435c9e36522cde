//! Polylines, read back by crates that read PLY and OBJ.

use std::io::Cursor;

use neckloom::export::{ExportFile, ExportOptions, LineUnit, PoseChoice};
use ply_rs_bw::parser::Parser;
use ply_rs_bw::ply::{DefaultElement, Property};

use super::{job, written};

/// The centrelines of all branches in the chosen poses \[m\], without the points that stand twice.
fn expected(poses: &[usize]) -> Vec<Vec<[f64; 3]>> {
    let (_, solution, _) = job();
    let mut lines = Vec::new();
    for branch in &solution.branches {
        for &pose in poses {
            let mut line: Vec<[f64; 3]> = Vec::new();
            for station in &branch.shapes[pose].stations {
                let p = station.position;
                if line.last().is_none_or(|l| {
                    (l[0] - p.x).abs() + (l[1] - p.y).abs() + (l[2] - p.z).abs() > 1e-9
                }) {
                    line.push([p.x, p.y, p.z]);
                }
            }
            lines.push(line);
        }
    }
    lines
}

fn near(found: &[f64], expected: &[f64], scale: f64) -> bool {
    // Half of the last digit that is written.
    found
        .iter()
        .zip(expected)
        .all(|(f, e)| (f / scale - e).abs() < 0.51e-7)
}

const UNITS: [(LineUnit, f64, &str); 2] = [
    (LineUnit::Millimetre, 1e3, "all lengths in millimetres"),
    (LineUnit::Metre, 1.0, "all lengths in metres"),
];

#[test]
fn ply_reads_back() {
    for (lines, scale, told) in UNITS {
        let options = ExportOptions {
            lines,
            poses: PoseChoice::These(vec![0, 3]),
            ..ExportOptions::default()
        };
        let bytes = written(ExportFile::Ply, &options);
        let ply = Parser::<DefaultElement>::new()
            .read_ply(&mut Cursor::new(&bytes))
            .unwrap();
        let comments = ply.header.comments.join("\n");
        assert!(
            comments.contains(told) && comments.contains("x forward"),
            "{comments}"
        );
        assert!(
            comments.contains("line 0: neck, left, pose 0, steering full right (6 deg)"),
            "{comments}"
        );
        let number = |element: &DefaultElement, name: &str| match element[name] {
            Property::Double(v) => v,
            Property::Int(v) => f64::from(v),
            ref other => panic!("{name}: {other:?}"),
        };
        let expected = expected(&[0, 3]);
        let vertices = &ply.payload["vertex"];
        let mut at = 0;
        for (index, line) in expected.iter().enumerate() {
            for point in line {
                let vertex = &vertices[at];
                let found = ["x", "y", "z"].map(|axis| number(vertex, axis));
                assert!(near(&found, point, scale), "{found:?} {point:?}");
                assert!((number(vertex, "line") - index as f64).abs() < 0.1);
                let radius = if index < 2 { 0.004 } else { 0.0025 };
                assert!((number(vertex, "radius") / scale - radius).abs() < 1e-9);
                at += 1;
            }
        }
        assert_eq!(at, vertices.len());
        // Every line is one chain, and no edge goes from one line to another.
        let edges = &ply.payload["edge"];
        assert_eq!(edges.len(), vertices.len() - expected.len());
        let index = |element: &DefaultElement, name: &str| match element[name] {
            Property::Int(v) => usize::try_from(v).unwrap(),
            ref other => panic!("{name}: {other:?}"),
        };
        for edge in edges {
            let (a, b) = (index(edge, "vertex1"), index(edge, "vertex2"));
            assert_eq!(b, a + 1);
            assert_eq!(index(&vertices[a], "line"), index(&vertices[b], "line"));
        }
    }
}

#[test]
fn obj_reads_back() {
    for (lines, scale, told) in UNITS {
        let options = ExportOptions {
            lines,
            poses: PoseChoice::Ends,
            ..ExportOptions::default()
        };
        let bytes = written(ExportFile::Obj, &options);
        let text = String::from_utf8(bytes.clone()).unwrap();
        assert!(
            text.is_ascii()
                && text.starts_with(&format!("# centrelines of a wiring harness, {told}\n"))
        );
        // tobj keeps single precision: coordinates against the text itself, order and objects against tobj.
        let (models, _) = tobj::load_obj_buf(
            &mut Cursor::new(&bytes),
            &tobj::LoadOptions::default(),
            |_| Err(tobj::LoadError::OpenFileFailed),
        )
        .unwrap_or_else(|error| panic!("{error}"));
        let (route, solution, _) = job();
        let ends: Vec<usize> = (0..solution.sweep.poses.len())
            .filter(|&id| {
                let joints = &solution.sweep.poses[id].joints;
                joints.iter().zip(&route.machine.bodies).all(|(v, body)| {
                    let (from, to) = body.joint.stops();
                    [from, to, 0.0].iter().any(|end| (end - v).abs() < 1e-12)
                })
            })
            .collect();
        // Straight and two stops, seat up and down.
        assert_eq!(ends.len(), 6);
        let expected = expected(&ends);
        assert_eq!(models.len(), expected.len());
        assert_eq!(
            models[0].name,
            "neck,_left_pose_0_steering_full_right_(6_deg)"
        );
        for (model, line) in models.iter().zip(&expected) {
            assert_eq!(model.mesh.indices.len(), line.len());
            let positions = &model.mesh.positions;
            for (&index, point) in model.mesh.indices.iter().zip(line) {
                for axis in 0..3 {
                    let found = f64::from(positions[3 * index as usize + axis]) / scale;
                    assert!(
                        (found - point[axis]).abs() < 1e-6,
                        "{} {found} {point:?}",
                        model.name
                    );
                }
            }
        }
        let mut points = expected.iter().flatten();
        for line in text.lines().filter_map(|line| line.strip_prefix("v ")) {
            let found: Vec<f64> = line.split(' ').map(|v| v.parse().unwrap()).collect();
            assert!(near(&found, points.next().unwrap(), scale), "{line}");
        }
        assert!(points.next().is_none());
    }
}
