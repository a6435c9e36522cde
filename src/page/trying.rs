//! Edits tried and kept nowhere, while someone drags: first where the branches lie that they reach, then the whole check.
//!
//! A newer try, or a listener that is gone, ends an older one: the solver itself leaves off. What a try found out is
//! remembered by its text, so that accepting it costs nothing.

use std::sync::{Arc, OnceLock};

use rayon::ThreadPool;
use serde::Deserialize;
use serde_json::{Value, json};

use crate::advise::Solved;
use crate::check::{Options, rounded};
use crate::machine::{PoseStep, Sweep};
use crate::quantity::Units;
use crate::read::named_points;
use crate::rod::{BranchSolution, Halting, Solution};
use crate::route::Route;

use super::session::{Session, Version, settings};
use super::stream::{Stopped, Teller};
use super::{edits, report, scene, shapes};

/// More poses than a view shows at a time are left to the whole answer.
const LOOKED_AT: usize = 6;

/// What is tried.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Try {
    rev: u64,
    edits: Vec<Value>,
    #[serde(default)]
    ticket: Value,
    units: Option<String>,
    /// The poses that the page shows at the moment: where the branches lie in them is told first.
    #[serde(default)]
    poses: Vec<usize>,
    /// Whether that is enough where it can be told: the hand goes on, and the processor is wanted for what comes next.
    #[serde(default)]
    first: bool,
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
    let units = super::answering::units_of(asked.units.as_deref())?;
    let base = now.solved()?;
    still()?;
    let whole = at_once(|| -> Result<_, Stopped> {
        let edited = edits::edited(&now.text, &now.file, &asked.edits, units)?;
        session.may_name(&edited.text)?;
        let version = Arc::new(Version::within(
            edited.text.into(),
            now.file.clone(),
            Arc::clone(halting),
        ));
        if let Some(route) = edited.route {
            version.reads(route);
        }
        let route = version.route()?;
        still()?;
        let options = Options {
            spread: false,
            units: Units::METRIC,
            settings: settings(halting),
            charts: true,
            without: &[],
        };
        if first_look(&base, &route, asked, &options, teller)? && asked.first {
            return Ok(None);
        }
        still()?;
        let (solution, touched) = base.shapes_of(&route, &options);
        still()?;
        // Where no body moves otherwise than before, its motions are known.
        let moves = solution.stances != base.solution.stances;
        let mut told = shapes::some(&route, &solution, asked.rev, &touched, moves);
        told["exact"] = json!(true);
        teller.tell(&json!({ "ticket": asked.ticket, "shapes": told }))?;
        // A point that is just being taped says at once how well its readings agree.
        let points = |version: &Version| named_points(&version.text, &version.file).ok();
        if let Some(found) = points(&version).filter(|found| points(&now).as_ref() != Some(found)) {
            let told = rounded(scene::points(&found));
            teller.tell(&json!({ "ticket": asked.ticket, "points": told }))?;
        }
        version.lies(solution);
        Ok(Some(version))
    })?;
    let Some(version) = whole else {
        return Ok(());
    };
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

/// Where the branches lie nearly in the poses that are looked at, led there from where they lay. All poses come after. Says
/// whether it could be told.
fn first_look(
    base: &Solved,
    route: &Route,
    asked: &Try,
    options: &Options,
    teller: &Teller,
) -> Result<bool, Stopped> {
    let rest = base.solution.sweep.rest;
    // Of some poses the same is told once; rest goes first, since there the harness lies untwisted.
    let mut poses = vec![rest];
    for &pose in asked.poses.iter().take(LOOKED_AT) {
        if pose < base.solution.sweep.poses.len() && !poses.contains(&pose) {
            poses.push(pose);
        }
    }
    if asked.poses.is_empty() {
        return Ok(false);
    }
    let some = only_poses(base, &poses);
    let Some((nearly, touched)) = some.nearly(route, options) else {
        return Ok(false);
    };
    if options.settings.halt.asked() {
        return Err(Stopped::Gone);
    }
    let moves = nearly.stances != some.solution.stances;
    let mut told = shapes::some(route, &nearly, asked.rev, &touched, moves);
    told["exact"] = json!(false);
    told["of"] = json!(poses);
    teller.tell(&json!({ "ticket": asked.ticket, "shapes": told }))?;
    Ok(true)
}

/// What is known of some poses alone, the first of them rest.
fn only_poses(base: &Solved, poses: &[usize]) -> Solved {
    let solution = &base.solution;
    let step = |to: usize| PoseStep {
        from: (to > 0).then_some(0),
        to,
        straight_on: false,
    };
    let branch = |branch: &BranchSolution| BranchSolution {
        spans: branch.spans.clone(),
        shapes: poses.iter().map(|&p| branch.shapes[p].clone()).collect(),
        snaps: Vec::new(),
        resolution: branch.resolution,
        contact: branch.contact.clone(),
    };
    Solved {
        route: base.route.clone(),
        solution: Solution {
            sweep: Sweep {
                poses: poses
                    .iter()
                    .map(|&p| solution.sweep.poses[p].clone())
                    .collect(),
                rest: 0,
                walk: (0..poses.len()).map(step).collect(),
            },
            stances: poses.iter().map(|&p| solution.stances[p].clone()).collect(),
            branches: solution.branches.iter().map(branch).collect(),
        },
        findings: base.findings.clone(),
    }
}

/// Does what must come at once on threads of its own, so that it does not stand in a row behind longer work.
fn at_once<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    static HANDS: OnceLock<Option<ThreadPool>> = OnceLock::new();
    match HANDS.get_or_init(|| rayon::ThreadPoolBuilder::new().build().ok()) {
        Some(pool) => pool.install(work),
        None => work(),
    }
}
