//! The library: wires, covers, straps, finishes and hot parts by name, and what `like: "name"` takes from it.
//!
//! It works on the tree, before anything is read from it: what a wire leaves out is put where it stands, as if the file
//! said so. So whatever the file gives goes before the library, and nothing after this knows of it. A route file's own
//! `library` goes before the one inside the program, and may itself be `like` an entry of that.

use std::sync::LazyLock;

use super::fault::Notes;
use super::fields::{Fields, entries, unknown};
use super::syntax::tree;
use super::tree::{Body, Field, Node, Value};
use super::value::Reading;

/// What a shelf holds, as a person calls it; the field of a route file's `library` with its entries; and the entries
/// inside the program.
const SHELVES: [(&str, &str, &str); 5] = [
    ("wire", "wires", include_str!("library/wires.ron")),
    ("cover", "covers", include_str!("library/covers.ron")),
    ("strap", "ties", include_str!("library/ties.ron")),
    ("finish", "finishes", include_str!("library/finishes.ron")),
    (
        "hot part",
        "hot_parts",
        include_str!("library/hot_parts.ron"),
    ),
];

/// Which shelf: an index of [`SHELVES`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Shelf {
    Wires,
    Covers,
    Ties,
    Finishes,
    HotParts,
}

impl Shelf {
    const ALL: [Self; 5] = [
        Self::Wires,
        Self::Covers,
        Self::Ties,
        Self::Finishes,
        Self::HotParts,
    ];

    fn words(self) -> &'static (&'static str, &'static str, &'static str) {
        &SHELVES[self as usize]
    }
}

/// One value of an entry of the library.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LibraryValue {
    /// The field of a route file.
    pub field: String,
    /// Its value, as a route file writes it.
    pub value: String,
    /// How well it is known: "read", "second-hand", "from memory", "own choice"; "named" where the entry's name says it.
    pub status: String,
    /// Where it comes from.
    pub source: String,
}

/// An entry of the library.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LibraryEntry {
    /// The field of a route file's `library` with such entries: "wires", "covers", "ties", "finishes", "`hot_parts`".
    pub shelf: &'static str,
    /// Its name, for `like`.
    pub name: String,
    /// What it gives.
    pub values: Vec<LibraryValue>,
}

/// All entries inside the program.
pub fn library() -> Vec<LibraryEntry> {
    let entry = |(shelf, name, node): &(Shelf, String, Node)| LibraryEntry {
        shelf: shelf.words().1,
        name: name.clone(),
        values: node
            .fields()
            .iter()
            .filter(|field| field.name != SOURCES)
            .map(|field| {
                let (status, source) = source(node, &field.name).unwrap_or_default();
                LibraryValue {
                    field: field.name.clone(),
                    value: shown(&field.value),
                    status,
                    source,
                }
            })
            .collect(),
    };
    INSIDE.iter().map(entry).collect()
}

/// The field of an entry that says where its values come from.
const SOURCES: &str = "sources";

static INSIDE: LazyLock<Vec<(Shelf, String, Node)>> = LazyLock::new(|| {
    let of_shelf = |shelf: Shelf| {
        let mut notes = Notes::new(shelf.words().2);
        let root = tree(shelf.words().2, &mut notes);
        let pairs = match root.map(|root| root.value) {
            Some(Value::Map(pairs)) => pairs,
            _ => Vec::new(),
        };
        pairs
            .into_iter()
            .filter_map(move |(key, value)| Some((shelf, key.text()?.to_owned(), value)))
    };
    Shelf::ALL.into_iter().flat_map(of_shelf).collect()
});

/// What is on the shelves: the file's own first.
struct Library {
    own: Vec<(Shelf, String, Node)>,
}

impl Library {
    fn find(&self, shelf: Shelf, name: &str) -> Option<(&Node, bool)> {
        let named = |entries: &'_ [(Shelf, String, Node)]| {
            entries
                .iter()
                .rposition(|(on, known, _)| *on == shelf && known == name)
        };
        match named(&self.own) {
            Some(own) => Some((&self.own[own].2, true)),
            None => Some((&INSIDE[named(&INSIDE)?].2, false)),
        }
    }

    fn names(&self, shelf: Shelf) -> impl Iterator<Item = &str> + Clone {
        let all = self.own.iter().chain(INSIDE.iter());
        all.filter(move |(on, ..)| *on == shelf)
            .map(|(_, name, _)| name.as_str())
    }
}

/// Puts what is taken from the library where it is taken, and takes the file's own `library` out of the tree.
pub(super) fn fill(reading: &mut Reading<'_>, root: &mut Node) {
    let own = take(root, "library");
    let mut filling = Filling {
        library: Library { own: Vec::new() },
        reading,
        said: Vec::new(),
    };
    if let Some(own) = own {
        filling.own(&own.value);
    }
    filling.below(root, None);
    let said = std::mem::take(&mut filling.said);
    reading.assumed.extend(said);
}

struct Filling<'r, 's> {
    library: Library,
    reading: &'r mut Reading<'s>,
    said: Vec<String>,
}

impl Filling<'_, '_> {
    /// The file's own entries.
    fn own(&mut self, node: &Node) {
        let known = SHELVES.map(|(_, field, _)| field);
        let what = "the `library`";
        let Some(fields) = Fields::of(&mut self.reading.notes, node, what, &known) else {
            return;
        };
        for shelf in Shelf::ALL {
            let Some(node) = fields.get(shelf.words().1) else {
                continue;
            };
            for (name, _, entry) in entries(&mut self.reading.notes, node, "(..)") {
                let mut entry = entry.clone();
                self.like(&mut entry, shelf);
                self.library.own.push((shelf, name.to_owned(), entry));
            }
        }
    }

