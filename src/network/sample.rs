//! What the network is given of a print: the flow and the filtered print around the middle of the foreground, in ridge periods.

use crate::field::RidgeField;
use crate::field::grid::{read_between, read_crossings};
use crate::geometry::Point;
use ndarray::Array2;

/// Cells along an edge of the field's window, one ridge period each.
pub const CELLS: usize = 64;
/// Planes of the field's window: cosine and sine of twice the orientation, foreground, coherence.
pub const PLANES: usize = 4;
/// Samples along an edge of the print's window, four to a period.
pub const SAMPLES: usize = 256;
/// Amplitude of the filtered print that counts as 1, in shares of the print's best strength.
const FULL: f32 = 1.6;
/// Grey value of the print at even contrast that counts as 1, in spreads.
const FULL_SPREADS: f32 = 2.5;

/// What the network is given.
#[derive(Debug, Clone)]
pub struct Sample {
    /// Middle of the windows, working pixels.
    pub middle: Point,
    /// Ridge period, working pixels.
    pub period: f64,
    /// [`PLANES`] planes of [`CELLS`] by [`CELLS`], row by row, -1 to 1.
    pub planes: Vec<f32>,
    /// [`SAMPLES`] by [`SAMPLES`] of the filtered print, row by row, -1 to 1.
    pub print: Vec<f32>,
}

impl Sample {
    /// Looks at a field; none when nothing of the print itself is there to be seen.
    pub fn of(field: &RidgeField) -> Option<Self> {
        let period = field.median_period();
        if period <= 0.0 || field.filtered.iter().all(|v| *v == 0.0) {
            return None;
        }
        let middle = middle(field);
        Some(Self { middle, period, planes: planes(field, middle, period), print: window(field, middle, period) })
    }

    /// The sample as in a mirror: what lay on the left lies on the right.
    pub fn mirrored(&self) -> Self {
        let turned = |values: &[f32], edge: usize| -> Vec<f32> {
            values.chunks_exact(edge).flat_map(|row| row.iter().rev().copied()).collect()
        };
        let mut planes = turned(&self.planes, CELLS);
        // In a mirror an orientation turns the other way.
        planes[CELLS * CELLS..2 * CELLS * CELLS].iter_mut().for_each(|sin2| *sin2 = -*sin2);
        Self { planes, print: turned(&self.print, SAMPLES), ..*self }
    }
}

/// Middle of the foreground, working pixels.
fn middle(field: &RidgeField) -> Point {
    let (mut x, mut y, mut n) = (0.0, 0.0, 0.0);
    for ((r, c), _) in field.foreground.indexed_iter().filter(|(_, on)| **on) {
        let p = field.centre(r as f64, c as f64);
        x += p.x;
        y += p.y;
        n += 1.0;
    }
    Point::new(x / f64::max(n, 1.0), y / f64::max(n, 1.0))
}

/// The flow, foreground and coherence, each cell the mean of two by two looks.
fn planes(field: &RidgeField, middle: Point, period: f64) -> Vec<f32> {
    let mut planes = vec![0.0; PLANES * CELLS * CELLS];
    let offset = |cell: usize, look: usize| (cell as f64 + (look as f64 + 0.5) / 2.0 - 0.5 * CELLS as f64) * period;
    for row in 0..CELLS {
        for column in 0..CELLS {
            let mut sums = [0.0f64; PLANES];
            for look in 0..4 {
                let p = Point::new(middle.x + offset(column, look % 2), middle.y + offset(row, look / 2));
                let Some(cell) = field.cell_at(p).filter(|at| field.foreground[*at]) else { continue };
                let (cos2, sin2) = field.double_angle_at(p);
                for (sum, v) in sums.iter_mut().zip([cos2, sin2, 1.0, f64::from(field.coherence[cell])]) {
                    *sum += v;
                }
            }
            for (plane, sum) in sums.iter().enumerate() {
                planes[(plane * CELLS + row) * CELLS + column] = (sum / 4.0) as f32;
            }
        }
    }
    planes
}

