//! Branches with what holds them, in order, and the breakouts where they meet.

use serde_json::{Value, json};

use crate::harness::{
    Branch, CoverKind, Finish, Fixing, FixingKind, LengthRule, StringReading, Via,
};
use crate::machine::Stance;
use crate::route::Route;

use super::{MM, at};

pub(super) fn branch(route: &Route, index: usize, branch: &Branch, rest: &Stance) -> Value {
    let spans = route.spans(branch, rest);
    let mut lay = Vec::new();
    let mut raw = 0;
    for (nth, entry) in branch.lay.iter().enumerate() {
        for via in &entry.vias {
            lay.push(waypoint(route, (index, raw), via));
            raw += 1;
        }
        let station = match nth.checked_sub(1) {
            Some(before) => spans[before].end(),
            None => 0.0,
        };
        let length = nth.checked_sub(1).map(|before| spans[before].length);
        lay.push(fixing(route, branch, nth, (index, raw), station, length));
        raw += 1;
    }
    let cover = branch.cover.as_ref().map(|cover| {
        json!({
            "kind": match cover.kind {
                CoverKind::Braid => "braid",
                CoverKind::Tape => "tape",
                CoverKind::Tube => "tube",
                CoverKind::SplitTube => "split tube",
                CoverKind::Shrink => "shrink",
                CoverKind::HeatSleeve => "heat sleeve",
            },
            "wall_mm": cover.wall * MM,
            "rated_c": cover.rated,
        })
    });
    json!({
        "name": branch.name,
        "diameter_mm": branch.diameter * MM,
        "wires": branch.wires.iter().map(|id| route.wires[id.0].name.as_str()).collect::<Vec<_>>(),
        "cover": cover,
        "safety": branch.wires.iter().any(|id| route.wires[id.0].safety),
        "length_mm": spans.last().map_or(0.0, crate::route::Span::end) * MM,
        "lay": lay,
        "path": ["branches", index],
    })
}

fn waypoint(route: &Route, (branch, raw): (usize, usize), via: &Via) -> Value {
    let place = &route.places[via.place];
    json!({
        "name": Value::Null,
        "kind": "via",
        "waypoint": true,
        "body": route.machine.bodies[via.on.0].name,
        "at_mm": at(&place.at),
        "point": place.name,
        "path": ["branches", branch, "lay", raw],
    })
}

fn fixing(
    route: &Route,
    branch: &Branch,
    nth: usize,
    (index, raw): (usize, usize),
    station: f64,
    length: Option<f64>,
) -> Value {
    let entry = &branch.lay[nth];
    let fixing = &entry.fixing;
    let place = &route.places[fixing.place];
    let on = route.sits_on(branch, nth);
    let mut told = json!({
        "name": fixing.name,
        "waypoint": false,
        "body": route.machine.bodies[fixing.on.0].name,
        "at_mm": at(&place.at),
        "point": place.name,
        "facing": fixing.facing.map(|facing| [facing.x, facing.y, facing.z]),
        "width_mm": fixing.width.map(|width| width * MM),
        "station_mm": station * MM,
        "length_mm": length.map(|length| length * MM),
        "length_rule": length.map(|_| length_rule(&entry.length)),
        "spare_mm": length.map_or(Value::Null, |_| spare(&entry.length)),
        "slides_through": fixing.slides(),
        "floats": route.is_drawn_only(fixing),
        "slides_on": on.map(|part| route.machine.parts[part.0].name.as_str()),
        "path": ["branches", index, "lay", raw],
    });
    if let (Some(fields), Value::Object(more)) = (told.as_object_mut(), kind(fixing)) {
        fields.extend(more);
    }
    told
}

/// What a fixing is, and what only that kind has.
fn kind(fixing: &Fixing) -> Value {
    let finish = |finish: Option<Finish>| {
        finish.map(|finish| match finish {
            Finish::Tin => "tin",
            Finish::Silver => "silver",
            Finish::Gold => "gold",
        })
    };
    match fixing.kind {
        FixingKind::Tie { pull, loose, rated } => {
            json!({ "kind": "tie", "loose": loose, "pull_n": pull, "rated_c": rated })
        }
        FixingKind::Clamp => json!({ "kind": "clamp" }),
        FixingKind::Grommet => json!({ "kind": "grommet" }),
        FixingKind::Breakout => json!({ "kind": "breakout" }),
        FixingKind::Connector {
            finish: own,
            mated,
            rated,
        } => json!({
            "kind": "connector",
            "finish": finish(own), "mated": finish(mated), "rated_c": rated,
        }),
    }
}

/// How long the span is that leads to a fixing, as the file says it.
fn length_rule(rule: &LengthRule) -> Value {
    match rule {
        LengthRule::Measured(length) => json!({ "kind": "length", "length_mm": length * MM }),
        LengthRule::Slack(slack) => json!({ "kind": "slack", "slack_mm": slack * MM }),
        LengthRule::SmoothPath => json!({ "kind": "smooth path" }),
        LengthRule::Strung(readings) => {
            let length = readings.read(StringReading::Length).map(|l| l * MM);
            json!({ "kind": "spare", "length_mm": length })
        }
    }
}

/// Slack gathered by hand at each lock, where it was read.
fn spare(rule: &LengthRule) -> Value {
    let LengthRule::Strung(readings) = rule else {
        return Value::Null;
    };
    let read = |reading| readings.read(reading).map(|value| value * MM);
    json!({
        "left": read(StringReading::Left),
        "straight": read(StringReading::Straight),
        "right": read(StringReading::Right),
    })
}

pub(super) fn breakouts(route: &Route) -> Vec<Value> {
    let one = |breakout: &crate::harness::Breakout| {
        json!({
            "name": breakout.name,
            "floats": breakout.floats(),
            "branches": breakout.meets.iter()
                .map(|m| route.branches[m.branch.0].name.as_str()).collect::<Vec<_>>(),
        })
    };
    route.breakouts.iter().map(one).collect()
}
