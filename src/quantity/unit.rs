//! The table of units.

use super::Kind;

/// A unit of the table: its spelling without spaces, its kind, its size in the SI unit of the kind.
/// Temperatures stand apart, since their scales have offsets.
struct Unit(&'static str, Kind, f64);

const INCH: f64 = 0.0254;
/// Pound-force \[N\]: 0.453 592 37 kg × 9.806 65 m/s², both exact by definition.
const POUND: f64 = 4.448_221_615_260_5;

/// The first spelling of each unit is the one that messages offer.
const UNITS: &[Unit] = &[
    Unit("mm", Kind::Length, 1e-3),
    Unit("cm", Kind::Length, 1e-2),
    Unit("m", Kind::Length, 1.0),
    Unit("in", Kind::Length, INCH),
    Unit("inch", Kind::Length, INCH),
    Unit("inches", Kind::Length, INCH),
    Unit("\"", Kind::Length, INCH),
    Unit("ft", Kind::Length, 12.0 * INCH),
    Unit("deg", Kind::Angle, std::f64::consts::PI / 180.0),
    Unit("°", Kind::Angle, std::f64::consts::PI / 180.0),
    Unit("degree", Kind::Angle, std::f64::consts::PI / 180.0),
    Unit("degrees", Kind::Angle, std::f64::consts::PI / 180.0),
    Unit("rad", Kind::Angle, 1.0),
    Unit("N", Kind::Force, 1.0),
    Unit("kN", Kind::Force, 1e3),
    Unit("lbf", Kind::Force, POUND),
    Unit("Nm", Kind::Torque, 1.0),
    Unit("Nmm", Kind::Torque, 1e-3),
    Unit("Ncm", Kind::Torque, 1e-2),
    Unit("lbfin", Kind::Torque, POUND * INCH),
    Unit("lbfft", Kind::Torque, POUND * INCH * 12.0),
    Unit("MPa", Kind::Pressure, 1e6),
    Unit("kPa", Kind::Pressure, 1e3),
    Unit("Pa", Kind::Pressure, 1.0),
    Unit("bar", Kind::Pressure, 1e5),
    Unit("N/mm2", Kind::Pressure, 1e6),
    Unit("psi", Kind::Pressure, POUND / (INCH * INCH)),
    Unit("%", Kind::Ratio, 1e-2),
    Unit("percent", Kind::Ratio, 1e-2),
    Unit("mm2", Kind::Area, 1e-6),
    Unit("cm2", Kind::Area, 1e-4),
    Unit("m2", Kind::Area, 1.0),
    Unit("in2", Kind::Area, INCH * INCH),
    Unit("Nm2", Kind::BendingStiffness, 1.0),
    Unit("Nmm2", Kind::BendingStiffness, 1e-6),
    Unit("Ncm2", Kind::BendingStiffness, 1e-4),
    Unit("lbfin2", Kind::BendingStiffness, POUND * INCH * INCH),
    Unit("kg/m", Kind::MassPerLength, 1.0),
    Unit("g/m", Kind::MassPerLength, 1e-3),
    Unit("lb/ft", Kind::MassPerLength, 0.453_592_37 / (12.0 * INCH)),
    Unit("A", Kind::Current, 1.0),
    Unit("mA", Kind::Current, 1e-3),
    Unit("V", Kind::Voltage, 1.0),
    Unit("mV", Kind::Voltage, 1e-3),
    Unit("ohm", Kind::Resistance, 1.0),
    Unit("mohm", Kind::Resistance, 1e-3),
    Unit("kohm", Kind::Resistance, 1e3),
    Unit("Ω", Kind::Resistance, 1.0),
    Unit("mΩ", Kind::Resistance, 1e-3),
    Unit("kΩ", Kind::Resistance, 1e3),
];

/// What a unit's text means.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Meaning {
    /// A factor into the SI unit of the kind.
    Factor(Kind, f64),
    /// A temperature: °C = (number + offset) · factor.
    Scale { offset: f64, factor: f64 },
    /// American wire gauge.
    Gauge,
    /// Diameters of the branch: a limit's own form.
    Diameters,
}

