//! The report as JSON.

/// The report.
pub fn report() {
    todo!()
}
