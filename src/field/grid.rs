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
    let radius = half.len() - 1;
    let (rows, columns) = grid.dim();
    // Smoothed along the rows; each row is filled up to whole lanes.
    let width = columns.next_multiple_of(LANES);
    let mut across = vec![0.0; rows * width];
    let mut padded = vec![0.0; width + 2 * radius];
    for (row, line) in grid.rows().into_iter().zip(across.chunks_exact_mut(width.max(1))) {
        padded[radius..].iter_mut().zip(row).for_each(|(slot, value)| *slot = *value);
        for (first, out) in (0..).step_by(LANES).zip(line.chunks_exact_mut(LANES)) {
            let mut sums = [0.0; LANES];
            accumulate(&mut sums, half[0], &padded[first + radius..]);
            for (i, &w) in half.iter().enumerate().skip(1) {
                accumulate(&mut sums, w, &padded[first + radius - i..]);
                accumulate(&mut sums, w, &padded[first + radius + i..]);
            }
            out.copy_from_slice(&sums);
        }
    }
    let mut smoothed = Array2::zeros((rows, columns));
    for (r, mut target) in smoothed.rows_mut().into_iter().enumerate() {
        let Some(target) = target.as_slice_mut() else { continue };
        for (first, out) in (0..).step_by(LANES).zip(target.chunks_mut(LANES)) {
            let mut sums = [0.0; LANES];
            for (i, &w) in half.iter().enumerate() {
                if i <= r {
                    accumulate(&mut sums, w, &across[(r - i) * width + first..]);
                }
                if i > 0 && r + i < rows {
                    accumulate(&mut sums, w, &across[(r + i) * width + first..]);
                }
            }
            out.copy_from_slice(&sums[..out.len()]);
        }
    }
    smoothed
}

/// Sums that grow side by side: few enough for a processor's registers.
const LANES: usize = 16;

fn accumulate(sums: &mut [f32; LANES], weight: f32, source: &[f32]) {
    for (sum, value) in sums.iter_mut().zip(&source[..LANES]) {
        *sum += weight * value;
    }
}

/// A place between the nodes of grids of one size (bilinear; the border values continue outward).
#[derive(Debug, Clone, Copy)]
pub struct Between {
    row: Along,
    column: Along,
}

/// A place between two nodes of a row or column.
#[derive(Debug, Clone, Copy)]
pub(super) struct Along {
    first: usize,
    second: usize,
    /// Share of the second node.
    share: f32,
}

impl Along {
    pub fn of(at: f32, nodes: usize) -> Self {
        let at = at.clamp(0.0, (nodes - 1) as f32);
        let first = at as usize;
        Self { first, second: (first + 1).min(nodes - 1), share: at - first as f32 }
    }

    /// Reads a grid along the line between two rows, at every column; what is left of `to` repeats the last.
    pub fn read_line(&self, grid: &Array2<f32>, to: &mut [f32]) {
        let [above, below] = [self.first, self.second].map(|r| grid.row(r));
        let (Some(above), Some(below)) = (above.to_slice(), below.to_slice()) else { return };
        let (read, rest) = to.split_at_mut(above.len());
        for ((to, a), b) in read.iter_mut().zip(above).zip(below) {
            *to = a * (1.0 - self.share) + b * self.share;
        }
        rest.fill(read.last().copied().unwrap_or(0.0));
    }
}

impl Between {
    /// The place at `row` and `column`, which count nodes, of grids with so many rows and columns.
    pub fn of(row: f32, column: f32, (rows, columns): (usize, usize)) -> Self {
        Self { row: Along::of(row, rows), column: Along::of(column, columns) }
    }

    /// Reads a grid there.
    pub fn read(&self, grid: &Array2<f32>) -> f32 {
        let Self { row, column } = self;
        let read = |r: usize| grid[[r, column.first]] * (1.0 - column.share) + grid[[r, column.second]] * column.share;
        read(row.first) * (1.0 - row.share) + read(row.second) * row.share
    }
}

/// Reads a grid between its nodes (bilinear; the border values continue outward). `row` and `column` count nodes.
pub fn read_between(grid: &Array2<f32>, row: f32, column: f32) -> f32 {
    Between::of(row, column, grid.dim()).read(grid)
}

/// Adds to the sum of each cell the numbers of its part of a row of pixels.
pub(super) fn add_by_cell(line: &[f32], cell: usize, sums: &mut [f32]) {
    for (sum, part) in sums.iter_mut().zip(line.chunks(cell)) {
        // Cells of four have their own way, which needs no loop.
        *sum += if let [a, b, c, d] = part { a + b + c + d } else { part.iter().sum() };
    }
}

/// Reads a grid between its nodes at every crossing of these rows and columns, row by row.
pub fn read_crossings(grid: &Array2<f32>, rows: &[f32], columns: &[f32]) -> Vec<f32> {
    let columns: Vec<Along> = columns.iter().map(|c| Along::of(*c, grid.ncols())).collect();
    let mut read = Vec::with_capacity(rows.len() * columns.len());
    for row in rows {
        let row = Along::of(*row, grid.nrows());
        read.extend(columns.iter().map(|column| Between { row, column: *column }.read(grid)));
    }
    read
}

/// Length of a vector: what `hypot` gives, without a call of it.
pub(super) fn length(x: f32, y: f32) -> f32 {
    (f64::from(x) * f64::from(x) + f64::from(y) * f64::from(y)).sqrt() as f32
}

/// Resamples a grid onto another: output node `i` reads input node `i * step + offset`, along both axes.
pub fn resample(grid: &Array2<f32>, shape: (usize, usize), step: f32, offset: f32) -> Array2<f32> {
    Array2::from_shape_fn(shape, |(r, c)| read_between(grid, r as f32 * step + offset, c as f32 * step + offset))
}
