//! The whole drawing: the print with its marks on the left, the words on the right, the legend below.

use super::canvas::{Anchor, Canvas, INK, PAPER, QUIET, Weight, number};
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

/// Height of the advisory line under the print.
const ADVISORY_SIZE: f64 = 14.0;
/// Least and greatest height of the small print without marks.
const PLAIN_HEIGHT: (f64, f64) = (230.0, 430.0);

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
    let image = embed::data_address(print, settings.longest_side)?;
    let (nowhere, room_x, room_y) = Stage::fit(print, settings.longest_side, Point::default());
    let margins = marks::margins(&nowhere, proposal);
    let place = Point::new(GAP + margins.left, GAP + margins.above);
    let (stage, ..) = Stage::fit(print, settings.longest_side, place);
    let seen = view.field.and_then(|field| Seen::new(field, view.frame, &stage));

    let shown = marks::shown(&stage, proposal, seen.is_some());
    let left_width = margins.left + room_x + margins.right;
    let mut texts = Canvas::new();
    let under = advisory_under(&mut texts, GAP + 0.5 * left_width, left_width, place.y + room_y + margins.below);
    let legend_at = Point::new(GAP, under + 18.0);
    let legend_height = legend::legend(&mut texts, &shown, &view.overlays, legend_at, left_width);
    let words_at = Point::new(GAP + left_width + 1.4 * GAP, GAP);
    let words_height = panel::column(&mut texts, print, proposal, settings, stage.length(1.0), words_at);
    let (left_bottom, right_bottom) = (legend_at.y + legend_height, words_at.y + words_height);

    let mut bottom = left_bottom.max(right_bottom);
    if shown.flow || shown.cores + shown.deltas > 0 || !view.overlays.is_empty() {
        // The shorter column has room for the print without marks.
        let (at, room) = if right_bottom <= left_bottom {
            (Point::new(words_at.x, right_bottom + GAP), panel::WIDTH)
        } else {
            (Point::new(GAP, left_bottom + GAP), left_width)
        };
        bottom = bottom.max(plain_print(&mut texts, &stage, at, room, bottom));
    }
    let mut canvas = Canvas::new();
    let (width, height) = (words_at.x + panel::WIDTH + GAP, bottom + GAP);
    canvas.rect(Point::new(0.0, 0.0), width, height, &format!("fill=\"{PAPER}\""));
    paint_print(&mut canvas, &stage, &image);
    paint_marks(&mut canvas, &stage, seen.as_ref(), proposal, view, settings);
    canvas.append(texts);
    Ok(document(&canvas.into_text(), proposal, settings, width, height))
}

/// Flow, points and shown working, from the faintest to what must not be hidden.
fn paint_marks(
    canvas: &mut Canvas,
    stage: &Stage,
    seen: Option<&Seen<'_>>,
    proposal: &Proposal,
    view: &PictureView<'_>,
    settings: &PictureSettings,
) {
    if let Some(seen) = seen {
        flow::foreground(canvas, seen);
        flow::strokes(canvas, seen, proposal.field.map(|f| f.ridge_period_px), settings);
    }
    let busy = overlay::tick_places(stage, &view.frame, &view.overlays);
    let names = marks::points(canvas, stage, proposal, &busy);
    overlay::paint(canvas, stage, &view.frame, &view.overlays);
    canvas.append(names);
    marks::off_print(canvas, stage, proposal);
}

/// The advisory line under the print, in as many lines as its width needs; returns its lower end.
fn advisory_under(canvas: &mut Canvas, middle: f64, width: f64, top: f64) -> f64 {
    let mut y = top + 6.0;
    for line in words::wrap(ADVISORY, ADVISORY_SIZE, width / words::BOLD) {
        y += 1.32 * ADVISORY_SIZE;
        canvas.words(Point::new(middle, y), ADVISORY_SIZE, Weight::Bold, INK, Anchor::Middle, &line);
    }
    y + 6.0
}

/// The print once more, small and without marks, so that nobody has to guess what a mark covers. Returns its lower end.
fn plain_print(canvas: &mut Canvas, stage: &Stage, at: Point, room: f64, bottom: f64) -> f64 {
    let top = at.y + 24.0;
    let tall = (bottom - top).clamp(PLAIN_HEIGHT.0, PLAIN_HEIGHT.1);
    let scale = (tall / stage.height).min(room / stage.width).min(1.0);
    canvas.words(Point::new(at.x, at.y + 13.0), 13.0, Weight::Bold, QUIET, Anchor::Start, "THE PRINT WITHOUT MARKS");
    canvas.raw(&format!(
        "<use xlink:href=\"#print\" transform=\"translate({} {}) scale({scale:.4}) translate({} {})\"/>",
        number(at.x),
        number(top),
        number(-stage.corner.x),
        number(-stage.corner.y)
    ));
    let edge = "fill=\"none\" stroke=\"#777\" stroke-width=\"1\"";
    canvas.rect(Point::new(at.x, top), stage.width * scale, stage.height * scale, edge);
    top + stage.height * scale
}

/// The print in its frame, and the clip that keeps marks on it.
pub(super) fn paint_print(canvas: &mut Canvas, stage: &Stage, image: &str) {
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
        (Some(reading), Status::Proposed) => {
            format!("{}, {}", words::reading(reading), words::percent(reading.probability))
        }
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
