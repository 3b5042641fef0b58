//! Type lines: the two innermost ridges that run side by side, spread, and bound the pattern area.

use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, RidgeLines, Stop, Walk};
use std::f64::consts::FRAC_PI_2;

/// One type line, from where it runs beside the other to where it bounds the pattern area.
#[derive(Debug, Clone, PartialEq)]
pub struct TypeLine {
    /// The way in pieces, working pixels: after a definite break it goes on with the next ridge outside.
    pub pieces: Vec<Vec<Point>>,
}

impl TypeLine {
    /// Definite breaks at which the ridge outside took over.
    pub fn breaks(&self) -> usize {
        self.pieces.len().saturating_sub(1)
    }
}

/// The type lines at one delta.
#[derive(Debug, Clone, PartialEq)]
pub struct TypeLines {
    /// On the right hand and on the left hand of one who comes in between them from outside; none where no ridge there keeps the
    /// definition.
    pub lines: [Option<TypeLine>; 2],
}

/// A type line is looked for this far from the divergence, ridge periods: ending ridges may stand between the true ones (handbook, chapter
/// II, figure 307).
const REACH: f64 = 4.5;
/// The divergence itself may lie on a ridge, which is then no type line, ridge periods.
const OWN: f64 = 0.3;
/// A ridge runs beside its partner, or spreads from it, when it has come this far along, ridge periods: type lines may be very short
/// (handbook, chapter II, figure 14).
const ALONG: f64 = 2.0;
/// And keeps to the direction of the flow there within this, radians (50 degrees).
const KEEPS: f64 = 0.87;
/// How far a type line is shown where it runs beside its partner, and around the pattern area, ridge periods.
const BESIDE: f64 = 5.0;
const AROUND: f64 = 11.0;
/// The next ridge outside a break lies from here to there beside its end, ridge periods.
const CLEAR: f64 = 0.5;
const NEXT_RIDGE: f64 = 1.7;
/// Breaks after which a type line is given up.
const MOST_BREAKS: usize = 3;
/// Two lines share a place where they come this near, pixels.
const SAME_PX: f64 = 1.5;

/// Finds the type lines at a divergence at `at` whose flow runs away along three `arms` (radians) and whose pattern area lies toward
/// `middle` (handbook, chapter II, "Type lines"): on either side of the ridges that lead to the divergence from outside, the innermost ridge
/// that comes in beside its partner and spreads from it there. A ridge that does neither is passed over (figures 32 and 135); the legs of
/// one fork are type lines only if they run side by side after it (figures 16 and 17).
pub fn type_lines(lines: &RidgeLines, at: Point, mut arms: [f64; 3], middle: Point) -> TypeLines {
    let inward = at.direction_to(middle);
    let off = |arm: f64| direction_difference(arm, inward).abs();
    arms.sort_by(|a, b| off(*b).total_cmp(&off(*a)));
    let outer = arms[0];
    // Coming in along the outer arm, the arm on the right hand lies counter-clockwise of it.
    let turn = |arm: f64| direction_difference(arm, outer);
    let (right, left) = if turn(arms[1]) > turn(arms[2]) { (arms[1], arms[2]) } else { (arms[2], arms[1]) };
    let [a, b] = [right, left].map(|arm| candidates(lines, at, (outer, arm, outer + 0.5 * turn(arm))));
    let innermost = |own: &[Way], others: &[Way]| {
        let is_leg = |way: &&Way| others.iter().any(|other| legs_of_one_fork(way, other, lines.period));
        own.iter().find(|way| !is_leg(way)).map(|way| way.line.clone())
    };
    TypeLines { lines: [innermost(&a, &b), innermost(&b, &a)] }
}

/// A ridge that qualifies on its side.
#[derive(Debug, Clone)]
struct Way {
    line: TypeLine,
    /// The part that runs beside the partner, from the flank of the divergence outward.
    beside: Vec<Point>,
}

/// The ridges of one side that come in along the outer arm and leave along the arm of that side, innermost first.
fn candidates(lines: &RidgeLines, at: Point, (outer, arm, between): (f64, f64, f64)) -> Vec<Way> {
    let period = lines.period;
    // Seen along the arm, the outside of the pattern area is on the hand on which this side lies.
    let outside = if direction_difference(between, arm) > 0.0 { FRAC_PI_2 } else { -FRAC_PI_2 };
    let met = lines.crossings(at.step(between, OWN * period), at.step(between, REACH * period));
    met.into_iter()
        .filter(|c| lines.heavy(c.pixel))
        .filter_map(|c| {
            let beside = lines.walk(c.pixel, outer, AtFork::Straight, BESIDE * period, |_| true);
            let around = lines.walk(c.pixel, arm, AtFork::Straight, AROUND * period, |_| true);
            (keeps(&beside, outer, period) && keeps(&around, arm, period)).then(|| {
                let mut first: Vec<Point> = beside.points.iter().rev().copied().collect();
                first.extend(&around.points[1..]);
                let mut pieces = vec![first];
                carry_on(lines, around, outside, &mut pieces);
                Way { line: TypeLine { pieces }, beside: beside.points }
            })
        })
        .collect()
}

/// Whether a way goes far enough along an arm and keeps to it.
fn keeps(way: &Walk, arm: f64, period: f64) -> bool {
    let from = way.points.first().copied().unwrap_or_default();
    way.points
        .iter()
        .find(|p| p.distance(from) >= ALONG * period)
        .is_some_and(|p| direction_difference(from.direction_to(*p), arm).abs() < KEEPS)
}

/// Goes on with the next ridge outside, which lies at a turn of `outside` from the way, wherever that definitely ends before it has gone
/// round far enough.
fn carry_on(lines: &RidgeLines, mut way: Walk, outside: f64, pieces: &mut Vec<Vec<Point>>) {
    let period = lines.period;
    let length = |points: &[Point]| points.windows(2).map(|w| w[0].distance(w[1])).sum::<f64>();
    let mut left = AROUND * period - length(&way.points);
    while way.stop == Stop::RidgeEnd && left > period && pieces.len() <= MOST_BREAKS {
        let end = way.end();
        let (heading, aside) = (way.heading, way.heading + outside);
        let met = lines.crossings(end.step(aside, CLEAR * period), end.step(aside, NEXT_RIDGE * period));
        let Some(next) = met.first() else { return };
        way = lines.walk(next.pixel, heading, AtFork::Straight, left, |_| true);
        left -= length(&way.points);
        pieces.push(way.points.clone());
    }
}

/// Whether two ways are the legs of one ridge that forks at the divergence: they meet before they have run side by side.
fn legs_of_one_fork(a: &Way, b: &Way, period: f64) -> bool {
    let meet = a.beside.iter().position(|p| b.beside.iter().any(|q| q.distance(*p) < SAME_PX));
    meet.is_some_and(|i| a.beside[0].distance(a.beside[i]) < ALONG * period)
}
