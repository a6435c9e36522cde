//! A text with a unit to a number in SI.

use super::unit::{Meaning, accepted_units, look_up, spellings};
use super::{Kind, awg};

/// Longer lengths \[m\] are slips of the unit or the keys: no part of a motorcycle, nor its datum, is so far away.
const LONGEST: f64 = 100.0;
/// Shorter lengths \[m\] that must be above zero are slips too: calipers read a hundredth of a millimetre.
const SHORTEST: f64 = 1e-6;

/// Which numbers make sense.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Accepts {
    /// Any finite number.
    Any,
    /// Zero and above.
    NotNegative,
    /// Above zero.
    Positive,
}

/// Why a text or a number is not a usable quantity. Shown, it says what was seen; [`QuantityError::cure`] says
/// what to write.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// It does not begin with a number.
    #[error("\"{seen}\" does not begin with a number")]
    NoNumber {
        /// The text.
        seen: String,
        /// The kind that was wanted.
        wanted: Kind,
    },
    /// A comma where a decimal point belongs.
    #[error("\"{seen}\" has a comma in its number")]
    Comma {
        /// The text.
        seen: String,
    },
    /// A number without a unit.
    #[error("\"{seen}\" has no unit")]
    NoUnit {
        /// The text.
        seen: String,
        /// The kind that was wanted.
        wanted: Kind,
    },
    /// A unit that is not in the table.
    #[error("the unit \"{unit}\" is not known")]
    UnknownUnit {
        /// The unit's text.
        unit: String,
        /// The kind that was wanted.
        wanted: Kind,
    },
    /// A unit of another kind.
    #[error("\"{seen}\" is {is}, but {} is wanted here", wanted.phrase())]
    WrongKind {
        /// The text.
        seen: String,
        /// What it is, in words.
        is: &'static str,
        /// The kind that was wanted.
        wanted: Kind,
    },
    /// Not a finite number.
    #[error("{seen} is not a number that can be measured")]
    NotFinite {
        /// The text.
        seen: String,
        /// The kind that was wanted.
        wanted: Kind,
    },
    /// Below zero, where that has no meaning.
    #[error("{seen} is negative")]
    Negative {
        /// The text.
        seen: String,
        /// The kind that was wanted.
        wanted: Kind,
        /// Whether zero would do.
        zero_will_do: bool,
    },
    /// Zero, where that has no meaning.
    #[error("{seen} is not above zero")]
    Zero {
        /// The text.
        seen: String,
        /// The kind that was wanted.
        wanted: Kind,
    },
    /// Longer or shorter than anything on a machine.
    #[error("{seen} is {}, {}", if *long { "longer than 100 m" } else { "less than a thousandth of a millimetre" },
        if *long { "and no machine is" } else { "and nothing can be measured so" })]
    OutOfMeasure {
        /// The text or number.
        seen: String,
        /// Whether it is too long, and not too short.
        long: bool,
    },
    /// Below absolute zero.
    #[error("{seen} is colder than absolute zero")]
    TooCold {
        /// The text.
        seen: String,
    },
    /// Not a wire gauge.
    #[error("\"{seen}\" is not a wire gauge")]
    NoGauge {
        /// The text.
        seen: String,
    },
}

