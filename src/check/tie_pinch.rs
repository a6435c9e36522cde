//! tie_pinch
