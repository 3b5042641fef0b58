//! The few recurves before the inner delta of a print that looks like a central pocket loop, and whether an appendage spoils each of them.
//!
//! A whorl has a recurve in front of each of two deltas (handbook, chapter II, "The whorl"). A print with two deltas is a loop where each recurve before the inner one is spoiled by an appendage that is connected with it at the point
//! crossed by the line of flow (handbook, chapter II, "Central pocket loops", figures 245 to 254; 237 and 238 have theirs elsewhere and stay
//! central pocket loops). How it is looked for is our own: such recurves come to a tip, and a ridge leads on from it toward the delta.

use super::decide::Pattern;
use super::line_of_flow::{LineOfFlow, crosses_squarely, inner_first};
use super::recurve::along;
use crate::geometry::{Point, direction_difference};
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
    /// The outer one; none where so few ridges stand before it as well that it might be the inner one.
    pub outer: Option<Point>,
    /// Whether what is left of a spoiled pocket is a loop that opens to the left: away from the outer delta, or, where that is not known, toward the inner.
    pub opens_left: bool,
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

/// Of what spoke for a whorl, the part that speaks for a loop where each recurve is spoiled. How many such prints there are is published nowhere; of 3,000
/// drawn whorls of every kind, none of them meant so, ten look like it (MEASUREMENTS.md).
const LOOP_SHARE: f64 = 0.7;
/// Of that, the part of the loop that opens to the other side where it is not clear which delta is the inner one: named, not more.
const OTHER_SLANT: f64 = 0.2;

impl Pocket {
    /// Looks along the inner one of a whorl's two lines of flow, the shorter; none where more than a few ridges stand in it.
    pub fn of(lines: &RidgeLines, lines_of_flow: &[LineOfFlow; 2]) -> Option<Self> {
        let [inner, other] = inner_first(lines_of_flow);
        (inner.met.len() <= FEW_BEFORE_DELTA).then(|| {
            let (delta, core) = inner.ends;
            let spoiled = stalks(lines, core, delta);
            let sound = sound(lines, core, delta, &spoiled);
            let outer = (other.met.len() > FEW_BEFORE_DELTA).then_some(other.ends.0);
            let opens_left = outer.map_or(delta.x < core.x, |outer| outer.x > core.x);
            Self { delta, outer, opens_left, spoiled, sound }
        })
    }

    /// The probabilities of the patterns, in the order of [`Pattern::ALL`], where the pocket is spoiled: most of the whorl's goes to the loop that opens to the
    /// side of the inner delta. A loop that would stay below `least`, which is asked of a proposal, is named beside a whorl that just reaches it.
    pub fn as_loop(&self, probabilities: &[f64; 5], least: f64) -> [f64; 5] {
        let place = |pattern| Pattern::ALL.iter().position(|p| *p == pattern).unwrap_or_default();
        let (left, right) = (place(Pattern::LeftLoop), place(Pattern::RightLoop));
        let (slant, other) = if self.opens_left { (left, right) } else { (right, left) };
        let whorl = probabilities[place(Pattern::Whorl)];
        // Where the outer delta might be the inner one, the loop may open to the other side.
        let doubt = if self.outer.is_none() { OTHER_SLANT } else { 0.0 };
        let part = LOOP_SHARE * whorl;
        let is_proposed = probabilities[slant] + (1.0 - doubt) * part >= least;
        let part = if is_proposed { part } else { part.min((whorl - least).max(0.0)) };
        let mut shifted = *probabilities;
        shifted[place(Pattern::Whorl)] -= part;
        shifted[slant] += (1.0 - doubt) * part;
        shifted[other] += doubt * part;
        shifted
    }

    /// Whether a recurve was found and each one that was found is spoiled.
    pub fn is_spoiled(&self) -> bool {
        self.sound.is_empty() && !self.spoiled.is_empty()
    }
}

