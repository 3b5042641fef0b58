//! What a whorl's line of flow meets before a delta: ridges at a right angle and others, and the appendages that spoil them as recurves.
//!
//! The inner line of flow runs from the inner delta to the centre of the innermost recurve. A central pocket loop needs a recurve before that
//! delta or an obstruction at right angles to the line; of a recurve no angle is asked. An appendage connected with a recurve there, on the
//! delta's side, spoils it, one elsewhere does not (handbook, chapter II, "The plain whorl", "Central pocket loops", figures 58, 59, 212, 237, 238).

use super::recurve::{abutting, along};
use super::ridge_count::ridges_between;
use crate::geometry::{Point, orientation_difference};
use crate::ridge::{AtFork, Crossing, Pixel, RidgeLines};
use std::f64::consts::FRAC_PI_2;

/// A line of flow and what it meets; places are working pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct LineOfFlow {
    /// From the delta to the core by the flow, which stands for the centre of the innermost recurve.
    pub ends: (Point, Point),
    /// Where ridges are met between the two, the nearest to the core last.
    pub met: Vec<Point>,
    /// Those of them that stand at a right angle to the line.
    pub square: Vec<Point>,
    /// Where an appendage is connected with one of those met, in the line of flow and on the delta's side; at most one for each.
    pub spoiled: Vec<Point>,
}

impl LineOfFlow {
    /// From delta to core, pixels.
    pub fn length(&self) -> f64 {
        self.ends.0.distance(self.ends.1)
    }
}

/// Of a whorl's two lines of flow the inner one, which is the shorter, and the other.
pub fn inner_first([left, right]: &[LineOfFlow; 2]) -> [&LineOfFlow; 2] {
    if left.length() <= right.length() { [left, right] } else { [right, left] }
}

/// A ridge stands at a right angle within this, radians (20 degrees).
const SQUARE: f64 = 0.35;
/// The direction of a ridge is taken so far to either side of the line, ridge periods.
const ASIDE: f64 = 0.9;
/// An appendage this far from the line is still in it, ridge periods: half way to the next ridge.
const IN_LINE: f64 = 0.5;
/// So much of a ridge to either side shows what abuts on it in the line, ridge periods.
const PIECE: f64 = 1.4;
/// A ridge that lies in the line of flow hides what it abuts on; looks so far beside the line, ridge periods, pass it.
const BESIDE: f64 = 0.4;

/// Whether a ridge stands at a right angle to a line that runs in `direction`, radians.
pub fn crosses_squarely(lines: &RidgeLines, pixel: Pixel, direction: f64) -> bool {
    let [one, other] = [FRAC_PI_2, -FRAC_PI_2]
        .map(|turn| lines.walk(pixel, direction + turn, AtFork::Straight, ASIDE * lines.period, |_| true).end());
    let crosses = orientation_difference(one.direction_to(other), direction).abs();
    one.distance(other) > ASIDE * lines.period && (crosses - FRAC_PI_2).abs() < SQUARE
}

/// Looks along the line of flow from a delta to a core.
pub fn line_of_flow(lines: &RidgeLines, delta: Point, core: Point) -> LineOfFlow {
    let (direction, period) = (delta.direction_to(core), lines.period);
    let side = |c: &Crossing, turn: f64, periods: f64| {
        lines.walk(c.pixel, direction + turn, AtFork::Straight, periods * period, |_| true).points
    };
    let is_square = |c: &&Crossing| crosses_squarely(lines, c.pixel, direction);
    let look = |aside: f64| {
        let beside = |p: Point| p.step(direction + FRAC_PI_2, aside * period);
        ridges_between(lines, beside(delta), beside(core))
    };
    let appendage = |c: &Crossing| {
        let mut piece = side(c, FRAC_PI_2, PIECE);
        piece.reverse();
        piece.extend(side(c, -FRAC_PI_2, PIECE).into_iter().skip(1));
        let in_line = |p: &Point| along(delta, *p, direction).1.abs() <= IN_LINE * period;
        abutting(lines, &piece, c.at.step(direction, period)).into_iter().map(|a| a.0).find(in_line)
    };
    let looks = [0.0, BESIDE, -BESIDE].map(look);
    let mut spoiled: Vec<Point> = Vec::new();
    for at in looks.iter().flatten().filter_map(appendage) {
        if spoiled.iter().all(|known| known.distance(at) > IN_LINE * period) {
            spoiled.push(at);
        }
    }
    // Of the three the one that meets most at a right angle, then most: a ridge in the line itself hides others, none is met twice.
    let square = |met: &[Crossing]| met.iter().filter(is_square).map(|c| c.at).collect::<Vec<_>>();
    let rank = |met: &Vec<Crossing>| (square(met).len(), met.len());
    let most =
        looks.into_iter().reduce(|most, met| if rank(&met) > rank(&most) { met } else { most }).unwrap_or_default();
    let met = most.iter().map(|c| c.at).collect();
    LineOfFlow { ends: (delta, core), met, square: square(&most), spoiled }
}
