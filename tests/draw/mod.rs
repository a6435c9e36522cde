//! Sheets drawn from a machine and shapes made by hand.

mod edge_cases;
mod invented;
mod kept;
mod sheet;
