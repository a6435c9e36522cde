//! The display list: what a sheet shows, as marks at places on paper, before any file format.
//!
//! Lengths are millimetres of paper, x to the right and y down from the sheet's upper left corner.

use super::ink::{Ink, Stroke};
use super::lettering;

/// A place on paper \[mm\].
pub type Spot = [f64; 2];

/// An upright rectangle on paper \[mm\].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Left edge.
    pub x: f64,
    /// Upper edge.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Frame {
    /// A frame from its upper left corner and size.
    pub const fn new(x: f64, y: f64, w: f64, h: f64) -> Self {
        Self { x, y, w, h }
    }

    /// The least frame that holds all `spots`; `None` without any.
    pub fn around<'a>(spots: impl IntoIterator<Item = &'a Spot>) -> Option<Self> {
        let mut spots = spots.into_iter();
        let &[x, y] = spots.next()?;
        let (mut low, mut high) = ([x, y], [x, y]);
        for s in spots {
            for i in 0..2 {
                low[i] = low[i].min(s[i]);
                high[i] = high[i].max(s[i]);
            }
        }
        Some(Self::new(
            low[0],
            low[1],
            high[0] - low[0],
            high[1] - low[1],
        ))
    }

    /// Right edge.
    pub fn right(&self) -> f64 {
        self.x + self.w
    }

    /// Lower edge.
    pub fn bottom(&self) -> f64 {
        self.y + self.h
    }

    /// The frame with `by` more on every side.
    pub fn grown(&self, by: f64) -> Self {
        Self::new(
            self.x - by,
            self.y - by,
            self.w + 2.0 * by,
            self.h + 2.0 * by,
        )
    }

    /// Whether two frames share more than an edge.
    pub fn overlaps(&self, other: &Self) -> bool {
        self.x < other.right()
            && other.x < self.right()
            && self.y < other.bottom()
            && other.y < self.bottom()
    }

    /// Whether `inner` lies within.
    pub fn holds(&self, inner: &Self) -> bool {
        inner.x >= self.x
            && inner.y >= self.y
            && inner.right() <= self.right()
            && inner.bottom() <= self.bottom()
    }

    /// Whether a spot lies within.
    pub fn holds_spot(&self, s: Spot) -> bool {
        s[0] >= self.x && s[0] <= self.right() && s[1] >= self.y && s[1] <= self.bottom()
    }

    /// The spot of the frame that is nearest to `s`.
    pub fn nearest(&self, s: Spot) -> Spot {
        [
            s[0].clamp(self.x, self.right()),
            s[1].clamp(self.y, self.bottom()),
        ]
    }
}

/// Where a line of text stands relative to its spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Begins there.
    Start,
    /// Is centred there.
    Middle,
    /// Ends there.
    End,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Where its baseline is anchored.
    pub at: Spot,
    /// What it says.
    pub text: String,
    /// Height of the type \[mm\].
    pub size: f64,
    /// Whether in the bold weight.
    pub bold: bool,
    /// Its ink.
    pub ink: Ink,
    /// How it is anchored.
    pub anchor: Anchor,
    /// Whether a rim of paper keeps it clear of what it stands on.
    pub rim: bool,
}

impl Line {
    /// A plain line of text that begins at `at`.
    pub fn new(at: Spot, size: f64, text: impl Into<String>) -> Self {
        Self {
            at,
            text: lettering::clean(&text.into()),
            size,
            bold: false,
            ink: Ink::Black,
            anchor: Anchor::Start,
            rim: false,
        }
    }

    /// In the bold weight.
    pub fn bold(mut self) -> Self {
        self.bold = true;
        self
    }

    /// In another ink.
    pub fn ink(mut self, ink: Ink) -> Self {
        self.ink = ink;
        self
    }

    /// Anchored otherwise.
    pub fn anchor(mut self, anchor: Anchor) -> Self {
        self.anchor = anchor;
        self
    }

    /// With a rim of paper.
    pub fn rim(mut self) -> Self {
        self.rim = true;
        self
    }

    /// The frame that the letters fill.
    pub fn frame(&self) -> Frame {
        let w = lettering::width(&self.text, self.size, self.bold);
        let x = match self.anchor {
            Anchor::Start => self.at[0],
            Anchor::Middle => self.at[0] - 0.5 * w,
            Anchor::End => self.at[0] - w,
        };
        let (up, down) = (lettering::RISE * self.size, lettering::DROP * self.size);
        Frame::new(x, self.at[1] - up, w, up + down)
    }
}

