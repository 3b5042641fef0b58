//! The distance from ridge to ridge over a whole image of unknown scale.
//!
//! Local Fourier spectra (Chikkerur, Cartwright, Govindaraju 2007, "Fingerprint enhancement using STFT analysis") vote for
//! a period; ridges vote alike over much of a print, which letters, paper grain and pen strokes do not. The image is
//! looked at in full size and again at half, quarter, ... size, so that every scale has enough periods to a window and
//! enough samples to a period.

use ndarray::{Array2, ArrayView2, Slice};
use rustfft::num_complex::Complex32;
use rustfft::{Fft, FftPlanner};
use std::f32::consts::TAU;
use std::sync::Arc;

/// Edge of a spectral window, pixels of the level looked at: 4 to 25 periods fit.
const WINDOW: usize = 64;
/// Usual step from window to window, pixels; windows overlap by five eighths.
const STEP: usize = 24;
/// Most windows along an axis: bounds the work on large images, where a step grows instead.
const MOST_WINDOWS_ALONG: usize = 7;
/// Least whole periods to a window: below it the spectral peak runs into the window's own skirt.
const LEAST_CYCLES: f32 = 4.0;
/// Most periods to a window, 2.4 px each: above it the sampling grid itself is met.
const MOST_CYCLES: f32 = 26.7;
/// Shortest side of a level that is looked at, pixels.
const LEAST_SIDE: usize = 24;
/// Edge of the box whose mean is taken off before the spectra, pixels: twice the longest period looked for.
const FLATTENING_BOX: usize = 33;
/// A window whose contrast is below this share of the image's strongest is blank paper.
const BLANK_SHARE: f32 = 0.15;
/// Contrast (standard deviation of grey values, 0 to 1) below which nothing is printed at all: four steps of 8 bits. Smooth
/// shading shows bands of one step and compression waves of two or three, as regular as ridges.
const LEAST_CONTRAST: f32 = 0.016;
/// Half width of the ring of frequencies that counts as one period, as a share.
const RING: f32 = 0.15;
/// Share of a window's energy that must lie in one direction of one ring for its vote to count.
const LEAST_CONCENTRATION: f32 = 0.25;
/// Width (standard deviation) to which a vote is blurred, in natural logarithm of the period: 6 %.
const VOTE_WIDTH: f32 = 0.06;
/// Votes within this share of the winning period support it: the period varies so much over one print.
const SUPPORT: f32 = 0.25;
/// Least supporting windows, as a share of those with contrast.
const LEAST_AGREEMENT: f32 = 0.15;

/// What the ridges of an image say about its scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RidgePeriod {
    /// Distance from ridge to ridge in pixels.
    pub period_px: f32,
    /// Share of the windows with contrast that speak for it, 0 to 1.
    pub agreement: f32,
}

/// Dominant distance from ridge to ridge in pixels, 2.4 px upward; `None` when no period prevails.
///
/// ```
/// use ndarray::Array2;
/// let stripes = Array2::from_shape_fn((128, 128), |(_, x)| 0.5 + 0.4 * (x as f32 * std::f32::consts::TAU / 7.0).cos());
/// let period = recurve::intake::ridge_period(&stripes).unwrap();
/// assert!((period - 7.0).abs() < 0.1);
/// assert!(recurve::intake::ridge_period(&Array2::from_elem((128, 128), 1.0)).is_none());
/// ```
pub fn ridge_period(pixels: &Array2<f32>) -> Option<f32> {
    measure_ridge_period(pixels).map(|found| found.period_px)
}

/// As [`ridge_period`], with the share of the image that agrees.
pub fn measure_ridge_period(pixels: &Array2<f32>) -> Option<RidgePeriod> {
    let mut spectra = Spectra::new();
    let mut votes = Vec::new();
    let (mut level, mut size) = (pixels.to_owned(), 1.0);
    while level.nrows().min(level.ncols()) >= LEAST_SIDE {
        spectra.collect_votes(&level, size, &mut votes);
        if level.nrows().min(level.ncols()) < 2 * WINDOW {
            break;
        }
        level = halved(&level);
        size *= 2.0;
    }
    election(&votes)
}

/// One window's opinion.
#[derive(Debug, Clone, Copy)]
struct Vote {
    period: f32,
    /// Concentration of the spectrum, 0 to 1.
    weight: f32,
    /// Image pixels to a level pixel: tells the levels apart.
    size: f32,
}

