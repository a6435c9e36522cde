//! The one table of limits, each with source, status and reason. No check holds a limit of its own.

use crate::harness::Branch;
use crate::quantity::Kind;
use crate::route::{LimitOverride, LimitValue, Route};

/// Which limit. Its [`name`](Self::name) is the key in a route file's `limits`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LimitKey {
    /// Least inside radius of a span that moves.
    BendRadiusMoving,
    /// Least inside radius of a span that is held still.
    BendRadiusStill,
    /// Least inside radius within one diameter of a connector.
    BendRadiusConnector,
    /// Least slack of a span that moves.
    SlackLeast,
    /// Greatest strain of the centreline.
    StretchMost,
    /// Greatest twist per free length.
    Twist,
    /// Least distance to a hot part.
    HotDistance,
    /// Greatest squeeze between two parts, as a share of the diameter.
    PinchSqueeze,
    /// Greatest pressure under a strap.
    StrapPressure,
    /// Greatest squeeze under a strap, as a share of the diameter.
    StrapSqueeze,
    /// Greatest length along the branch between two fixings.
    SupportDistance,
    /// Greatest torque of the harness about a turning joint.
    SteeringDrag,
}

/// How well a limit's source is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LimitStatus {
    /// Read in the document itself.
    Read,
    /// Second-hand.
    SecondHand,
    /// From memory.
    Memory,
    /// Our own choice: no published source.
    OwnChoice,
    /// The route file's own.
    Overridden,
}

impl LimitStatus {
    /// The status as it stands behind a source.
    pub fn in_words(self) -> &'static str {
        match self {
            Self::Read => "read in the document",
            Self::SecondHand => "second-hand",
            Self::Memory => "from memory",
            Self::OwnChoice => "our own choice, no published value",
            Self::Overridden => "set in the route file",
        }
    }
}

/// How a limit is worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LimitRule {
    /// So many outside diameters of the branch.
    Diameters(f64),
    /// The larger of so many outside diameters of the branch and so many of its largest wire.
    BranchOrWire {
        /// Diameters of the branch.
        branch: f64,
        /// Diameters of the largest wire.
        wire: f64,
    },
    /// A value in the SI unit of the limit's kind.
    Value(f64),
    /// A distance by surface temperature: rising pairs of °C and metres, linear between, constant beyond.
    BySurface(&'static [(f64, f64)]),
}

/// One limit.
#[derive(Debug, Clone, PartialEq)]
pub struct Limit {
    /// Which one.
    pub key: LimitKey,
    /// How it is worked out.
    pub rule: LimitRule,
    /// Kind of the value that is compared; a radius given in diameters is a length too.
    pub kind: Kind,
    /// Where it comes from.
    pub source: String,
    /// How well that source is known.
    pub status: LimitStatus,
    /// Why this value and not another.
    pub reason: String,
}

impl Limit {
    /// Source and status in one line, as it stands in a finding.
    pub fn cited(&self) -> String {
        match self.status {
            LimitStatus::Overridden => self.source.clone(),
            status => format!("{} ({})", self.source, status.in_words()),
        }
    }

    /// The limit as a least inside radius of `branch` \[m\].
    pub fn radius(&self, route: &Route, branch: &Branch) -> f64 {
        match self.rule {
            LimitRule::Diameters(factor) => factor * branch.diameter,
            LimitRule::BranchOrWire {
                branch: by_branch,
                wire: by_wire,
            } => {
                let largest = branch
                    .wires
                    .iter()
                    .map(|wire| route.wires[wire.0].outside)
                    .fold(0.0, f64::max);
                (by_branch * branch.diameter).max(by_wire * largest)
            }
            LimitRule::Value(value) => value,
            LimitRule::BySurface(table) => by_surface(table, f64::INFINITY),
        }
    }

    /// The limit as a distance from a surface at `surface` °C \[m\].
    pub fn distance(&self, surface: f64) -> f64 {
        match self.rule {
            LimitRule::BySurface(table) => by_surface(table, surface),
            LimitRule::Value(value) => value,
            LimitRule::Diameters(_) | LimitRule::BranchOrWire { .. } => 0.0,
        }
    }

    /// The limit as a plain value in the SI unit of its kind; for the rules that have none, zero.
    pub fn value(&self) -> f64 {
        match self.rule {
            LimitRule::Value(value) => value,
            _ => 0.0,
        }
    }
}

