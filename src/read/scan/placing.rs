//! Where a scan stands: by its upward axis, or by pairs of points.

use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};

use crate::geometry::{Alignment, AlignmentError, align};
use crate::quantity::Kind;
use crate::read::fields::items;
use crate::read::points::Points;
use crate::read::tree::{Body, Node, Value};
use crate::read::value::Reading;

/// A fitted scale farther from one than this is a wrong unit, not a bad reading.
const SCALE: f64 = 0.03;

/// Units of scans by name \[m\].
pub(super) const UNITS: [(&str, f64); 5] = [
    ("mm", 1e-3),
    ("cm", 1e-2),
    ("m", 1.0),
    ("in", 0.0254),
    ("ft", 0.3048),
];

/// A pair: what the machine's point is called, and both points \[m\].
struct Pair {
    name: String,
    scan: Point3<f64>,
    machine: Point3<f64>,
}

/// A point of the scan in its own numbers, as \[m\].
pub(super) fn scan_point(
    reading: &mut Reading<'_>,
    node: &Node,
    field: &str,
    unit: f64,
) -> Option<Point3<f64>> {
    let three = reading.three(node, field)?;
    let numbers = three.map(|node| match &node.value {
        Value::Number(n) if n.is_finite() => Some(*n * unit),
        Value::Broken => None,
        other => {
            reading.notes.fault(
                node.at,
                format!(
                    "a point of the scan is three plain numbers in the scan's own unit, found {}",
                    other.phrase()
                ),
                "read its coordinates off in the program that shows the scan",
            );
            None
        }
    });
    let [x, y, z] = numbers;
    Some(Point3::new(x?, y?, z?))
}

/// The rotation that turns the scan's upward axis up. What looks forward is then the axis that follows it: x after z, as
/// in ISO 8855; z after y, as in glTF 2.0 (section 3.4: +Y up, +Z forward); y after x.
pub(super) fn by_up(reading: &mut Reading<'_>, node: &Node, what: &str) -> Option<Isometry3<f64>> {
    let choices = [
        ("z", (2, 1.0)),
        ("-z", (2, -1.0)),
        ("y", (1, 1.0)),
        ("-y", (1, -1.0)),
        ("x", (0, 1.0)),
        ("-x", (0, -1.0)),
    ];
    let (axis, sign) = reading.choice(node, "up", &choices)?;
    Some(upright(reading, axis, sign, what))
}

/// A scan of which nothing says how it stands: in the machine's own axes.
pub(super) fn as_it_is(reading: &mut Reading<'_>, what: &str) -> Isometry3<f64> {
    reading.warnings.push(format!(
        "{what} is taken to stand in the machine's own axes, z upward, since neither `up` nor `placed` is given: look \
         at the drawing, and give `placed` with three or more pairs of points"
    ));
    upright(reading, 2, 1.0, what)
}

fn upright(reading: &mut Reading<'_>, axis: usize, sign: f64, what: &str) -> Isometry3<f64> {
    let ahead = (axis + 1) % 3;
    let (up, forward) = (Vector3::ith(axis, sign), Vector3::ith(ahead, 1.0));
    // Rows: where the machine's x, y and z lie in the scan.
    let rows = [forward, up.cross(&forward), up].map(|row| row.transpose());
    let turn = Rotation3::from_matrix_unchecked(Matrix3::from_rows(&rows));
    reading.assumed.push(format!(
        "the origin of {what} is the machine's, its {} axis looks forward (no `placed` given)",
        ["x", "y", "z"][ahead]
    ));
    Isometry3::from_parts(
        Translation3::identity(),
        UnitQuaternion::from_rotation_matrix(&turn),
    )
}

/// Reads `placed` and aligns the scan by it.
pub(super) fn by_pairs<'n>(
    reading: &mut Reading<'_>,
    node: &'n Node,
    points: &mut Points<'n>,
    unit: f64,
    what: &str,
) -> Option<Isometry3<f64>> {
    let list = items(
        &mut reading.notes,
        node,
        "((x, y, z) in the scan, point on the machine)",
    );
    let mut pairs = Vec::new();
    let mut whole = matches!(node.value, Value::List(_));
    for item in list {
        let pair = pair(reading, item, points, unit);
        whole &= pair.is_some();
        pairs.extend(pair);
    }
    if !whole {
        return None;
    }
    let both: Vec<_> = pairs.iter().map(|pair| (pair.scan, pair.machine)).collect();
    let alignment = match align(&both) {
        Ok(alignment) => alignment,
        Err(error) => {
            let cure = match error {
                AlignmentError::TooFew | AlignmentError::NotFinite => {
                    "give three or more points that can be found both on the scan and on the machine"
                }
                AlignmentError::InALine => {
                    "give one more point, well beside the line through the others"
                }
            };
            reading
                .notes
                .fault(node.at, format!("the scan cannot be placed: {error}"), cure);
            return None;
        }
    };
    judged(reading, node, points, &pairs, alignment, what)
}

