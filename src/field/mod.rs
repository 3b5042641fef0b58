//! Impression to ridge field: contrast, foreground, orientation, period, coherence.

use crate::geometry::Point;
use ndarray::Array2;

/// The ridge flow of one print on a grid of square cells.
///
/// All arrays have the same shape `[row, column]`; the cell at `[r, c]` is centred at
/// `x = (c + 0.5) * cell - 0.5`, `y = (r + 0.5) * cell - 0.5` in pixels of the working image.
#[derive(Debug, Clone)]
pub struct RidgeField {
    /// Edge of a cell in working pixels.
    pub cell: usize,
    /// Cosine of twice the ridge orientation (unit vector together with `sin2`).
    pub cos2: Array2<f32>,
    /// Sine of twice the ridge orientation.
    pub sin2: Array2<f32>,
    /// 0 (no preferred orientation) to 1 (perfectly parallel ridges).
    pub coherence: Array2<f32>,
    /// Distance from ridge to ridge in working pixels; 0 where unknown.
    pub period: Array2<f32>,
    /// Cells that bear usable ridges.
    pub foreground: Array2<bool>,
}

impl RidgeField {
    /// Centre of a cell in working pixels.
    pub fn centre(&self, row: usize, column: usize) -> Point {
        let at = |i: usize| (i as f64 + 0.5) * self.cell as f64 - 0.5;
        Point::new(at(column), at(row))
    }
}
