//! Small valid files of every format, mutated a few thousand times: never a panic, never a hang, and what is read is
//! finite and can be measured.

use nalgebra::Point3;
use neckloom::geometry::Surface;
use neckloom::read::scan_bytes;

use super::formats::all;
use super::made::Made;
use crate::geometry::Random;

/// Mutations of each file.
const TRIES: u64 = 2500;

#[test]
fn mutated_files_are_read_or_refused() {
    let made = Made::torus(0.2, 0.05, 4, 3);
    for (name, format, bytes) in all(&made) {
        let (mut read, mut refused) = (0, 0);
        for seed in 0..TRIES {
            let mut random = Random::new(seed);
            let mut mutant = bytes.clone();
            for _ in 0..1 + random.below(4) {
                mutate(&mut random, &mut mutant);
            }
            let Ok(soup) = scan_bytes(format, &mutant, None) else {
                refused += 1;
                continue;
            };
            read += 1;
            assert!(soup.points.len() <= mutant.len(), "{name}, seed {seed}");
            let points: Vec<_> = soup.points.iter().map(|p| Point3::from(*p)).collect();
            let surface = if soup.triangles.is_empty() {
                Surface::of_points(&points)
            } else {
                Surface::of_triangles(&points, &soup.triangles)
            };
            if let Ok(surface) = surface {
                let (low, high) = surface.frame();
                assert!(low.iter().chain(high.iter()).all(|c| c.is_finite()));
            }
        }
        println!("{name}: {read} read, {refused} refused");
        assert!(refused > 0, "{name}");
    }
}

fn mutate(random: &mut Random, bytes: &mut Vec<u8>) {
    if bytes.is_empty() {
        return;
    }
    let at = random.below(bytes.len());
    let byte = || -> [u8; 8] { [0, 1, 0xff, b'-', b'9', b'\n', b'\\', b'e'] };
    match random.below(8) {
        0 => bytes[at] ^= 1 << random.below(8),
        1 => bytes[at] = byte()[random.below(8)],
        2 => bytes.truncate(at),
        3 => {
            let end = (at + random.below(40)).min(bytes.len());
            bytes.drain(at..end);
        }
        4 => {
            let end = (at + random.below(40)).min(bytes.len());
            let piece = bytes[at..end].to_vec();
            let to = random.below(bytes.len());
            bytes.splice(to..to, piece);
        }
        5 => bytes.insert(at, byte()[random.below(8)]),
        6 => {
            let end = (at + 4).min(bytes.len());
            bytes[at..end].fill(byte()[random.below(3)]);
        }
        // A longer number.
        _ => {
            if let Some(digit) = bytes[at..].iter().position(u8::is_ascii_digit) {
                let many = random.below(20);
                bytes.splice(at + digit..at + digit, vec![b'9'; many]);
            }
        }
    }
}
