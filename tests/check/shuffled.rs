//! Every route that comes with the program, its lists told in another order: bodies, parts, wires, points and branches. Which
//! comes first in a file is nothing about the machine, so every number of the report is the same.

use std::path::Path;

use neckloom::check::{Options, check};
use neckloom::read::route_text;
use neckloom::rod::{Settings, solve};

use super::alike::{Told, differences};
use super::demos::paths;
use crate::geometry::Random;

const LISTS: [&str; 5] = ["bodies", "parts", "wires", "points", "branches"];

/// A route file without its comments.
fn bare(text: &str) -> String {
    let mut bare = String::new();
    let mut quoted = false;
    for line in text.lines() {
        let mut before = ' ';
        for (i, sign) in line.char_indices() {
            quoted ^= sign == '"' && before != '\\';
            if !quoted && line[i..].starts_with("//") {
                break;
            }
            bare.push(sign);
            before = sign;
        }
        bare.push('\n');
    }
    bare
}

/// The text with the entries of one of its lists in another order; as it is where it has no such list.
fn shuffled(text: &str, list: &str, random: &mut Random) -> String {
    let Some(at) = text.find(&format!("\n    {list}: ")) else {
        return text.to_owned();
    };
    let open = at + text[at..].find(['[', '{']).unwrap() + 1;
    let (mut depth, mut quoted, mut before) = (0, false, ' ');
    let (mut entries, mut start, mut end) = (Vec::new(), open, open);
    for (i, sign) in text[open..].char_indices() {
        end = open + i;
        quoted ^= sign == '"' && before != '\\';
        before = sign;
        match sign {
            _ if quoted => {}
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' if depth == 0 => break,
            ')' | ']' | '}' => depth -= 1,
            ',' if depth == 0 => {
                entries.push(&text[start..end]);
                start = end + 1;
            }
            _ => {}
        }
    }
    entries.push(&text[start..end]);
    entries.retain(|entry| !entry.trim().is_empty());
    for i in (1..entries.len()).rev() {
        entries.swap(i, random.below(i + 1));
    }
    format!("{}{}{}", &text[..open], entries.join(","), &text[end..])
}

/// What the report says of the route in a text, by check, branch and subject.
fn told(text: &str, path: &Path) -> Vec<Told> {
    let route = route_text(text, &path.display().to_string())
        .unwrap_or_else(|faults| panic!("{}: {faults}", path.display()));
    let settings = Settings::default();
    let options = Options {
        spread: false,
        settings,
        ..Options::default()
    };
    let report = check(&route, &solve(&route, &settings), &options);
    let told = report.findings.iter().map(|found| {
        // The way over a breakout is told from the branch that comes first.
        let mut ends: Vec<&str> = found.subject.split('–').collect();
        ends.sort_unstable();
        let branch = match &ends[..] {
            [_] | [_, _] => &route.branches[found.branch.0].name,
            _ => "",
        };
        let name = format!("{} {branch} {}", found.check, ends.join("–"));
        Told::new(name, found)
    });
    told.collect()
}

#[test]
fn the_order_in_which_a_route_tells_its_machine_changes_nothing() {
    let (mut off, mut moved) = (Vec::new(), 0);
    for (seed, path) in (1..).zip(paths()) {
        let name = path.file_stem().unwrap().to_string_lossy().into_owned();
        let text = bare(&std::fs::read_to_string(&path).unwrap());
        let mut random = Random::new(seed);
        let other = LISTS.iter().fold(text.clone(), |text, list| {
            shuffled(&text, list, &mut random)
        });
        moved += usize::from(other != text);
        let other = differences(told(&text, &path), told(&other, &path));
        off.extend(other.into_iter().map(|other| format!("{name}: {other}")));
    }
    assert!(moved > 40, "only {moved} routes were told otherwise");
    assert!(off.is_empty(), "{}", off.join("\n"));
}
