//! SVG as text: numbers short and the same everywhere, text harmless, looks as presentation attributes.
//! Promise: no style element, no style attribute, no script; what is drawn takes the page's color.

use std::fmt::Write;

use crate::text::{SIZE, escape};

/// A picture being written.
#[derive(Default)]
pub(crate) struct Svg {
    text: String,
}

/// How a line looks.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Stroke {
    width: f64,
    dashed: bool,
    filled: bool,
}

impl Stroke {
    /// A wire of that width.
    pub(crate) fn wire(width: f64) -> Self {
        Self { width, dashed: false, filled: false }
    }

    /// The outline of a sign.
    pub(crate) fn sign() -> Self {
        Self::wire(1.6)
    }

    /// A sign that is filled.
    pub(crate) fn filled() -> Self {
        Self { filled: true, ..Self::sign() }
    }

    /// A mechanical link.
    pub(crate) fn link() -> Self {
        Self { dashed: true, ..Self::wire(1.2) }
    }
}

impl Svg {
    /// Writes text as it is.
    pub(crate) fn raw(&mut self, text: &str) {
        self.text.push_str(text);
    }

    /// Writes text made harmless.
    pub(crate) fn say(&mut self, text: &str) {
        self.text.push_str(&escape(text));
    }

    /// A line.
    pub(crate) fn line(&mut self, x1: f64, y1: f64, x2: f64, y2: f64, stroke: Stroke) {
        if x1 == x2 && y1 == y2 {
            return;
        }
        let (x1, y1, x2, y2) = (short(x1), short(y1), short(x2), short(y2));
        let _ = write!(self.text, r#"<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}""#);
        self.finish(stroke);
    }

    /// A circle.
    pub(crate) fn circle(&mut self, x: f64, y: f64, radius: f64, stroke: Stroke) {
        let _ = write!(self.text, r#"<circle cx="{}" cy="{}" r="{}""#, short(x), short(y), short(radius));
        self.finish(stroke);
    }

    /// A rectangle.
    pub(crate) fn rect(&mut self, x: f64, y: f64, width: f64, height: f64, stroke: Stroke) {
        let (x, y, width, height) = (short(x), short(y), short(width), short(height));
        let _ = write!(self.text, r#"<rect x="{x}" y="{y}" width="{width}" height="{height}""#);
        self.finish(stroke);
    }

    /// A path of the drawing's own making.
    pub(crate) fn path(&mut self, path: &str, stroke: Stroke) {
        let _ = write!(self.text, r#"<path d="{path}""#);
        self.finish(stroke);
    }

    fn finish(&mut self, stroke: Stroke) {
        let _ = write!(self.text, r#" stroke-width="{}""#, short(stroke.width));
        if stroke.dashed {
            self.text.push_str(r#" stroke-dasharray="5 4""#);
        }
        if stroke.filled {
            self.text.push_str(r#" fill="currentColor""#);
        }
        self.text.push_str(r#" vector-effect="non-scaling-stroke"/>"#);
    }

    /// The letter in a sign.
    pub(crate) fn letter(&mut self, x: f64, y: f64, letter: &str) {
        let _ = write!(
            self.text,
            r#"<text x="{}" y="{}" text-anchor="middle" font-weight="bold" fill="currentColor" stroke="none">{}</text>"#,
            short(x),
            short(y),
            escape(letter)
        );
    }

    /// A line of text from that place, with a class and more attributes.
    pub(crate) fn words(&mut self, x: f64, baseline: f64, class: &str, more: &str, words: &str) {
        let _ = write!(
            self.text,
            r#"<text x="{}" y="{}" class="{class}"{more}>{}</text>"#,
            short(x),
            short(baseline),
            escape(words)
        );
    }

    /// What was written.
    pub(crate) fn done(self) -> String {
        self.text
    }
}

/// A number with at most one decimal.
pub(crate) fn short(value: f64) -> String {
    let tenths = libm::round(value * 10.0) / 10.0;
    // Zero has no sign.
    format!("{}", tenths + 0.0)
}

/// From the middle of a line of text down to its baseline.
pub(crate) const DROP: f64 = SIZE * 0.35;
