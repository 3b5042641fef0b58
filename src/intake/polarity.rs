//! Whether the ridges are dark (ink on paper) or light (a negative).
//!
//! A print fades into its ground, and the ground has the tone of the valleys: light paper under ink, mid grey on some
//! live-scan sensors. So the tone of the flat parts beside the ridges tells the polarity. The breadths of ridges and
//! valleys do not (heavy ink makes ridges broad, a dry finger makes them thin), so where a print fills its image and no
//! ground is seen, ridges are taken to be dark.
//!
//! Three things look like a dark ground and are none: blots of heavy ink (they lie in the print, not all along its
//! border), box lines (too few), and the black canvas or scanner lid around a picture (straight: whole rows and columns,
//! which are peeled off before judging).

use ndarray::Array2;

/// Which strokes are the ridges.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarity {
    /// Dark ridges on a lighter ground.
    DarkRidges,
    /// Light ridges on a darker ground.
    LightRidges,
}

/// Edge of a cell as a share of the ridge period: the 3 x 3 cells whose contrast is taken then hold two periods.
const CELL_PERIODS: f32 = 2.0 / 3.0;
/// Rank of the contrast that stands for clear ridges.
const CLEAR_RANK: f64 = 0.95;
/// Cells above this share of the clear contrast bear ridges.
const RIDGE_SHARE: f32 = 0.5;
/// Cells below this share of the clear contrast are flat.
const FLAT_SHARE: f32 = 0.25;
/// Ranks of the grey values in ridge cells that stand for the dark and the light strokes.
const STROKE_RANKS: [f64; 2] = [0.10, 0.90];
/// A flat cell is dark when its tone lies this near the dark strokes, on the way (0 to 1) to the light ones ...
const DARK_GROUND: f32 = 0.25;
/// ... and light beyond this.
const LIGHT_GROUND: f32 = 0.6;
/// Least share of the border cells that must show a dark ground. With this and the next number none of 254 real
/// dark-ridged prints (inked figures, card blocks, optical and capacitive live scans) is turned, bare or on a black canvas,
/// and 179 of their negatives are; 68 of the missed 75 are tight figures, which show no ground.
const LEAST_DARK_BORDER: f32 = 0.05;
/// How many times the dark ground must exceed the light one, along the border and over the whole.
const PREDOMINANCE: f32 = 3.0;
/// Contrast below which nothing is printed: half a step of 8 bits.
const LEAST_CONTRAST: f32 = 0.002;
/// Steps of the grey histogram.
const HISTOGRAM_STEPS: usize = 256;

/// Tells dark from light ridges by the ground around the print. Where there is no ground to see, ridges are dark.
///
/// `period_px` is the distance from ridge to ridge, roughly.
///
/// ```
/// use ndarray::Array2;
/// use recurve::intake::{Polarity, recognise_polarity};
/// // A round patch of stripes on white paper.
/// let print = Array2::from_shape_fn((180, 180), |(r, c)| {
///     let inside = (r as f32 - 90.0).hypot(c as f32 - 90.0) < 60.0;
///     if inside && c % 9 < 5 { 0.1 } else { 0.9 }
/// });
/// assert_eq!(recognise_polarity(&print, 9.0), Polarity::DarkRidges);
/// assert_eq!(recognise_polarity(&print.mapv(|grey| 1.0 - grey), 9.0), Polarity::LightRidges);
/// ```
pub fn recognise_polarity(pixels: &Array2<f32>, period_px: f32) -> Polarity {
    let cell = (period_px * CELL_PERIODS).round().max(2.0) as usize;
    let Some(grounds) = grounds(pixels, cell) else { return Polarity::DarkRidges };
    let inner = peeled(&grounds);
    let on_border =
        |r: usize, c: usize| r == inner.top || c == inner.left || r + 1 == inner.bottom || c + 1 == inner.right;
    let count = |ground: Ground, border_only: bool| {
        inner.cells().filter(|&(r, c)| grounds[[r, c]] == ground && (!border_only || on_border(r, c))).count() as f32
    };
    let border = inner.cells().filter(|&(r, c)| on_border(r, c)).count() as f32;
    let (dark_border, light_border) = (count(Ground::Dark, true), count(Ground::Light, true));
    let (dark, light) = (count(Ground::Dark, false), count(Ground::Light, false));
    let turned = dark_border > LEAST_DARK_BORDER * border
        && dark_border > PREDOMINANCE * light_border
        && dark > PREDOMINANCE * light;
    if turned { Polarity::LightRidges } else { Polarity::DarkRidges }
}

/// What a cell shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Ground {
    /// Flat, with the tone of the dark strokes.
    Dark,
    /// Flat, with the tone of the light strokes.
    Light,
    /// Ridges, or anything between.
    Other,
}

