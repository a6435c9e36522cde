//! The test by hand of a place.

use crate::conductor::{broken_strands, greatest_resistance, wire_length};
use crate::rod::Solution;
use crate::route::Route;

use super::question::Asked;
use super::score::Scored;
use super::show::{ends_of, wire_here};

/// Over how much of its length a broken conductor hangs by its last strand \[m\]: as wide as a tight bend.
const NECK: f64 = 5.0e-3;
/// Resistance of two contacts in series \[Ω\], sound: some milliohms each (from memory).
const CONTACTS: f64 = 10e-3;

/// Which ends to measure, how to flex, what to look for, and what a good reading is.
pub(super) fn by_hand(
    route: &Route,
    solution: &Solution,
    asked: &Asked,
    scored: &Scored,
    pose: &str,
) -> String {
    let Some(id) = wire_here(route, asked, scored.branch) else {
        return "No failing wire runs here.".to_owned();
    };
    let wire = &route.wires[id.0];
    let ends = ends_of(route, solution, id, scored.branch, scored.at);
    let (near, far) = match ends.as_slice() {
        [near, .., far] => (near.0.clone(), far.0.clone()),
        [only] => (only.0.clone(), "its other end".to_owned()),
        [] => ("one end".to_owned(), "the other".to_owned()),
    };
    let length = wire_length(route, solution, id);
    let sound = greatest_resistance(wire, 20.0) * length + CONTACTS;
    let last = broken_strands(wire, 1, NECK);
    let milliohm = |value: f64| format!("{:.0} mΩ", value * 1e3);
    let turn = if pose == "at rest" {
        "with everything at rest, bend and pull it by hand there".to_owned()
    } else {
        format!("bring the machine slowly to {pose} and back, then bend and pull it by hand there")
    };
    let hot = if asked.hot {
        " It fails hot, so repeat this with the place warmed by a hot-air gun at its lowest, no warmer than the hand bears."
    } else {
        ""
    };
    format!(
        "Battery off, both ends unplugged. Measure \"{}\" from {near} to {far}; short the meter's leads first and take that off. Sound: at most \
         {} at 20 °C. While measuring, {turn}: look for a jump or an open reading. A last strand adds only {}, so if it stays steady, load \
         the wire with its lamp or another of its current and look for a jump in the voltage over it. A pass proves nothing: open it here if the others \
         pass too.{hot}",
        wire.name,
        milliohm(sound),
        milliohm(last),
    )
}
