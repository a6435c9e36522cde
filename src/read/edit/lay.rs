//! Fixings of the branches: what comes, goes, moves, and holds otherwise.

use nalgebra::UnitVector3;

use crate::harness::{Branch, FixingKind, Lay, LengthRule};
use crate::read::tree::{Body, Node, Value};

use super::places::Use;
use super::show::{direction, force};
use super::{EditError, Editor, cannot};

/// Directions that differ by less than this are the same \[rad\].
pub(super) const SAME_DIRECTION: f64 = 1e-6;
/// Lengths that differ by less than this are the same \[m\].
pub(super) const SAME_LENGTH: f64 = 1e-7;

/// A branch's lay in the text.
struct Written<'a> {
    list: &'a Node,
    /// Name of each fixing, its node, and the waypoints before it.
    fixings: Vec<(&'a str, &'a Node, Vec<&'a Node>)>,
    /// Waypoints after the last, before a breakout that is not named here.
    trailing: Vec<&'a Node>,
}

impl<'a> Written<'a> {
    fn of(list: &'a Node) -> Self {
        let (mut fixings, mut vias) = (Vec::new(), Vec::new());
        for node in list.items() {
            if node.kind() == "Via" {
                vias.push(node);
            } else {
                let name = node.field("name").and_then(Node::text).unwrap_or("");
                fixings.push((name, node, std::mem::take(&mut vias)));
            }
        }
        Self {
            list,
            fixings,
            trailing: vias,
        }
    }

    fn node(&self, name: &str) -> Option<&'a Node> {
        self.fixings.iter().find(|f| f.0 == name).map(|f| f.1)
    }

    fn vias(&self, name: &str) -> &[&'a Node] {
        let found = self.fixings.iter().find(|f| f.0 == name);
        found.map_or(&self.trailing, |f| &f.2)
    }
}

fn position(branch: &Branch, name: &str) -> Option<usize> {
    branch
        .lay
        .iter()
        .position(|entry| entry.fixing.name == name)
}

impl<'a> Editor<'a> {
    pub(super) fn lays(&mut self) -> Result<(), EditError> {
        let names = |branches: &[Branch]| -> Vec<String> {
            branches.iter().map(|branch| branch.name.clone()).collect()
        };
        if names(&self.current.branches) != names(&self.target.branches) {
            return Err(cannot("another set of branches"));
        }
        let mut uses = Vec::new();
        for index in 0..self.current.branches.len() {
            let list = self.branch(index).and_then(|branch| branch.field("lay"));
            let list = list.ok_or_else(|| cannot("the lay of a branch"))?;
            self.lay(index, &Written::of(list), &mut uses)?;
        }
        self.put(uses)
    }

    fn lay(
        &mut self,
        index: usize,
        written: &Written<'a>,
        uses: &mut Vec<Use<'a>>,
    ) -> Result<(), EditError> {
        let (current, target) = (&self.current.branches[index], &self.target.branches[index]);
        let kept = |of: &Branch, other: &Branch| -> Vec<String> {
            let names = of.lay.iter().map(|entry| entry.fixing.name.clone());
            names
                .filter(|name| position(other, name).is_some())
                .collect()
        };
        if kept(current, target) != kept(target, current) {
            return Err(cannot("another order of the fixings"));
        }
        for entry in &current.lay {
            let name = &entry.fixing.name;
            if position(target, name).is_none() {
                let node = written.node(name);
                let node =
                    node.ok_or_else(|| cannot(format!("the breakout \"{name}\" taken off")))?;
                self.script.remove_item((node.at, node.end));
                for via in written.vias(name) {
                    self.script.remove_item((via.at, via.end));
                }
            }
        }
        for (lay, entry) in target.lay.iter().enumerate() {
            let name = &entry.fixing.name;
            match position(current, name) {
                None => self.add(target, lay, written),
                Some(old) => {
                    self.vias(&current.lay[old], entry, written, uses);
                    self.fixing((index, old, lay), written, uses)?;
                }
            }
        }
        Ok(())
    }

    /// Writes a fixing that is new, with its waypoints.
    fn add(&mut self, target: &Branch, lay: usize, written: &Written<'a>) {
        let entry = &target.lay[lay];
        let at = self.show.point(&self.target.places[entry.fixing.place].at);
        let mut texts: Vec<String> = entry
            .vias
            .iter()
            .map(|via| self.show.via(self.target, via))
            .collect();
        let fixing = self
            .show
            .fixing(self.target, &entry.fixing, &entry.length, &at);
        texts.push(fixing);
        // All that is new between two fixings stands behind the first of them, in order.
        let before = target.lay[..lay].iter().rev();
        let before = before
            .filter_map(|entry| written.node(&entry.fixing.name))
            .next();
        for text in texts {
            match (before, written.list.items().first()) {
                (Some(node), _) => self.script.insert_after((node.at, node.end), &text),
                (None, Some(first)) => self.script.insert_before(first.at, &text),
                (None, None) => {
                    let end = written.list.end.saturating_sub(1);
                    self.script.insert(end, text);
                }
            }
        }
    }

    /// Waypoints on the way to a fixing: moved where they are as many, else written anew.
    fn vias(&mut self, old: &Lay, new: &Lay, written: &Written<'a>, uses: &mut Vec<Use<'a>>) {
        let nodes = written.vias(&new.fixing.name);
        let same_bodies = old.vias.iter().zip(&new.vias).all(|(a, b)| a.on == b.on);
        if old.vias.len() == new.vias.len() && same_bodies {
            for ((a, b), node) in old.vias.iter().zip(&new.vias).zip(nodes) {
                uses.push(Use::new(node.field("at"), a.place, b.place));
            }
            return;
        }
        for node in nodes {
            self.script.remove_item((node.at, node.end));
        }
        for via in &new.vias {
            let text = self.show.via(self.target, via);
            match written.node(&new.fixing.name) {
                Some(node) => self.script.insert_before(node.at, &text),
                None => self.append(written, &text),
            }
        }
    }

