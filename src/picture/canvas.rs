//! A growing piece of SVG text: numbers, escaping, and the few elements the pictures are made of.

use crate::geometry::Point;
use std::fmt::Write as _;

/// Ink of text and of neutral lines.
pub(super) const INK: &str = "#1a1a1a";
/// Ink of secondary text.
pub(super) const QUIET: &str = "#555";
/// Paper of the sheet and of the halo around marks.
pub(super) const PAPER: &str = "#fff";

/// SVG elements in the order in which they are painted.
#[derive(Debug, Clone, Default)]
pub(super) struct Canvas {
    text: String,
}

/// Weight of a line of text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Weight {
    /// Running text.
    Plain,
    /// Headings and names of marks.
    Bold,
}

impl Canvas {
    pub(super) fn new() -> Self {
        Self::default()
    }

    pub(super) fn into_text(self) -> String {
        self.text
    }

    /// Adds markup that is already well-formed.
    pub(super) fn raw(&mut self, markup: &str) {
        self.text.push_str(markup);
        self.text.push('\n');
    }

    pub(super) fn append(&mut self, other: Canvas) {
        self.text.push_str(&other.text);
    }

    /// Opens a group; `attributes` are written as they stand.
    pub(super) fn open(&mut self, attributes: &str) {
        let _ = writeln!(self.text, "<g {attributes}>");
    }

    pub(super) fn close(&mut self) {
        self.text.push_str("</g>\n");
    }

    /// The words a viewer shows when the pointer rests on the open group.
    pub(super) fn hint(&mut self, words: &str) {
        let _ = writeln!(self.text, "<title>{}</title>", escape(words));
    }

    /// One line of text with its left end (or middle, see `anchor`) on the base line at `at`.
    pub(super) fn words(&mut self, at: Point, size: f64, weight: Weight, ink: &str, anchor: Anchor, words: &str) {
        let bold = if weight == Weight::Bold { " font-weight=\"bold\"" } else { "" };
        let _ = writeln!(
            self.text,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" fill=\"{ink}\"{bold}{}>{}</text>",
            number(at.x),
            number(at.y),
            number(size),
            anchor.attribute(),
            escape(words)
        );
    }

    /// Text with a paper-coloured rim, for use on top of a print.
    pub(super) fn words_on_print(&mut self, at: Point, size: f64, ink: &str, anchor: Anchor, words: &str) {
        let _ = writeln!(
            self.text,
            "<text x=\"{}\" y=\"{}\" font-size=\"{}\" font-weight=\"bold\" fill=\"{ink}\" stroke=\"{PAPER}\" \
             stroke-width=\"{}\" stroke-linejoin=\"round\" paint-order=\"stroke\"{}>{}</text>",
            number(at.x),
            number(at.y),
            number(size),
            number(size * 0.3),
            anchor.attribute(),
            escape(words)
        );
    }

    pub(super) fn rect(&mut self, at: Point, width: f64, height: f64, attributes: &str) {
        let _ = writeln!(
            self.text,
            "<rect x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" {attributes}/>",
            number(at.x),
            number(at.y),
            number(width),
            number(height)
        );
    }

    pub(super) fn circle(&mut self, centre: Point, radius: f64, attributes: &str) {
        let _ = writeln!(
            self.text,
            "<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {attributes}/>",
            number(centre.x),
            number(centre.y),
            number(radius)
        );
    }

    pub(super) fn path(&mut self, data: &str, attributes: &str) {
        let _ = writeln!(self.text, "<path d=\"{data}\" {attributes}/>");
    }

    /// The same line twice: a broad one in paper colour, then the mark itself, so that it shows on ridge and valley alike.
    pub(super) fn haloed(&mut self, data: &str, width: f64, ink: &str, style: &str) {
        self.path(
            data,
            &format!(
                "fill=\"none\" stroke=\"{PAPER}\" stroke-width=\"{}\" stroke-linecap=\"round\" stroke-linejoin=\"round\"",
                number(width + 2.6)
            ),
        );
        self.path(
            data,
            &format!(
                "fill=\"none\" stroke=\"{ink}\" stroke-width=\"{}\" stroke-linejoin=\"round\" {style}",
                number(width)
            ),
        );
    }
}

/// Which end of a text its place fixes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Anchor {
    Start,
    Middle,
}

impl Anchor {
    fn attribute(self) -> &'static str {
        match self {
            Self::Start => "",
            Self::Middle => " text-anchor=\"middle\"",
        }
    }
}

/// A coordinate with one decimal: a tenth of a drawing pixel is finer than any eye, and short numbers keep files small.
pub(super) fn number(value: f64) -> String {
    if !value.is_finite() {
        return "0".to_owned();
    }
    let mut text = format!("{value:.1}");
    if text.ends_with(".0") {
        text.truncate(text.len() - 2);
    }
    if text == "-0" { "0".to_owned() } else { text }
}

/// A path through `points`, open or closed.
pub(super) fn path_through(points: &[Point], closed: bool) -> String {
    let mut data = String::new();
    for (i, p) in points.iter().enumerate() {
        let _ = write!(data, "{}{} {}", if i == 0 { "M" } else { "L" }, number(p.x), number(p.y));
    }
    if closed && !data.is_empty() {
        data.push('Z');
    }
    data
}

/// Text that is safe inside an XML or HTML element and inside a double-quoted attribute.
///
/// Characters that XML 1.0 forbids, and the invisible ones that reorder or hide text (a file name could use them to
/// look like another), become the replacement character.
pub(crate) fn escape(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\t' | '\n' | '\r' => safe.push(' '),
            c if is_hidden(c) => safe.push('\u{FFFD}'),
            c => safe.push(c),
        }
    }
    safe
}

/// Control, reordering and zero-width characters, and those outside XML 1.0.
fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{200B}'..='\u{200F}' | '\u{2028}'..='\u{202E}' | '\u{2060}'..='\u{206F}' | '\u{061C}' | '\u{FEFF}')
        || matches!(c, '\u{FFFE}' | '\u{FFFF}')
}
