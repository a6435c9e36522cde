//! What is known of the fault: what fails, what works, and when.

use crate::check::joint_in_words;
use crate::harness::WireId;
use crate::machine::{BodyId, Joint};
use crate::quantity::{Accepts, Kind, Units, parse};
use crate::rod::Solution;
use crate::route::Route;

/// What a person saw.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Question {
    /// Circuits or wires that fail, at least one.
    pub failing: Vec<String>,
    /// Circuits or wires that work all the while.
    pub working: Vec<String>,
    /// When it fails: "steering 30 deg", "seat pressed", "fork at 40 mm", or a pose in the words of the report; joints that
    /// are not named are at rest.
    pub when: Vec<String>,
    /// Whether it fails when hot.
    pub hot: bool,
}

/// Why a question cannot be answered.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Unknown {
    /// A name that is neither a circuit nor a wire.
    #[error("there is no circuit and no wire \"{name}\"{nearest}")]
    Name {
        /// The name.
        name: String,
        /// The nearest known name, as a question.
        nearest: String,
    },
    /// A wire that no branch holds.
    #[error(
        "\"{name}\" runs through no branch: name the branches that it `runs` through, or list it in their `wires`"
    )]
    NoBranch {
        /// The name.
        name: String,
    },
    /// Nothing fails.
    #[error("name at least one circuit or wire that fails")]
    Nothing,
    /// A pose that cannot be understood.
    #[error("\"{text}\" names no pose: write a moving body and its value, such as \"{example}\"")]
    Pose {
        /// What was given.
        text: String,
        /// An example from the route.
        example: String,
    },
    /// A value beyond a joint's stops.
    #[error("\"{text}\" lies beyond the stops of the joint")]
    Beyond {
        /// What was given.
        text: String,
    },
}

/// Circuits with their wires, and the pose.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Asked {
    pub(super) failing: Vec<(String, Vec<WireId>)>,
    pub(super) working: Vec<(String, Vec<WireId>)>,
    /// The pose, and the joints that were named, where any was.
    pub(super) when: Option<Pinned>,
    pub(super) hot: bool,
}

/// The pose of the sweep that is nearest to what was said.
#[derive(Debug, Clone, PartialEq)]
pub struct Pinned {
    /// Its id.
    pub pose: usize,
    /// The joints that were named.
    pub joints: Vec<BodyId>,
}

impl Question {
    pub(super) fn resolved(&self, route: &Route, solution: &Solution) -> Result<Asked, Unknown> {
        if self.failing.is_empty() {
            return Err(Unknown::Nothing);
        }
        let all = |names: &[String]| -> Result<Vec<(String, Vec<WireId>)>, Unknown> {
            names
                .iter()
                .map(|name| Ok((name.clone(), wires_of(route, name)?)))
                .collect()
        };
        let mut values = Vec::new();
        for text in &self.when {
            values.extend(joint_values(route, solution, text)?);
        }
        let when = (!self.when.is_empty()).then(|| pinned(solution, &values));
        Ok(Asked {
            failing: all(&self.failing)?,
            working: all(&self.working)?,
            when,
            hot: self.hot,
        })
    }
}

fn wires_of(route: &Route, name: &str) -> Result<Vec<WireId>, Unknown> {
    let circuit = route.circuits.iter().find(|circuit| circuit.name == name);
    let wires = match circuit {
        Some(circuit) => circuit.wires(),
        None => {
            let wire = route.wires.iter().position(|wire| wire.name == name);
            let Some(wire) = wire else {
                return Err(Unknown::Name {
                    name: name.to_owned(),
                    nearest: nearest(route, name),
                });
            };
            vec![WireId(wire)]
        }
    };
    let runs = |wire: &WireId| {
        route
            .branches
            .iter()
            .any(|branch| branch.wires.contains(wire))
    };
    if wires.iter().any(runs) {
        Ok(wires)
    } else {
        Err(Unknown::NoBranch {
            name: name.to_owned(),
        })
    }
}

fn nearest(route: &Route, name: &str) -> String {
    let low = name.to_lowercase();
    super::places_named(route)
        .min_by_key(|known| strsim::damerau_levenshtein(&low, &known.to_lowercase()))
        .map_or_else(String::new, |known| format!("; did you mean \"{known}\"?"))
}

