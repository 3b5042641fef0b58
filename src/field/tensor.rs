//! Ridge orientation from the structure tensor.
//!
//! Squared image gradients, averaged as a doubled angle, point across the ridges (Kass and Witkin 1987; Bigun and
//! Granlund 1987). Here they are summed over small cells once; every scale is then a smoothing of the cells.

use super::grid::smooth;
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
            tensor.add_row(r / cell, cell, [above, here, below]);
        }
        tensor
    }

    fn add_row(&mut self, row: usize, cell: usize, [above, here, below]: [&[f32]; 3]) {
        let columns = here.len();
        for c in 0..self.cos2.ncols() {
            let (mut cos2, mut sin2, mut energy) = (0.0, 0.0, 0.0);
            for x in (c * cell).max(1)..((c + 1) * cell).min(columns - 1) {
                let f = here[x];
                let gx = 0.5 * (here[x + 1] - here[x - 1]);
                let gy = 0.5 * (below[x] - above[x]);
                let gxx = here[x + 1] - 2.0 * f + here[x - 1];
                let gyy = below[x] - 2.0 * f + above[x];
                let gxy = 0.25 * (below[x + 1] - below[x - 1] - above[x + 1] + above[x - 1]);
                cos2 += (gy * gy - f * gyy) - (gx * gx - f * gxx);
                sin2 += 2.0 * (gx * gy - f * gxy);
                energy += gx * gx + gy * gy - f * (gxx + gyy);
            }
            self.cos2[[row, c]] += cos2;
            self.sin2[[row, c]] += sin2;
            self.energy[[row, c]] += energy;
        }
    }

    /// The tensor averaged with a Gaussian of `sigma` cells.
    pub fn smoothed(&self, sigma: f32) -> Self {
        Self { cos2: smooth(&self.cos2, sigma), sin2: smooth(&self.sin2, sigma), energy: smooth(&self.energy, sigma) }
    }
}

/// One image row smoothed by the binomial 1 4 6 4 1 along both axes; `down` is scratch, four longer than a row.
fn smooth_row(pixels: ArrayView2<f32>, row: usize, down: &mut [f32], out: &mut [f32]) {
    const TAPS: [f32; 5] = [1.0 / 16.0, 4.0 / 16.0, 6.0 / 16.0, 4.0 / 16.0, 1.0 / 16.0];
    let (rows, columns) = pixels.dim();
    down.fill(0.0);
    for (k, tap) in TAPS.iter().enumerate() {
        let source = (row + k).saturating_sub(2).min(rows - 1);
        let Some(source) = pixels.row(source).to_slice() else { continue };
        for (slot, value) in down[2..].iter_mut().zip(source) {
            *slot += tap * value;
        }
    }
    (down[0], down[1]) = (down[2], down[2]);
    (down[columns + 2], down[columns + 3]) = (down[columns + 1], down[columns + 1]);
    out.fill(0.0);
    for (k, tap) in TAPS.iter().enumerate() {
        for (slot, value) in out.iter_mut().zip(&down[k..]) {
            *slot += tap * value;
        }
    }
}
