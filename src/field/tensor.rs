//! Ridge orientation from the structure tensor.
//!
//! Squared image gradients, averaged as a doubled angle, point across the ridges (Kass and Witkin 1987; Bigun and
//! Granlund 1987). Here they are summed over small cells once; every scale is then a smoothing of the cells.

use super::grid::{add_by_cell, smooth};
use ndarray::{Array2, ArrayView2};

/// Structure tensor summed over cells, in the doubled angle of the *ridge* (not of the gradient).
#[derive(Debug, Clone)]
pub struct Tensor {
    /// Sum of squared gradients times cosine of twice the ridge orientation.
    pub cos2: Array2<f32>,
    /// The same with the sine.
    pub sin2: Array2<f32>,
    /// Sum of squared gradients.
    pub energy: Array2<f32>,
}

/// Sums the tensor over cells of `cell` pixels.
///
/// The gradient is the central difference of the image smoothed by a binomial of five taps (standard deviation 1 px).
///
/// ```
/// use ndarray::Array2;
/// use recurve::field::tensor::Tensor;
/// // Ridges that run straight up: the grey changes from left to right only.
/// let upright = Array2::from_shape_fn((64, 64), |(_, c)| (c as f32 * 0.7).sin());
/// let tensor = Tensor::of(upright.view(), 8);
/// assert!(tensor.cos2[[4, 4]] / tensor.energy[[4, 4]] < -0.99); // twice 90 degrees
/// ```
impl Tensor {
    /// See [`Tensor`].
    pub fn of(pixels: ArrayView2<f32>, cell: usize) -> Self {
        Self::of_part(pixels, cell, |_| true)
    }

    /// As [`Tensor::of`], but only of the cell rows for which `wanted` says so; the others stay 0.
    pub fn of_part(pixels: ArrayView2<f32>, cell: usize, wanted: impl Fn(usize) -> bool) -> Self {
        let (rows, columns) = pixels.dim();
        let shape = super::grid_shape((rows, columns), cell);
        let mut tensor = Self { cos2: Array2::zeros(shape), sin2: Array2::zeros(shape), energy: Array2::zeros(shape) };
        if rows < 3 || columns < 3 {
            return tensor;
        }
        // Rows already smoothed, kept for the next ones.
        let mut window: [Vec<f32>; 3] = std::array::from_fn(|_| vec![0.0; columns]);
        let mut down = vec![0.0; columns + 4];
        let mut terms: [Vec<f32>; 3] = std::array::from_fn(|_| vec![0.0; columns]);
        let mut ready = [usize::MAX; 3];
        for r in (1..rows - 1).filter(|r| wanted(r / cell)) {
            for k in 0..3 {
                let row = r - 1 + k;
                // Row `row` lives in slot `row % 3`.
                if ready[row % 3] != row {
                    smooth_row(pixels, row, &mut down, &mut window[row % 3]);
                    ready[row % 3] = row;
                }
            }
            let [above, here, below] = [r - 1, r, r + 1].map(|row| window[row % 3].as_slice());
            tensor_terms([above, here, below], &mut terms);
            for (terms, sums) in terms.iter().zip([&mut tensor.cos2, &mut tensor.sin2, &mut tensor.energy]) {
                if let Some(sums) = sums.row_mut(r / cell).as_slice_mut() {
                    add_by_cell(terms, cell, sums);
                }
            }
        }
        tensor
    }

    /// The tensor averaged with a Gaussian of `sigma` cells.
    pub fn smoothed(&self, sigma: f32) -> Self {
        Self { cos2: smooth(&self.cos2, sigma), sin2: smooth(&self.sin2, sigma), energy: smooth(&self.energy, sigma) }
    }
}

/// What each pixel of a row but the first and the last adds to the tensor.
fn tensor_terms([above, here, below]: [&[f32]; 3], [cos2, sin2, energy]: &mut [Vec<f32>; 3]) {
    let inner = here.len() - 2;
    // Left, in the middle and right of each pixel.
    let [[al, a, ar], [l, f, r], [bl, b, br]] =
        [above, here, below].map(|line| [&line[..inner], &line[1..][..inner], &line[2..][..inner]]);
    let (cos2, sin2, energy) = (&mut cos2[1..][..inner], &mut sin2[1..][..inner], &mut energy[1..][..inner]);
    for x in 0..inner {
        let f = f[x];
        let gx = 0.5 * (r[x] - l[x]);
        let gy = 0.5 * (b[x] - a[x]);
        let gxx = r[x] - 2.0 * f + l[x];
        let gyy = b[x] - 2.0 * f + a[x];
        let gxy = 0.25 * (br[x] - bl[x] - ar[x] + al[x]);
        cos2[x] = (gy * gy - f * gyy) - (gx * gx - f * gxx);
        sin2[x] = 2.0 * (gx * gy - f * gxy);
        energy[x] = gx * gx + gy * gy - f * (gxx + gyy);
    }
}

const TAPS: [f32; 5] = [1.0 / 16.0, 4.0 / 16.0, 6.0 / 16.0, 4.0 / 16.0, 1.0 / 16.0];

/// One image row smoothed by the binomial 1 4 6 4 1 along both axes; `down` is scratch, four longer than a row.
fn smooth_row(pixels: ArrayView2<f32>, row: usize, down: &mut [f32], out: &mut [f32]) {
    let (rows, columns) = pixels.dim();
    let sources: [_; 5] = std::array::from_fn(|k| pixels.row((row + k).saturating_sub(2).min(rows - 1)).to_slice());
    let [Some(a), Some(b), Some(c), Some(d), Some(e)] = sources else { return };
    weighted([a, b, c, d, e], &mut down[2..columns + 2]);
    (down[0], down[1]) = (down[2], down[2]);
    (down[columns + 2], down[columns + 3]) = (down[columns + 1], down[columns + 1]);
    weighted(std::array::from_fn(|k| &down[k..]), out);
}

/// The sums of five lines, each with its weight.
fn weighted(lines: [&[f32]; 5], out: &mut [f32]) {
    let n = out.len();
    let [a, b, c, d, e] = lines.map(|line| &line[..n]);
    for i in 0..n {
        out[i] = TAPS[0] * a[i] + TAPS[1] * b[i] + TAPS[2] * c[i] + TAPS[3] * d[i] + TAPS[4] * e[i];
    }
}
