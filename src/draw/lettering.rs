//! The typeface: how wide text is, and where it breaks.

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

/// The regular weight, as the bytes of a font file.
pub(crate) const REGULAR: &[u8] = include_bytes!("font/WorkshopSheet-Regular.ttf");
/// The bold weight, as the bytes of a font file.
pub(crate) const BOLD: &[u8] = include_bytes!("font/WorkshopSheet-Bold.ttf");
/// Name of the family in both files.
pub(crate) const FAMILY: &str = "Workshop Sheet";

/// How far capitals and ascenders rise above the baseline, as a part of the type's height.
pub(crate) const RISE: f64 = 0.74;
/// How far descenders drop below the baseline, as a part of the type's height.
pub(crate) const DROP: f64 = 0.22;

/// Width of a character that the typeface does not have, as a part of the type's height: as wide as any.
const UNKNOWN: f64 = 1.0;

/// The text without characters that a picture cannot hold (control characters become spaces).
pub(crate) fn clean(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            c if c.is_control() => ' ',
            '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
            c => c,
        })
        .collect()
}

/// Width of one line of text \[mm\] at a type height `size` \[mm\], by the typeface's advance widths.
pub(crate) fn width(text: &str, size: f64, bold: bool) -> f64 {
    let Ok(font) = FontRef::new(if bold { BOLD } else { REGULAR }) else {
        return text.chars().count() as f64 * UNKNOWN * size;
    };
    let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
    let letters = font.charmap();
    text.chars()
        .map(|c| {
            letters
                .map(c)
                .and_then(|glyph| metrics.advance_width(glyph))
                .map_or(UNKNOWN, f64::from)
        })
        .sum::<f64>()
        * size
}

/// Breaks text into lines no wider than `room` \[mm\]: at spaces, and inside a word only where the word alone
/// is too wide.
pub(crate) fn wrap(text: &str, size: f64, bold: bool, room: f64) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    for word in text.split_whitespace() {
        let longer = if line.is_empty() {
            word.to_owned()
        } else {
            format!("{line} {word}")
        };
        if width(&longer, size, bold) <= room {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            lines.push(std::mem::take(&mut line));
        }
        for c in word.chars() {
            line.push(c);
            if width(&line, size, bold) > room && line.chars().count() > 1 {
                line.pop();
                lines.push(std::mem::replace(&mut line, c.to_string()));
            }
        }
    }
    if !line.is_empty() {
        lines.push(line);
    }
    lines
}

/// The text, or as much of it as fits into `room` \[mm\] with an ellipsis.
pub(crate) fn fit(text: &str, size: f64, bold: bool, room: f64) -> String {
    if width(text, size, bold) <= room {
        return text.to_owned();
    }
    let mut kept: String = text.to_owned();
    while kept.pop().is_some() {
        let shown = format!("{}…", kept.trim_end());
        if width(&shown, size, bold) <= room {
            return shown;
        }
    }
    String::new()
}
