//! Ridge orientation, period and strength from local Fourier spectra, and the print filtered along its own flow.
//!
//! The print is cut into overlapping square windows (raised-cosine taper, half overlap). In each, ridges show as a pair
//! of peaks: their angle is the ridge normal, their distance from the centre the ridge frequency (short-time Fourier
//! analysis of prints: Chikkerur, Cartwright and Govindaraju 2007). A second pass keeps of each window's spectrum only
//! what fits the neighbourhood's flow and period, and puts the windows together again (contextual filtering).

use super::grid::smooth;
use ndarray::{Array2, ArrayView2, Axis};
use rustfft::{Fft, FftPlanner, num_complex::Complex};
use std::ops::Range;
use std::sync::Arc;

/// Edge of a window in pixels: three and a half ridge periods at 500 ppi.
pub const WINDOW: usize = 32;
/// Distance between windows in pixels: half overlap, for which the squared sine taper sums to one.
pub const STRIDE: usize = WINDOW / 2;
const HALF: usize = WINDOW / 2 + 1;

/// Settings of the spectral analysis.
#[derive(Debug, Clone)]
pub struct SpectrumSettings {
    /// Shortest ridge period looked for, pixels at 500 ppi (children about 5).
    pub shortest_period_px: f32,
    /// Longest ridge period looked for, pixels at 500 ppi.
    pub longest_period_px: f32,
    /// Power to which spectral power is raised before averaging angles; above 1 the strongest ridges outvote noise.
    pub sharpening: f32,
    /// Width of the neighbourhood that sets a window's context, standard deviation in windows.
    pub context_sigma: f32,
    /// Width of the radial pass band, standard deviation of the natural logarithm of frequency.
    pub radial_width: f32,
    /// Sharpness of the angular pass band in perfectly parallel flow (concentration of the doubled angle).
    pub angular_sharpness: f32,
    /// Mean vector length below which a window's neighbourhood counts as bent or unsure.
    pub bend_length: f32,
    /// Windows whose local spread lies below this share of the print's typical spread are skipped as blank.
    pub blank_share: f32,
}

impl Default for SpectrumSettings {
    fn default() -> Self {
        Self {
            shortest_period_px: 4.5,
            longest_period_px: 17.0,
            sharpening: 1.5,
            context_sigma: 1.0,
            radial_width: 0.35,
            angular_sharpness: 3.5,
            bend_length: 0.8,
            blank_share: 0.06,
        }
    }
}

/// One coefficient inside the ridge band.
#[derive(Debug, Clone, Copy)]
struct Bin {
    at: usize,
    mirror: usize,
    /// Doubled angle of the ridge (normal plus a quarter turn).
    cos2: f32,
    sin2: f32,
    log_frequency: f32,
    frequency: f32,
    /// 2 for coefficients that stand for themselves and their mirror image, 1 on the seam.
    multiplicity: f32,
}

/// What the windows say, on the window grid `[row, column]`; window `[r, c]` is centred at pixel
/// `(c * STRIDE, r * STRIDE)`.
#[derive(Debug, Clone)]
pub struct Spectra {
    /// Cosine of twice the ridge orientation times the confidence below.
    pub cos2: Array2<f32>,
    /// Sine of twice the ridge orientation times the confidence below.
    pub sin2: Array2<f32>,
    /// Ridge frequency in cycles a pixel; 0 where unknown.
    pub frequency: Array2<f32>,
    /// Share of the window's power inside the ridge band around its peak, 0 to 1.
    pub band_share: Array2<f32>,
    /// Power in the ridge band.
    pub band_power: Array2<f32>,
}

/// Plans, tables and buffers of the spectral analysis; reused from print to print.
pub struct SpectrumAnalyser {
    settings: SpectrumSettings,
    forward: Arc<dyn Fft<f32>>,
    inverse: Arc<dyn Fft<f32>>,
    taper: [f32; WINDOW],
    bins: Vec<Bin>,
    /// Rows of a spectrum that hold bins or their mirror images; its columns are as many and the same.
    band_rows: [Range<usize>; 2],
    scratch: Vec<Complex<f32>>,
    plane: Vec<Complex<f32>>,
    turned: Vec<Complex<f32>>,
    /// In-band coefficients of every window, window by window.
    coefficients: Vec<Complex<f32>>,
    shape: (usize, usize),
    blank: Vec<bool>,
}

