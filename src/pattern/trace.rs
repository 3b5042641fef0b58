//! Whorl tracing: the ridge from the left delta to the place nearest the right one.

use super::count::crossing;
use super::delta::{PlacedDelta, place_delta};
use super::flow::{Flow, follow};
use super::ridge_count::ridges_between;
use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference};
use crate::proposal::Tracing;
use crate::ridge::{AtFork, Crossing, Pixel, RidgeLines, Stop};
use crate::singular::Candidate;
use std::f64::consts::{FRAC_PI_2, PI};

/// One traced way.
#[derive(Debug, Clone)]
pub struct Traced {
    /// Ridges between the traced ridge and the right delta, positive when it passes inside (above) the delta.
    pub between: i32,
    /// The traced ridge up to the place nearest the right delta, working pixels.
    pub path: Vec<Point>,
    /// The ridges between, from the traced ridge to the right delta.
    pub ridges: Vec<Crossing>,
    /// Drops to the next lower ridge at a definite end.
    pub drops: usize,
    /// Breaks taken for ink and bridged.
    pub bridged: usize,
    /// Forks at which the lower limb was taken.
    pub forks: usize,
}

/// A tracing with the others that the doubt allows.
#[derive(Debug, Clone)]
pub struct Tracings {
    /// The tracing from the placed deltas.
    pub preferred: Option<Traced>,
    /// Signed ridges between of all tracings on the ridges: from shifted places, with doubtful breaks carried both ways.
    pub on_ridges: Vec<i32>,
    /// Signed ridges between when the flow is followed from the left delta, and from the right delta backward.
    pub by_flow: [Option<f64>; 2],
    /// Where the right delta was put.
    pub right: Option<PlacedDelta>,
    /// Where the left delta was put.
    pub left: Option<PlacedDelta>,
}

impl Tracings {
    /// Whether any way, on the ridges or by their flow, reached the right delta.
    pub fn came_round(&self) -> bool {
        !self.on_ridges.is_empty() || self.by_flow.iter().any(Option::is_some)
    }
}

/// The tracing by the ridges between traced ridge and right delta, positive when it passes inside: three or more make inner or outer
/// (handbook, chapter II, "Whorl tracing").
pub fn tracing_of(between: i32) -> Tracing {
    match between {
        3.. => Tracing::I,
        ..=-3 => Tracing::O,
        _ => Tracing::M,
    }
}

/// Direction of the lower side of a left delta: to the right and a little down, radians.
const LOWER_SIDE: f64 = -0.45;
/// Direction of the ridges that leave a right delta to the left, radians: a little down.
const LEFT_ARM: f64 = 1.1 * PI;
/// A traced ridge trends upward where it rises so far above its lowest place, and has passed its top where it comes down again as far, ridge
/// periods: less is a wave.
const TREND: f64 = 3.0;
/// Most drops before a tracing is given up.
const MOST_DROPS: usize = 12;
/// A ridge at the left delta is followed so far to see whether it runs off along the delta's lower arm, ridge periods.
const FOLLOWED: f64 = 2.5;
/// It does within so wide an angle, radians: the arms of a delta lie some 120 degrees apart, so half of that and a little for its bends.
const ALONG_ARM: f64 = 1.16;
/// What is no longer than this is a stub, ridge periods.
const STUB: f64 = 0.5;
/// So far below the delta the next ridge is looked for where its own runs another way, ridge periods: one may be broken there.
const LOWER: f64 = 3.0;
/// So near the left delta the tracing goes on along the delta's arm after a drop, whatever way the short ridge bent that ended; ridge periods.
const AT_DELTA: f64 = 4.0;
/// How the next lower ridge is looked for where one ends: so far ahead of the end, so far below it; ridge periods.
const DROPS: [(f64, f64); 4] = [(0.0, 1.5), (0.5, 1.5), (1.0, 1.5), (0.0, 2.5)];
/// Places around the left delta from which is traced as well, in ridge periods.
const SHIFTS: [(f64, f64); 4] = [(0.3, 0.0), (-0.3, 0.0), (0.0, 0.3), (0.0, -0.3)];

