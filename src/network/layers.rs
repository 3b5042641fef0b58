//! The layers of the network: convolutions as matrix products over unrolled windows, and what joins them.

use ndarray::linalg::general_mat_mul;
use ndarray::{Array2, ArrayView2, Axis, CowArray, Ix2, Slice, concatenate};

/// Output places that one matrix product covers: so many that their unrolled windows stay in the processor's cache.
const PLACES_AT_ONCE: usize = 512;
/// Numbers by which a row of unrolled windows is longer than it must be: rows whose length is a power of two share few lines of the cache.
const APART: usize = 16;

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
            let (Some(from), Some(to)) = (from.as_slice(), to.as_slice_mut()) else { continue };
            for (y, line) in to.chunks_exact_mut(columns).enumerate() {
                for (pair, v) in line.chunks_exact_mut(2).zip(&from[y / 2 * self.size.1..]) {
                    pair.fill(*v);
                }
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
    /// A row for each output, in it the inputs, in each its window row by row. They lie in memory column by column, as the matrix product
    /// takes them up fastest.
    weights: Array2<f32>,
    bias: Vec<f32>,
}

impl Convolution {
    /// Takes the numbers of a layer off the front of `numbers`.
    pub fn take(numbers: &mut impl Iterator<Item = f32>, shape: Shape) -> Self {
        let columns = shape.inputs * shape.window * shape.window;
        let by_output = Array2::from_shape_simple_fn((shape.outputs, columns), || numbers.next().unwrap_or(0.0));
        let weights = by_output.t().as_standard_layout().into_owned().reversed_axes();
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
        let mut unrolled = Array2::zeros((self.weights.ncols(), rows_at_once * width + APART));
        let grouped = grouped(input, self.shape.stride);
        for first in (0..height).step_by(rows_at_once) {
            let rows = rows_at_once.min(height - first);
            self.unroll((grouped.view(), input.size), width, first, rows, &mut unrolled);
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

    /// Writes the windows of some rows of the output, `width` places each, as columns. `source` is [`grouped`] maps of so many rows and
    /// columns.
    fn unroll(
        &self,
        (source, (input_rows, input_columns)): (ArrayView2<f32>, (usize, usize)),
        width: usize,
        first: usize,
        rows: usize,
        to: &mut Array2<f32>,
    ) {
        let Shape { window, stride, .. } = self.shape;
        let reach = window / 2;
        for (index, mut line) in to.rows_mut().into_iter().enumerate() {
            let (channel, dy, dx) = (index / (window * window), index / window % window, index % window);
            let channel = source.row(channel);
            let (Some(from), Some(line)) = (channel.as_slice(), line.as_slice_mut()) else { continue };
            // The output columns whose window lies on the input, and where the first of them reads.
            let start = (reach.saturating_sub(dx)).div_ceil(stride).min(width);
            let end = (input_columns + reach - dx).div_ceil(stride).clamp(start, width);
            let begin = start * stride + dx - reach;
            let begin = begin % stride * width + begin / stride;
            for (k, out) in line.chunks_exact_mut(width).take(rows).enumerate() {
                let y = (first + k) * stride + dy;
                if y < reach || y - reach >= input_rows {
                    out.fill(0.0);
                    continue;
                }
                let from = &from[(y - reach) * stride * width + begin..];
                out[..start].fill(0.0);
                out[start..end].copy_from_slice(&from[..end - start]);
                out[end..].fill(0.0);
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

/// Maps whose columns are grouped by their remainder, row by row, so that what the windows of a row read at one place of theirs lies side by
/// side: a group is as long as a row of the output.
fn grouped(input: &Maps, stride: usize) -> CowArray<'_, f32, Ix2> {
    if stride == 1 {
        return input.values.view().into();
    }
    let (rows, columns) = input.size;
    let width = columns.div_ceil(stride);
    let mut grouped = Array2::zeros((input.values.nrows(), rows * stride * width));
    for (from, mut to) in input.values.rows().into_iter().zip(grouped.rows_mut()) {
        let (Some(from), Some(to)) = (from.as_slice(), to.as_slice_mut()) else { continue };
        for (from, to) in from.chunks_exact(columns).zip(to.chunks_exact_mut(stride * width)) {
            for (remainder, group) in to.chunks_exact_mut(width).enumerate() {
                for (to, v) in group.iter_mut().zip(from[remainder..].iter().step_by(stride)) {
                    *to = *v;
                }
            }
        }
    }
    grouped.into()
}
