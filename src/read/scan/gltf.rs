//! glTF 2.0 and GLB: triangles and points of the scene, each where its nodes put it.
//!
//! The `gltf` crate reads and validates the document. The numbers are taken out of the buffers here, every range checked,
//! since the crate's own readers stop the program on some bad files and take a missing range for an empty one.

use std::path::Path;

use base64::Engine;
use gltf::accessor::{DataType, Dimensions};
use gltf::mesh::Mode;
use nalgebra::{Matrix4, Point3};

use super::soup::{ScanFault, Soup};

/// A document that draws its meshes more often than this is not a scan, and would fill the memory.
const MOST: usize = 200_000_000;

pub(super) fn read(bytes: &[u8], folder: Option<&Path>) -> Result<Soup, ScanFault> {
    let (json, blob) = chunks(bytes)?;
    let root = gltf::json::Root::from_slice(json)
        .map_err(|error| ScanFault::damaged(format!("its JSON is not glTF: {error}")))?;
    let document = gltf::Document::from_json(root)
        .map_err(|error| ScanFault::damaged(format!("it is not valid glTF: {error}")))?;
    if let Some(extension) = document.extensions_required().next() {
        return Err(ScanFault::new(
            format!("it needs the extension {extension}, which is not read"),
            "export it again without compression",
        ));
    }
    let buffers = document
        .buffers()
        .map(|buffer| buffer_bytes(&buffer, blob, folder))
        .collect::<Result<Vec<_>, _>>()?;
    let mut reader = Reader {
        buffers,
        soup: Soup::default(),
        points: Soup::default(),
        seen: vec![false; document.nodes().len()],
    };
    let scene = document
        .default_scene()
        .or_else(|| document.scenes().next());
    match scene {
        Some(scene) => {
            for node in scene.nodes() {
                reader.node(&node, &Matrix4::identity())?;
            }
        }
        // Without a scene nothing says where things stand: each mesh stands as it is.
        None => {
            for mesh in document.meshes() {
                reader.mesh(&mesh, &Matrix4::identity())?;
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
        return Err(ScanFault::new(
            "it is not of glTF version 2",
            "export it again as glTF 2.0",
        ));
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
    buffer: &gltf::Buffer<'_>,
    blob: Option<&[u8]>,
    folder: Option<&Path>,
) -> Result<Vec<u8>, ScanFault> {
    let bytes = match buffer.source() {
        gltf::buffer::Source::Bin => blob
            .ok_or_else(|| ScanFault::damaged("it has no binary part, but names one"))?
            .to_vec(),
        gltf::buffer::Source::Uri(uri) if uri.starts_with("data:") => {
            let (_, data) = uri
                .split_once(";base64,")
                .ok_or_else(|| ScanFault::damaged("its data are not in base64"))?;
            base64::engine::general_purpose::STANDARD
                .decode(data)
                .map_err(|error| {
                    ScanFault::damaged(format!("its data are not in base64: {error}"))
                })?
        }
        gltf::buffer::Source::Uri(uri) => {
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
    if bytes.len() < buffer.length() {
        return Err(ScanFault::damaged(format!(
            "a buffer has {} bytes, not the {} that it says",
            bytes.len(),
            buffer.length()
        )));
    }
    Ok(bytes)
}

struct Reader {
    buffers: Vec<Vec<u8>>,
    soup: Soup,
    points: Soup,
    /// Nodes that were drawn; each may stand once only, under one other.
    seen: Vec<bool>,
}

impl Reader {
    fn node(&mut self, node: &gltf::Node<'_>, above: &Matrix4<f64>) -> Result<(), ScanFault> {
        let new = self.seen.get_mut(node.index());
        if new.is_none_or(|seen| std::mem::replace(seen, true)) {
            return Err(ScanFault::damaged(
                "its nodes stand in a loop, or one stands under two others",
            ));
        }
        let columns = node.transform().matrix();
        let own = Matrix4::from_fn(|row, column| f64::from(columns[column][row]));
        let here = above * own;
        if let Some(mesh) = node.mesh() {
            self.mesh(&mesh, &here)?;
        }
        for child in node.children() {
            self.node(&child, &here)?;
        }
        Ok(())
    }

    fn mesh(&mut self, mesh: &gltf::Mesh<'_>, place: &Matrix4<f64>) -> Result<(), ScanFault> {
        for primitive in mesh.primitives() {
            let Some(positions) = primitive.get(&gltf::Semantic::Positions) else {
                continue;
            };
            if positions.dimensions() != Dimensions::Vec3 || positions.data_type() != DataType::F32
            {
                return Err(ScanFault::damaged(
                    "its positions are not three floats each",
                ));
            }
            let at: Vec<[f64; 3]> = self
                .rows(&positions)?
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
            let order: Vec<u32> = match primitive.indices() {
                Some(indices) => self.indices(&indices, at.len())?,
                None => (0..u32::try_from(at.len()).unwrap_or(u32::MAX)).collect(),
            };
            let points = primitive.mode() == Mode::Points;
            let soup = if points {
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
            match primitive.mode() {
                Mode::Triangles => order.chunks_exact(3).for_each(|t| add([t[0], t[1], t[2]])),
                Mode::TriangleStrip => order.windows(3).enumerate().for_each(|(i, t)| {
                    add(if i % 2 == 0 {
                        [t[0], t[1], t[2]]
                    } else {
                        [t[1], t[0], t[2]]
                    });
                }),
                Mode::TriangleFan => order
                    .get(1..)
                    .unwrap_or_default()
                    .windows(2)
                    .for_each(|t| add([order[0], t[0], t[1]])),
                Mode::Points => {}
                Mode::Lines | Mode::LineLoop | Mode::LineStrip => {
                    let lost = soup.points.len() - first as usize;
                    soup.points.truncate(first as usize);
                    soup.notes
                        .push(format!("lines between {lost} points were left out"));
                }
            }
        }
        Ok(())
    }

    fn indices(&self, accessor: &gltf::Accessor<'_>, count: usize) -> Result<Vec<u32>, ScanFault> {
        if accessor.dimensions() != Dimensions::Scalar {
            return Err(ScanFault::damaged("its indices are not single numbers"));
        }
        let number: fn(&[u8]) -> u32 = match accessor.data_type() {
            DataType::U8 => |b| b[0].into(),
            DataType::U16 => |b| u16::from_le_bytes([b[0], b[1]]).into(),
            DataType::U32 => |b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]),
            _ => return Err(ScanFault::damaged("its indices are not whole numbers")),
        };
        let indices: Vec<u32> = self.rows(accessor)?.into_iter().map(number).collect();
        match indices.iter().find(|i| **i as usize >= count) {
            Some(bad) => Err(ScanFault::damaged(format!(
                "a triangle names corner {bad} (counted from 0), but there are only {count}"
            ))),
            None => Ok(indices),
        }
    }

    /// The bytes of each row of an accessor.
    fn rows(&self, accessor: &gltf::Accessor<'_>) -> Result<Vec<&[u8]>, ScanFault> {
        let short = || ScanFault::damaged("it ends before what its accessors promise");
        if accessor.sparse().is_some() {
            return Err(ScanFault::new(
                "it has sparse accessors, which are not read",
                "export it again without them",
            ));
        }
        let view = accessor.view().ok_or_else(short)?;
        let buffer = self.buffers.get(view.buffer().index()).ok_or_else(short)?;
        let end = view.offset().checked_add(view.length()).ok_or_else(short)?;
        let bytes = buffer.get(view.offset()..end).ok_or_else(short)?;
        let size = accessor.size();
        let stride = view.stride().unwrap_or(size).max(1);
        let count = accessor.count();
        if count == 0 {
            return Ok(Vec::new());
        }
        // Looked at before anything is set aside.
        let last = (count - 1)
            .checked_mul(stride)
            .and_then(|last| last.checked_add(accessor.offset()))
            .and_then(|last| last.checked_add(size));
        if last.is_none_or(|last| last > bytes.len()) {
            return Err(short());
        }
        (0..count)
            .map(|i| {
                let at = accessor.offset() + i * stride;
                bytes.get(at..at + size).ok_or_else(short)
            })
            .collect()
    }
}
