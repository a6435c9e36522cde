//! OBJ: corners (`v`), faces (`f`), and where there is no face the corners alone, as a cloud.
//!
//! Faces of more than three corners become fans. Lines may go on after a `\`; comments and names may be in any letters.

use super::soup::{ScanFault, Soup};
use super::text;

pub(super) fn read(bytes: &[u8]) -> Result<Soup, ScanFault> {
    let mut soup = Soup::default();
    let mut corners = Vec::new();
    let (mut begun, mut too_short) = (String::new(), 0_usize);
    for (line, words) in text::lines(bytes) {
        let words = words.split('#').next().unwrap_or_default();
        if let Some(first) = words.trim_end().strip_suffix('\\') {
            begun.push_str(first);
            begun.push(' ');
            continue;
        }
        begun.push_str(words);
        match begun.split_ascii_whitespace().next() {
            Some("v") => {
                soup.next()?;
                let point = text::three(&begun, line)?;
                soup.points.push(point);
            }
            Some("f") => {
                corners.clear();
                for word in begun.split_ascii_whitespace().skip(1) {
                    corners.push(corner(word, soup.points.len(), line)?);
                }
                too_short += usize::from(corners.len() < 3);
                soup.polygon(&corners);
            }
            // Texture, normals, names, groups, curves: nothing that a distance depends on.
            _ => {}
        }
        begun.clear();
    }
    if too_short > 0 {
        soup.notes.push(format!(
            "{too_short} faces have fewer than three corners and were left out"
        ));
    }
    Ok(soup)
}

/// The corner that `7`, `7/1`, `7//3` or `-1` names, counted from zero. One that is not read yet may still come.
fn corner(word: &str, so_far: usize, line: usize) -> Result<u32, ScanFault> {
    let name = word.split('/').next().unwrap_or_default();
    let wrong = || {
        ScanFault::damaged(format!(
            "line {line}: \"{}\" names no corner",
            text::short(word)
        ))
    };
    let n: i64 = name.parse().map_err(|_| wrong())?;
    let so_far = i64::try_from(so_far).map_err(|_| wrong())?;
    let index = match n {
        1.. => n - 1,
        0 => return Err(wrong()),
        _ => so_far.checked_add(n).ok_or_else(wrong)?,
    };
    u32::try_from(index).map_err(|_| wrong())
}
