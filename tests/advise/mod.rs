//! What to do about it.

mod locate;
