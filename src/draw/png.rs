//! An SVG sheet as pixels.

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree};

use super::lettering;

/// Why a sheet gives no pixels.
#[derive(Debug, thiserror::Error)]
pub enum PngError {
    /// The text is not an SVG picture.
    #[error("the drawing is not an SVG picture: {0}")]
    NotSvg(#[from] resvg::usvg::Error),
    /// No pixels, or more than fit in memory.
    #[error("a picture {width} by {height} pixels cannot be made; choose a width from 1 to 20000")]
    Size {
        /// Pixels across.
        width: u32,
        /// Pixels down.
        height: u32,
    },
    /// The pixels cannot be written as PNG.
    #[error("the picture cannot be written as PNG: {0}")]
    Encode(String),
}

/// Draws an SVG picture `width_px` pixels wide and gives the bytes of a PNG file. Uses the sheet's own
/// typeface and no other, so that every machine gives the same pixels.
///
/// # Errors
/// See [`PngError`].
pub fn png(svg: &str, width_px: u32) -> Result<Vec<u8>, PngError> {
    let mut options = Options {
        font_family: lettering::FAMILY.to_owned(),
        ..Options::default()
    };
    options
        .fontdb_mut()
        .load_font_data(lettering::REGULAR.to_vec());
    options
        .fontdb_mut()
        .load_font_data(lettering::BOLD.to_vec());
    let tree = Tree::from_str(svg, &options)?;
    let scale = f64::from(width_px) / f64::from(tree.size().width());
    let down = (f64::from(tree.size().height()) * scale).round();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to the range of a picture just before"
    )]
    let height_px = down.clamp(0.0, 100_000.0) as u32;
    let size = || PngError::Size {
        width: width_px,
        height: height_px,
    };
    if width_px > 20_000 || height_px > 40_000 {
        return Err(size());
    }
    let mut pixels = Pixmap::new(width_px, height_px).ok_or_else(size)?;
    #[allow(
        clippy::cast_possible_truncation,
        reason = "a scale needs no more than single precision"
    )]
    let scale = scale as f32;
    resvg::render(
        &tree,
        Transform::from_scale(scale, scale),
        &mut pixels.as_mut(),
    );
    pixels
        .encode_png()
        .map_err(|e| PngError::Encode(e.to_string()))
}