impl SpectrumAnalyser {
    /// Prepares the tables.
    pub fn new(settings: SpectrumSettings) -> Self {
        let mut planner = FftPlanner::new();
        let (forward, inverse) = (planner.plan_fft_forward(WINDOW), planner.plan_fft_inverse(WINDOW));
        let scratch_length = forward.get_inplace_scratch_len().max(inverse.get_inplace_scratch_len());
        let zero = Complex::new(0.0, 0.0);
        let highest = ((WINDOW as f32 / settings.shortest_period_px) as usize).min(WINDOW / 2);
        Self {
            bins: band(&settings),
            // The zeroth row is its own mirror image.
            band_rows: [0..highest + 1, (WINDOW - highest).max(highest + 1)..WINDOW],
            settings,
            forward,
            inverse,
            taper: std::array::from_fn(|i| (std::f32::consts::PI * (i as f32 + 0.5) / WINDOW as f32).sin()),
            scratch: vec![zero; scratch_length],
            plane: vec![zero; WINDOW * WINDOW],
            turned: vec![zero; WINDOW * WINDOW],
            coefficients: Vec::new(),
            shape: (0, 0),
            blank: Vec::new(),
        }
    }

    /// Takes the spectra of all windows. `blank` says of a window centre (x, y in pixels) that nothing is printed there.
    pub fn analyse(&mut self, pixels: ArrayView2<f32>, blank: impl Fn(f32, f32) -> bool) -> Spectra {
        let (rows, columns) = pixels.dim();
        self.shape = (rows / STRIDE + 2, columns / STRIDE + 2);
        let count = self.shape.0 * self.shape.1;
        self.coefficients.clear();
        self.coefficients.resize(count * self.bins.len(), Complex::new(0.0, 0.0));
        self.blank = (0..count)
            .map(|w| blank(((w % self.shape.1) * STRIDE) as f32, ((w / self.shape.1) * STRIDE) as f32))
            .collect();
        let mut total_power = vec![0.0f32; count];
        let busy: Vec<usize> = (0..count).filter(|&w| !self.blank[w]).collect();
        for pair in busy.chunks(2) {
            self.load(pixels, pair, &mut total_power);
            self.transform();
            self.separate(pair);
        }
        self.summarise(&total_power)
    }

    /// Writes one or two windows into the real and imaginary plane.
    fn load(&mut self, pixels: ArrayView2<f32>, pair: &[usize], total_power: &mut [f32]) {
        let parts = [0, 1].map(|k| pair.get(k).map(|&w| self.part(w, pixels.dim())));
        let means = [0, 1].map(|k| parts[k].as_ref().map_or(0.0, |part| self.mean(pixels, part)));
        let mut power = [0.0f32; 2];
        for (i, slots) in self.plane.chunks_exact_mut(WINDOW).enumerate() {
            let mut lines = [[0.0f32; WINDOW]; 2];
            for ((part, mean), values) in parts.iter().zip(means).zip(&mut lines) {
                let Some(part) = part else { continue };
                let Some(line) = part.line(pixels, i) else { continue };
                let columns = part.columns.clone();
                for ((to, v), taper) in values[columns.clone()].iter_mut().zip(line).zip(&self.taper[columns]) {
                    *to = self.taper[i] * taper * (v - mean);
                }
            }
            // Both sums grow at once: each waits for its last addend.
            for ((slot, re), im) in slots.iter_mut().zip(lines[0]).zip(lines[1]) {
                power[0] += re * re;
                power[1] += im * im;
                *slot = Complex::new(re, im);
            }
        }
        for (&w, power) in pair.iter().zip(power) {
            total_power[w] = power * (WINDOW * WINDOW) as f32;
        }
    }

    /// The part of a window that lies inside an image of this shape.
    fn part(&self, window: usize, (rows, columns): (usize, usize)) -> Part {
        let corner = |at: usize| (at * STRIDE) as isize - STRIDE as isize;
        Part::of(corner(window / self.shape.1), corner(window % self.shape.1), rows as isize, columns as isize)
    }

    /// Mean of a window under the taper.
    fn mean(&self, pixels: ArrayView2<f32>, part: &Part) -> f32 {
        let taper = &self.taper[part.columns.clone()];
        let across: f32 = taper.iter().sum();
        let (mut sum, mut weight) = (0.0f32, 0.0f32);
        for i in part.rows.clone() {
            let Some(line) = part.line(pixels, i) else { continue };
            sum += self.taper[i] * line.iter().zip(taper).map(|(v, taper)| taper * v).sum::<f32>();
            weight += self.taper[i] * across;
        }
        if weight > 0.0 { sum / weight } else { 0.0 }
    }

