//! Splices along branches.

use crate::harness::{BranchId, Splice};
use crate::quantity::{Accepts, Kind};

use super::branches::RawBranch;
use super::fields::{Fields, items, unknown};
use super::tree::Node;
use super::value::Reading;
use super::wires::Wires;

/// Reads the field `splices`.
pub(super) fn read(
    reading: &mut Reading<'_>,
    node: &Node,
    wires: &Wires<'_>,
    branches: &[RawBranch],
) -> Vec<Splice> {
    let list = items(&mut reading.notes, node, "(wire: .., branch: .., at: ..)");
    list.iter()
        .filter_map(|item| splice(reading, item, wires, branches))
        .collect()
}

fn splice(
    reading: &mut Reading<'_>,
    node: &Node,
    wires: &Wires<'_>,
    branches: &[RawBranch],
) -> Option<Splice> {
    let fields = Fields::of(
        &mut reading.notes,
        node,
        "a splice",
        &["wire", "branch", "at"],
    )?;
    let wire = fields
        .need(
            &mut reading.notes,
            "wire",
            "write wire: \"name\" of the wire that is spliced",
        )
        .and_then(|node| {
            let name = reading.text(node, "wire")?;
            let found = wires.get(name);
            if found.is_none() {
                unknown(&mut reading.notes, node.at, "wire", name, wires.names());
            }
            Some((found??, name, node.at))
        });
    let names = || branches.iter().filter_map(|branch| branch.name.as_deref());
    let branch = fields
        .need(
            &mut reading.notes,
            "branch",
            "write branch: \"name\" of the branch that it is in",
        )
        .and_then(|node| {
            let name = reading.text(node, "branch")?;
            let found = branches
                .iter()
                .position(|branch| branch.name.as_deref() == Some(name));
            if found.is_none() {
                unknown(&mut reading.notes, node.at, "branch", name, names());
            }
            found
        });
    let at = fields
        .need(
            &mut reading.notes,
            "at",
            "write at: how far it is along the branch from its first fixing",
        )
        .and_then(|node| reading.quantity(node, "at", Kind::Length, Accepts::NotNegative));
    let ((wire, name, place), branch) = (wire?, branch?);
    if !branches[branch].wires.contains(&wire) {
        reading.notes.fault(
            place,
            format!("\"{name}\" does not run through that branch"),
            "name a branch that holds the wire, or let the wire run through it",
        );
    }
    Some(Splice {
        wire,
        branch: BranchId(branch),
        at: at?,
    })
}
