//! What is looked at of a glTF document: what places triangles. Section numbers are those of the glTF 2.0 specification
//! (Khronos, ISO/IEC 12113).

use std::collections::HashMap;

use serde::Deserialize;

/// What is looked at of a document (5.17).
#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase", default)]
#[derive(Default)]
pub(super) struct Document {
    pub(super) asset: Option<Asset>,
    pub(super) scene: Option<usize>,
    pub(super) scenes: Vec<Scene>,
    pub(super) nodes: Vec<Node>,
    pub(super) meshes: Vec<Mesh>,
    pub(super) accessors: Vec<Accessor>,
    pub(super) buffer_views: Vec<View>,
    pub(super) buffers: Vec<Buffer>,
    pub(super) extensions_required: Vec<String>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Asset {
    pub(super) version: String,
}

#[derive(Debug, Deserialize)]
pub(super) struct Scene {
    #[serde(default)]
    pub(super) nodes: Vec<usize>,
}

/// 5.25. The matrix is column by column.
#[derive(Debug, Deserialize)]
pub(super) struct Node {
    #[serde(default)]
    pub(super) children: Vec<usize>,
    pub(super) mesh: Option<usize>,
    pub(super) matrix: Option<[f64; 16]>,
    pub(super) translation: Option<[f64; 3]>,
    pub(super) rotation: Option<[f64; 4]>,
    pub(super) scale: Option<[f64; 3]>,
}

#[derive(Debug, Deserialize)]
pub(super) struct Mesh {
    #[serde(default)]
    pub(super) primitives: Vec<Primitive>,
}

/// 5.24. Modes: 0 points, 1 to 3 lines, 4 triangles, 5 strip, 6 fan.
#[derive(Debug, Deserialize)]
pub(super) struct Primitive {
    #[serde(default)]
    pub(super) attributes: HashMap<String, usize>,
    pub(super) indices: Option<usize>,
    pub(super) mode: Option<u32>,
}

/// 5.1. Components: 5121 and 5123 and 5125 whole numbers of 1, 2, 4 bytes, 5126 floats.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Accessor {
    pub(super) buffer_view: Option<usize>,
    #[serde(default)]
    pub(super) byte_offset: usize,
    pub(super) component_type: u32,
    pub(super) count: usize,
    #[serde(rename = "type")]
    pub(super) kind: String,
    pub(super) sparse: Option<serde::de::IgnoredAny>,
}

/// 5.11.
#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct View {
    pub(super) buffer: usize,
    #[serde(default)]
    pub(super) byte_offset: usize,
    pub(super) byte_length: usize,
    pub(super) byte_stride: Option<usize>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Buffer {
    pub(super) uri: Option<String>,
    pub(super) byte_length: usize,
}
