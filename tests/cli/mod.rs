//! The program from end to end, as a person runs it.

pub(crate) mod run;

mod advise; // compare, reach, retie
mod bench; // estimate, lengthen, sheet
mod check; // exit status, report on a terminal and as JSON
mod export; // tables and lines for other programs; readings with string in the report
mod faults; // names, links, full disks, an end in the middle
mod files; // start, draw, place, completions, manual
mod searching; // retie, reroute: cores, what is kept, Ctrl-C
mod study; // tables of variants as CSV and Parquet, stopped and gone on
