//! Edits tried and kept nowhere, while someone drags: first where the branches lie that they reach, then the whole check.
//!
//! A newer try, or a listener that is gone, ends an older one: the solver itself leaves off. What a try found out is
//! remembered by its text, so that accepting it costs nothing.

use std::sync::{Arc, OnceLock};

use rayon::ThreadPool;
use serde::Deserialize;
use serde_json::{Value, json};

use crate::check::{Options, rounded};
use crate::harness::BranchId;
use crate::quantity::Units;
use crate::read::named_points;
use crate::rod::{Halting, Solution};

use super::session::{Session, Version, settings};
use super::stream::{Stopped, Teller};
use super::{edits, report, scene, shapes};

/// What is tried.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Try {
    rev: u64,
    edits: Vec<Value>,
    #[serde(default)]
    ticket: Value,
    units: Option<String>,
    /// Whether the check is wanted too, and with its spread; both are, unless said otherwise.
    check: Option<bool>,
    spread: Option<bool>,
}

/// Tries edits.
pub(super) fn tried(
    session: &Session,
    halting: &Arc<Halting>,
    asked: &Try,
    teller: &Teller,
) -> Result<(), Stopped> {
    let now = session.now()?;
    if now.rev != asked.rev {
        return Err(session.stale().into());
    }
    let still = || {
        if halting.halt().asked() {
            Err(Stopped::Gone)
        } else {
            Ok(())
        }
    };
    let units = super::calls::units_of(asked.units.as_deref())?;
    let base = now.solved()?;
    still()?;
    let version = at_once(|| -> Result<_, Stopped> {
        let (text, _) = edits::edited(&now.text, &now.file, &asked.edits, units)?;
        session.may_name(&text)?;
        let version = Arc::new(Version::within(
            text.into(),
            now.file.clone(),
            Arc::clone(halting),
        ));
        let route = version.route()?;
        still()?;
        let options = Options {
            spread: false,
            units: Units::METRIC,
            settings: settings(halting),
        };
        let moves = |new: &Solution| new.stances != base.solution.stances;
        let show = |solution: &Solution, touched: &[BranchId], exact: bool| {
            // Where no body moves otherwise than before, its motions are known.
            let mut told = shapes::some(&route, solution, asked.rev, touched, moves(solution));
            told["exact"] = json!(exact);
            teller.tell(&json!({ "ticket": asked.ticket, "shapes": told }))
        };
        if let Some((nearly, touched)) = base.nearly(&route, &options) {
            still()?;
            show(&nearly, &touched, false)?;
        }
        still()?;
        let (solution, touched) = base.shapes_of(&route, &options);
        still()?;
        show(&solution, &touched, true)?;
        // A point that is just being taped says at once how well its readings agree.
        let points = |version: &Version| named_points(&version.text, &version.file).ok();
        if let Some(found) = points(&version).filter(|found| points(&now).as_ref() != Some(found)) {
            let told = rounded(scene::points(&found));
            teller.tell(&json!({ "ticket": asked.ticket, "points": told }))?;
        }
        version.lies(solution);
        Ok(version)
    })?;
    session.remember(&version);
    for spread in [false, true] {
        let wanted = if spread { asked.spread } else { asked.check };
        if wanted == Some(false) {
            break;
        }
        still()?;
        let findings = version.findings(spread, units).map_err(|wrong| {
            // What was ended on the way is no fault.
            still().err().unwrap_or(Stopped::Wrong(wrong))
        })?;
        let (route, solution) = (version.route()?, version.solution()?);
        let told = report::told(&route, &solution, &findings, asked.rev, spread);
        teller.tell(&json!({ "ticket": asked.ticket, "spread": spread, "report": told }))?;
    }
    Ok(())
}

/// Does what must come at once on threads of its own, so that it does not stand in a row behind longer work.
fn at_once<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    static HANDS: OnceLock<Option<ThreadPool>> = OnceLock::new();
    match HANDS.get_or_init(|| rayon::ThreadPoolBuilder::new().build().ok()) {
        Some(pool) => pool.install(work),
        None => work(),
    }
}
