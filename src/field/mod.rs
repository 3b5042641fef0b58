//! Impression to ridge field: contrast, foreground, orientation, period, coherence.
//!
//! The order of the steps, each a file: the print's [`contrast`] is levelled; its local [`spectrum`] gives a first flow and
//! ridge period and filters the print along that flow; the [`tensor`] of the filtered print gives the flow to a few
//! pixels; the [`foreground`] is what the flow explains; [`grid`] holds the smoothing. Tensor and spectrum are fused
//! because each window passes on only what both its own spectrum and its neighbourhood's flow support.

pub mod contrast;
pub mod foreground;
pub mod grid;
pub mod spectrum;
pub mod tensor;

use crate::geometry::{Point, wrap_orientation};
use grid::{Between, length, read_between, read_crossings, smooth};
use ndarray::{Array2, ArrayView2};
use spectrum::{Context, SpectrumAnalyser};
use tensor::Tensor;

/// Edge of a cell of the ridge field in pixels at 500 ppi: less than half a ridge period.
pub const CELL: usize = 4;

/// Settings of the field.
#[derive(Debug, Clone)]
pub struct FieldSettings {
    /// Local contrast.
    pub contrast: contrast::ContrastSettings,
    /// Local spectra.
    pub spectrum: spectrum::SpectrumSettings,
    /// Foreground.
    pub foreground: foreground::ForegroundSettings,
    /// Width over which the tensor is averaged before it becomes a direction, standard deviation in pixels at 500 ppi.
    /// A quarter of a ridge period: the tensor of a filtered print hardly needs more.
    pub tensor_sigma_px: f32,
    /// Lightest smoothing of the final orientation, pixels at 500 ppi: where the flow bends and where the print is clear.
    pub light_sigma_px: f32,
    /// Heaviest smoothing of the final orientation: where the flow is straight and the print poor.
    pub heavy_sigma_px: f32,
    /// Share of foreground below which the print holds no usable ridges, in square pixels at 500 ppi (12 x 12 ridge
    /// periods: less cannot show a pattern).
    pub least_area_px2: f32,
}

impl Default for FieldSettings {
    fn default() -> Self {
        Self {
            contrast: Default::default(),
            spectrum: Default::default(),
            foreground: Default::default(),
            tensor_sigma_px: 2.4,
            light_sigma_px: 5.0,
            heavy_sigma_px: 14.0,
            least_area_px2: 11_700.0,
        }
    }
}

/// The ridge flow of one print on a grid of square cells.
///
/// All arrays but `levelled`, `filtered` and `unfiltered` have the same shape `[row, column]`; the cell at `[r, c]` is centred at
/// `x = (c + 0.5) * cell - 0.5`, `y = (r + 0.5) * cell - 0.5` in pixels of the working image.
#[derive(Debug, Clone)]
pub struct RidgeField {
    /// Edge of a cell in working pixels.
    pub cell: usize,
    /// Cosine of twice the ridge orientation (unit vector together with `sin2`), smoothed as far as the print demands.
    pub cos2: Array2<f32>,
    /// Sine of twice the ridge orientation.
    pub sin2: Array2<f32>,
    /// 0 (no preferred orientation) to 1 (perfectly parallel ridges).
    pub coherence: Array2<f32>,
    /// Distance from ridge to ridge in working pixels.
    pub period: Array2<f32>,
    /// Cells that bear usable ridges.
    pub foreground: Array2<bool>,
    /// How clearly the ridges show, 0 to 1 (1: as clear as the print's best parts).
    pub clarity: Array2<f32>,
    /// Strength of the print's best ridges on an absolute scale (0 none, about 0.5 a clean black-and-white print).
    pub best_strength: f32,
    /// The print at even contrast and not filtered at all, `[row, column]` in working pixels; ridges are negative, mean 0, spread near 1.
    pub levelled: Array2<f32>,
    /// The print filtered along its flow, `[row, column]` in working pixels; ridges are negative, mean 0.
    pub filtered: Array2<f32>,
    /// Where the flow bends, the print filtered by ridge period alone, of the same shape; elsewhere 0.
    pub unfiltered: Array2<f32>,
    /// Unsmoothed doubled-angle vector times clarity, zero outside the foreground: what [`RidgeField::smoothed`] smooths.
    raw_cos2: Array2<f32>,
    raw_sin2: Array2<f32>,
    /// The same where the flow bends, from the print filtered by ridge period alone; elsewhere equal to `raw`.
    bend_cos2: Array2<f32>,
    bend_sin2: Array2<f32>,
}

