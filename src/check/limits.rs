//! The one table of limits, each with source and status.

/// How well a limit's source is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitStatus {
    /// Read in the document itself.
    Read,
    /// Second-hand.
    SecondHand,
    /// From memory.
    Memory,
    /// Our own choice: no published source.
    OwnChoice,
    /// The route file's own.
    Overridden,
}

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {}

/// All limits of a route.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {}