/// The ground of every cell; `None` for an image without contrast.
fn grounds(pixels: &Array2<f32>, cell: usize) -> Option<Array2<Ground>> {
    let (means, contrasts) = tones(pixels, cell);
    if means.is_empty() {
        return None;
    }
    let clear = ranked(contrasts.iter().copied(), CLEAR_RANK)?;
    if clear < LEAST_CONTRAST {
        return None;
    }
    let [dark, light] = stroke_tones(pixels, cell, &contrasts.mapv(|c| c >= RIDGE_SHARE * clear))?;
    Some(Array2::from_shape_fn(means.dim(), |at| {
        let tone = (means[at] - dark) / (light - dark).max(LEAST_CONTRAST);
        match contrasts[at] < FLAT_SHARE * clear {
            true if tone < DARK_GROUND => Ground::Dark,
            true if tone > LIGHT_GROUND => Ground::Light,
            _ => Ground::Other,
        }
    }))
}

/// Mean and standard deviation of the grey values over each cell with its eight neighbours.
fn tones(pixels: &Array2<f32>, cell: usize) -> (Array2<f32>, Array2<f32>) {
    let shape = (pixels.nrows() / cell, pixels.ncols() / cell);
    let mut sums = Array2::from_elem(shape, (0.0_f32, 0.0_f32));
    for (row, pixels) in pixels.rows().into_iter().take(shape.0 * cell).enumerate() {
        for (sum, along) in sums.row_mut(row / cell).iter_mut().zip(pixels.exact_chunks(cell)) {
            for &grey in along {
                sum.0 += grey;
                sum.1 += grey * grey;
            }
        }
    }
    let tone = Array2::from_shape_fn(shape, |(r, c)| {
        let (mut sum, mut square, mut cells) = (0.0, 0.0, 0.0);
        for row in r.saturating_sub(1)..(r + 2).min(shape.0) {
            for column in c.saturating_sub(1)..(c + 2).min(shape.1) {
                sum += sums[[row, column]].0;
                square += sums[[row, column]].1;
                cells += 1.0;
            }
        }
        let count = cells * (cell * cell) as f32;
        let mean = sum / count;
        (mean, (square / count - mean * mean).max(0.0).sqrt())
    });
    (tone.mapv(|t| t.0), tone.mapv(|t| t.1))
}

/// The value of a given rank, 0 to 1.
fn ranked(values: impl Iterator<Item = f32>, rank: f64) -> Option<f32> {
    let mut sorted: Vec<f32> = values.collect();
    let last = sorted.len().checked_sub(1)?;
    let (_, value, _) = sorted.select_nth_unstable_by((rank * last as f64).round() as usize, f32::total_cmp);
    Some(*value)
}

/// Grey values of the dark and the light strokes in the ridge cells, to the step of the histogram.
fn stroke_tones(pixels: &Array2<f32>, cell: usize, ridges: &Array2<bool>) -> Option<[f32; 2]> {
    let mut histogram = [0_u64; HISTOGRAM_STEPS];
    let last = (HISTOGRAM_STEPS - 1) as f32;
    for (row, pixels) in pixels.rows().into_iter().take(ridges.nrows() * cell).enumerate() {
        for (_, along) in ridges.row(row / cell).iter().zip(pixels.exact_chunks(cell)).filter(|(ridge, _)| **ridge) {
            for grey in along {
                histogram[(grey.clamp(0.0, 1.0) * last + 0.5) as usize] += 1;
            }
        }
    }
    let all: u64 = histogram.iter().sum();
    if all == 0 {
        return None;
    }
    Some(STROKE_RANKS.map(|rank| {
        let mut below = 0;
        let reached = histogram.iter().position(|&n| {
            below += n;
            below as f64 >= rank * all as f64
        });
        reached.unwrap_or(HISTOGRAM_STEPS - 1) as f32 / last
    }))
}

/// A rectangle of cells, ends excluded.
#[derive(Debug, Clone, Copy)]
struct Inner {
    top: usize,
    bottom: usize,
    left: usize,
    right: usize,
}

impl Inner {
    fn cells(self) -> impl Iterator<Item = (usize, usize)> {
        (self.top..self.bottom).flat_map(move |r| (self.left..self.right).map(move |c| (r, c)))
    }
}

/// What is left when whole border rows and columns of dark ground are taken off.
fn peeled(grounds: &Array2<Ground>) -> Inner {
    let mut inner = Inner { top: 0, bottom: grounds.nrows(), left: 0, right: grounds.ncols() };
    loop {
        let dark_row = |r: usize, i: &Inner| (i.left..i.right).all(|c| grounds[[r, c]] == Ground::Dark);
        let dark_column = |c: usize, i: &Inner| (i.top..i.bottom).all(|r| grounds[[r, c]] == Ground::Dark);
        if inner.top + 1 >= inner.bottom || inner.left + 1 >= inner.right {
            return inner;
        } else if dark_row(inner.top, &inner) {
            inner.top += 1;
        } else if dark_row(inner.bottom - 1, &inner) {
            inner.bottom -= 1;
        } else if dark_column(inner.left, &inner) {
            inner.left += 1;
        } else if dark_column(inner.right - 1, &inner) {
            inner.right -= 1;
        } else {
            return inner;
        }
    }
}
