//! The floor `geometry`, against closed forms, brute force and measured machines.

pub(crate) mod bicycles;
mod eased;
pub(crate) mod random;
mod reach;
mod samples;
mod shape;
mod tape;

pub(crate) use random::Random;
pub(crate) use shape::random_shape;
