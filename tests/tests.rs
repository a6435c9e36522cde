//! Every test of neckloom in one binary. This file is the table of contents, a line a floor.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::print_stdout,
    missing_docs,
    reason = "a test that cannot go on should say so and stop, and one that measures may tell what; nothing here is for callers"
)]

mod advise; // changes, how far, what to move, lengths, seeded faults: against closed forms and the full solver
mod check; // every check on shapes that are known exactly, spread and verdict, the report
mod cli; // the program from end to end
mod conductor; // strand strain on exact shapes, fatigue and heat relations against published values
mod dependencies; // each has its reason in DEVELOPERS.md
mod draw; // sheets: same bytes, well-formed, no label over another; pictures kept as text
mod export; // tables against the report, polylines read back by readers of the formats
mod floors; // imports point only upward
mod fuzz; // what reads foreign bytes, over a corpus and its mutations
mod geometry; // curves, shapes against dense sampling, points from taped distances, measured bicycles
mod harness; // bundles: packing against published optima, the section against closed forms
mod machine; // steering against published cases, the poses of a sweep, clearances against brute force
mod page; // the local page: every call, numbers equal to the report, attacks, drafts, two tabs
mod read; // the route file: what parses to what, what every fault says, mutations that must not panic
mod rod; // the rod against closed forms, invariances, contact, snaps, robustness
mod scan; // scans: distances, alignment, files whole, broken and mutated
