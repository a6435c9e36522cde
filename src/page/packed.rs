//! Long rows of numbers as base64 of little-endian single precision, which a page reads without parsing.

use base64::Engine;
use base64::engine::general_purpose::STANDARD;

/// Numbers as base64 of 32-bit floats.
#[allow(
    clippy::cast_possible_truncation,
    reason = "single precision is enough to draw with"
)]
pub(super) fn floats(numbers: impl IntoIterator<Item = f64>) -> String {
    let bytes: Vec<u8> = numbers
        .into_iter()
        .flat_map(|number| (number as f32).to_le_bytes())
        .collect();
    STANDARD.encode(bytes)
}

/// Indices as base64 of 32-bit whole numbers.
pub(super) fn indices(numbers: impl IntoIterator<Item = u32>) -> String {
    let bytes: Vec<u8> = numbers.into_iter().flat_map(u32::to_le_bytes).collect();
    STANDARD.encode(bytes)
}
