//! pinch
