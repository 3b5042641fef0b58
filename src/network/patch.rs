//! What the placing network is given of a core or delta: the print around it, in ridge periods.

use super::sample::{ink, plain_ink};
use crate::field::RidgeField;
use crate::geometry::{Heading, Point};
use std::f64::consts::{FRAC_PI_2, PI};

/// Samples along an edge, [`PER_PERIOD`] to a ridge period.
pub const EDGE: usize = 48;
/// Samples to a ridge period.
pub const PER_PERIOD: f64 = 4.0;
/// Planes: the filtered print and the print at even contrast.
pub const PATCH_PLANES: usize = 2;

/// A patch of print about a point, turned so that a core opens downward; a delta is seen upright.
#[derive(Debug, Clone)]
pub struct Patch {
    middle: Point,
    /// Ridge period, working pixels.
    pub period: f64,
    /// Clockwise turn of the patch on the print, radians.
    turn: f64,
    /// [`PATCH_PLANES`] planes of as many rows and columns as asked for, -1 to 1.
    pub planes: Vec<f32>,
}

impl Patch {
    /// Looks at `edge` by `edge` samples around `middle` (working pixels) of a core that opens toward `opening` (radians), or, without one, of
    /// a delta.
    pub fn of(field: &RidgeField, middle: Point, opening: Option<f64>, edge: usize) -> Self {
        // Down is three quarters of a turn.
        let turn = opening.map_or(0.0, |direction| direction - 1.5 * PI);
        let mut patch = Self { middle, period: field.median_period(), turn, planes: Vec::new() };
        let offset = |i: usize| (i as f64 + 0.5 - 0.5 * edge as f64) / PER_PERIOD;
        let place = patch.placing();
        let places: Vec<Point> =
            (0..edge * edge).map(|i| place(Point::new(offset(i % edge), offset(i / edge)))).collect();
        patch.planes = places.iter().copied().map(ink(field)).collect();
        patch.planes.extend(places.into_iter().map(plain_ink(field)));
        patch
    }

    /// From ridge periods right of the patch's middle and down from it to working pixels.
    pub fn place(&self, p: Point) -> Point {
        self.placing()(p)
    }

    /// [`Patch::place`] for many places.
    fn placing(&self) -> impl Fn(Point) -> Point + use<> {
        let (middle, period) = (self.middle, self.period);
        let (right, down) = (Heading::of(self.turn), Heading::of(self.turn - FRAC_PI_2));
        move |p| middle.step_along(right, p.x * period).step_along(down, p.y * period)
    }

    /// From working pixels to ridge periods right of the patch's middle and down from it.
    pub fn periods_of(&self, p: Point) -> Point {
        let (x, y) = ((p.x - self.middle.x) / self.period, (p.y - self.middle.y) / self.period);
        let (sin, cos) = self.turn.sin_cos();
        Point::new(x * cos - y * sin, x * sin + y * cos)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_go_into_the_patch_and_back_and_a_core_opens_downward_in_it() {
        let direction = 1.1;
        let patch =
            Patch { middle: Point::new(40.0, 90.0), period: 9.0, turn: direction - 1.5 * PI, planes: Vec::new() };
        let below = patch.periods_of(patch.middle.step(direction, 18.0));
        approx::assert_abs_diff_eq!(below.x, 0.0, epsilon = 1e-9);
        approx::assert_abs_diff_eq!(below.y, 2.0, epsilon = 1e-9);
        for p in [Point::new(3.0, -2.0), Point::new(-1.0, 5.5)] {
            let back = patch.periods_of(patch.place(p));
            approx::assert_abs_diff_eq!(back.x, p.x, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(back.y, p.y, epsilon = 1e-9);
        }
    }
}
