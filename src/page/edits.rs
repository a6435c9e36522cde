//! What the page asks to change, as a new text of the route file: comments and order stay where nothing changes.

use serde_json::Value;

use crate::quantity::Units;
use crate::read::{At, EditError, changed_from, put_text, route_text};
use crate::route::{Change, Route};

use super::wrong::Wrong;

/// More edits in one go are refused.
const MOST: usize = 200;
/// Under this name a step is put into the text to be read.
const ASIDE: &str = "the step that the page asks for";

/// What edits make of a text.
pub(super) struct Edited {
    pub(super) text: String,
    /// The route that it says, where that was found out on the way.
    pub(super) route: Option<Route>,
    /// What was done, in words.
    pub(super) says: String,
}

/// The text after all edits.
pub(super) fn edited(
    text: &str,
    file: &str,
    edits: &[Value],
    units: Units,
) -> Result<Edited, Wrong> {
    if edits.is_empty() || edits.len() > MOST {
        return Err(Wrong::asked(format!(
            "1 to {MOST} edits are taken at a time"
        )));
    }
    let (mut text, mut route) = (text.to_owned(), None);
    let mut says: Vec<String> = Vec::new();
    for edit in edits {
        let done = one(&text, file, edit, units)?;
        (text, route) = (done.text, done.route);
        says.push(done.says);
    }
    says.dedup();
    let more = says.len().saturating_sub(3);
    says.truncate(3);
    let mut words = says.join(", ");
    if more > 0 {
        words.push_str(&format!(" and {more} more"));
    }
    let says = words;
    Ok(Edited { text, route, says })
}

fn one(text: &str, file: &str, edit: &Value, units: Units) -> Result<Edited, Wrong> {
    let changed = |route: &Route, change: &Change, share: f64, says: String| {
        let (text, route) = changed_from(text, file, route, change, share)?;
        let route = Some(route);
        Ok::<_, Wrong>(Edited { text, route, says })
    };
    let written = |text: String, says: String| Edited {
        text,
        route: None,
        says,
    };
    let named = |name: &str| edit.get(name);
    if let Some(step) = named("step") {
        let step = step
            .as_str()
            .ok_or_else(|| Wrong::asked("`step` is no text"))?;
        let (route, change) = step_of(text, file, step)?;
        let words: Vec<String> = change.steps.iter().map(|s| s.in_words(units)).collect();
        return changed(&route, &change, 1.0, words.join(", "));
    }
    if let Some(name) = named("change") {
        let name = name
            .as_str()
            .ok_or_else(|| Wrong::asked("`change` is no text"))?;
        let share = match named("share") {
            None | Some(Value::Null) => 1.0,
            Some(share) => share
                .as_f64()
                .filter(|share| share.is_finite() && share.abs() <= 100.0)
                .ok_or_else(|| Wrong::asked("`share` is no number"))?,
        };
        let route = route_text(text, file)?;
        let change = route.changes.iter().find(|change| change.name == name);
        let change = change.ok_or_else(|| {
            Wrong::asked(format!("there is no change \"{name}\" in the route file"))
        })?;
        let says = format!("{name}, {:.0} %", 100.0 * share);
        return changed(&route, change, share, says);
    }
    if let Some(set) = named("set") {
        let way = way(set.get("path"))?;
        let value = match set.get("to") {
            Some(Value::Null) => None,
            Some(Value::String(value)) => Some(value.as_str()),
            _ => return Err(Wrong::asked("`to` is neither a text nor null")),
        };
        let names: Vec<String> = way.iter().map(ToString::to_string).collect();
        let words = match value {
            Some(value) if value.len() <= 40 => format!("{}: {value}", names.join(" ")),
            Some(_) => names.join(" "),
            None => format!("{} taken out", names.join(" ")),
        };
        return Ok(written(put_text(text, &way, value)?, words));
    }
    if let Some(whole) = named("text") {
        let whole = whole
            .as_str()
            .ok_or_else(|| Wrong::asked("`text` is no text"))?;
        return Ok(written(whole.to_owned(), "text".to_owned()));
    }
    Err(Wrong::asked("an edit is a step, a change, a set or a text"))
}

/// A step in the syntax of `changes`, read as if it stood there; and the route, which is the text's but for that.
fn step_of(text: &str, file: &str, step: &str) -> Result<(Route, Change), Wrong> {
    let way = [At::Name("changes".to_owned()), At::Name(ASIDE.to_owned())];
    let with = put_text(text, &way, Some(&format!("[{step}]")))?;
    let route = route_text(&with, file).map_err(|faults| {
        let first = faults.faults.first();
        let says = first.map_or_else(String::new, |fault| fault.message.clone());
        let cure = first.map_or_else(String::new, |fault| fault.cure.clone());
        Wrong::cannot(says).cure(cure)
    })?;
    let found = route.changes.iter().find(|change| change.name == ASIDE);
    let found = found.cloned();
    let found = found.ok_or_else(|| Wrong::asked("the step cannot be read"))?;
    Ok((route, found))
}

/// The way to a value: names and numbers.
fn way(path: Option<&Value>) -> Result<Vec<At>, Wrong> {
    let wrong = || Wrong::asked("`path` is a list of names and whole numbers");
    let path = path.and_then(Value::as_array).ok_or_else(wrong)?;
    let one = |step: &Value| match step {
        Value::String(name) => Some(At::Name(name.clone())),
        Value::Number(item) => {
            let item = item.as_u64().and_then(|item| usize::try_from(item).ok());
            item.map(At::Item)
        }
        _ => None,
    };
    let way: Option<Vec<At>> = path.iter().map(one).collect();
    way.filter(|way| !way.is_empty()).ok_or_else(wrong)
}

impl From<EditError> for Wrong {
    fn from(error: EditError) -> Self {
        match error {
            EditError::Faults(faults) => faults.into(),
            other => Self::cannot(other.to_string()),
        }
    }
}
