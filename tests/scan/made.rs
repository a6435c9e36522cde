//! Scans that are made here: shapes of which the distance is known, and their files in every format.

use std::fmt::Write as _;

use nalgebra::{Point3, Vector3};

/// Corners and triangles.
#[derive(Clone, Default)]
pub(crate) struct Made {
    pub(crate) points: Vec<Point3<f64>>,
    pub(crate) triangles: Vec<[u32; 3]>,
}

impl Made {
    /// A closed grid of `m` by `n` cells, wrapped both ways; outward if `at` runs outward.
    fn wrapped(m: u32, n: u32, at: impl Fn(f64, f64) -> Point3<f64>) -> Self {
        let mut made = Self::default();
        for i in 0..m {
            for j in 0..n {
                let turn = |k: u32, of: u32| std::f64::consts::TAU * f64::from(k) / f64::from(of);
                made.points.push(at(turn(i, m), turn(j, n)));
                let corner = |i: u32, j: u32| (i % m) * n + j % n;
                let (a, b) = (corner(i, j), corner(i + 1, j));
                let (c, d) = (corner(i + 1, j + 1), corner(i, j + 1));
                made.triangles.push([a, b, c]);
                made.triangles.push([a, c, d]);
            }
        }
        made
    }

    /// A torus about z: radius of its ring and of its tube.
    pub(crate) fn torus(ring: f64, tube: f64, m: u32, n: u32) -> Self {
        Self::wrapped(m, n, |u, v| {
            let out = ring + tube * v.cos();
            Point3::new(out * u.cos(), out * u.sin(), tube * v.sin())
        })
    }

    /// A cylinder about z from −half to +half, closed by fans.
    pub(crate) fn cylinder(radius: f64, half: f64, n: u32) -> Self {
        let mut made = Self::default();
        for z in [-half, half] {
            for i in 0..n {
                let (sin, cos) = (std::f64::consts::TAU * f64::from(i) / f64::from(n)).sin_cos();
                made.points.push(Point3::new(radius * cos, radius * sin, z));
            }
        }
        made.points.push(Point3::new(0.0, 0.0, -half));
        made.points.push(Point3::new(0.0, 0.0, half));
        for i in 0..n {
            let j = (i + 1) % n;
            made.triangles.push([i, j, n + j]);
            made.triangles.push([i, n + j, n + i]);
            made.triangles.push([2 * n, j, i]);
            made.triangles.push([2 * n + 1, n + i, n + j]);
        }
        made
    }

    /// An open square sheet at height z, side to side in cells.
    pub(crate) fn sheet(side: f64, z: f64, cells: u32) -> Self {
        let mut made = Self::default();
        for i in 0..=cells {
            for j in 0..=cells {
                let at = |k: u32| side * (f64::from(k) / f64::from(cells) - 0.5);
                made.points.push(Point3::new(at(i), at(j), z));
            }
        }
        let w = cells + 1;
        for i in 0..cells {
            for j in 0..cells {
                let a = i * w + j;
                made.triangles.push([a, a + w, a + w + 1]);
                made.triangles.push([a, a + w + 1, a + 1]);
            }
        }
        made
    }

    pub(crate) fn corners(&self, t: usize) -> [Point3<f64>; 3] {
        self.triangles[t].map(|i| self.points[i as usize])
    }

    pub(crate) fn moved(mut self, by: Vector3<f64>) -> Self {
        for p in &mut self.points {
            *p += by;
        }
        self
    }

    pub(crate) fn stl_binary(&self) -> Vec<u8> {
        let mut bytes = vec![b' '; 80];
        bytes[..12].copy_from_slice(b"solid made\n\0");
        bytes.extend(u32::try_from(self.triangles.len()).unwrap().to_le_bytes());
        for t in 0..self.triangles.len() {
            bytes.extend([0; 12]);
            for p in self.corners(t) {
                for c in p.iter() {
                    bytes.extend(narrow(*c).to_le_bytes());
                }
            }
            bytes.extend([0; 2]);
        }
        bytes
    }

    /// Two solids.
    pub(crate) fn stl_text(&self) -> Vec<u8> {
        let mut text = String::new();
        let half = self.triangles.len() / 2;
        for (name, range) in [("one facet", 0..half), ("zwei", half..self.triangles.len())] {
            writeln!(text, "solid {name}").unwrap();
            for t in range {
                writeln!(text, " facet normal 0 0 0\n  outer loop").unwrap();
                for p in self.corners(t) {
                    writeln!(text, "   vertex {} {} {}", p.x, p.y, p.z).unwrap();
                }
                writeln!(text, "  endloop\n endfacet").unwrap();
            }
            writeln!(text, "endsolid {name}").unwrap();
        }
        text.into_bytes()
    }

