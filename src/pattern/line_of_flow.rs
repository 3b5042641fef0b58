//! What a whorl's line of flow meets before a delta: recurves or obstructions at a right angle, and the appendages that spoil them.
//!
//! The inner line of flow runs from the inner delta to the centre of the innermost recurve. A central pocket loop needs a recurve or an
//! obstruction at right angles to it; an appendage connected with a recurve there, on the delta's side, spoils it, one elsewhere does not
//! (handbook, chapter II, "The plain whorl", "Central pocket loops", figures 58, 59, 212, 237, 238).

use super::recurve::{abutting, along};
use crate::geometry::{Point, orientation_difference};
use crate::ridge::{AtFork, Crossing, RidgeLines};
use std::f64::consts::FRAC_PI_2;

/// A line of flow and what it meets.
#[derive(Debug, Clone, PartialEq)]
pub struct LineOfFlow {
    /// From the delta to the core, working pixels.
    pub ends: (Point, Point),
    /// Ridges met between the two.
    pub met: usize,
    /// Where those of them are met that stand at a right angle to the line, the nearest to the core last.
    pub square: Vec<Point>,
    /// Where an appendage is connected with one of these in the line of flow, on the delta's side; at most one for each.
    pub spoiled: Vec<Point>,
}

/// The ridges at either end belong to it, ridge periods.
const OWN: f64 = 0.42;
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

/// Looks along the line of flow from a delta to a core.
pub fn line_of_flow(lines: &RidgeLines, delta: Point, core: Point) -> LineOfFlow {
    let (length, direction, period) = (delta.distance(core), delta.direction_to(core), lines.period);
    let own = OWN * period;
    let side = |c: &Crossing, turn: f64, periods: f64| {
        lines.walk(c.pixel, direction + turn, AtFork::Straight, periods * period, |_| true).points
    };
    let is_square = |c: &&Crossing| {
        let [one, other] = [FRAC_PI_2, -FRAC_PI_2].map(|turn| side(c, turn, ASIDE).last().copied().unwrap_or(c.at));
        let crosses = orientation_difference(one.direction_to(other), direction).abs();
        one.distance(other) > ASIDE * period && (crosses - FRAC_PI_2).abs() < SQUARE
    };
    let look = |aside: f64| {
        let beside = |p: Point| p.step(direction + FRAC_PI_2, aside * period);
        let between = |c: &Crossing| c.along > own && c.along < length - own && lines.heavy(c.pixel);
        let met: Vec<Crossing> = lines.crossings(beside(delta), beside(core)).into_iter().filter(between).collect();
        let square: Vec<Crossing> = met.iter().filter(is_square).copied().collect();
        (met.len(), square)
    };
    let (mut met, mut square) = look(0.0);
    for aside in [BESIDE, -BESIDE] {
        let found = look(aside);
        if found.1.len() > square.len() {
            (met, square) = found;
        }
    }
    let appendage = |c: &Crossing| {
        let mut piece = side(c, FRAC_PI_2, PIECE);
        piece.reverse();
        piece.extend(side(c, -FRAC_PI_2, PIECE).into_iter().skip(1));
        let in_line = |p: &Point| along(delta, *p, direction).1.abs() <= IN_LINE * period;
        let all = abutting(lines, &piece, c.at.step(direction, period));
        all.into_iter().map(|(i, _)| piece[i]).find(in_line)
    };
    let spoiled = square.iter().filter_map(appendage).collect();
    LineOfFlow { ends: (delta, core), met, square: square.iter().map(|c| c.at).collect(), spoiled }
}