    /// Transform of the plane, of which only the band is worked out: into `turned`, columns as rows.
    fn transform(&mut self) {
        self.forward.process_with_scratch(&mut self.plane, &mut self.scratch);
        for x in self.band_rows.iter().cloned().flatten() {
            for (to, from) in self.turned[x * WINDOW..][..WINDOW].iter_mut().zip(self.plane[x..].iter().step_by(WINDOW))
            {
                *to = *from;
            }
        }
        for rows in &self.band_rows {
            let rows = rows.start * WINDOW..rows.end * WINDOW;
            self.forward.process_with_scratch(&mut self.turned[rows], &mut self.scratch);
        }
    }

    /// Transform of the plane back, which is empty beyond the band.
    fn transform_back(&mut self) {
        for rows in &self.band_rows {
            let rows = rows.start * WINDOW..rows.end * WINDOW;
            self.inverse.process_with_scratch(&mut self.plane[rows], &mut self.scratch);
        }
        transpose(&self.plane, &mut self.turned);
        self.inverse.process_with_scratch(&mut self.turned, &mut self.scratch);
        transpose(&self.turned, &mut self.plane);
    }

    /// Splits the transform of two packed real windows and keeps their in-band coefficients.
    fn separate(&mut self, pair: &[usize]) {
        let n = self.bins.len();
        for (b, bin) in self.bins.iter().enumerate() {
            let (f, g) = (self.turned[turned(bin.at)], self.turned[turned(bin.mirror)].conj());
            self.coefficients[pair[0] * n + b] = (f + g) * 0.5;
            if let Some(&second) = pair.get(1) {
                let d = (f - g) * 0.5;
                self.coefficients[second * n + b] = Complex::new(d.im, -d.re);
            }
        }
    }

    fn summarise(&self, total_power: &[f32]) -> Spectra {
        let shape = self.shape;
        let mut spectra = Spectra {
            cos2: Array2::zeros(shape),
            sin2: Array2::zeros(shape),
            frequency: Array2::zeros(shape),
            band_share: Array2::zeros(shape),
            band_power: Array2::zeros(shape),
        };
        let n = self.bins.len();
        let mut powers = vec![0.0f32; n];
        for w in (0..shape.0 * shape.1).filter(|&w| !self.blank[w]) {
            let window = &self.coefficients[w * n..(w + 1) * n];
            let mut band = 0.0;
            for ((p, c), bin) in powers.iter_mut().zip(window).zip(&self.bins) {
                *p = c.norm_sqr();
                band += bin.multiplicity * *p;
            }
            if band <= 0.0 {
                continue;
            }
            let peak = powers.iter().copied().fold(0.0, f32::max);
            let (mut c2, mut s2, mut mass, mut log_f, mut near_peak) = (0.0, 0.0, 0.0, 0.0, 0.0);
            for (&p, bin) in powers.iter().zip(&self.bins) {
                let share = p / peak;
                let weight = share * share.sqrt();
                c2 += weight * bin.cos2;
                s2 += weight * bin.sin2;
                log_f += weight * share * bin.log_frequency;
                near_peak += weight * share;
                mass += weight;
            }
            let at = [w / shape.1, w % shape.1];
            let share = (band / total_power[w]).min(1.0);
            spectra.cos2[at] = c2 / mass * share;
            spectra.sin2[at] = s2 / mass * share;
            spectra.frequency[at] = (log_f / near_peak).exp();
            spectra.band_share[at] = share;
            spectra.band_power[at] = band;
        }
        spectra
    }

    /// Filters every window along the flow of its neighbourhood and puts the print together again.
    ///
    /// `context` holds, on the window grid, the smoothed doubled-angle vector (length 0 to 1 = how parallel the flow
    /// is) and the smoothed frequency. Returns an image of `shape` with local mean 0.
    pub fn filter(&mut self, context: &Context, shape: (usize, usize)) -> Array2<f32> {
        self.filter_windows(context, shape, self.settings.angular_sharpness, |_| true)
    }

    /// Filters by ridge period alone, letting every angle through, where the flow of the neighbourhood bends or is
    /// unsure: a mean vector shorter than `bend_length`. Elsewhere the result is 0. There the flow filter would carry the
    /// neighbourhood's direction into the innermost recurves.
    pub fn filter_bends(
        &mut self,
        context: &Context,
        shape: (usize, usize),
        bend_length: f32,
    ) -> (Array2<f32>, Array2<bool>) {
        let bends = context.bends(bend_length);
        let columns = self.shape.1;
        let image = self.filter_windows(context, shape, 0.0, |w| bends[[w / columns, w % columns]]);
        (image, bends)
    }

