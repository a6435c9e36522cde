//! Limits with their sources, and the file's own that go before them.

use serde_json::{Value, json};

use crate::check::{Limit, LimitRule, reported_unit};
use crate::route::Route;

use super::MM;

pub(super) fn limit(route: &Route, limit: &Limit) -> Value {
    let (factor, unit) = reported_unit(limit.kind);
    let name = limit.key.name();
    let own = route.limits.iter().find(|own| own.key == name);
    let (value, unit) = match limit.rule {
        LimitRule::Diameters(times) => (json!(times), "OD"),
        LimitRule::BranchOrWire { branch, .. } => (json!(branch), "OD"),
        LimitRule::Value(value) => (json!(value * factor), unit),
        LimitRule::BySurface(_) => (Value::Null, unit),
        LimitRule::ByEdge { sharp, .. } => (json!(sharp * factor), unit),
        LimitRule::Aside(aside) => (json!(aside * factor), unit),
    };
    let rule = match limit.rule {
        LimitRule::Diameters(_) => json!({ "kind": "diameters of the branch" }),
        LimitRule::BranchOrWire { branch, wire } => {
            json!({ "kind": "the larger of", "branch_od": branch, "largest_wire_od": wire })
        }
        LimitRule::Value(_) => json!({ "kind": "value" }),
        LimitRule::BySurface(rows) => json!({
            "kind": "by surface temperature",
            "rows": rows.iter().map(|(c, m)| json!({ "c": c, "mm": m * MM })).collect::<Vec<_>>(),
        }),
        LimitRule::ByEdge { sharp, rolled } => {
            json!({ "kind": "by edge", "sharp_mm": sharp * MM, "rolled_mm": rolled * MM })
        }
        LimitRule::Aside(_) => json!({ "kind": "how far aside it can be pulled" }),
    };
    json!({
        "name": name,
        "value": value,
        "unit": unit,
        "rule": rule,
        "source": limit.source,
        "status": limit.status.in_words(),
        "reason": limit.reason,
        "own": own.map(|own| own.why.as_str()),
        "path": ["limits", name],
    })
}
