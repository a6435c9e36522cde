//! The limits of a route: the table, with what the route file overrides. No check holds a limit of its own.

use crate::geometry::Reach;
use crate::harness::Branch;
use crate::machine::Edge;
use crate::quantity::Kind;
use crate::route::{LimitOverride, LimitValue, Route};

use super::limit_table::{Row, TABLE};

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
    /// Greatest slack of a span that can touch what harms it.
    SlackMost,
    /// Least distance to an edge.
    EdgeDistance,
    /// Greatest force against the lip of a grommet.
    EdgePreload,
    /// Greatest rubbing against a part: force times way over one sweep of a joint and back.
    Rubbing,
    /// Least distance to what a moving part sweeps.
    SnagDistance,
    /// Least distance to a line that carries what burns.
    FluidDistance,
    /// The same where the branch is clamped so that it cannot touch the line.
    FluidDistanceClamped,
    /// Least depth of a drip loop below the entry of a connector.
    DripLoop,
    /// Sweeps of a joint that the strands of a wire should bear, a plain number.
    FlexSweeps,
    /// Greatest voltage that the wires of a circuit take, there and back.
    VoltageDrop,
    /// Greatest share of what a wire carries.
    Ampacity,
    /// By how much the sum of two signals may be off.
    SignalSum,
    /// Greatest temperature of the outside, where a route file sets one for all; otherwise the rating of each thing.
    HotTemperature,
    /// Greatest sway of the wires just behind a connector.
    ConnectorSway,
    /// Greatest pull on a connector.
    ConnectorPull,
    /// Greatest length along the branch from a connector to the first thing that holds it.
    ConnectorSupport,
    /// Least length behind a connector before the branch bends.
    ConnectorRun,
    /// Least distance from a splice to a span that moves.
    SpliceMoving,
    /// Least distance from a splice to a strap or clamp.
    SpliceStrap,
    /// Least distance from a splice to a connector.
    SpliceEnd,
    /// Least distance between splices.
    SpliceStagger,
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
    /// A distance by kind of edge \[m\]. A grommet may be touched.
    ByEdge {
        /// From a sharp one.
        sharp: f64,
        /// From a rolled one, or a smooth part.
        rolled: f64,
    },
    /// The slack with which a span can be pulled so far aside \[m\].
    Aside(f64),
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
            LimitRule::ByEdge { .. } | LimitRule::Aside(_) => 0.0,
        }
    }

    /// The limit as a distance from an edge \[m\]; zero for a grommet, which may be touched.
    pub fn from_edge(&self, edge: Edge) -> f64 {
        match (self.rule, edge) {
            (_, Edge::Grommet) => 0.0,
            (LimitRule::ByEdge { sharp, .. }, Edge::Sharp) => sharp,
            (LimitRule::ByEdge { rolled, .. }, Edge::Rolled) => rolled,
            _ => self.value(),
        }
    }

    /// The limit as a slack over a straight way `straight` \[m\].
    pub fn slack(&self, straight: f64) -> f64 {
        match self.rule {
            LimitRule::Aside(aside) => Reach::slack_for(straight, aside),
            _ => self.value(),
        }
    }

    /// The limit as a distance from a surface at `surface` °C \[m\].
    pub fn distance(&self, surface: f64) -> f64 {
        match self.rule {
            LimitRule::BySurface(table) => by_surface(table, surface),
            LimitRule::Value(value) => value,
            _ => 0.0,
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
    use super::super::limit_table::HOT_DISTANCE;
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