/// Says how well the pairs fit, and refuses what does not.
fn judged(
    reading: &mut Reading<'_>,
    node: &Node,
    points: &Points<'_>,
    pairs: &[Pair],
    alignment: Alignment,
    what: &str,
) -> Option<Isometry3<f64>> {
    let units = reading.units;
    let show = |length: f64| units.show(length, Kind::Length);
    let worst = alignment
        .misfits
        .iter()
        .zip(pairs)
        .max_by(|a, b| a.0.total_cmp(b.0));
    let (worst, at) = worst.map_or((0.0, ""), |(misfit, pair)| (*misfit, pair.name.as_str()));
    if (alignment.too_large - 1.0).abs() > SCALE {
        reading.notes.fault(
            node.at,
            too_large("the scan", alignment.too_large),
            "check `unit`, and that both points of each pair are the same place",
        );
        return None;
    }
    if let Some(most) = points.tape_error.filter(|most| worst > *most) {
        reading.notes.fault(
            node.at,
            format!(
                "the scan does not fit its points: the pair at {at} misses by {} (`tape_error` allows {}), all of them \
                 by {} on average",
                show(worst),
                show(most),
                show(alignment.rms())
            ),
            "measure that point again, on the machine and on the scan",
        );
        return None;
    }
    let exact = if pairs.len() == 3 {
        "; three pairs check each other little, a fourth would tell"
    } else {
        ""
    };
    reading.assumed.push(format!(
        "{what} is placed by {} pairs of points that fit to {} (root mean square), worst {} at {at}; as measured it is \
         {:.2} % {} than they say{exact}",
        pairs.len(),
        show(alignment.rms()),
        show(worst),
        100.0 * (alignment.too_large - 1.0).abs(),
        if alignment.too_large >= 1.0 { "larger" } else { "smaller" },
    ));
    Some(alignment.placed)
}

/// A size that is off, with the unit that would explain it.
pub(super) fn too_large(what: &str, ratio: f64) -> String {
    let said = if ratio >= 1.0 {
        format!("{what} is {} times too large", trimmed(ratio))
    } else {
        format!("{what} is {} times too small", trimmed(1.0 / ratio))
    };
    let near = |wanted: f64| (ratio / wanted - 1.0).abs() <= SCALE;
    // The ratio of the unit that was given to the one that was meant.
    let meant = UNITS.iter().find_map(|given| {
        let other = UNITS
            .iter()
            .find(|meant| meant.0 != given.0 && near(given.1 / meant.1))?;
        Some(format!(
            ": was \"{}\" given as `unit` for a scan in \"{}\"?",
            given.0, other.0
        ))
    });
    said + &meant.unwrap_or_default()
}

fn trimmed(x: f64) -> String {
    let text = if x >= 100.0 {
        format!("{x:.0}")
    } else {
        format!("{x:.2}")
    };
    match text.split_once('.') {
        Some(_) => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
        None => text,
    }
}

fn pair<'n>(
    reading: &mut Reading<'_>,
    item: &'n Node,
    points: &mut Points<'n>,
    unit: f64,
) -> Option<Pair> {
    let both = match &item.value {
        Value::Struct(None, Body::Items(both)) if both.len() == 2 => both,
        Value::Broken => return None,
        other => {
            reading.notes.fault(
                item.at,
                format!("a pair of points is wanted here, found {}", other.phrase()),
                "write ((x, y, z) in the scan, (x, y, z) or the \"name\" of the same point on the machine)",
            );
            return None;
        }
    };
    let scan = scan_point(reading, &both[0], "placed", unit);
    let machine = points.point(reading, &both[1], "placed");
    let (scan, machine) = (scan?, machine?);
    let name = match &both[1].value {
        Value::Text(name) => format!("\"{name}\""),
        _ => {
            let units = reading.units;
            let [x, y, z] = [machine.x, machine.y, machine.z].map(|v| {
                format!(
                    "{}",
                    (units.convert(v, Kind::Length).0 * 10.0).round() / 10.0
                )
            });
            format!("({x}, {y}, {z})")
        }
    };
    Some(Pair {
        name,
        scan,
        machine,
    })
}
