//! The delta for counting and tracing: the first ridge formation at the divergence of the type lines.

use crate::geometry::{Point, direction_difference};
use crate::ridge::{AtFork, Formation, Pixel, RidgeLines, Stop};
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
/// How far on the same ridge a second fork may lie before the first, toward the core, ridge periods (handbook, chapter II, figure 28).
const SECOND_FORK: f64 = 1.8;
/// Two forks nearer than this are the same one after thinning, ridge periods.
const SAME_FORK: f64 = 0.5;
/// How far a ridge that runs through the divergence toward the core is followed to its end, ridge periods.
const THROUGH: f64 = 5.0;
/// A ridge runs toward the core within this of the direction to it, radians (40 degrees).
const RUNS_TOWARD: f64 = 0.70;
/// How far behind the divergence, away from the core, it may lie: at it or in front of it.
const BEHIND: f64 = 0.5;

/// Puts the delta: starting from the middle of the divergence that the flow shows (`at`), the first obstruction at or in front of it, toward
/// `core` (handbook, chapter II, "Delta"). A fork that does not open toward the core is no delta unless ridges meet there; a fork goes before another
/// formation; of several forks the one nearest the core is taken, of several others the one nearest the divergence's middle. A dot or a piece
/// thinner than its neighbours is no delta. On a ridge that runs through the divergence toward the core the delta lies at an end, not in
/// the middle.
pub fn place_delta(lines: &RidgeLines, at: Point, core: Point) -> Option<PlacedDelta> {
    let (period, toward) = (lines.period, at.direction_to(core));
    let near = lines.formations_near(at, FORK_REACH * period);
    let in_front = |p: Point| super::recurve::along(at, p, toward).0 > -BEHIND * period;
    let from_core = |pixel: Pixel| lines.place(pixel).distance(core);
    let fork = near
        .iter()
        .filter(|(_, pixel, what)| {
            matches!(what, Formation::Fork | Formation::Island)
                && in_front(lines.place(*pixel))
                && fork_may_be_delta(lines, *pixel, core)
        })
        .min_by(|a, b| from_core(a.1).total_cmp(&from_core(b.1)))
        .map(|f| second_fork(lines, *f, core));
    let other = near.iter().find(|(d, pixel, what)| {
        matches!(what, Formation::Ending | Formation::Dot | Formation::ShortRidge)
            && *d <= END_REACH * period
            && in_front(lines.place(*pixel))
            && lines.heavy(*pixel)
    });
    let placed = |pixel: Pixel, formation| PlacedDelta { at: lines.place(pixel), pixel, formation };
    if let Some((_, pixel, what)) = fork.or(other.copied()) {
        return Some(placed(pixel, what));
    }
    // No formation: a point on the first ridge at the divergence or in front of it.
    if let Some((_, pixel)) = lines.near(at, 0.35 * period).iter().find(|n| lines.heavy(n.1)) {
        return Some(match end_of_through_ridge(lines, *pixel, core) {
            Some(end) => placed(end, Formation::Ending),
            None => placed(*pixel, Formation::Passing),
        });
    }
    let met = lines.crossings(at, at.step(toward, 2.2 * period));
    met.iter().find(|c| lines.heavy(c.pixel)).map(|c| placed(c.pixel, Formation::Passing))
}

/// How far off the middle of the divergence another formation may be the delta, and how far in front of it, ridge periods. Chosen with the handbook's
/// figure 83 in sight: its 20 counts fit a ridge so far behind the fork that opens toward the core, and from the fork there are 17.
const OTHERS_REACH: f64 = 2.0;
const OTHERS_IN_FRONT: f64 = 1.0;

/// Where else the delta may be put: every heavy ending, dot, short ridge, meeting of ridges and fork that opens toward `core`, up to two ridges off the middle of the divergence (`at`) and
/// one in front of it. The handbook (chapter II, "Delta") wants it at or in front of the center of the divergence and midway between the type lines; but examiners put the divergence differently,
/// so nothing is asked here of type lines, and ends at the edge of the print or of its ink are taken in.
pub fn other_deltas(lines: &RidgeLines, at: Point, core: Point) -> Vec<Point> {
    let toward = at.direction_to(core);
    let near = lines.formations_near(at, OTHERS_REACH * lines.period);
    near.into_iter()
        .filter(|(_, pixel, _)| {
            let ahead = super::recurve::along(at, lines.place(*pixel), toward).0;
            ahead <= OTHERS_IN_FRONT * lines.period && lines.heavy(*pixel)
        })
        .filter(|(_, pixel, what)| {
            !matches!(what, Formation::Fork | Formation::Island) || fork_may_be_delta(lines, *pixel, core)
        })
        .map(|(_, pixel, _)| lines.place(pixel))
        .collect()
}

