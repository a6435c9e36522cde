//! Where a conductor is likely broken: the few places to open first, each with the test by hand that shows it.
//!
//! Every place along the branches of the failing circuits is scored by what strains it, works it loose, squeezes, rubs
//! or heats it there, each as a share of its limit, squared and added. The score is weighted by how many of the failing
//! circuits pass there, by how many sound ones do, and by how much the place is strained in the pose in which the fault
//! shows. It orders a search: it is no chance, and a place that is not named may be the broken one.

mod question;
mod score;
mod show;
mod test;

pub use question::{Pinned, Question, Unknown};
pub use score::{Part, Scored};
pub use show::locate_report;

use crate::check::{Findings, pose_in_words};
use crate::harness::BranchId;
use crate::quantity::Units;
use crate::rod::Solution;
use crate::route::Route;

/// Places nearer to each other than this are one \[m\]: what one hand opens.
const ONE_PLACE: f64 = 40.0e-3;
/// How many places are named at most.
const MOST: usize = 6;

/// A place to open.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// 1 for the first to open.
    pub rank: usize,
    /// The branch.
    pub branch: BranchId,
    /// Distance along the branch from its first fixing \[m\].
    pub at: f64,
    /// The nearest fixing.
    pub nearest: String,
    /// Where it is, in words, with the distance from a connector that can be touched.
    pub place: String,
    /// Pose id in which the place is strained most.
    pub pose: usize,
    /// Why it is named.
    pub why: String,
    /// The test by hand.
    pub test: String,
    /// The arithmetic.
    pub scored: Scored,
}

/// The places to open, first to last.
///
/// # Errors
///
/// Where a name is neither a circuit nor a wire of the route, or a pose cannot be resolved.
pub fn locate(
    route: &Route,
    solution: &Solution,
    findings: &Findings,
    question: &Question,
    units: Units,
) -> Result<Vec<Place>, Unknown> {
    let asked = question.resolved(route, solution)?;
    let mut scored = score::scored(route, solution, findings, &asked);
    scored.sort_by(|a, b| {
        b.total
            .total_cmp(&a.total)
            .then((a.branch, a.at.to_bits()).cmp(&(b.branch, b.at.to_bits())))
    });
    let mut kept: Vec<Scored> = Vec::new();
    for candidate in scored {
        let near = |other: &Scored| {
            other.branch == candidate.branch && (other.at - candidate.at).abs() < ONE_PLACE
        };
        if candidate.total > 0.0 && !kept.iter().any(near) {
            kept.push(candidate);
        }
        if kept.len() == MOST {
            break;
        }
    }
    let places = kept.into_iter().enumerate().map(|(index, scored)| {
        let (branch, at) = (scored.branch, scored.at);
        let pose = pose_in_words(&route.machine, &solution.sweep, scored.pose, units);
        Place {
            rank: index + 1,
            branch,
            at,
            nearest: show::nearest(route, solution, branch, at).0,
            place: show::place(route, solution, &asked, branch, at, units),
            pose: scored.pose,
            why: show::why(&scored, &asked, &pose),
            test: test::by_hand(route, solution, &asked, &scored, &pose),
            scored,
        }
    });
    Ok(places.collect())
}

/// The test of each place in words: what serves several places stands once.
pub fn tests_told(places: &[Place]) -> Vec<String> {
    let told = places.iter().enumerate().map(|(index, place)| {
        let mut before = places[..index].iter();
        match before.find(|other| other.test == place.test) {
            Some(same) => format!("The test of place {}, bent and pulled here.", same.rank),
            None => place.test.clone(),
        }
    });
    told.collect()
}

/// The names that can be failing or working: circuits first, then wires.
pub fn places_named(route: &Route) -> impl Iterator<Item = &str> + Clone {
    let circuits = route.circuits.iter().map(|circuit| circuit.name.as_str());
    circuits.chain(route.wires.iter().map(|wire| wire.name.as_str()))
}
