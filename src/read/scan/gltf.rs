//! glTF 2.0 and GLB: triangles and points of the scene, each where its nodes put it.
//!
//! Of the document only what places triangles is looked at; every index and every range is checked before it is used.
//! Section numbers are those of the glTF 2.0 specification (Khronos, ISO/IEC 12113).

use std::path::Path;

use base64::Engine;
use nalgebra::{Matrix4, Point3, Quaternion, Translation3, UnitQuaternion, Vector3};

use super::gltf_document::{Accessor, Buffer, Document, Mesh, Node};
use super::soup::{ScanFault, Soup};

/// A document that draws its meshes more often than this is not a scan, and would fill the memory.
const MOST: usize = 200_000_000;

pub(super) fn read(bytes: &[u8], folder: Option<&Path>) -> Result<Soup, ScanFault> {
    let (json, blob) = chunks(bytes)?;
    let document: Document = serde_json::from_slice(json)
        .map_err(|error| ScanFault::damaged(format!("its JSON is not glTF: {error}")))?;
    match &document.asset {
        Some(asset) if asset.version.starts_with("2.") => {}
        Some(_) => return Err(old()),
        None => {
            return Err(ScanFault::damaged(
                "its JSON has no \"asset\", so it is no glTF",
            ));
        }
    }
    if let Some(extension) = document.extensions_required.first() {
        return Err(ScanFault::new(
            format!("it needs the extension {extension}, which is not read"),
            "export it again without compression",
        ));
    }
    let buffers = document
        .buffers
        .iter()
        .map(|buffer| buffer_bytes(buffer, blob, folder))
        .collect::<Result<Vec<_>, _>>()?;
    let mut reader = Reader {
        buffers,
        seen: vec![false; document.nodes.len()],
        document: &document,
        soup: Soup::default(),
        points: Soup::default(),
    };
    match document.scenes.get(document.scene.unwrap_or(0)) {
        Some(scene) => reader.scene(&scene.nodes)?,
        None if document.scene.is_some() => return Err(missing("scene")),
        // Without a scene nothing says where things stand: each mesh stands as it is.
        None => {
            for mesh in &document.meshes {
                reader.mesh(mesh, &Matrix4::identity())?;
            }
        }
    }
    if reader.soup.triangles.is_empty() {
        return Ok(reader.points);
    }
    if !reader.points.points.is_empty() {
        let lost = reader.points.points.len();
        reader.soup.notes.push(format!(
            "{lost} bare points beside the triangles were left out"
        ));
    }
    Ok(reader.soup)
}

fn old() -> ScanFault {
    ScanFault::new("it is not of glTF version 2", "export it again as glTF 2.0")
}

fn missing(what: &str) -> ScanFault {
    ScanFault::damaged(format!("it names a {what} that is not there"))
}

/// The JSON and the binary chunk.
fn chunks(bytes: &[u8]) -> Result<(&[u8], Option<&[u8]>), ScanFault> {
    if !bytes.starts_with(b"glTF") {
        return Ok((bytes, None));
    }
    let word = |at: usize| {
        let four = bytes.get(at..at + 4)?.try_into().ok()?;
        usize::try_from(u32::from_le_bytes(four)).ok()
    };
    let short = || ScanFault::damaged("it ends before what its head promises");
    if word(4) != Some(2) {
        return Err(old());
    }
    if word(8).is_none_or(|length| length > bytes.len()) {
        return Err(short());
    }
    let (mut json, mut blob, mut at) = (None, None, 12);
    while at + 8 <= bytes.len() {
        let length = word(at).ok_or_else(short)?;
        let kind = &bytes[at + 4..at + 8];
        let end = (at + 8).checked_add(length).ok_or_else(short)?;
        let chunk = bytes.get(at + 8..end).ok_or_else(short)?;
        match kind {
            b"JSON" if json.is_none() => json = Some(chunk),
            b"BIN\0" if blob.is_none() => blob = Some(chunk),
            _ => {}
        }
        at = end;
    }
    Ok((json.ok_or_else(short)?, blob))
}

