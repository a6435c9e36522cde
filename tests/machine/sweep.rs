//! The poses of a sweep and the walk through them.
