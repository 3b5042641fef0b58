//! Points, angles and the way between coordinate frames.
//!
//! Conventions of the whole crate:
//!
//! * coordinates are pixels, the origin at the centre of the top-left pixel, x to the right, y **down**;
//! * angles are radians, counter-clockwise **as seen on the image**, from image right;
//! * a ridge has an *orientation*, an angle modulo pi; a flow has a *direction*, an angle modulo two pi.
//!
//! This module is the only place where angles wrap.

use serde::{Deserialize, Serialize};
use std::f64::consts::{PI, TAU};

/// A place on an image, in pixels.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct Point {
    /// To the right, from the centre of the leftmost pixel.
    pub x: f64,
    /// Down, from the centre of the topmost pixel.
    pub y: f64,
}

impl Point {
    /// A point from its two coordinates.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Euclidean distance in pixels.
    ///
    /// ```
    /// use recurve::geometry::Point;
    /// assert_eq!(Point::new(0.0, 0.0).distance(Point::new(3.0, 4.0)), 5.0);
    /// ```
    pub fn distance(self, other: Point) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// The direction in which `other` lies, radians in `[0, 2 pi)`.
    ///
    /// ```
    /// use recurve::geometry::Point;
    /// let up = Point::new(0.0, 0.0).direction_to(Point::new(0.0, -5.0));
    /// assert!((up - std::f64::consts::FRAC_PI_2).abs() < 1e-12);
    /// ```
    pub fn direction_to(self, other: Point) -> f64 {
        wrap_direction((self.y - other.y).atan2(other.x - self.x))
    }

    /// The point `length` pixels away in `direction` (radians).
    pub fn step(self, direction: f64, length: f64) -> Point {
        self.step_along(Heading::of(direction), length)
    }

    /// The point `length` pixels away in a direction that many steps take.
    pub fn step_along(self, heading: Heading, length: f64) -> Point {
        Point::new(self.x + length * heading.cos, self.y - length * heading.sin)
    }

    /// The point `t` of the way to `other` (0 = here, 1 = there).
    pub fn lerp(self, other: Point, t: f64) -> Point {
        Point::new(self.x + t * (other.x - self.x), self.y + t * (other.y - self.y))
    }
}

/// A direction with its sine and cosine: they cost more than a step.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heading {
    sin: f64,
    cos: f64,
}

impl Heading {
    /// From radians.
    pub fn of(direction: f64) -> Self {
        let (sin, cos) = direction.sin_cos();
        Self { sin, cos }
    }
}

/// Brings a ridge orientation into `[0, pi)`.
///
/// ```
/// use recurve::geometry::wrap_orientation;
/// assert!((wrap_orientation(-0.25) - (std::f64::consts::PI - 0.25)).abs() < 1e-12);
/// ```
pub fn wrap_orientation(angle: f64) -> f64 {
    let wrapped = angle.rem_euclid(PI);
    if wrapped >= PI { 0.0 } else { wrapped }
}

/// Brings a direction into `[0, 2 pi)`.
pub fn wrap_direction(angle: f64) -> f64 {
    let wrapped = angle.rem_euclid(TAU);
    if wrapped >= TAU { 0.0 } else { wrapped }
}

/// `a - b` for ridge orientations, in `(-pi/2, pi/2]`.
///
/// ```
/// use recurve::geometry::orientation_difference;
/// let d = orientation_difference(0.1, std::f64::consts::PI - 0.1);
/// assert!((d - 0.2).abs() < 1e-12);
/// ```
pub fn orientation_difference(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(PI);
    if d > PI / 2.0 { d - PI } else { d }
}

/// `a - b` for directions, in `(-pi, pi]`.
pub fn direction_difference(a: f64, b: f64) -> f64 {
    let d = (a - b).rem_euclid(TAU);
    if d > PI { d - TAU } else { d }
}

/// A similarity between two pixel frames: left and right exchanged or not, then turn, scale and shift, in that order.
///
/// Carries a place on a working image back to the original image it was cut from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Frame {
    /// Scale times cosine of the turn.
    a: f64,
    /// Scale times sine of the turn (positive turns counter-clockwise as seen).
    b: f64,
    /// Shift to the right in pixels of the target frame.
    x: f64,
    /// Shift down in pixels of the target frame.
    y: f64,
    /// Whether left and right are exchanged first.
    mirrored: bool,
}

impl Frame {
    /// The frame that changes nothing.
    pub const IDENTITY: Frame = Frame { a: 1.0, b: 0.0, x: 0.0, y: 0.0, mirrored: false };

    /// A frame that turns by `turn` radians counter-clockwise as seen, scales by `scale` and then shifts by `(x, y)` pixels.
    ///
    /// ```
    /// use recurve::geometry::{Frame, Point};
    /// let quarter = Frame::new(2.0, std::f64::consts::FRAC_PI_2, 10.0, 10.0);
    /// let p = quarter.apply(Point::new(1.0, 0.0)); // one pixel right becomes two pixels up
    /// assert!(p.distance(Point::new(10.0, 8.0)) < 1e-12);
    /// ```
    pub fn new(scale: f64, turn: f64, x: f64, y: f64) -> Self {
        Self { a: scale * turn.cos(), b: scale * turn.sin(), x, y, mirrored: false }
    }

    /// The frame of an image resampled to `scale` times its size: maps working pixels to original pixels.
    /// Pixel *edges* coincide, so centres shift by half a pixel's difference.
    pub fn of_resampling(scale: f64) -> Self {
        let step = 1.0 / scale;
        Self::new(step, 0.0, 0.5 * step - 0.5, 0.5 * step - 0.5)
    }