impl QuantityError {
    /// What to write instead.
    pub fn cure(&self) -> String {
        match self {
            Self::NoNumber { wanted, .. }
            | Self::NotFinite { wanted, .. }
            | Self::NoUnit { wanted, .. }
            | Self::WrongKind { wanted, .. } => wanted.cure(),
            Self::Comma { .. } => "write a decimal point: \"1.5 mm\"".to_owned(),
            Self::UnknownUnit { unit, wanted } => {
                let near = spellings(*wanted).find(|known| known.eq_ignore_ascii_case(unit));
                match near {
                    Some(near) => format!("write \"{near}\""),
                    None => wanted.cure(),
                }
            }
            Self::Negative {
                wanted,
                zero_will_do: true,
                ..
            } => format!(
                "write {} of zero or more, such as \"{}\"",
                wanted.phrase(),
                wanted.example()
            ),
            Self::Negative { wanted, .. } | Self::Zero { wanted, .. } => format!(
                "write {} above zero, such as \"{}\"",
                wanted.phrase(),
                wanted.example()
            ),
            Self::OutOfMeasure { .. } => {
                "check the number and its unit: mm, cm, m, in, ft".to_owned()
            }
            Self::TooCold { .. } => "check the number and its unit: degC, degF or K".to_owned(),
            Self::NoGauge { .. } => {
                "write a gauge from 40 up to 4/0, such as \"20 AWG\" or \"2/0 AWG\"".to_owned()
            }
        }
    }
}

impl Kind {
    /// How to write a value of this kind.
    pub(crate) fn cure(self) -> String {
        format!(
            "write {} such as \"{}\" (units: {})",
            self.phrase(),
            self.example(),
            accepted_units(self)
        )
    }
}

/// Reads a text such as "1.5 in", "7 3/8 in", "250 degF", "20 AWG", "30 deg/100 mm" as a value of `kind`, in the
/// SI unit of that kind (a temperature in °C, a wire gauge as its cross-section).
///
/// # Errors
/// Where the text is no number, its unit is missing, unknown or of another kind, or the number is not finite or
/// not among those that are accepted.
pub fn parse(text: &str, kind: Kind, accepts: Accepts) -> Result<f64, QuantityError> {
    let (number, unit) = split(text.trim());
    let unit = unit.trim();
    // "AWG 20" is as common as "20 AWG"; "2/0 AWG" would otherwise be taken for a fraction.
    if let Some(gauge) = gauge_text(text.trim()) {
        if kind != Kind::Area {
            return Err(wrong(text, "a wire gauge", kind));
        }
        return awg::gauge(gauge)
            .map(awg::awg_area)
            .ok_or_else(|| QuantityError::NoGauge {
                seen: text.to_owned(),
            });
    }
    if unit.starts_with(',') {
        return Err(QuantityError::Comma {
            seen: text.to_owned(),
        });
    }
    let Some(number) = number_value(number) else {
        return Err(if matches!(text.trim(), "inf" | "-inf" | "NaN") {
            QuantityError::NotFinite {
                seen: text.to_owned(),
                wanted: kind,
            }
        } else {
            QuantityError::NoNumber {
                seen: text.to_owned(),
                wanted: kind,
            }
        });
    };
    let value = if unit.is_empty() {
        if kind != Kind::Ratio {
            return Err(QuantityError::NoUnit {
                seen: text.to_owned(),
                wanted: kind,
            });
        }
        number
    } else {
        match look_up(unit) {
            None => {
                return Err(QuantityError::UnknownUnit {
                    unit: unit.to_owned(),
                    wanted: kind,
                });
            }
            Some(Meaning::Factor(is, factor)) if is == kind => number * factor,
            Some(Meaning::Scale { offset, factor }) if kind == Kind::Temperature => {
                (number + offset) * factor
            }
            Some(other) => {
                let is = other.kind().map_or("a number of diameters", Kind::phrase);
                return Err(wrong(text, is, kind));
            }
        }
    };
    check(value, &format!("\"{text}\""), kind, accepts)
}

/// Reads "10 OD" as 10: a limit in diameters of the branch. `None` where the text is not of this form.
pub(crate) fn parse_diameters(text: &str) -> Option<f64> {
    let (number, unit) = split(text.trim());
    matches!(look_up(unit), Some(Meaning::Diameters))
        .then(|| number_value(number))
        .flatten()
}

