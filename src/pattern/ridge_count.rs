//! Ridges between a delta and a core.

use super::core::{PlacedCore, place_core};
use super::count::crossing;
use super::delta::{PlacedDelta, other_deltas, place_delta};
use super::recurve::along;
use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference};
use crate::network::count::{CountNetwork, CountShares};
use crate::network::strip::Strip;
use crate::ridge::{AtFork, Crossing, Pixel, Region, RidgeLines, RidgeSettings};
use crate::singular::Candidate;
use std::collections::HashMap;
use std::f64::consts::{FRAC_PI_2, PI};

/// Delta and core placed on ridges, and what lies between.
#[derive(Debug, Clone)]
pub struct Placement {
    /// Where the delta was put.
    pub delta: PlacedDelta,
    /// Where the core was put.
    pub core: PlacedCore,
    /// The ridges counted, from delta to core.
    pub ridges: Vec<Crossing>,
    /// The count up to and with each of them: a fork that is met exactly counts two.
    pub numbers: Vec<u16>,
    /// Their count.
    pub count: u16,
}

/// A counted line with everything that could shift the count.
#[derive(Debug, Clone)]
pub struct CountedLine {
    /// The line that is shown: from the places that the flow shows, until [`CountedLine::show`] finds one that bears out another count.
    pub shown: Placement,
    /// Lines with delta and core shifted within their doubt, the unshifted one first.
    pub sampled: Vec<Placement>,
    /// Ridges that lie more (below 0: fewer) between the core and every other formation that may be the delta than on the unshifted line.
    pub by_other_deltas: Vec<i32>,
    /// Turns of the ridge pattern along the line less the two end ridges: the count by flow and period alone.
    pub by_flow: f64,
    /// Ridges between the places that the flow shows for delta and core, by phase.
    pub between_points: u16,
    /// Turns of the ridge pattern between the same places, by flow and period alone.
    pub turns_between_points: f64,
    /// Ridges met exactly on a fork, which count two each by the handbook.
    pub on_forks: u16,
    /// Distance from the flow's delta to its core, ridge periods.
    pub periods: f64,
    /// Angle between the line and the loop's axis, 0 (the delta lies in the opening) to pi, radians.
    pub slant: f64,
    /// The ridges crossed that loop. None where so many are crossed that no tented arch comes into question, and where single ridges cannot be told.
    pub looping: Option<LoopingRidges>,
    /// The count by the networks that have learned counting on drawn loops; none where delta and core lie too far apart for it.
    pub seen: Option<CountShares>,
}

/// Ridges between delta and core that go round over the core and leave on the open side.
#[derive(Debug, Clone, PartialEq)]
pub struct LoopingRidges {
    /// Share of the sampled lines that cross one, 0 to 1.
    pub share: f64,
    /// One that is crossed by the least shifted line that crosses any: what lies within some twelve ridge periods of where it is crossed. None where none does.
    pub shown: Option<Vec<Point>>,
}

impl CountedLine {
    /// The share of every count by the networks, where the line runs along the legs weighed with what is read on the ridges; none where the networks have none.
    pub fn shares(&self) -> Option<CountShares> {
        let seen = self.seen.as_ref()?;
        Some(if self.slant < ALONG_THE_LEGS { with_sampled(seen, &self.sampled) } else { seen.clone() })
    }

    /// Shows the least shifted of the lines that bear out a count, if there is one.
    pub fn show(&mut self, count: u16) {
        if let Some(line) = self.sampled.iter().find(|line| line.count == count) {
            self.shown = line.clone();
        }
    }
}

/// A count line that meets the axis of the loop at less than this runs along the legs, radians: two thirds of the 49 degrees that nine in ten of the usual drawn loops exceed. Few ridges are
/// crossed there, each at a grazing angle (chosen with the handbook's figure 81 in sight, whose line meets the axis at 12).
pub const ALONG_THE_LEGS: f64 = 32.7 * PI / 180.0;