fn buffer_bytes(
    buffer: &Buffer,
    blob: Option<&[u8]>,
    folder: Option<&Path>,
) -> Result<Vec<u8>, ScanFault> {
    let bytes = match buffer.uri.as_deref() {
        None => blob
            .ok_or_else(|| ScanFault::damaged("it has no binary part, but names one"))?
            .to_vec(),
        Some(uri) if uri.starts_with("data:") => {
            let (_, data) = uri
                .split_once(";base64,")
                .ok_or_else(|| ScanFault::damaged("its data are not in base64"))?;
            base64::engine::general_purpose::STANDARD
                .decode(data)
                .map_err(|error| {
                    ScanFault::damaged(format!("its data are not in base64: {error}"))
                })?
        }
        Some(uri) => {
            let folder = folder.ok_or_else(|| {
                ScanFault::new(
                    format!("it needs the file \"{uri}\" beside it"),
                    "export it as one GLB file",
                )
            })?;
            super::file::bytes_of(&folder.join(uri.replace("%20", " "))).map_err(|fault| {
                ScanFault::new(format!("its file \"{uri}\": {fault}"), fault.cure)
            })?
        }
    };
    if bytes.len() < buffer.byte_length {
        return Err(ScanFault::damaged(format!(
            "a buffer has {} bytes, not the {} that it says",
            bytes.len(),
            buffer.byte_length
        )));
    }
    Ok(bytes)
}

/// Where a node puts what is below it (3.5.3): its matrix, or turned after scaled, then moved.
fn place(node: &Node) -> Matrix4<f64> {
    if let Some(columns) = &node.matrix {
        return Matrix4::from_column_slice(columns);
    }
    let moved = Translation3::from(Vector3::from(node.translation.unwrap_or_default()));
    let [x, y, z, w] = node.rotation.unwrap_or([0.0, 0.0, 0.0, 1.0]);
    let turned = UnitQuaternion::from_quaternion(Quaternion::new(w, x, y, z));
    let scale = Vector3::from(node.scale.unwrap_or([1.0; 3]));
    moved.to_homogeneous() * turned.to_homogeneous() * Matrix4::new_nonuniform_scaling(&scale)
}

struct Reader<'d> {
    document: &'d Document,
    buffers: Vec<Vec<u8>>,
    soup: Soup,
    points: Soup,
    /// Nodes that were drawn; each may stand once only, under one other (3.5.2).
    seen: Vec<bool>,
}

