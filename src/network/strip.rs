//! What the counting network is given of a loop: the print along the line from its delta to its core, in ridge periods.

use super::sample::{ink, plain_ink};
use crate::field::RidgeField;
use crate::geometry::{Heading, Point};

/// Samples along the line and across it, [`PER_PERIOD`] to a ridge period.
pub const LENGTH: usize = 240;
/// Samples across the line.
pub const BREADTH: usize = 64;
/// Samples to a ridge period.
pub const PER_PERIOD: f64 = 5.0;
/// Planes: the filtered print, the print at even contrast, and where delta (1) and core (-1) were found.
pub const STRIP_PLANES: usize = 3;
/// Ridge periods of print before the delta.
const BEFORE: f64 = 6.0;
/// Least print beyond the core, ridge periods.
const BEYOND: f64 = 6.0;
/// Spread of the marks of delta and core, ridge periods.
const MARK_PERIODS: f64 = 1.5;

/// A strip of print: right is from delta to core, the delta six periods from the left edge, half way down.
#[derive(Debug, Clone)]
pub struct Strip {
    delta: Point,
    core: Point,
    period: f64,
    /// [`BREADTH`] rows of [`LENGTH`] samples of the filtered print, then of the print at even contrast, -1 to 1.
    pub print: Vec<f32>,
}

impl Strip {
    /// Looks along the line from `delta` to `core` (working pixels); none when the two lie too far apart for the strip or there is
    /// nothing of the print to be seen.
    pub fn of(field: &RidgeField, delta: Point, core: Point) -> Option<Self> {
        let period = field.median_period();
        let longest = LENGTH as f64 / PER_PERIOD - BEFORE - BEYOND;
        if period <= 0.0 || delta.distance(core) > longest * period || delta.distance(core) < 1.0 {
            return None;
        }
        let mut strip = Self { delta, core, period, print: Vec::new() };
        let place = strip.placing();
        let places: Vec<Point> =
            (0..LENGTH * BREADTH).map(|i| place(strip.sample_at(i % LENGTH, i / LENGTH))).collect();
        strip.print = places.iter().copied().map(ink(field)).collect();
        if strip.print.iter().all(|v| *v == 0.0) {
            return None;
        }
        strip.print.extend(places.into_iter().map(plain_ink(field)));
        Some(strip)
    }

    /// Distance from delta to core, ridge periods.
    pub fn periods(&self) -> f64 {
        self.delta.distance(self.core) / self.period
    }

    /// Where a sample lies, ridge periods along the line from the delta and to its right-hand side.
    fn sample_at(&self, column: usize, row: usize) -> Point {
        Point::new((column as f64 + 0.5) / PER_PERIOD - BEFORE, (row as f64 + 0.5 - 0.5 * BREADTH as f64) / PER_PERIOD)
    }

    /// From the strip's periods to working pixels.
    pub fn place(&self, p: Point) -> Point {
        self.placing()(p)
    }

    /// [`Strip::place`] for many places.
    fn placing(&self) -> impl Fn(Point) -> Point + use<> {
        let (delta, period, along) = (self.delta, self.period, self.delta.direction_to(self.core));
        let (onward, aside) = (Heading::of(along), Heading::of(along - std::f64::consts::FRAC_PI_2));
        move |p| delta.step_along(onward, p.x * period).step_along(aside, p.y * period)
    }

    /// From working pixels to the strip's periods.
    pub fn periods_of(&self, p: Point) -> Point {
        let d = self.delta.distance(self.core);
        let (ux, uy) = ((self.core.x - self.delta.x) / d, (self.core.y - self.delta.y) / d);
        let (x, y) = ((p.x - self.delta.x) / self.period, (p.y - self.delta.y) / self.period);
        Point::new(x * ux + y * uy, -x * uy + y * ux)
    }

    /// All planes, the prints first.
    pub fn planes(&self) -> Vec<f32> {
        let mut planes = self.print.clone();
        let bump =
            |p: Point, at: f64| (-((p.x - at).powi(2) + p.y.powi(2)) / (2.0 * MARK_PERIODS * MARK_PERIODS)).exp();
        planes.extend((0..LENGTH * BREADTH).map(|i| {
            let p = self.sample_at(i % LENGTH, i / LENGTH);
            (bump(p, 0.0) - bump(p, self.periods())) as f32
        }));
        planes
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_go_into_the_strip_and_back_and_delta_and_core_lie_on_its_middle_line() {
        let strip =
            Strip { delta: Point::new(40.0, 90.0), core: Point::new(100.0, 20.0), period: 9.0, print: Vec::new() };
        let core = strip.periods_of(strip.core);
        approx::assert_abs_diff_eq!(core.x, strip.periods(), epsilon = 1e-9);
        approx::assert_abs_diff_eq!(core.y, 0.0, epsilon = 1e-9);
        for p in [Point::new(3.0, -2.0), Point::new(-1.0, 5.5)] {
            let back = strip.periods_of(strip.place(p));
            approx::assert_abs_diff_eq!(back.x, p.x, epsilon = 1e-9);
            approx::assert_abs_diff_eq!(back.y, p.y, epsilon = 1e-9);
        }
    }
}
