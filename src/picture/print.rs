//! The print with its marks and nothing else, for sheets that bear the words themselves.

use super::canvas::{Canvas, PAPER, number};
use super::stage::Stage;
use super::{PictureSettings, PictureView, embed, flow, marks, overlay, sheet};
use crate::error::Error;
use crate::geometry::Point;
use crate::impression::Impression;
use crate::proposal::{ADVISORY, Proposal};

/// Pixels of the embedded print to a drawing pixel: twice, for the printer.
const DETAIL: f64 = 2.0;

/// A complete SVG document of one print with its outline, cores, deltas and shown working; `side` is its longest side in
/// drawing pixels. Ridge flow is left out: small pictures are for the points.
///
/// # Errors
/// When the print has no pixels.
pub fn print_svg(print: &Impression, proposal: &Proposal, view: &PictureView<'_>, side: f64) -> Result<String, Error> {
    if print.width() == 0 || print.height() == 0 {
        return Err(Error::bad_value("picture", "the print has no pixels"));
    }
    let settings = PictureSettings { longest_side: side.clamp(200.0, 4000.0), ..PictureSettings::default() };
    let (stage, ..) = Stage::fit(print, settings.longest_side, Point::default());
    let image = embed::thumbnail(print, DETAIL * settings.longest_side)?;
    let mut canvas = Canvas::new();
    sheet::paint_print(&mut canvas, &stage, &image);
    if let Some(seen) = view.field.and_then(|field| flow::Seen::new(field, view.frame, &stage)) {
        flow::foreground(&mut canvas, &seen);
    }
    let busy = overlay::tick_places(&stage, &view.frame, &view.overlays);
    // The names of the points would cover a small print; the words beside it say how many there are.
    let _names = marks::points(&mut canvas, &stage, proposal, &busy);
    overlay::paint(&mut canvas, &stage, &view.frame, &view.overlays);
    Ok(format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" xmlns:xlink=\"http://www.w3.org/1999/xlink\" width=\"{w}\" height=\"{h}\" \
         viewBox=\"{x} {y} {w} {h}\" font-family=\"DejaVu Sans, Verdana, Arial, sans-serif\"><title>{}</title>\
         <rect x=\"{x}\" y=\"{y}\" width=\"{w}\" height=\"{h}\" fill=\"{PAPER}\"/>{}</svg>",
        super::canvas::escape(ADVISORY),
        canvas.into_text(),
        x = number(stage.corner.x),
        y = number(stage.corner.y),
        w = number(stage.width),
        h = number(stage.height),
    ))
}
