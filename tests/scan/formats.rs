//! The same shape in every format is the same shape.

use neckloom::read::{ScanFormat, Soup, scan_bytes};

use super::made::{Made, narrow};

pub(super) fn all(made: &Made) -> Vec<(&'static str, ScanFormat, Vec<u8>)> {
    vec![
        ("STL binary", ScanFormat::Stl, made.stl_binary()),
        ("STL text", ScanFormat::Stl, made.stl_text()),
        ("OBJ", ScanFormat::Obj, made.obj()),
        ("PLY text", ScanFormat::Ply, made.ply_text()),
        ("PLY little", ScanFormat::Ply, made.ply_binary(true)),
        ("PLY big", ScanFormat::Ply, made.ply_binary(false)),
        ("glTF", ScanFormat::Gltf, made.gltf()),
        ("GLB", ScanFormat::Gltf, made.glb()),
    ]
}

fn corners(soup: &Soup) -> Vec<[[f32; 3]; 3]> {
    let corner = |i: u32| soup.points[i as usize].map(narrow);
    soup.triangles.iter().map(|t| t.map(corner)).collect()
}

#[test]
fn every_format_gives_the_same_triangles() {
    let made = Made::torus(2.0, 0.5, 13, 7);
    let want: Vec<[[f32; 3]; 3]> = (0..made.triangles.len())
        .map(|t| made.corners(t).map(|p| [p.x, p.y, p.z].map(narrow)))
        .collect();
    for (name, format, bytes) in all(&made) {
        let soup = scan_bytes(format, &bytes, None).unwrap();
        assert!(soup.notes.is_empty(), "{name}: {:?}", soup.notes);
        assert_eq!(soup.points.len(), 13 * 7, "{name}: corners are joined");
        let mut got = corners(&soup);
        if format == ScanFormat::Gltf {
            // Its node moves it by (1, 2, 3).
            for (i, by) in [1.0, 2.0, 3.0].into_iter().enumerate() {
                got.iter_mut().flatten().for_each(|p| p[i] -= by);
            }
        }
        let pairs = got
            .iter()
            .flatten()
            .flatten()
            .zip(want.iter().flatten().flatten());
        assert_eq!(got.len(), want.len(), "{name}");
        for (got, want) in pairs {
            assert!((got - want).abs() < 1e-6, "{name}: {got} for {want}");
        }
    }
}

#[test]
fn points_alone_are_a_cloud_in_every_format_that_has_them() {
    let made = Made {
        triangles: Vec::new(),
        ..Made::torus(2.0, 0.5, 13, 7)
    };
    for (name, format, bytes) in [
        ("OBJ", ScanFormat::Obj, made.obj()),
        ("PLY text", ScanFormat::Ply, made.ply_text()),
        ("PLY little", ScanFormat::Ply, made.ply_binary(true)),
        ("PLY big", ScanFormat::Ply, made.ply_binary(false)),
    ] {
        let soup = scan_bytes(format, &bytes, None).unwrap();
        assert_eq!((soup.points.len(), soup.triangles.len()), (91, 0), "{name}");
    }
}

#[test]
fn polygons_become_fans() {
    let obj = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\nf -4 -3 -2\n";
    let soup = scan_bytes(ScanFormat::Obj, obj, None).unwrap();
    assert_eq!(soup.triangles, [[0, 1, 2], [0, 2, 3], [0, 1, 2]]);
}