/// The arm of a delta nearest to a direction.
fn arm(delta: &Candidate, wanted: f64) -> f64 {
    let off = |d: &f64| direction_difference(*d, wanted).abs();
    delta.directions.iter().copied().min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(wanted)
}

/// Traces from the extreme left to the extreme right delta (handbook, chapter II, "Whorl tracing").
pub fn trace(field: &RidgeField, lines: &RidgeLines, left: &Candidate, right: &Candidate, centre: Point) -> Tracings {
    let placed_right = place_delta(lines, right.at, centre);
    let placed_left = place_delta(lines, left.at, centre);
    let end = placed_right.map_or(right.at, |r| r.at);
    let heading = arm(left, LOWER_SIDE);
    let inside = arm(right, LEFT_ARM);
    let go = |start: Pixel, bridge: bool| {
        let start = traced_ridge(lines, start, heading);
        follow_ridge(lines, start, heading, end, centre, bridge).map(|p| judge(lines, p, end, centre, inside))
    };
    let preferred = placed_left.and_then(|l| go(l.pixel, true)).flatten();
    let mut on_ridges: Vec<i32> = preferred.iter().map(|t| t.between).collect();
    if let (Some(placed), Some(t)) = (placed_left, &preferred)
        && t.bridged > 0
    {
        on_ridges.extend(go(placed.pixel, false).flatten().map(|t| t.between));
    }
    for (x, y) in SHIFTS {
        let at = Point::new(left.at.x + x * lines.period, left.at.y + y * lines.period);
        let start = place_delta(lines, at, centre).map(|l| l.pixel);
        on_ridges.extend(start.and_then(|s| go(s, true)).flatten().map(|t| t.between));
    }
    let by_flow = [
        flow_between(field, (left, heading), (right.at, inside), centre, Bound::Right),
        flow_between(field, (right, inside), (left.at, heading), centre, Bound::Left),
    ];
    Tracings { preferred, on_ridges, by_flow, right: placed_right, left: placed_left }
}

/// Where the tracing starts: at the ridge at the delta, or, where that runs off another way than along the delta's lower arm, at the next one
/// below that does.
fn traced_ridge(lines: &RidgeLines, at_delta: Pixel, arm: f64) -> Pixel {
    let from = lines.place(at_delta);
    let below = lines.crossings(from, Point::new(from.x, from.y + LOWER * lines.period));
    let runs_along = |pixel: &Pixel| {
        let begun = lines.place(*pixel);
        let way = lines.walk(*pixel, arm, AtFork::RightHand, FOLLOWED * lines.period, |_| true);
        let last = lines.place(way.last);
        // What ends at once is a stub of the fork or dot at the delta.
        last.distance(begun) > STUB * lines.period
            && direction_difference(begun.direction_to(last), arm).abs() < ALONG_ARM
    };
    std::iter::once(at_delta).chain(below.into_iter().map(|c| c.pixel)).find(runs_along).unwrap_or(at_delta)
}

/// A way with what happened on it.
struct Way {
    path: Vec<Point>,
    drops: usize,
    bridged: usize,
    forks: usize,
}