/// Whether the limb of a recurve that leaves `from` toward `heading` comes up to the core's level on its own side of the line of flow (left hand of one
/// who looks from core to delta: 1, right hand: -1).
fn comes_up(lines: &RidgeLines, from: Pixel, heading: f64, side: f64, (core, out): (Point, f64)) -> bool {
    let (mut up, mut over) = (false, false);
    lines.walk(from, heading, AtFork::Straight, LONGEST * lines.period, |p| {
        let (ahead, aside) = along(core, p, out);
        up = ahead <= 0.0 && aside * side > 0.0;
        over = aside * side < -IN_LINE * lines.period;
        !up && !over
    });
    up
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
            limbs
                .iter()
                .any(|(limb, off, _)| side * off > IN_FLOW && comes_up(lines, *limb, out + off, side, (core, out)))
        };
        if let Some((.., stem)) = stem
            && recurves(1.0)
            && recurves(-1.0)
            && lines.is_clear(tip)
        {
            let ridge = std::iter::once(tip).chain(stem.points.iter().copied()).collect();
            found.push(Stalk { tip, ridge });
        }
    }
    found
}

/// Where recurves and obstructions at right angles that have no stalk are met in the line of flow. Obstructions are not looked at for appendages, and a
/// ridge that was not followed far enough to be either is left out.
fn sound(lines: &RidgeLines, core: Point, delta: Point, stalks: &[Stalk]) -> Vec<Point> {
    let (out, period) = (core.direction_to(delta), lines.period);
    let sides = [(1.0, out + FRAC_PI_2), (-1.0, out - FRAC_PI_2)];
    let by_stalk = |met: &Crossing| {
        let limbs = sides
            .map(|(_, heading)| lines.walk(met.pixel, heading, AtFork::Straight, NEAR_MET * period, |_| true).points);
        limbs.iter().flatten().any(|p| stalks.iter().any(|s| s.tip.distance(*p) < PASSES * period))
    };
    let mut found: Vec<Point> = Vec::new();
    for aside in [0.0, BESIDE, -BESIDE] {
        let beside = |p: Point| p.step(out + FRAC_PI_2, aside * period);
        for met in lines.crossings(beside(core), beside(delta)) {
            let known = found.iter().any(|at| at.distance(met.at) < SAME * period);
            if known || met.at.distance(delta) < AT_DELTA * period || by_stalk(&met) {
                continue;
            }
            let recurves = || sides.iter().all(|(side, to)| comes_up(lines, met.pixel, *to, *side, (core, out)));
            if crosses_squarely(lines, met.pixel, out) || recurves() {
                found.push(met.at);
            }
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn most_of_a_whorl_goes_to_the_loop_on_the_side_of_the_inner_delta_and_nothing_is_lost() {
        let pocket = |opens_left, outer| Pocket {
            delta: Point::default(),
            outer,
            opens_left,
            spoiled: Vec::new(),
            sound: Vec::new(),
        };
        let (clear, unclear) = (Some(Point::default()), None);
        // Plain and tented arch, loop to the left, to the right, whorl.
        let given = [0.0, 0.02, 0.01, 0.03, 0.94];
        let left = pocket(true, clear).as_loop(&given, 0.45);
        assert_abs_diff_eq!(left.as_slice(), [0.0, 0.02, 0.668, 0.03, 0.282].as_slice(), epsilon = 1e-9);
        let right = pocket(false, clear).as_loop(&given, 0.45);
        assert_abs_diff_eq!(right.as_slice(), [0.0, 0.02, 0.01, 0.688, 0.282].as_slice(), epsilon = 1e-9);
        // Both slants are named where it is not clear which delta is the inner one.
        let either = pocket(false, unclear).as_loop(&given, 0.45);
        assert_abs_diff_eq!(either.as_slice(), [0.0, 0.02, 0.1416, 0.5564, 0.282].as_slice(), epsilon = 1e-9);
        // A loop that could not be proposed leaves a whorl that can.
        let unsure = pocket(true, clear).as_loop(&[0.25, 0.15, 0.0, 0.0, 0.6], 0.45);
        assert_abs_diff_eq!(unsure.as_slice(), [0.25, 0.15, 0.15, 0.0, 0.45].as_slice(), epsilon = 1e-9);
        assert_eq!(pocket(true, clear).as_loop(&[0.3, 0.2, 0.1, 0.0, 0.4], 0.45), [0.3, 0.2, 0.1, 0.0, 0.4]);
    }
}
