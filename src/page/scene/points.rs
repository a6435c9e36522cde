//! Named points: where they are, how they were found, and how well.

use serde_json::{Value, json};

use crate::read::NamedPoint;

use super::{MM, at};

/// All of them.
pub(in crate::page) fn all(points: &[NamedPoint]) -> Value {
    points.iter().map(point).collect()
}

fn point(point: &NamedPoint) -> Value {
    let taped = point.taped.as_ref();
    json!({
        "name": point.name,
        "at_mm": at(&point.at),
        "how": if taped.is_some() { "taped" } else if point.imported { "table" } else { "given" },
        "tape": taped.map(|t| t.readings.iter().map(|r| json!([r.from, r.distance * MM])).collect::<Vec<_>>()),
        "side": point.side.map(|side| side.name()),
        "residual_mm": taped.map(|t| t.residual * MM),
        "residuals_mm": taped.map(|t| t.readings.iter().map(|r| r.misfit * MM).collect::<Vec<_>>()),
        "error95_mm": taped.map(|t| t.error95 * MM),
        "suspect": taped.and_then(|t| Some(t.readings[t.suspect?.reading].from.as_str())),
        "path": (!point.imported).then(|| json!(["points", point.name])),
    })
}