/// The filtered print around the middle.
fn window(field: &RidgeField, middle: Point, period: f64) -> Vec<f32> {
    let offset = |i: usize| (i as f64 + 0.5 - 0.5 * SAMPLES as f64) * 0.25 * period;
    let places = |middle: f64| -> Vec<f64> { (0..SAMPLES).map(|i| middle + offset(i)).collect() };
    let (xs, ys) = (places(middle.x), places(middle.y));
    let inside = |at: f64, pixels: usize| at >= 0.0 && at < pixels as f64 - 1.0;
    let single = |places: &[f64]| -> Vec<f32> { places.iter().map(|v| *v as f32).collect() };
    let mut read = read_crossings(&field.filtered, &single(&ys), &single(&xs));
    let (rows, columns) = field.filtered.dim();
    let full = full_ink(field);
    for (line, y) in read.chunks_exact_mut(SAMPLES).zip(&ys) {
        for (v, x) in line.iter_mut().zip(&xs) {
            let inside = inside(*x, columns) && inside(*y, rows);
            *v = if inside { (*v / full).clamp(-1.0, 1.0) } else { 0.0 };
        }
    }
    read
}

/// Reads the filtered print as a network is given it, -1 to 1; 0 beyond its edges.
pub(super) fn ink(field: &RidgeField) -> impl Fn(Point) -> f32 {
    reader(&field.filtered, full_ink(field))
}

/// Amplitude of the filtered print that counts as 1.
fn full_ink(field: &RidgeField) -> f32 {
    FULL * field.best_strength.max(1e-3)
}

/// Reads the print at even contrast as a network is given it, -1 to 1; 0 beyond its edges.
pub(super) fn plain_ink(field: &RidgeField) -> impl Fn(Point) -> f32 {
    reader(&field.levelled, FULL_SPREADS)
}

fn reader(picture: &Array2<f32>, full: f32) -> impl Fn(Point) -> f32 {
    let (rows, columns) = picture.dim();
    move |p| {
        let inside = p.x >= 0.0 && p.y >= 0.0 && p.x < columns as f64 - 1.0 && p.y < rows as f64 - 1.0;
        let v = if inside { read_between(picture, p.y as f32, p.x as f32) } else { 0.0 };
        (v / full).clamp(-1.0, 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::field::CELL;

    /// A field by formula on 60 by 50 cells and one that is turned over from left to right pixel by pixel.
    #[test]
    fn a_mirrored_sample_is_the_sample_of_the_mirrored_print() {
        let (rows, columns) = (50, 60);
        let field = |turned: bool| {
            let at = |c: usize, n: usize| if turned { n - 1 - c } else { c };
            let angle = |r: usize, c: usize| 0.05 * r as f32 + 0.09 * at(c, columns) as f32;
            let cells =
                |of: &dyn Fn(f32) -> f32| Array2::from_shape_fn((rows, columns), |(r, c)| of(2.0 * angle(r, c)));
            let sign = if turned { -1.0 } else { 1.0 };
            let mask = Array2::from_shape_fn((rows, columns), |(r, c)| r + at(c, columns) > 12);
            let mut field = RidgeField::from_vectors(cells(&|a| a.cos()), cells(&|a| sign * a.sin()), mask, CELL, 9.0);
            field.filtered = Array2::from_shape_fn((CELL * rows, CELL * columns), |(r, c)| {
                (0.5 * r as f32 + 0.31 * at(c, CELL * columns) as f32).sin()
            });
            field
        };
        let (straight, turned) = (Sample::of(&field(false)), Sample::of(&field(true)));
        let (Some(straight), Some(turned)) = (straight, turned) else { panic!("there is a print to be seen") };
        let mirrored = straight.mirrored();
        let far = |a: &[f32], b: &[f32]| a.iter().zip(b).filter(|(a, b)| (*a - *b).abs() > 2e-3).count();
        // On the very edge of the print rounding may decide otherwise.
        assert!(far(&mirrored.print, &turned.print) < SAMPLES, "{}", far(&mirrored.print, &turned.print));
        assert!(far(&mirrored.planes, &turned.planes) < CELLS, "{}", far(&mirrored.planes, &turned.planes));
        assert!(far(&straight.planes, &turned.planes) > 500, "the print is its own mirror image");
    }
}
