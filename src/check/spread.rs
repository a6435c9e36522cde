//! The spread.

/// All checks.
pub fn check() {
    todo!()
}
