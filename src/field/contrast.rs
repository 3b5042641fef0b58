//! Local contrast: every neighbourhood brought to mean 0 and unit spread, so that ink blots do not own the averages.

use super::grid::{read_between, smooth};
use ndarray::{Array2, ArrayView2};

/// Settings of the local contrast.
#[derive(Debug, Clone)]
pub struct ContrastSettings {
    /// Width of the neighbourhood, standard deviation in pixels at 500 ppi; range 6 to 30. A ridge period and a half
    /// (METHODS common practice: about 12).
    pub sigma_px: f32,
    /// Spread below which a neighbourhood counts as blank, as a share of the print's typical spread; range 0 to 1.
    pub blank_share: f32,
    /// Values are clipped at this many spreads; range 1.5 to 5.
    pub clip: f32,
}

impl Default for ContrastSettings {
    fn default() -> Self {
        Self { sigma_px: 13.0, blank_share: 0.12, clip: 2.5 }
    }
}

/// The contrast-levelled print and what was measured on the way.
#[derive(Debug, Clone)]
pub struct Levelled {
    /// Grey values with local mean 0 and local spread near 1; ridges are negative.
    pub pixels: Array2<f32>,
    /// Local spread (standard deviation of the grey values) by cell.
    pub spread: Array2<f32>,
    /// Local mean grey by cell.
    pub mean: Array2<f32>,
    /// The print's typical spread: the 90th percentile over cells.
    pub typical_spread: f32,
}

/// Levels the contrast of a print. `cell` is the edge of a cell in pixels.
pub fn level(pixels: ArrayView2<f32>, cell: usize, settings: &ContrastSettings) -> Levelled {
    let (mean, spread) = local_statistics(pixels, cell, settings.sigma_px);
    let typical_spread = percentile(&spread, 0.9);
    let floor = (settings.blank_share * typical_spread).max(1e-4);
    let gain = spread.mapv(|s| 1.0 / (s * s + floor * floor).sqrt());
    Levelled { pixels: apply(pixels, cell, &mean, &gain, settings.clip), spread, mean, typical_spread }
}

fn local_statistics(pixels: ArrayView2<f32>, cell: usize, sigma_px: f32) -> (Array2<f32>, Array2<f32>) {
    let (sum, squares, count) = cell_sums(pixels, cell);
    let sigma = sigma_px / cell as f32;
    let (sum, squares, count) = (smooth(&sum, sigma), smooth(&squares, sigma), smooth(&count, sigma));
    let mean = &sum / &count;
    let spread = (&squares / &count - &mean * &mean).mapv(|v| v.max(0.0).sqrt());
    (mean, spread)
}

/// Sum, sum of squares and number of the pixels of each cell.
pub(super) fn cell_sums(pixels: ArrayView2<f32>, cell: usize) -> (Array2<f32>, Array2<f32>, Array2<f32>) {
    let shape = super::grid_shape(pixels.dim(), cell);
    let (rows, columns) = pixels.dim();
    let (mut sum, mut squares) = (Array2::<f32>::zeros(shape), Array2::<f32>::zeros(shape));
    for (r, row) in pixels.rows().into_iter().enumerate() {
        let (mut sums, mut squared) = (sum.row_mut(r / cell), squares.row_mut(r / cell));
        let Some(row) = row.to_slice() else { continue };
        for ((part, s), q) in row.chunks(cell).zip(sums.iter_mut()).zip(squared.iter_mut()) {
            *s += part.iter().sum::<f32>();
            *q += part.iter().map(|v| v * v).sum::<f32>();
        }
    }
    let inside = |i: usize, n: usize| cell.min(n - (i * cell).min(n)) as f32;
    let count = Array2::from_shape_fn(shape, |(r, c)| inside(r, rows) * inside(c, columns));
    (sum, squares, count)
}

fn apply(pixels: ArrayView2<f32>, cell: usize, mean: &Array2<f32>, gain: &Array2<f32>, clip: f32) -> Array2<f32> {
    let (rows, columns) = pixels.dim();
    let mut out = Array2::zeros((rows, columns));
    let node = |i: usize| (i as f32 + 0.5) / cell as f32 - 0.5;
    let last = mean.ncols() - 1;
    // Left node, right node and the share of the right one, the same for every row.
    let between: Vec<(usize, usize, f32)> = (0..columns)
        .map(|c| {
            let x = node(c).clamp(0.0, last as f32);
            let left = x as usize;
            (left, (left + 1).min(last), x - left as f32)
        })
        .collect();
    let mut nodes = vec![(0.0f32, 0.0f32); mean.ncols()];
    for (r, mut target) in out.rows_mut().into_iter().enumerate() {
        let y = node(r);
        for (c, node) in nodes.iter_mut().enumerate() {
            *node = (read_between(mean, y, c as f32), read_between(gain, y, c as f32));
        }
        for ((slot, &v), &(left, right, t)) in target.iter_mut().zip(pixels.row(r)).zip(&between) {
            let (a, b) = (nodes[left], nodes[right]);
            let (m, g) = (a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1));
            *slot = ((v - m) * g).clamp(-clip, clip);
        }
    }
    out
}

/// The value below which `share` of the cells lie.
pub(super) fn percentile(grid: &Array2<f32>, share: f32) -> f32 {
    let mut values: Vec<f32> = grid.iter().copied().filter(|v| v.is_finite()).collect();
    if values.is_empty() {
        return 0.0;
    }
    let at = ((values.len() - 1) as f32 * share) as usize;
    *values.select_nth_unstable_by(at, f32::total_cmp).1
}
