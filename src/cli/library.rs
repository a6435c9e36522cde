//! `library`: what stands in the library of wires, covers, straps, finishes and hot parts.

use std::io::Write;

use serde_json::{Value, json};

use crate::read::{LibraryEntry, library};

use super::arguments::{Library, Shared};
use super::failure::Failure;
use super::terminal::Paper;

pub(super) fn run(command: &Library, shared: &Shared) -> Result<u8, Failure> {
    let entries = library();
    let chosen = |entry: &&LibraryEntry| {
        let asked = command.shelf.map(|shelf| shelf.name());
        asked.is_none_or(|shelf| shelf == entry.shelf)
    };
    if command.json {
        let entries: Vec<Value> = entries.iter().filter(chosen).map(json).collect();
        let mut out = std::io::stdout().lock();
        serde_json::to_writer_pretty(&mut out, &json!({ "entries": entries }))?;
        writeln!(out)?;
        return Ok(0);
    }
    let mut paper = Paper::of_terminal(shared.units());
    let mut shelf = "";
    for entry in entries.iter().filter(chosen) {
        if entry.shelf != shelf {
            if !shelf.is_empty() {
                paper.blank()?;
            }
            shelf = entry.shelf;
            paper.heading(&shelf.replace('_', " "))?;
        }
        paper.plain("  ", &format!("\"{}\"", entry.name))?;
        for value in &entry.values {
            let source = match (value.status.as_str(), shared.quiet) {
                ("named", _) | (_, true) => String::new(),
                (status, false) => format!(" ({status}: {})", value.source),
            };
            paper.plain(
                "      ",
                &format!("{}: {}{source}", value.field, value.value),
            )?;
        }
    }
    Ok(0)
}

fn json(entry: &LibraryEntry) -> Value {
    let values = entry.values.iter().map(|value| {
        json!({
            "field": value.field,
            "value": value.value,
            "status": value.status,
            "source": value.source,
        })
    });
    json!({
        "shelf": entry.shelf,
        "name": entry.name,
        "values": values.collect::<Vec<_>>(),
    })
}
