//! The few recurves before the inner delta of a print that looks like a central pocket loop, and whether an appendage spoils each of them.
//!
//! A print with two deltas is a loop where each recurve before the inner one is spoiled by an appendage that is connected with it at the point
//! crossed by the line of flow (handbook, chapter II, "Central pocket loops", figures 245 to 254; 237 and 238 have theirs elsewhere and stay
//! central pocket loops). How it is looked for is our own: such recurves come to a tip, and a ridge leads on from it toward the delta.

use super::decide::Pattern;
use super::line_of_flow::LineOfFlow;
use super::recurve::along;
use crate::geometry::{Point, direction_difference, orientation_difference};
use crate::ridge::{AtFork, Crossing, Pixel, RidgeLines};
use std::f64::consts::FRAC_PI_2;

/// The ridges before the inner delta of a pocket are few up to this many: appendages may spoil them all. (Handbook, chapter II, figures 239 to 254:
/// loops that look like pockets; those of odd number show one to three ridges there.)
pub const FEW_BEFORE_DELTA: usize = 3;

/// A recurve that an appendage spoils where the line of flow crosses it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stalk {
    /// The tip of the recurve, working pixels.
    pub tip: Point,
    /// The ridge that leads away from it, from the tip on.
    pub ridge: Vec<Point>,
}

/// What stands between the core and the inner delta of a whorl with few ridges there; places are working pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Pocket {
    /// The inner delta.
    pub delta: Point,
    /// The outer one; none where it stands so near that it might be the inner one.
    pub outer: Option<Point>,
    /// Whether it is the left one, so that what is left of a spoiled pocket is a loop that opens to the left.
    pub on_left: bool,
    /// Recurves with an appendage in the line of flow.
    pub spoiled: Vec<Stalk>,
    /// Where other recurves, and obstructions at right angles, are met in the line of flow and beside it; a slanting one more than once.
    pub sound: Vec<Point>,
}

/// A fork so far from the line of flow is still in it, ridge periods: the tip of a recurve lies aside of the straight line where that bends.
const IN_LINE: f64 = 0.8;
/// A tip lies at least so far from the core, and so far from the delta, ridge periods: a fork nearer to that may be the delta itself.
const FROM_CORE: f64 = 0.25;
const FROM_DELTA: f64 = 1.0;
/// Nearer to the delta a ridge that is met is the delta's own, ridge periods.
const AT_DELTA: f64 = 0.5;
/// An appendage leads along the line of flow within this, and the limbs of the recurve part from that by more, radians (45 degrees).
const IN_FLOW: f64 = std::f64::consts::FRAC_PI_4;
/// A limb's direction is taken over so much of it, ridge periods; one that comes to less than the second leads nowhere.
const LEADS: f64 = 0.9;
const LEAST: f64 = 0.55;
/// A recurve is followed so far until it is beside the core, ridge periods.
const LONGEST: f64 = 9.0;
/// Ridges are looked for in the line of flow and so far beside it, ridge periods, where one that lies in the line does not hide them.
const BESIDE: f64 = 0.4;
/// A recurve belongs to a tip that it passes within the second number of, less than the first away from where it was met, ridge periods.
const NEAR_MET: f64 = 1.5;
const PASSES: f64 = 0.28;
/// Two tips, and two recurves met, nearer than this are one, ridge periods.
const SAME: f64 = 0.55;
/// Half of a ridge that stands at a right angle, ridge periods, and how far off it may be, radians (20 degrees), as in the line of flow.
const ASIDE: f64 = 0.9;
const SQUARE: f64 = 0.35;

/// Of what spoke for a whorl, the part that speaks for a loop where each recurve is spoiled. How many such prints there are is published nowhere; of 320
/// drawn plain whorls and pockets, none of them made so, one looks like it (seeds from 1,900,100,000).
const LOOP_SHARE: f64 = 0.7;

impl Pocket {
    /// Looks along the inner one of a whorl's two lines of flow; none where more than a few ridges stand in it. Of three ridges and fewer it is short.
    pub fn of(lines: &RidgeLines, [left, right]: &[LineOfFlow; 2]) -> Option<Self> {
        let on_left = left.length() <= right.length();
        let (inner, other) = if on_left { (left, right) } else { (right, left) };
        (inner.met.len() <= FEW_BEFORE_DELTA).then(|| {
            let (delta, core) = inner.ends;
            let spoiled = stalks(lines, core, delta);
            let sound = sound(lines, core, delta, &spoiled);
            let outer = (other.met.len() > FEW_BEFORE_DELTA).then_some(other.ends.0);
            Self { delta, outer, on_left, spoiled, sound }
        })
    }

    /// What is left of the whorl where the pocket is spoiled: the loop that opens to the side of the inner delta, and the probabilities of the patterns, in the
    /// order of [`Pattern::ALL`], when most of the whorl's goes to it.
    pub fn as_loop(&self, probabilities: &[f64; 5]) -> (Pattern, [f64; 5]) {
        let slant = if self.on_left { Pattern::LeftLoop } else { Pattern::RightLoop };
        let place = |pattern| Pattern::ALL.iter().position(|p| *p == pattern).unwrap_or_default();
        let mut shifted = *probabilities;
        let part = LOOP_SHARE * shifted[place(Pattern::Whorl)];
        shifted[place(Pattern::Whorl)] -= part;
        shifted[place(slant)] += part;
        (slant, shifted)
    }