impl RidgeField {
    /// Centre of a cell in working pixels. Fractions of rows and columns lie between cells.
    pub fn centre(&self, row: f64, column: f64) -> Point {
        let at = |i: f64| (i + 0.5) * self.cell as f64 - 0.5;
        Point::new(at(column), at(row))
    }

    /// Row and column (with fractions) of a place in working pixels.
    pub fn node(&self, p: Point) -> (f64, f64) {
        let at = |v: f64| (v + 0.5) / self.cell as f64 - 0.5;
        (at(p.y), at(p.x))
    }

    /// The cell that holds a place, if it lies on the grid.
    pub fn cell_at(&self, p: Point) -> Option<[usize; 2]> {
        let (row, column) = self.node(p);
        let (row, column) = (row.round(), column.round());
        let inside =
            row >= 0.0 && column >= 0.0 && (row as usize) < self.cos2.nrows() && (column as usize) < self.cos2.ncols();
        inside.then_some([row as usize, column as usize])
    }

    /// Whether a place lies on usable ridges.
    pub fn on_print(&self, p: Point) -> bool {
        self.cell_at(p).is_some_and(|at| self.foreground[at])
    }

    /// A place in working pixels between the cells.
    pub fn between(&self, p: Point) -> Between {
        let (row, column) = self.node(p);
        Between::of(row as f32, column as f32, self.cos2.dim())
    }

    /// The doubled-angle vector of the final field at a place (bilinear between cells).
    pub fn double_angle_at(&self, p: Point) -> (f64, f64) {
        let place = self.between(p);
        (f64::from(place.read(&self.cos2)), f64::from(place.read(&self.sin2)))
    }

    /// Ridge orientation at a place, radians in `[0, pi)`.
    pub fn orientation_at(&self, p: Point) -> f64 {
        let (c, s) = self.double_angle_at(p);
        wrap_orientation(0.5 * s.atan2(c))
    }

    /// Ridge period at a place in working pixels.
    pub fn period_at(&self, p: Point) -> f64 {
        f64::from(self.between(p).read(&self.period))
    }

    /// Clarity at a place, 0 to 1.
    pub fn clarity_at(&self, p: Point) -> f64 {
        f64::from(self.between(p).read(&self.clarity))
    }

    /// The doubled-angle vectors (cosine, sine; weighted by clarity, not normalised) smoothed by `sigma_px` working
    /// pixels. Blank places are bridged by what lies around them.
    pub fn smoothed(&self, sigma_px: f32) -> (Array2<f32>, Array2<f32>) {
        let sigma = sigma_px / self.cell as f32;
        (smooth(&self.raw_cos2, sigma), smooth(&self.raw_sin2, sigma))
    }

    /// The print at `[row, column]` in working pixels: where the flow bends filtered by ridge period alone, which keeps ends and turns that a filter
    /// along the flow closes or rounds; elsewhere filtered along the flow. 0 beyond the print.
    pub fn print_in_bends(&self, at: [usize; 2]) -> f32 {
        match self.unfiltered.get(at) {
            None | Some(0.0) => self.filtered.get(at).copied().unwrap_or(0.0),
            Some(bent) => *bent,
        }
    }

    /// As [`RidgeField::smoothed`], but in bends from the print that was not filtered along its flow: truer to the innermost
    /// recurves, less robust to noise.
    pub fn smoothed_in_bends(&self, sigma_px: f32) -> (Array2<f32>, Array2<f32>) {
        let sigma = sigma_px / self.cell as f32;
        (smooth(&self.bend_cos2, sigma), smooth(&self.bend_sin2, sigma))
    }

    /// Median ridge period over the foreground in working pixels.
    pub fn median_period(&self) -> f64 {
        let mut periods: Vec<f32> =
            self.period.iter().zip(&self.foreground).filter(|(_, f)| **f).map(|(p, _)| *p).collect();
        if periods.is_empty() {
            return 0.0;
        }
        let middle = periods.len() / 2;
        f64::from(*periods.select_nth_unstable_by(middle, f32::total_cmp).1)
    }

