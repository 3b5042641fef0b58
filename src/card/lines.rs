//! Evidence of printed lines: thin dark strokes, how the page lies, and how much of a stretch is dark.

use super::settings::CardSettings;
use ndarray::{Array2, Axis};

/// Steps in which turns are tried first and then refined, degrees: on a page of 1,200 pixels a line drifts by 5 and 1 pixels.
const COARSE_STEP_DEG: f64 = 0.25;
const FINE_STEP_DEG: f64 = 0.05;
/// Strokes from this strength on vote for the turn.
const VOTING: f32 = 0.4;

/// How much each pixel looks like part of a thin dark line along the rows (`axis` 0 is across it): 0 to 1.
///
/// A stroke is darker than the paper on both of its sides, so the edge of a dark area is none.
fn strokes(grey: &Array2<f32>, axis: usize, settings: &CardSettings) -> Array2<f32> {
    let reach = settings.line_reach_px;
    let length = grey.len_of(Axis(axis));
    Array2::from_shape_fn(grey.dim(), |(r, c)| {
        let at = |i: Option<usize>| match i.filter(|i| *i < length) {
            // Beyond the scan there is nothing: a line on its edge counts by its inner side.
            None => 1.0,
            Some(i) if axis == 0 => grey[[i, c]],
            Some(i) => grey[[r, i]],
        };
        let here = if axis == 0 { r } else { c };
        let paper = at(here.checked_sub(reach)).min(at(Some(here + reach)));
        ((paper - grey[[r, c]]) / settings.line_contrast).clamp(0.0, 1.0)
    })
}

/// Each pixel takes the strongest of itself and its neighbours across the line, so that a line that drifts by a pixel holds together.
fn thickened(strokes: &Array2<f32>, axis: usize) -> Array2<f32> {
    let length = strokes.len_of(Axis(axis));
    Array2::from_shape_fn(strokes.dim(), |(r, c)| {
        let at = |i: usize| if axis == 0 { strokes[[i, c]] } else { strokes[[r, i]] };
        let here = if axis == 0 { r } else { c };
        at(here).max(at(here.saturating_sub(1))).max(at((here + 1).min(length - 1)))
    })
}

/// The turn of the page against the image axes, radians counter-clockwise, within the greatest turn of the settings: the one under which
/// strokes pile up most sharply in rows and columns.
pub(super) fn turn(grey: &Array2<f32>, settings: &CardSettings) -> f64 {
    let voters = |axis: usize| -> Vec<(f64, f64, f64)> {
        strokes(grey, axis, settings)
            .indexed_iter()
            .filter(|(_, strength)| **strength > VOTING)
            .map(|((r, c), strength)| {
                let (r, c, strength) = (r as f64, c as f64, f64::from(*strength));
                if axis == 0 { (r, c, strength) } else { (c, -r, strength) }
            })
            .collect()
    };
    let voters = [voters(0), voters(1)];
    let (rows, columns) = grey.dim();
    let most = settings.greatest_turn_deg;
    let drift = (rows.max(columns) as f64 * most.to_radians().tan()).ceil() + 1.0;
    let mut bins = vec![0f64; rows.max(columns) + 2 * drift as usize + 2];
    let mut sharpness = |degrees: f64| -> f64 {
        let slope = degrees.to_radians().tan();
        let mut sum = 0.0;
        for voters in &voters {
            bins.fill(0.0);
            for (across, along, strength) in voters {
                let bin = (across + along * slope + drift).round();
                if let Some(bin) = bins.get_mut(bin.max(0.0) as usize) {
                    *bin += strength;
                }
            }
            // The cube favours few long lines over many short strokes.
            sum += bins.iter().map(|b| b.powi(3)).sum::<f64>();
        }
        sum
    };
    let mut best_of = |middle: f64, half: f64, step: f64| {
        let steps = (half / step).round() as i64;
        let mut best = (f64::MIN, middle);
        for i in -steps..=steps {
            let degrees = middle + i as f64 * step;
            let sharp = sharpness(degrees);
            if sharp > best.0 {
                best = (sharp, degrees);
            }
        }
        best.1
    };
    let coarse = best_of(0.0, most, COARSE_STEP_DEG);
    best_of(coarse, COARSE_STEP_DEG, FINE_STEP_DEG).to_radians()
}