impl Meaning {
    /// The kind that a unit of this meaning measures, where it is one of ours.
    pub(super) fn kind(self) -> Option<Kind> {
        match self {
            Self::Factor(kind, _) => Some(kind),
            Self::Scale { .. } => Some(Kind::Temperature),
            Self::Gauge => Some(Kind::Area),
            Self::Diameters => None,
        }
    }
}

/// Looks a unit up. Spaces, middle dots and stars between its parts do not matter, nor does the way in which a
/// square is written; `None` where it is not known.
pub(super) fn look_up(text: &str) -> Option<Meaning> {
    let spelt: String = text
        .chars()
        .filter(|c| !c.is_whitespace() && !matches!(c, '·' | '*' | '⋅' | '^'))
        .map(|c| match c {
            '²' => '2',
            '″' | '”' => '"',
            'º' => '°',
            c => c,
        })
        .collect();
    match spelt.as_str() {
        "degC" | "°C" | "C" => {
            return Some(Meaning::Scale {
                offset: 0.0,
                factor: 1.0,
            });
        }
        "degF" | "°F" | "F" => {
            return Some(Meaning::Scale {
                offset: -32.0,
                factor: 5.0 / 9.0,
            });
        }
        "K" => {
            return Some(Meaning::Scale {
                offset: -273.15,
                factor: 1.0,
            });
        }
        "AWG" | "awg" => return Some(Meaning::Gauge),
        "OD" | "D" => return Some(Meaning::Diameters),
        _ => {}
    }
    if let Some(unit) = UNITS.iter().find(|unit| unit.0 == spelt) {
        return Some(Meaning::Factor(unit.1, unit.2));
    }
    twist_rate(&spelt)
}

/// An angle over a length that may carry a number: "deg/100mm", "deg/in".
fn twist_rate(spelt: &str) -> Option<Meaning> {
    let (angle, length) = spelt.split_once('/')?;
    let digits = length
        .find(|c: char| !c.is_ascii_digit() && c != '.')
        .unwrap_or(length.len());
    let (number, length) = length.split_at(digits);
    let number: f64 = if number.is_empty() {
        1.0
    } else {
        number.parse().ok()?
    };
    let find = |text: &str, kind: Kind| {
        UNITS
            .iter()
            .find(|unit| unit.0 == text && unit.1 == kind)
            .map(|unit| unit.2)
    };
    let rate = find(angle, Kind::Angle)? / (number * find(length, Kind::Length)?);
    rate.is_finite()
        .then_some(Meaning::Factor(Kind::TwistRate, rate))
}

/// The units in which a kind may be given, as a list in words.
pub fn accepted_units(kind: Kind) -> String {
    match kind {
        Kind::Temperature => "degC, degF, K".to_owned(),
        Kind::TwistRate => "deg/100 mm, deg/mm, deg/m, deg/in, rad/m".to_owned(),
        Kind::Length => "mm, cm, m, in, ft".to_owned(),
        Kind::Angle => "deg, rad".to_owned(),
        Kind::Ratio => "% or a plain number".to_owned(),
        Kind::Torque => "N m, N mm, N cm, lbf in, lbf ft".to_owned(),
        Kind::BendingStiffness => "N m2, N mm2, N cm2, lbf in2".to_owned(),
        Kind::Area => "mm2, cm2, m2, in2, AWG".to_owned(),
        kind => UNITS
            .iter()
            .filter(|unit| unit.1 == kind)
            .map(|unit| unit.0)
            .collect::<Vec<_>>()
            .join(", "),
    }
}

/// Every spelling of the table, for finding the nearest one to a misspelt unit.
pub(super) fn spellings(kind: Kind) -> impl Iterator<Item = &'static str> {
    let scales: &[&str] = if kind == Kind::Temperature {
        &["degC", "degF", "K"]
    } else {
        &[]
    };
    UNITS
        .iter()
        .filter(move |unit| unit.1 == kind)
        .map(|unit| unit.0)
        .chain(scales.iter().copied())
}