    /// Mean coherence over the foreground.
    pub fn mean_coherence(&self) -> f64 {
        let (mut sum, mut count) = (0.0, 0usize);
        for (c, _) in self.coherence.iter().zip(&self.foreground).filter(|(_, f)| **f) {
            sum += f64::from(*c);
            count += 1;
        }
        sum / count.max(1) as f64
    }

    /// Share of the image that is foreground.
    pub fn foreground_fraction(&self) -> f64 {
        self.foreground.iter().filter(|f| **f).count() as f64 / self.foreground.len().max(1) as f64
    }

    /// Area of the foreground in square working pixels.
    pub fn foreground_area(&self) -> f64 {
        (self.foreground.iter().filter(|f| **f).count() * self.cell * self.cell) as f64
    }

    /// A field straight from doubled-angle vectors, fully clear on `foreground`: for analytic fields in tests and for
    /// callers that have a flow from elsewhere. `period` is taken as given everywhere.
    pub fn from_vectors(
        cos2: Array2<f32>,
        sin2: Array2<f32>,
        foreground: Array2<bool>,
        cell: usize,
        period: f32,
    ) -> Self {
        let shape = cos2.dim();
        let clear = foreground.mapv(|f| if f { 1.0 } else { 0.0 });
        Self {
            cell,
            raw_cos2: &cos2 * &clear,
            raw_sin2: &sin2 * &clear,
            bend_cos2: &cos2 * &clear,
            bend_sin2: &sin2 * &clear,
            cos2,
            sin2,
            coherence: Array2::ones(shape),
            period: Array2::from_elem(shape, period),
            clarity: clear,
            foreground,
            best_strength: 0.5,
            levelled: Array2::zeros((shape.0 * cell, shape.1 * cell)),
            filtered: Array2::zeros((shape.0 * cell, shape.1 * cell)),
            unfiltered: Array2::zeros((shape.0 * cell, shape.1 * cell)),
        }
    }
}

/// Rows and columns of cells that cover an image of `(rows, columns)` pixels.
pub fn grid_shape((rows, columns): (usize, usize), cell: usize) -> (usize, usize) {
    (rows.div_ceil(cell).max(1), columns.div_ceil(cell).max(1))
}

/// Estimates the ridge field of a working image (0 black to 1 white, dark ridges, 500 ppi).
///
/// The result may have an empty foreground; [`RidgeField::foreground_area`] tells.
pub fn estimate(pixels: ArrayView2<f32>, settings: &FieldSettings, analyser: &mut SpectrumAnalyser) -> RidgeField {
    let levelled = contrast::level(pixels, &settings.contrast);
    let least = settings.spectrum.blank_share * levelled.typical_spread;
    let node = |v: f32| (v + 0.5) / CELL as f32 - 0.5;
    let spectra =
        analyser.analyse(levelled.pixels.view(), |x, y| read_between(&levelled.spread, node(y), node(x)) < least);
    let context = Context::of(&spectra, settings.spectrum.context_sigma);
    let filtered = analyser.filter(&context, pixels.dim());
    let (unfiltered, bends) = analyser.filter_bends(&context, pixels.dim(), settings.spectrum.bend_length);
    let found = foreground::find(&levelled.pixels, &filtered, &settings.foreground);
    let sigma = settings.tensor_sigma_px / CELL as f32;
    let tensor = Tensor::of(filtered.view(), CELL).smoothed(sigma);
    // A cell row needs the bends' tensor only where a window row near it holds a bend.
    let bent_row = |row: usize| {
        let window = row * CELL / spectrum::STRIDE;
        (window.saturating_sub(2)..(window + 4).min(bends.nrows())).any(|w| bends.row(w).iter().any(|b| *b))
    };
    let in_bends = Tensor::of_part(unfiltered.view(), CELL, bent_row).smoothed(sigma);
    assemble((levelled.pixels, filtered, unfiltered), &tensor, (&in_bends, &bends), &context, found, settings)
}

