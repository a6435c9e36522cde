//! A sign of life while work takes long.

use std::io::IsTerminal;
use std::sync::mpsc::{RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use indicatif::{ProgressBar, ProgressStyle};

/// Work shorter than this shows nothing.
const PATIENCE: Duration = Duration::from_millis(500);

/// Shows a text on standard error after half a second, until it is dropped. Only on a terminal.
#[derive(Debug)]
pub(super) struct Progress {
    running: Option<(Sender<()>, JoinHandle<()>)>,
}

impl Progress {
    pub(super) fn new(quiet: bool, text: &'static str) -> Self {
        let running = (!quiet && std::io::stderr().is_terminal()).then(|| {
            let (stop, stopped) = channel();
            let shown = std::thread::spawn(move || {
                if stopped.recv_timeout(PATIENCE) != Err(RecvTimeoutError::Timeout) {
                    return;
                }
                let bar = ProgressBar::new_spinner().with_message(text);
                if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} {elapsed}") {
                    bar.set_style(style);
                }
                bar.enable_steady_tick(Duration::from_millis(100));
                let _ended = stopped.recv();
                bar.finish_and_clear();
            });
            (stop, shown)
        });
        Self { running }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if let Some((stop, shown)) = self.running.take() {
            drop(stop);
            // A spinner that failed is no reason to fail.
            let _shown = shown.join();
        }
    }
}

/// What Ctrl-C does while a search runs that gives the best so far.
pub(super) const BEST_SO_FAR: &str = " (Ctrl-C shows what was found so far)";

/// Shows on standard error how far a search has come, until it is dropped. Only on a terminal.
#[derive(Debug)]
pub(super) struct Told {
    bar: Option<ProgressBar>,
    after: &'static str,
}

impl Told {
    /// Each line ends with what stands in `after`.
    pub(super) fn new(quiet: bool, after: &'static str) -> Self {
        let bar = (!quiet && std::io::stderr().is_terminal()).then(|| {
            let bar = ProgressBar::new_spinner();
            if let Ok(style) = ProgressStyle::with_template("{spinner} {msg} {elapsed}") {
                bar.set_style(style);
            }
            bar.enable_steady_tick(Duration::from_millis(150));
            bar
        });
        Self { bar, after }
    }

    pub(super) fn say(&self, what: &str) {
        if let Some(bar) = &self.bar {
            bar.set_message(format!("{what}{}", self.after));
        }
    }
}

impl Drop for Told {
    fn drop(&mut self) {
        if let Some(bar) = self.bar.take() {
            bar.finish_and_clear();
        }
    }
}
