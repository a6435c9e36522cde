//! The route file: what parses to what, and what every fault says.

mod parses;
