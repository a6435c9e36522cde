//! What the lie of a bundle does to copper: relations against published values, bending against exact shapes.

mod electric;
mod fatigue;
mod flexing;
mod heat;