    fn filter_windows(
        &mut self,
        context: &Context,
        shape: (usize, usize),
        sharpness: f32,
        wanted: impl Fn(usize) -> bool,
    ) -> Array2<f32> {
        // Written once in order: memory that is only promised to be zero is handed over twice, when it is first read and when first written.
        let mut out = Array2::from_shape_simple_fn(shape, || 0.0f32);
        let n = self.bins.len();
        let busy: Vec<usize> = (0..self.blank.len()).filter(|&w| !self.blank[w] && wanted(w)).collect();
        let mut gains = [vec![0.0f32; n], vec![0.0f32; n]];
        for pair in busy.chunks(2) {
            for (k, &w) in pair.iter().enumerate() {
                self.gains(context, w, sharpness, &mut gains[k]);
            }
            self.plane.fill(Complex::new(0.0, 0.0));
            for (b, bin) in self.bins.iter().enumerate() {
                let first = self.coefficients[pair[0] * n + b] * gains[0][b];
                let second = match pair.get(1) {
                    Some(&w) => self.coefficients[w * n + b] * gains[1][b],
                    None => Complex::new(0.0, 0.0),
                };
                // first + i second, and at the mirror conj(first) + i conj(second).
                self.plane[bin.at] = Complex::new(first.re - second.im, first.im + second.re);
                if bin.mirror != bin.at {
                    self.plane[bin.mirror] = Complex::new(first.re + second.im, second.re - first.im);
                }
            }
            self.transform_back();
            self.add(pair, &mut out);
        }
        out
    }

    fn gains(&self, context: &Context, w: usize, sharpness: f32, gains: &mut [f32]) {
        let at = [w / self.shape.1, w % self.shape.1];
        let (c2, s2) = (context.cos2[at], context.sin2[at]);
        let length = c2.hypot(s2).max(1e-6);
        // A curved neighbourhood has a short mean vector: its pass band opens until it lets every angle through.
        let sharpness = sharpness * (length * length).min(1.0);
        let (c2, s2) = (c2 / length, s2 / length);
        let log_f = context.frequency[at].max(1e-3).ln();
        let narrow = 0.5 / (self.settings.radial_width * self.settings.radial_width);
        for (gain, bin) in gains.iter_mut().zip(&self.bins) {
            let angular = sharpness * (bin.cos2 * c2 + bin.sin2 * s2 - 1.0);
            let radial = narrow * (bin.log_frequency - log_f).powi(2);
            // Below a thousandth nothing is heard.
            *gain = if angular - radial < -7.0 { 0.0 } else { (angular - radial).exp() };
        }
    }

    fn add(&self, pair: &[usize], out: &mut Array2<f32>) {
        let norm = 1.0 / (WINDOW * WINDOW) as f32;
        for (k, &w) in pair.iter().enumerate() {
            let part = self.part(w, out.dim());
            for i in part.rows.clone() {
                let mut line = out.row_mut((part.top + i as isize) as usize);
                let Some(line) = line.as_slice_mut() else { continue };
                let line = &mut line[part.first_column..part.first_column + part.columns.len()];
                let values = &self.plane[i * WINDOW..(i + 1) * WINDOW][part.columns.clone()];
                let scale = norm * self.taper[i];
                for ((target, v), taper) in line.iter_mut().zip(values).zip(&self.taper[part.columns.clone()]) {
                    *target += scale * taper * if k == 0 { v.re } else { v.im };
                }
            }
        }
    }
}

/// The neighbourhood's flow and frequency on the window grid.
#[derive(Debug, Clone)]
pub struct Context {
    /// Mean cosine of twice the orientation; together with `sin2` a vector of length 0 to 1.
    pub cos2: Array2<f32>,
    /// Mean sine of twice the orientation.
    pub sin2: Array2<f32>,
    /// Cycles a pixel.
    pub frequency: Array2<f32>,
}