/// Linear between the pairs of `table`, constant beyond its ends.
fn by_surface(table: &[(f64, f64)], surface: f64) -> f64 {
    let above = table.partition_point(|row| row.0 < surface);
    match (above.checked_sub(1).map(|i| table[i]), table.get(above)) {
        (Some(low), Some(high)) => low.1 + (high.1 - low.1) * (surface - low.0) / (high.0 - low.0),
        (None, Some(end)) => end.1,
        (Some(end), None) => end.1,
        (None, None) => 0.0,
    }
}

/// Keep-away distance by surface temperature. No standard gives one. Trade guides for road vehicles ask for
/// 50 mm from a shielded part of 200 °C up to 100–200 mm from an exhaust; on a motorcycle that is often
/// impossible, and 25 mm is met only behind a shield. These values lie between.
const HOT_DISTANCE: &[(f64, f64)] = &[
    (60.0, 0.005),
    (100.0, 0.015),
    (200.0, 0.030),
    (300.0, 0.050),
    (500.0, 0.075),
    (700.0, 0.100),
];

struct Row {
    key: LimitKey,
    name: &'static str,
    rule: LimitRule,
    kind: Kind,
    status: LimitStatus,
    source: &'static str,
    reason: &'static str,
}

const TABLE: [Row; 12] = [
    Row {
        key: LimitKey::BendRadiusMoving,
        name: "bend radius moving",
        rule: LimitRule::Diameters(10.0),
        kind: Kind::Length,
        status: LimitStatus::Read,
        source: "NASA-STD-8739.4 cl. 7.3(21), long term 10 × OD",
        reason: "A span that bends with every turn of the bars is held to the long-term figure.",
    },
    Row {
        key: LimitKey::BendRadiusStill,
        name: "bend radius still",
        rule: LimitRule::BranchOrWire {
            branch: 6.0,
            wire: 10.0,
        },
        kind: Kind::Length,
        status: LimitStatus::SecondHand,
        source: "larger of 6 × OD (NASA-STD-8739.4 cl. 7.3(21), short term) and 10 × largest wire \
                 (FAA AC 43.13-1B para 11-96)",
        reason: "A span held still is bent once. The first rule was read in the document, the second is \
                 second-hand; the larger of both protects bundle and wire.",
    },
    Row {
        key: LimitKey::BendRadiusConnector,
        name: "bend radius connector",
        rule: LimitRule::Diameters(3.0),
        kind: Kind::Length,
        status: LimitStatus::SecondHand,
        source: "FAA AC 43.13-1B para 11-96, 3 × OD where supported at a terminal",
        reason: "The rule speaks of the wire; here it is applied to the whole branch within one diameter of \
                 the connector.",
    },
    Row {
        key: LimitKey::SlackLeast,
        name: "slack least",
        rule: LimitRule::Value(0.015),
        kind: Kind::Length,
        status: LimitStatus::Memory,
        source: "shop practice, 15–25 mm spare at the tightest angle",
        reason: "FAA AC 43.13-1B para 11-118 asks for full travel without tension and names no length.",
    },
    Row {
        key: LimitKey::StretchMost,
        name: "stretch most",
        rule: LimitRule::Value(0.002),
        kind: Kind::Ratio,
        status: LimitStatus::OwnChoice,
        source: "0.2 % strain",
        reason: "About where annealed copper stops springing back; a sound span is not stretched at all.",
    },
    Row {
        key: LimitKey::Twist,
        name: "twist",
        rule: LimitRule::Value(std::f64::consts::PI / 6.0 / 0.1),
        kind: Kind::TwistRate,
        status: LimitStatus::Memory,
        source: "shop practice, 25–30° per 100 mm of free length",
        reason: "The upper end: FAA AC 43.13-1B para 11-115 prefers twisting to bending and names no angle.",
    },
    Row {
        key: LimitKey::HotDistance,
        name: "hot distance",
        rule: LimitRule::BySurface(HOT_DISTANCE),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "keep-away distance by surface temperature, 15 mm at 100 °C to 100 mm at 700 °C",
        reason: "No standard gives a distance. Trade guides for road vehicles ask for 50 to 200 mm, which a \
                 motorcycle can seldom give; 25 mm is met only behind a shield.",
    },
    Row {
        key: LimitKey::PinchSqueeze,
        name: "pinch squeeze",
        rule: LimitRule::Value(0.10),
        kind: Kind::Ratio,
        status: LimitStatus::OwnChoice,
        source: "10 % of the diameter",
        reason: "Half of the 20 % that a strap may squeeze (from memory, IPC/WHMA-A-620), because parts that \
                 close do it again and again.",
    },
    Row {
        key: LimitKey::StrapPressure,
        name: "strap pressure",
        rule: LimitRule::Value(2.0e6),
        kind: Kind::Pressure,
        status: LimitStatus::OwnChoice,
        source: "2 MPa mean hoop pressure",
        reason: "No published limit was found. This is the pressure that squeezes a bundle by 20 % at the \
                 transverse modulus assumed.",
    },
    Row {
        key: LimitKey::StrapSqueeze,
        name: "strap squeeze",
        rule: LimitRule::Value(0.20),
        kind: Kind::Ratio,
        status: LimitStatus::Memory,
        source: "IPC/WHMA-A-620, insulation compressed by no more than 20 %",
        reason: "NASA-STD-8739.4 cl. 19.6 rejects crushed insulation and names no figure.",
    },
    Row {
        key: LimitKey::SupportDistance,
        name: "support distance",
        rule: LimitRule::Value(0.300),
        kind: Kind::Length,
        status: LimitStatus::SecondHand,
        source: "a vehicle body builder's guide, 300 mm between fixings",
        reason: "Stricter than the 610 mm (24 in) of FAA AC 43.13-1B para 11-96, because a motorcycle shakes \
                 more.",
    },
    Row {
        key: LimitKey::SteeringDrag,
        name: "steering drag",
        rule: LimitRule::Value(0.5),
        kind: Kind::Torque,
        status: LimitStatus::OwnChoice,
        source: "0.5 N m about the axis",
        reason: "About a third of what a well set steering head resists with (1–2 N m, from memory), so that \
                 the bars still find their own way.",
    },
];

