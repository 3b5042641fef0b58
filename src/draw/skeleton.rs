//! The drawn ridges as thin lines, and how to walk along them.
//!
//! Part of the independent check of drawn prints: nothing here is shared with the rooms that screen prints.

use super::ridges::{Extent, Ridges};
use crate::geometry::{Point, direction_difference};
use std::collections::HashSet;

/// Ridges thinned to lines on a grid of [`UNIT`].
pub(super) struct Skeleton {
    on: Vec<bool>,
    /// The drawn signal on the grid, above zero on the ridges at their full breadth.
    signal: Vec<f32>,
    width: usize,
    height: usize,
    left: f64,
    top: f64,
}

/// A pixel of the skeleton.
pub(super) type Pixel = usize;

/// Edge of a pixel of the skeleton in pixels of the print. Thinned on whole pixels, ridges less than three pixels apart join or part by
/// where the grid happens to lie.
pub(super) const UNIT: f64 = 0.5;

/// A ridge that was counted on a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Met {
    /// Where its middle was met.
    pub pixel: Pixel,
    /// Counted for the second time, because it forks on the line.
    pub second_limb: bool,
}

/// Steps to the eight neighbours, clockwise from the one above.
const AROUND: [(i32, i32); 8] = [(0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1)];

/// A way meets a fork exactly where it passes this near to it, pixels: the breadth of a thinned line.
const ON_FORK: f64 = 1.5;
/// Steps without a middle between two limbs of one ridge, half a [`UNIT`] each.
const APART: usize = 6;
/// Steps of white that part two ridges, half a [`UNIT`] each: what is narrower no ink leaves open.
const WHITE: usize = 5;
/// Limbs that no white parts yet come from a fork this near, pixels: a ridge's breadth.
const LIMBS_PART: f64 = 6.0;

/// A line ends so far inside the edge of its ridge, pixels: less than half the breadth of the narrowest (3.2), so that no line grows out to
/// every bump of an edge (by eye, on deltas).
const END_DEPTH: f32 = 1.25;

/// What to do where a ridge forks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum AtFork {
    /// Go on as straight as possible.
    Straight,
    /// Take the lower limb (for tracing).
    Lower,
}

/// Why a walk ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum WalkEnd {
    /// The ridge ends.
    RidgeEnd,
    /// The edge of the skeleton.
    Edge,
    /// Back at the start.
    Closed,
    /// The caller had enough.
    Stopped,
}

impl Skeleton {
    /// Thins the ridges inside `extent`, as broad as ink makes them that adds `breadth` to their signal. Spurs shorter than `spur` pixels are
    /// cut off.
    pub fn of(ridges: &Ridges, extent: Extent, spur: f64, breadth: f32) -> Self {
        let width = (((extent.right - extent.left) / UNIT).max(0.0) as usize).max(3);
        let height = (((extent.bottom - extent.top) / UNIT).max(0.0) as usize).max(3);
        let mut signal = vec![-1.0f32; width * height];
        for y in 1..height - 1 {
            for x in 1..width - 1 {
                let at = Point::new(extent.left + UNIT * x as f64, extent.top + UNIT * y as f64);
                signal[y * width + x] = ridges.at(at) + breadth;
            }
        }
        let on: Vec<bool> = signal.iter().map(|v| *v > 0.0).collect();
        let depths = depths(&signal, width);
        let mut skeleton = Self { on, signal, width, height, left: extent.left, top: extent.top };
        skeleton.thin(&depths);
        skeleton.cut_spurs((spur / UNIT) as usize);
        skeleton
    }

    /// Place of a pixel in the finger frame.
    pub fn place(&self, pixel: Pixel) -> Point {
        Point::new(self.left + UNIT * (pixel % self.width) as f64, self.top + UNIT * (pixel / self.width) as f64)
    }

    /// Whether a place lies on the grid.
    pub fn holds(&self, p: Point) -> bool {
        let (x, y) = ((p.x - self.left) / UNIT, (p.y - self.top) / UNIT);
        x >= 1.0 && y >= 1.0 && x < (self.width - 2) as f64 && y < (self.height - 2) as f64
    }