/// The period with the most votes and the mean of those that support it.
fn election(votes: &[Vote]) -> Option<RidgePeriod> {
    let strong: Vec<&Vote> = votes.iter().filter(|v| v.weight >= LEAST_CONCENTRATION).collect();
    let tally = |at: f32| -> f32 {
        strong.iter().map(|v| v.weight * (-0.5 * ((v.period / at).ln() / VOTE_WIDTH).powi(2)).exp()).sum()
    };
    let winner = strong.iter().map(|v| v.period).max_by(|&a, &b| tally(a).total_cmp(&tally(b)))?;
    let supporters: Vec<&&Vote> =
        strong.iter().filter(|v| (v.period / winner).ln().abs() < (1.0 + SUPPORT).ln()).collect();
    let weight: f32 = supporters.iter().map(|v| v.weight).sum();
    let mean_log: f32 = supporters.iter().map(|v| v.weight * v.period.ln()).sum::<f32>() / weight;
    // Each level has windows of its own: the agreement is that of the level which agrees best.
    let agreement = supporters
        .iter()
        .map(|v| {
            let of_level = votes.iter().filter(|w| w.size == v.size).count();
            supporters.iter().filter(|w| w.size == v.size).count() as f32 / of_level as f32
        })
        .fold(0.0, f32::max);
    (agreement >= LEAST_AGREEMENT).then(|| RidgePeriod { period_px: mean_log.exp(), agreement })
}

/// Plans and buffers of the windowed Fourier transform.
struct Spectra {
    fft: Arc<dyn Fft<f32>>,
    taper: Vec<f32>,
    buffer: Vec<Complex32>,
    turned: Vec<Complex32>,
    /// Energy times frequency, upper half of the spectrum.
    weighed: Vec<f32>,
    /// Cycles to a window at each place of the spectrum.
    radius: Vec<f32>,
    scratch: Vec<Complex32>,
}

impl Spectra {
    fn new() -> Self {
        let fft = FftPlanner::new().plan_fft_forward(WINDOW);
        let zeros = vec![Complex32::default(); WINDOW * WINDOW];
        let scratch = vec![Complex32::default(); fft.get_inplace_scratch_len()];
        let taper = (0..WINDOW).map(|i| 0.5 - 0.5 * (TAU * (i as f32 + 0.5) / WINDOW as f32).cos()).collect();
        let signed = |i: usize| if i > WINDOW / 2 { i as f32 - WINDOW as f32 } else { i as f32 };
        let radius = (0..WINDOW * WINDOW).map(|i| signed(i / WINDOW).hypot(signed(i % WINDOW))).collect();
        let weighed = vec![0.0; WINDOW * WINDOW];
        Self { fft, taper, buffer: zeros.clone(), turned: zeros, weighed, radius, scratch }
    }

    /// Lets every window with contrast vote. `size` is image pixels to a pixel of this level.
    fn collect_votes(&mut self, level: &Array2<f32>, size: f32, votes: &mut Vec<Vote>) {
        let flat = flattened(level);
        let windows: Vec<ArrayView2<'_, f32>> = starts(level.nrows())
            .flat_map(|top| starts(level.ncols()).map(move |left| (top, left)))
            .map(|(top, left)| {
                let starts = [top, left];
                flat.slice_each_axis(|axis| {
                    let start = starts[axis.axis.index()];
                    Slice::from(start..(start + WINDOW).min(axis.len))
                })
            })
            .collect();
        let contrasts: Vec<f32> = windows.iter().map(|w| w.std(0.0)).collect();
        let strongest = contrasts.iter().copied().fold(0.0, f32::max);
        let least = (BLANK_SHARE * strongest).max(LEAST_CONTRAST);
        let printed: Vec<&ArrayView2<'_, f32>> =
            windows.iter().zip(&contrasts).filter(|&(_, &c)| c >= least).map(|(window, _)| window).collect();
        for pair in printed.chunks(2) {
            self.transform(pair);
            for of_second in [false, true].into_iter().take(pair.len()) {
                self.weigh(of_second);
                let (cycles, weight) = self.strongest_wave();
                votes.push(Vote { period: size * WINDOW as f32 / cycles, weight, size });
            }
        }
    }