    /// Whether a recurve was found and each one that was found is spoiled.
    pub fn is_spoiled(&self) -> bool {
        self.sound.is_empty() && !self.spoiled.is_empty()
    }
}

/// The limb of a recurve that leaves `from` toward `heading`, as far as the core's level, if it comes up there on its own side of the line of flow (left
/// hand of one who looks from core to delta: 1, right hand: -1).
fn comes_up(lines: &RidgeLines, from: Pixel, heading: f64, side: f64, (core, out): (Point, f64)) -> Option<Vec<Point>> {
    let (mut up, mut over) = (false, false);
    let walk = lines.walk(from, heading, AtFork::Straight, LONGEST * lines.period, |p| {
        let (ahead, aside) = along(core, p, out);
        up = ahead <= 0.0 && aside * side > 0.0;
        over = aside * side < -IN_LINE * lines.period;
        !up && !over
    });
    up.then_some(walk.points)
}

/// Tips of recurves in the line of flow from which a ridge leads on.
fn stalks(lines: &RidgeLines, core: Point, delta: Point) -> Vec<Stalk> {
    let (out, length, period) = (core.direction_to(delta), core.distance(delta), lines.period);
    let mut found: Vec<Stalk> = Vec::new();
    for (_, fork, _) in lines.formations_near(core.lerp(delta, 0.5), 0.5 * length + period) {
        let tip = lines.place(fork);
        let (ahead, aside) = along(core, tip, out);
        let in_line =
            aside.abs() <= IN_LINE * period && ahead >= FROM_CORE * period && ahead <= length - FROM_DELTA * period;
        if !in_line || lines.degree(fork) < 3 || found.iter().any(|known| known.tip.distance(tip) <= SAME * period) {
            continue;
        }
        let limbs = lines.limbs_of(fork).into_iter().filter_map(|limb| {
            let heading = tip.direction_to(lines.place(limb));
            let walk = lines.walk(limb, heading, AtFork::Straight, LEADS * period, |_| true);
            let off = direction_difference(tip.direction_to(walk.end()), out);
            (walk.end().distance(tip) > LEAST * period).then_some((limb, off, walk))
        });
        let limbs: Vec<_> = limbs.collect();
        // A thin incipient ridge is no appendage; one place alone says little about that.
        let heavy = |ridge: &[Point]| {
            let pixels: Vec<Pixel> = ridge.iter().filter_map(|p| lines.pixel_at(*p)).collect();
            2 * pixels.iter().filter(|p| lines.heavy(**p)).count() > pixels.len()
        };
        let stem = limbs.iter().find(|(_, off, walk)| off.abs() < IN_FLOW && heavy(&walk.points));
        let recurves = |side: f64| {
            limbs.iter().any(|(limb, off, _)| {
                side * off > IN_FLOW && comes_up(lines, *limb, out + off, side, (core, out)).is_some()
            })
        };
        if let Some((.., stem)) = stem
            && recurves(1.0)
            && recurves(-1.0)
        {
            let ridge = std::iter::once(tip).chain(stem.points.iter().copied()).collect();
            found.push(Stalk { tip, ridge });
        }
    }
    found
}

/// Where recurves and obstructions at right angles that have no stalk are met in the line of flow.
fn sound(lines: &RidgeLines, core: Point, delta: Point, stalks: &[Stalk]) -> Vec<Point> {
    let (out, period) = (core.direction_to(delta), lines.period);
    let limbs_of = |met: &Crossing| {
        let sides = [(1.0, out + FRAC_PI_2), (-1.0, out - FRAC_PI_2)];
        let [left, right] = sides.map(|(side, heading)| comes_up(lines, met.pixel, heading, side, (core, out)));
        left.zip(right).or_else(|| {
            let [left, right] = sides
                .map(|(_, heading)| lines.walk(met.pixel, heading, AtFork::Straight, ASIDE * period, |_| true).points);
            let (one, other) = (*left.last()?, *right.last()?);
            let crosses = orientation_difference(one.direction_to(other), out).abs();
            let square = one.distance(other) > 1.5 * ASIDE * period && (crosses - FRAC_PI_2).abs() < SQUARE;
            square.then_some((left, right))
        })
    };
    let has_stalk = |met: &Crossing, (left, right): &(Vec<Point>, Vec<Point>)| {
        let near = left.iter().chain(right).filter(|p| p.distance(met.at) < NEAR_MET * period);
        near.into_iter().any(|p| stalks.iter().any(|stalk| stalk.tip.distance(*p) < PASSES * period))
    };
    let mut found: Vec<Point> = Vec::new();
    for aside in [0.0, BESIDE, -BESIDE] {
        let beside = |p: Point| p.step(out + FRAC_PI_2, aside * period);
        for met in lines.crossings(beside(core), beside(delta)) {
            let known = found.iter().any(|at| at.distance(met.at) < SAME * period);
            if known || met.at.distance(delta) < AT_DELTA * period {
                continue;
            }
            if limbs_of(&met).is_some_and(|limbs| !has_stalk(&met, &limbs)) {
                found.push(met.at);
            }
        }
    }
    found
}