/// A second fork on the ridge that goes on from the first toward the core, if it opens toward the core as well: then that is the delta
/// (handbook, chapter II, figure 28). The rule speaks of bifurcations that open toward the core: a meeting of ridges is none.
fn second_fork(lines: &RidgeLines, first: (f64, Pixel, Formation), core: Point) -> (f64, Pixel, Formation) {
    let at = lines.place(first.1);
    let mut passed = Vec::new();
    lines.walk(first.1, at.direction_to(core), AtFork::Straight, SECOND_FORK * lines.period, |p| {
        passed.push(p);
        true
    });
    let second = passed.into_iter().rev().filter_map(|p| lines.pixel_at(p)).find(|&pixel| {
        let place = lines.place(pixel);
        lines.degree(pixel) > 2
            && place.distance(at) > SAME_FORK * lines.period
            && direction_difference(at.direction_to(place), at.direction_to(core)).abs() < RUNS_TOWARD
            && opens_toward(lines, pixel, core)
    });
    second.map_or(first, |pixel| (first.0, pixel, lines.formation(pixel)))
}

/// The end of a ridge that runs through the divergence toward the core: the end nearer the core where the ridge comes in from below
/// the divergence, the end at the divergence where it lies wholly inside (handbook, chapter II, figures 29 and 30). None where the ridge at
/// the divergence does not run toward the core or has no end.
fn end_of_through_ridge(lines: &RidgeLines, pixel: Pixel, core: Point) -> Option<Pixel> {
    let (at, period) = (lines.place(pixel), lines.period);
    let toward = at.direction_to(core);
    let ahead = lines.walk(pixel, toward, AtFork::Straight, THROUGH * period, |_| true);
    let behind = lines.walk(pixel, toward + PI, AtFork::Straight, THROUGH * period, |_| true);
    let runs = |end: Point, way: f64| direction_difference(at.direction_to(end), way).abs() < RUNS_TOWARD;
    if !runs(ahead.end(), toward) || !runs(behind.end(), toward + PI) {
        return None;
    }
    if behind.stop == Stop::RidgeEnd && behind.end().distance(at) < SECOND_FORK * period {
        return Some(behind.last);
    }
    (ahead.stop == Stop::RidgeEnd && ahead.end().distance(core) > SECOND_FORK * period).then_some(ahead.last)
}

/// Limbs meet when no two lie closer together than the first or farther apart than the second, where one runs on in the other, radians (74 and 152 degrees). The
/// drawn truth has the same rule, on code of its own.
const MEET: (f64, f64) = (1.3, 2.65);

/// Whether a fork may be the delta: it opens toward `core`, or ridges meet there.
fn fork_may_be_delta(lines: &RidgeLines, fork: Pixel, core: Point) -> bool {
    opens_toward(lines, fork, core) || meets(lines, fork)
}

/// Whether the two limbs of a fork that lie closest together look toward `core` (handbook, chapter II, figures 26 and 31).
fn opens_toward(lines: &RidgeLines, fork: Pixel, core: Point) -> bool {
    let at = lines.place(fork);
    let closest = pairs_of_limbs(lines, fork).first().copied();
    closest.is_none_or(|(a, apart)| direction_difference(a + 0.5 * apart, at.direction_to(core)).abs() < FRAC_PI_2)
}

/// Whether no two limbs of a fork lie close together or run on in each other: "a meeting of two ridges" (handbook, chapter II, "Delta"), which has no side to open to.
fn meets(lines: &RidgeLines, fork: Pixel) -> bool {
    let pairs = pairs_of_limbs(lines, fork);
    match pairs.as_slice() {
        [(_, closest), .., (_, farthest)] => closest.abs() > MEET.0 && farthest.abs() < MEET.1,
        _ => false,
    }
}

/// Every two limbs of a fork, closest first: the direction of one and how far it is from there to the other, radians.
fn pairs_of_limbs(lines: &RidgeLines, fork: Pixel) -> Vec<(f64, f64)> {
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
    let with =
        |(i, a): (usize, &f64)| limbs[i + 1..].iter().map(|b| (*a, direction_difference(*b, *a))).collect::<Vec<_>>();
    let mut pairs: Vec<(f64, f64)> = limbs.iter().enumerate().flat_map(with).collect();
    pairs.sort_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
    pairs
}
