//! A second look at the drawn ridges, by another way than `verify`: no thinning, no walking along lines, no design.
//!
//! What the truth claims is held against the ridge picture alone. The orientation comes from the gradients of the picture, and
//! its turn around every claimed point must be that of a core or a delta and around all of them together their sum, so that
//! none is missing and none too many. A loop must leave on the side it is named after. Ridges are counted as dark runs on the
//! straight line, and the traced ridge of a whorl must lie on dark all along but where it drops to the next ridge.
//! What this cannot tell is which kind of whorl or of tented arch it is: that rests on `verify`.

use super::chance;
use super::ridges::{Ridges, STEP};
use super::verify::RidgeReading;
use super::{General, Kind};
use crate::geometry::{Point, orientation_difference};
use std::f64::consts::PI;

/// Radius over which gradients are averaged, ridge periods: about the breadth of a ridge and its valley.
const AVERAGED_OVER: f64 = 0.55;
/// Claimed points nearer to each other than this are looked at together, ridge periods.
const TOGETHER: f64 = 4.5;
/// The circles that are tried around a point, in shares of [`AROUND`].
const CIRCLES: [f64; 4] = [1.0, 1.25, 0.8, 1.5];
/// Way around a point at this distance, ridge periods.
const AROUND: f64 = 2.1;
/// Weight of looking away from the delta against running along the ridges, where the open end of a loop is looked for: enough to part
/// the two ways along one ridge.
const FROM_DELTA: f64 = 0.15;
/// How far the ridges of a loop are followed out of its open end, ridge periods.
const FOLLOWED: f64 = 9.0;
/// Longest stretch of the traced line off the ridges, ridge periods: a drop to the next ridge, slantwise.
const LONGEST_DROP: f64 = 2.0;
/// Runs that may be counted or not: a ridge whose flank the line grazes without reaching its middle.
const GRAZED: i32 = 1;
/// Of so many ridges between traced line and delta one more may be grazed: that line meets the ridges at any angle.
const ONE_MORE_GRAZED_IN: i32 = 10;
/// Signal beyond which ridge and valley are clear; the ink of an impression moves the boundary by about as much.
const CLEARLY: f32 = 0.25;
/// Every how many pixels a line is looked at.
const EVERY: f64 = 0.5;

/// What is claimed of the ridges.
pub(super) struct Claim<'a> {
    /// Kind of print.
    pub kind: Kind,
    /// Cores in the finger frame.
    pub cores: &'a [Point],
    /// Deltas in the finger frame.
    pub deltas: &'a [Point],
    /// Mean ridge period, pixels.
    pub period: f64,
    /// Count and tracing.
    pub reading: &'a RidgeReading,
}

struct Look<'a> {
    ridges: &'a Ridges,
    period: f64,
}

/// Everything that the ridge picture does not bear out, in words; empty when it bears out the claim.
pub(super) fn disagreements(ridges: &Ridges, claim: &Claim) -> Vec<String> {
    let look = Look { ridges, period: claim.period };
    let mut out = Vec::new();
    look.points(claim, &mut out);
    if matches!(claim.kind.general(), General::Ls | General::Rs) {
        look.slant(claim, &mut out);
    }
    look.count(claim, &mut out);
    look.trace(claim, &mut out);
    out
}

