//! heat_distance