/// Checks that a value of `kind` in SI, `seen` in the file, is finite and among those accepted.
///
/// # Errors
/// Where it is not.
pub(crate) fn check(
    value: f64,
    seen: &str,
    kind: Kind,
    accepts: Accepts,
) -> Result<f64, QuantityError> {
    let seen = || seen.to_owned();
    if !value.is_finite() {
        return Err(QuantityError::NotFinite {
            seen: seen(),
            wanted: kind,
        });
    }
    if kind == Kind::Temperature {
        // A scale with an offset: below zero is fine, below absolute zero is not.
        return if value < -273.15 {
            Err(QuantityError::TooCold { seen: seen() })
        } else {
            Ok(value)
        };
    }
    match accepts {
        Accepts::NotNegative | Accepts::Positive if value < 0.0 => Err(QuantityError::Negative {
            seen: seen(),
            wanted: kind,
            zero_will_do: accepts == Accepts::NotNegative,
        }),
        Accepts::Positive if value <= 0.0 => Err(QuantityError::Zero {
            seen: seen(),
            wanted: kind,
        }),
        _ if kind == Kind::Length && value.abs() > LONGEST => Err(QuantityError::OutOfMeasure {
            seen: seen(),
            long: true,
        }),
        Accepts::Positive if kind == Kind::Length && value < SHORTEST => {
            Err(QuantityError::OutOfMeasure {
                seen: seen(),
                long: false,
            })
        }
        _ => Ok(value),
    }
}

fn wrong(text: &str, is: &'static str, wanted: Kind) -> QuantityError {
    QuantityError::WrongKind {
        seen: text.to_owned(),
        is,
        wanted,
    }
}

/// "20" of "20 AWG" or "AWG 20".
fn gauge_text(text: &str) -> Option<&str> {
    let low = text.to_ascii_lowercase();
    if low.ends_with("awg") {
        text.get(..text.len() - 3).map(str::trim)
    } else if low.starts_with("awg") {
        text.get(3..).map(str::trim)
    } else {
        None
    }
}

/// Splits a text after its number: a decimal number, a fraction, or a whole number and a fraction ("7 3/8",
/// "7-3/8").
fn split(text: &str) -> (&str, &str) {
    let mut end = 0;
    let mut last = ' ';
    for (at, c) in text.char_indices() {
        let exponent = matches!(c, 'e' | 'E')
            && text[at + 1..].starts_with(|n: char| n.is_ascii_digit() || n == '-' || n == '+');
        let part_of_number = c.is_ascii_digit()
            || matches!(c, '.' | '_')
            || (matches!(c, '+' | '-' | '−') && (at == 0 || matches!(last, 'e' | 'E')))
            || (c == '/' && last.is_ascii_digit())
            || (exponent && last.is_ascii_digit())
            || (c == ' ' && fraction_follows(&text[at + 1..]))
            || (c == '-' && last.is_ascii_digit() && fraction_follows(&text[at + 1..]));
        if !part_of_number {
            break;
        }
        last = c;
        end = at + c.len_utf8();
    }
    text.split_at(end)
}

/// Whether digits, a slash and a digit come next: the "3/8" of "7 3/8 in".
fn fraction_follows(text: &str) -> bool {
    let rest = text.trim_start_matches(|c: char| c.is_ascii_digit());
    rest.len() < text.len()
        && rest
            .strip_prefix('/')
            .is_some_and(|after| after.starts_with(|c: char| c.is_ascii_digit()))
}

fn number_value(text: &str) -> Option<f64> {
    let text = text.replace('−', "-").replace('_', "");
    let (negative, text) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(&text)),
    };
    // "7 3/8" and the drawing office's "7-3/8"; without a slash a minus belongs to an exponent.
    let mixed = text.contains('/').then(|| text.rsplit_once([' ', '-']));
    let (whole, fraction) = match mixed.flatten() {
        Some((whole, fraction)) => (whole.parse::<f64>().ok()?, fraction),
        None => (0.0, text),
    };
    let part = match fraction.split_once('/') {
        Some((above, below)) => above.parse::<f64>().ok()? / below.parse::<f64>().ok()?,
        None => fraction.parse().ok()?,
    };
    let value = whole + part;
    Some(if negative { -value } else { value })
}
