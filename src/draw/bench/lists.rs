//! The lists to work from: ties, cuts, splices, voltage drops, and the sheet to measure on.

use nalgebra::{Point3, Vector3};

use crate::advise::lengthen::{SpliceRules, VOLTAGE_DROP};
use crate::draw::scene::Scene;
use crate::draw::{symbols, words};
use crate::harness::{Fixing, FixingKind};
use crate::machine::Stance;
use crate::quantity::{Kind, LengthUnit, Units};

use super::Work;
use super::table::Table;

/// A length with its unit: whole millimetres (tenths below ten), a plain zero, hundredths of an inch.
pub(super) fn show(metres: f64, units: Units) -> String {
    if metres.abs() < 0.05e-3 && units.length == LengthUnit::Mm {
        return "0 mm".to_owned();
    }
    words::length(metres, units)
}

/// Every fixing in order: where along the branch, beside what, how.
pub(super) fn ties(scene: &Scene<'_>) -> Table {
    let mut table = Table::new(
        "ties",
        "Tie list",
        &[
            ("branch", 2.2),
            ("no.", 0.8),
            ("name", 2.2),
            ("what", 2.6),
            ("from datum", 1.6),
            ("to the next", 1.8),
            ("beside", 4.2),
            ("width", 1.3),
            ("how", 4.4),
            ("head of the strap", 2.6),
        ],
    );
    table.note = "Distances along the branch from its datum, its first fixing. Snug: it can be turned by hand, not slid along.".to_owned();
    table.tick = true;
    let Some(rest) = scene.rest() else {
        return table;
    };
    for (index, branch) in scene.route.branches.iter().enumerate() {
        let spans = &scene.solution.branches[index].spans;
        let mut at = 0.0;
        for (lay, entry) in branch.lay.iter().enumerate() {
            let fixing = &entry.fixing;
            let place = scene.route.fixing_position(branch, lay, rest);
            let beside = beside(scene, fixing, &place, rest);
            let next = spans.get(lay).map_or_else(
                || "end".to_owned(),
                |span| {
                    let length = show(span.length, scene.units);
                    if span.moving {
                        format!("{length}, moves")
                    } else {
                        length
                    }
                },
            );
            let strap = matches!(fixing.kind, FixingKind::Tie { .. });
            let head = match (&beside, strap) {
                (Some((_, _, away)), true) => format!("{away}, away from the part"),
                (None, true) => "outward".to_owned(),
                _ => "–".to_owned(),
            };
            table.rows.push(vec![
                branch.name.clone(),
                (lay + 1).to_string(),
                fixing.name.clone(),
                symbols::fixing_name(&fixing.kind).to_owned(),
                show(at, scene.units),
                next,
                beside.map_or_else(String::new, |(part, gap, _)| {
                    format!("{} from {part}", show(gap.max(0.0), scene.units))
                }),
                fixing
                    .width
                    .map_or_else(|| "–".to_owned(), |w| show(w, scene.units)),
                how(&fixing.kind).to_owned(),
                head,
            ]);
            at = spans.get(lay).map_or(at, |span| span.end());
        }
    }
    table
}

fn how(kind: &FixingKind) -> &'static str {
    match kind {
        FixingKind::Tie { loose: false, .. } => "snug, over tape or sleeve; tail cut flush",
        FixingKind::Tie { loose: true, .. } => "loose: the harness slides through",
        FixingKind::Clamp => "fixed, cushion in place",
        FixingKind::Grommet => "grommet seated; the harness slides through",
        FixingKind::Breakout => "a tie on both sides of it",
        FixingKind::Connector { .. } => "latched; wires straight behind it",
    }
}

