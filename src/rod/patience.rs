//! How long is looked for what is hard to find: so much work, counted and not timed, so that what comes out does not hang on
//! the machine or on what else it does.
//!
//! Work is counted in steps of one element: one factorisation, or its like, of one element's part of the matrix.

use super::piece::number;

/// So much is searched for one cluster, for each of its spans …
const SEARCHED: f64 = 2.4e4;
/// … counted as this many at least: fourteen times what the most stubborn route of our own asks for. A copy of one that is
/// measured anew by 6 mm, and jams, asks for 2.3e4 before it is found …
const SPANS: usize = 10;
/// … and this many times as much of any work is done, five times what any of those asks for (that copy 5.8e4), before
/// nothing but what lies there already is looked at.
const DONE: f64 = 3.0;
/// What looking at an energy costs, beside a step …
const GLANCE: f64 = 0.25;
/// … and working out what presses on one place of an element: with a branch deep in a part that is most of all work.
const PRESSED: f64 = 0.5;
/// Of what is left none of those that are looked for at the same time gets a smaller share than one of so many.
const SHARES: usize = 8;
/// A state that was found near by asks for this part of that.
const NEAR: f64 = 0.2;

/// What is left of it. The default never ends.
#[derive(Debug, Clone, Copy)]
pub(super) struct Patience {
    search: f64,
    work: f64,
}

impl Default for Patience {
    fn default() -> Self {
        Self {
            search: f64::INFINITY,
            work: f64::INFINITY,
        }
    }
}

impl Patience {
    /// For a cluster of so many spans; `near`, where a solution close by is known.
    pub(super) fn of(spans: usize, near: bool) -> Self {
        let search = SEARCHED * number(spans.max(SPANS)) * if near { NEAR } else { 1.0 };
        Self {
            search,
            work: DONE * search,
        }
    }

    /// For so many steps of one element.
    #[cfg(test)]
    pub(super) fn of_steps(steps: f64) -> Self {
        Self {
            search: steps,
            work: DONE * steps,
        }
    }

    /// One step of a strand of so many elements, pressed on at so many places.
    pub(super) fn step(&mut self, elements: usize, places: usize) {
        self.work -= number(elements) + PRESSED * number(places);
    }

    /// One step of a search downhill, where what presses is known already.
    pub(super) fn search(&mut self, elements: usize) {
        self.search -= number(elements);
        self.work -= number(elements);
    }

    /// A look at an energy on the way downhill.
    pub(super) fn glance(&mut self, elements: usize, places: usize) {
        let cost = GLANCE * number(elements) + PRESSED * number(places);
        self.search -= cost;
        self.work -= cost;
    }

    /// Whether no search is begun or gone on with any more.
    pub(super) fn is_lost(&self) -> bool {
        self.search <= 0.0 || self.is_done()
    }

    /// Whether no step is taken any more.
    pub(super) fn is_done(&self) -> bool {
        self.work <= 0.0
    }

    /// A part of what is left, for one of so many that do not look at each other.
    pub(super) fn shared(&self, among: usize) -> Self {
        let part = 1.0 / number(among.clamp(1, SHARES));
        Self {
            search: self.search * part,
            work: self.work * part,
        }
    }

    /// What was left of a part when it was given and is left of it now: the difference is gone.
    pub(super) fn less(&mut self, given: Self, left: Self) {
        // Of what never ends nothing is gone.
        if self.work.is_finite() {
            self.search -= given.search - left.search;
            self.work -= given.work - left.work;
        }
    }
}
