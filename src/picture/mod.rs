//! Pictures that explain a proposal.
//!
//! [`svg`] draws one self-contained SVG for one print: the print itself, the flow of its ridges, cores and deltas with
//! the radius that holds the true point with 95 % probability, what lies off the print, and the proposal in words with
//! its reasons. [`index_html`] makes one page over a folder of such pictures. Nothing is decided here: whatever a
//! picture says was read off the [`Proposal`], and the advisory line stands on every picture and page.
//!
//! The marks are told apart by shape and line style; colour only helps, so that a grey copy and a colour-blind reader
//! lose nothing. Every mark in a picture is explained in the legend below the print.
//!
//! ```
//! use recurve::picture::{PictureView, svg};
//! # use recurve::{Impression, Proposal};
//! # fn show(print: &Impression, proposal: &Proposal) -> Result<(), recurve::Error> {
//! // From the proposal alone: no flow and no outline, but every mark and every word.
//! let drawing = svg(print, proposal, &PictureView::default())?;
//! assert!(drawing.contains("Not an identification."));
//! # Ok(())
//! # }
//! ```

mod canvas;
mod embed;
mod flow;
mod form;
mod index;
mod legend;
mod marks;
mod overlay;
mod panel;
mod print;
mod sheet;
mod stage;
#[cfg(test)]
mod tests;
mod words;
mod working;

use crate::error::Error;
use crate::field::RidgeField;
use crate::geometry::Frame;
use crate::impression::Impression;
use crate::proposal::Proposal;

pub(crate) use canvas::escape;
pub use form::{FormOverlay, form_svg};
pub use index::{IndexEntry, index_html};
pub use overlay::{Overlay, Role, Shape};
pub use print::print_svg;
pub use working::working;

/// What a picture shows beyond the proposal. Everything may be left out.
#[derive(Debug, Clone, Default)]
pub struct PictureView<'a> {
    /// The ridge flow in pixels of the working image; without it neither flow nor outline are drawn.
    pub field: Option<&'a RidgeField>,
    /// From pixels of the working image to pixels of the original image.
    pub frame: Frame,
    /// Lines, ticks and labels that show how ridges were counted or traced, in pixels of the working image.
    pub overlays: Vec<Overlay>,
}

/// Sizes of a picture. Lengths are in pixels of the finished drawing, in which the print is at most
/// `longest_side` wide or high.
///
/// The defaults are our own layout, chosen by looking at prints of 190 x 170 to 1600 x 1000 pixels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PictureSettings {
    /// Longest side of the print in the drawing. Default 900; 200 to 4000.
    pub longest_side: f64,
    /// Least distance between neighbouring flow strokes. Default 30: one stroke for about three ridges of a rolled print
    /// of 800 pixels. On enlarged prints the strokes stand up to twice as far apart, so that ridges stay visible between
    /// them. 8 to 200.
    pub flow_spacing: f64,
    /// Most references that are written out; further ones are counted. Default 8; 1 to 50.
    pub references_shown: usize,
    /// Longest file name in characters before it is shortened in the middle. Default 96 (two lines); 16 to 400.
    pub name_length: usize,
}

impl Default for PictureSettings {
    fn default() -> Self {
        Self { longest_side: 900.0, flow_spacing: 30.0, references_shown: 8, name_length: 96 }
    }
}

impl PictureSettings {
    fn check(&self) -> Result<(), Error> {
        let within = |what: &str, value: f64, least: f64, most: f64| {
            if (least..=most).contains(&value) {
                Ok(())
            } else {
                Err(Error::bad_value(format!("picture {what}"), format!("{value} is not between {least} and {most}")))
            }
        };
        within("longest side", self.longest_side, 200.0, 4000.0)?;
        within("flow spacing", self.flow_spacing, 8.0, 200.0)?;
        within("references shown", self.references_shown as f64, 1.0, 50.0)?;
        within("name length", self.name_length as f64, 16.0, 400.0)
    }
}

/// Draws the picture of one print with the default sizes; see [`svg_with`].
///
/// # Errors
/// When the print has no pixels.
pub fn svg(print: &Impression, proposal: &Proposal, view: &PictureView<'_>) -> Result<String, Error> {
    svg_with(print, proposal, view, &PictureSettings::default())
}

/// Draws the picture of one print: a complete SVG document that needs no other file, font or script.
///
/// The same input gives the same bytes. Places and angles of the proposal that are not numbers are left out of the
/// drawing; points beyond the image are named at the border.
///
/// # Errors
/// When the print has no pixels or a setting is out of its range.
pub fn svg_with(
    print: &Impression,
    proposal: &Proposal,
    view: &PictureView<'_>,
    settings: &PictureSettings,
) -> Result<String, Error> {
    settings.check()?;
    sheet::compose(print, proposal, view, settings)
}
