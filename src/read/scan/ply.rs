//! PLY: text, binary with either end first, with faces or without.
//!
//! Its head lists elements and their properties. All of them are walked over, of which `vertex` (x, y, z) and `face`
//! (`vertex_indices`) are kept. Counts in the head are promises: nothing is set aside for what the file has no room for.

use super::soup::{ScanFault, Soup};
use super::text;

/// How a number is stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Number {
    I8,
    U8,
    I16,
    U16,
    I32,
    U32,
    F32,
    F64,
}

impl Number {
    fn named(name: &str) -> Option<Self> {
        Some(match name {
            "char" | "int8" => Self::I8,
            "uchar" | "uint8" => Self::U8,
            "short" | "int16" => Self::I16,
            "ushort" | "uint16" => Self::U16,
            "int" | "int32" => Self::I32,
            "uint" | "uint32" => Self::U32,
            "float" | "float32" => Self::F32,
            "double" | "float64" => Self::F64,
            _ => return None,
        })
    }

    fn size(self) -> usize {
        match self {
            Self::I8 | Self::U8 => 1,
            Self::I16 | Self::U16 => 2,
            Self::I32 | Self::U32 | Self::F32 => 4,
            Self::F64 => 8,
        }
    }
}

#[derive(Debug, Clone)]
struct Property {
    name: String,
    /// How the length of a list is stored, for a list.
    list: Option<Number>,
    number: Number,
}

#[derive(Debug, Clone)]
struct Element {
    name: String,
    count: u64,
    properties: Vec<Property>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Encoding {
    Text,
    Little,
    Big,
}

pub(super) fn read(bytes: &[u8]) -> Result<Soup, ScanFault> {
    let (encoding, elements, body) = head(bytes)?;
    let mut source: Box<dyn Source + '_> = match encoding {
        Encoding::Text => Box::new(Words::new(body)),
        encoding => Box::new(Bytes {
            left: body,
            little: encoding == Encoding::Little,
        }),
    };
    let mut soup = Soup::default();
    for element in &elements {
        let least: usize = element
            .properties
            .iter()
            .map(|p| match (encoding, p.list) {
                (Encoding::Text, _) => 2,
                (_, Some(length)) => length.size(),
                (_, None) => p.number.size(),
            })
            .sum();
        if element.count > 0 && least == 0 {
            return Err(ScanFault::damaged(format!(
                "its element \"{}\" has no properties",
                text::short(&element.name)
            )));
        }
        // The last number of a text needs no blank after it.
        let room = (source.left() as u64 + 1) / least.max(1) as u64;
        if element.count > room {
            return Err(ScanFault::damaged(format!(
                "its head says {} of \"{}\", but the file has room for {room} at most",
                element.count,
                text::short(&element.name)
            )));
        }
        match element.name.as_str() {
            "vertex" => vertices(&mut soup, element, source.as_mut())?,
            "face" => faces(&mut soup, element, source.as_mut())?,
            _ => others(element, source.as_mut())?,
        }
    }
    if !source.is_done() {
        soup.notes
            .push("there is more in the file than its head says".to_owned());
    }
    Ok(soup)
}

