//! Ridges grown along the flow: a phase spread from a few starts, then oriented filters until the lines are clean.
//!
//! Ridges form on real fingers as fronts that spread from a few places and meet; where they meet, or where flow and
//! spacing disagree, minutiae appear by themselves. Here a phase spreads from seeds over the grid (each node continues
//! its nearest finished neighbours), and a few passes of Gabor filters tuned to the place's orientation and period turn
//! it into clean lines, as in the generator of Cappelli, Maio and Maltoni (2000), which grows from spots by the filters
//! alone and needs several times as many passes.

use super::chance::{Dice, SmoothField, bell};
use super::flow::Flow;
use crate::geometry::Point;
use ndarray::Array2;
use std::f64::consts::PI;

/// Distance between grid nodes in pixels at 500 ppi: a ridge period of 7 px still has more than three nodes.
pub(super) const STEP: f64 = 2.0;
/// Half the side of a filter in nodes: 1.5 periods of 9 px reach 6.75 nodes.
const REACH: usize = 6;
/// Rows of a filter.
const ROWS: usize = 2 * REACH + 1;
/// Columns of a filter as stored: padded to whole vector registers.
const COLUMNS: usize = 16;
/// Orientations in the filter bank: one every 3.75 degrees, so none is off by more than 1.9 degrees.
const ORIENTATIONS: usize = 48;
/// Shortest period in the bank, nodes.
const SHORTEST: f64 = 3.2;
/// Period from one filter of the bank to the next, nodes.
const PERIOD_STEP: f64 = 0.2;
/// Periods in the bank: 3.2 to 7.0 nodes, 6.4 to 14 px.
const PERIODS: usize = 20;
/// Deviation of the filters' bell across the ridges in periods: the amplitude is 0.001 at 1.5 periods (Cappelli and others
/// 2000).
const BELL_ACROSS: f64 = 0.4036;
/// Deviation along the ridges in periods: longer, so that lines keep to the flow where the phase drifted off it.
const BELL_ALONG: f64 = 0.75;
/// Amplification before clipping: above one, so that a weak line grows to full strength.
const GAIN: f32 = 1.7;

/// Ridge-to-ridge distance over the finger.
#[derive(Debug, Clone)]
pub(super) struct PeriodMap {
    /// Mean period in pixels at 500 ppi.
    pub mean: f64,
    /// Slow random variation and its relative deviation.
    pub variation: (SmoothField, f64),
    /// Height above which ridges lie wider, in the finger frame.
    pub upper: f64,
    /// Height below which ridges lie wider, in the finger frame.
    pub lower: f64,
    /// Relative widening there.
    pub widening: f64,
}

/// Distance over which the ridges become wider above and below the pattern, pixels.
const WIDENING_OVER: f64 = 120.0;
/// Period limits in pixels at 500 ppi: what the filter bank holds.
const PERIOD_LIMITS: (f64, f64) = (6.5, 13.8);

impl PeriodMap {
    /// Period at a place, pixels.
    pub fn at(&self, p: Point) -> f64 {
        let above = ((self.upper - p.y) / WIDENING_OVER).clamp(0.0, 1.0);
        let below = ((p.y - self.lower) / WIDENING_OVER).clamp(0.0, 1.0);
        let slow = 1.0 + self.variation.1 * self.variation.0.at(p.x, p.y) + self.widening * (above + below);
        (self.mean * slow).clamp(PERIOD_LIMITS.0, PERIOD_LIMITS.1)
    }
}

/// A rectangle in the finger frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct Extent {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

/// Ridges of one finger: positive on a ridge, negative in a valley, between -1 and 1.
#[derive(Debug, Clone)]
pub(super) struct Ridges {
    /// Signal on the grid `[row, column]`, [`STEP`] pixels apart.
    pub signal: Array2<f32>,
    /// Place of node `[0, 0]` in the finger frame.
    pub origin: Point,
}

impl Ridges {
    /// Place in grid coordinates (column, row).
    pub fn to_grid(&self, p: Point) -> (f64, f64) {
        ((p.x - self.origin.x) / STEP, (p.y - self.origin.y) / STEP)
    }

