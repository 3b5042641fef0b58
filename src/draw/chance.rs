//! Chance that is the same on every machine: seeded draws, smooth random fields and the few functions behind them.
//!
//! The standard library's transcendental functions differ in the last digit from system to system; the ones used for
//! drawing come from the `libm` crate, so that a seed gives the same print everywhere.

use ndarray::Array2;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Cosine, the same on every machine.
pub(super) fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// Sine and cosine, the same on every machine.
pub(super) fn sin_cos(x: f64) -> (f64, f64) {
    libm::sincos(x)
}

/// Angle of a vector, the same on every machine.
pub(super) fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// Natural exponential, the same on every machine.
pub(super) fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// Natural logarithm, the same on every machine.
pub(super) fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// A bell of height 1 and standard deviation 1, cut to zero beyond four deviations.
pub(super) fn bell(squared_distance: f64) -> f64 {
    if squared_distance > 16.0 { 0.0 } else { exp(-0.5 * squared_distance) }
}

/// 0 below `low`, 1 above `high`, smooth in between.
pub(super) fn smooth_step(low: f32, high: f32, x: f32) -> f32 {
    let t = ((x - low) / (high - low)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A seeded source of chance.
pub(super) struct Dice(ChaCha8Rng);

impl Dice {
    /// Independent streams of one seed are told apart by `stream`, so that a change in one step of drawing leaves the
    /// others as they were.
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut source = ChaCha8Rng::seed_from_u64(seed);
        source.set_stream(stream);
        Self(source)
    }

    /// Evenly between `low` and `high`.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Evenly within a range given as `[low, high]`.
    pub fn within(&mut self, range: [f64; 2]) -> f64 {
        self.between(range[0], range[1])
    }

    /// Normally distributed (sum of twelve even draws, so never beyond six deviations).
    pub fn normal(&mut self, mean: f64, deviation: f64) -> f64 {
        let sum: f64 = (0..12).map(|_| self.0.random::<f64>()).sum();
        mean + deviation * (sum - 6.0)
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// Plus or minus one.
    pub fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    /// A whole number from `low` to `high`, both included.
    pub fn whole(&mut self, low: i64, high: i64) -> i64 {
        self.0.random_range(low..=high)
    }

    /// An index drawn by weights that need not sum to one.
    pub fn weighted(&mut self, weights: &[f64]) -> usize {
        let mut left = self.between(0.0, weights.iter().sum());
        for (index, weight) in weights.iter().enumerate() {
            left -= weight;
            if left < 0.0 {
                return index;
            }
        }
        weights.len().saturating_sub(1)
    }

    /// White noise of mean 0 and deviation about 1, one value a pixel (triangular: cheap and bounded).
    pub fn white(&mut self, count: usize) -> Vec<f32> {
        const SCALE: f32 = 2.449_49 / 65_536.0; // the sum of two even 16-bit draws has deviation 65536 / sqrt(6)
        (0..count)
            .map(|_| {
                let bits: u32 = self.0.random();
                ((bits & 0xffff) as f32 + (bits >> 16) as f32 - 65_535.0) * SCALE
            })
            .collect()
    }

    /// A seed for a part that is drawn on its own.
    pub fn seed(&mut self) -> u64 {
        self.0.random()
    }
}

/// A smooth random field of mean 0 and deviation about 1: random values on a lattice, joined by cubic B-splines.
#[derive(Debug, Clone)]
pub(super) struct SmoothField {
    lattice: Array2<f64>,
    spacing: f64,
    left: f64,
    top: f64,
}

/// Weights of the four lattice values around a place, and their slopes, for a cubic B-spline.
fn spline(t: f64) -> ([f64; 4], [f64; 4]) {
    let u = 1.0 - t;
    (
        [
            u * u * u / 6.0,
            (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0,
            (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
            t * t * t / 6.0,
        ],
        [-u * u / 2.0, (9.0 * t * t - 12.0 * t) / 6.0, (12.0 * u - 9.0 * u * u) / 6.0, t * t / 2.0],
    )
}

impl SmoothField {
    /// A spline through white lattice values has a deviation of about 0.48 times theirs.
    const LATTICE_DEVIATION: f64 = 1.0 / 0.48;

    /// A field over the box from (`left`, `top`) of the given size, whose values lose their likeness over about
    /// `spacing` units.
    pub fn new(dice: &mut Dice, left: f64, top: f64, width: f64, height: f64, spacing: f64) -> Self {
        let count = |length: f64| (length / spacing).max(0.0) as usize + 5;
        let lattice =
            Array2::from_shape_simple_fn((count(height), count(width)), || dice.normal(0.0, Self::LATTICE_DEVIATION));
        Self { lattice, spacing, left: left - spacing, top: top - spacing }
    }

    /// Value and slope (per unit right, per unit down) at a place; places outside take the nearest value inside.
    pub fn value_and_slope(&self, x: f64, y: f64) -> (f64, f64, f64) {
        let locate = |v: f64, from: f64, count: usize| {
            let u = ((v - from) / self.spacing).clamp(1.0, (count - 3) as f64 + 0.999_999);
            (u as usize, u - (u as usize) as f64)
        };
        let (rows, columns) = self.lattice.dim();
        let (column, tx) = locate(x, self.left, columns);
        let (row, ty) = locate(y, self.top, rows);
        let ((wx, sx), (wy, sy)) = (spline(tx), spline(ty));
        let (mut value, mut right, mut down) = (0.0, 0.0, 0.0);
        for j in 0..4 {
            let (mut line, mut line_slope) = (0.0, 0.0);
            for i in 0..4 {
                let v = self.lattice[[(row + j).min(rows) - 1, (column + i).min(columns) - 1]];
                line += wx[i] * v;
                line_slope += sx[i] * v;
            }
            value += wy[j] * line;
            right += wy[j] * line_slope;
            down += sy[j] * line;
        }
        (value, right / self.spacing, down / self.spacing)
    }

    /// Value at a place.
    pub fn at(&self, x: f64, y: f64) -> f64 {
        self.value_and_slope(x, y).0
    }
}

/// Values known on a coarse grid and read between its nodes by straight interpolation: slow things evaluated once.
#[derive(Debug, Clone)]
pub(super) struct CoarseGrid<const N: usize> {
    values: Vec<[f32; N]>,
    rows: usize,
    columns: usize,
    per_unit: f64,
    left: f64,
    top: f64,
}

impl<const N: usize> CoarseGrid<N> {
    /// Evaluates `f(x, y)` on nodes `step` apart that cover the box.
    pub fn new(left: f64, top: f64, width: f64, height: f64, step: f64, f: impl Fn(f64, f64) -> [f32; N]) -> Self {
        let count = |length: f64| (length / step).max(0.0) as usize + 2;
        let (rows, columns) = (count(height), count(width));
        let values = (0..rows * columns)
            .map(|i| f(left + (i % columns) as f64 * step, top + (i / columns) as f64 * step))
            .collect();
        Self { values, rows, columns, per_unit: 1.0 / step, left, top }
    }

    /// White noise of deviation 1 on nodes `step` apart.
    pub fn noise(dice: &mut Dice, width: f64, height: f64, step: f64) -> Self {
        let count = |length: f64| (length / step).max(0.0) as usize + 2;
        let (rows, columns) = (count(height), count(width));
        let white = dice.white(rows * columns * N);
        let values = white.chunks_exact(N).map(|v| std::array::from_fn(|k| v[k])).collect();
        Self { values, rows, columns, per_unit: 1.0 / step, left: 0.0, top: 0.0 }
    }

    /// Values at a place; places outside take the nearest values inside.
    pub fn at(&self, x: f64, y: f64) -> [f32; N] {
        let u = ((x - self.left) * self.per_unit).clamp(0.0, (self.columns - 1) as f64 - 1e-6);
        let v = ((y - self.top) * self.per_unit).clamp(0.0, (self.rows - 1) as f64 - 1e-6);
        let (c, r) = (u as usize, v as usize);
        let (tx, ty) = ((u - c as f64) as f32, (v - r as f64) as f32);
        let i = r * self.columns + c;
        let (upper, lower) = (&self.values[i..i + 2], &self.values[i + self.columns..i + self.columns + 2]);
        std::array::from_fn(|k| {
            let above = upper[0][k] + tx * (upper[1][k] - upper[0][k]);
            let below = lower[0][k] + tx * (lower[1][k] - lower[0][k]);
            above + ty * (below - above)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_seed_gives_one_sequence_and_another_stream_another() {
        let draw = |stream| Dice::new(7, stream).between(0.0, 1.0);
        assert_eq!(draw(1), draw(1));
        assert_ne!(draw(1), draw(2));
    }

    #[test]
    fn a_smooth_field_has_deviation_near_one_and_the_slope_it_says() {
        let field = SmoothField::new(&mut Dice::new(3, 0), 0.0, 0.0, 4000.0, 4000.0, 40.0);
        let mut sum = 0.0;
        for i in 0..10_000 {
            let (x, y) = ((i % 100) as f64 * 40.0 + 7.0, (i / 100) as f64 * 40.0 + 11.0);
            let (value, right, down) = field.value_and_slope(x, y);
            sum += value * value;
            assert!(((field.at(x + 1e-4, y) - value) / 1e-4 - right).abs() < 1e-3);
            assert!(((field.at(x, y + 1e-4) - value) / 1e-4 - down).abs() < 1e-3);
        }
        let deviation = (sum / 1e4).sqrt();
        assert!((0.8..1.2).contains(&deviation), "{deviation}");
    }
}
