//! Leaving off: who no longer wants an answer can say so, and the solver gives up within a Newton step.
//!
//! What a solve that was left off gives is no answer: poses that were not reached are marked as not converged.

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

/// Flags that nobody uses at the moment. They live as long as the program, so that a [`Halt`] can be copied into settings.
static FREE: Mutex<Vec<&'static AtomicBool>> = Mutex::new(Vec::new());

/// Tells a solve whether to leave off. The default never asks for it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Halt(Option<&'static AtomicBool>);

impl Halt {
    /// One that never asks.
    pub(super) const NEVER: Self = Self(None);

    /// Whether the answer is no longer wanted.
    pub fn asked(self) -> bool {
        self.0.is_some_and(|flag| flag.load(Ordering::Relaxed))
    }
}

/// Two are the same where one asks exactly when the other does.
impl PartialEq for Halt {
    fn eq(&self, other: &Self) -> bool {
        match (self.0, other.0) {
            (Some(a), Some(b)) => std::ptr::eq(a, b),
            (None, None) => true,
            _ => false,
        }
    }
}

/// Whoever can ask solves to leave off. Keep it as long as they run.
#[derive(Debug)]
pub struct Halting(&'static AtomicBool);

impl Halting {
    /// One that has not asked yet.
    pub fn new() -> Self {
        let mut free = FREE.lock().unwrap_or_else(PoisonError::into_inner);
        let flag = free
            .pop()
            .unwrap_or_else(|| Box::leak(Box::new(AtomicBool::new(false))));
        flag.store(false, Ordering::Relaxed);
        Self(flag)
    }

    /// What is put into [`super::Settings`].
    pub fn halt(&self) -> Halt {
        Halt(Some(self.0))
    }

    /// Asks to leave off.
    pub fn ask(&self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

impl Default for Halting {
    fn default() -> Self {
        Self::new()
    }
}

impl Drop for Halting {
    fn drop(&mut self) {
        let mut free = FREE.lock().unwrap_or_else(PoisonError::into_inner);
        free.push(self.0);
    }
}