/// A filled or stroked figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// Its contours; inner ones cut holes (even-odd).
    pub contours: Vec<Vec<Spot>>,
    /// Whether the contours are closed.
    pub closed: bool,
    /// Stroke, if any.
    pub stroke: Option<Stroke>,
    /// Fill, if any.
    pub fill: Option<Ink>,
}

/// A disc or ring.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ring {
    /// Its middle.
    pub centre: Spot,
    /// Its radius \[mm\].
    pub radius: f64,
    /// Stroke, if any.
    pub stroke: Option<Stroke>,
    /// Fill, if any.
    pub fill: Option<Ink>,
}

/// Marks that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Group {
    /// Its id, unique on the sheet.
    pub id: String,
    /// What it is, for those who cannot see it.
    pub title: Option<String>,
    /// What lies outside is cut off.
    pub clip: Option<Frame>,
    /// What it holds, in the order of drawing.
    pub marks: Vec<Mark>,
}

/// One mark.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// A figure.
    Figure(Figure),
    /// A disc or ring.
    Ring(Ring),
    /// A line of text.
    Line(Line),
    /// A group.
    Group(Group),
}

impl Mark {
    /// An open line.
    pub fn line(spots: Vec<Spot>, stroke: Stroke) -> Self {
        Self::Figure(Figure {
            contours: vec![spots],
            closed: false,
            stroke: Some(stroke),
            fill: None,
        })
    }

    /// Several open lines in one stroke.
    pub fn lines(contours: Vec<Vec<Spot>>, stroke: Stroke) -> Self {
        Self::Figure(Figure {
            contours,
            closed: false,
            stroke: Some(stroke),
            fill: None,
        })
    }

    /// A closed figure.
    pub fn area(contours: Vec<Vec<Spot>>, stroke: Option<Stroke>, fill: Option<Ink>) -> Self {
        Self::Figure(Figure {
            contours,
            closed: true,
            stroke,
            fill,
        })
    }

    /// An upright rectangle.
    pub fn frame(f: Frame, stroke: Option<Stroke>, fill: Option<Ink>) -> Self {
        let (r, b) = (f.right(), f.bottom());
        Self::area(
            vec![vec![[f.x, f.y], [r, f.y], [r, b], [f.x, b]]],
            stroke,
            fill,
        )
    }

    /// The spots that bound the mark's figures and rings; text has none.
    pub fn spots(&self) -> Vec<Spot> {
        match self {
            Self::Figure(figure) => figure.contours.iter().flatten().copied().collect(),
            Self::Ring(Ring {
                centre: [x, y],
                radius: r,
                ..
            }) => {
                vec![[x - r, y - r], [x + r, y + r]]
            }
            Self::Line(_) => Vec::new(),
            Self::Group(group) => group.marks.iter().flat_map(Self::spots).collect(),
        }
    }

    /// The mark, moved over the paper.
    pub fn moved(mut self, by: Spot) -> Self {
        let shift = |s: &mut Spot| *s = [s[0] + by[0], s[1] + by[1]];
        match &mut self {
            Self::Figure(figure) => figure.contours.iter_mut().flatten().for_each(shift),
            Self::Ring(ring) => shift(&mut ring.centre),
            Self::Line(line) => shift(&mut line.at),
            Self::Group(group) => {
                if let Some(clip) = &mut group.clip {
                    (clip.x, clip.y) = (clip.x + by[0], clip.y + by[1]);
                }
                let marks = std::mem::take(&mut group.marks);
                group.marks = marks.into_iter().map(|mark| mark.moved(by)).collect();
            }
        }
        self
    }

    /// A group with a title.
    pub fn group(id: impl Into<String>, title: impl Into<String>, marks: Vec<Self>) -> Self {
        Self::Group(Group {
            id: id.into(),
            title: Some(title.into()),
            clip: None,
            marks,
        })
    }
}

/// A whole sheet.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// Width \[mm\].
    pub width: f64,
    /// Height \[mm\].
    pub height: f64,
    /// What the sheet is called.
    pub title: String,
    /// What it shows, in a sentence or two, for those who cannot see it.
    pub description: String,
    /// Its marks, in the order of drawing.
    pub marks: Vec<Mark>,
}

impl Sheet {
    /// Every line of text on the sheet, in the order of drawing.
    pub fn lines(&self) -> Vec<&Line> {
        fn walk<'s>(marks: &'s [Mark], found: &mut Vec<&'s Line>) {
            for mark in marks {
                match mark {
                    Mark::Line(line) => found.push(line),
                    Mark::Group(group) => walk(&group.marks, found),
                    Mark::Figure(_) | Mark::Ring(_) => {}
                }
            }
        }
        let mut found = Vec::new();
        walk(&self.marks, &mut found);
        found
    }
}
