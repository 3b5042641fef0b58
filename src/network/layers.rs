//! The layers of the network: convolutions as matrix products over unrolled windows, and what joins them.

use ndarray::linalg::general_mat_mul;
use ndarray::{Array2, ArrayView2, Axis, Slice, concatenate};

/// Output places that one matrix product covers: so many that an unrolled window fits the processor's cache.
const PLACES_AT_ONCE: usize = 1024;

/// Square maps, one row of `values` for each channel, row by row of the map.
#[derive(Debug, Clone)]
pub(super) struct Maps {
    pub values: Array2<f32>,
    pub side: usize,
}

impl Maps {
    pub fn new(values: Array2<f32>, side: usize) -> Self {
        debug_assert_eq!(values.ncols(), side * side);
        Self { values, side }
    }

    /// These channels, then those of `other` of the same side.
    pub fn beside(&self, other: &Maps) -> Maps {
        debug_assert_eq!(self.side, other.side);
        let values = concatenate(Axis(0), &[self.values.view(), other.values.view()]).unwrap_or_default();
        Maps::new(values, self.side)
    }

    /// Every place as two by two.
    pub fn doubled(&self) -> Maps {
        let side = 2 * self.side;
        let mut values = Array2::zeros((self.values.nrows(), side * side));
        for (from, mut to) in self.values.rows().into_iter().zip(values.rows_mut()) {
            for (i, v) in to.iter_mut().enumerate() {
                *v = from[i / side / 2 * self.side + i % side / 2];
            }
        }
        Maps::new(values, side)
    }
}

/// The shape of a convolution.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    pub inputs: usize,
    pub outputs: usize,
    /// Edge of the window, odd.
    pub window: usize,
    /// Places between two windows.
    pub stride: usize,
}

impl Shape {
    pub const fn numbers(&self) -> usize {
        self.outputs * (self.inputs * self.window * self.window + 1)
    }
}

/// A convolution whose border counts as 0. A layer that takes whole vectors is one with a window of one place.
#[derive(Debug, Clone)]
pub(super) struct Convolution {
    shape: Shape,
    /// A row for each output, in it the inputs, in each its window row by row.
    weights: Array2<f32>,
    bias: Vec<f32>,
}

impl Convolution {
    /// Takes the numbers of a layer off the front of `numbers`.
    pub fn take(numbers: &mut impl Iterator<Item = f32>, shape: Shape) -> Self {
        let columns = shape.inputs * shape.window * shape.window;
        let weights = Array2::from_shape_simple_fn((shape.outputs, columns), || numbers.next().unwrap_or(0.0));
        let bias = numbers.take(shape.outputs).collect();
        Self { shape, weights, bias }
    }

    /// The sums, negative ones kept.
    pub fn sums(&self, input: &Maps) -> Maps {
        debug_assert_eq!(input.values.nrows(), self.shape.inputs);
        let side = input.side.div_ceil(self.shape.stride);
        let mut out = Array2::zeros((self.shape.outputs, side * side));
        for (mut row, bias) in out.rows_mut().into_iter().zip(&self.bias) {
            row.fill(*bias);
        }
        let rows_at_once = (PLACES_AT_ONCE / side).clamp(1, side);
        let mut unrolled = Array2::zeros((self.weights.ncols(), rows_at_once * side));
        for first in (0..side).step_by(rows_at_once) {
            let rows = rows_at_once.min(side - first);
            self.unroll(input, side, first, rows, &mut unrolled);
            let (from, to) = (first * side, (first + rows) * side);
            let windows = unrolled.slice_axis(Axis(1), Slice::from(..rows * side));
            let mut part = out.slice_axis_mut(Axis(1), Slice::from(from..to));
            general_mat_mul(1.0, &self.weights, &windows, 1.0, &mut part);
        }
        Maps::new(out, side)
    }

    /// The sums, negative ones as 0.
    pub fn rectified(&self, input: &Maps) -> Maps {
        let mut out = self.sums(input);
        out.values.mapv_inplace(|v| v.max(0.0));
        out
    }

    /// Writes the windows of some rows of the output as columns.
    fn unroll(&self, input: &Maps, side: usize, first: usize, rows: usize, to: &mut Array2<f32>) {
        let Shape { window, stride, .. } = self.shape;
        let reach = window / 2;
        let source: ArrayView2<f32> = input.values.view();
        for (index, mut line) in to.rows_mut().into_iter().enumerate() {
            let (channel, dy, dx) = (index / (window * window), index / window % window, index % window);
            let channel = source.row(channel);
            let (Some(from), Some(line)) = (channel.as_slice(), line.as_slice_mut()) else { continue };
            for (k, out) in line.chunks_exact_mut(side).take(rows).enumerate() {
                let y = (first + k) * stride + dy;
                if y < reach || y - reach >= input.side {
                    out.fill(0.0);
                    continue;
                }
                let from = &from[(y - reach) * input.side..][..input.side];
                // The output columns whose window lies on the input.
                let start = (reach.saturating_sub(dx)).div_ceil(stride).min(side);
                let end = (input.side + reach - dx).div_ceil(stride).clamp(start, side);
                out[..start].fill(0.0);
                out[end..].fill(0.0);
                let begin = start * stride + dx - reach;
                if stride == 1 {
                    out[start..end].copy_from_slice(&from[begin..begin + end - start]);
                } else {
                    for (o, v) in out[start..end].iter_mut().zip(from[begin..].iter().step_by(stride)) {
                        *o = *v;
                    }
                }
            }
        }
    }
}
