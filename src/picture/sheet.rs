//! The whole drawing: the print with its marks on the left, the words on the right, the legend below.

use super::canvas::{Anchor, Canvas, INK, PAPER, Weight, number};
use super::flow::Seen;
use super::stage::Stage;
use super::{PictureSettings, PictureView, embed, flow, legend, marks, overlay, panel, words};
use crate::error::Error;
use crate::geometry::Point;
use crate::impression::Impression;
use crate::proposal::{ADVISORY, Proposal, Status};
use std::fmt::Write as _;

/// Free border of the sheet and between its parts, drawing pixels.
const GAP: f64 = 20.0;

/// Draws and joins the parts.
pub(super) fn compose(
    print: &Impression,
    proposal: &Proposal,
    view: &PictureView<'_>,
    settings: &PictureSettings,
) -> Result<String, Error> {
    if print.width() == 0 || print.height() == 0 {
        return Err(Error::bad_value("picture", "the print has no pixels"));
    }
    let place = Point::new(GAP + marks::MARGIN, GAP + marks::MARGIN);
    let (stage, room_x, room_y) = Stage::fit(print, settings.longest_side, place);
    let image = embed::data_address(print, settings.longest_side)?;
    let seen = view.field.and_then(|field| Seen::new(field, view.frame, &stage));

    let left_width = room_x + 2.0 * marks::MARGIN;
    let words_at = Point::new(GAP + left_width + GAP, GAP + marks::MARGIN - 12.0);
    let (words, words_height) = panel::column(print, proposal, settings, words_at);
    let legend_at = Point::new(GAP + marks::MARGIN, place.y + room_y + marks::MARGIN + 26.0);
    let (signs, legend_height) = legend::legend(proposal, view, seen.is_some(), legend_at, room_x);
    let width = words_at.x + panel::WIDTH + GAP;
    let height = (legend_at.y + legend_height).max(words_at.y + words_height) + GAP;

    let mut canvas = Canvas::new();
    canvas.rect(Point::new(0.0, 0.0), width, height, &format!("fill=\"{PAPER}\""));
    paint_print(&mut canvas, &stage, &image);
    if let Some(seen) = &seen {
        flow::foreground(&mut canvas, seen);
        flow::strokes(&mut canvas, seen, settings);
    }
    overlay::paint(&mut canvas, &stage, &view.frame, &view.overlays);
    marks::points(&mut canvas, &stage, proposal);
    marks::off_print(&mut canvas, &stage, proposal);
    let under = Point::new(GAP + 0.5 * left_width, place.y + room_y + marks::MARGIN + 8.0);
    canvas.words(under, 14.0, Weight::Bold, INK, Anchor::Middle, ADVISORY);
    canvas.append(signs);
    canvas.append(words);
    Ok(document(&canvas.into_text(), proposal, settings, width, height))
}

/// The print in its frame, and the clip that keeps marks on it.
fn paint_print(canvas: &mut Canvas, stage: &Stage, image: &str) {
    let Stage { corner, width, height, .. } = *stage;
    canvas.raw("<defs><clipPath id=\"print-edge\">");
    canvas.rect(corner, width, height, "");
    canvas.raw("</clipPath></defs>");
    canvas.raw(&format!(
        "<image id=\"print\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" xlink:href=\"{image}\"/>",
        number(corner.x),
        number(corner.y),
        number(width),
        number(height)
    ));
    canvas.rect(corner, width, height, "fill=\"none\" stroke=\"#777\" stroke-width=\"1\"");
}

/// The document around the parts, with a title and a description for readers that cannot see it.
fn document(body: &str, proposal: &Proposal, settings: &PictureSettings, width: f64, height: f64) -> String {
    let verdict = match (&proposal.pattern, proposal.status) {
        (Some(reading), Status::Proposed) => format!("{}, {}", words::reading(reading), words::percent(reading.probability)),
        _ => "abstained".to_owned(),
    };
    let name = words::shorten(&proposal.source, settings.name_length);
    let mut text = String::with_capacity(body.len() + 1024);
    let _ = write!(
        text,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" width=\"{w}\" height=\"{h}\" \
         viewBox=\"0 0 {w} {h}\" font-family=\"DejaVu Sans, Verdana, Arial, sans-serif\">\n<title>{}</title>\n<desc>{}</desc>\n{body}</svg>\n",
        super::canvas::escape(&name),
        super::canvas::escape(&format!("{verdict}. {ADVISORY}")),
        w = number(width.ceil()),
        h = number(height.ceil()),
    );
    text
}
