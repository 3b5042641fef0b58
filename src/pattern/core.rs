//! The core for counting: on or within the innermost sufficient recurve.
//!
//! This is the handbook's core (chapter II, "Core"), a place on a ridge. The core that the result format reports is the standard's: the
//! focus of the innermost recurve, between the ridges (ANSI/NIST-ITL field 9.320). The two are kept apart.

use super::recurve::{ON_LINE_PX, Recurve, Sufficient};
use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, Crossing, RidgeLines};
use std::f64::consts::PI;

/// Where the core was put, and by which rule.
#[derive(Debug, Clone)]
pub struct PlacedCore {
    /// The place, on a ridge; working pixels.
    pub at: Point,
    /// Rods inside the recurve that rise as high as the shoulders.
    pub rods: usize,
    /// The recurve.
    pub recurve: Recurve,
    /// Recurves inside it that an appendage spoiled.
    pub spoiled: usize,
    /// Whether the core lies where such an appendage touches the recurve.
    pub on_appendage: bool,
    /// Whether every recurve found there is spoiled, this one too: unless a sound one lies farther out, none is sufficient.
    pub none_sound: bool,
}

/// A rod reaches the shoulder line when it comes within this of it, ridge periods: thinning takes up to half a ridge's breadth off an
/// end.
const SHORT_OF_SHOULDERS: f64 = 0.3;
/// A loop points at the delta when the delta lies within this of the direction of its head, radians (25 degrees): nearer to that than to
/// broadside.
const POINTS_AT: f64 = 0.44;
/// A rod that turns further than this from the axis has become the head of a loop beside it, radians (40 degrees): its shoulder is
/// passed.
const HEAD_OF_A_ROD: f64 = 0.70;
/// Pixels over which a rod's direction is taken.
const STRIDE: usize = 4;

/// Puts the core of a loop, seen from `delta` (handbook, chapter II, figures 33 to 39):
/// without a rod on the shoulder farther from the delta; with an odd number of rods on the end of the middle one; with an even
/// number on the end of the farther of the two in the middle. Rods that do not reach the shoulders do not count. Loops side by side or
/// hooked into each other are one loop whose inner limbs are rods up to their shoulders (figures 46 to 49). A loop that points at the delta
/// has its core in the middle of the recurve (figure 139). Where an appendage spoils the innermost loop the next one outside serves, with the
/// core where the appendage touches it, or else without regard to what lies in the spoiled one (figures 40 to 45, 309); an appendage that rises
/// in the next loop without touching it is taken for no rod, which the text leaves open.
pub fn place_core(lines: &RidgeLines, focus: Point, opening: f64, delta: Point) -> Option<PlacedCore> {
    let Sufficient { recurve, spoiled, none_sound } = Recurve::sufficient(lines, focus, opening)?;
    let period = lines.period;
    let placed = |at, rods, recurve| {
        Some(PlacedCore { at, rods, recurve, spoiled: spoiled.len(), on_appendage: false, none_sound })
    };
    let toward = recurve.top.direction_to(delta);
    if direction_difference(toward, opening + PI).abs() < POINTS_AT {
        return placed(recurve.top, 0, recurve);
    }
    let on_recurve =
        |p: Point| recurve.legs.iter().flat_map(|leg| &leg.points).copied().find(|q| q.distance(p) < ON_LINE_PX);
    let shoulders = recurve.shoulders(period);
    // The shoulder line lies square to the axis through the higher shoulder: the core is never below it.
    let level = shoulders.iter().map(|s| recurve.below(*s)).fold(f64::INFINITY, f64::min).max(0.0);
    // An appendage that runs into the next loop may as well meet its leg: the core is never below the shoulder line.
    let touched = spoiled.last().and_then(|(_, appendage)| appendage.points.iter().find_map(|p| on_recurve(*p)));
    if let Some(at) = touched.filter(|p| recurve.below(*p) <= level + SHORT_OF_SHOULDERS * period) {
        return placed(at, 0, recurve).map(|core| PlacedCore { on_appendage: true, ..core });
    }
    let on_line = [0, 1].map(|k| {
        let leg = &recurve.legs[k].points;
        leg.iter().copied().find(|p| recurve.below(*p) >= level).unwrap_or(shoulders[k])
    });
    let far = usize::from(delta.distance(on_line[1]) > delta.distance(on_line[0]));
    let (far_place, near_place) = (on_line[far], on_line[1 - far]);
    let gap = near_place.distance(far_place);
    let inset = (0.3 * period).min(0.3 * gap) / gap.max(1e-9);
    let own = |p: Point| on_recurve(p).is_some();
    let lowered = |p: Point| p.step(opening, SHORT_OF_SHOULDERS * period);
    let met = lines.crossings(lowered(near_place.lerp(far_place, inset)), lowered(far_place.lerp(near_place, inset)));
    // What lies between the legs of a spoiled recurve belongs to it.
    let of_spoiled: Vec<f64> = spoiled
        .iter()
        .flat_map(|(r, _)| &r.legs)
        .flat_map(|leg| met.iter().filter(|c| leg.points.iter().any(|p| p.distance(c.at) < ON_LINE_PX)))
        .map(|c| c.along)
        .collect();
    let ends = |of: fn(f64, f64) -> f64, from: f64| of_spoiled.iter().copied().fold(from, of);
    let inside = ends(f64::min, f64::INFINITY)..=ends(f64::max, f64::NEG_INFINITY);
    let counts = |c: &Crossing| !own(c.at) && lines.heavy(c.pixel) && !inside.contains(&c.along);
    let rods: Vec<Crossing> = met.into_iter().filter(counts).collect();
    let at = match rods.get(rods.len() / 2) {
        None => far_place,
        Some(rod) => {
            let (mut tip, mut head) = (rod.at, false);
            let mut trail = vec![rod.at];
            lines.walk(rod.pixel, opening + PI, AtFork::Straight, 4.0 * period, |p| {
                trail.push(p);
                let back = trail[trail.len().saturating_sub(STRIDE + 1)];
                head = trail.len() > STRIDE
                    && direction_difference(back.direction_to(p), opening + PI).abs() > HEAD_OF_A_ROD;
                if !head && recurve.below(p) < recurve.below(tip) {
                    // A spike ends on the recurve.
                    tip = on_recurve(p).unwrap_or(p);
                }
                !head && !own(p) && recurve.below(p) > -1.0
            });
            // The limb of a loop has no end: the core lies on it where the shoulder line meets it.
            if head { rod.at } else { tip }
        }
    };
    placed(at, rods.len(), recurve)
}
