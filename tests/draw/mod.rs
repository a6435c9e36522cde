//! Sheets drawn from a machine and shapes made by hand.

mod bench; // the bench sheet: pages, true size
mod edge_cases;
mod invented;
mod kept;
mod sheet;