/// Encoding, elements and what comes after the head.
fn head(bytes: &[u8]) -> Result<(Encoding, Vec<Element>, &[u8]), ScanFault> {
    let mut encoding = None;
    let mut elements: Vec<Element> = Vec::new();
    let mut left = bytes;
    for line in 1..100_000 {
        let Some(end) = left.iter().position(|&b| b == b'\n' || b == b'\r') else {
            break;
        };
        let words = String::from_utf8_lossy(&left[..end]).into_owned();
        let pair = left[end] == b'\r' && left.get(end + 1) == Some(&b'\n');
        left = &left[end + 1 + usize::from(pair)..];
        let words: Vec<&str> = words.split_ascii_whitespace().collect();
        let wrong = |what: String| Err(ScanFault::damaged(format!("line {line}: {what}")));
        match words[..] {
            ["ply"] if line == 1 => {}
            _ if line == 1 => return wrong("a PLY begins with \"ply\"".to_owned()),
            [] | ["comment" | "obj_info", ..] => {}
            ["format", name, ..] => {
                encoding = Some(match name {
                    "ascii" => Encoding::Text,
                    "binary_little_endian" => Encoding::Little,
                    "binary_big_endian" => Encoding::Big,
                    other => {
                        return wrong(format!("there is no format \"{}\"", text::short(other)));
                    }
                });
            }
            ["element", name, count] => {
                let Ok(count) = count.parse() else {
                    return wrong(format!("\"{}\" is not a count", text::short(count)));
                };
                elements.push(Element {
                    name: name.to_owned(),
                    count,
                    properties: Vec::new(),
                });
            }
            ["property", ref what @ .., name] => {
                let kinds: Option<Vec<Number>> = what
                    .iter()
                    .filter(|word| **word != "list")
                    .map(|word| Number::named(word))
                    .collect();
                let property = match (what.first(), kinds.as_deref()) {
                    (Some(&"list"), Some(&[length, number])) => (Some(length), number),
                    (Some(_), Some(&[number])) => (None, number),
                    _ => return wrong("this property has no known type".to_owned()),
                };
                let Some(element) = elements.last_mut() else {
                    return wrong("a property stands before any element".to_owned());
                };
                element.properties.push(Property {
                    name: name.to_owned(),
                    list: property.0,
                    number: property.1,
                });
            }
            ["end_header"] => {
                let Some(encoding) = encoding else {
                    return wrong("the head has no \"format\"".to_owned());
                };
                return Ok((encoding, elements, left));
            }
            _ => return wrong("this is no line of a PLY's head".to_owned()),
        }
    }
    Err(ScanFault::damaged("it ends before its \"end_header\""))
}

fn vertices(soup: &mut Soup, element: &Element, source: &mut dyn Source) -> Result<(), ScanFault> {
    let axis = |name: &str| {
        let at = element.properties.iter().position(|p| p.name == name);
        at.filter(|&at| element.properties[at].list.is_none())
            .ok_or_else(|| ScanFault::damaged(format!("its points have no \"{name}\"")))
    };
    let axes = [axis("x")?, axis("y")?, axis("z")?];
    for _ in 0..element.count {
        soup.next()?;
        let mut point = [f64::NAN; 3];
        for (i, property) in element.properties.iter().enumerate() {
            if property.list.is_some() {
                pass(property, source)?;
                continue;
            }
            let value = source.number(property.number)?;
            for (axis, at) in axes.iter().enumerate() {
                if *at == i {
                    point[axis] = value;
                }
            }
        }
        soup.points.push(point);
    }
    Ok(())
}

fn faces(soup: &mut Soup, element: &Element, source: &mut dyn Source) -> Result<(), ScanFault> {
    let mut corners = Vec::new();
    let mut too_short = 0_usize;
    let lists = |p: &&Property| {
        matches!(p.name.as_str(), "vertex_indices" | "vertex_index") && p.list.is_some()
    };
    if element.count > 0 && !element.properties.iter().any(|p| lists(&p)) {
        return Err(ScanFault::damaged("its faces have no \"vertex_indices\""));
    }
    for _ in 0..element.count {
        for property in &element.properties {
            if !lists(&property) {
                pass(property, source)?;
                continue;
            }
            corners.clear();
            for _ in 0..length(property, source)? {
                let value = source.number(property.number)?;
                #[allow(
                    clippy::cast_possible_truncation,
                    clippy::cast_sign_loss,
                    reason = "checked to be a whole number in range"
                )]
                if value.fract().abs() <= 0.0 && (0.0..f64::from(u32::MAX)).contains(&value) {
                    corners.push(value as u32);
                } else {
                    return Err(ScanFault::damaged(format!("a face names corner {value}")));
                }
            }
            too_short += usize::from(corners.len() < 3);
            soup.polygon(&corners);
        }
    }
    if too_short > 0 {
        soup.notes.push(format!(
            "{too_short} faces have fewer than three corners and were left out"
        ));
    }
    Ok(())
}

