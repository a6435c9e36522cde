//! Where to look first for a broken conductor: the places to open, each with its test by hand.

use crate::advise::{Question, tests_told};
use crate::check::pose_in_words;

use super::Bench;
use super::table::Table;

/// The places to open, in the harness as it was; `None` where nothing fails.
pub(super) fn places(bench: &Bench<'_>) -> Option<Table> {
    let broken = bench.broken?;
    let was = bench.before.unwrap_or(bench.after);
    let mut table = Table::new(
        "where_broken",
        &format!("Where to look first: {}", seen(broken.question)),
        &[
            ("open", 4.6),
            ("in which position", 2.8),
            ("why", 5.6),
            ("test by hand", 9.4),
        ],
    );
    table.note = "In this order; it is an order of search and no likelihood, and a test that passes proves nothing. Places are \
                  those of the harness as it was."
        .to_owned();
    table.none = "Nothing marks one place before another. Begin at the connectors.".to_owned();
    table.tick = true;
    for (place, test) in broken.places.iter().zip(tests_told(broken.places)) {
        table.rows.push(vec![
            format!("{}. {}", place.rank, place.place),
            pose_in_words(
                &was.route.machine,
                &was.solution.sweep,
                place.pose,
                bench.options.units,
            ),
            place.why.clone(),
            test,
        ]);
    }
    Some(table)
}

/// What was seen, as the end of a title.
fn seen(question: &Question) -> String {
    let fails = if question.failing.len() == 1 {
        "fails"
    } else {
        "fail"
    };
    let mut told = format!("{} {fails}", question.failing.join(", "));
    if !question.when.is_empty() {
        told.push_str(&format!(" at {}", question.when.join(", ")));
    }
    if question.hot {
        told.push_str(" when hot");
    }
    if !question.working.is_empty() {
        let works = if question.working.len() == 1 {
            "works"
        } else {
            "work"
        };
        told.push_str(&format!("; {} {works}", question.working.join(", ")));
    }
    told
}
