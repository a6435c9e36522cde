//! twist