impl Reader<'_> {
    fn scene(&mut self, roots: &[usize]) -> Result<(), ScanFault> {
        // A list of what is still to be drawn rather than calls within calls: a chain of nodes may be long.
        let mut open: Vec<(usize, Matrix4<f64>)> = roots
            .iter()
            .map(|&root| (root, Matrix4::identity()))
            .collect();
        while let Some((index, above)) = open.pop() {
            let document = self.document;
            let node = document.nodes.get(index).ok_or_else(|| missing("node"))?;
            if std::mem::replace(&mut self.seen[index], true) {
                return Err(ScanFault::damaged(
                    "its nodes stand in a loop, or one stands under two others",
                ));
            }
            let here = above * place(node);
            if let Some(mesh) = node.mesh {
                let mesh = document.meshes.get(mesh).ok_or_else(|| missing("mesh"))?;
                self.mesh(mesh, &here)?;
            }
            open.extend(node.children.iter().map(|&child| (child, here)));
        }
        Ok(())
    }

    fn accessor(&self, index: usize) -> Result<&Accessor, ScanFault> {
        let accessor = self.document.accessors.get(index);
        accessor.ok_or_else(|| missing("accessor"))
    }

    fn mesh(&mut self, mesh: &Mesh, place: &Matrix4<f64>) -> Result<(), ScanFault> {
        for primitive in &mesh.primitives {
            let Some(&positions) = primitive.attributes.get("POSITION") else {
                continue;
            };
            let positions = self.accessor(positions)?;
            if positions.kind != "VEC3" || positions.component_type != 5126 {
                return Err(ScanFault::damaged(
                    "its positions are not three floats each",
                ));
            }
            let at: Vec<[f64; 3]> = self
                .rows(positions, 12)?
                .into_iter()
                .map(|row| {
                    let p = [0, 4, 8].map(|i| {
                        f64::from(f32::from_le_bytes([
                            row[i],
                            row[i + 1],
                            row[i + 2],
                            row[i + 3],
                        ]))
                    });
                    place.transform_point(&Point3::from(p)).coords.into()
                })
                .collect();
            let order: Vec<u32> = match primitive.indices {
                Some(indices) => self.indices(self.accessor(indices)?, at.len())?,
                None => (0..u32::try_from(at.len()).unwrap_or(u32::MAX)).collect(),
            };
            let mode = primitive.mode.unwrap_or(4);
            let soup = if mode == 0 {
                &mut self.points
            } else {
                &mut self.soup
            };
            let first = soup.next()?;
            if soup.points.len() + at.len() > MOST || soup.triangles.len() + order.len() > MOST {
                return Err(ScanFault::new(
                    "its scene shows more than can be held",
                    "export one copy of the scan alone",
                ));
            }
            soup.points.extend(at);
            let mut add = |t: [u32; 3]| soup.triangles.push(t.map(|i| first + i));
            match mode {
                4 => order.chunks_exact(3).for_each(|t| add([t[0], t[1], t[2]])),
                5 => order.windows(3).enumerate().for_each(|(i, t)| {
                    add(if i % 2 == 0 {
                        [t[0], t[1], t[2]]
                    } else {
                        [t[1], t[0], t[2]]
                    });
                }),
                6 => order
                    .get(1..)
                    .unwrap_or_default()
                    .windows(2)
                    .for_each(|t| add([order[0], t[0], t[1]])),
                0 => {}
                1..=3 => {
                    let lost = soup.points.len() - first as usize;
                    soup.points.truncate(first as usize);
                    soup.notes
                        .push(format!("lines between {lost} points were left out"));
                }
                other => {
                    return Err(ScanFault::damaged(format!(
                        "there is no drawing mode {other}"
                    )));
                }
            }
        }
        Ok(())
    }

    fn indices(&self, accessor: &Accessor, count: usize) -> Result<Vec<u32>, ScanFault> {
        if accessor.kind != "SCALAR" {
            return Err(ScanFault::damaged("its indices are not single numbers"));
        }
        let (size, number): (usize, fn(&[u8]) -> u32) = match accessor.component_type {
            5121 => (1, |b| b[0].into()),
            5123 => (2, |b| u16::from_le_bytes([b[0], b[1]]).into()),
            5125 => (4, |b| u32::from_le_bytes([b[0], b[1], b[2], b[3]])),
            _ => return Err(ScanFault::damaged("its indices are not whole numbers")),
        };
        let indices: Vec<u32> = self.rows(accessor, size)?.into_iter().map(number).collect();
        match indices.iter().find(|i| **i as usize >= count) {
            Some(bad) => Err(ScanFault::damaged(format!(
                "a triangle names corner {bad} (counted from 0), but there are only {count}"
            ))),
            None => Ok(indices),
        }
    }

    /// The bytes of each row of an accessor, `size` of them.
    fn rows(&self, accessor: &Accessor, size: usize) -> Result<Vec<&[u8]>, ScanFault> {
        let short = || ScanFault::damaged("it ends before what its accessors promise");
        if accessor.sparse.is_some() {
            return Err(ScanFault::new(
                "it has sparse accessors, which are not read",
                "export it again without them",
            ));
        }
        if accessor.count == 0 {
            return Ok(Vec::new());
        }
        let view = accessor
            .buffer_view
            .and_then(|view| self.document.buffer_views.get(view));
        let view = view.ok_or_else(|| missing("view"))?;
        let buffer = self
            .buffers
            .get(view.buffer)
            .ok_or_else(|| missing("buffer"))?;
        let end = view
            .byte_offset
            .checked_add(view.byte_length)
            .ok_or_else(short)?;
        let bytes = buffer.get(view.byte_offset..end).ok_or_else(short)?;
        // A stride below the size would let a small file stand for very many rows.
        let stride = view.byte_stride.unwrap_or(size).max(size);
        // Looked at before anything is set aside.
        let last = (accessor.count - 1)
            .checked_mul(stride)
            .and_then(|last| last.checked_add(accessor.byte_offset))
            .and_then(|last| last.checked_add(size));
        if last.is_none_or(|last| last > bytes.len()) {
            return Err(short());
        }
        (0..accessor.count)
            .map(|i| {
                let at = accessor.byte_offset + i * stride;
                bytes.get(at..at + size).ok_or_else(short)
            })
            .collect()
    }
}
