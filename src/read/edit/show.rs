//! Values as they stand in a route file, in its units.

use nalgebra::{Point3, UnitVector3};

use crate::harness::{
    Cover, CoverKind, Finish, Fixing, FixingKind, InsulationClass, LengthRule, Via,
};
use crate::machine::Joint;
use crate::quantity::LengthUnit;
use crate::read::tree::Node;
use crate::route::Route;

/// Writes values in the units of a file.
#[derive(Debug, Clone, Copy)]
pub(super) struct Show {
    length: LengthUnit,
    fahrenheit: bool,
}

impl Show {
    /// The units of the file that `root` is.
    pub(super) fn of(root: &Node) -> Self {
        let unit = |name: &str| {
            let unit = root.field("units").and_then(|units| units.field(name));
            unit.and_then(|unit| unit.text().or(Some(unit.kind())))
                .unwrap_or("")
                .to_lowercase()
        };
        Self {
            length: if unit("length") == "in" {
                LengthUnit::Inch
            } else {
                LengthUnit::Mm
            },
            fahrenheit: unit("temperature") == "degf",
        }
    }

    /// A length, to less than a ten thousandth of a millimetre.
    pub(super) fn length(self, value: f64) -> String {
        match self.length {
            LengthUnit::Mm => number(value * 1e3, 4),
            LengthUnit::Inch => number(value / 0.0254, 6),
        }
    }

    pub(super) fn point(self, at: &Point3<f64>) -> String {
        let [x, y, z] = [at.x, at.y, at.z].map(|c| self.length(c));
        format!("({x}, {y}, {z})")
    }

    pub(super) fn temperature(self, value: f64) -> String {
        let shown = if self.fahrenheit {
            value * 1.8 + 32.0
        } else {
            value
        };
        number(shown, 6)
    }

    /// The value of a joint.
    pub(super) fn travel(self, joint: &Joint, value: f64) -> String {
        match joint {
            Joint::Turns { .. } => angle(value),
            _ => self.length(value),
        }
    }

    /// A waypoint.
    pub(super) fn via(self, route: &Route, via: &Via) -> String {
        format!(
            "Via(on: {}, at: {})",
            quoted(&route.machine.bodies[via.on.0].name),
            self.point(&route.places[via.place].at)
        )
    }

    /// A whole fixing; `named` is where it stands in words of the file.
    pub(super) fn fixing(
        self,
        route: &Route,
        fixing: &Fixing,
        rule: &LengthRule,
        at: &str,
    ) -> String {
        let mut fields = vec![format!("name: {}", quoted(&fixing.name))];
        if fixing.kind != FixingKind::Breakout {
            let on = &route.machine.bodies[fixing.on.0].name;
            fields.push(format!("on: {}, at: {at}", quoted(on)));
        }
        if let Some(facing) = fixing.facing {
            fields.push(format!("facing: {}", direction(&facing)));
        }
        if let Some(width) = fixing.width {
            fields.push(format!("width: {}", self.length(width)));
        }
        let kind = match fixing.kind {
            FixingKind::Tie { pull, loose, rated } => {
                fields.extend(pull.map(|pull| format!("pull: {}", force(pull))));
                if loose {
                    fields.push("loose: true".to_owned());
                }
                fields.extend(rated.map(|rated| format!("rated: {}", self.temperature(rated))));
                "Tie"
            }
            FixingKind::Clamp => "Clamp",
            FixingKind::Grommet => "Grommet",
            FixingKind::Breakout => "Breakout",
            FixingKind::Connector {
                finish,
                mated,
                rated,
            } => {
                for (field, finish) in [("finish", finish), ("mated", mated)] {
                    let said = |finish| format!("{field}: {}", quoted(finish_name(finish)));
                    fields.extend(finish.map(said));
                }
                fields.extend(rated.map(|rated| format!("rated: {}", self.temperature(rated))));
                "Connector"
            }
        };
        fields.extend(self.rule(rule));
        format!("{kind}({})", fields.join(", "))
    }

    /// A length rule as the field that says it; `None` where no field does.
    pub(super) fn rule(self, rule: &LengthRule) -> Option<String> {
        match rule {
            LengthRule::Measured(length) => Some(format!("length: {}", self.length(*length))),
            LengthRule::Slack(slack) => Some(format!("slack: {}", self.length(*slack))),
            LengthRule::Strung(_) | LengthRule::SmoothPath => None,
        }
    }

    pub(super) fn cover(self, cover: &Cover) -> String {
        let kind = match cover.kind {
            CoverKind::Braid => "braid",
            CoverKind::Tape => "tape",
            CoverKind::Tube => "tube",
            CoverKind::SplitTube => "split tube",
            CoverKind::Shrink => "shrink",
            CoverKind::HeatSleeve => "heat sleeve",
        };
        let rated = cover.rated.map_or_else(String::new, |rated| {
            format!(", rated: {}", self.temperature(rated))
        });
        format!(
            "(kind: {}, wall: {}{rated})",
            quoted(kind),
            self.length(cover.wall)
        )
    }
}

/// A number with at most so many decimals.
pub(super) fn number(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    let text = if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        &text
    };
    match text {
        "-0" => "0".to_owned(),
        text => text.to_owned(),
    }
}

/// A number to nine digits, whatever its size.
pub(super) fn nine_digits(value: f64) -> String {
    if value.abs() <= 0.0 {
        return "0".to_owned();
    }
    let text = format!("{value:.8e}");
    let rounded: f64 = text.parse().unwrap_or(value);
    rounded.to_string()
}

pub(super) fn direction(of: &UnitVector3<f64>) -> String {
    // Scaled, so that the largest is one: (1, 0, 0.2) reads better than its unit vector.
    let scaled = of.into_inner() / of.amax();
    let [x, y, z] = [scaled.x, scaled.y, scaled.z].map(|c| number(c, 7));
    format!("({x}, {y}, {z})")
}

pub(super) fn angle(value: f64) -> String {
    format!("\"{} deg\"", number(value.to_degrees(), 6))
}

pub(super) fn force(value: f64) -> String {
    format!("\"{} N\"", nine_digits(value))
}

pub(super) fn class_letter(class: InsulationClass) -> &'static str {
    use InsulationClass as Class;
    match class {
        Class::A => "A",
        Class::B => "B",
        Class::C => "C",
        Class::D => "D",
        Class::E => "E",
        Class::F => "F",
        Class::G => "G",
        Class::H => "H",
    }
}

fn finish_name(finish: Finish) -> &'static str {
    match finish {
        Finish::Tin => "tin",
        Finish::Silver => "silver",
        Finish::Gold => "gold",
    }
}

/// A name in quotes.
pub(super) fn quoted(name: &str) -> String {
    format!("\"{}\"", name.replace('\\', "\\\\").replace('"', "\\\""))
}
