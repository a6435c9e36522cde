//! A text of the route file: its route, solution and findings, each worked out when it is first asked for.

use std::sync::{Arc, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use crate::advise::Solved;
use crate::check::{Findings, Options, check};
use crate::page::ending::ended_after;
use crate::page::wrong::Wrong;
use crate::quantity::{LengthUnit, Units};
use crate::read::{Faults, route_text};
use crate::rod::{self, Halting, Settings, Solution};
use crate::route::Route;

/// A text and what is known of it.
#[derive(Debug)]
pub(in crate::page) struct Version {
    pub(in crate::page) text: Arc<str>,
    /// The name that faults carry.
    pub(in crate::page) file: String,
    route: OnceLock<Result<Arc<Route>, Faults>>,
    solution: Mutex<Option<Arc<Solution>>>,
    /// By units, then without and with spread.
    findings: [[Mutex<Option<Arc<Findings>>>; 2]; 2],
    /// All of it without spread, for advice to begin from.
    solved: Mutex<Option<Arc<Solved>>>,
    /// Ends what is being worked out.
    halting: Mutex<Arc<Halting>>,
}

impl Version {
    pub(in crate::page) fn new(text: Arc<str>, file: String) -> Self {
        Self::within(text, file, Arc::new(Halting::new()))
    }

    /// The same, whose work can be ended from outside.
    pub(in crate::page) fn within(text: Arc<str>, file: String, halting: Arc<Halting>) -> Self {
        Self {
            text,
            file,
            route: OnceLock::new(),
            solution: Mutex::new(None),
            findings: Default::default(),
            solved: Mutex::new(None),
            halting: Mutex::new(halting),
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
        let halting = self.halting();
        worked_out(&self.solution, &halting, || {
            rod::solve(&route, &settings(&halting))
        })
    }

    /// What the checks find.
    pub(in crate::page) fn findings(
        &self,
        spread: bool,
        units: Units,
    ) -> Result<Arc<Findings>, Wrong> {
        let (route, solution) = (self.route()?, self.solution()?);
        let halting = self.halting();
        let inch = usize::from(units.length == LengthUnit::Inch);
        worked_out(&self.findings[inch][usize::from(spread)], &halting, || {
            let options = Options {
                spread,
                units,
                settings: settings(&halting),
                charts: true,
                without: &[],
            };
            check(&route, &solution, &options)
        })
    }

    /// Route, solution and findings without spread, for advice to begin from.
    pub(in crate::page) fn solved(&self) -> Result<Arc<Solved>, Wrong> {
        let findings = self.findings(false, Units::METRIC)?;
        let (route, solution) = (self.route()?, self.solution()?);
        worked_out(&self.solved, &self.halting(), || Solved {
            route: (*route).clone(),
            solution: (*solution).clone(),
            findings: (*findings).clone(),
        })
    }

    /// Puts in the route that the text says, where somebody has read it already.
    pub(in crate::page) fn reads(&self, route: Route) {
        // Who was quicker read the same.
        let _ = self.route.set(Ok(Arc::new(route)));
    }

    /// Puts in where the harness lies, found out from another text.
    pub(in crate::page) fn lies(&self, solution: Solution) {
        *held(&self.solution) = Some(Arc::new(solution));
    }

    /// What ends the work that begins now.
    fn halting(&self) -> Arc<Halting> {
        let mut halting = held(&self.halting);
        if halting.halt().asked() {
            *halting = Arc::new(Halting::new());
        }
        Arc::clone(&halting)
    }

    /// Nobody looks at this text any more: what is being worked out for it stops. Asked again it begins anew.
    pub(in crate::page) fn give_up(&self) {
        held(&self.halting).ask();
    }
}

/// Settings of a solve that can be ended.
pub(in crate::page) fn settings(halting: &Halting) -> Settings {
    Settings {
        halt: halting.halt(),
        ..Settings::default()
    }
}

/// No solve and no check of one text takes longer.
const LONGEST: Duration = Duration::from_secs(600);

/// What is known, or is worked out now. What was ended on the way is no answer and is not kept.
fn worked_out<T>(
    known: &Mutex<Option<Arc<T>>>,
    halting: &Arc<Halting>,
    work: impl FnOnce() -> T,
) -> Result<Arc<T>, Wrong> {
    let mut known = held(known);
    if let Some(found) = &*known {
        return Ok(Arc::clone(found));
    }
    let begun = Instant::now();
    let found = {
        let _watched = ended_after(LONGEST, halting);
        Arc::new(work())
    };
    if halting.halt().asked() {
        return Err(if begun.elapsed() >= LONGEST {
            Wrong::cannot("this took more than ten minutes and was ended").cure(
                "thin out scans, or take away what does not matter; the command line sets no limit",
            )
        } else {
            Wrong::conflict("the route was changed meanwhile")
        });
    }
    *known = Some(Arc::clone(&found));
    Ok(found)
}

fn held<T>(lock: &Mutex<T>) -> MutexGuard<'_, T> {
    lock.lock().unwrap_or_else(PoisonError::into_inner)
}
