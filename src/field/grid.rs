//! Small numeric helpers on cell grids: Gaussian smoothing and bilinear reading.

use ndarray::Array2;

/// Gaussian weights out to three standard deviations, normalised to sum 1; index 0 is the centre.
fn gaussian_half_kernel(sigma: f32) -> Vec<f32> {
    let radius = (3.0 * sigma).ceil().max(1.0) as usize;
    let mut half: Vec<f32> = (0..=radius).map(|i| (-0.5 * (i as f32 / sigma).powi(2)).exp()).collect();
    let total = half[0] + 2.0 * half[1..].iter().sum::<f32>();
    half.iter_mut().for_each(|w| *w /= total);
    half
}

/// Smooths a grid with a Gaussian of `sigma` cells. Beyond the border everything counts as 0, so that a grid of
/// weights and a grid of weighted values smoothed alike divide to a correct local mean.
///
/// ```
/// use ndarray::Array2;
/// use recurve::field::grid::smooth;
/// let mut spike = Array2::<f32>::zeros((41, 41));
/// spike[[20, 20]] = 1.0;
/// let spread = smooth(&spike, 3.0);
/// assert!((spread.sum() - 1.0).abs() < 1e-3);
/// assert_eq!(spread[[20, 17]], spread[[20, 23]]);
/// ```
pub fn smooth(grid: &Array2<f32>, sigma: f32) -> Array2<f32> {
    if sigma < 0.2 {
        return grid.clone();
    }
    let half = gaussian_half_kernel(sigma);
    let across = smooth_along_rows(grid, &half);
    smooth_along_columns(&across, &half)
}

fn smooth_along_rows(grid: &Array2<f32>, half: &[f32]) -> Array2<f32> {
    let (rows, columns) = grid.dim();
    let radius = half.len() - 1;
    let mut out = Array2::zeros((rows, columns));
    let mut padded = vec![0.0f32; columns + 2 * radius];
    for (row, mut target) in grid.rows().into_iter().zip(out.rows_mut()) {
        for (slot, &value) in padded[radius..].iter_mut().zip(row) {
            *slot = value;
        }
        let Some(target) = target.as_slice_mut() else { continue };
        accumulate(target, half[0], &padded[radius..]);
        for (i, &w) in half.iter().enumerate().skip(1) {
            accumulate(target, w, &padded[radius - i..]);
            accumulate(target, w, &padded[radius + i..]);
        }
    }
    out
}

fn smooth_along_columns(grid: &Array2<f32>, half: &[f32]) -> Array2<f32> {
    let rows = grid.nrows();
    let mut out = Array2::zeros(grid.dim());
    for (r, mut target) in out.rows_mut().into_iter().enumerate() {
        let Some(target) = target.as_slice_mut() else { continue };
        for (i, &w) in half.iter().enumerate() {
            let above = r.checked_sub(i);
            let below = (i > 0 && r + i < rows).then_some(r + i);
            for source in above.into_iter().chain(below) {
                if let Some(source) = grid.row(source).as_slice() {
                    accumulate(target, w, source);
                }
            }
        }
    }
    out
}

fn accumulate(target: &mut [f32], weight: f32, source: &[f32]) {
    for (t, s) in target.iter_mut().zip(source) {
        *t += weight * s;
    }
}

/// Reads a grid between its nodes (bilinear; the border values continue outward). `row` and `column` count nodes.
pub fn read_between(grid: &Array2<f32>, row: f32, column: f32) -> f32 {
    let (rows, columns) = grid.dim();
    let row = row.clamp(0.0, (rows - 1) as f32);
    let column = column.clamp(0.0, (columns - 1) as f32);
    let (r, c) = (row as usize, column as usize);
    let (r2, c2) = ((r + 1).min(rows - 1), (c + 1).min(columns - 1));
    let (fr, fc) = (row - r as f32, column - c as f32);
    let top = grid[[r, c]] * (1.0 - fc) + grid[[r, c2]] * fc;
    let bottom = grid[[r2, c]] * (1.0 - fc) + grid[[r2, c2]] * fc;
    top * (1.0 - fr) + bottom * fr
}

/// Resamples a grid onto another: output node `i` reads input node `i * step + offset`, along both axes.
pub fn resample(grid: &Array2<f32>, shape: (usize, usize), step: f32, offset: f32) -> Array2<f32> {
    Array2::from_shape_fn(shape, |(r, c)| read_between(grid, r as f32 * step + offset, c as f32 * step + offset))
}