    /// The frame that exchanges left and right of an image `width` pixels wide.
    ///
    /// ```
    /// use recurve::geometry::{Frame, Point};
    /// let mirror = Frame::mirror(4);
    /// assert_eq!(mirror.apply(Point::new(0.0, 2.0)), Point::new(3.0, 2.0));
    /// assert_eq!(mirror.then(&mirror).apply(Point::new(1.0, 2.0)), Point::new(1.0, 2.0));
    /// ```
    pub fn mirror(width: usize) -> Self {
        Self { x: width as f64 - 1.0, mirrored: true, ..Self::IDENTITY }
    }

    /// Where a point of the working frame lies in the target frame.
    pub fn apply(&self, p: Point) -> Point {
        let right = if self.mirrored { -p.x } else { p.x };
        Point::new(self.a * right + self.b * p.y + self.x, -self.b * right + self.a * p.y + self.y)
    }

    /// Where a point of the target frame lies in the working frame.
    pub fn invert(&self, p: Point) -> Point {
        let (x, y, n) = (p.x - self.x, p.y - self.y, self.a * self.a + self.b * self.b);
        let right = (self.a * x - self.b * y) / n;
        Point::new(if self.mirrored { -right } else { right }, (self.b * x + self.a * y) / n)
    }

    /// A direction of the working frame, radians, as it is seen in the target frame, in `[0, 2 pi)`.
    pub fn direction(&self, of_working: f64) -> f64 {
        let own = if self.mirrored { PI - of_working } else { of_working };
        wrap_direction(own + self.turn())
    }

    /// A direction of the target frame, radians, as it is seen in the working frame, in `[0, 2 pi)`.
    pub fn direction_back(&self, of_target: f64) -> f64 {
        let own = of_target - self.turn();
        wrap_direction(if self.mirrored { PI - own } else { own })
    }

    /// Target pixels per working pixel.
    pub fn scale(&self) -> f64 {
        self.a.hypot(self.b)
    }

    /// The turn in radians, counter-clockwise as seen, that an angle of the working frame, mirrored or not, takes on in the target frame.
    pub fn turn(&self) -> f64 {
        self.b.atan2(self.a)
    }

    /// First `self`, then `outer`.
    pub fn then(&self, outer: &Frame) -> Frame {
        let origin = outer.apply(Point::new(self.x, self.y));
        // Seen in a mirror, a turn runs the other way round.
        let b = if outer.mirrored { -self.b } else { self.b };
        Frame {
            a: outer.a * self.a - outer.b * b,
            b: outer.b * self.a + outer.a * b,
            x: origin.x,
            y: origin.y,
            mirrored: self.mirrored != outer.mirrored,
        }
    }
}

impl Default for Frame {
    fn default() -> Self {
        Self::IDENTITY
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use proptest::prelude::*;

    /// The frame, or the frame behind a mirror.
    fn given(frame: Frame, over: bool) -> Frame {
        if over { Frame::mirror(50).then(&frame) } else { frame }
    }

    #[test]
    fn a_resampled_image_keeps_its_pixel_edges() {
        // Twice the size: original pixel 0 spans working pixels 0 and 1, its centre lies between them.
        let frame = Frame::of_resampling(2.0);
        let p = frame.apply(Point::new(0.5, 0.5));
        assert_abs_diff_eq!(p.x, 0.0, epsilon = 1e-12);
        assert_abs_diff_eq!(p.y, 0.0, epsilon = 1e-12);
    }

    proptest! {
        #[test]
        fn wrapping_never_leaves_the_range_and_keeps_the_orientation(angle in -1e4..1e4f64) {
            let w = wrap_orientation(angle);
            prop_assert!((0.0..PI).contains(&w));
            prop_assert!(orientation_difference(w, angle).abs() < 1e-6);
        }

        #[test]
        fn a_frame_and_its_inverse_cancel(s in 0.1..5.0f64, t in -4.0..4.0f64, x in -100.0..100.0f64, y in -100.0..100.0f64, over in any::<bool>()) {
            let frame = given(Frame::new(s, t, x, y), over);
            let p = Point::new(3.0, -7.0);
            prop_assert!(frame.invert(frame.apply(p)).distance(p) < 1e-9);
            prop_assert!(direction_difference(frame.direction_back(frame.direction(t)), t).abs() < 1e-9);
        }

        #[test]
        fn chained_frames_act_one_after_the_other(t in -4.0..4.0f64, u in -4.0..4.0f64, over in any::<[bool; 2]>()) {
            let first = given(Frame::new(2.0, t, 5.0, -3.0), over[0]);
            let second = given(Frame::new(0.7, u, 1.0, 8.0), over[1]);
            let p = Point::new(4.0, 9.0);
            prop_assert!(first.then(&second).apply(p).distance(second.apply(first.apply(p))) < 1e-9);
        }

        #[test]
        fn a_direction_leads_where_its_points_go(t in -4.0..4.0f64, u in -4.0..4.0f64, over in any::<bool>()) {
            let frame = given(Frame::new(1.5, t, 5.0, -3.0), over);
            let (here, there) = (Point::new(4.0, 9.0), Point::new(4.0, 9.0).step(u, 10.0));
            let seen = frame.apply(here).direction_to(frame.apply(there));
            prop_assert!(direction_difference(frame.direction(u), seen).abs() < 1e-9);
        }
    }
}
