//! The ink of a region, hardly smoothed: what a filter along the flow carries beyond the end of a ridge is white there.

use super::lines::Region;
use crate::field::RidgeField;
use crate::field::grid::smooth;
use ndarray::Array2;

/// The levelled print of a region with unit root mean square; ridges are negative.
#[derive(Debug)]
pub(super) struct Ink {
    print: Array2<f32>,
    top: usize,
    left: usize,
}

/// The region is read with so many pixels around it, so that its rim is smoothed like the rest.
const RIM: usize = 8;

impl Ink {
    /// The ink of `region`, smoothed by `sigma_px` (standard deviation).
    pub(super) fn of(field: &RidgeField, region: Region, sigma_px: f32) -> Self {
        let (rows, columns) = field.levelled.dim();
        let (top, left) = (region.top.saturating_sub(RIM), region.left.saturating_sub(RIM));
        let (bottom, right) = ((region.bottom + RIM).min(rows), (region.right + RIM).min(columns));
        let shape = (bottom.saturating_sub(top), right.saturating_sub(left));
        let mut print = smooth(&Array2::from_shape_fn(shape, |(r, c)| field.levelled[[top + r, left + c]]), sigma_px);
        let typical = root_mean_square(print.iter().copied()).max(1e-9);
        print.mapv_inplace(|v| v / typical);
        Self { print, top, left }
    }

    /// The ink at `[row, column]` of the whole print; 0 beyond the region.
    pub(super) fn at(&self, [row, column]: [usize; 2]) -> f32 {
        let inside = row.checked_sub(self.top).zip(column.checked_sub(self.left));
        inside.and_then(|(r, c)| self.print.get([r, c])).copied().unwrap_or(0.0)
    }
}

/// Root mean square of some values; 0 of none.
pub(super) fn root_mean_square(values: impl Iterator<Item = f32>) -> f32 {
    let (sum, count) = values.fold((0.0f64, 0.0f64), |(sum, count), v| (sum + f64::from(v * v), count + 1.0));
    (sum / count.max(1.0)).sqrt() as f32
}
