//! Where on the drawing a pixel of the print or of the original image lands.

use crate::geometry::{Frame, Point};
use crate::impression::Impression;

/// Least width and height of the place that the print is centred in, so that even a strip of a print leaves room for
/// the words at its border. Drawing pixels.
const LEAST_SIDE: f64 = 340.0;

/// The print on the drawing.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stage {
    /// Top left corner of the print in the drawing.
    pub(super) corner: Point,
    /// Width of the print in the drawing.
    pub(super) width: f64,
    /// Height of the print in the drawing.
    pub(super) height: f64,
    /// Drawing pixels per print pixel.
    pub(super) scale: f64,
    /// From print pixels to original pixels.
    to_original: Frame,
}

impl Stage {
    /// Fits the print into a square of `longest` drawing pixels and centres it in a place whose top left corner is
    /// `place`. Returns the stage and the width and height of the place.
    pub(super) fn fit(print: &Impression, longest: f64, place: Point) -> (Self, f64, f64) {
        let (w, h) = (print.width() as f64, print.height() as f64);
        let scale = longest / w.max(h).max(1.0);
        let (width, height) = (w * scale, h * scale);
        let (room_x, room_y) = (width.max(LEAST_SIDE), height.max(LEAST_SIDE));
        let corner = Point::new(place.x + 0.5 * (room_x - width), place.y + 0.5 * (room_y - height));
        (Self { corner, width, height, scale, to_original: print.to_original }, room_x, room_y)
    }

    /// A pixel of the original image on the drawing.
    pub(super) fn of_original(&self, p: Point) -> Point {
        let own = self.to_original.invert(p);
        // A pixel's centre lies half a pixel inside its edge, and the print's edge is the corner.
        Point::new(self.corner.x + (own.x + 0.5) * self.scale, self.corner.y + (own.y + 0.5) * self.scale)
    }

    /// The place on the original image that a place on the drawing shows.
    pub(super) fn original_under(&self, p: Point) -> Point {
        let own = Point::new((p.x - self.corner.x) / self.scale - 0.5, (p.y - self.corner.y) / self.scale - 0.5);
        self.to_original.apply(own)
    }

    /// A direction of the original image, degrees, as a direction on the drawing, radians.
    pub(super) fn direction(&self, degrees: f64) -> f64 {
        self.to_original.direction_back(degrees.to_radians())
    }

    /// A length of the original image on the drawing.
    pub(super) fn length(&self, original_pixels: f64) -> f64 {
        original_pixels / self.to_original.scale() * self.scale
    }

    /// Whether a place on the drawing lies on the print, at least `margin` inside its edge.
    pub(super) fn holds(&self, p: Point, margin: f64) -> bool {
        p.x.is_finite()
            && p.y.is_finite()
            && p.x >= self.corner.x + margin
            && p.y >= self.corner.y + margin
            && p.x <= self.corner.x + self.width - margin
            && p.y <= self.corner.y + self.height - margin
    }
}