impl Context {
    /// Averages what the windows say over their neighbourhood, each weighted by its confidence.
    pub fn of(spectra: &Spectra, sigma: f32) -> Self {
        let weight = Array2::from_shape_fn(spectra.cos2.dim(), |at| spectra.cos2[at].hypot(spectra.sin2[at]));
        let total = smooth(&weight, sigma).mapv(|w| w.max(1e-6));
        let share = smooth(&spectra.band_share, sigma).mapv(|w| w.max(1e-6));
        let log_frequency = Array2::from_shape_fn(weight.dim(), |at| weight[at] * spectra.frequency[at].max(0.02).ln());
        Self {
            cos2: smooth(&spectra.cos2, sigma) / &share,
            sin2: smooth(&spectra.sin2, sigma) / &share,
            frequency: (smooth(&log_frequency, 2.0 * sigma) / smooth(&weight, 2.0 * sigma).mapv(|w| w.max(1e-6)))
                .mapv(f32::exp),
        }
        .guard(&total)
    }

    /// Windows where the mean vector is shorter than `length`, and their neighbours.
    fn bends(&self, length: f32) -> Array2<bool> {
        let short = Array2::from_shape_fn(self.cos2.dim(), |at| self.cos2[at].hypot(self.sin2[at]) < length);
        let (rows, columns) = short.dim();
        Array2::from_shape_fn((rows, columns), |(r, c)| {
            (r.saturating_sub(1)..(r + 2).min(rows))
                .any(|y| (c.saturating_sub(1)..(c + 2).min(columns)).any(|x| short[[y, x]]))
        })
    }

    fn guard(mut self, total: &Array2<f32>) -> Self {
        for (f, &t) in self.frequency.iter_mut().zip(total) {
            if t <= 1e-6 || !f.is_finite() {
                *f = 1.0 / 9.0; // nothing printed near: the usual ridge period at 500 ppi
            }
        }
        self
    }
}

fn band(settings: &SpectrumSettings) -> Vec<Bin> {
    let mut bins = Vec::new();
    for ky in 0..WINDOW {
        for kx in 0..HALF {
            let signed = |k: usize| if k > WINDOW / 2 { k as f32 - WINDOW as f32 } else { k as f32 };
            // On the two seams of the half plane keep one of each mirrored pair.
            if kx == 0 && ky > WINDOW / 2 {
                continue;
            }
            let (u, v) = (signed(kx) / WINDOW as f32, signed(ky) / WINDOW as f32);
            let frequency = u.hypot(v);
            if frequency < 1.0 / settings.longest_period_px || frequency > 1.0 / settings.shortest_period_px {
                continue;
            }
            let at = ky * WINDOW + kx;
            let mirror = ((WINDOW - ky) % WINDOW) * WINDOW + (WINDOW - kx) % WINDOW;
            // Normal (u, -v) seen with y up; the ridge lies a quarter turn on, which negates the doubled angle.
            let cos2 = (v * v - u * u) / (frequency * frequency);
            let sin2 = 2.0 * u * v / (frequency * frequency);
            let multiplicity = if at == mirror { 1.0 } else { 2.0 };
            bins.push(Bin { at, mirror, cos2, sin2, log_frequency: frequency.ln(), frequency, multiplicity });
        }
    }
    bins.sort_by(|a, b| a.frequency.total_cmp(&b.frequency).then(a.at.cmp(&b.at)));
    bins
}

/// Where a coefficient lies when columns are rows.
fn turned(at: usize) -> usize {
    at % WINDOW * WINDOW + at / WINDOW
}

fn transpose(from: &[Complex<f32>], to: &mut [Complex<f32>]) {
    for i in 0..WINDOW {
        for j in 0..WINDOW {
            to[j * WINDOW + i] = from[i * WINDOW + j];
        }
    }
}

/// The part of a window that lies inside the image: rows and columns of the window, the image row of the window's first row, and the image
/// column of the part's first.
struct Part {
    rows: Range<usize>,
    columns: Range<usize>,
    top: isize,
    first_column: usize,
}

impl Part {
    fn of(top: isize, left: isize, rows: isize, columns: isize) -> Self {
        let side = WINDOW as isize;
        let inside = |start: isize, length: isize| {
            let first = (-start).clamp(0, side);
            first as usize..(length - start).clamp(first, side) as usize
        };
        Self { rows: inside(top, rows), columns: inside(left, columns), top, first_column: left.max(0) as usize }
    }

    /// What of row `i` of the window lies inside the image.
    fn line<'a>(&self, pixels: ArrayView2<'a, f32>, i: usize) -> Option<&'a [f32]> {
        if !self.rows.contains(&i) {
            return None;
        }
        let line = pixels.index_axis_move(Axis(0), (self.top + i as isize) as usize).to_slice()?;
        Some(&line[self.first_column..][..self.columns.len()])
    }
}
