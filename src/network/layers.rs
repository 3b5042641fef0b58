//! The layers of the network: convolutions as matrix products over unrolled windows, and what joins them.

use ndarray::linalg::general_mat_mul;
use ndarray::{Array2, ArrayView2, Axis, Slice, concatenate};

/// Output places that one matrix product covers: so many that an unrolled window fits the processor's cache.
const PLACES_AT_ONCE: usize = 1024;

/// Maps of equal size, one row of `values` for each channel, row by row of the map.
#[derive(Debug, Clone)]
pub(super) struct Maps {
    pub values: Array2<f32>,
    /// Rows and columns of a map.
    pub size: (usize, usize),
}

impl Maps {
    pub fn new(values: Array2<f32>, size: (usize, usize)) -> Self {
        debug_assert_eq!(values.ncols(), size.0 * size.1);
        Self { values, size }
    }

    /// Maps from all their values, channel by channel.
    pub fn of(values: Vec<f32>, size: (usize, usize)) -> Self {
        let channels = values.len() / (size.0 * size.1).max(1);
        Self::new(Array2::from_shape_vec((channels, size.0 * size.1), values).unwrap_or_default(), size)
    }

    /// Every value as a channel of one place.
    pub fn whole(self) -> Self {
        Self::of(self.values.into_raw_vec_and_offset().0, (1, 1))
    }

    /// Every map as one row, the mean of its rows.
    pub fn mean_of_rows(&self) -> Maps {
        let (rows, columns) = self.size;
        let mut values = Array2::zeros((self.values.nrows(), columns));
        for (from, mut to) in self.values.rows().into_iter().zip(values.rows_mut()) {
            for (i, v) in from.iter().enumerate() {
                to[i % columns] += v / rows as f32;
            }
        }
        Maps::new(values, (1, columns))
    }

    /// These channels, then those of `other` of the same size.
    pub fn beside(&self, other: &Maps) -> Maps {
        debug_assert_eq!(self.size, other.size);
        let values = concatenate(Axis(0), &[self.values.view(), other.values.view()]).unwrap_or_default();
        Maps::new(values, self.size)
    }

    /// The sums with `other` of the same channels and size.
    pub fn plus(mut self, other: &Maps) -> Maps {
        debug_assert_eq!(self.values.dim(), other.values.dim());
        self.values += &other.values;
        self
    }

    /// Every place as two by two.
    pub fn doubled(&self) -> Maps {
        let (rows, columns) = (2 * self.size.0, 2 * self.size.1);
        let mut values = Array2::zeros((self.values.nrows(), rows * columns));
        for (from, mut to) in self.values.rows().into_iter().zip(values.rows_mut()) {
            for (i, v) in to.iter_mut().enumerate() {
                *v = from[i / columns / 2 * self.size.1 + i % columns / 2];
            }
        }
        Maps::new(values, (rows, columns))
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
        let size = (input.size.0.div_ceil(self.shape.stride), input.size.1.div_ceil(self.shape.stride));
        let (height, width) = size;
        let mut out = Array2::zeros((self.shape.outputs, height * width));
        for (mut row, bias) in out.rows_mut().into_iter().zip(&self.bias) {
            row.fill(*bias);
        }
        let rows_at_once = (PLACES_AT_ONCE / width).clamp(1, height);
        let mut unrolled = Array2::zeros((self.weights.ncols(), rows_at_once * width));
        for first in (0..height).step_by(rows_at_once) {
            let rows = rows_at_once.min(height - first);
            self.unroll(input, width, first, rows, &mut unrolled);
            let (from, to) = (first * width, (first + rows) * width);
            let windows = unrolled.slice_axis(Axis(1), Slice::from(..rows * width));
            let mut part = out.slice_axis_mut(Axis(1), Slice::from(from..to));
            general_mat_mul(1.0, &self.weights, &windows, 1.0, &mut part);
        }
        Maps::new(out, size)
    }

    /// The sums, negative ones as 0.
    pub fn rectified(&self, input: &Maps) -> Maps {
        let mut out = self.sums(input);
        out.values.mapv_inplace(|v| v.max(0.0));
        out
    }

    /// Writes the windows of some rows of the output, `width` places each, as columns.
    fn unroll(&self, input: &Maps, width: usize, first: usize, rows: usize, to: &mut Array2<f32>) {
        let Shape { window, stride, .. } = self.shape;
        let reach = window / 2;
        let (input_rows, input_columns) = input.size;
        let source: ArrayView2<f32> = input.values.view();
        for (index, mut line) in to.rows_mut().into_iter().enumerate() {
            let (channel, dy, dx) = (index / (window * window), index / window % window, index % window);
            let channel = source.row(channel);
            let (Some(from), Some(line)) = (channel.as_slice(), line.as_slice_mut()) else { continue };
            for (k, out) in line.chunks_exact_mut(width).take(rows).enumerate() {
                let y = (first + k) * stride + dy;
                if y < reach || y - reach >= input_rows {
                    out.fill(0.0);
                    continue;
                }
                let from = &from[(y - reach) * input_columns..][..input_columns];
                // The output columns whose window lies on the input.
                let start = (reach.saturating_sub(dx)).div_ceil(stride).min(width);
                let end = (input_columns + reach - dx).div_ceil(stride).clamp(start, width);
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

/// The next coarser scale: one layer leads there, two more add to what it gives (He and others 2016: a residual block).
pub(super) fn deepened([down, first, second]: [&Convolution; 3], input: &Maps) -> Maps {
    let coarser = down.rectified(input);
    let added = second.rectified(&first.rectified(&coarser));
    coarser.plus(&added)
}