/// The nearest part of the same body, the gap to it, and the direction away from it in words.
fn beside(
    scene: &Scene<'_>,
    fixing: &Fixing,
    place: &Point3<f64>,
    rest: &Stance,
) -> Option<(String, f64, &'static str)> {
    let parts = scene
        .route
        .machine
        .parts
        .iter()
        .filter(|part| part.on == fixing.on);
    let gaps = parts.map(|part| {
        let own = rest.bodies[part.on.0].inverse_transform_point(place);
        (part, part.shape.distance(&own))
    });
    let (part, gap) = gaps
        .filter(|(_, gap)| gap.is_finite() && *gap < 0.3)
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    let step = 1e-4;
    let at = |by: Vector3<f64>| {
        part.shape
            .distance(&rest.bodies[part.on.0].inverse_transform_point(&(place + by)))
    };
    let slope = |axis: Vector3<f64>| at(axis * step) - at(-axis * step);
    let away = Vector3::new(
        slope(Vector3::x()),
        slope(Vector3::y()),
        slope(Vector3::z()),
    );
    Some((part.name.clone(), gap, direction(&away)))
}

/// The axis nearest to a direction, in a rider's words.
fn direction(of: &Vector3<f64>) -> &'static str {
    let words = [
        (of.x, "forward", "rearward"),
        (of.y, "to the left", "to the right"),
        (of.z, "up", "down"),
    ];
    let most = words
        .into_iter()
        .max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()));
    most.map_or(
        "outward",
        |(along, plus, minus)| if along >= 0.0 { plus } else { minus },
    )
}

/// The cut list.
pub(super) fn cuts(work: &Work<'_>, scene: &Scene<'_>) -> Table {
    let mut table = Table::new(
        "cuts",
        "Cut list",
        &[
            ("wire", 2.8),
            ("colour", 1.6),
            ("size", 1.5),
            ("outside", 1.4),
            ("branch", 2.0),
            ("from", 2.6),
            ("to", 2.6),
            ("longer by", 1.5),
            ("finished", 1.5),
            ("cut", 1.5),
            ("note", 4.0),
        ],
    );
    table.note = "Finished: terminal to terminal. Cut: with what is kept for two re-terminations at each connector. Label before you cut."
        .to_owned();
    table.none = "No wire is cut.".to_owned();
    table.tick = true;
    let show = |x: f64| show(x, scene.units);
    for cut in work.cuts {
        table.rows.push(vec![
            numbered(&cut.wire, cut.number),
            cut.marks.colour.clone().unwrap_or_default(),
            scene.units.show(cut.area, Kind::Area),
            scene.units.show_to(
                cut.outside,
                Kind::Length,
                if scene.units.length == LengthUnit::Mm {
                    1
                } else {
                    2
                },
            ),
            scene.route.branches[cut.branch.0].name.clone(),
            cut.marks
                .from
                .clone()
                .unwrap_or_else(|| cut.between[0].clone()),
            cut.marks
                .to
                .clone()
                .unwrap_or_else(|| cut.between[1].clone()),
            show(cut.add),
            show(cut.finished),
            show(cut.cut),
            if cut.safety {
                "made anew, end to end; do not join".to_owned()
            } else {
                String::new()
            },
        ]);
    }
    table
}

/// The splice plan.
pub(super) fn splices(work: &Work<'_>, scene: &Scene<'_>) -> Table {
    let mut table = Table::new(
        "splices",
        "Splice plan",
        &[
            ("no.", 0.8),
            ("wire", 3.0),
            ("branch", 2.0),
            ("from datum", 1.6),
            ("measured from", 3.4),
            ("new piece", 1.6),
            ("runs", 2.6),
            ("join", 4.4),
            ("sleeve", 1.3),
        ],
    );
    table.note = format!(
        "One splice a wire, none in what moves, under a strap or beside a breakout; {} from one to the next. Same colour, same \
         size or the next larger. Pull each by hand before the sleeve goes on.",
        show(SpliceRules::default().apart, scene.units)
    );
    table.none = "No wire is joined.".to_owned();
    table.tick = true;
    let show = |x: f64| show(x, scene.units);
    for (index, splice) in work.splices.iter().enumerate() {
        let side = if splice.from.1 < 0.0 {
            "before"
        } else {
            "after"
        };
        table.rows.push(vec![
            format!("S{}", index + 1),
            numbered(&splice.wire, splice.number),
            scene.route.branches[splice.branch.0].name.clone(),
            show(splice.at),
            format!("{} {side} {}", show(splice.from.1.abs()), splice.from.0),
            show(splice.piece_cut),
            if splice.onward {
                "on to the branch's end"
            } else {
                "back to the datum"
            }
            .to_owned(),
            splice.join.in_words().to_owned(),
            show(splice.sleeve),
        ]);
    }
    for none in work.none {
        table.rows.push(vec![
            "–".to_owned(),
            none.wire.clone(),
            scene.route.branches[none.branch.0].name.clone(),
            "none".to_owned(),
            String::new(),
            String::new(),
            String::new(),
            none.why.to_owned(),
            String::new(),
        ]);
    }
    table
}