/// Follows the ridge with its drops until it leaves the right delta behind. With `bridge` false a break is an end.
fn follow_ridge(
    lines: &RidgeLines,
    start: Pixel,
    heading: f64,
    end: Point,
    centre: Point,
    bridge: bool,
) -> Option<Way> {
    let period = lines.period;
    let longest = 120.0 * period;
    let mut way = Way { path: vec![lines.place(start)], drops: 0, bridged: 0, forks: 0 };
    let (began, arm) = (lines.place(start), heading);
    let (mut here, mut heading, mut nearest) = (start, heading, f64::INFINITY);
    for _ in 0..=MOST_DROPS {
        let mut last = lines.place(here);
        let mut broken = false;
        let walk = lines.walk(here, heading, AtFork::RightHand, longest, |p| {
            if !bridge && p.distance(last) > 2.0 {
                broken = true;
                return false;
            }
            last = p;
            way.path.push(p);
            nearest = nearest.min(p.distance(end));
            // Past the right delta and leaving it.
            !(p.x > centre.x && p.distance(end) > nearest + 5.0 * period)
        });
        way.bridged += walk.bridged;
        way.forks += walk.forks;
        heading = if last.distance(began) < AT_DELTA * period { arm } else { walk.heading };
        if walk.stop != Stop::RidgeEnd && !broken {
            return Some(way);
        }
        if last.x > end.x.max(began.x) + period {
            return Some(way);
        }
        // Down to the next ridge right under the end.
        let below = heading - FRAC_PI_2;
        let from = last.step(below, 0.4 * period);
        let landed = DROPS.iter().find_map(|(ahead, lower)| {
            let a = from.step(heading, ahead * period);
            lines.crossings(a, a.step(below, lower * period)).first().map(|c| c.pixel)
        });
        let Some(landed) = landed else { return Some(way) };
        here = landed;
        way.drops += 1;
        way.path.push(lines.place(here));
    }
    None
}

/// Which way a way leads: from the left delta to the right one, or back.
#[derive(Debug, Clone, Copy)]
enum Bound {
    Right,
    Left,
}

impl Bound {
    /// How far a place lies in that direction, pixels.
    fn along(self, p: Point) -> f64 {
        match self {
            Self::Right => p.x,
            Self::Left => -p.x,
        }
    }
}

fn nearest(path: &[Point], end: Point) -> Option<usize> {
    let places = path.iter().enumerate();
    places.min_by(|a, b| a.1.distance(end).total_cmp(&b.1.distance(end))).map(|(i, _)| i)
}

/// Counts between the traced ridge, where it passes nearest, and the right delta.
fn judge(lines: &RidgeLines, mut way: Way, end: Point, centre: Point, inside_arm: f64) -> Option<Traced> {
    let period = lines.period;
    if let Some(turned) = turning_back(&way.path, end, period) {
        way.path.truncate(turned);
    }
    let trend = upward_trend(&way.path, end, period).filter(|top| !goes_under(&way.path[*top - 1..], end, period));
    let stop = nearest(&way.path[..trend.unwrap_or(way.path.len())], end)?;
    let at = way.path[stop];
    if !comes_round(&way.path, stop, end, centre, period, Bound::Right) {
        return None;
    }
    let ridges = ridges_between(lines, at, end);
    let inside = trend.is_some() || passes_inside(&way.path, stop, end, inside_arm, period);
    let count = ridges.len() as i32;
    let path = way.path[..=stop].to_vec();
    Some(Traced {
        between: if inside { count } else { -count },
        path,
        ridges,
        drops: way.drops,
        bridged: way.bridged,
        forks: way.forks,
    })
}

/// Whether a way comes round to the side of the delta `end`, so that its place `stop`, nearest that delta, says something: it goes by below or above the delta, or it
/// passes the middle of the print and then leaves the delta again or ends near it. A way that breaks off before says nothing.
fn comes_round(way: &[Point], stop: usize, end: Point, centre: Point, period: f64, bound: Bound) -> bool {
    /// A way that goes on so far has passed the delta, ridge periods.
    const PASSED: f64 = 2.0;
    /// Nearer than this share of the way from its beginning a way ends near the delta.
    const NEAR: f64 = 0.75;
    let (began, at) = (way[0], way[stop]);
    let beyond = |p: Point, q: Point| bound.along(p) - bound.along(q);
    let goes_by = way[stop..].iter().any(|p| beyond(*p, at) > PASSED * period);
    let leaves = way[stop..].iter().any(|p| p.distance(end) > at.distance(end) + PASSED * period);
    goes_by || (beyond(at, centre) > -period && (leaves || at.distance(end) < NEAR * began.distance(end)))
}