/// To what power the shares of the networks and those of the counts read on ridges are raised where the line runs along the legs. By greatest likelihood on 324 drawn loops whose delta lies under
/// the core (seeds from 1,832,000,000): on the same loops a mean negative log likelihood of 0.397 instead of 0.428 by the networks alone, 85.2 instead of 86.1 % exact. Where the line runs
/// across the legs what is read adds little or nothing to what the networks tell.
const ALONG_POWERS: [f64; 2] = [0.86, 0.87];
/// A count that was read speaks for the next one to either side by this share.
const NEXT_COUNT: f64 = 0.3;
/// No count is ruled out by what was read: so much is added to the share of each.
const LEAST_READ: f64 = 0.1;

/// The shares of the counts by the networks and by the sampled lines together (a logarithmic pool, Genest and Zidek 1986).
fn with_sampled(seen: &CountShares, sampled: &[Placement]) -> CountShares {
    let count = seen.shares.len();
    let mut read = vec![0.0; count];
    for line in sampled {
        let at = usize::from(line.count.max(1)) - 1;
        for (k, speaks) in [(at.wrapping_sub(1), NEXT_COUNT), (at, 1.0), (at + 1, NEXT_COUNT)] {
            if let Some(share) = read.get_mut(k) {
                *share += speaks;
            }
        }
    }
    let all = read.iter().sum::<f64>().max(1e-12);
    let [by_networks, by_reading] = ALONG_POWERS;
    let pooled = seen.shares.iter().zip(&read);
    let pooled: Vec<f64> = pooled.map(|(p, r)| p.powf(by_networks) * (LEAST_READ + r / all).powf(by_reading)).collect();
    let total = pooled.iter().sum::<f64>().max(1e-300);
    CountShares { shares: pooled.iter().map(|p| p / total).collect() }
}

/// Delta and core themselves are not counted, and white space must lie between delta and first count: ridges nearer to an end than
/// this belong to it, ridge periods.
const OWN: f64 = 0.42;

/// Ridges strictly between two places that lie on ridges (handbook, chapter II, "Ridge counting").
pub fn ridges_between(lines: &RidgeLines, from: Point, to: Point) -> Vec<Crossing> {
    let (length, own) = (from.distance(to), OWN * lines.period);
    if length < 2.0 * own {
        return Vec::new();
    }
    let met = lines.crossings(from, to);
    met.into_iter().filter(|c| c.along > own && c.along < length - own && lines.heavy(c.pixel)).collect()
}

/// The line meets a fork exactly where it passes within half a ridge's breadth of its point, ridge periods.
const ON_FORK: f64 = 0.25;

/// The count of ridges met.
pub fn ridge_count(lines: &RidgeLines, met: &[Crossing]) -> u16 {
    ridge_numbers(lines, met).last().copied().unwrap_or(0)
}

/// The count up to and with each ridge met: one each, two where the line meets a fork exactly (handbook, chapter II, "Ridge counting").
fn ridge_numbers(lines: &RidgeLines, met: &[Crossing]) -> Vec<u16> {
    let fork_at = |c: &Crossing| lines.near(c.at, ON_FORK * lines.period).into_iter().find(|n| lines.degree(n.1) > 2);
    let mut forks: Vec<Point> = Vec::new();
    let mut count = 0;
    let mut numbers = Vec::with_capacity(met.len());
    for fork in met.iter().map(fork_at) {
        count += 1;
        let new = fork
            .map(|f| lines.place(f.1))
            .filter(|place| forks.iter().all(|f| f.distance(*place) >= 2.0 * ON_FORK * lines.period));
        if let Some(place) = new {
            forks.push(place);
            // Where both limbs are met as two ridges the fork adds none.
            let limbs = met.iter().filter(|c| c.at.distance(place) <= 2.0 * ON_FORK * lines.period).count();
            count += u16::from(limbs < 2);
        }
        numbers.push(count);
    }
    numbers
}