    fn append(&mut self, written: &Written<'a>, text: &str) {
        match written.list.items().last() {
            Some(last) => self.script.insert_after((last.at, last.end), text),
            None => self
                .script
                .insert(written.list.end.saturating_sub(1), text.to_owned()),
        }
    }

    fn fixing(
        &mut self,
        (index, old, new): (usize, usize, usize),
        written: &Written<'a>,
        uses: &mut Vec<Use<'a>>,
    ) -> Result<(), EditError> {
        let current = &self.current.branches[index].lay[old];
        let entry = &self.target.branches[index].lay[new];
        let (was, is) = (&current.fixing, &entry.fixing);
        let rule = (new > 0 && !same_rule(&current.length, &entry.length)).then_some(entry.length);
        let turned = !same_direction(was.facing, is.facing);
        let Some(node) = written.node(&is.name) else {
            // A breakout that another branch lists.
            let mut fields = vec![format!("name: {}", super::quoted(&is.name))];
            if let (true, Some(facing)) = (turned, is.facing) {
                fields.push(format!("facing: {}", direction(&facing)));
            }
            fields.extend(rule.and_then(|rule| self.show.rule(&rule)));
            if fields.len() > 1 {
                let text = format!("Breakout({})", fields.join(", "));
                match written.list.items().first() {
                    Some(first) if new == 0 => self.script.insert_before(first.at, &text),
                    _ => self.append(written, &text),
                }
            }
            return Ok(());
        };
        // A breakout that floats is drawn somewhere: that says nothing about the harness.
        let drawn = self.target.is_drawn_only(is);
        if let (Some(at), false) = (node.field("at"), drawn) {
            uses.push(Use::new(Some(at), was.place, is.place));
        }
        if was.on != is.on && is.kind != FixingKind::Breakout {
            let on = super::quoted(&self.target.machine.bodies[is.on.0].name);
            self.script.set(node, "on", &on);
        }
        self.kind(node, was.kind, is.kind)?;
        match (turned, is.facing) {
            (true, Some(facing)) => self.script.set(node, "facing", &direction(&facing)),
            (true, None) => self.script.unset(node, "facing"),
            (false, _) => {}
        }
        let widths = [was.width, is.width].map(|width| width.unwrap_or(0.0));
        if (widths[0] - widths[1]).abs() > SAME_LENGTH {
            match is.width {
                Some(width) => self.script.set(node, "width", &self.show.length(width)),
                None => self.script.unset(node, "width"),
            }
        }
        if let Some(rule) = rule {
            match self.show.rule(&rule) {
                Some(field) => {
                    let names = ["length", "slack", "spare"];
                    self.script.set_instead(node, &names, &field);
                }
                None => {
                    return Err(cannot(format!(
                        "a length of \"{}\" that was never given",
                        is.name
                    )));
                }
            }
        }
        Ok(())
    }

    fn kind(&mut self, node: &Node, was: FixingKind, is: FixingKind) -> Result<(), EditError> {
        use FixingKind as Kind;
        if was == is {
            return Ok(());
        }
        let word = |kind: Kind| match kind {
            Kind::Tie { .. } => "Tie",
            Kind::Clamp => "Clamp",
            Kind::Grommet => "Grommet",
            Kind::Breakout => "Breakout",
            Kind::Connector { .. } => "Connector",
        };
        if word(was) != word(is) {
            if !matches!(
                (was, is),
                (
                    Kind::Tie { .. } | Kind::Clamp,
                    Kind::Tie { .. } | Kind::Clamp
                )
            ) {
                return Err(cannot(format!(
                    "a {} in place of a {}",
                    word(is),
                    word(was)
                )));
            }
            if !matches!(&node.value, Value::Struct(Some(_), Body::Fields(_))) {
                return Err(cannot("a fixing without fields"));
            }
            let name = Node {
                at: node.at,
                end: node.at + word(was).len(),
                value: Value::Nothing,
            };
            self.script.replace(&name, word(is).to_owned());
        }
        let strap = |kind: Kind| match kind {
            Kind::Tie { pull, loose, .. } => (pull, loose),
            _ => (None, false),
        };
        let ((old_pull, old_loose), (pull, loose)) = (strap(was), strap(is));
        if old_pull != pull {
            let same = matches!((old_pull, pull), (Some(a), Some(b)) if (a - b).abs() <= 1e-8 * b);
            match pull {
                _ if same => {}
                Some(pull) => self.script.set(node, "pull", &force(pull)),
                None => self.script.unset(node, "pull"),
            }
        }
        if old_loose != loose {
            if loose {
                self.script.set(node, "loose", "true");
            } else {
                self.script.unset(node, "loose");
            }
        }
        Ok(())
    }
}

pub(super) fn same_direction(a: Option<UnitVector3<f64>>, b: Option<UnitVector3<f64>>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => (a.into_inner() - b.into_inner()).norm() <= SAME_DIRECTION,
        (a, b) => a.is_none() && b.is_none(),
    }
}

fn same_rule(a: &LengthRule, b: &LengthRule) -> bool {
    match (a, b) {
        (LengthRule::Measured(a), LengthRule::Measured(b))
        | (LengthRule::Slack(a), LengthRule::Slack(b)) => (a - b).abs() <= SAME_LENGTH,
        (LengthRule::Strung(a), LengthRule::Strung(b)) => a == b,
        (LengthRule::SmoothPath, LengthRule::SmoothPath) => true,
        _ => false,
    }
}
