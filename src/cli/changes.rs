//! Named changes of a route: finding them by name, and how large they are in words.

use crate::advise::Amount;
use crate::quantity::{Kind, Units};
use crate::route::{Change, Route};

use super::failure::Failure;

/// The change of this name.
pub(super) fn named<'r>(route: &'r Route, name: &str) -> Result<&'r Change, Failure> {
    let found = route.changes.iter().find(|change| change.name == name);
    found.ok_or_else(|| {
        let known: Vec<&str> = route.changes.iter().map(|c| c.name.as_str()).collect();
        let near = known
            .iter()
            .min_by_key(|known| strsim::damerau_levenshtein(known, name))
            .filter(|known| 3 * strsim::damerau_levenshtein(known, name) <= known.len() + 1);
        let cure = match (near, known.is_empty()) {
            (Some(near), _) => format!("did you mean \"{near}\"?"),
            (None, true) => "write one into its `changes`: changes: { \"bars up\": [Move(what: \"bars\", by: (0, 0, 30))] }".to_owned(),
            (None, false) => format!("its changes are: \"{}\"", known.join("\", \"")),
        };
        Failure::NoChange {
            name: name.to_owned(),
            cure,
        }
    })
}

/// A share of a change in words: "17 mm", "3°", "50 %".
pub(super) fn in_words(of: Amount, share: f64, units: Units) -> String {
    let value = of.value * share;
    match of.kind {
        Kind::Ratio => format!("{:.0} %", 100.0 * share),
        Kind::Length => units.show_to(
            value,
            Kind::Length,
            units.digits(Kind::Length) + usize::from(value.abs() < 9.95e-3),
        ),
        kind => units.show_to(value, kind, 1),
    }
}