    /// With a comment in Latin-1, a line that goes on, and names that count from the end.
    pub(crate) fn obj(&self) -> Vec<u8> {
        let mut text = b"# Ger\xe4t\no made\n".to_vec();
        for p in &self.points {
            text.extend(format!("v {} \\\n {} {}\n", p.x, p.y, p.z).into_bytes());
        }
        for [a, b, c] in &self.triangles {
            let back = i64::try_from(self.points.len()).unwrap();
            let line = format!("f {}//1 {}/2/3 {}\n", a + 1, b + 1, i64::from(*c) - back);
            text.extend(line.into_bytes());
        }
        text
    }

    pub(crate) fn ply_text(&self) -> Vec<u8> {
        let mut text = format!(
            "ply\nformat ascii 1.0\ncomment made\nelement vertex {}\nproperty double x\nproperty double y\nproperty \
             double z\nproperty uchar red\nelement face {}\nproperty list uchar int vertex_indices\nend_header\n",
            self.points.len(),
            self.triangles.len()
        );
        for p in &self.points {
            writeln!(text, "{} {} {} 7", p.x, p.y, p.z).unwrap();
        }
        for [a, b, c] in &self.triangles {
            writeln!(text, "3 {a} {b} {c}").unwrap();
        }
        text.into_bytes()
    }

    pub(crate) fn ply_binary(&self, little: bool) -> Vec<u8> {
        let name = if little { "little" } else { "big" };
        let mut bytes = format!(
            "ply\nformat binary_{name}_endian 1.0\nelement vertex {}\nproperty float x\nproperty uchar quality\nproperty \
             float y\nproperty float z\n",
            self.points.len()
        )
        .into_bytes();
        if !self.triangles.is_empty() {
            let faces = format!(
                "element face {}\nproperty list uchar uint vertex_indices\n",
                self.triangles.len()
            );
            bytes.extend(faces.into_bytes());
        }
        bytes.extend(b"end_header\n");
        let float = |c: f64| {
            if little {
                narrow(c).to_le_bytes()
            } else {
                narrow(c).to_be_bytes()
            }
        };
        for p in &self.points {
            bytes.extend(float(p.x));
            bytes.push(9);
            bytes.extend(float(p.y));
            bytes.extend(float(p.z));
        }
        for t in &self.triangles {
            bytes.push(3);
            for i in t {
                bytes.extend(if little {
                    i.to_le_bytes()
                } else {
                    i.to_be_bytes()
                });
            }
        }
        bytes
    }

    fn buffer(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        for p in &self.points {
            for c in p.iter() {
                bytes.extend(narrow(*c).to_le_bytes());
            }
        }
        for t in &self.triangles {
            for i in t {
                bytes.extend(i.to_le_bytes());
            }
        }
        bytes
    }

    /// The document, its node moved by (1, 2, 3).
    fn document(&self, uri: &str) -> String {
        let (points, indices) = (self.points.len(), 3 * self.triangles.len());
        format!(
            r#"{{"asset":{{"version":"2.0"}},"scene":0,"scenes":[{{"nodes":[0]}}],
"nodes":[{{"translation":[1,2,3],"children":[1]}},{{"mesh":0}}],
"meshes":[{{"primitives":[{{"attributes":{{"POSITION":0}},"indices":1}}]}}],
"accessors":[{{"bufferView":0,"componentType":5126,"count":{points},"type":"VEC3","min":[-9,-9,-9],"max":[9,9,9]}},
{{"bufferView":1,"componentType":5125,"count":{indices},"type":"SCALAR"}}],
"bufferViews":[{{"buffer":0,"byteLength":{}}},{{"buffer":0,"byteOffset":{},"byteLength":{}}}],
"buffers":[{{{uri}"byteLength":{}}}]}}"#,
            12 * points,
            12 * points,
            4 * indices,
            12 * points + 4 * indices
        )
    }

    pub(crate) fn gltf(&self) -> Vec<u8> {
        use base64::Engine;
        let data = base64::engine::general_purpose::STANDARD.encode(self.buffer());
        self.document(&format!(
            r#""uri":"data:application/octet-stream;base64,{data}","#
        ))
        .into_bytes()
    }

    pub(crate) fn glb(&self) -> Vec<u8> {
        let mut json = self.document("").into_bytes();
        while !json.len().is_multiple_of(4) {
            json.push(b' ');
        }
        let buffer = self.buffer();
        let word = |n: usize| u32::try_from(n).unwrap().to_le_bytes();
        let mut bytes = b"glTF".to_vec();
        bytes.extend(word(2));
        bytes.extend(word(12 + 8 + json.len() + 8 + buffer.len()));
        bytes.extend(word(json.len()));
        bytes.extend(b"JSON");
        bytes.extend(json);
        bytes.extend(word(buffer.len()));
        bytes.extend(b"BIN\0");
        bytes.extend(buffer);
        bytes
    }
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "files hold single precision"
)]
pub(crate) fn narrow(x: f64) -> f32 {
    x as f32
}
