//! The floor `geometry`, against closed forms, brute force and measured machines.

mod random;
mod shape;

pub(crate) use random::Random;
pub(crate) use shape::random_shape;
