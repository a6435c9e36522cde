//! Advice.

mod estimate;
