//! Following the flow of the ridges from a place.

use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference, orientation_difference};
use ndarray::Array2;

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

/// A flow to follow: doubled-angle vectors of any smoothing on the cells of a field.
#[derive(Debug, Clone, Copy)]
pub struct Flow<'a> {
    /// The field that owns the cells and the foreground.
    pub field: &'a RidgeField,
    /// Cosine of twice the orientation, any length.
    pub cos2: &'a Array2<f32>,
    /// Sine of twice the orientation.
    pub sin2: &'a Array2<f32>,
}

impl<'a> Flow<'a> {
    /// The final flow of a field.
    pub fn of(field: &'a RidgeField) -> Self {
        Self { field, cos2: &field.cos2, sin2: &field.sin2 }
    }

    /// Ridge orientation at a place, radians.
    pub fn orientation_at(&self, p: Point) -> f64 {
        let place = self.field.between(p);
        let read = |grid| f64::from(place.read(grid));
        0.5 * read(self.sin2).atan2(read(self.cos2))
    }

    /// The ridge direction at a place that differs least from `heading`.
    fn along(&self, at: Point, heading: f64) -> f64 {
        heading + orientation_difference(self.orientation_at(at), heading)
    }
}

/// Follows the flow from `start` with `heading` (radians) for at most `longest_px`, by the midpoint rule.
pub fn follow(flow: Flow<'_>, start: Point, heading: f64, longest_px: f64) -> FlowLine {
    let mut line = FlowLine { points: vec![start], turn: 0.0, extreme_turn: 0.0, left_print: false };
    let (mut at, mut heading) = (start, heading);
    // The first step only lines the heading up with the ridge under the start.
    heading = flow.along(at, heading);
    for _ in 0..(longest_px / STEP_PX) as usize {
        let middle = flow.along(at.step(heading, 0.5 * STEP_PX), heading);
        let next = at.step(middle, STEP_PX);
        if !flow.field.on_print(next) {
            line.left_print = true;
            break;
        }
        let new_heading = flow.along(next, middle);
        line.turn += direction_difference(new_heading, heading);
        if line.turn.abs() > line.extreme_turn.abs() {
            line.extreme_turn = line.turn;
        }
        (at, heading) = (next, new_heading);
        line.points.push(at);
    }
    line
}
