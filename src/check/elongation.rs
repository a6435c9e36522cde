//! elongation
