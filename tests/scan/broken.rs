//! Files that lie or are damaged: each is named, counted or refused, none is believed.

use neckloom::read::{ScanFormat, scan_bytes};

use super::made::Made;

fn refused(format: ScanFormat, bytes: &[u8], says: &str) {
    match scan_bytes(format, bytes, None) {
        Ok(soup) => panic!(
            "read {} triangles, wanted a refusal with \"{says}\"",
            soup.triangles.len()
        ),
        Err(fault) => {
            assert!(
                fault.message.contains(says),
                "{} (wanted \"{says}\")",
                fault.message
            );
            assert!(!fault.cure.is_empty());
        }
    }
}

fn noted(format: ScanFormat, bytes: &[u8], triangles: usize, says: &str) {
    let soup = scan_bytes(format, bytes, None).unwrap();
    assert_eq!(soup.triangles.len(), triangles);
    assert!(
        soup.notes.iter().any(|note| note.contains(says)),
        "{:?}",
        soup.notes
    );
}

fn torus() -> Made {
    Made::torus(2.0, 0.5, 5, 4)
}

#[test]
fn stl() {
    let whole = torus().stl_binary();
    refused(ScanFormat::Stl, b"", "empty");
    refused(
        ScanFormat::Stl,
        &whole[..whole.len() - 7],
        "says 40 triangles, but the file holds 39",
    );
    let mut lying = whole.clone();
    lying[80..84].copy_from_slice(&u32::MAX.to_le_bytes());
    refused(ScanFormat::Stl, &lying, "4294967295");
    lying[80..84].copy_from_slice(&3u32.to_le_bytes());
    refused(
        ScanFormat::Stl,
        &lying,
        "says 3 triangles, but the file holds 40",
    );
    let mut longer = whole.clone();
    longer.extend([0; 9]);
    noted(ScanFormat::Stl, &longer, 40, "after the last triangle");
    let mut nan = whole.clone();
    nan[84 + 12..84 + 16].copy_from_slice(&f32::NAN.to_le_bytes());
    noted(
        ScanFormat::Stl,
        &nan,
        39,
        "1 triangles have a corner that is not a number",
    );
    let mut none = whole[..84].to_vec();
    none[80..84].fill(0);
    refused(ScanFormat::Stl, &none, "no triangle");
    let text = torus().stl_text();
    let cut = &text[..text.len() / 2];
    refused(ScanFormat::Stl, cut, "");
    refused(
        ScanFormat::Stl,
        b"solid x\nfacet\nvertex 0 0 0\nvertex 1 0 0\nendfacet\nendsolid",
        "line 5",
    );
    refused(
        ScanFormat::Stl,
        b"solid x\r\nfacet\r\nvertex 0 zero 0\r\n",
        "line 3: \"zero\" is not a number",
    );
    let shouting = b"SOLID\nFACET normal 0 0 1\nOUTER LOOP\nVERTEX 0 0 0\nVERTEX 1 0 0\nVERTEX 0 1 0\nENDLOOP\nENDFACET\nENDSOLID\n";
    assert_eq!(
        scan_bytes(ScanFormat::Stl, shouting, None)
            .unwrap()
            .triangles
            .len(),
        1
    );
}

#[test]
fn obj() {
    refused(
        ScanFormat::Obj,
        b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 4\n",
        "corner 3",
    );
    refused(ScanFormat::Obj, b"v 0 0 0\nf 0 1 1\n", "line 2");
    refused(ScanFormat::Obj, b"v 0 0 0\nf 1 1 -2\n", "line 2");
    refused(ScanFormat::Obj, b"v 0 0\n", "a number is missing");
    refused(
        ScanFormat::Obj,
        b"f 99999999999999999999 1 1\n",
        "names no corner",
    );
    refused(ScanFormat::Obj, b"# nothing\n", "no triangle and no point");
    let needles = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\nf 1 1 2\nf 2 2 2\nf 1 2\n";
    noted(ScanFormat::Obj, needles, 1, "2 triangles have no surface");
    noted(
        ScanFormat::Obj,
        needles,
        1,
        "1 faces have fewer than three corners",
    );
    // A line that no other triangle has is kept: something may be there.
    noted(
        ScanFormat::Obj,
        b"v 0 0 0\nv 1 0 0\nf 1 2 2\n",
        1,
        "1 triangles have no surface",
    );
}

#[test]
fn ply() {
    let whole = torus().ply_binary(true);
    refused(ScanFormat::Ply, &whole[..whole.len() - 1], "ends before");
    refused(ScanFormat::Ply, &whole[..40], "end_header");
    let lying = |head: &str| {
        refused(
            ScanFormat::Ply,
            format!("ply\nformat {head}end_header\n").as_bytes(),
            "",
        );
    };
    lying("binary_little_endian 1.0\nelement vertex 1000000000000\n");
    lying(
        "binary_little_endian 1.0\nelement vertex 1000000000000\nproperty float x\nproperty float y\nproperty float z\n",
    );
    lying(
        "ascii 1.0\nelement vertex 18446744073709551615\nproperty float x\nproperty float y\nproperty float z\n",
    );
    lying("ascii 1.0\nelement vertex -1\nproperty float x\n");
    lying("middle 1.0\n");
    refused(
        ScanFormat::Ply,
        b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nend_header\n1 2\n",
        "no \"z\"",
    );
    let cloud = b"ply\nformat ascii 1.0\nelement vertex 6\nproperty float x\nproperty float y\nproperty float z\n\
        end_header\n0 0 0\n1 nan 0\n0 0 0\n1 2 3\n1 2 3\n2 2 3\n";
    let soup = scan_bytes(ScanFormat::Ply, cloud, None).unwrap();
    assert_eq!(soup.points, [[1.0, 2.0, 3.0], [2.0, 2.0, 3.0]]);
    assert_eq!(soup.notes.len(), 3, "{:?}", soup.notes);
    let list = b"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\n\
        element face 1\nproperty list int int vertex_indices\nend_header\n0 0 0\n-3 0 0 0\n";
    refused(ScanFormat::Ply, list, "length -3");
}

#[test]
fn gltf() {
    let good = String::from_utf8(torus().gltf()).unwrap();
    let swapped = |from: &str, to: &str, says: &str| {
        let bad = good.replacen(from, to, 1);
        assert_ne!(good, bad);
        refused(ScanFormat::Gltf, bad.as_bytes(), says);
    };
    swapped("\"componentType\":5125", "\"componentType\":5126", "");
    swapped("{\"mesh\":0}", "{\"mesh\":0,\"children\":[0]}", "loop");
    swapped("\"children\":[1]", "\"children\":[1,1]", "loop");
    swapped("\"count\":20", "\"count\":4000000000", "");
    swapped("\"byteOffset\":240", "\"byteOffset\":99999999", "");
    swapped("base64,", "base64,!", "base64");
    swapped(
        "data:application/octet-stream;base64,",
        "missing.bin?",
        "missing.bin",
    );
    swapped(
        "\"scene\":0",
        "\"extensionsRequired\":[\"KHR_draco_mesh_compression\"],\"extensionsUsed\":[\"KHR_draco_mesh_compression\"],\"scene\":0",
        "",
    );
    let glb = torus().glb();
    refused(ScanFormat::Gltf, &glb[..glb.len() - 10], "ends before");
    refused(ScanFormat::Gltf, &glb[..11], "");
    refused(ScanFormat::Gltf, b"{}", "");
}