/// The joints and their values in a text: as the report words a pose ("steering full left (38°), seat at 8 mm", "at rest"),
/// or as [`joint_value`] takes them.
fn joint_values(
    route: &Route,
    solution: &Solution,
    text: &str,
) -> Result<Vec<(BodyId, f64)>, Unknown> {
    let text = text.trim();
    if text == "at rest" {
        return Ok(Vec::new());
    }
    let one = |text: &str| {
        let reported = reported(route, solution, text);
        reported.map_or_else(|| joint_value(route, text), Ok)
    };
    // A name may hold a comma, so the whole is read first.
    one(text).map(|value| vec![value]).or_else(|whole| {
        let parts: Result<Vec<_>, _> = text.split(", ").map(|part| one(part.trim())).collect();
        parts.map_err(|part| if text.contains(", ") { part } else { whole })
    })
}

/// The joint and its value in some pose of the sweep that the report words so, in either system of units.
fn reported(route: &Route, solution: &Solution, text: &str) -> Option<(BodyId, f64)> {
    let bodies = route.machine.bodies.iter().enumerate();
    bodies
        .filter(|(_, body)| !matches!(body.joint, Joint::Fixed))
        .find_map(|(index, body)| {
            let said = text.strip_prefix(body.name.as_str())?.trim_start();
            let mut values = solution.sweep.poses.iter().map(|pose| pose.joints[index]);
            let is_said = |value: &f64| {
                [Units::METRIC, Units::INCH]
                    .iter()
                    .any(|&units| joint_in_words(body, *value, units) == said)
            };
            values.find(is_said).map(|value| (BodyId(index), value))
        })
}

/// A joint and its value from a text: the body's name, then a quantity, or the word that the file gives to a motion.
fn joint_value(route: &Route, text: &str) -> Result<(BodyId, f64), Unknown> {
    let moving = route.machine.bodies.iter().enumerate();
    let mut moving: Vec<_> = moving
        .filter(|(_, body)| !matches!(body.joint, Joint::Fixed))
        .collect();
    // The longest name first: "fork" must not take what is meant for "fork lower".
    moving.sort_by_key(|(_, body)| std::cmp::Reverse(body.name.len()));
    let unknown = || {
        let example = moving
            .first()
            .map_or("steering 30 deg".to_owned(), |(_, body)| {
                let value = if matches!(body.joint, Joint::Turns { .. }) {
                    "20 deg"
                } else {
                    "8 mm"
                };
                format!("{} {value}", body.name)
            });
        Unknown::Pose {
            text: text.to_owned(),
            example,
        }
    };
    let found = moving.iter().find_map(|(index, body)| {
        let rest = text.trim().strip_prefix(body.name.as_str())?;
        rest.starts_with(char::is_whitespace)
            .then(|| (*index, *body, rest.trim()))
    });
    let (index, body, said) = found.ok_or_else(unknown)?;
    let (kind, from, to) = match body.joint {
        Joint::Turns { from, to, .. } => (Kind::Angle, from, to),
        Joint::Slides { from, to, .. } => (Kind::Length, from, to),
        Joint::Fixed => return Err(unknown()),
    };
    let words = body.said.as_ref();
    let said_is = |word: &str| said == word;
    let value =
        if words.is_some_and(|w| said_is(&w.above)) || said == "full left" || said == "pressed" {
            to
        } else if words.is_some_and(|w| said_is(&w.below)) || said == "full right" {
            from
        } else {
            let said = said.strip_prefix("at ").unwrap_or(said);
            parse(said, kind, Accepts::Any).map_err(|_| unknown())?
        };
    let margin = 1e-6 + 0.02 * (to - from);
    if value < from - margin || value > to + margin {
        return Err(Unknown::Beyond {
            text: text.to_owned(),
        });
    }
    Ok((BodyId(index), value))
}

/// The pose that is nearest, each joint's distance as a share of its travel.
fn pinned(solution: &Solution, values: &[(BodyId, f64)]) -> Pinned {
    let sweep = &solution.sweep;
    let rest = &sweep.poses[sweep.rest].joints;
    let travel = |body: usize| {
        let all = sweep.poses.iter().map(|pose| pose.joints[body]);
        let (low, high) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |r, v| {
            (r.0.min(v), r.1.max(v))
        });
        (high - low).max(1e-9)
    };
    let off = |pose: usize| {
        let joints = &sweep.poses[pose].joints;
        (0..joints.len())
            .map(|body| {
                let wanted = values.iter().find(|(joint, _)| joint.0 == body);
                let wanted = wanted.map_or(rest[body], |(_, value)| *value);
                ((joints[body] - wanted) / travel(body)).powi(2)
            })
            .sum::<f64>()
    };
    let pose = (0..sweep.poses.len()).min_by(|&a, &b| off(a).total_cmp(&off(b)));
    Pinned {
        pose: pose.unwrap_or(sweep.rest),
        joints: values.iter().map(|(joint, _)| *joint).collect(),
    }
}
