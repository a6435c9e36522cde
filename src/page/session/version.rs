//! One revision: its route, solution and findings, each worked out when it is first asked for.

use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};

use crate::check::{Findings, Options, check};
use crate::page::wrong::Wrong;
use crate::quantity::{LengthUnit, Units};
use crate::read::{Faults, route_text};
use crate::rod::{self, Halting, Solution};
use crate::route::Route;

/// A revision.
#[derive(Debug)]
pub(in crate::page) struct Version {
    pub(in crate::page) rev: u64,
    pub(in crate::page) text: Arc<str>,
    /// The name that faults carry.
    pub(in crate::page) file: String,
    route: OnceLock<Result<Arc<Route>, Faults>>,
    solution: Mutex<Option<Arc<Solution>>>,
    /// By units, then without and with spread.
    findings: [[Mutex<Option<Arc<Findings>>>; 2]; 2],
    halting: Halting,
}

impl Version {
    pub(in crate::page) fn new(rev: u64, text: Arc<str>, file: String) -> Self {
        Self {
            rev,
            text,
            file,
            route: OnceLock::new(),
            solution: Mutex::new(None),
            findings: Default::default(),
            halting: Halting::new(),
        }
    }

    /// The route that the text says.
    pub(in crate::page) fn route(&self) -> Result<Arc<Route>, Faults> {
        let read = || route_text(&self.text, &self.file).map(Arc::new);
        self.route.get_or_init(read).clone()
    }

    /// Where the harness lies. The first to ask waits for it, others wait with them.
    pub(in crate::page) fn solution(&self) -> Result<Arc<Solution>, Wrong> {
        let route = self.route()?;
        let mut known = held(&self.solution);
        if let Some(solution) = &*known {
            return Ok(Arc::clone(solution));
        }
        let solution = Arc::new(rod::solve(&route, &self.settings()));
        self.still()?;
        *known = Some(Arc::clone(&solution));
        Ok(solution)
    }

    /// What the checks find.
    pub(in crate::page) fn findings(
        &self,
        spread: bool,
        units: Units,
    ) -> Result<Arc<Findings>, Wrong> {
        let route = self.route()?;
        let solution = self.solution()?;
        let inch = usize::from(units.length == LengthUnit::Inch);
        let mut known = held(&self.findings[inch][usize::from(spread)]);
        if let Some(findings) = &*known {
            return Ok(Arc::clone(findings));
        }
        let options = Options {
            spread,
            units,
            settings: self.settings(),
        };
        let findings = Arc::new(check(&route, &solution, &options));
        self.still()?;
        *known = Some(Arc::clone(&findings));
        Ok(findings)
    }

    /// Puts in what was found out elsewhere.
    pub(in crate::page) fn knows(&self, solution: Arc<Solution>) {
        *held(&self.solution) = Some(solution);
    }

    fn settings(&self) -> rod::Settings {
        rod::Settings {
            halt: self.halting.halt(),
            ..rod::Settings::default()
        }
    }

    /// Nobody looks at this revision any more: what is being worked out for it stops.
    pub(in crate::page) fn give_up(&self) {
        self.halting.ask();
    }

    fn still(&self) -> Result<(), Wrong> {
        if self.halting.halt().asked() {
            Err(Wrong::conflict("the route was changed meanwhile"))
        } else {
            Ok(())
        }
    }
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