/// Whether a way passes inside the delta `end` at its place `stop`, nearest that delta: it does where the delta lies on its right-hand side. Of a way that has
/// been above the delta, and may come down beside it, the arm of the delta tells, which parts inside from outside near by. The same holds for a way from the right
/// delta back to the left one.
fn passes_inside(way: &[Point], stop: usize, end: Point, arm: f64, period: f64) -> bool {
    /// The heading of the way is taken over so much before and behind the place, ridge periods.
    const HEADING: f64 = 2.0;
    let at = way[stop];
    if way[..=stop].iter().any(|p| p.y < end.y - period) {
        return direction_difference(end.direction_to(at), arm) < 0.0;
    }
    let near = |p: &&Point| p.distance(at) <= HEADING * period;
    let before = way[..=stop].iter().rev().take_while(near).last().unwrap_or(&at);
    let behind = way[stop..].iter().take_while(near).last().unwrap_or(&at);
    direction_difference(at.direction_to(end), before.direction_to(*behind)) < 0.0
}

/// Whether a way goes by right under the delta `end`, more than a ridge below it: then it passes outside, wherever it rose before.
fn goes_under(way: &[Point], end: Point, period: f64) -> bool {
    way.windows(2).any(|step| (step[0].x < end.x) != (step[1].x < end.x) && step[1].y > end.y + period)
}

/// Where the upward trend of a traced ridge ends that passes inside the right delta `end`: behind its top, if it comes down again. The tracing
/// stops at the place on the upward trend nearest the right delta, not where the ridge comes down beside it (handbook, chapter II, "Whorl
/// tracing", figures 294 and 339); without an upward trend it goes on to the place opposite (figures 295, 296 and 340).
fn upward_trend(path: &[Point], end: Point, period: f64) -> Option<usize> {
    let (mut lowest, mut top) = (f64::NEG_INFINITY, None::<(usize, f64)>);
    for (i, p) in path.iter().enumerate() {
        match top {
            Some((at, height)) if p.y > height + TREND * period => return Some(at + 1),
            Some((_, height)) if p.y >= height => {}
            // Inside is above the right delta.
            _ if p.y < lowest - TREND * period && p.y < end.y => top = Some((i, p.y)),
            _ => lowest = lowest.max(p.y),
        }
    }
    None
}

/// Where a traced ridge turns back that has not come up to the right delta `end`: at the tip of two ridges that run together, or at the edge of the print. What it
/// comes by on its way back is no tracing.
fn turning_back(path: &[Point], end: Point, period: f64) -> Option<usize> {
    /// Shorter ways back are bends, ridge periods.
    const BACK: f64 = 3.0;
    let below = path.iter().position(|p| p.y > end.y)?;
    let mut farthest = below;
    for (i, p) in path.iter().enumerate().skip(below).take_while(|(_, p)| p.y > end.y) {
        if p.x > path[farthest].x {
            farthest = i;
        } else if p.x < path[farthest].x - BACK * period {
            return Some(farthest + 1);
        }
    }
    None
}

/// Signed ridges between the flow line that leaves a delta along an arm and the other delta, by flow and period. The sign is the same on both
/// ways: a line from the left delta that passes above the right one, and a line from the right delta that passes below the left one, both
/// say that the tracing passes inside ([`passes_inside`], with the other delta's own arm).
fn flow_between(
    field: &RidgeField,
    (from, heading): (&Candidate, f64),
    (to, arm_of_to): (Point, f64),
    centre: Point,
    bound: Bound,
) -> Option<f64> {
    let period = field.median_period().max(3.0);
    let start = from.at.step(heading, 0.5 * period);
    let line = follow(Flow::of(field), start, heading, 120.0 * period);
    let stop = nearest(&line.points, to)?;
    let at = line.points[stop];
    if !comes_round(&line.points, stop, to, centre, period, bound) {
        return None;
    }
    let turns = crossing(field, at, to, 0.0).turns;
    Some(if passes_inside(&line.points, stop, to, arm_of_to, period) { turns } else { -turns })
}