    /// The eight neighbours of a pixel as bits, clockwise from above.
    fn neighbours(&self, pixel: Pixel) -> u8 {
        let mut bits = 0;
        for (k, (dx, dy)) in AROUND.iter().enumerate() {
            let n = pixel as i64 + i64::from(*dx) + i64::from(*dy) * self.width as i64;
            bits |= u8::from(self.on[n as usize]) << k;
        }
        bits
    }

    /// Thins the ridges to their middles: pixel after pixel is taken away, the one nearest to an edge first, where that parts or joins nothing
    /// (after Yokoi, Toriwaki and Fukumura 1975) and shortens no line that lies as deep as [`END_DEPTH`].
    fn thin(&mut self, depth: &[f32]) {
        /// Depths are put in order in so many steps up to this, pixels: no ridge is as broad as twice that.
        const LEVELS: usize = 2048;
        const DEEPEST: f32 = 12.0;
        let level = |p: Pixel| ((depth[p] * (LEVELS as f32 / DEEPEST)) as usize).min(LEVELS - 1);
        let mut by_level: Vec<Vec<u32>> = vec![Vec::new(); LEVELS];
        for p in (0..self.on.len()).filter(|&p| self.on[p]) {
            by_level[level(p)].push(p as u32);
        }
        let mut left: Vec<Pixel> = by_level.into_iter().flatten().map(|p| p as usize).collect();
        loop {
            let before = left.len();
            left.retain(|&p| {
                let bits = self.neighbours(p);
                let gone = simple(bits) && (bits.count_ones() > 1 || depth[p] < END_DEPTH);
                self.on[p] = !gone;
                !gone
            });
            if left.len() == before {
                break;
            }
        }
    }

    /// Pixels where a ridge ends.
    pub fn is_end(&self, pixel: Pixel) -> bool {
        self.on[pixel] && branches(self.neighbours(pixel)) <= 1
    }

    /// Pixels where a ridge forks.
    pub fn is_fork(&self, pixel: Pixel) -> bool {
        self.on[pixel] && branches(self.neighbours(pixel)) >= 3
    }

    /// Which way a fork opens: the middle between the two limbs that lie closest together so many pixels from it, radians. None where fewer than three
    /// limbs go that far, and where no two lie close together or run on in each other: ridges that meet open to no side more than to another.
    pub fn opens(&self, fork: Pixel, reach: f64) -> Option<f64> {
        /// What is seen from the fork within this is one limb, radians.
        const ONE_LIMB: f64 = 0.3;
        /// Limbs meet when no two lie closer together than the first or farther apart than the second, radians (74 and 152 degrees).
        const MEET: (f64, f64) = (1.3, 2.65);
        let at = self.place(fork);
        let (mut seen, mut next, mut limbs) = (HashSet::from([fork]), vec![fork], Vec::<f64>::new());
        while let Some(here) = next.pop() {
            let place = self.place(here);
            if place.distance(at) < reach {
                next.extend(self.next_pixels(here).into_iter().filter(|p| seen.insert(*p)));
                continue;
            }
            let direction = at.direction_to(place);
            if limbs.iter().all(|limb| direction_difference(*limb, direction).abs() > ONE_LIMB) {
                limbs.push(direction);
            }
        }
        let pairs = limbs
            .iter()
            .enumerate()
            .flat_map(|(i, a)| limbs[i + 1..].iter().map(|b| (*a, direction_difference(*b, *a))));
        let mut pairs: Vec<(f64, f64)> = pairs.collect();
        pairs.sort_by(|a, b| a.1.abs().total_cmp(&b.1.abs()));
        let [(a, closest), .., (_, farthest)] = *pairs.as_slice() else { return None };
        let meet = closest.abs() > MEET.0 && farthest.abs() < MEET.1;
        (!meet).then_some(a + 0.5 * closest)
    }

    fn cut_spurs(&mut self, spur: usize) {
        let ends: Vec<Pixel> = (0..self.on.len()).filter(|&p| self.on[p] && self.is_end(p)).collect();
        for end in ends {
            let mut path = vec![end];
            let mut at_fork = false;
            while path.len() <= spur {
                let here = path[path.len() - 1];
                let next: Vec<Pixel> = self.next_pixels(here).into_iter().filter(|p| !path.contains(p)).collect();
                match next.as_slice() {
                    [only] if !self.is_fork(*only) => path.push(*only),
                    [_, ..] => {
                        at_fork = true;
                        break;
                    }
                    [] => break,
                }
            }
            if at_fork && path.len() <= spur {
                for p in path {
                    self.on[p] = false;
                }
            }
        }
    }

