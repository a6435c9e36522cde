//! The floor `machine`: where bodies are, which poses are tried, how near things are.

mod clearance;
mod steering;
mod sweep;
