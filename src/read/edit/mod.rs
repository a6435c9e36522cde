//! The text of a route file, edited so that it reads as another route: comments and order stay where nothing changes.
//!
//! The route that the text says and the one that it should say are compared item by item, and what differs is written
//! where it stands: a number in place, a named point at its definition where all that stand on it move together,
//! otherwise coordinates at the fixing. Then the text is read again; what now differs because something was filled in
//! (a direction along the smooth path) is written out too, until the two are the same.

mod bundle;
mod lay;
mod machine;
mod places;
mod put;
mod script;
mod show;

use crate::route::{Change, ChangeError, Route};

use super::fault::Notes;
use super::syntax::tree;
use super::tree::{Node, Value};
use super::{Faults, route_text};

pub use put::{At, put_text, value_text};
use script::Script;
use show::{Show, quoted};

/// What is written out can make something else differ that was filled in; that ends after one or two rounds.
const ROUNDS: usize = 5;

/// Why a text could not be edited.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EditError {
    /// The text, or what became of it, is no route file.
    #[error("{0}")]
    Faults(Faults),
    /// The change cannot be made.
    #[error("{0}")]
    Change(ChangeError),
    /// The route differs from the text's in something that cannot be written there.
    #[error("{0} cannot be written into this file")]
    Cannot(String),
}

/// The text of a route file with a share of a change made to it (see [`Route::changed`]). `file` is the text's name, by
/// which the files beside it are found.
///
/// # Errors
/// Faults of the text, a change that cannot be made, or something that cannot be written into the file.
pub fn changed_text(
    text: &str,
    file: &str,
    change: &Change,
    share: f64,
) -> Result<String, EditError> {
    let route = route_text(text, file).map_err(EditError::Faults)?;
    changed_from(text, file, &route, change, share).map(|(text, _)| text)
}

/// The same, from the route that the text is known to say. Gives also the route that the edited text says.
pub(crate) fn changed_from(
    text: &str,
    file: &str,
    route: &Route,
    change: &Change,
    share: f64,
) -> Result<(String, Route), EditError> {
    let target = route.changed(change, share).map_err(EditError::Change)?;
    edited_from(text, file, route.clone(), &target)
}

/// The text of a route file, edited so that it reads as `target`: positions, directions, lengths, fixings, parts, joints,
/// covers and wires. Lengths are written to a ten thousandth of a millimetre.
///
/// # Errors
/// Faults of the text, or something that cannot be written into the file: another set of bodies, parts or branches.
pub fn edited_text(text: &str, file: &str, target: &Route) -> Result<String, EditError> {
    let current = route_text(text, file).map_err(EditError::Faults)?;
    edited_from(text, file, current, target).map(|(text, _)| text)
}

/// `current`: what the text says.
fn edited_from(
    text: &str,
    file: &str,
    mut current: Route,
    target: &Route,
) -> Result<(String, Route), EditError> {
    let mut text = text.to_owned();
    for _ in 0..ROUNDS {
        let mut notes = Notes::new(&text);
        let root = tree(&text, &mut notes).ok_or_else(|| cannot("the route"))?;
        let mut editor = Editor {
            root: &root,
            current: &current,
            target,
            show: Show::of(&root),
            script: Script::new(&text),
        };
        editor.edit()?;
        if editor.script.is_empty() {
            return Ok((text, current));
        }
        let made = editor.script.made();
        text = made.ok_or_else(|| cannot("so much at one place"))?;
        current = route_text(&text, file).map_err(EditError::Faults)?;
    }
    Err(cannot("what is filled in where nothing is given"))
}

fn cannot(what: impl Into<String>) -> EditError {
    EditError::Cannot(what.into())
}

/// One round: what the text says now, what it should say, and the edits so far.
struct Editor<'a> {
    root: &'a Node,
    current: &'a Route,
    target: &'a Route,
    show: Show,
    script: Script<'a>,
}

impl<'a> Editor<'a> {
    fn edit(&mut self) -> Result<(), EditError> {
        if self.current.title != self.target.title {
            let title = quoted(&self.target.title);
            self.script.set(self.root, "title", &title);
        }
        self.lays()?;
        self.bundles()?;
        self.wires()?;
        self.bodies()?;
        self.parts()?;
        self.changes();
        Ok(())
    }

    /// The nodes of the branches, in order.
    fn branch(&self, index: usize) -> Option<&'a Node> {
        self.root.field("branches")?.items().get(index)
    }

    /// Named changes that can no longer be made go.
    fn changes(&mut self) {
        let kept = |name: &str| self.target.changes.iter().any(|change| change.name == name);
        let Some(node) = self.root.field("changes") else {
            return;
        };
        let Value::Map(pairs) = &node.value else {
            return;
        };
        for (key, value) in pairs {
            if !key.text().is_some_and(kept) {
                self.script.remove_item((key.at, value.end));
            }
        }
    }
}