/// Voltage drops.
pub(super) fn drops(work: &Work<'_>) -> Table {
    let mut table = Table::new(
        "voltage_drops",
        "Voltage drop, one way",
        &[
            ("wire", 3.0),
            ("branch", 2.2),
            ("current", 1.4),
            ("before", 1.4),
            ("after", 1.4),
            ("allowed, whole circuit", 2.2),
            ("resistance from", 4.6),
            ("measured under load", 2.6),
        ],
    );
    for drop in work.drops {
        table.rows.push(vec![
            drop.wire.clone(),
            drop.branch.clone(),
            format!("{:.1} A", drop.current),
            format!("{:.3} V", drop.before),
            format!("{:.3} V", drop.after),
            format!("{VOLTAGE_DROP:.1} V"),
            drop.source.to_owned(),
            String::new(),
        ]);
    }
    table
}

fn numbered(wire: &str, number: usize) -> String {
    if number == 0 {
        wire.to_owned()
    } else {
        format!("{wire} no. {number}")
    }
}

/// Points to measure again, with blanks.
pub(super) fn points(scene: &Scene<'_>) -> Table {
    let unit = match scene.units.length {
        LengthUnit::Mm => "mm",
        LengthUnit::Inch => "in",
    };
    let mut table = Table::new(
        "measure_points",
        "Where it is tied",
        &[
            ("fixing", 3.0),
            ("branch", 2.4),
            ("forward now", 1.8),
            ("left now", 1.8),
            ("up now", 1.8),
            ("forward", 2.2),
            ("left", 2.2),
            ("up", 2.2),
            ("along the branch", 2.4),
            ("width", 1.8),
        ],
    );
    table.note = format!(
        "In {unit} from the datum of the route file. \"Now\" is what the route file says; the open cells are yours."
    );
    let Some(rest) = scene.rest() else {
        return table;
    };
    for branch in &scene.route.branches {
        for (lay, entry) in branch.lay.iter().enumerate() {
            let at = scene.route.fixing_position(branch, lay, rest);
            let show = |x: f64| show(x, scene.units);
            table.rows.push(vec![
                entry.fixing.name.clone(),
                branch.name.clone(),
                show(at.x),
                show(at.y),
                show(at.z),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
                String::new(),
            ]);
        }
    }
    table
}

/// Slack to gather by hand, with blanks.
pub(super) fn spare(scene: &Scene<'_>) -> Table {
    let mut table = Table::new(
        "measure_slack",
        "Slack, gathered by hand",
        &[
            ("span that moves", 4.2),
            ("length, with string", 2.6),
            ("slack at full left", 2.6),
            ("straight ahead", 2.6),
            ("full right", 2.6),
            ("diameter", 2.0),
            ("note", 4.0),
        ],
    );
    table.note = "Unclip the far end, hold it in its place, gather what is slack until the span runs straight between its two fixings."
        .to_owned();
    table.none = "No span moves.".to_owned();
    for (branch, solved) in scene.route.branches.iter().zip(&scene.solution.branches) {
        for span in solved.spans.iter().filter(|span| span.moving) {
            let name = |lay: usize| branch.lay[lay].fixing.name.as_str();
            let mut row = vec![format!(
                "{}: {} to {}",
                branch.name,
                name(span.from),
                name(span.from + 1)
            )];
            row.extend(std::iter::repeat_n(String::new(), 6));
            table.rows.push(row);
        }
    }
    table
}
