//! The delta for counting and tracing: the first ridge formation at the divergence of the type lines.

use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, Formation, Pixel, RidgeLines};
use std::f64::consts::{FRAC_PI_2, PI};

/// Where the delta was put, and on what.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedDelta {
    /// The place, on a ridge; working pixels.
    pub at: Point,
    /// Its pixel.
    pub pixel: Pixel,
    /// What the ridge does there; [`Formation::Passing`] for a point on the first ridge in front of the divergence, which is thereby used
    /// up as a recurve (handbook, chapter II, figures 136 to 138).
    pub formation: Formation,
}

/// How far from the middle of the divergence a fork may lie, ridge periods.
const FORK_REACH: f64 = 0.9;
/// How far an ending, a dot or a short ridge may lie.
const END_REACH: f64 = 0.7;
/// How far behind the divergence, away from the core, it may lie: at it or in front of it.
const BEHIND: f64 = 0.5;

/// Puts the delta: starting from the middle of the divergence that the flow shows (`at`), the first obstruction at or in front of it, toward
/// `core` (handbook, chapter II, "Delta"). A fork that does not open toward the core is no delta; a fork goes before another
/// formation; of several of one kind the one nearest the divergence's middle is taken. A dot or a piece thinner than its neighbours is no delta.
pub fn place_delta(lines: &RidgeLines, at: Point, core: Point) -> Option<PlacedDelta> {
    let (period, toward) = (lines.period, at.direction_to(core));
    let near = lines.formations_near(at, FORK_REACH * period);
    let in_front = |p: Point| super::recurve::along(at, p, toward).0 > -BEHIND * period;
    let fork = near.iter().find(|(_, pixel, what)| {
        matches!(what, Formation::Fork | Formation::Island)
            && in_front(lines.place(*pixel))
            && opens_toward(lines, *pixel, core)
    });
    let other = near.iter().find(|(d, pixel, what)| {
        matches!(what, Formation::Ending | Formation::Dot | Formation::ShortRidge)
            && *d <= END_REACH * period
            && in_front(lines.place(*pixel))
            && lines.heavy(*pixel)
    });
    let placed = |pixel: Pixel, formation| PlacedDelta { at: lines.place(pixel), pixel, formation };
    if let Some((_, pixel, what)) = fork.or(other) {
        return Some(placed(*pixel, *what));
    }
    // No formation: a point on the first ridge at the divergence or in front of it.
    if let Some((_, pixel)) = lines.near(at, 0.35 * period).first() {
        return Some(placed(*pixel, Formation::Passing));
    }
    let met = lines.crossings(at, at.step(toward, 2.2 * period));
    met.first().map(|c| placed(c.pixel, Formation::Passing))
}

/// Whether the two limbs of a fork that lie closest together look toward `core` (handbook, chapter II, figures 26 and 31).
fn opens_toward(lines: &RidgeLines, fork: Pixel, core: Point) -> bool {
    let at = lines.place(fork);
    let reach = 0.8 * lines.period;
    let mut limbs: Vec<f64> = Vec::new();
    for k in 0..12 {
        let heading = f64::from(k) * PI / 6.0;
        let end = lines.walk(fork, heading, AtFork::Straight, reach, |_| true).end();
        if end.distance(at) < 0.4 * reach {
            continue;
        }
        let direction = at.direction_to(end);
        if limbs.iter().all(|l| direction_difference(*l, direction).abs() > 0.35) {
            limbs.push(direction);
        }
    }
    let mut narrowest: Option<(f64, f64)> = None;
    for (i, a) in limbs.iter().enumerate() {
        for b in &limbs[i + 1..] {
            let apart = direction_difference(*b, *a);
            let middle = a + 0.5 * apart;
            if narrowest.is_none_or(|n| apart.abs() < n.0) {
                narrowest = Some((apart.abs(), middle));
            }
        }
    }
    narrowest.is_none_or(|(_, middle)| direction_difference(middle, at.direction_to(core)).abs() < FRAC_PI_2)
}
