//! The route file: what parses to what, and what every fault says.

mod faults;
mod library; // one small broken file, one fault: place, message, cure
mod mutation; // damaged files never panic
mod parses; // good files parse to what they say
mod places; // taped points alone
mod points_from; // points and taped distances from tables
mod quantity; // texts with units
mod spare; // slack gathered by hand, against closed forms
mod start; // the file that `start` writes