    /// Signal at a place by Catmull-Rom interpolation; -1 (valley) outside.
    pub fn at(&self, p: Point) -> f32 {
        let (u, v) = self.to_grid(p);
        let (rows, columns) = self.signal.dim();
        if u < 1.0 || v < 1.0 || u >= (columns - 2) as f64 || v >= (rows - 2) as f64 {
            return -1.0;
        }
        let (c, r) = (u as usize, v as usize);
        let (wx, wy) = (cubic((u - c as f64) as f32), cubic((v - r as f64) as f32));
        let Some(values) = self.signal.as_slice() else { return -1.0 };
        let mut sum = 0.0;
        for (j, weight) in wy.iter().enumerate() {
            let from = (r + j - 1) * columns + c - 1;
            let line = &values[from..from + 4];
            sum += weight * (wx[0] * line[0] + wx[1] * line[1] + wx[2] * line[2] + wx[3] * line[3]);
        }
        sum
    }
}

impl Ridges {
    /// Makes every place clearly ridge or clearly valley: on skin a ridge is there or it is not, but where fronts meet, or filters of two orientations
    /// do, the signal lingers near zero, and the least ink more or less would join two ridges there or part them. Signal over the length of signal and
    /// slope, the slope measured in phase, leaves an even wave as it is and takes a place where it lingers to one side (after the local phase of
    /// Felsberg and Sommer 2001).
    pub fn decide(&mut self, period: &PeriodMap) {
        /// More rounds part ever less.
        const ROUNDS: usize = 2;
        /// Signal that says nothing.
        const FAINT: f32 = 0.03;
        /// Nodes to each side that a slope is taken over.
        const REACH: usize = 2;
        let (rows, columns) = self.signal.dim();
        let place = |r: usize, c: usize| Point::new(self.origin.x + STEP * c as f64, self.origin.y + STEP * r as f64);
        // Twelve times the slope of differences of the fourth order, in phase: so that an even wave has its own, in the mean of a wave along the grid
        // and one across its corners.
        let turns = Array2::from_shape_fn((rows, columns), |(r, c)| {
            let pace = 2.0 * PI * STEP / period.at(place(r, c));
            let answer =
                |pace: f64| (16.0 * super::chance::sin_cos(pace).0 - 2.0 * super::chance::sin_cos(2.0 * pace).0) / pace;
            (0.5 * pace * (answer(pace) + answer(pace * std::f64::consts::FRAC_1_SQRT_2))).recip() as f32
        });
        for _ in 0..ROUNDS {
            let before = self.signal.clone();
            let slope = |[p2, p1, n1, n2]: [f32; 4]| 8.0 * (n1 - p1) - (n2 - p2);
            for r in REACH..rows.saturating_sub(REACH) {
                for c in REACH..columns.saturating_sub(REACH) {
                    let across = slope([-2, -1, 1, 2].map(|i: isize| before[[r, c.wrapping_add_signed(i)]]));
                    let down = slope([-2, -1, 1, 2].map(|i: isize| before[[r.wrapping_add_signed(i), c]]));
                    let (value, slope) = (before[[r, c]], across.hypot(down) * turns[[r, c]]);
                    self.signal[[r, c]] = value / (value * value + slope * slope + FAINT * FAINT).sqrt();
                }
            }
        }
    }

    /// Ends every ridge on both sides of a line, leaving a valley a little narrower than those between ridges.
    pub fn break_along(&mut self, line: &[Point], period: f64) {
        const NARROW: f64 = 0.10;
        const WIDE: f64 = 0.40;
        let reach = WIDE * period;
        let (rows, columns) = self.signal.dim();
        for pair in line.windows(2) {
            let (a, b) = (self.to_grid(pair[0]), self.to_grid(pair[1]));
            let bound = |low: f64, high: f64, count: usize| {
                let margin = reach / STEP + 1.0;
                ((low - margin).max(0.0) as usize).min(count)..((high + margin).max(0.0) as usize).min(count)
            };
            for r in bound(a.1.min(b.1), a.1.max(b.1), rows) {
                for c in bound(a.0.min(b.0), a.0.max(b.0), columns) {
                    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
                    let (px, py) = (c as f64 - a.0, r as f64 - a.1);
                    let t = ((px * dx + py * dy) / (dx * dx + dy * dy).max(1e-9)).clamp(0.0, 1.0);
                    let (ex, ey) = (px - t * dx, py - t * dy);
                    let away = STEP * (ex * ex + ey * ey).sqrt() / period;
                    let most = 2.0 * super::chance::smooth_step(NARROW as f32, WIDE as f32, away as f32) - 1.0;
                    let value = &mut self.signal[[r, c]];
                    *value = value.min(most);
                }
            }
        }
    }
}

