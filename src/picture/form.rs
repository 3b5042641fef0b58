//! A form laid over the scan of a card, to check where the blocks were found.

use super::canvas::{Anchor, Canvas, INK, PAPER, Weight, number, path_through};
use super::embed;
use crate::error::Error;
use crate::geometry::{Frame, Point};
use crate::impression::Impression;
use crate::proposal::ADVISORY;

/// Longest side of the scan in the drawing.
const SIDE: f64 = 1100.0;
/// Height of the words above the scan, and of a block's name.
const HEAD: f64 = 56.0;
const NAME: f64 = 17.0;
/// Inks of lines that were seen, of lines that were not, and of what was cut out.
const SEEN_INK: &str = "#9e3700";
const UNSEEN_INK: &str = "#7a7a7a";
const CUT_INK: &str = "#0a4f8f";

/// A form on a scan, in pixels of the scan.
#[derive(Debug, Clone, Default)]
pub struct FormOverlay {
    /// What was found and how sure it is, in words.
    pub title: String,
    /// Printed lines, and whether each was seen.
    pub lines: Vec<([Point; 2], bool)>,
    /// What is cut out: its name and its corners, clockwise from the print's own top left.
    pub cuts: Vec<(String, [Point; 4])>,
}

/// Draws a form over its scan: a complete SVG document.
///
/// # Errors
/// When the scan has no pixels.
pub fn form_svg(scan: &Impression, form: &FormOverlay) -> Result<String, Error> {
    if scan.width() == 0 || scan.height() == 0 {
        return Err(Error::bad_value("picture", "the scan has no pixels"));
    }
    let scale = SIDE / scan.width().max(scan.height()) as f64;
    let (width, height) = (scan.width() as f64 * scale, scan.height() as f64 * scale);
    // A pixel's centre lies half a pixel inside its edge.
    let frame = Frame::new(scale, 0.0, 0.5 * scale, HEAD + 0.5 * scale);
    let image = embed::thumbnail(scan, SIDE)?;
    let mut canvas = Canvas::new();
    canvas.rect(Point::new(0.0, 0.0), width, HEAD + height, &format!("fill=\"{PAPER}\""));
    canvas.words(Point::new(10.0, 22.0), 16.0, Weight::Bold, INK, Anchor::Start, &form.title);
    let legend =
        "full lines: seen on the scan; dashed: expected, not seen; thick top edges: what is cut out, with its finger";
    canvas.words(Point::new(10.0, 40.0), 12.0, Weight::Plain, INK, Anchor::Start, &format!("{legend}. {ADVISORY}"));
    canvas.raw(&format!(
        "<image x=\"0\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" xlink:href=\"{image}\"/>",
        number(HEAD),
        number(width),
        number(height)
    ));
    for ([from, to], seen) in &form.lines {
        let data = path_through(&[frame.apply(*from), frame.apply(*to)], false);
        let (ink, style) = if *seen { (SEEN_INK, "") } else { (UNSEEN_INK, " stroke-dasharray=\"6 5\"") };
        canvas.path(&data, &format!("fill=\"none\" stroke=\"{ink}\" stroke-width=\"1.4\"{style}"));
    }
    for (name, corners) in &form.cuts {
        let corners = corners.map(|p| frame.apply(p));
        canvas.path(&path_through(&corners, true), &format!("fill=\"none\" stroke=\"{CUT_INK}\" stroke-width=\"1\""));
        canvas.path(
            &path_through(&corners[..2], false),
            &format!("fill=\"none\" stroke=\"{CUT_INK}\" stroke-width=\"4\""),
        );
        let middle = corners[0].lerp(corners[2], 0.5);
        canvas.words_on_print(middle, NAME, CUT_INK, Anchor::Middle, name);
    }
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" width=\"{w}\" height=\"{h}\" \
         viewBox=\"0 0 {w} {h}\" font-family=\"DejaVu Sans, Verdana, Arial, sans-serif\">{}</svg>\n",
        canvas.into_text(),
        w = number(width.ceil()),
        h = number((HEAD + height).ceil()),
    ))
}
