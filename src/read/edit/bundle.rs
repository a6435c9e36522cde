//! What the branches are made of: covers, diameters, stiffness, wires.

use crate::harness::{Branch, Wire};

use super::lay::SAME_LENGTH;
use super::show::{class_letter, nine_digits, quoted};
use super::{EditError, Editor, cannot};

/// Values that differ by a smaller share than this are the same.
const SAME: f64 = 1e-5;

fn same(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME * a.abs().max(b.abs())
}

/// Lengths are written to less than this.
fn same_length(a: f64, b: f64) -> bool {
    (a - b).abs() <= SAME_LENGTH
}

impl Editor<'_> {
    pub(super) fn bundles(&mut self) -> Result<(), EditError> {
        for index in 0..self.current.branches.len() {
            let (was, is) = (&self.current.branches[index], &self.target.branches[index]);
            self.bundle(index, was, is)?;
        }
        Ok(())
    }

    fn bundle(&mut self, index: usize, was: &Branch, is: &Branch) -> Result<(), EditError> {
        let node = self.branch(index).ok_or_else(|| cannot("a branch"))?;
        if was.wires != is.wires {
            return Err(cannot(format!("other wires in \"{}\"", is.name)));
        }
        let same_cover = match (&was.cover, &is.cover) {
            (Some(a), Some(b)) => {
                a.kind == b.kind && same_length(a.wall, b.wall) && a.rated == b.rated
            }
            (a, b) => a.is_none() && b.is_none(),
        };
        if !same_cover {
            match &is.cover {
                Some(cover) => {
                    let text = self.show.cover(cover);
                    self.script.set(node, "cover", &text);
                }
                None => self.script.unset(node, "cover"),
            }
            // What follows from the cover is looked at when it has been written.
            return Ok(());
        }
        if !same_length(was.diameter, is.diameter) {
            let text = self.show.length(is.diameter);
            self.script.set(node, "diameter", &text);
            return Ok(());
        }
        let (a, b) = (was.stiffness, is.stiffness);
        let all = [
            ("bend", a.bend, b.bend, "N m2"),
            ("twist", a.twist, b.twist, "N m2"),
            ("stretch", a.stretch, b.stretch, "N"),
            ("mass", a.mass, b.mass, "kg/m"),
        ];
        let differ = all.iter().filter(|(_, a, b, _)| !same(*a, *b));
        let fields: Vec<(&str, String)> = differ
            .map(|(name, _, value, unit)| (*name, format!("\"{} {unit}\"", nine_digits(*value))))
            .collect();
        if fields.is_empty() {
            return Ok(());
        }
        match node.field("stiffness") {
            Some(stiffness) => {
                for (name, value) in fields {
                    self.script.set(stiffness, name, &value);
                }
            }
            None => {
                let fields: Vec<String> = fields
                    .iter()
                    .map(|(name, value)| format!("{name}: {value}"))
                    .collect();
                self.script
                    .set(node, "stiffness", &format!("({})", fields.join(", ")));
            }
        }
        Ok(())
    }

    pub(super) fn wires(&mut self) -> Result<(), EditError> {
        let (current, target) = (&self.current.wires, &self.target.wires);
        if current.len() != target.len() {
            return Err(cannot("another set of wires"));
        }
        for (was, is) in current.iter().zip(target) {
            if was != is {
                self.wire(was, is)?;
            }
        }
        Ok(())
    }

    fn wire(&mut self, was: &Wire, is: &Wire) -> Result<(), EditError> {
        let map = self.root.field("wires");
        let found = map.and_then(|wires| wires.entry(&was.name));
        let (Some((_, node)), true) = (found, was.name == is.name) else {
            return Err(cannot("another set of wires"));
        };
        if !same(was.area, is.area) {
            let text = quoted(&format!("{} mm2", nine_digits(is.area * 1e6)));
            self.script.set(node, "size", &text);
        }
        if was.strands != is.strands {
            self.script.set(node, "strands", &is.strands.to_string());
        }
        if !same_length(was.outside, is.outside) {
            let text = self.show.length(is.outside);
            self.script.set(node, "outside", &text);
        }
        if was.class != is.class {
            match is.class {
                Some(class) => self.script.set(node, "class", &quoted(class_letter(class))),
                None => self.script.unset(node, "class"),
            }
        }
        if was.safety != is.safety {
            self.script
                .set(node, "safety", if is.safety { "true" } else { "false" });
        }
        let currents = [was.current, is.current].map(|current| current.unwrap_or(-1.0));
        if !same(currents[0], currents[1]) {
            match is.current {
                Some(current) => {
                    let text = quoted(&format!("{} A", nine_digits(current)));
                    self.script.set(node, "current", &text);
                }
                None => self.script.unset(node, "current"),
            }
        }
        Ok(())
    }
}
