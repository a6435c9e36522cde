//! The rod against closed forms.

mod elastica;
mod near_probe;
mod rig;
