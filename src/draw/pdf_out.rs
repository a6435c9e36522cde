//! Display lists as one PDF file: a page a sheet, at full size, its text selectable.
//!
//! Written after ISO 32000-1:2008: the typeface as a composite font with glyph numbers for codes (9.7), a map back to
//! characters for copying and searching (9.10.3), and a word to the printer not to scale (12.2, `PrintScaling`). Paper is
//! left white. No date and no identifier is written, so the same sheets give the same bytes.

use std::collections::BTreeMap;

use miniz_oxide::deflate::compress_to_vec_zlib;
use pdf_writer::types::{
    CidFontType, FontFlags, LineCapStyle, LineJoinStyle, SystemInfo, UnicodeCmap,
};
use pdf_writer::{Content, Filter, Finish, Name, Pdf, Rect, Ref, Str, TextStr};
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};

use super::display::{Anchor, Figure, Frame, Line, Mark, Ring, Sheet, Spot};
use super::ink::{Ink, Pattern, Stroke};
use super::lettering;

/// Points in a millimetre.
const POINTS: f64 = 72.0 / 25.4;
/// Strength of the compression: the default of the format's own library.
const LEVEL: u8 = 6;
/// Handle of a circle's Bézier arcs: 4/3 (√2 − 1).
const ARC: f64 = 0.552_284_749_830_793_6;

/// The two weights, in the order of their objects.
const FACES: [(&str, &[u8], &str); 2] = [
    ("R", lettering::REGULAR, "WorkshopSheet-Regular"),
    ("B", lettering::BOLD, "WorkshopSheet-Bold"),
];

/// The sheets as the bytes of one PDF file. The same sheets give the same bytes.
pub(crate) fn pdf_of_sheets(sheets: &[Sheet], title: &str) -> Vec<u8> {
    let mut next = 0;
    let mut fresh = || {
        next += 1;
        Ref::new(next)
    };
    let (catalog, tree, info) = (fresh(), fresh(), fresh());
    let fonts = FACES.map(|_| [fresh(), fresh(), fresh(), fresh(), fresh()]);
    let state = fresh();
    let pages: Vec<[Ref; 2]> = sheets.iter().map(|_| [fresh(), fresh()]).collect();

    let mut pdf = Pdf::new();
    pdf.set_version(1, 7);
    let mut root = pdf.catalog(catalog);
    root.pages(tree).lang(TextStr("en"));
    let mut preferences = root.viewer_preferences();
    preferences.display_doc_title(true);
    preferences.pair(Name(b"PrintScaling"), Name(b"None"));
    preferences.finish();
    root.finish();
    pdf.document_info(info).title(TextStr(title));
    let count = i32::try_from(pages.len()).unwrap_or(i32::MAX);
    pdf.pages(tree)
        .kids(pages.iter().map(|p| p[0]))
        .count(count);
    pdf.ext_graphics(state)
        .non_stroking_alpha(float(Ink::Swept.opacity()));

    let mut writer = Writer {
        faces: FACES.map(|(_, bytes, _)| FontRef::new(bytes).ok()),
        used: [BTreeMap::new(), BTreeMap::new()],
        content: Content::new(),
    };
    for (sheet, [page, content]) in sheets.iter().zip(&pages) {
        let (width, height) = (sheet.width * POINTS, sheet.height * POINTS);
        let mut leaf = pdf.page(*page);
        leaf.parent(tree)
            .media_box(Rect::new(0.0, 0.0, float(width), float(height)))
            .contents(*content);
        let mut resources = leaf.resources();
        let mut faces = resources.fonts();
        for ((name, ..), refs) in FACES.iter().zip(&fonts) {
            faces.pair(Name(name.as_bytes()), refs[0]);
        }
        faces.finish();
        resources.ext_g_states().pair(Name(b"Swept"), state);
        resources.finish();
        leaf.finish();
        let drawn = writer.page(sheet, height);
        let packed = compress_to_vec_zlib(&drawn, LEVEL);
        pdf.stream(*content, &packed).filter(Filter::FlateDecode);
    }
    for (index, refs) in fonts.iter().enumerate() {
        font(&mut pdf, index, *refs, &writer);
    }
    pdf.finish()
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "paper needs no more than single precision"
)]
fn float(x: f64) -> f32 {
    if x.is_finite() { x as f32 } else { 0.0 }
}

/// Draws pages, and keeps which letters they use.
struct Writer<'f> {
    faces: [Option<FontRef<'f>>; 2],
    /// Glyph numbers to characters, by weight.
    used: [BTreeMap<u16, char>; 2],
    content: Content,
}