fn others(element: &Element, source: &mut dyn Source) -> Result<(), ScanFault> {
    if element.name == "tristrips" && element.count > 0 {
        return Err(ScanFault::new(
            "its triangles are in strips, which are not read",
            "export it again with plain faces",
        ));
    }
    for _ in 0..element.count {
        for property in &element.properties {
            pass(property, source)?;
        }
    }
    Ok(())
}

/// Walks over a property.
fn pass(property: &Property, source: &mut dyn Source) -> Result<(), ScanFault> {
    let count = match property.list {
        Some(_) => length(property, source)?,
        None => 1,
    };
    for _ in 0..count {
        source.number(property.number)?;
    }
    Ok(())
}

/// The length of a list. It need not be bounded: nothing is set aside, and the file ends.
fn length(property: &Property, source: &mut dyn Source) -> Result<u64, ScanFault> {
    let value = source.number(property.list.unwrap_or(Number::U8))?;
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked to be a whole number in range"
    )]
    if value.fract().abs() <= 0.0 && (0.0..=f64::from(u32::MAX)).contains(&value) {
        Ok(value as u64)
    } else {
        Err(ScanFault::damaged(format!("a list has the length {value}")))
    }
}

/// Numbers one after the other.
trait Source {
    fn number(&mut self, kind: Number) -> Result<f64, ScanFault>;
    /// Bytes left.
    fn left(&self) -> usize;
    fn is_done(&self) -> bool;
}

struct Bytes<'a> {
    left: &'a [u8],
    little: bool,
}

impl Bytes<'_> {
    fn take<const N: usize>(&mut self) -> Result<[u8; N], ScanFault> {
        let (taken, left) = self
            .left
            .split_first_chunk::<N>()
            .ok_or_else(|| ScanFault::damaged("it ends before all that its head promises"))?;
        self.left = left;
        let mut taken = *taken;
        if !self.little {
            taken.reverse();
        }
        Ok(taken)
    }
}

impl Source for Bytes<'_> {
    #[inline]
    fn number(&mut self, kind: Number) -> Result<f64, ScanFault> {
        Ok(match kind {
            Number::I8 => i8::from_le_bytes(self.take()?).into(),
            Number::U8 => u8::from_le_bytes(self.take()?).into(),
            Number::I16 => i16::from_le_bytes(self.take()?).into(),
            Number::U16 => u16::from_le_bytes(self.take()?).into(),
            Number::I32 => i32::from_le_bytes(self.take()?).into(),
            Number::U32 => u32::from_le_bytes(self.take()?).into(),
            Number::F32 => f32::from_le_bytes(self.take()?).into(),
            Number::F64 => f64::from_le_bytes(self.take()?),
        })
    }

    fn left(&self) -> usize {
        self.left.len()
    }

    fn is_done(&self) -> bool {
        self.left.is_empty()
    }
}

struct Words<'a> {
    left: &'a [u8],
}

impl<'a> Words<'a> {
    fn new(left: &'a [u8]) -> Self {
        Self { left }
    }
}

impl Source for Words<'_> {
    fn number(&mut self, _: Number) -> Result<f64, ScanFault> {
        let left = self.left.trim_ascii_start();
        let end = left
            .iter()
            .position(u8::is_ascii_whitespace)
            .unwrap_or(left.len());
        let (word, rest) = left.split_at(end);
        self.left = rest;
        let word = String::from_utf8_lossy(word);
        word.parse().map_err(|_| {
            ScanFault::damaged(if word.is_empty() {
                "it ends before all that its head promises".to_owned()
            } else {
                format!("\"{}\" is not a number", text::short(&word))
            })
        })
    }

    fn left(&self) -> usize {
        self.left.len()
    }

    fn is_done(&self) -> bool {
        self.left.trim_ascii_start().is_empty()
    }
}