/// Catmull-Rom weights of four neighbouring values.
fn cubic(t: f32) -> [f32; 4] {
    let (t2, t3) = (t * t, t * t * t);
    [0.5 * (-t3 + 2.0 * t2 - t), 0.5 * (3.0 * t3 - 5.0 * t2 + 2.0), 0.5 * (-3.0 * t3 + 4.0 * t2 + t), 0.5 * (t3 - t2)]
}

/// What each grid node needs to know.
struct Node {
    /// Unit normal of the ridges times phase per node, right and down.
    gradient: (f32, f32),
    /// Filter of the bank.
    filter: u16,
}

/// Grows the ridges of a finger over `extent`, starting from `seeds` (places in the finger frame).
pub(super) fn grow(
    flow: &Flow,
    period: &PeriodMap,
    extent: Extent,
    seeds: &[Point],
    passes: usize,
    dice: &mut Dice,
) -> Ridges {
    let columns = ((extent.right - extent.left) / STEP).ceil() as usize + 1;
    let rows = ((extent.bottom - extent.top) / STEP).ceil() as usize + 1;
    let origin = Point::new(extent.left, extent.top);
    let nodes = prepare(flow, period, origin, rows, columns);
    let seeds: Vec<usize> = seeds
        .iter()
        .map(|p| {
            let c = ((p.x - origin.x) / STEP).clamp(1.0, (columns - 2) as f64) as usize;
            let r = ((p.y - origin.y) / STEP).clamp(1.0, (rows - 2) as f64) as usize;
            r * columns + c
        })
        .collect();
    let mut signal = spread(&nodes, rows, columns, &seeds, dice);
    clean(&mut signal, &nodes, rows, columns, passes);
    even_out(&mut signal, rows, columns);
    Ridges { signal: Array2::from_shape_vec((rows, columns), signal).unwrap_or_default(), origin }
}

/// Nodes of the coarse grid on which the period is evaluated, pixels.
const COARSE: f64 = 8.0;

/// Orientation and period at every node.
#[inline(never)]
fn prepare(flow: &Flow, period: &PeriodMap, origin: Point, rows: usize, columns: usize) -> Vec<Node> {
    let flow = flow.tabulated(origin, rows as f64 * STEP, columns as f64 * STEP, COARSE, |p| period.at(p));
    let mut nodes = Vec::with_capacity(rows * columns);
    for r in 0..rows {
        for c in 0..columns {
            let at = Point::new(origin.x + c as f64 * STEP, origin.y + r as f64 * STEP);
            let (double, period) = flow.double_angle(at);
            let (tx, ty) = double.tangent();
            let in_nodes = period / STEP;
            let pace = 2.0 * PI / in_nodes;
            // The angle of the tangent from its components without a call per node: bank spacing is coarse.
            let angle = quick_angle(tx, -ty);
            let orientation = (angle * ORIENTATIONS as f64 / PI).round() as usize % ORIENTATIONS;
            let step = ((in_nodes - SHORTEST) / PERIOD_STEP).round().clamp(0.0, (PERIODS - 1) as f64) as usize;
            nodes.push(Node {
                gradient: ((-ty * pace) as f32, (tx * pace) as f32),
                filter: (step * ORIENTATIONS + orientation) as u16,
            });
        }
    }
    nodes
}

/// Angle in `[0, pi)` of a vector with x >= 0 (y up), to 0.3 degrees: enough to choose a filter of the bank.
fn quick_angle(x: f64, y: f64) -> f64 {
    let (ax, ay) = (x.abs(), y.abs());
    let (low, high) = if ax < ay { (ax, ay) } else { (ay, ax) };
    let t = if high > 0.0 { low / high } else { 0.0 };
    let part = t * (0.25 * PI + 0.273 * (1.0 - t)); // Rajan and others (2006)
    let angle = if ax < ay { 0.5 * PI - part } else { part };
    if y < 0.0 { PI - angle } else { angle }
}