    fn next_pixels(&self, pixel: Pixel) -> Vec<Pixel> {
        AROUND
            .iter()
            .map(|(dx, dy)| (pixel as i64 + i64::from(*dx) + i64::from(*dy) * self.width as i64) as usize)
            .filter(|&n| self.on.get(n).copied().unwrap_or(false))
            .collect()
    }

    /// The skeleton pixel nearest to a place within `reach` pixels that `accept` allows.
    pub fn nearest(&self, p: Point, reach: f64, accept: impl Fn(Pixel) -> bool) -> Option<Pixel> {
        let (cx, cy, r) = (
            ((p.x - self.left) / UNIT).round() as i64,
            ((p.y - self.top) / UNIT).round() as i64,
            (reach / UNIT).ceil() as i64,
        );
        let mut best: Option<(f64, Pixel)> = None;
        for y in (cy - r).max(1)..(cy + r + 1).min(self.height as i64 - 1) {
            for x in (cx - r).max(1)..(cx + r + 1).min(self.width as i64 - 1) {
                let pixel = y as usize * self.width + x as usize;
                let d = self.place(pixel).distance(p);
                if self.on[pixel] && d <= reach && best.is_none_or(|b| d < b.0) && accept(pixel) {
                    best = Some((d, pixel));
                }
            }
        }
        best.map(|b| b.1)
    }

    /// Ridges met on the straight way from `a` to `b`, in order. A ridge counts when the way reaches its middle, and the next
    /// one only after the way has crossed a valley.
    pub fn crossings(&self, a: Point, b: Point) -> Vec<Pixel> {
        let steps = (2.0 * a.distance(b) / UNIT).ceil().max(1.0) as usize;
        let (mut found, mut valley_passed) = (Vec::new(), true);
        for i in 0..=steps {
            let p = a.lerp(b, i as f64 / steps as f64);
            if !self.holds(p) {
                continue;
            }
            let (x, y) = (((p.x - self.left) / UNIT).round() as usize, ((p.y - self.top) / UNIT).round() as usize);
            // A line may slip diagonally between two pixels of a ridge: the pixel to its side counts as well.
            let hit = [(0usize, 0usize), (1, 0), (0, 1)]
                .iter()
                .map(|(dx, dy)| (y + dy) * self.width + x + dx)
                .find(|&n| self.on[n]);
            match hit {
                Some(pixel) if valley_passed => {
                    found.push(pixel);
                    valley_passed = false;
                }
                Some(_) => {}
                None => valley_passed |= self.signal[y * self.width + x] <= 0.0,
            }
        }
        found
    }

    /// The drawn signal at a place on the grid, above zero on a ridge.
    fn signal_at(&self, p: Point) -> f32 {
        let (u, v) = ((p.x - self.left) / UNIT, (p.y - self.top) / UNIT);
        let (x, y) = (u as usize, v as usize);
        let (wx, wy) = ((u - x as f64) as f32, (v - y as f64) as f32);
        let row = |y: usize| {
            let i = y * self.width + x;
            self.signal[i] + wx * (self.signal[i + 1] - self.signal[i])
        };
        row(y) + wy * (row(y + 1) - row(y))
    }