/// Strokes along one direction with running sums, so that any stretch is summed at once.
#[derive(Debug)]
pub(super) struct LineField {
    /// `sums[[line, i]]`: strokes of the line before position i.
    sums: Array2<f32>,
}

impl LineField {
    /// Horizontal strokes: lines are rows.
    pub fn horizontal(grey: &Array2<f32>, settings: &CardSettings) -> Self {
        Self::of(&thickened(&strokes(grey, 0, settings), 0))
    }

    /// Vertical strokes: lines are columns.
    pub fn vertical(grey: &Array2<f32>, settings: &CardSettings) -> Self {
        let thick = thickened(&strokes(grey, 1, settings), 1);
        Self::of(&thick.reversed_axes().as_standard_layout().into_owned())
    }

    fn of(strokes: &Array2<f32>) -> Self {
        let (lines, length) = strokes.dim();
        let mut sums = Array2::zeros((lines, length + 1));
        for (mut to, from) in sums.rows_mut().into_iter().zip(strokes.rows()) {
            let mut sum = 0.0;
            for (i, stroke) in from.iter().enumerate() {
                sum += stroke;
                to[i + 1] = sum;
            }
        }
        Self { sums }
    }

    /// How many lines there are.
    pub fn lines(&self) -> usize {
        self.sums.nrows()
    }

    /// Length of a line in pixels.
    pub fn length(&self) -> usize {
        self.sums.ncols() - 1
    }

    /// Strokes and pixels of a stretch, as far as it lies on the image.
    pub fn stretch(&self, line: f64, from: f64, to: f64) -> (f32, f32) {
        let row = line.round();
        if row < 0.0 || row >= self.lines() as f64 {
            return (0.0, 0.0);
        }
        let most = self.length() as f64;
        let (from, to) = (from.round().clamp(0.0, most) as usize, to.round().clamp(0.0, most) as usize);
        if to <= from {
            return (0.0, 0.0);
        }
        let row = row as usize;
        (self.sums[[row, to]] - self.sums[[row, from]], (to - from) as f32)
    }

    /// Strokes of each whole line.
    pub fn profile(&self) -> Vec<f32> {
        self.sums.rows().into_iter().map(|row| row[row.len() - 1]).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::geometry::Point;
    use ndarray::Array2;

    /// A page with a grid of thin lines, turned about its middle.
    fn page(turn_deg: f64) -> Array2<f32> {
        let frame = crate::geometry::Frame::new(1.0, turn_deg.to_radians(), 0.0, 0.0);
        Array2::from_shape_fn((700, 800), |(r, c)| {
            let p = frame.invert(Point::new(c as f64 - 400.0, r as f64 - 350.0));
            let on = |v: f64, lines: &[f64]| lines.iter().any(|l| (v - l).abs() < 1.0);
            let inside = p.x.abs() < 300.0 && p.y.abs() < 250.0;
            if inside && (on(p.x, &[-200.0, -60.0, 90.0, 210.0]) || on(p.y, &[-240.0, -100.0, 80.0, 200.0])) {
                0.2
            } else {
                0.95
            }
        })
    }

    #[test]
    fn the_turn_of_a_grid_is_found_to_a_tenth_of_a_degree() {
        for turn_deg in [-10.0, -3.3, 0.0, 1.4, 9.7] {
            let found = turn(&page(turn_deg), &CardSettings::default()).to_degrees();
            assert!((found - turn_deg).abs() <= 0.1, "{turn_deg}: {found}");
        }
    }

    #[test]
    fn a_stretch_on_a_line_is_dark_and_one_beside_it_is_not() {
        let field = LineField::horizontal(&page(0.0), &CardSettings::default());
        let (strokes, pixels) = field.stretch(430.0, 150.0, 650.0);
        assert!(strokes > 0.95 * pixels);
        let (strokes, pixels) = field.stretch(470.0, 150.0, 650.0);
        assert!(strokes < 0.1 * pixels);
        assert_eq!(field.stretch(900.0, 0.0, 100.0), (0.0, 0.0));
    }
}
