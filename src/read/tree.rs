//! The tree of a file: values, each with its place in the text.

/// A value, where it begins in the text and where that which is behind it begins \[byte\].
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    pub(super) at: usize,
    pub(super) end: usize,
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

impl Node {
    /// A value that does not stand in the text as such, but follows from what stands at `at`.
    pub(super) fn made(at: usize, value: Value) -> Self {
        Self { at, end: at, value }
    }

    /// The named fields of a struct.
    pub(super) fn fields(&self) -> &[Field] {
        match &self.value {
            Value::Struct(_, Body::Fields(fields)) => fields,
            _ => &[],
        }
    }

    /// The value of a named field.
    pub(super) fn field(&self, name: &str) -> Option<&Self> {
        let named = self.fields().iter().find(|field| field.name == name);
        named.map(|field| &field.value)
    }

    /// The items of a list, or of values in parentheses.
    pub(super) fn items(&self) -> &[Self] {
        match &self.value {
            Value::List(items) | Value::Struct(_, Body::Items(items)) => items,
            _ => &[],
        }
    }

    /// A text.
    pub(super) fn text(&self) -> Option<&str> {
        match &self.value {
            Value::Text(text) => Some(text),
            _ => None,
        }
    }

    /// The name before the parentheses.
    pub(super) fn kind(&self) -> &str {
        match &self.value {
            Value::Struct(Some(kind), _) => kind,
            _ => "",
        }
    }

    /// The entry of a map by its name.
    pub(super) fn entry(&self, name: &str) -> Option<(&Self, &Self)> {
        let Value::Map(pairs) = &self.value else {
            return None;
        };
        let named = pairs.iter().find(|(key, _)| key.text() == Some(name));
        named.map(|(key, value)| (key, value))
    }
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
