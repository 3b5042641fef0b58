//! The innermost sufficient recurve before a core.

use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, Pixel, RidgeLines, Walk};
use std::f64::consts::{FRAC_PI_2, PI};

/// A ridge that recurves: from its top down two legs.
#[derive(Debug, Clone)]
pub struct Recurve {
    /// The place over the core where the ridge is highest, looking away from the opening.
    pub top: Point,
    /// The two ways down: on the left and on the right hand of one who looks into the opening.
    pub legs: [Walk; 2],
    /// Where the loop opens to, radians.
    pub opening: f64,
}

/// How far inside the focus the search begins, ridge periods: a recurve whose top lies on the focus itself is met.
const INSIDE: f64 = 0.45;
/// A leg that comes down this far below the top has recurved, ridge periods: beyond the shoulders of the narrowest loop.
const DOWN: f64 = 1.4;

impl Recurve {
    /// The innermost ridge that turns back on both sides of `focus`, searched up to `within` ridges beyond it (handbook,
    /// chapter II: a sufficient recurve; a ridge with one leg only, a rod or a hook, is none).
    pub fn innermost(lines: &RidgeLines, focus: Point, opening: f64, within: f64) -> Option<Self> {
        let period = lines.period;
        let from = focus.step(opening, INSIDE * period);
        let to = focus.step(opening + PI, within * period);
        lines.crossings(from, to).into_iter().find_map(|met| Self::at(lines, met.pixel, opening))
    }

    /// The ridge at `pixel` as a recurve that opens to `opening`, if it is one.
    pub fn at(lines: &RidgeLines, pixel: Pixel, opening: f64) -> Option<Self> {
        let (top, period) = (lines.place(pixel), lines.period);
        let leg = |side: f64| lines.walk(pixel, opening + side * FRAC_PI_2, AtFork::Straight, 9.0 * period, |_| true);
        let down = |walk: &Walk, side: f64| {
            walk.points.iter().any(|p| {
                let (below, aside) = along(top, *p, opening);
                below > DOWN * period && side * aside > 0.0
            })
        };
        let legs = [leg(1.0), leg(-1.0)];
        (down(&legs[0], 1.0) && down(&legs[1], -1.0)).then_some(Self { top, legs, opening })
    }

    /// How far `p` lies below the top, along the opening, pixels.
    pub fn below(&self, p: Point) -> f64 {
        along(self.top, p, self.opening).0
    }

    /// The shoulder of each leg: where the ridge, coming up the leg, begins to turn inward (handbook, chapter II, "Core").
    pub fn shoulders(&self) -> [Point; 2] {
        /// Pixels over which a leg's direction is taken.
        const STRIDE: usize = 4;
        /// A leg runs straight where it keeps within 35 degrees of the loop's axis, radians.
        const STRAIGHT: f64 = 0.61;
        [0, 1].map(|k| {
            let points = &self.legs[k].points;
            let straight = (0..points.len().saturating_sub(STRIDE)).find(|&i| {
                direction_difference(points[i].direction_to(points[i + STRIDE]), self.opening).abs() < STRAIGHT
            });
            points.get(straight.unwrap_or(points.len() / 2)).copied().unwrap_or(self.top)
        })
    }
}

/// How far `p` lies from `origin` along a direction, and how far to its left hand, pixels.
pub fn along(origin: Point, p: Point, direction: f64) -> (f64, f64) {
    let (dx, dy) = (p.x - origin.x, origin.y - p.y);
    let (s, c) = direction.sin_cos();
    (dx * c + dy * s, dy * c - dx * s)
}
