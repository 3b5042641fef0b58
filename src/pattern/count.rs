//! Ridges crossed by a straight line.

use crate::field::RidgeField;
use crate::geometry::Point;

/// How many ridges a straight line crosses, measured two ways.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Crossing {
    /// Ridges met on the filtered print: dark runs between the ends, a run only counting when the line leaves the
    /// valley before and after it.
    pub ridges: u16,
    /// Turns of the ridge pattern along the line, from flow and period alone: length times the sine of the angle between
    /// line and ridges, over the period.
    pub turns: f64,
    /// Depth of the weakest counted ridge against the typical ridge, 0 to 1: low where a count hangs on a faint ridge.
    pub weakest: f64,
}

/// Counts the ridges between `from` and `to` (working pixels); `ends_px` at either end are the end points' own ridges.
pub fn crossing(field: &RidgeField, from: Point, to: Point, ends_px: f64) -> Crossing {
    let length = from.distance(to);
    let steps = length.ceil().max(1.0) as usize;
    let line = from.direction_to(to);
    let mut result = Crossing { weakest: 1.0, ..Default::default() };
    let mut profile = Vec::with_capacity(steps + 1);
    for i in 0..=steps {
        let p = from.lerp(to, i as f64 / steps as f64);
        let crossing_angle = crate::geometry::orientation_difference(field.orientation_at(p), line);
        result.turns += crossing_angle.sin().abs() / field.period_at(p).max(3.0) * length / (steps + 1) as f64;
        profile.push(grey(field, p));
    }
    let typical = spread(&profile).max(1e-6);
    let ends = (ends_px / length.max(1e-6) * steps as f64).round() as usize;
    let (mut inside_ridge, mut deepest, mut valley_seen) = (false, 0.0f64, false);
    for (i, v) in profile.iter().enumerate() {
        let depth = -v / typical;
        if depth < -0.35 {
            if inside_ridge {
                result.ridges += 1;
                result.weakest = result.weakest.min(deepest / 1.4);
                inside_ridge = false;
            }
            valley_seen = true;
        } else if depth > 0.35 && valley_seen && i >= ends && i + ends <= steps {
            if !inside_ridge {
                (inside_ridge, deepest) = (true, 0.0);
            }
            deepest = deepest.max(depth);
        }
    }
    result.weakest = result.weakest.clamp(0.0, 1.0);
    result
}

fn grey(field: &RidgeField, p: Point) -> f64 {
    f64::from(crate::field::grid::read_between(&field.filtered, p.y as f32, p.x as f32))
}

fn spread(profile: &[f64]) -> f64 {
    let n = profile.len().max(1) as f64;
    let mean = profile.iter().sum::<f64>() / n;
    (profile.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt()
}