impl Look<'_> {
    /// Ridge orientation at a place from the picture's gradients; none too near the edge.
    fn orientation(&self, p: Point) -> Option<f64> {
        let reach = (AVERAGED_OVER * self.period / STEP).ceil() as i64;
        let (u, v) = self.ridges.to_grid(p);
        let (rows, columns) = self.ridges.signal.dim();
        let (c, r) = (u.round() as i64, v.round() as i64);
        if c < reach + 1 || r < reach + 1 || c + reach + 2 > columns as i64 || r + reach + 2 > rows as i64 {
            return None;
        }
        let at = |dc: i64, dr: i64| f64::from(self.ridges.signal[[(r + dr) as usize, (c + dc) as usize]]);
        let (mut cos2, mut sin2) = (0.0, 0.0);
        for dr in -reach..=reach {
            for dc in -reach..=reach {
                let gx = at(dc + 1, dr) - at(dc - 1, dr);
                let gy = at(dc, dr - 1) - at(dc, dr + 1);
                cos2 += gx * gx - gy * gy;
                sin2 += 2.0 * gx * gy;
            }
        }
        Some(0.5 * chance::atan2(sin2, cos2) + 0.5 * PI)
    }

    /// Turns of the orientation around a circle, in half turns; none when the circle leaves the picture.
    fn index(&self, middle: Point, radius: f64) -> Option<i32> {
        let steps = (2.0 * PI * radius / 3.0).ceil().max(24.0) as usize;
        let place = |i: usize| {
            let (s, c) = chance::sin_cos(2.0 * PI * i as f64 / steps as f64);
            Point::new(middle.x + radius * c, middle.y - radius * s)
        };
        let angles: Option<Vec<f64>> = (0..steps).map(|i| self.orientation(place(i))).collect();
        let angles = angles?;
        let turn: f64 = (0..steps).map(|i| orientation_difference(angles[(i + 1) % steps], angles[i])).sum();
        Some((turn / PI).round() as i32)
    }

    fn points(&self, claim: &Claim, out: &mut Vec<String>) {
        let points: Vec<(Point, i32)> =
            claim.cores.iter().map(|p| (*p, 1)).chain(claim.deltas.iter().map(|p| (*p, -1))).collect();
        let mut groups: Vec<Vec<(Point, i32)>> = Vec::new();
        for point in points {
            let near = |group: &Vec<(Point, i32)>| group.iter().any(|q| q.0.distance(point.0) < TOGETHER * self.period);
            let (joined, apart): (Vec<_>, Vec<_>) = groups.into_iter().partition(near);
            groups = apart;
            let mut group: Vec<(Point, i32)> = joined.into_iter().flatten().collect();
            group.push(point);
            groups.push(group);
        }
        for group in &groups {
            let n = group.len() as f64;
            let middle =
                Point::new(group.iter().map(|p| p.0.x).sum::<f64>() / n, group.iter().map(|p| p.0.y).sum::<f64>() / n);
            let radius = group.iter().map(|p| p.0.distance(middle)).fold(0.0, f64::max) + AROUND * self.period;
            let others = groups.iter().filter(|g| !std::ptr::eq(*g, group)).flatten();
            if others.into_iter().any(|p| p.0.distance(middle) < radius + self.period) {
                continue; // counted in the sum over all
            }
            let expected: i32 = group.iter().map(|p| p.1).sum();
            // A ridge that ends on the way may upset one circle, a point that is not there upsets all.
            let radii = CIRCLES.map(|k| radius + (k - 1.0) * AROUND * self.period);
            let found: Vec<i32> = radii.into_iter().filter_map(|radius| self.index(middle, radius)).collect();
            if !found.is_empty() && !found.contains(&expected) {
                out.push(format!("the ridges turn by {found:?} half turns around {} points, not by {expected}", n));
            }
        }
    }

    fn slant(&self, claim: &Claim, out: &mut Vec<String>) {
        let ([core, ..], [delta, ..]) = (claim.cores, claim.deltas) else { return };
        // Out of the open end: the direction in which ridges run straight away from the core and not toward the delta.
        let radius = AROUND * self.period;
        let away = chance::atan2(core.y - delta.y, delta.x - core.x) + PI;
        let start = (0..72)
            .filter_map(|i| {
                let direction = f64::from(i) * PI / 36.0;
                let (s, c) = chance::sin_cos(direction);
                let p = Point::new(core.x + radius * c, core.y - radius * s);
                let off = orientation_difference(self.orientation(p)?, direction).abs();
                Some((off + FROM_DELTA * (1.0 - chance::cos(direction - away)), p, (c, -s)))
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let Some((_, mut p, mut heading)) = start else { return };
        let begun = p;
        let steps = (FOLLOWED * self.period / STEP) as usize;
        for _ in 0..steps {
            let Some(orientation) = self.orientation(p) else { break };
            let (s, c) = chance::sin_cos(orientation);
            let sign = if c * heading.0 - s * heading.1 >= 0.0 { 1.0 } else { -1.0 };
            heading = (sign * c, -sign * s);
            p = Point::new(p.x + STEP * heading.0, p.y + STEP * heading.1);
        }
        let leaves_right = p.x > begun.x;
        if leaves_right != (claim.kind == Kind::RightLoop) {
            out.push(format!("the loop leaves to the {}", if leaves_right { "right" } else { "left" }));
        }
    }

    /// Dark runs strictly between two places on dark. A run begins where it is clearly dark and ends where it is clearly light:
    /// what ink could close or open is no boundary.
    fn dark_runs(&self, a: Point, b: Point) -> i32 {
        let steps = (a.distance(b) / EVERY).ceil().max(1.0) as usize;
        let mut dark = true;
        let mut begun = 0;
        for i in 0..=steps {
            let signal = self.ridges.at(a.lerp(b, i as f64 / steps as f64));
            if !dark && signal > CLEARLY {
                begun += 1;
                dark = true;
            } else if signal < -CLEARLY {
                dark = false;
            }
        }
        // The run at the far end is that of the place itself; an end too thin to be clearly dark has begun none.
        let end_begun = self.ridges.at(b) > -CLEARLY && dark;
        begun - i32::from(end_begun)
    }

    fn count(&self, claim: &Claim, out: &mut Vec<String>) {
        let (Some(count), Some((delta, core))) = (claim.reading.ridge_count, claim.reading.count_line) else { return };
        let runs = self.dark_runs(delta, core) + i32::from(claim.reading.forks_on_line);
        if (runs - i32::from(count)).abs() > GRAZED {
            out.push(format!("{runs} dark runs lie on the count line, not {count}"));
        }
    }

    fn trace(&self, claim: &Claim, out: &mut Vec<String>) {
        let (Some(between), Some(last)) = (claim.reading.ridges_between, claim.reading.trace.last()) else { return };
        // A drop to the next ridge leaves the dark for a ridge's width or two, a line led astray for longer.
        let (mut off, mut longest) = (0.0f64, 0.0f64);
        for pair in claim.reading.trace.windows(2) {
            let steps = (pair[0].distance(pair[1]) / EVERY).ceil().max(1.0) as usize;
            for i in 0..steps {
                let dark = self.ridges.at(pair[0].lerp(pair[1], i as f64 / steps as f64)) > 0.0;
                off = if dark { 0.0 } else { off + EVERY };
                longest = longest.max(off);
            }
        }
        if longest > LONGEST_DROP * self.period {
            out.push(format!("{:.1} periods of the traced line lie off the ridges", longest / self.period));
        }
        let Some(right) = claim.reading.traced_to else { return };
        let runs = self.dark_runs(right, *last) + i32::from(claim.reading.forks_on_line);
        if (runs - between.abs()).abs() > GRAZED + between.abs() / ONE_MORE_GRAZED_IN {
            out.push(format!("{runs} dark runs lie between traced line and right delta, not {}", between.abs()));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Finger, Wish};
    use super::*;

    fn claimed<'a>(finger: &'a Finger, cores: &'a [Point], deltas: &'a [Point], kind: Kind) -> Claim<'a> {
        Claim { kind, cores, deltas, period: finger.design.period.mean, reading: &finger.reading }
    }

    #[test]
    fn a_true_claim_is_borne_out_and_a_false_one_is_not() {
        let wish = Wish { ridge_count: Some(9), ..Wish::of(Kind::LeftLoop) };
        let finger = Finger::grow(&wish, 4).unwrap();
        let (cores, deltas) = (finger.design.flow.cores(), finger.design.flow.deltas());
        let said = |claim: &Claim| disagreements(&finger.ridges, claim).len();
        assert_eq!(said(&claimed(&finger, &cores, &deltas, Kind::LeftLoop)), 0);
        assert!(said(&claimed(&finger, &cores, &deltas, Kind::RightLoop)) > 0, "the other slant");
        assert!(said(&claimed(&finger, &deltas, &cores, Kind::LeftLoop)) > 0, "core and delta exchanged");
        let elsewhere = [Point::new(cores[0].x, cores[0].y - 60.0)];
        assert!(said(&claimed(&finger, &elsewhere, &deltas, Kind::LeftLoop)) > 0, "a core where none is");
        let mut counted = finger.reading.clone();
        counted.ridge_count = Some(12);
        let wrong = Claim { reading: &counted, ..claimed(&finger, &cores, &deltas, Kind::LeftLoop) };
        assert!(said(&wrong) > 0, "three ridges too many");
    }
}
