//! Ctrl-C: once for the best so far, twice for the end.

use std::sync::Arc;

use crate::rod::{Halt, Halting, Settings};

use super::failure::STOPPED;

/// Listens for an interruption for as long as the program runs. Make one a command.
#[derive(Debug)]
pub(super) struct Interrupt(Arc<Halting>);

impl Interrupt {
    pub(super) fn listen() -> Self {
        let halting = Arc::new(Halting::new());
        let heard = Arc::clone(&halting);
        // Without it an interruption ends the program as ever; with it the best so far is shown.
        let _listens = ctrlc::set_handler(move || {
            if heard.halt().asked() {
                std::process::exit(i32::from(STOPPED));
            }
            heard.ask();
        });
        Self(halting)
    }

    /// Whether the best so far is wanted now.
    pub(super) fn asked(&self) -> bool {
        self.halt().asked()
    }

    fn halt(&self) -> Halt {
        self.0.halt()
    }

    /// The rod's settings for solves that are left off in the middle.
    pub(super) fn settings(&self) -> Settings {
        Settings {
            halt: self.halt(),
            ..Settings::default()
        }
    }
}
