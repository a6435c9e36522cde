//! neckloom: is this motorcycle harness route sound?
//!
//! Data flows one way, and imports point only upward in this list:
//!
//! - [`quantity`]: numbers with units, as text in and text out.
//! - [`geometry`]: curves, smooth paths, shapes with a signed distance, points from taped distances.
//! - [`machine`]: bodies, joints and parts; joint values to where everything is; the poses of a sweep.
//! - [`harness`]: wires, covers, fixings, branches; the stiffness of a bundle.
//! - [`route`]: machine + harness + limits + changes, checked, names resolved, in SI units.
//! - [`rod`]: the elastic rod: where the harness lies in every pose.
//! - [`conductor`]: what that does to copper: strand strain, fatigue, resistance, heat.
//! - [`check`]: one check a file; findings; limits and their sources; the report.
//! - [`advise`]: what a change does, how far it can go, how much to lengthen, which fixings to move, many variants; the
//!   quick answer without a route; where a conductor is likely broken.
//! - [`draw`]: drawings from finished results.
//! - [`export`]: plain data for other programs: tables, polylines.
//! - [`read`]: the route file to a [`route::Route`], with every fault of a file in one run.
//! - [`page`]: the local web page, beside `cli`: the same functions, for who would rather look and drag.
//! - [`cli`]: arguments to a job to an exit status.
//!
//! The whole job in a few lines:
//!
//! ```
//! use neckloom::{check, draw, read, rod};
//!
//! let route = read::route_file("routes/tourer_tight_tie.ron".as_ref())?;
//! let solution = rod::solve(&route, &rod::Settings::default());
//! let findings = check::check(&route, &solution, &check::Options::default());
//! for finding in &findings.findings {
//!     println!("{:?}: {} at {}. {}", finding.verdict, finding.check, finding.place, finding.advice);
//! }
//! let svg = draw::sheet(&route, &solution, &findings, &draw::SheetOptions::default());
//! assert!(svg.contains("</svg>"));
//! assert_eq!(check::exit_status(&solution, &findings), 1);
//! # Ok::<(), read::Faults>(())
//! ```
//!
//! neckloom judges a route against limits with a named source. It certifies no machine: see [`check::CAUTIONS`].
//!
//! Everything inside is SI (metre, radian, newton, kilogram, degree Celsius) in the ISO 8855 frame:
//! x forward, y to the rider's left, z up.

pub mod advise;
pub mod check;
pub mod cli;
pub mod conductor;
pub mod draw;
pub mod export;
pub mod geometry;
pub mod harness;
pub mod machine;
pub mod page;
pub mod quantity;
pub mod read;
pub mod rod;
pub mod route;
