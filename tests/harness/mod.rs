//! Wires and bundles: packing against published optima, stiffness of a section against closed forms.

mod packing;
mod section;
