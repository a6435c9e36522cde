//! The rod against closed forms.

mod elastica;
mod rig;
