//! The innermost sufficient recurve before a core.

use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, Pixel, RidgeLines, Walk};
use std::f64::consts::{FRAC_PI_2, FRAC_PI_4, PI};

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
/// A rod that touches the recurve from inside hides it from a look along the rod; a look so far beside the axis, ridge periods,
/// passes between rod and leg.
const BESIDE: f64 = 0.36;
/// A recurve met beside the axis is another one than that met on it where it comes so much earlier, ridge periods: more than the head of
/// a narrow recurve falls off beside its top.
const EARLIER: f64 = 0.5;
/// A place so little higher than the one that was met is the same height, ridge periods.
const FLAT: f64 = 0.15;

impl Recurve {
    /// The innermost ridge that turns back on both sides of `focus`, searched up to `within` ridges beyond it (handbook,
    /// chapter II: a sufficient recurve; a ridge with one leg only, a rod or a hook, is none).
    pub fn innermost(lines: &RidgeLines, focus: Point, opening: f64, within: f64) -> Option<Self> {
        let period = lines.period;
        let look = |aside: f64| {
            let axis = focus.step(opening + FRAC_PI_2, aside * period);
            let from = axis.step(opening, INSIDE * period);
            let to = axis.step(opening + PI, within * period);
            lines
                .crossings(from, to)
                .into_iter()
                .find_map(|met| Some((met.along, Self::at(lines, met.pixel, opening)?)))
        };
        let on_axis = look(0.0);
        let limit = on_axis.as_ref().map_or(f64::INFINITY, |m| m.0) - EARLIER * period;
        // The head of a recurve with a spike is met on both sides of the axis.
        match (look(BESIDE), look(-BESIDE)) {
            (Some(left), Some(right)) if left.0 < limit && right.0 < limit => Some(left.1),
            _ => on_axis.map(|m| m.1),
        }
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
        if !down(&legs[0], 1.0) || !down(&legs[1], -1.0) {
            return None;
        }
        let below = |p: &Point| along(top, *p, opening).0;
        let highest = legs.iter().flat_map(|l| &l.points).copied().min_by(|a, b| below(a).total_cmp(&below(b)));
        // A flat head has many highest places; the one that was met counts.
        let top = highest.filter(|h| below(h) < -FLAT * period).unwrap_or(top);
        Some(Self { top, legs, opening })
    }

    /// How far `p` lies below the top, along the opening, pixels.
    pub fn below(&self, p: Point) -> f64 {
        along(self.top, p, self.opening).0
    }

    /// The shoulder of each leg: where the ridge, coming up the leg, definitely begins to turn inward (handbook, chapter II, "Core").
    pub fn shoulders(&self, period: f64) -> [Point; 2] {
        /// Pixels over which a leg's direction is taken: the directions of shorter stretches of a line of pixels are too coarse.
        const STRIDE: usize = 8;
        /// A leg runs straight where it turns less than this over [`ONWARD`], radians (12 degrees): the legs of wide loops bend outward
        /// by up to half of that.
        const STRAIGHT: f64 = 0.21;
        /// How far down the leg its direction is compared, ridge periods.
        const ONWARD: f64 = 1.5;
        let onward = (ONWARD * period) as usize;
        [0, 1].map(|k| {
            let points = &self.legs[k].points;
            let heading = |i: usize| points[i].direction_to(points[i + STRIDE]);
            let straight = (0..points.len().saturating_sub(STRIDE + onward)).find(|&i| {
                let off = direction_difference(heading(i), self.opening).abs();
                off < FRAC_PI_4 && direction_difference(heading(i), heading(i + onward)).abs() < STRAIGHT
            });
            points.get(straight.map_or(points.len() / 2, |i| i + STRIDE - STRIDE / 4)).copied().unwrap_or(self.top)
        })
    }
}

/// How far `p` lies from `origin` along a direction, and how far to its left hand, pixels.
pub fn along(origin: Point, p: Point, direction: f64) -> (f64, f64) {
    let (dx, dy) = (p.x - origin.x, origin.y - p.y);
    let (s, c) = direction.sin_cos();
    (dx * c + dy * s, dy * c - dx * s)
}