impl LimitKey {
    /// Every limit, in the order of the table.
    pub fn all() -> impl Iterator<Item = Self> {
        TABLE.iter().map(|row| row.key)
    }

    /// Its key in a route file.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// Kind of the value that is compared.
    pub fn kind(self) -> Kind {
        self.row().kind
    }

    /// Whether a route file may give it in diameters of the branch.
    pub fn takes_diameters(self) -> bool {
        matches!(
            self,
            Self::BendRadiusMoving | Self::BendRadiusStill | Self::BendRadiusConnector
        )
    }

    /// The limit that a route file calls `name`.
    pub fn named(name: &str) -> Option<Self> {
        TABLE.iter().find(|row| row.name == name).map(|row| row.key)
    }

    fn row(self) -> &'static Row {
        // The table stands in the order of the enum; a test holds it to that.
        &TABLE[self as usize]
    }
}

/// All limits of a route: the table, with what the route file overrides.
#[derive(Debug, Clone, PartialEq)]
pub struct Limits {
    rows: Vec<Limit>,
}

impl Limits {
    /// The table with `overrides` laid over it. An override of a key that is not in the table, or in
    /// diameters where only a value makes sense, changes nothing: reading a route file refuses both.
    pub fn new(overrides: &[LimitOverride]) -> Self {
        let mut rows: Vec<Limit> = TABLE
            .iter()
            .map(|row| Limit {
                key: row.key,
                rule: row.rule,
                kind: row.kind,
                source: row.source.to_owned(),
                status: row.status,
                reason: row.reason.to_owned(),
            })
            .collect();
        for given in overrides {
            let Some(key) = LimitKey::named(&given.key) else {
                continue;
            };
            let (rule, kind) = match given.value {
                LimitValue::Diameters(factor) if key.takes_diameters() => {
                    (LimitRule::Diameters(factor), Kind::Length)
                }
                LimitValue::Diameters(_) => continue,
                LimitValue::Value(value, kind) => (LimitRule::Value(value), kind),
            };
            let row = &mut rows[key as usize];
            row.rule = rule;
            row.kind = kind;
            row.source = format!("route file: {}", given.why);
            row.status = LimitStatus::Overridden;
            row.reason.clone_from(&given.why);
        }
        Self { rows }
    }

    /// One limit.
    pub fn get(&self, key: LimitKey) -> &Limit {
        &self.rows[key as usize]
    }

    /// All of them, in the order of the table.
    pub fn all(&self) -> &[Limit] {
        &self.rows
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_stands_in_the_order_of_the_enum() {
        for (index, row) in TABLE.iter().enumerate() {
            assert_eq!(row.key as usize, index, "{}", row.name);
        }
    }

    #[test]
    fn the_keep_away_distance_never_falls_with_temperature() {
        let mut last = 0.0;
        for surface in (0..1000).step_by(7) {
            let distance = by_surface(HOT_DISTANCE, f64::from(surface));
            assert!(distance >= last, "{surface} °C: {distance} after {last}");
            last = distance;
        }
        assert!((by_surface(HOT_DISTANCE, 400.0) - 0.0625).abs() < 1e-12);
    }
}
