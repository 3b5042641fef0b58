//! The core for counting: on or within the innermost sufficient recurve.
//!
//! This is the handbook's core (chapter II, "Core"), a place on a ridge. The core that the result format reports is the standard's: the
//! focus of the innermost recurve, between the ridges (ANSI/NIST-ITL field 9.320). The two are kept apart.

use super::recurve::Recurve;
use crate::geometry::Point;
use crate::ridge::{AtFork, RidgeLines};
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
}

/// Ridges outside the focus among which the innermost sufficient recurve is looked for.
const RECURVES_TRIED: f64 = 3.2;

/// Puts the core of a loop, seen from `delta` (handbook, chapter II, figures 33 to 39):
/// without a rod on the shoulder farther from the delta; with an odd number of rods on the end of the middle one; with an even
/// number on the end of the farther of the two in the middle. Rods that do not reach the shoulders do not count.
pub fn place_core(lines: &RidgeLines, focus: Point, opening: f64, delta: Point) -> Option<PlacedCore> {
    let recurve = Recurve::innermost(lines, focus, opening, RECURVES_TRIED)?;
    let period = lines.period;
    let shoulders = recurve.shoulders();
    // The shoulder line lies square to the axis through the higher shoulder: the core is never below it.
    let level = shoulders.iter().map(|s| recurve.below(*s)).fold(f64::INFINITY, f64::min).max(0.0);
    let on_line = [0, 1].map(|k| {
        let leg = &recurve.legs[k].points;
        leg.iter().copied().find(|p| recurve.below(*p) >= level).unwrap_or(shoulders[k])
    });
    let far = usize::from(delta.distance(on_line[1]) > delta.distance(on_line[0]));
    let (far_place, near_place) = (on_line[far], on_line[1 - far]);
    let gap = near_place.distance(far_place);
    let inset = (0.3 * period).min(0.3 * gap) / gap.max(1e-9);
    let own = |p: Point| recurve.legs.iter().any(|leg| leg.points.iter().any(|q| q.distance(p) < 1.6));
    let met = lines.crossings(near_place.lerp(far_place, inset), far_place.lerp(near_place, inset));
    let rods: Vec<_> = met.into_iter().filter(|c| !own(c.at) && lines.heavy(c.pixel)).collect();
    let at = match rods.get(rods.len() / 2) {
        None => far_place,
        Some(rod) => {
            let mut tip = rod.at;
            lines.walk(rod.pixel, opening + PI, AtFork::Straight, 4.0 * period, |p| {
                let joined = own(p);
                if !joined && recurve.below(p) < recurve.below(tip) {
                    tip = p;
                }
                !joined && recurve.below(p) > -1.0
            });
            tip
        }
    };
    Some(PlacedCore { at, rods: rods.len(), recurve })
}