impl Writer<'_> {
    fn page(&mut self, sheet: &Sheet, height: f64) -> Vec<u8> {
        self.content = Content::new();
        // Millimetres from the upper left corner, y down.
        let k = float(POINTS);
        self.content
            .transform([k, 0.0, 0.0, -k, 0.0, float(height)])
            .set_line_join(LineJoinStyle::RoundJoin);
        for mark in &sheet.marks {
            self.mark(mark);
        }
        std::mem::replace(&mut self.content, Content::new())
            .finish()
            .into_vec()
    }

    fn mark(&mut self, mark: &Mark) {
        match mark {
            Mark::Figure(figure) => self.figure(figure),
            Mark::Ring(ring) => self.ring(ring),
            Mark::Line(line) => self.line(line),
            Mark::Group(group) => {
                if let Some(Frame { x, y, w, h }) = group.clip {
                    self.content.save_state();
                    self.content
                        .rect(float(x), float(y), float(w), float(h))
                        .clip_nonzero()
                        .end_path();
                }
                for mark in &group.marks {
                    self.mark(mark);
                }
                if group.clip.is_some() {
                    self.content.restore_state();
                }
            }
        }
    }

    fn figure(&mut self, figure: &Figure) {
        let mut any = false;
        let paint = self.pens(figure.stroke.as_ref(), figure.fill);
        for contour in &figure.contours {
            let mut spots = contour
                .iter()
                .filter(|s| s[0].is_finite() && s[1].is_finite());
            let Some(first) = spots.next() else { continue };
            any = true;
            self.content.move_to(float(first[0]), float(first[1]));
            for spot in spots {
                self.content.line_to(float(spot[0]), float(spot[1]));
            }
            if figure.closed {
                self.content.close_path();
            }
        }
        self.paint(if any { paint } else { (false, false) });
    }

    fn ring(&mut self, ring: &Ring) {
        let paint = self.pens(ring.stroke.as_ref(), ring.fill);
        let ([x, y], r) = (ring.centre, ring.radius.max(0.0));
        let at = |a: f64, b: f64| [float(x + a * r), float(y + b * r)];
        let [fx, fy] = at(1.0, 0.0);
        self.content.move_to(fx, fy);
        for (one, two, end) in [
            ([1.0, ARC], [ARC, 1.0], [0.0, 1.0]),
            ([-ARC, 1.0], [-1.0, ARC], [-1.0, 0.0]),
            ([-1.0, -ARC], [-ARC, -1.0], [0.0, -1.0]),
            ([ARC, -1.0], [1.0, -ARC], [1.0, 0.0]),
        ] {
            let [ax, ay] = at(one[0], one[1]);
            let [bx, by] = at(two[0], two[1]);
            let [cx, cy] = at(end[0], end[1]);
            self.content.cubic_to(ax, ay, bx, by, cx, cy);
        }
        self.content.close_path();
        self.paint(paint);
    }

    /// Sets inks and line for a path; whether it is stroked and filled.
    fn pens(&mut self, stroke: Option<&Stroke>, fill: Option<Ink>) -> (bool, bool) {
        self.content.save_state();
        if let Some(stroke) = stroke {
            let [r, g, b] = colour(stroke.ink);
            let round = stroke.pattern == Pattern::Dots;
            self.content
                .set_stroke_rgb(r, g, b)
                .set_line_width(float(stroke.width))
                .set_line_cap(if round {
                    LineCapStyle::RoundCap
                } else {
                    LineCapStyle::ButtCap
                })
                .set_dash_pattern(stroke.dashes().into_iter().map(float), 0.0);
        }
        if let Some(fill) = fill {
            let [r, g, b] = colour(fill);
            self.content.set_fill_rgb(r, g, b);
            if fill.opacity() < 1.0 {
                self.content.set_parameters(Name(b"Swept"));
            }
        }
        (stroke.is_some(), fill.is_some())
    }

    /// Ends a path that [`Self::pens`] began.
    fn paint(&mut self, (stroked, filled): (bool, bool)) {
        match (stroked, filled) {
            (true, true) => self.content.fill_even_odd_and_stroke(),
            (true, false) => self.content.stroke(),
            (false, true) => self.content.fill_even_odd(),
            (false, false) => self.content.end_path(),
        };
        self.content.restore_state();
    }

    fn line(&mut self, line: &Line) {
        let index = usize::from(line.bold);
        let Some(face) = &self.faces[index] else {
            return;
        };
        let letters = face.charmap();
        let mut codes = Vec::new();
        for c in line.text.chars() {
            let glyph = letters
                .map(c)
                .and_then(|g| u16::try_from(g.to_u32()).ok())
                .unwrap_or(0);
            if glyph != 0 {
                self.used[index].entry(glyph).or_insert(c);
            }
            codes.extend(glyph.to_be_bytes());
        }
        let x = match line.anchor {
            Anchor::Start => line.at[0],
            Anchor::Middle | Anchor::End => line.frame().x,
        };
        if line.rim {
            self.content.save_state();
            let [r, g, b] = colour(Ink::Paper);
            self.content
                .set_stroke_rgb(r, g, b)
                .set_line_width(float(0.34 * line.size))
                .set_text_rendering_mode(pdf_writer::types::TextRenderingMode::Stroke);
            self.show(index, line.size, [x, line.at[1]], &codes);
            self.content.restore_state();
        }
        let [r, g, b] = colour(line.ink);
        self.content.set_fill_rgb(r, g, b);
        self.show(index, line.size, [x, line.at[1]], &codes);
    }

    fn show(&mut self, face: usize, size: f64, at: Spot, codes: &[u8]) {
        self.content
            .begin_text()
            .set_font(Name(FACES[face].0.as_bytes()), float(size))
            // The page's y points down, letters stand up.
            .set_text_matrix([1.0, 0.0, 0.0, -1.0, float(at[0]), float(at[1])])
            .show(Str(codes))
            .end_text();
    }
}