/// Sine and cosine of a phase step, |x| < 4, to 0.001: the filters smooth away what is left.
fn quick_sin_cos(x: f32) -> (f32, f32) {
    let half = 0.5 * x;
    let s2 = half * half;
    let s = half * (1.0 - s2 * (1.0 / 6.0 - s2 * (1.0 / 120.0 - s2 / 5040.0)));
    let c = 1.0 - s2 * (0.5 - s2 * (1.0 / 24.0 - s2 * (1.0 / 720.0 - s2 / 40320.0)));
    (2.0 * s * c, c * c - s * s)
}

/// The advancing fronts of the phase.
struct Front {
    /// Phase as a unit vector.
    phase: Vec<(f32, f32)>,
    /// Phase gradient of the front that brought it, per node.
    carried: Vec<(f32, f32)>,
    done: Vec<bool>,
}

/// Unevenness of the fronts, in fortieths of a node's step.
const ROUGHNESS: f32 = 12.0;
/// More than the dearest step: a corner's 57 and the largest roughness, 2.45 times 12.
const BUCKETS: usize = 128;

/// Spreads a phase from the seeds over all nodes and returns its cosine.
#[inline(never)]
fn spread(nodes: &[Node], rows: usize, columns: usize, seeds: &[usize], dice: &mut Dice) -> Vec<f32> {
    let count = rows * columns;
    let mut front =
        Front { phase: vec![(0.0, 0.0); count], carried: vec![(0.0, 0.0); count], done: vec![false; count] };
    let mut best = vec![u32::MAX; count];
    let roughness = dice.white(count);
    // Steps cost less than the number of buckets, so a ring of them keeps the queue in order.
    let mut buckets: Vec<Vec<u32>> = vec![Vec::new(); BUCKETS];
    for &seed in seeds {
        best[seed] = 0;
        buckets[0].push(seed as u32);
    }
    let mut waiting = seeds.len();
    let mut cost = 0u32;
    while waiting > 0 {
        let now = std::mem::take(&mut buckets[cost as usize % BUCKETS]);
        waiting -= now.len();
        for &index in &now {
            let i = index as usize;
            if front.done[i] || best[i] != cost {
                continue;
            }
            continue_phase(i, (rows, columns), nodes, &mut front);
            let (r, c) = ((i / columns) as i32, (i % columns) as i32);
            for (group, length) in NEIGHBOURS.iter().zip([40u32, 57]) {
                for (dr, dc) in group {
                    let (nr, nc) = (r + dr, c + dc);
                    if nr < 0 || nc < 0 || nr >= rows as i32 || nc >= columns as i32 {
                        continue;
                    }
                    let n = nr as usize * columns + nc as usize;
                    // A front that advances unevenly meets the next one along a ragged line, as on skin.
                    let next = cost + length + (roughness[n].abs() * ROUGHNESS) as u32;
                    if !front.done[n] && next < best[n] {
                        best[n] = next;
                        buckets[next as usize % BUCKETS].push(n as u32);
                        waiting += 1;
                    }
                }
            }
        }
        cost += 1;
    }
    front.phase.iter().map(|p| p.0).collect()
}

/// Steps to the neighbours of a node: the straight ones first, the corners only where none of those is done.
const NEIGHBOURS: [[(i32, i32); 4]; 2] = [[(-1, 0), (1, 0), (0, -1), (0, 1)], [(-1, -1), (-1, 1), (1, -1), (1, 1)]];