    /// Fourier transform of one or two tapered windows at once, the second as the imaginary part. Rows of the result are
    /// horizontal frequencies, which matters to nobody here.
    fn transform(&mut self, pair: &[&ArrayView2<'_, f32>]) {
        self.buffer.fill(Complex32::default());
        for (window, unit) in pair.iter().zip([Complex32::new(1.0, 0.0), Complex32::new(0.0, 1.0)]) {
            let mean = window.mean().unwrap_or(0.0);
            for ((row, column), &grey) in window.indexed_iter() {
                let taper = self.taper[row] * self.taper[column];
                self.buffer[row * WINDOW + column] += unit * ((grey - mean) * taper);
            }
        }
        self.fft.process_with_scratch(&mut self.buffer, &mut self.scratch);
        for row in 0..WINDOW {
            for column in 0..WINDOW {
                self.turned[column * WINDOW + row] = self.buffer[row * WINDOW + column];
            }
        }
        self.fft.process_with_scratch(&mut self.turned, &mut self.scratch);
    }

    /// Energy times frequency of one of the two transformed windows: natural images fall with frequency, ridges stand out
    /// of that slope. A real window's transform is the part of the joint one that is even under conjugation, the other's
    /// the odd part.
    fn weigh(&mut self, of_second: bool) {
        let sign = if of_second { -1.0 } else { 1.0 };
        for v in 0..WINDOW / 2 + 1 {
            for u in 0..WINDOW {
                let mirrored = (WINDOW - v) % WINDOW * WINDOW + (WINDOW - u) % WINDOW;
                let part = self.turned[v * WINDOW + u] + self.turned[mirrored].conj() * sign;
                self.weighed[v * WINDOW + u] = part.norm_sqr() * self.radius[v * WINDOW + u];
            }
        }
    }

    /// Cycles to a window of the strongest wave, and the share of the spectrum that is this one wave.
    fn strongest_wave(&self) -> (f32, f32) {
        let half = WINDOW as i32 / 2;
        // The lower half of the spectrum mirrors the upper.
        let at = |u: i32, v: i32| {
            let (u, v) = if v < 0 { (-u, -v) } else { (u, v) };
            v as usize * WINDOW + u.rem_euclid(WINDOW as i32) as usize
        };
        let upper = (0..half).flat_map(|v| (-half + 1..half).map(move |u| (u, v)));
        let in_band = upper.filter(|&(u, v)| (LEAST_CYCLES..=MOST_CYCLES).contains(&self.radius[at(u, v)]));
        let strongest = in_band.max_by(|a, b| self.weighed[at(a.0, a.1)].total_cmp(&self.weighed[at(b.0, b.1)]));
        let Some((u, v)) = strongest else { return (LEAST_CYCLES, 0.0) };
        let peak = self.weighed[at(u, v)];
        let (mut energy, mut moment) = (0.0, 0.0);
        for (du, dv) in (-1..=1).flat_map(|dv| (-1..=1).map(move |du| (du, dv))) {
            let here = self.weighed[at(u + du, v + dv)];
            if here > peak {
                // Only the skirt of something outside the band.
                return (LEAST_CYCLES, 0.0);
            }
            energy += here / self.radius[at(u + du, v + dv)].max(1.0);
            moment += here;
        }
        let cycles = if energy > 0.0 { moment / energy } else { LEAST_CYCLES };
        (cycles, self.concentration(cycles))
    }

    /// Share of the spectrum in the ring of `cycles`, times how much of it points one way.
    fn concentration(&self, cycles: f32) -> f32 {
        let half = WINDOW as i32 / 2;
        let (mut all, mut ring, mut cos2, mut sin2) = (0.0_f32, 0.0_f32, 0.0_f32, 0.0_f32);
        for v in 0..half {
            for u in -half + 1..half {
                let at = (v as usize) * WINDOW + u.rem_euclid(WINDOW as i32) as usize;
                let radius = self.radius[at];
                if radius < 0.5 * LEAST_CYCLES {
                    continue;
                }
                let (square, energy) = (radius * radius, self.weighed[at]);
                all += energy;
                if (radius / cycles - 1.0).abs() <= RING {
                    ring += energy;
                    cos2 += energy * (u * u - v * v) as f32 / square;
                    sin2 += energy * (2 * u * v) as f32 / square;
                }
            }
        }
        if all > 0.0 && ring > 0.0 { (ring / all) * (cos2.hypot(sin2) / ring) } else { 0.0 }
    }
}

/// Window starts along an axis of `length` pixels: evenly spread, the last ends at the border.
fn starts(length: usize) -> impl Iterator<Item = usize> + Clone {
    let room = length.saturating_sub(WINDOW);
    let count = (room.div_ceil(STEP) + 1).min(MOST_WINDOWS_ALONG);
    (0..count).map(move |i| if count > 1 { i * room / (count - 1) } else { 0 })
}

/// Half the size, each pixel the mean of four.
fn halved(image: &Array2<f32>) -> Array2<f32> {
    Array2::from_shape_fn((image.nrows() / 2, image.ncols() / 2), |(r, c)| {
        let at = |dr: usize, dc: usize| image[[2 * r + dr, 2 * c + dc]];
        (at(0, 0) + at(0, 1) + at(1, 0) + at(1, 1)) / 4.0
    })
}

/// The image less its mean over a box, so that shading and paper tone do not speak.
fn flattened(image: &Array2<f32>) -> Array2<f32> {
    let (rows, columns) = image.dim();
    let mut sums = Array2::<f64>::zeros((rows + 1, columns + 1));
    for r in 0..rows {
        let mut along = 0.0;
        for c in 0..columns {
            along += f64::from(image[[r, c]]);
            sums[[r + 1, c + 1]] = sums[[r, c + 1]] + along;
        }
    }
    let reach = FLATTENING_BOX / 2;
    Array2::from_shape_fn((rows, columns), |(r, c)| {
        // The box shrinks toward the border on both sides alike, so that an even slope vanishes there too.
        let (up, along) = (reach.min(r).min(rows - 1 - r), reach.min(c).min(columns - 1 - c));
        let (top, bottom, left, right) = (r - up, r + up + 1, c - along, c + along + 1);
        let sum = sums[[bottom, right]] - sums[[top, right]] - sums[[bottom, left]] + sums[[top, left]];
        image[[r, c]] - (sum / ((bottom - top) * (right - left)) as f64) as f32
    })
}