/// An ink on white paper.
fn colour(ink: Ink) -> [f32; 3] {
    if ink == Ink::Paper {
        return [1.0; 3];
    }
    let digits = ink.colour().trim_start_matches('#');
    let part = |i: usize| {
        let pair = digits.get(i..i + 2).unwrap_or("0");
        f32::from(u8::from_str_radix(pair, 16).unwrap_or(0)) / 255.0
    };
    [part(0), part(2), part(4)]
}

/// One weight of the typeface: composite font, its glyphs, its measures, its file, and the way back to characters.
fn font(pdf: &mut Pdf, index: usize, refs: [Ref; 5], writer: &Writer<'_>) {
    let [whole, glyphs, measures, file, back] = refs;
    let (_, bytes, name) = FACES[index];
    let name = Name(name.as_bytes());
    let system = SystemInfo {
        registry: Str(b"Adobe"),
        ordering: Str(b"Identity"),
        supplement: 0,
    };
    pdf.type0_font(whole)
        .base_font(name)
        .encoding_predefined(Name(b"Identity-H"))
        .descendant_font(glyphs)
        .to_unicode(back);
    let mut cid = pdf.cid_font(glyphs);
    cid.subtype(CidFontType::Type2)
        .base_font(name)
        .system_info(system)
        .font_descriptor(measures)
        .cid_to_gid_map_predefined(Name(b"Identity"));
    if let Some(face) = &writer.faces[index] {
        let advance = face.glyph_metrics(Size::new(1000.0), LocationRef::default());
        let mut widths = cid.widths();
        for &glyph in std::iter::once(&0).chain(writer.used[index].keys()) {
            let width = advance
                .advance_width(skrifa::GlyphId::from(glyph))
                .unwrap_or(1000.0);
            widths.same(glyph, glyph, width);
        }
        widths.finish();
    }
    cid.finish();
    let of = writer.faces[index]
        .as_ref()
        .map(|face| face.metrics(Size::new(1000.0), LocationRef::default()));
    let (up, down) = of
        .as_ref()
        .map_or((740.0, -220.0), |m| (m.ascent, m.descent));
    let capital = of.as_ref().and_then(|m| m.cap_height).unwrap_or(700.0);
    let bounds = of.as_ref().and_then(|m| m.bounds);
    let (left, right) = bounds.map_or((-200.0, 1200.0), |b| (b.x_min, b.x_max));
    pdf.font_descriptor(measures)
        .name(name)
        .flags(FontFlags::NON_SYMBOLIC)
        .bbox(Rect::new(left, down, right, up))
        .italic_angle(0.0)
        .ascent(up)
        .descent(down)
        .cap_height(capital)
        .stem_v(if index == 1 { 140.0 } else { 80.0 })
        .font_file2(file);
    let packed = compress_to_vec_zlib(bytes, LEVEL);
    let mut stream = pdf.stream(file, &packed);
    stream.filter(Filter::FlateDecode);
    stream.pair(
        Name(b"Length1"),
        i32::try_from(bytes.len()).unwrap_or(i32::MAX),
    );
    stream.finish();
    let mut map = UnicodeCmap::<u16>::new(Name(b"Letters"), system);
    for (&glyph, &c) in &writer.used[index] {
        map.pair(glyph, c);
    }
    let map = map.finish();
    pdf.cmap(back, map.as_slice())
        .name(Name(b"Letters"))
        .system_info(system);
}
