//! A display list as SVG.

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use svg::node::element::path::Data;
use svg::node::element::{
    Circle, ClipPath, Definitions, Description, Element, Group as SvgGroup, Path, Rectangle, Style,
    Text, Title,
};
use svg::{Document, Node};

use super::display::{Anchor, Figure, Frame, Group, Line, Mark, Ring, Sheet, Spot};
use super::ink::{Ink, Stroke};
use super::lettering;

/// The sheet as one SVG text, its typeface included. The same sheet gives the same bytes.
pub(crate) fn svg_of_sheet(sheet: &Sheet) -> String {
    let mut clips = Clips {
        definitions: Definitions::new(),
        count: 0,
    };
    let drawn: Vec<Box<dyn Node>> = sheet.marks.iter().map(|m| node(m, &mut clips)).collect();
    let mut document = Document::new()
        .set("width", format!("{}mm", number(sheet.width)))
        .set("height", format!("{}mm", number(sheet.height)))
        .set(
            "viewBox",
            format!("0 0 {} {}", number(sheet.width), number(sheet.height)),
        )
        .set("role", "img")
        .set("aria-labelledby", "sheet-title sheet-description")
        .set(
            "font-family",
            format!("'{}', sans-serif", lettering::FAMILY),
        )
        .set("stroke-linejoin", "round")
        .set("stroke-linecap", "butt")
        .set("fill", "none")
        .add(Title::new(sheet.title.as_str()).set("id", "sheet-title"))
        .add(description(&sheet.description))
        .add(Style::new(typeface()))
        .add(clips.definitions);
    document.append(
        Rectangle::new()
            .set("id", "paper")
            .set("width", number(sheet.width))
            .set("height", number(sheet.height))
            .set("fill", Ink::Paper.colour()),
    );
    for mark in drawn {
        document.append(mark);
    }
    let mut text = document.to_string();
    text.push('\n');
    text
}

fn description(text: &str) -> Description {
    let mut description = Description::new().set("id", "sheet-description");
    description.append(svg::node::Text::new(text));
    description
}

fn typeface() -> String {
    let face = |weight: u32, bytes: &[u8]| {
        format!(
            "@font-face{{font-family:'{}';font-weight:{weight};src:url(data:font/ttf;base64,{})}}",
            lettering::FAMILY,
            STANDARD.encode(bytes)
        )
    };
    format!(
        "{}{}",
        face(400, lettering::REGULAR),
        face(700, lettering::BOLD)
    )
}

/// Frames that cut groups off.
struct Clips {
    definitions: Definitions,
    count: usize,
}

impl Clips {
    fn add(&mut self, frame: &Frame) -> String {
        let id = format!("cut-{}", self.count);
        self.count += 1;
        self.definitions.append(
            ClipPath::new().set("id", id.as_str()).add(
                Rectangle::new()
                    .set("x", number(frame.x))
                    .set("y", number(frame.y))
                    .set("width", number(frame.w))
                    .set("height", number(frame.h)),
            ),
        );
        id
    }
}

fn node(mark: &Mark, clips: &mut Clips) -> Box<dyn Node> {
    match mark {
        Mark::Figure(figure) => path(figure).into(),
        Mark::Ring(ring) => circle(ring).into(),
        Mark::Line(line) => text(line).into(),
        Mark::Group(group) => container(group, clips).into(),
    }
}

fn container(group: &Group, clips: &mut Clips) -> SvgGroup {
    let mut container = SvgGroup::new().set("id", group.id.as_str());
    if let Some(clip) = &group.clip {
        container = container.set("clip-path", format!("url(#{})", clips.add(clip)));
    }
    if let Some(title) = &group.title {
        container = container.add(Title::new(lettering::clean(title)));
    }
    for mark in &group.marks {
        container.append(node(mark, clips));
    }
    container
}

fn path(figure: &Figure) -> Path {
    let mut data = Data::new();
    for contour in &figure.contours {
        let mut spots = contour
            .iter()
            .filter(|s| s[0].is_finite() && s[1].is_finite());
        let Some(first) = spots.next() else { continue };
        data = data.move_to(pair(first));
        for spot in spots {
            data = data.line_to(pair(spot));
        }
        if figure.closed {
            data = data.close();
        }
    }
    let mut path = Path::new().set("d", data);
    if let Some(fill) = figure.fill {
        path = path.set("fill", fill.colour()).set("fill-rule", "evenodd");
        if fill.opacity() < 1.0 {
            path = path.set("fill-opacity", number(fill.opacity()));
        }
    }
    stroke(&mut path, figure.stroke.as_ref());
    path
}

fn circle(ring: &Ring) -> Circle {
    let mut circle = Circle::new()
        .set("cx", number(ring.centre[0]))
        .set("cy", number(ring.centre[1]))
        .set("r", number(ring.radius.max(0.0)));
    if let Some(fill) = ring.fill {
        circle = circle.set("fill", fill.colour());
    }
    stroke(&mut circle, ring.stroke.as_ref());
    circle
}

fn stroke(element: &mut impl std::ops::DerefMut<Target = Element>, stroke: Option<&Stroke>) {
    let Some(stroke) = stroke else { return };
    element.assign("stroke", stroke.ink.colour());
    element.assign("stroke-width", number(stroke.width));
    let dashes = stroke.dashes();
    if !dashes.is_empty() {
        let dashes: Vec<String> = dashes.into_iter().map(number).collect();
        element.assign("stroke-dasharray", dashes.join(" "));
    }
    if stroke.pattern == super::ink::Pattern::Dots {
        element.assign("stroke-linecap", "round");
    }
}

fn text(line: &Line) -> Text {
    let mut text = Text::new(line.text.as_str())
        .set("x", number(line.at[0]))
        .set("y", number(line.at[1]))
        .set("font-size", number(line.size))
        .set("fill", line.ink.colour());
    if line.bold {
        text = text.set("font-weight", 700);
    }
    match line.anchor {
        Anchor::Start => {}
        Anchor::Middle => text = text.set("text-anchor", "middle"),
        Anchor::End => text = text.set("text-anchor", "end"),
    }
    if line.rim {
        text = text
            .set("stroke", Ink::Paper.colour())
            .set("stroke-width", number(0.34 * line.size))
            .set("paint-order", "stroke");
    }
    text
}

fn pair(spot: &Spot) -> (f32, f32) {
    (round(spot[0]), round(spot[1]))
}

/// Hundredths of a millimetre as the nearest single-precision number, which prints with two decimals.
#[allow(
    clippy::cast_possible_truncation,
    reason = "paper is smaller than the range of an f32, and two decimals need no more"
)]
fn round(x: f64) -> f32 {
    ((x.clamp(-9999.0, 9999.0) * 100.0).round() / 100.0) as f32 + 0.0
}

/// A number with at most three decimals and no trailing zeros.
fn number(x: f64) -> String {
    let mut text = format!("{:.3}", if x.is_finite() { x } else { 0.0 });
    text.truncate(text.trim_end_matches('0').trim_end_matches('.').len());
    if text == "-0" { "0".to_owned() } else { text }
}