    /// Ridges strictly between two places on the straight way from `a` to `b`, in order, by the rules of counting: a ridge that no white space parts from the ridge
    /// at either end is not counted, and a fork on the way counts twice (handbook, chapter II). A ridge counts when the way reaches its middle; it
    /// forks on the way where its limbs part within [`ON_FORK`] of it or are met apart before white shows between them.
    pub fn counted(&self, a: Point, b: Point) -> Vec<Met> {
        let steps = (2.0 * a.distance(b) / UNIT).ceil().max(1.0) as usize;
        let (mut found, mut run): (Vec<Met>, Vec<Option<Pixel>>) = (Vec::new(), Vec::new());
        let (mut white_before, mut white) = (false, 0);
        for i in 0..=steps {
            let p = a.lerp(b, i as f64 / steps as f64);
            if !self.holds(p) {
                continue;
            }
            if self.signal_at(p) > 0.0 {
                white = 0;
                let (x, y) = (((p.x - self.left) / UNIT).round() as usize, ((p.y - self.top) / UNIT).round() as usize);
                let mut middles =
                    [(0usize, 0usize), (1, 0), (0, 1)].into_iter().map(|(dx, dy)| (y + dy) * self.width + x + dx);
                run.push(middles.find(|&n| self.on[n]));
                continue;
            }
            white += 1;
            if white < WHITE {
                continue;
            }
            // White: the ridge just passed is between two whites if there was one before it.
            if let (true, Some(first)) = (white_before, run.iter().flatten().next()) {
                found.push(Met { pixel: *first, second_limb: false });
                found.extend(self.second_limb(&run).map(|pixel| Met { pixel, second_limb: true }));
            }
            run.clear();
            white_before = true;
        }
        found
    }

    /// Where a ridge that was passed forks, if it does so on the way: `run` holds its middle, where it was met, at every step.
    fn second_limb(&self, run: &[Option<Pixel>]) -> Option<Pixel> {
        let met: Vec<(usize, Pixel)> =
            run.iter().enumerate().filter_map(|(i, on)| on.map(|pixel| (i, pixel))).collect();
        let fork = |pixel: Pixel, reach: f64| self.nearest(self.place(pixel), reach, |p| self.is_fork(p));
        let on_fork = met.iter().find_map(|(_, pixel)| fork(*pixel, ON_FORK));
        let apart = met.windows(2).find(|w| w[1].0 - w[0].0 > APART).map(|w| w[1].1);
        on_fork.or_else(|| apart.filter(|pixel| fork(*pixel, LIMBS_PART).is_some()))
    }

    /// Walks along the ridge from `start` toward `heading` (right, down) and calls `visit` on each pixel; `visit` returns
    /// false to stop.
    pub fn walk(
        &self,
        start: Pixel,
        heading: (f64, f64),
        at_fork: AtFork,
        mut visit: impl FnMut(Pixel) -> bool,
    ) -> WalkEnd {
        const MOST_STEPS: usize = 8000;
        // The heading follows the last pixels, so that one crooked pixel does not turn the walk round.
        const MEMORY: f64 = 0.87;
        let mut heading = heading;
        let mut trail: Vec<Pixel> = vec![start];
        let mut here = start;
        for step in 0..MOST_STEPS {
            let recent = &trail[trail.len().saturating_sub(10)..];
            let options: Vec<Pixel> = self.next_pixels(here).into_iter().filter(|p| !recent.contains(p)).collect();
            let fork = options.len() > 1 && self.is_fork(here);
            let lower = at_fork == AtFork::Lower && fork && step > 0;
            let at = self.place(here);
            let scored = options.iter().map(|&p| {
                // Where a limb of a fork leads shows only some way along it.
                let to = if fork { self.lookahead(here, p) } else { self.place(p) };
                let (dx, dy) = (to.x - at.x, to.y - at.y);
                let straight = (dx * heading.0 + dy * heading.1)
                    / ((dx * dx + dy * dy) * (heading.0 * heading.0 + heading.1 * heading.1)).sqrt().max(1e-9);
                (straight, if lower { to.y } else { 0.0 }, p)
            });
            // Nothing behind the walker is a continuation.
            let forward = scored.filter(|(straight, _, _)| *straight > -0.2);
            let best = if lower {
                forward.max_by(|a, b| a.1.total_cmp(&b.1))
            } else {
                forward.max_by(|a, b| a.0.total_cmp(&b.0))
            };
            let Some((_, _, next)) = best else {
                let p = self.place(here);
                let near_edge = p.x - self.left < 3.0
                    || p.y - self.top < 3.0
                    || self.left + UNIT * self.width as f64 - p.x < 4.0
                    || self.top + UNIT * self.height as f64 - p.y < 4.0;
                return if near_edge { WalkEnd::Edge } else { WalkEnd::RidgeEnd };
            };
            let (dx, dy) = self.step(here, next);
            heading = (MEMORY * heading.0 + (1.0 - MEMORY) * dx, MEMORY * heading.1 + (1.0 - MEMORY) * dy);
            here = next;
            trail.push(here);
            if !visit(here) {
                return WalkEnd::Stopped;
            }
            if step > 24 && self.place(here).distance(self.place(start)) < 1.6 {
                return WalkEnd::Closed;
            }
        }
        WalkEnd::Stopped
    }

