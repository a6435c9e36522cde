//! The tree of a file: values, each with its place in the text.

/// A value and where it begins in the text \[byte\].
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    pub(super) at: usize,
    pub(super) value: Value,
}

/// What stands there.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Value {
    Number(f64),
    Text(String),
    Bool(bool),
    Char(char),
    /// `[a, b]`
    List(Vec<Node>),
    /// `{a: b}`; keys may repeat.
    Map(Vec<(Node, Node)>),
    /// `Name`, `Name(..)` or `(..)`.
    Struct(Option<String>, Body),
    /// `None`.
    Nothing,
    /// Something that could not be read; its fault is already noted.
    Broken,
}

/// What stands in a struct's parentheses.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Body {
    /// No parentheses, or nothing in them.
    Empty,
    /// `(a, b)`
    Items(Vec<Node>),
    /// `(a: 1, b: 2)`; names may repeat.
    Fields(Vec<Field>),
}

/// A named field.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Field {
    pub(super) name: String,
    pub(super) at: usize,
    pub(super) value: Node,
}

impl Value {
    /// The value in words, for "expected this, found that".
    pub(super) fn phrase(&self) -> String {
        match self {
            Self::Number(number) => format!("the number {number}"),
            Self::Text(text) => format!("the text \"{text}\""),
            Self::Bool(value) => format!("`{value}`"),
            Self::Char(value) => format!("the character '{value}'"),
            Self::List(_) => "a list in [ ]".to_owned(),
            Self::Map(_) => "named entries in { }".to_owned(),
            Self::Struct(Some(name), _) => format!("`{name}`"),
            Self::Struct(None, Body::Empty) => "an empty ( )".to_owned(),
            Self::Struct(None, Body::Items(items)) => format!("( ) with {} values", items.len()),
            Self::Struct(None, Body::Fields(_)) => "fields in ( )".to_owned(),
            Self::Nothing => "`None`".to_owned(),
            Self::Broken => "something unreadable".to_owned(),
        }
    }
}
