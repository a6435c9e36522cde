//! Work that ends before it is done: since nobody waits for it any more, or since it takes too long.

use std::sync::Arc;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::time::Duration;

use crate::rod::Halting;

/// Ends the work when it is dropped: with the call that it answers.
pub(super) struct EndsWith(pub(super) Arc<Halting>);

impl Drop for EndsWith {
    fn drop(&mut self) {
        self.0.ask();
    }
}

/// Ends the work after some time, unless what is given back is dropped before.
pub(super) fn ended_after(time: Duration, halting: &Arc<Halting>) -> Sender<()> {
    let (done, waits) = channel();
    let halting = Arc::clone(halting);
    std::thread::spawn(move || {
        if waits.recv_timeout(time) == Err(RecvTimeoutError::Timeout) {
            halting.ask();
        }
    });
    done
}