    fn step(&self, from: Pixel, to: Pixel) -> (f64, f64) {
        let (a, b) = (self.place(from), self.place(to));
        (b.x - a.x, b.y - a.y)
    }

    /// Where a limb leads after a few pixels.
    fn lookahead(&self, from: Pixel, first: Pixel) -> Point {
        const AHEAD: usize = 12;
        let mut path = vec![from, first];
        for _ in 0..AHEAD {
            let here = path[path.len() - 1];
            let Some(next) = self.next_pixels(here).into_iter().find(|p| !path.contains(p)) else { break };
            path.push(next);
        }
        self.place(path[path.len() - 1])
    }
}

/// How far every pixel lies inside the edge of its ridge, pixels of the print; 0 in the valleys. The edge is where the signal passes zero between
/// two pixels; from there on by steps to the sixteen nearest neighbours (Borgefors 1986).
fn depths(signal: &[f32], width: usize) -> Vec<f32> {
    let unit = UNIT as f32;
    let mut depth = vec![0.0f32; signal.len()];
    let w = width as i64;
    for i in width..signal.len() - width {
        if signal[i] <= 0.0 {
            continue;
        }
        depth[i] = f32::MAX;
        // Near an edge the distance follows from how steeply the signal falls to either side.
        let cut = |a: f32, b: f32| if a.min(b) <= 0.0 { signal[i] / (signal[i] - a.min(b)) } else { f32::MAX };
        let (x, y) = (cut(signal[i - 1], signal[i + 1]), cut(signal[i - width], signal[i + width]));
        if x.min(y) < f32::MAX {
            depth[i] = unit / (1.0 / (x * x) + 1.0 / (y * y)).sqrt();
        }
    }
    let (straight, corner, knight) = (unit, unit * 2f32.sqrt(), unit * 5f32.sqrt());
    let before = [
        (-1, straight),
        (-w, straight),
        (-w - 1, corner),
        (-w + 1, corner),
        (-w - 2, knight),
        (-w + 2, knight),
        (-2 * w - 1, knight),
        (-2 * w + 1, knight),
    ];
    let inner = 2 * width + 2..signal.len() - 2 * width - 2;
    let nearer = |depth: &mut Vec<f32>, i: usize, side: i64| {
        if depth[i] > 0.0 {
            let far = before.iter().map(|(step, far)| depth[(i as i64 + side * step) as usize] + far);
            depth[i] = far.fold(depth[i], f32::min);
        }
    };
    inner.clone().for_each(|i| nearer(&mut depth, i, 1));
    inner.rev().for_each(|i| nearer(&mut depth, i, -1));
    depth
}

/// Runs of set bits around a pixel: the number of lines that leave it.
fn branches(bits: u8) -> u32 {
    (bits & !bits.rotate_left(1)).count_ones()
}

