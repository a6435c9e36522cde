//! What was found, for other programs.

use serde_json::{Value, json};

use crate::advise::lengthen::VOLTAGE_DROP;
use crate::check::{Finding, Verdict, assumed, warnings};
use crate::route::Route;

use super::{MUST_GROW, Told, name_of};

pub(super) fn report(told: &Told<'_>) -> Value {
    let (route, done) = (told.route, told.done);
    let mm = |metres: f64| 1e3 * metres;
    let branch = |id: crate::harness::BranchId| route.branches[id.0].name.clone();
    let shorts = |findings: &[Finding]| -> Vec<Value> {
        findings
            .iter()
            .map(|finding| short(finding, route))
            .collect()
    };
    let verdict = match done.findings.findings.iter().map(|f| f.verdict).max() {
        Some(Verdict::Over) => "over",
        Some(Verdict::Close) => "close",
        _ => "within",
    };
    json!({
        "format": 1,
        "title": route.title,
        "assumed": assumed(&done.route),
        "warnings": warnings(&done.route, &done.solution),
        "change": told.change,
        "step_mm": mm(told.step),
        "stopped": done.stopped,
        "verdict_after": verdict,
        "spans": done.adds.iter().map(|add| json!({
            "branch": branch(add.branch),
            "from": name_of(route, add.branch.0, add.span),
            "to": name_of(route, add.branch.0, add.span + 1),
            "add_mm": mm(add.by),
            "length_mm": mm(done.solution.branches[add.branch.0].spans[add.span].length),
        })).collect::<Vec<_>>(),
        "cuts": told.cuts.iter().map(|cut| json!({
            "wire": cut.wire,
            "number": cut.number,
            "branch": branch(cut.branch),
            "size_mm2": cut.area * 1e6,
            "colour": cut.marks.colour,
            "from": cut.between[0],
            "to": cut.between[1],
            "from_cavity": cut.marks.from,
            "to_cavity": cut.marks.to,
            "add_mm": mm(cut.add),
            "finished_mm": mm(cut.finished),
            "cut_mm": mm(cut.cut),
            "safety": cut.safety,
        })).collect::<Vec<_>>(),
        "splices": told.splices.iter().map(|splice| json!({
            "wire": splice.wire,
            "number": splice.number,
            "branch": branch(splice.branch),
            "at_mm": mm(splice.at),
            "nearest": splice.from.0,
            "from_nearest_mm": mm(splice.from.1),
            "new_piece_to": if splice.onward { "the branch's end" } else { "the branch's beginning" },
            "piece_mm": mm(splice.piece),
            "piece_cut_mm": mm(splice.piece_cut),
            "join": splice.join.in_words(),
            "sleeve_mm": mm(splice.sleeve),
        })).collect::<Vec<_>>(),
        "not_spliced": told.none.iter().map(|none| json!({
            "wire": none.wire,
            "branch": branch(none.branch),
            "why": none.why,
        })).collect::<Vec<_>>(),
        "voltage_drops": told.drops.iter().map(|drop| json!({
            "wire": drop.wire,
            "branch": drop.branch,
            "current_a": drop.current,
            "before_v": drop.before,
            "after_v": drop.after,
            "limit_v": VOLTAGE_DROP,
            "source": drop.source,
        })).collect::<Vec<_>>(),
        "cured": shorts(&done.asked.iter().filter(|old| {
            !done.uncured.iter().any(|new| (new.check, new.branch, &new.subject) == (old.check, old.branch, &old.subject))
        }).cloned().collect::<Vec<_>>()),
        "not_cured": shorts(&done.uncured),
        "too_much": shorts(&done.harmed),
        "must_grow_too": MUST_GROW,
    })
}

fn short(finding: &Finding, route: &Route) -> Value {
    json!({
        "check": finding.check,
        "branch": route.branches[finding.branch.0].name,
        "place": finding.place,
        "verdict": match finding.verdict {
            Verdict::Over => "over",
            Verdict::Close => "close",
            Verdict::Within => "within",
        },
        "advice": finding.advice,
    })
}
