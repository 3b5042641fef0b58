//! Local contrast: every neighbourhood brought to mean 0 and unit spread, so that ink blots do not own the averages.

use super::CELL;
use super::grid::{Along, add_by_cell, smooth};
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

/// Levels the contrast of a print.
pub fn level(pixels: ArrayView2<f32>, settings: &ContrastSettings) -> Levelled {
    let (mean, spread) = local_statistics(pixels, settings.sigma_px);
    let typical_spread = percentile(&spread, 0.9);
    let floor = (settings.blank_share * typical_spread).max(1e-4);
    let gain = spread.mapv(|s| 1.0 / (s * s + floor * floor).sqrt());
    Levelled { pixels: apply(pixels, &mean, &gain, settings.clip), spread, mean, typical_spread }
}

fn local_statistics(pixels: ArrayView2<f32>, sigma_px: f32) -> (Array2<f32>, Array2<f32>) {
    let sigma = sigma_px / CELL as f32;
    let (sum, squares) = (cell_sums(pixels, |v| v), cell_sums(pixels, |v| v * v));
    let (sum, squares, count) =
        (smooth(&sum, sigma), smooth(&squares, sigma), smooth(&cell_pixels(pixels.dim()), sigma));
    let mean = &sum / &count;
    let spread = (&squares / &count - &mean * &mean).mapv(|v| v.max(0.0).sqrt());
    (mean, spread)
}

/// Sum over the pixels of each cell of a number about each.
pub(super) fn cell_sums(pixels: ArrayView2<f32>, number: impl Fn(f32) -> f32) -> Array2<f32> {
    let mut sums = Array2::zeros(super::grid_shape(pixels.dim(), CELL));
    let mut numbers = vec![0.0; pixels.ncols()];
    for (r, row) in pixels.rows().into_iter().enumerate() {
        let mut sums = sums.row_mut(r / CELL);
        let (Some(row), Some(sums)) = (row.to_slice(), sums.as_slice_mut()) else { continue };
        numbers.iter_mut().zip(row).for_each(|(to, v)| *to = number(*v));
        add_by_cell(&numbers, CELL, sums);
    }
    sums
}

/// Number of pixels of each cell of an image with so many rows and columns.
pub(super) fn cell_pixels((rows, columns): (usize, usize)) -> Array2<f32> {
    let inside = |i: usize, n: usize| CELL.min(n - (i * CELL).min(n)) as f32;
    Array2::from_shape_fn(super::grid_shape((rows, columns), CELL), |(r, c)| inside(r, rows) * inside(c, columns))
}

/// Each pixel less the mean there, times the gain there; both are known at the middles of the cells.
fn apply(pixels: ArrayView2<f32>, mean: &Array2<f32>, gain: &Array2<f32>, clip: f32) -> Array2<f32> {
    let mut out = Array2::zeros(pixels.dim());
    // From one middle to the next; before the first and after the last nothing changes.
    let shares: [f32; CELL] = std::array::from_fn(|i| (i as f32 + 0.5) / CELL as f32);
    let levelled = |v: f32, share: f32, mean: &[f32], gain: &[f32]| {
        let (m, g) = (mean[0] + share * (mean[1] - mean[0]), gain[0] + share * (gain[1] - gain[0]));
        ((v - m) * g).clamp(-clip, clip)
    };
    let (mut means, mut gains) = (vec![0.0; mean.ncols() + 1], vec![0.0; mean.ncols() + 1]);
    for (r, mut target) in out.rows_mut().into_iter().enumerate() {
        let (Some(target), Some(source)) = (target.as_slice_mut(), pixels.row(r).to_slice()) else { continue };
        let row = Along::of((r as f32 + 0.5) / CELL as f32 - 0.5, mean.nrows());
        row.read_line(mean, &mut means);
        row.read_line(gain, &mut gains);
        let half = (CELL / 2).min(target.len());
        for (slot, v) in target[..half].iter_mut().zip(source) {
            *slot = levelled(*v, 0.0, &means, &gains);
        }
        let (runs, rest) = target[half..].as_chunks_mut::<CELL>();
        let (values, last) = source[half..].as_chunks::<CELL>();
        for (((run, values), mean), gain) in runs.iter_mut().zip(values).zip(means.windows(2)).zip(gains.windows(2)) {
            for ((slot, v), share) in run.iter_mut().zip(values).zip(shares) {
                *slot = levelled(*v, share, mean, gain);
            }
        }
        for ((slot, v), share) in rest.iter_mut().zip(last).zip(shares) {
            *slot = levelled(*v, share, &means[values.len()..], &gains[values.len()..]);
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
