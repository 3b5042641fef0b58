//! Following the flow of the ridges from a place.

use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference};

/// Step along the flow, working pixels; a third of a ridge period.
const STEP_PX: f64 = 3.0;

/// A line that runs with the ridges.
#[derive(Debug, Clone)]
pub struct FlowLine {
    /// Places, first to last.
    pub points: Vec<Point>,
    /// Signed sum of all turns, radians; counter-clockwise as seen is positive.
    pub turn: f64,
    /// Largest absolute value that the running sum of turns reached, with its sign.
    pub extreme_turn: f64,
    /// Whether the line ran off the print (else it reached its greatest length).
    pub left_print: bool,
}

impl FlowLine {
    /// Length along the line in working pixels.
    pub fn length(&self) -> f64 {
        self.points.len().saturating_sub(1) as f64 * STEP_PX
    }

    /// The last place.
    pub fn end(&self) -> Point {
        self.points.last().copied().unwrap_or_default()
    }
}

/// Follows the flow from `start` with `heading` (radians) for at most `longest_px`, by the midpoint rule.
pub fn follow(field: &RidgeField, start: Point, heading: f64, longest_px: f64) -> FlowLine {
    let mut line = FlowLine { points: vec![start], turn: 0.0, extreme_turn: 0.0, left_print: false };
    let (mut at, mut heading) = (start, heading);
    // The first step only lines the heading up with the ridge under the start.
    heading = along(field, at, heading);
    for _ in 0..(longest_px / STEP_PX) as usize {
        let middle = along(field, at.step(heading, 0.5 * STEP_PX), heading);
        let next = at.step(middle, STEP_PX);
        if !field.on_print(next) {
            line.left_print = true;
            break;
        }
        let new_heading = along(field, next, middle);
        line.turn += direction_difference(new_heading, heading);
        if line.turn.abs() > line.extreme_turn.abs() {
            line.extreme_turn = line.turn;
        }
        (at, heading) = (next, new_heading);
        line.points.push(at);
    }
    line
}

/// The ridge direction at a place that differs least from `heading`.
fn along(field: &RidgeField, at: Point, heading: f64) -> f64 {
    let ridge = field.orientation_at(at);
    heading + crate::geometry::orientation_difference(ridge, heading)
}