    /// Looks through a value: which shelf it takes from follows from where it stands, or from its name.
    fn below(&mut self, node: &mut Node, shelf: Option<Shelf>) {
        let shelf = match node.kind() {
            "Tie" => Some(Shelf::Ties),
            "Wire" => Some(Shelf::Wires),
            "Connector" => {
                self.finish(node);
                None
            }
            _ => shelf,
        };
        if let Some(shelf) = shelf {
            self.like(node, shelf);
        }
        match &mut node.value {
            Value::List(items) | Value::Struct(_, Body::Items(items)) => {
                for item in items {
                    self.below(item, None);
                }
            }
            Value::Map(pairs) => {
                for (_, value) in pairs {
                    self.below(value, None);
                }
            }
            Value::Struct(_, Body::Fields(fields)) => {
                for field in fields {
                    match (field.name.as_str(), &mut field.value.value) {
                        ("wires", Value::Map(pairs)) => {
                            for (_, value) in pairs {
                                self.below(value, Some(Shelf::Wires));
                            }
                        }
                        ("parts", Value::List(parts)) => {
                            for part in parts {
                                self.below(part, Some(Shelf::HotParts));
                            }
                        }
                        ("cover", _) => self.below(&mut field.value, Some(Shelf::Covers)),
                        _ => self.below(&mut field.value, None),
                    }
                }
            }
            _ => {}
        }
    }

    /// Fills what stands beside a `like`.
    fn like(&mut self, node: &mut Node, shelf: Shelf) {
        let Some(like) = take(node, "like") else {
            return;
        };
        let Some(name) = self.reading.text(&like.value, "like").map(str::to_owned) else {
            return;
        };
        let at = like.value.at;
        let Some((entry, own)) = self.library.find(shelf, &name) else {
            let what = shelf.words().0;
            let names = self.library.names(shelf);
            unknown(&mut self.reading.notes, at, what, &name, names);
            return;
        };
        let entry = entry.clone();
        let given = fill_from(node, &entry, (!own).then_some(at));
        self.say(&name, &entry, &given);
    }

    /// A connector of known finish bears what the finish does, where nothing else is given.
    fn finish(&mut self, node: &mut Node) {
        let Some(finish) = node.field("finish") else {
            return;
        };
        let (at, Some(name)) = (finish.at, finish.text().map(str::to_owned)) else {
            return;
        };
        // A finish that is not known is a fault where it is read.
        let Some((entry, own)) = self.library.find(Shelf::Finishes, &name) else {
            return;
        };
        let entry = entry.clone();
        let given = fill_from(node, &entry, (!own).then_some(at));
        self.say(&name, &entry, &given);
    }

    /// Says once what was taken from an entry, and how well that is known.
    fn say(&mut self, name: &str, entry: &Node, given: &[String]) {
        if given.is_empty() {
            return;
        }
        let values: Vec<String> = given
            .iter()
            .filter_map(|field| {
                let value = shown(entry.field(field)?);
                let value = value.trim_matches('"');
                Some(match source(entry, field) {
                    Some((status, _)) if status == "named" => format!("{field} {value}"),
                    Some((status, source)) => format!("{field} {value} ({status}: {source})"),
                    None => format!("{field} {value}"),
                })
            })
            .collect();
        let sentence = format!("\"{name}\" of the library gives {}", values.join(", "));
        if !self.said.contains(&sentence) {
            self.said.push(sentence);
        }
    }
}

/// Takes a field out of a struct; of one that is given twice all but the first stay, to be found later.
fn take(node: &mut Node, name: &str) -> Option<Field> {
    let Value::Struct(_, Body::Fields(fields)) = &mut node.value else {
        return None;
    };
    let index = fields.iter().position(|field| field.name == name)?;
    Some(fields.remove(index))
}

/// Gives a struct the fields of an entry that it has not; `at` is where they are to stand, where the entry is not part
/// of the text. Gives the names of what was taken.
fn fill_from(node: &mut Node, entry: &Node, at: Option<usize>) -> Vec<String> {
    let Value::Struct(_, body) = &mut node.value else {
        return Vec::new();
    };
    if *body == Body::Empty {
        *body = Body::Fields(Vec::new());
    }
    let Body::Fields(fields) = body else {
        return Vec::new();
    };
    let mut given = Vec::new();
    for field in entry.fields() {
        let has = fields.iter().any(|known| known.name == field.name);
        if has || field.name == SOURCES {
            continue;
        }
        given.push(field.name.clone());
        let mut field = field.clone();
        if let Some(at) = at {
            field.at = at;
            field.value = Node::made(at, field.value.value);
        }
        fields.push(field);
    }
    given
}

/// How well a value of an entry is known, and from where.
fn source(entry: &Node, field: &str) -> Option<(String, String)> {
    let (_, said) = entry.field(SOURCES)?.entry(field)?;
    match said.items() {
        [status, source] => Some((status.text()?.to_owned(), source.text()?.to_owned())),
        _ => None,
    }
}

/// A value as a route file writes it.
fn shown(node: &Node) -> String {
    match &node.value {
        Value::Text(text) => format!("\"{text}\""),
        Value::Number(number) => number.to_string(),
        Value::Bool(value) => value.to_string(),
        other => other.phrase(),
    }
}
