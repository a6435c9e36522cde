//! The one table of limits: default, source, how well the source is known, and the reason.

use crate::quantity::Kind;

use super::limits::{LimitKey, LimitRule, LimitStatus};

/// One row of the table.
pub(super) struct Row {
    pub(super) key: LimitKey,
    pub(super) name: &'static str,
    pub(super) rule: LimitRule,
    pub(super) kind: Kind,
    pub(super) status: LimitStatus,
    pub(super) source: &'static str,
    pub(super) reason: &'static str,
}

/// Keep-away distance by surface temperature. No standard gives one. Trade guides for road vehicles ask for
/// 50 mm from a shielded part of 200 °C up to 100–200 mm from an exhaust; on a motorcycle that is often
/// impossible, and 25 mm is met only behind a shield. These values lie between.
pub(super) const HOT_DISTANCE: &[(f64, f64)] = &[
    (60.0, 0.005),
    (100.0, 0.015),
    (200.0, 0.030),
    (300.0, 0.050),
    (500.0, 0.075),
    (700.0, 0.100),
];

/// Every limit, in the order of [`LimitKey`].
pub(super) const TABLE: [Row; 33] = [
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
    Row {
        key: LimitKey::SlackMost,
        name: "slack most",
        rule: LimitRule::Aside(0.0127),
        kind: Kind::Length,
        status: LimitStatus::Read,
        source: "FAA AC 43.13-1B para 11-118, no more than 1/2 in (12.7 mm) aside between supports where it could \
                 touch what harms it",
        reason: "The half inch is turned into the slack with which a span can be pulled so far aside. As the \
                 paragraph has it, more is allowed where the span cannot touch a surface that harms it: here hot \
                 parts and edges.",
    },
    Row {
        key: LimitKey::EdgeDistance,
        name: "edge distance",
        rule: LimitRule::ByEdge {
            sharp: 0.009_525,
            rolled: 0.006,
        },
        kind: Kind::Length,
        status: LimitStatus::SecondHand,
        source: "3/8 in (9.5 mm) from a sharp edge or hole without a grommet (FAA AC 43.13-1B para 11-115, read in \
                 the document); 6 mm from a smooth one (a harness maker's layout guide)",
        reason: "Nearer than that, vibration brings the branch against the edge. A grommet may be touched, but \
                 not pressed.",
    },
    Row {
        key: LimitKey::EdgePreload,
        name: "edge preload",
        rule: LimitRule::Value(0.5),
        kind: Kind::Force,
        status: LimitStatus::OwnChoice,
        source: "0.5 N against the lip of a grommet",
        reason: "FAA AC 43.13-1B para 11-115 allows no preload against edges and grommets. Half a newton, the \
                 weight of half a metre of harness, is what lying in the hole may come to.",
    },
    Row {
        key: LimitKey::Rubbing,
        name: "rubbing",
        rule: LimitRule::Value(0.1),
        kind: Kind::Torque,
        status: LimitStatus::OwnChoice,
        source: "0.1 N m (100 N mm) of rubbing in one sweep from stop to stop and back",
        reason: "No published limit was found; what it is good for is the ranking. At a wear of 10⁻⁴ mm³/N m \
                 (soft vinyl on painted steel, from memory) a hundred thousand sweeps take 1 mm³, about a thin \
                 wall over the length of a fingernail. Against a sharp edge nothing may rub.",
    },
    Row {
        key: LimitKey::SnagDistance,
        name: "snag distance",
        rule: LimitRule::Value(0.007),
        kind: Kind::Length,
        status: LimitStatus::SecondHand,
        source: "a harness maker's layout guide, 7 mm outside what a moving part sweeps",
        reason: "The same guide asks that the branch is not free there: where slack of more than half an inch \
                 aside could be caught, the verdict is no better than close.",
    },
    Row {
        key: LimitKey::FluidDistance,
        name: "fluid distance",
        rule: LimitRule::Value(0.1524),
        kind: Kind::Length,
        status: LimitStatus::Read,
        source: "FAA AC 43.13-1B para 11-96 (w), 6 in (152 mm) from a line that carries what burns, and above it",
        reason: "Aircraft practice. A motorcycle has seldom room for it, so from 51 mm on, clamped so that \
                 nothing can touch, the verdict is close and not over.",
    },
    Row {
        key: LimitKey::FluidDistanceClamped,
        name: "fluid distance clamped",
        rule: LimitRule::Value(0.0508),
        kind: Kind::Length,
        status: LimitStatus::Read,
        source: "FAA AC 43.13-1B para 11-96 (w), 2 in (51 mm) where clamped so that with a tie missing it cannot \
                 touch the line",
        reason: "The paragraph's second best. The ends of a broken wire are taken to stay in its bundle.",
    },
    Row {
        key: LimitKey::DripLoop,
        name: "drip loop",
        rule: LimitRule::Value(0.010),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "10 mm below the entry of the connector",
        reason: "FAA AC 43.13-1B para 11-96 (x) asks for a trap or drip loop before any connector that is \
                 entered from above, and names no depth. About one diameter lets the water fall off.",
    },
    Row {
        key: LimitKey::FlexSweeps,
        name: "flex sweeps",
        rule: LimitRule::Value(30e3),
        kind: Kind::Ratio,
        status: LimitStatus::OwnChoice,
        source: "30 000 sweeps from stop to stop and back",
        reason: "Ten years of turning in and out of a parking place, ten times a day. As a strain range by the less favourable of two \
                 published relations (IPC-TM-650 method 2.4.3.2 and ASTM E796; Manson's universal slopes, 1965), with the values of \
                 annealed copper from memory.",
    },
    Row {
        key: LimitKey::VoltageDrop,
        name: "voltage drop",
        rule: LimitRule::Value(0.5),
        kind: Kind::Voltage,
        status: LimitStatus::Memory,
        source: "FAA AC 43.13-1B Table 11-6, 0.5 V at 14 V, continuous, wires there and back",
        reason: "3.6 %. A circuit may give its own `drop`; a sensor or a control unit may need less, a starter takes more.",
    },
    Row {
        key: LimitKey::Ampacity,
        name: "ampacity",
        rule: LimitRule::Value(1.0),
        kind: Kind::Ratio,
        status: LimitStatus::OwnChoice,
        source: "our fit through the few points that can be read in FAA AC 43.13-1B (p. 11-27 and Table 11-9), against the class of \
                 the insulation",
        reason: "The figures of the AC carry no equation. A share of what the fit gives.",
    },
    Row {
        key: LimitKey::SignalSum,
        name: "signal sum",
        rule: LimitRule::Value(0.13),
        kind: Kind::Voltage,
        status: LimitStatus::OwnChoice,
        source: "0.13 V of 5 V, or what the circuit gives as `allowed` (common practice, no source)",
        reason: "Beyond about that a control unit sees the two signals disagree.",
    },
    Row {
        key: LimitKey::HotTemperature,
        name: "hot temperature",
        rule: LimitRule::Value(85.0),
        kind: Kind::Temperature,
        status: LimitStatus::Memory,
        source: "the class of the wires (ISO 6722-1, letters from memory), what cover and connectors are rated for, 85 °C for nylon ties",
        reason: "The class is where insulation lasts 3000 hours. Set here, one temperature takes the place of all these.",
    },
    Row {
        key: LimitKey::ConnectorSway,
        name: "connector sway",
        rule: LimitRule::Value(0.5e-3),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "0.5 mm at 25 mm behind the housing in one sweep",
        reason: "Motions of a few µm in the contacts matter for tin (from memory). What part of the sway gets there the housing decides; half a millimetre bends the wire, and leaves the terminal to its lock.",
    },
    Row {
        key: LimitKey::ConnectorPull,
        name: "connector pull",
        rule: LimitRule::Value(5.0),
        kind: Kind::Force,
        status: LimitStatus::OwnChoice,
        source: "5 N on the whole connector",
        reason: "A crimp bears ten times that, and what is asked of it for good is far less; a harness that lies free does not pull at all.",
    },
    Row {
        key: LimitKey::ConnectorSupport,
        name: "connector support distance",
        rule: LimitRule::Value(0.300),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "300 mm to what first holds the branch",
        reason: "Common practice is a first clamp 75 to 150 mm behind the housing (from memory); a plug at the bars, behind a span that moves, often cannot have it, so only twice that breaks the limit. TM 1-1520-240-BD asks that ties begin far enough behind a connector not to splay its contacts, without a figure.",
    },
    Row {
        key: LimitKey::ConnectorRun,
        name: "connector straight run",
        rule: LimitRule::Diameters(3.0),
        kind: Kind::Length,
        status: LimitStatus::Memory,
        source: "common practice, straight for 3 × OD behind the housing",
        reason: "A bend that begins at the housing leans on the seal and on the contacts of one side. 25 mm is said as often; both are from memory.",
    },
    Row {
        key: LimitKey::SpliceMoving,
        name: "splice moving distance",
        rule: LimitRule::Value(0.020),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "20 mm from any span that moves",
        reason: "Shop practice: never in a span that moves, since the strands break at the edge of the joint.",
    },
    Row {
        key: LimitKey::SpliceStrap,
        name: "splice strap distance",
        rule: LimitRule::Value(0.010),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "10 mm from the edge of a strap or clamp",
        reason: "A strap on the lump squeezes it first. FAA AC 43.13-1B para 11-167 asks that splices stay inspectable (second-hand).",
    },
    Row {
        key: LimitKey::SpliceEnd,
        name: "splice end distance",
        rule: LimitRule::Value(0.075),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "75 mm from a connector",
        reason: "FAA AC 43.13-1B para 11-167 asks for 12 in (305 mm), with exceptions (from memory); a motorcycle has seldom room for it.",
    },
    Row {
        key: LimitKey::SpliceStagger,
        name: "splice stagger",
        rule: LimitRule::Value(0.040),
        kind: Kind::Length,
        status: LimitStatus::OwnChoice,
        source: "40 mm between splices",
        reason: "Staggered, so that the bundle does not grow in one place (FAA AC 43.13-1B para 11-167, second-hand, without a figure; 40 to 50 mm is shop practice).",
    },
];