/// Shifts of an end point within its doubt, in standard deviations: the middle and six places around it.
const SHIFTS: [(f64, f64); 7] =
    [(0.0, 0.0), (1.0, 0.0), (-1.0, 0.0), (0.5, 0.87), (-0.5, 0.87), (0.5, -0.87), (-0.5, -0.87)];
/// Least and greatest doubt of an end point, working pixels: no point is known better than to a fifth of a ridge, and what is
/// worse than a ridge is another point.
const DOUBT_PX: (f64, f64) = (1.5, 6.0);

/// The ridges about the core and the delta of a loop, read in the ways that show most there.
struct LoopLines<'a> {
    /// On which the core is placed and ridges are counted.
    counted: &'a RidgeLines,
    /// On which the delta is placed.
    at_delta: &'a RidgeLines,
    /// On the filtered print, on which it is looked for what else might be the delta.
    filtered: &'a RidgeLines,
}

/// Ridges around the points of a loop that are turned into lines, ridge periods: beyond them nothing is counted.
const MARGIN: f64 = 9.0;

/// The region about the points of a loop in which ridges are turned into lines, and the ridge period there, pixels.
pub fn around_loop(field: &RidgeField, points: [Point; 2]) -> (Region, f64) {
    let period = field.median_period().max(3.0);
    (Region::around(&points, MARGIN * period, field.filtered.dim()), period)
}

/// Counts from delta to core: places both, counts the ridges between, and counts again with both shifted within their doubt. `filtered` are the ridges of the filtered print
/// [`around_loop`]; they are counted on where the ink is too poor to show a recurve.
pub fn count_ridges(
    field: &RidgeField,
    filtered: &RidgeLines,
    delta: &Candidate,
    core: &Candidate,
    settings: &RidgeSettings,
) -> Option<CountedLine> {
    let (region, period) = around_loop(field, [delta.at, core.at]);
    let counted = &RidgeLines::with_ink(field, region, period, settings);
    let at_delta = &RidgeLines::parted_by_white(field, region, period, settings);
    let by_ink = count_on(field, &LoopLines { counted, at_delta, filtered }, delta, core);
    by_ink.or_else(|| count_on(field, &LoopLines { counted: filtered, at_delta: filtered, filtered }, delta, core))
}

fn count_on(field: &RidgeField, lines: &LoopLines<'_>, delta: &Candidate, core: &Candidate) -> Option<CountedLine> {
    let (opening, LoopLines { counted: lines, at_delta, filtered }) = (core.directions[0], lines);
    let one = |delta_at: Point, focus: Point| {
        let core = place_core(lines, focus, opening, delta_at)?;
        let delta = place_delta(at_delta, delta_at, core.at)?;
        let ridges = ridges_between(lines, delta.at, core.at);
        let numbers = ridge_numbers(lines, &ridges);
        let count = numbers.last().copied().unwrap_or(0);
        Some(Placement { delta, core, ridges, numbers, count })
    };
    let placed = one(delta.at, core.at)?;
    let mut sampled = vec![placed.clone()];
    let shift = |at: Point, sigma: f64, (x, y): (f64, f64)| {
        let sigma = sigma.clamp(DOUBT_PX.0, DOUBT_PX.1);
        Point::new(at.x + sigma * x, at.y + sigma * y)
    };
    for (i, a) in SHIFTS.iter().enumerate() {
        for (j, b) in SHIFTS.iter().enumerate() {
            // Each place of one end against three of the other.
            if (i + 2 * j) % 3 == 0 && (i, j) != (0, 0) {
                let shifted = one(shift(delta.at, delta.sigma_px, *a), shift(core.at, core.sigma_px, *b));
                sampled.extend(shifted);
            }
        }
    }
    let by_phase = crossing(field, placed.delta.at, placed.core.at, OWN * lines.period);
    let between = crossing(field, delta.at, core.at, OWN * lines.period);
    let on_forks = placed.ridges.iter().filter(|c| c.on_fork).count() as u16;
    let more_from = |other: Point| {
        let met = ridges_between(lines, other, placed.core.at);
        i32::from(ridge_count(lines, &met)) - i32::from(placed.count)
    };
    let by_other_deltas = other_deltas(filtered, delta.at, placed.core.at).into_iter().map(more_from).collect();
    let looping = looping_ridges(lines, &sampled, core);
    let slant = direction_difference(core.at.direction_to(delta.at), opening).abs();
    let networks =
        if slant < ALONG_THE_LEGS { CountNetwork::along_the_legs() } else { CountNetwork::across_the_legs() };
    Some(CountedLine {
        by_other_deltas,
        looping,
        shown: placed,
        sampled,
        by_flow: by_phase.turns - 1.0,
        between_points: between.ridges,
        turns_between_points: between.turns,
        on_forks,
        periods: delta.at.distance(core.at) / lines.period,
        slant,
        seen: Strip::of(field, delta.at, core.at).map(|strip| networks.count(&strip)),
    })
}