/// Continues the phase of the finished neighbours at one node.
fn continue_phase(i: usize, size: (usize, usize), nodes: &[Node], front: &mut Front) {
    let (rows, columns) = size;
    let (r, c) = ((i / columns) as i32, (i % columns) as i32);
    let own = nodes[i].gradient;
    let (mut sum, mut gradient, mut found) = ((0.0f32, 0.0f32), own, false);
    for group in NEIGHBOURS {
        for (dr, dc) in group {
            let (nr, nc) = (r + dr, c + dc);
            if nr < 0 || nc < 0 || nr >= rows as i32 || nc >= columns as i32 {
                continue;
            }
            let n = nr as usize * columns + nc as usize;
            if !front.done[n] {
                continue;
            }
            let theirs = front.carried[n];
            let same = own.0 * theirs.0 + own.1 * theirs.1 >= 0.0;
            let along = if same { own } else { (-own.0, -own.1) };
            if !found {
                gradient = along;
                found = true;
            }
            let advance = -0.5 * ((along.0 + theirs.0) * dc as f32 + (along.1 + theirs.1) * dr as f32);
            let (s, k) = quick_sin_cos(advance);
            let before = front.phase[n];
            let mut p = (before.0 * k - before.1 * s, before.1 * k + before.0 * s);
            if along.0 * gradient.0 + along.1 * gradient.1 < 0.0 {
                p.1 = -p.1; // the same line pattern seen with the gradient the other way round
            }
            sum = (sum.0 + p.0, sum.1 + p.1);
        }
        if found {
            break;
        }
    }
    let length = (sum.0 * sum.0 + sum.1 * sum.1).sqrt();
    front.phase[i] = if found && length > 1e-6 { (sum.0 / length, sum.1 / length) } else { (1.0, 0.0) };
    front.carried[i] = gradient;
    front.done[i] = true;
}

/// One in the whole-number signal: 12 bits, so that a filter's sum stays within 32 bits.
const ONE: i32 = 4096;
/// One in the whole-number filters.
const FILTER_ONE: f64 = 32_768.0;

type Filter = [[i16; COLUMNS]; ROWS];

/// The filter bank: zero-mean Gabor filters of unit response to their own line pattern, in whole numbers, which are quicker
/// and the same on every machine.
fn bank() -> &'static [Filter] {
    static BANK: std::sync::LazyLock<Vec<Filter>> = std::sync::LazyLock::new(|| {
        let mut filters = Vec::with_capacity(PERIODS * ORIENTATIONS);
        for p in 0..PERIODS {
            for o in 0..ORIENTATIONS {
                filters.push(gabor(SHORTEST + p as f64 * PERIOD_STEP, o as f64 * PI / ORIENTATIONS as f64));
            }
        }
        filters
    });
    &BANK
}

fn gabor(period: f64, orientation: f64) -> Filter {
    let (sin, cos) = super::chance::sin_cos(orientation);
    let (broad, long) = (BELL_ACROSS * period, BELL_ALONG * period);
    let mut weights = [[0.0f64; ROWS]; ROWS];
    let mut waves = [[0.0f64; ROWS]; ROWS];
    let (mut bells, mut sum) = (0.0, 0.0);
    for (j, (weight_row, wave_row)) in weights.iter_mut().zip(&mut waves).enumerate() {
        for (i, (weight, wave)) in weight_row.iter_mut().zip(wave_row.iter_mut()).enumerate() {
            let (x, y) = (i as f64 - REACH as f64, j as f64 - REACH as f64);
            let across = x * sin + y * cos; // the normal of a ridge at this angle, y down
            let along = x * cos - y * sin;
            *weight = bell(across * across / (broad * broad) + along * along / (long * long));
            *wave = super::chance::cos(2.0 * PI * across / period);
            bells += *weight;
            sum += *weight * *wave;
        }
    }
    let mean = sum / bells;
    let mut response = 0.0;
    let mut filter = [[0i16; COLUMNS]; ROWS];
    for j in 0..ROWS {
        for i in 0..ROWS {
            response += weights[j][i] * (waves[j][i] - mean) * waves[j][i];
        }
    }
    for j in 0..ROWS {
        for i in 0..ROWS {
            filter[j][i] = (FILTER_ONE * weights[j][i] * (waves[j][i] - mean) / response).round() as i16;
        }
    }
    filter
}

/// Side of the tiles in which the signal is filtered, nodes.
const TILE: usize = 16;
/// A tile rests when no node of it changed by more than this (of [`ONE`]).
const RESTS_BELOW: i32 = ONE / 24;