/// Whether taking a pixel with these neighbours away parts or joins nothing.
fn simple(bits: u8) -> bool {
    let off = |k: u8| u8::from(bits & (1 << (k % 8)) == 0);
    (0..4).map(|k| 2 * k).map(|k| off(k) - off(k) * off(k + 1) * off(k + 2)).sum::<u8>() == 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;
    use std::f64::consts::PI;

    /// Concentric rings of period 10 px about the middle of a 200 px square, ridges where the cosine is positive.
    fn rings() -> Ridges {
        let signal = Array2::from_shape_fn((100, 100), |(r, c)| {
            let (x, y) = (c as f64 * 2.0 - 100.0, r as f64 * 2.0 - 100.0);
            (2.0 * PI * x.hypot(y) / 10.0).cos() as f32
        });
        Ridges { signal, origin: Point::new(-100.0, -100.0) }
    }

    fn everywhere() -> Extent {
        Extent { left: -95.0, top: -95.0, right: 95.0, bottom: 95.0 }
    }

    #[test]
    fn a_straight_way_out_of_rings_meets_one_ridge_a_period() {
        let skeleton = Skeleton::of(&rings(), everywhere(), 4.0, 0.0);
        // Rings at 10, 20, ... 80 px lie between 5 and 85 px from the middle.
        let met = skeleton.crossings(Point::new(5.0, 0.0), Point::new(85.0, 3.0));
        assert_eq!(met.len(), 8);
    }

    #[test]
    fn a_walk_along_a_ring_comes_back_to_its_start() {
        let skeleton = Skeleton::of(&rings(), everywhere(), 4.0, 0.0);
        let start = skeleton.nearest(Point::new(40.0, 0.0), 3.0, |_| true).unwrap();
        let mut farthest: f64 = 0.0;
        let end = skeleton.walk(start, (0.0, 1.0), AtFork::Straight, |p| {
            farthest = farthest.max((skeleton.place(p).distance(Point::new(0.0, 0.0)) - 40.0).abs());
            true
        });
        assert_eq!(end, WalkEnd::Closed);
        assert!(farthest < 2.0, "the walk left its ring by {farthest} px");
    }

    #[test]
    fn a_fork_opens_between_its_closest_limbs() {
        // By hand: limbs half a radian to either side of the way that it opens, the stem behind it.
        for way in [0.0, 0.5, -1.2, 2.8] {
            let end = |turn: f64| Point::new(0.0, 0.0).step(way + turn, 60.0);
            let limbs = [0.5, -0.5, 3.1].map(|turn| vec![Point::new(0.0, 0.0), end(turn)]);
            let skeleton = Skeleton::of(&Ridges::of_strokes(&limbs), everywhere(), 4.0, 0.0);
            let fork = skeleton.nearest(Point::new(0.0, 0.0), 8.0, |p| skeleton.is_fork(p)).unwrap();
            let opens = skeleton.opens(fork, 20.0).unwrap();
            approx::assert_abs_diff_eq!(direction_difference(opens, way), 0.0, epsilon = 0.15);
        }
    }

    #[test]
    fn ridges_that_meet_open_to_no_side() {
        // "A meeting of two ridges" is a form of the delta beside the bifurcation (handbook, chapter II, "Delta"): limbs 100, 120 and 140 degrees
        // apart; where a limb abuts on a ridge that runs on, none meets it.
        for way in [0.0, 0.5, -1.2, 2.8] {
            let end = |turn: f64| Point::new(0.0, 0.0).step(way + turn.to_radians(), 60.0);
            let limbs = [0.0, 100.0, 220.0].map(|turn| vec![Point::new(0.0, 0.0), end(turn)]);
            let skeleton = Skeleton::of(&Ridges::of_strokes(&limbs), everywhere(), 4.0, 0.0);
            let fork = skeleton.nearest(Point::new(0.0, 0.0), 8.0, |p| skeleton.is_fork(p)).unwrap();
            assert_eq!(skeleton.opens(fork, 20.0), None);
        }
        let end = |turn: f64| Point::new(0.0, 0.0).step(turn, 60.0);
        let abutting = [vec![end(0.0), end(PI)], vec![Point::new(0.0, 0.0), end(0.5 * PI)]];
        let skeleton = Skeleton::of(&Ridges::of_strokes(&abutting), everywhere(), 4.0, 0.0);
        let fork = skeleton.nearest(Point::new(0.0, 0.0), 8.0, |p| skeleton.is_fork(p)).unwrap();
        let opens = skeleton.opens(fork, 20.0).unwrap();
        assert!((opens - 0.25 * PI).abs().min((opens - 0.75 * PI).abs()) < 0.3, "{opens}");
    }

    #[test]
    fn a_thinned_line_lies_as_deep_as_half_a_ridge_is_broad() {
        let skeleton = Skeleton::of(&rings(), everywhere(), 4.0, 0.0);
        let deep = depths(&skeleton.signal, skeleton.width);
        // The cosine is above zero for half a period of 10 px, so its middle lies 2.5 px inside.
        for angle in 0..12 {
            let (s, c) = (f64::from(angle) * PI / 6.0).sin_cos();
            let middle = skeleton.nearest(Point::new(50.0 * c, 50.0 * s), 1.0, |_| true).unwrap();
            approx::assert_abs_diff_eq!(deep[middle], 2.5, epsilon = 0.35);
        }
    }
}