/// Lines that cross more ridges than this are those of a loop without being looked at.
const MOST_LOOKED_AT: u16 = 6;

/// The looping ridges that the lines cross; none where single ridges cannot be told about the core.
fn looping_ridges(lines: &RidgeLines, sampled: &[Placement], core: &Candidate) -> Option<LoopingRidges> {
    if sampled.iter().any(|line| line.count > MOST_LOOKED_AT) || !lines.is_clear(core.at) {
        return None;
    }
    // The shifted lines cross the same ridges at the same pixels, or nearly.
    let mut known: HashMap<Pixel, Option<Vec<Point>>> = HashMap::new();
    let (mut crossing, mut shown) = (0, None);
    for line in sampled {
        let across = line.delta.at.direction_to(line.core.at);
        let looping = line.ridges.iter().find_map(|met| {
            known.entry(met.pixel).or_insert_with(|| looping_way(lines, met.pixel, across, core)).clone()
        });
        if let Some(way) = looping {
            crossing += 1;
            shown.get_or_insert(way);
        }
    }
    Some(LoopingRidges { share: crossing as f64 / sampled.len() as f64, shown })
}

/// The way of a ridge met by a line to the core, on both sides of where it is met, if it loops (the looping ridge of the handbook's third essential, chapter II, "Loops"): one way along
/// it leads round over the core, the other out to where the core opens.
fn looping_way(lines: &RidgeLines, met: Pixel, across: f64, core: &Candidate) -> Option<Vec<Point>> {
    /// A ridge is followed so far, ridge periods.
    const FOLLOWED: f64 = 30.0;
    /// One way turns about the core by more than the first, the other by less than the second, radians.
    const OVER: f64 = 0.6 * PI;
    const OUT: f64 = 0.75 * PI;
    /// And comes so far below the core, ridge periods.
    const BELOW: f64 = 1.0;
    /// So much of either way is shown, ridge periods: farther on a ridge may join another.
    const SHOWN: f64 = 12.0;
    let opening = core.directions[0];
    let seen = [FRAC_PI_2, -FRAC_PI_2].map(|side| {
        let way = lines.walk(met, across + side, AtFork::Straight, FOLLOWED * lines.period, |_| true);
        let around =
            |pair: &[Point]| direction_difference(core.at.direction_to(pair[1]), core.at.direction_to(pair[0]));
        let turned: f64 = way.points.windows(2).map(around).sum();
        let below = along(core.at, way.end(), opening).0 > BELOW * lines.period;
        (turned.abs() > OVER, below && turned.abs() < OUT, way.points)
    });
    let [(a_over, a_out, a), (b_over, b_out, b)] = seen;
    let looping = (a_over && b_out) || (b_over && a_out);
    // Neighbouring points lie a pixel or a little more apart.
    let shown = (SHOWN * lines.period) as usize;
    looping
        .then(|| a[..shown.min(a.len())].iter().rev().chain(&b[1.min(b.len())..shown.min(b.len())]).copied().collect())
}
