//! STL, text and binary.
//!
//! Which of the two it is, the length says: a binary file has 84 + 50 n bytes. Its head may begin with "solid" all the
//! same. A text may hold several solids; all are read.

use super::soup::{ScanFault, Soup};
use super::text;

const HEAD: usize = 84;
const FACET: usize = 50;

pub(super) fn read(bytes: &[u8]) -> Result<Soup, ScanFault> {
    let count = bytes
        .get(80..HEAD)
        .and_then(|four| four.try_into().ok())
        .map(u32::from_le_bytes);
    let promised = count.map(|n| HEAD as u64 + FACET as u64 * u64::from(n));
    let looks_like_text = bytes
        .trim_ascii_start()
        .get(..5)
        .is_some_and(|word| word.eq_ignore_ascii_case(b"solid"))
        && !bytes.contains(&0);
    match (count, promised) {
        (_, Some(promised)) if promised == bytes.len() as u64 => binary(bytes),
        _ if looks_like_text => ascii(bytes),
        (Some(count), Some(promised)) => {
            let room = (bytes.len() - HEAD) / FACET;
            // A few bytes more are harmless, a triangle more or less is not.
            if bytes.len() as u64 > promised && room as u64 == u64::from(count) {
                let mut soup = binary(&bytes[..HEAD + room * FACET])?;
                soup.notes
                    .push("there are bytes after the last triangle".to_owned());
                return Ok(soup);
            }
            Err(ScanFault::damaged(format!(
                "its head says {count} triangles, but the file holds {room}"
            )))
        }
        _ => Err(ScanFault::damaged(
            "it is neither a text that begins with \"solid\" nor long enough for a binary STL",
        )),
    }
}

fn binary(bytes: &[u8]) -> Result<Soup, ScanFault> {
    let facets = bytes.get(HEAD..).unwrap_or_default().chunks_exact(FACET);
    let mut soup = Soup {
        points: Vec::with_capacity(3 * facets.len()),
        triangles: Vec::with_capacity(facets.len()),
        notes: Vec::new(),
    };
    for facet in facets {
        let first = soup.next()?;
        let mut numbers = facet[12..48]
            .chunks_exact(4)
            .map(|four| f64::from(f32::from_le_bytes([four[0], four[1], four[2], four[3]])));
        for _ in 0..3 {
            let mut next = || numbers.next().unwrap_or(f64::NAN);
            soup.points.push([next(), next(), next()]);
        }
        soup.triangles.push([first, first + 1, first + 2]);
    }
    Ok(soup)
}

fn ascii(bytes: &[u8]) -> Result<Soup, ScanFault> {
    let mut soup = Soup::default();
    // Corners of the facet that is open, and whether a solid is.
    let (mut corners, mut in_facet, mut in_solid) = (Vec::new(), false, false);
    for (line, words) in text::lines(bytes) {
        let wrong = |what: &str| Err(ScanFault::damaged(format!("line {line}: {what}")));
        let Some(word) = words.split_ascii_whitespace().next() else {
            continue;
        };
        match word.to_ascii_lowercase().as_str() {
            "solid" if in_facet => return wrong("a solid begins inside a facet"),
            "solid" => in_solid = true,
            "endsolid" if in_facet => return wrong("a solid ends inside a facet"),
            "endsolid" => in_solid = false,
            "facet" if in_facet => return wrong("a facet begins inside another"),
            "facet" => in_facet = true,
            "vertex" if in_facet => {
                corners.push(soup.next()?);
                soup.points.push(text::three(&words, line)?);
            }
            "vertex" => return wrong("a corner stands outside a facet"),
            "endfacet" => {
                let [a, b, c] = corners[..] else {
                    return wrong(&format!("this facet has {} corners, not 3", corners.len()));
                };
                soup.triangles.push([a, b, c]);
                corners.clear();
                in_facet = false;
            }
            "outer" | "endloop" => {}
            other => return wrong(&format!("\"{}\" is no word of an STL", text::short(other))),
        }
    }
    if in_facet || in_solid {
        return Err(ScanFault::damaged("it ends before its \"endsolid\""));
    }
    Ok(soup)
}
