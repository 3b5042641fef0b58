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
    let shape = super::grid_shape(pixels.dim(), cell);
    let (mut sum, mut squares, mut count) =
        (Array2::<f32>::zeros(shape), Array2::<f32>::zeros(shape), Array2::<f32>::zeros(shape));
    for (r, row) in pixels.rows().into_iter().enumerate() {
        for (c, &v) in row.iter().enumerate() {
            let at = [r / cell, c / cell];
            sum[at] += v;
            squares[at] += v * v;
            count[at] += 1.0;
        }
    }
    let sigma = sigma_px / cell as f32;
    let (sum, squares, count) = (smooth(&sum, sigma), smooth(&squares, sigma), smooth(&count, sigma));
    let mean = &sum / &count;
    let spread = (&squares / &count - &mean * &mean).mapv(|v| v.max(0.0).sqrt());
    (mean, spread)
}

fn apply(pixels: ArrayView2<f32>, cell: usize, mean: &Array2<f32>, gain: &Array2<f32>, clip: f32) -> Array2<f32> {
    let (rows, columns) = pixels.dim();
    let mut out = Array2::zeros((rows, columns));
    let node = |i: usize| (i as f32 + 0.5) / cell as f32 - 0.5;
    let mut mean_row = vec![0.0f32; mean.ncols()];
    let mut gain_row = vec![0.0f32; mean.ncols()];
    for r in 0..rows {
        let y = node(r);
        for c in 0..mean.ncols() {
            mean_row[c] = read_between(mean, y, c as f32);
            gain_row[c] = read_between(gain, y, c as f32);
        }
        for c in 0..columns {
            let x = node(c).clamp(0.0, (mean.ncols() - 1) as f32);
            let (left, t) = (x as usize, x.fract());
            let right = (left + 1).min(mean.ncols() - 1);
            let m = mean_row[left] + t * (mean_row[right] - mean_row[left]);
            let g = gain_row[left] + t * (gain_row[right] - gain_row[left]);
            out[[r, c]] = ((pixels[[r, c]] - m) * g).clamp(-clip, clip);
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
