//! A number in SI to a text in the units that a person uses.

use super::Kind;

/// Unit of lengths.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum LengthUnit {
    /// Millimetre.
    #[default]
    Mm,
    /// Inch.
    Inch,
}

/// Unit of temperatures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum TemperatureUnit {
    /// Degree Celsius.
    #[default]
    DegC,
    /// Degree Fahrenheit.
    DegF,
}

/// The units in which values are shown. The length's unit also decides between newton and pound-force, and so on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Units {
    /// Unit of lengths.
    pub length: LengthUnit,
    /// Unit of temperatures.
    pub temperature: TemperatureUnit,
}

impl Units {
    /// Millimetre and degree Celsius.
    pub const METRIC: Self = Self {
        length: LengthUnit::Mm,
        temperature: TemperatureUnit::DegC,
    };
    /// Inch and degree Fahrenheit.
    pub const INCH: Self = Self {
        length: LengthUnit::Inch,
        temperature: TemperatureUnit::DegF,
    };

    /// A value in the SI unit of `kind`, in the unit that it is shown in, and that unit's name as it stands after
    /// a number (with its leading space, where one belongs).
    pub fn convert(&self, value: f64, kind: Kind) -> (f64, &'static str) {
        const POUND: f64 = 4.448_221_615_260_5;
        const IN: f64 = 0.0254;
        let inch = self.length == LengthUnit::Inch;
        let fahrenheit = self.temperature == TemperatureUnit::DegF;
        match kind {
            Kind::Length if inch => (value / IN, " in"),
            Kind::Length => (value * 1e3, " mm"),
            Kind::Angle => (value.to_degrees(), "°"),
            Kind::Temperature if fahrenheit => (value * 1.8 + 32.0, " °F"),
            Kind::Temperature => (value, " °C"),
            Kind::Force if inch => (value / POUND, " lbf"),
            Kind::Force => (value, " N"),
            Kind::Torque if inch => (value / (POUND * IN), " lbf in"),
            Kind::Torque => (value, " N m"),
            Kind::Pressure if inch => (value * IN * IN / POUND, " psi"),
            Kind::Pressure => (value / 1e6, " MPa"),
            Kind::Ratio => (value * 100.0, " %"),
            Kind::Area => (value * 1e6, " mm²"),
            Kind::BendingStiffness => (value, " N m²"),
            Kind::MassPerLength => (value * 1e3, " g/m"),
            Kind::Current => (value, " A"),
            Kind::Voltage => (value, " V"),
            Kind::Resistance if value.abs() < 1.0 => (value * 1e3, " mΩ"),
            Kind::Resistance => (value, " Ω"),
            Kind::TwistRate if inch => (value.to_degrees() * IN, "°/in"),
            Kind::TwistRate => (value.to_degrees() * 0.1, "°/100 mm"),
        }
    }

    /// How many decimals a value of `kind` is shown with: as many as the workshop's instruments can vouch for.
    pub fn digits(&self, kind: Kind) -> usize {
        let inch = self.length == LengthUnit::Inch;
        match kind {
            Kind::Length if inch => 2,
            Kind::Length | Kind::Angle | Kind::Temperature | Kind::MassPerLength => 0,
            Kind::Pressure if inch => 0,
            Kind::TwistRate if inch => 1,
            Kind::TwistRate => 0,
            Kind::Force | Kind::Ratio | Kind::Current | Kind::Resistance => 1,
            Kind::Torque | Kind::Pressure | Kind::Area | Kind::Voltage => 2,
            Kind::BendingStiffness => 4,
        }
    }

    /// A value in the SI unit of `kind` as a text with its unit and the usual number of decimals.
    pub fn show(&self, value: f64, kind: Kind) -> String {
        self.show_to(value, kind, self.digits(kind))
    }

    /// The same with `digits` decimals.
    pub fn show_to(&self, value: f64, kind: Kind, digits: usize) -> String {
        let (number, unit) = self.convert(value, kind);
        let text = format!("{number:.digits$}");
        // "-0" and "-0.00" say nothing that "0" does not.
        let text = match text.strip_prefix('-') {
            Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
            _ => text,
        };
        format!("{text}{unit}")
    }
}