fn assemble(
    (levelled, filtered, unfiltered): (Array2<f32>, Array2<f32>, Array2<f32>),
    tensor: &Tensor,
    (in_bends, bends): (&Tensor, &Array2<bool>),
    context: &Context,
    found: foreground::Foreground,
    settings: &FieldSettings,
) -> RidgeField {
    let shape = tensor.energy.dim();
    let clear = Array2::from_shape_fn(shape, |at| (found.strength[at] / found.best.max(1e-6)).min(1.0));
    let weighted = |tensor: &Tensor, component: &Array2<f32>, at: [usize; 2]| {
        let scale = component[at] / tensor.energy[at].max(1e-9);
        if found.mask[at] { clear[at] * scale.clamp(-1.0, 1.0) } else { 0.0 }
    };
    let raw_cos2 = Array2::from_shape_fn(shape, |(r, c)| weighted(tensor, &tensor.cos2, [r, c]));
    let raw_sin2 = Array2::from_shape_fn(shape, |(r, c)| weighted(tensor, &tensor.sin2, [r, c]));
    // A cell lies inside a bend when the windows around it all do: at the rim the overlapping windows are incomplete.
    let at = |i: usize| ((i as f32 + 0.5) * CELL as f32 - 0.5) / spectrum::STRIDE as f32;
    let [at_rows, at_columns] = [shape.0, shape.1].map(|n| (0..n).map(at).collect::<Vec<f32>>());
    let near = |at: &[f32], n: usize| -> Vec<[usize; 2]> {
        at.iter().map(|v| [(v.floor() as usize).min(n - 1), (v.ceil() as usize).min(n - 1)]).collect()
    };
    let (rows, columns) = (near(&at_rows, bends.nrows()), near(&at_columns, bends.ncols()));
    let (mut bend_cos2, mut bend_sin2) = (raw_cos2.clone(), raw_sin2.clone());
    for (r, rows) in rows.iter().enumerate() {
        for (c, columns) in columns.iter().enumerate() {
            if rows.iter().all(|&i| columns.iter().all(|&j| bends[[i, j]])) {
                bend_cos2[[r, c]] = weighted(in_bends, &in_bends.cos2, [r, c]);
                bend_sin2[[r, c]] = weighted(in_bends, &in_bends.sin2, [r, c]);
            }
        }
    }
    let frequency = Array2::from_shape_vec(shape, read_crossings(&context.frequency, &at_rows, &at_columns));
    let period = frequency.unwrap_or_default().mapv(|f| 1.0 / f.max(1e-3));
    let (cos2, sin2, coherence) = adapt(&raw_cos2, &raw_sin2, &clear, &found.mask, settings);
    RidgeField {
        cell: CELL,
        cos2,
        sin2,
        coherence,
        period,
        foreground: found.mask,
        clarity: clear,
        best_strength: found.best,
        levelled,
        filtered,
        unfiltered,
        raw_cos2,
        raw_sin2,
        bend_cos2,
        bend_sin2,
    }
}

/// Smooths the flow as far as the print demands: lightly where it is clear or bends, heavily where it is poor and straight.
///
/// The length of the heavily smoothed vector tells a bend (short) from a straight run (long): a real bend, unlike noise,
/// leaves the lightly smoothed vector long.
fn adapt(
    raw_cos2: &Array2<f32>,
    raw_sin2: &Array2<f32>,
    clear: &Array2<f32>,
    mask: &Array2<bool>,
    settings: &FieldSettings,
) -> (Array2<f32>, Array2<f32>, Array2<f32>) {
    let weight = Array2::from_shape_fn(clear.dim(), |at| if mask[at] { clear[at] } else { 0.0 });
    let at_scale = |sigma_px: f32| {
        let sigma = sigma_px / CELL as f32;
        let total = smooth(&weight, sigma).mapv(|w| w.max(1e-6));
        (smooth(raw_cos2, sigma) / &total, smooth(raw_sin2, sigma) / &total)
    };
    let (light_c, light_s) = at_scale(settings.light_sigma_px);
    let (heavy_c, heavy_s) = at_scale(settings.heavy_sigma_px);
    let mut out = (Array2::zeros(clear.dim()), Array2::zeros(clear.dim()), Array2::zeros(clear.dim()));
    for ((r, c), &lc) in light_c.indexed_iter() {
        let at = [r, c];
        let (ls, hc, hs) = (light_s[at], heavy_c[at], heavy_s[at]);
        let (light, heavy) = (length(lc, ls).min(1.0), length(hc, hs).min(1.0));
        let doubt = 1.0 - clear[at] * light;
        let straight = (heavy * heavy / (light * light).max(1e-3)).min(1.0);
        let share = doubt * straight * straight;
        let (vc, vs) = (lc + share * (hc - lc), ls + share * (hs - ls));
        let long = length(vc, vs).max(1e-9);
        out.0[at] = vc / long;
        out.1[at] = vs / long;
        out.2[at] = light;
    }
    out
}
