//! Worked examples, compiled in: invented machines to look at and to begin from.

use serde_json::{Value, json};

/// One example.
pub(super) struct Example {
    name: &'static str,
    says: &'static str,
    pub(super) text: &'static str,
}

macro_rules! examples {
    ($($name:literal: $says:literal,)*) => {
        &[$(Example {
            name: $name,
            says: $says,
            text: include_str!(concat!("../../../routes/", $name, ".ron")),
        },)*]
    };
}

const EXAMPLES: &[Example] = examples! {
    // Kinds of machine, then one of them in several states, then single leads.
    "tourer_stock": "A tourer with two cylinders as it left the factory: every limit holds",
    "single_high_lamp": "A small single: its lamp lead looks long enough, and is not at full right",
    "step_through": "A step-through whose engine swings with the wheel: not only the steering pulls at a lead",
    "off_road": "An off-road machine with a high pipe: which side for the tail lead?",
    "tourer_lower_seat": "The tourer with a lower seat: where does it pinch?",
    "tourer_taller_bars": "The tourer with taller bars: what is too short?",
    "tourer_tight_tie": "The tourer with a tie too tight at the steering head",
    "tourer_all_joints": "The tourer with all that moves: steering, seat, fork and engine",
    "flex_life_over": "One lead across a steering head, its wires worked hard",
    "heat_over": "A lead beside an exhaust",
    "drip_loop_over": "A lead that carries rain into its connector",
    "signal_pairs_over": "A sensor with two signals and a worn contact",
};

pub(super) fn named(name: &str) -> Option<&'static Example> {
    EXAMPLES.iter().find(|example| example.name == name)
}

/// As the page lists them.
pub(super) fn all() -> Value {
    let one = |example: &Example| {
        json!({
            "name": example.name,
            "title": crate::read::title_of(example.text),
            "says": example.says,
        })
    };
    EXAMPLES.iter().map(one).collect()
}
