//! Rings: ridges and valleys that close around a place.
//!
//! The smallest complete circuit of a whorl is one ridge wide: the flow, which is an average over more than that, does not
//! show it, the ridges themselves do.

use crate::field::RidgeField;
use crate::field::grid::read_between;
use crate::geometry::{Heading, Point};
use std::f64::consts::PI;

/// Directions in which a ring is looked for.
const RAYS: usize = 24;
/// Radii looked at, in ridge periods.
const RADII: [f64; 9] = [0.3, 0.45, 0.6, 0.75, 0.9, 1.05, 1.2, 1.35, 1.5];
/// Gap between a ring and the next, in radii of [`RADII`]: two thirds of a ridge period at most.
const NEXT_RING: usize = 6;
/// A middle fainter than this, relative to the ridges around, has no ring of its own.
const LEAST_MIDDLE: f64 = 0.25;

/// How well ridges close around a place.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Ring {
    /// Contrast of the innermost ring where it is weakest, relative to the ridges around. The mouth of a recurve is hardly
    /// wider than one ray, so this alone does not tell a ring from a recurve.
    pub first: f64,
    /// The same for the first and the second ring together; 0 when either is open.
    pub second: f64,
}

/// The best ring around a place near `core`, within one and a half ridge periods in and beside the direction `opening`.
pub fn ring_near(field: &RidgeField, core: Point, opening: f64, period: f64) -> Ring {
    let mut best = Ring::default();
    let typical = spread_around(field, core, 2.5 * period);
    if typical <= 0.0 {
        return best;
    }
    let rays: [Heading; RAYS] = std::array::from_fn(|ray| Heading::of(2.0 * PI * ray as f64 / RAYS as f64));
    for ahead in -2..=6 {
        for aside in -3..=3 {
            let place = core
                .step(opening, 0.25 * period * f64::from(ahead))
                .step(opening + 0.5 * PI, 0.25 * period * f64::from(aside));
            let ring = ring_around(field, place, &rays, period, typical);
            if ring.first + ring.second > best.first + best.second {
                best = ring;
            }
        }
    }
    best
}

fn grey(field: &RidgeField, p: Point) -> f64 {
    f64::from(read_between(&field.unfiltered, p.y as f32, p.x as f32))
}

fn spread_around(field: &RidgeField, at: Point, reach: f64) -> f64 {
    let steps = 12;
    let (mut squares, mut count) = (0.0, 0.0f64);
    for i in -steps..=steps {
        for j in -steps..=steps {
            let (x, y) = (f64::from(i) / f64::from(steps), f64::from(j) / f64::from(steps));
            if x * x + y * y <= 1.0 {
                squares += grey(field, Point::new(at.x + x * reach, at.y + y * reach)).powi(2);
                count += 1.0;
            }
        }
    }
    (squares / count.max(1.0)).sqrt()
}

fn ring_around(field: &RidgeField, centre: Point, rays: &[Heading; RAYS], period: f64, typical: f64) -> Ring {
    let middle = grey(field, centre) / typical;
    if middle.abs() < LEAST_MIDDLE {
        return Ring::default();
    }
    let (mut first, mut second) = ([0.0; RAYS], [0.0; RAYS]);
    for ((ray, first), second) in rays.iter().zip(&mut first).zip(&mut second) {
        let along = RADII.map(|r| grey(field, centre.step_along(*ray, r * period)) / typical * middle.signum());
        // The first ring is where the sign first turns to its extreme; the second where it turns back after that.
        let Some(turned) = along.iter().position(|v| *v < 0.0) else { continue };
        let back = along[turned..].iter().position(|v| *v > 0.0).map_or(along.len(), |i| turned + i);
        *first = along[turned..back].iter().fold(0.0, |m, v| f64::max(m, -v));
        *second = along[back..].iter().take(NEXT_RING).fold(0.0, |m, v| f64::max(m, *v));
    }
    let closed = weakest(&first);
    Ring { first: closed.min(1.0), second: closed.min(weakest(&second)).min(1.0) }
}

/// The second smallest: one ray may fall into a pore or a break.
fn weakest(strengths: &[f64; RAYS]) -> f64 {
    let mut sorted = *strengths;
    sorted.sort_by(f64::total_cmp);
    sorted[1]
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;

    fn field_of(grey: impl Fn(f64, f64) -> f64) -> RidgeField {
        let shape = (40, 40);
        let mut field =
            RidgeField::from_vectors(Array2::ones(shape), Array2::zeros(shape), Array2::from_elem(shape, true), 4, 9.0);
        field.unfiltered = Array2::from_shape_fn((160, 160), |(y, x)| grey(x as f64 - 80.0, y as f64 - 80.0) as f32);
        field
    }

    #[test]
    fn concentric_ridges_close_and_nested_recurves_do_not() {
        let wave = |r: f64| -(2.0 * PI * r / 9.0).cos();
        let circles = field_of(|x, y| wave(x.hypot(y)));
        let ring = ring_near(&circles, Point::new(80.0, 80.0), 1.5 * PI, 9.0);
        assert!(ring.first > 0.6 && ring.second > 0.5, "{ring:?}");
        // A loop: half circles above, straight legs below.
        let recurves = field_of(|x, y| wave(if y < 0.0 { x.hypot(y) } else { x.abs() }));
        let ring = ring_near(&recurves, Point::new(80.0, 80.0), 1.5 * PI, 9.0);
        assert!(ring.second < 0.1, "{ring:?}");
    }
}