/// Filters the signal along the flow until the lines are clean; tiles that no longer change rest.
#[inline(never)]
fn clean(signal: &mut [f32], nodes: &[Node], rows: usize, columns: usize, passes: usize) {
    let bank = bank();
    // A border of zeros all round, and room for the padded filter columns on the right.
    let stride = columns + 2 * REACH + COLUMNS;
    let mut padded = vec![0i16; stride * (rows + 2 * REACH + 1)];
    for (row, line) in signal.chunks_exact(columns).enumerate() {
        let from = (row + REACH) * stride + REACH;
        for (target, value) in padded[from..from + columns].iter_mut().zip(line) {
            *target = (value * ONE as f32) as i16;
        }
    }
    let (tile_rows, tile_columns) = (rows.div_ceil(TILE), columns.div_ceil(TILE));
    let mut awake = vec![true; tile_rows * tile_columns];
    let mut next = padded.clone();
    for pass in 0..passes {
        let mut changed = vec![false; awake.len()];
        for (tile, _) in awake.iter().enumerate().filter(|(_, awake)| **awake) {
            let (tile_row, tile_column) = (tile / tile_columns, tile % tile_columns);
            let mut largest = 0;
            for row in tile_row * TILE..((tile_row + 1) * TILE).min(rows) {
                for column in tile_column * TILE..((tile_column + 1) * TILE).min(columns) {
                    let filter = &bank[usize::from(nodes[row * columns + column].filter)];
                    let filtered = filter_at(&padded, stride, row * stride + column, filter);
                    let at = (row + REACH) * stride + column + REACH;
                    largest = largest.max((filtered - i32::from(padded[at])).abs());
                    next[at] = filtered as i16;
                }
            }
            changed[tile] = largest > RESTS_BELOW;
        }
        padded.copy_from_slice(&next);
        if pass > 0 {
            awake = spread_waking(&changed, tile_rows, tile_columns);
        }
    }
    for (row, line) in signal.chunks_exact_mut(columns).enumerate() {
        let from = (row + REACH) * stride + REACH;
        for (target, value) in line.iter_mut().zip(&padded[from..from + columns]) {
            *target = f32::from(*value) / ONE as f32;
        }
    }
}

/// Brings faint places, as in the middle of a delta, to the strength of the rest: a real ridge is there or it is not.
fn even_out(signal: &mut [f32], rows: usize, columns: usize) {
    /// Half side of the square over which strength is judged, nodes: a ridge period.
    const HALF: usize = 4;
    /// Strength of clean lines.
    const USUAL: f32 = 0.72;
    /// Strength below which lines are not raised further.
    const FAINTEST: f32 = 0.07;
    // Sums over squares by running sums: rows first, then columns.
    let mut across = vec![0.0f32; signal.len()];
    for (line, sums) in signal.chunks_exact(columns).zip(across.chunks_exact_mut(columns)) {
        let mut sum: f32 = line[..HALF.min(columns)].iter().map(|v| v * v).sum();
        for c in 0..columns {
            sum += line.get(c + HALF).map_or(0.0, |v| v * v);
            sum -= if c > HALF { line[c - HALF - 1] * line[c - HALF - 1] } else { 0.0 };
            sums[c] = sum;
        }
    }
    let near = |i: usize, count: usize| (i + HALF).min(count - 1) - i.saturating_sub(HALF) + 1;
    let mut sums = vec![0.0f32; columns];
    for r in 0..rows + HALF {
        for c in 0..columns {
            sums[c] += if r < rows { across[r * columns + c] } else { 0.0 };
            sums[c] -= if r > 2 * HALF { across[(r - 2 * HALF - 1) * columns + c] } else { 0.0 };
        }
        if r < HALF {
            continue;
        }
        let row = r - HALF;
        for c in 0..columns {
            let mean = (sums[c] / (near(row, rows) * near(c, columns)) as f32).max(0.0).sqrt();
            let value = &mut signal[row * columns + c];
            *value = (*value * (USUAL / mean.max(FAINTEST)).max(1.0)).clamp(-1.0, 1.0);
        }
    }
}

