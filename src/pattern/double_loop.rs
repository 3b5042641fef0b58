//! How the two recurves of a whorl hang together on single ridges: two loops, or one ridge that makes both.

use super::recurve::{ON_LINE_PX, Recurve, along};
use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, RidgeLines, Stop};

/// What the ridges that make the recurves of two cores have to do with each other. Whether each loop has shoulders of its own is not looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Together {
    /// Nothing, as far as they were followed: two loops.
    Separate,
    /// One ridge makes both recurves: an S, a spiral or an incomplete circuit, no double loop.
    OneRidge,
    /// The ridge of one loop runs into the other loop, or runs along it: where it forms its side (figure 267) no double loop, where it only
    /// joins the two smoothly they stay separate.
    SharedSide,
    /// The recurve met at one core goes round the other as well.
    Circuit,
    /// One loop lies inside the other: no double loop.
    Inside,
}

impl Together {
    /// Whether one ridge, or the ridge of one running into the other, makes both recurves without going round them.
    pub fn is_joined(self) -> bool {
        matches!(self, Self::OneRidge | Self::SharedSide)
    }

    /// Whether one of the recurves encloses the other.
    pub fn is_enclosed(self) -> bool {
        matches!(self, Self::Circuit | Self::Inside)
    }
}

/// Two recurves and how they hang together; places are working pixels.
#[derive(Debug, Clone)]
pub struct TwoLoops {
    /// The recurve of each core, followed both ways from where it was met.
    pub ridges: [Vec<Point>; 2],
    /// How they hang together.
    pub together: Together,
    /// Whether an appendage spoils a recurve and no sufficient one was found outside it.
    pub spoiled: bool,
}

/// How far the legs of a recurve are followed on where they are cut short: so many times the distance between the cores.
const FOLLOWED: f64 = 1.2;
/// A way that comes this near to the top of the other recurve passes over it, ridge periods: nearer than the next ridge.
const OVER_THE_TOP: f64 = 0.4;
/// So much of a ridge in common makes it one side, ridge periods; ridges that only touch run together for less.
const COMMON: f64 = 1.5;
/// Loops that open within this of each other may lie one in the other, radians (60 degrees).
const ALIKE: f64 = 1.05;

/// Looks at the innermost recurves of two cores that no appendage spoils, or the innermost where all are spoiled; the cores come with the
/// directions into which they open. A double loop has two separate loops with shoulders of their own; the S and the interlocking core, and a loop
/// inside another, are none (handbook, chapter II, "Double loop"). None where one of the cores shows no recurve.
pub fn two_loops(lines: &RidgeLines, cores: [(Point, f64); 2]) -> Option<TwoLoops> {
    let period = lines.period;
    let longest = FOLLOWED * cores[0].0.distance(cores[1].0);
    let recurve = |(at, opening)| Recurve::sufficient(lines, at, opening).map(|s| s.recurve);
    let [one, other] = cores.map(recurve);
    let recurves = [one?, other?];
    let spoiled = recurves.iter().any(|r| r.appendage(lines).is_some());
    let [a, b] = recurves.each_ref().map(|r| legs(lines, r, longest));
    let tops = recurves.each_ref().map(|r| r.top);
    let passes = |legs: &[Vec<Point>; 2], top: Point| {
        legs.iter().filter(|leg| leg.iter().any(|p| p.distance(top) < OVER_THE_TOP * period)).count()
    };
    let on = |leg: &[Point], p: Point| leg.iter().any(|q| q.distance(p) < ON_LINE_PX);
    let common = |leg: &[Point]| b.iter().map(|other| leg.iter().filter(|p| on(other, **p)).count()).max().unwrap_or(0);
    // One ridge leads from either recurve over the other; where a side is in common only one of them runs into the other.
    let together = match (passes(&a, tops[1]), passes(&b, tops[0])) {
        (2.., _) | (_, 2..) => Together::Circuit,
        (1, 1) => Together::OneRidge,
        (1, 0) | (0, 1) => Together::SharedSide,
        _ if a.iter().any(|leg| common(leg) as f64 > COMMON * period) => Together::SharedSide,
        _ if inside((&recurves[0], &a), &recurves[1]) || inside((&recurves[1], &b), &recurves[0]) => Together::Inside,
        _ => Together::Separate,
    };
    let whole = |[left, right]: [Vec<Point>; 2]| left.into_iter().rev().chain(right).collect();
    Some(TwoLoops { ridges: [a, b].map(whole), together, spoiled })
}

/// Both legs of a recurve, followed for so long.
fn legs(lines: &RidgeLines, recurve: &Recurve, longest: f64) -> [Vec<Point>; 2] {
    recurve.legs.each_ref().map(|leg| {
        let mut points = leg.points.clone();
        if leg.stop == Stop::Enough {
            let on = lines.walk(leg.last, leg.heading, AtFork::Straight, longest, |_| true);
            points.extend(on.points.into_iter().skip(1));
        }
        points
    })
}

/// Whether the top of `inner` lies between the legs of `outer`, and both open the same way.
fn inside((outer, legs): (&Recurve, &[Vec<Point>; 2]), inner: &Recurve) -> bool {
    let (depth, aside) = along(outer.top, inner.top, outer.opening);
    // A leg that ends before is no side there.
    let side = |leg: &[Point]| {
        let places =
            leg.iter().map(|p| along(outer.top, *p, outer.opening)).filter(|p| (p.0 - depth).abs() < ON_LINE_PX);
        places.map(|p| p.1).min_by(|p, q| p.abs().total_cmp(&q.abs()))
    };
    let (Some(left), Some(right)) = (side(&legs[0]), side(&legs[1])) else { return false };
    let sides = [left, right];
    depth > 0.0
        && direction_difference(outer.opening, inner.opening).abs() < ALIKE
        && sides[0].min(sides[1]) < aside
        && aside < sides[0].max(sides[1])
}