/// The filter's answer at one node, amplified and clipped.
fn filter_at(padded: &[i16], stride: usize, at: usize, filter: &Filter) -> i32 {
    let mut sum = 0i32;
    for (weights, line) in filter.iter().zip(padded[at..].chunks(stride)) {
        sum += weights.iter().zip(&line[..COLUMNS]).map(|(w, v)| i32::from(*w) * i32::from(*v)).sum::<i32>();
    }
    ((sum as f32 * (GAIN / FILTER_ONE as f32)) as i32).clamp(-ONE, ONE)
}

/// A tile stays awake while it or one beside it changes.
fn spread_waking(changed: &[bool], tile_rows: usize, tile_columns: usize) -> Vec<bool> {
    let near = |i: usize, count: usize| i.saturating_sub(1)..(i + 2).min(count);
    (0..changed.len())
        .map(|tile| {
            near(tile / tile_columns, tile_rows)
                .any(|r| near(tile % tile_columns, tile_columns).any(|c| changed[r * tile_columns + c]))
        })
        .collect()
}

#[cfg(test)]
impl Ridges {
    /// Ridges five pixels broad along lines through given places, on 200 px square about the origin.
    pub fn of_strokes(strokes: &[Vec<Point>]) -> Self {
        const HALF: f64 = 100.0;
        let from_piece = |p: Point, a: Point, b: Point| {
            let length = a.distance(b).max(1e-9);
            let along = ((p.x - a.x) * (b.x - a.x) + (p.y - a.y) * (b.y - a.y)) / (length * length);
            p.distance(a.lerp(b, along.clamp(0.0, 1.0)))
        };
        let nodes = (2.0 * HALF / STEP) as usize;
        let signal = Array2::from_shape_fn((nodes, nodes), |(r, c)| {
            let p = Point::new(STEP * c as f64 - HALF, STEP * r as f64 - HALF);
            let pieces = strokes.iter().flat_map(|stroke| stroke.iter().zip(stroke.iter().skip(1)));
            let off = pieces.map(|(a, b)| from_piece(p, *a, *b)).fold(f64::MAX, f64::min);
            (2.5 - off).clamp(-2.5, 2.5) as f32 / 2.5
        });
        Self { signal, origin: Point::new(-HALF, -HALF) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A period of 9 px everywhere.
    fn even() -> PeriodMap {
        let variation = SmoothField::new(&mut Dice::new(1, 0), 0.0, 0.0, 100.0, 100.0, 50.0);
        PeriodMap { mean: 9.0, variation: (variation, 0.0), upper: -1e6, lower: 1e6, widening: 0.0 }
    }

    fn ridges(signal: impl Fn(f64, f64) -> f64) -> Ridges {
        let signal = Array2::from_shape_fn((60, 60), |(r, c)| signal(STEP * c as f64, STEP * r as f64) as f32);
        Ridges { signal, origin: Point::new(0.0, 0.0) }
    }

    #[test]
    fn an_even_wave_stays_as_it_is_whichever_way_it_runs() {
        for angle in [0.0, 0.4, std::f64::consts::FRAC_PI_4, 1.2] {
            let (s, c) = super::super::chance::sin_cos(angle);
            let wave = |x: f64, y: f64| (2.0 * PI * (c * x + s * y) / 9.0).cos();
            let mut decided = ridges(wave);
            decided.decide(&even());
            for (r, column) in (10..50).flat_map(|r| (10..50).map(move |c| (r, c))) {
                let wanted = wave(STEP * column as f64, STEP * r as f64) as f32;
                approx::assert_abs_diff_eq!(decided.signal[[r, column]], wanted, epsilon = 0.06);
            }
        }
    }

    #[test]
    fn a_place_that_lingers_near_zero_is_taken_to_one_side() {
        // Two waves across each other: half way between their crests the sum is flat, here a little above or below zero.
        for lean in [0.06, -0.06] {
            let mut decided =
                ridges(|x, y| 0.5 * ((2.0 * PI * (x - 60.0) / 9.0).cos() - (2.0 * PI * (y - 60.0) / 9.0).cos()) + lean);
            let before = decided.signal[[30, 30]];
            decided.decide(&even());
            let after = decided.signal[[30, 30]];
            assert!(before.abs() < 0.1 && f64::from(after) * lean.signum() > 0.8, "{before} became {after}");
        }
    }
}
