//! Ridge field to a first sight of the whole print, by a small convolutional network.
//!
//! The rooms below measure; this one has seen many drawn prints and says at a glance which kind a print looks like and
//! where cores and deltas lie. Its sight is one witness among others: [`crate::singular`] takes its places as candidates and their
//! strength as a fact, [`crate::pattern`] weighs its kinds against the measured facts. Shape of the network after Ronneberger, Fischer and
//! Brox 2015 (a path down to coarse maps and up again, joined at every scale), points as peaks of a map with an offset after Zhou, Wang and
//! Krähenbühl 2019. How the weights came to be is told in `models/network/README.md`.

pub mod count;
mod layers;
pub mod patch;
pub mod place;
pub mod sample;
pub mod strip;
pub mod trace;

use crate::geometry::Point;
use layers::{Convolution, Maps, Shape};
use sample::{CELLS, PLANES, SAMPLES, Sample};
use std::sync::OnceLock;

/// Kinds that are told apart: plain arch, tented arch, left loop, right loop, plain whorl, central pocket loop, double loop,
/// accidental.
pub const KINDS: usize = 8;

const fn shape(inputs: usize, outputs: usize, window: usize, stride: usize) -> Shape {
    Shape { inputs, outputs, window, stride }
}

/// The layers in the order of their numbers: two on the print, one that joins it with the field, seven down, four up, the
/// maps, two on the whole.
const SHAPES: [Shape; 17] = [
    shape(1, 8, 5, 2),
    shape(8, 16, 3, 2),
    shape(PLANES + 16, 24, 3, 1),
    shape(24, 32, 3, 2),
    shape(32, 32, 3, 1),
    shape(32, 48, 3, 2),
    shape(48, 48, 3, 1),
    shape(48, 64, 3, 2),
    shape(64, 64, 3, 1),
    shape(64, 64, 3, 2),
    shape(64 + 64, 48, 3, 1),
    shape(48 + 48, 32, 3, 1),
    shape(32 + 32, 24, 3, 1),
    shape(24 + 24, 16, 3, 1),
    shape(16, MAPS, 1, 1),
    shape(64 * 16, 96, 1, 1),
    shape(96, ANSWERS, 1, 1),
];

/// Maps of the points: strength of a core that opens downward, of one that opens upward, of a delta; then the offset right
/// and down of each.
const MAPS: usize = 9;
/// Numbers about the whole print: first those of the kinds; the others only taught the network where to look, [`trace`] and [`count`] tell
/// better.
const ANSWERS: usize = 12;

/// Numbers of all layers together.
const fn numbers(shapes: &[Shape]) -> usize {
    let (mut sum, mut i) = (0, 0);
    while i < shapes.len() {
        sum += shapes[i].numbers();
        i += 1;
    }
    sum
}

/// The layers of these shapes from their weights, little-endian.
fn taken(weights: &[u8], shapes: &[Shape]) -> Vec<Convolution> {
    let (words, _) = weights.as_chunks::<4>();
    let mut numbers = words.iter().map(|b| f32::from_le_bytes(*b));
    shapes.iter().map(|s| Convolution::take(&mut numbers, *s)).collect()
}

/// The weights, little-endian; another length does not compile.
static WEIGHTS: &[u8; 4 * numbers(&SHAPES)] = include_bytes!("../../models/network/weights.bin");

/// Share, value and deviation of each of two normal distributions from five answers of a network: value and logarithm of the deviation of
/// either, held between `limits` in training, and how the shares part.
fn two_normals(answers: &[f32], [least, most]: [f64; 2]) -> [(f64, Guess); 2] {
    let answer = |at: usize| f64::from(answers[at]);
    let guess = |at: usize| Guess { value: answer(at), deviation: answer(at + 1).clamp(least, most).exp() };
    let second = 1.0 / (1.0 + (-answer(4)).exp());
    [(1.0 - second, guess(0)), (second, guess(2))]
}

/// What a point is taken for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mark {
    /// A core that opens downward.
    LoopCore,
    /// A core that opens upward.
    UpturnedCore,
    /// A delta.
    Delta,
}

impl Mark {
    const ALL: [Mark; 3] = [Mark::LoopCore, Mark::UpturnedCore, Mark::Delta];
}

/// A place where a point is seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Peak {
    /// What it is taken for.
    pub mark: Mark,
    /// Place in working pixels.
    pub at: Point,
    /// How firmly, 0 to 1.
    pub strength: f64,
}

/// A number read off the whole print.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Guess {
    /// Most probable value.
    pub value: f64,
    /// Standard deviation, above 0.
    pub deviation: f64,
}

/// What the network sees on one print.
#[derive(Debug, Clone, PartialEq)]
pub struct Sight {
    /// Share of each kind, [`KINDS`], adding to 1.
    pub kinds: [f64; KINDS],
    /// Points, firmest first.
    pub peaks: Vec<Peak>,
}

/// Peaks of one mark nearer than this to a firmer one are the same point, ridge periods.
const SAME_PERIODS: f64 = 1.2;
/// Ridges to one of the network's units.
const RIDGES: f64 = 8.0;
/// Cells to each side of a peak that are heard about its place.
const HEARD_CELLS: usize = 1;
/// They mean the same point when they place it this near, ridge periods.
const ONE_POINT_PERIODS: f64 = 0.6;
/// Fainter peaks are not told.
const FAINTEST: f64 = 0.05;

/// The trained network.
#[derive(Debug, Clone)]
pub struct Network {
    layers: Vec<Convolution>,
}

impl Network {
    /// The network that comes with the program.
    pub fn embedded() -> &'static Self {
        static NETWORK: OnceLock<Network> = OnceLock::new();
        NETWORK.get_or_init(|| Network { layers: taken(WEIGHTS, &SHAPES) })
    }

    /// Looks at a sample.
    pub fn look(&self, sample: &Sample) -> Sight {
        let (answers, maps) = self.run(sample.planes.clone(), sample.print.clone());
        let kinds = shares(&answers);
        let mut peaks: Vec<Peak> = Mark::ALL.iter().enumerate().flat_map(|(k, mark)| peaks(&maps, k, *mark)).collect();
        for peak in &mut peaks {
            peak.at =
                Point::new(sample.middle.x + peak.at.x * sample.period, sample.middle.y + peak.at.y * sample.period);
        }
        peaks.sort_by(|a, b| b.strength.total_cmp(&a.strength));
        Sight { kinds, peaks }
    }

    /// Share of each kind, [`KINDS`], on the mirror image of a sample, with the loops exchanged again. Part of what the network errs by about
    /// the kinds of whorl is chance, and less of it is left in the mean of both.
    pub fn kinds_in_mirror(&self, sample: &Sample) -> [f64; KINDS] {
        let Sample { planes, print, .. } = sample.mirrored();
        let mut kinds = shares(&self.seen(planes, print).answers);
        kinds.swap(LEFT_LOOP, RIGHT_LOOP);
        kinds
    }

    /// The way down and the numbers about the whole.
    fn seen(&self, planes: Vec<f32>, print: Vec<f32>) -> Seen {
        let [i1, i2, f1, d1, d1b, d2, d2b, d3, d3b, d4, .., h1, h2] = self.layers.as_slice() else {
            unreachable!("there are as many layers as shapes")
        };
        let print = i2.rectified(&i1.rectified(&Maps::of(print, (SAMPLES, SAMPLES))));
        let a = f1.rectified(&Maps::of(planes, (CELLS, CELLS)).beside(&print));
        let b = d1b.rectified(&d1.rectified(&a));
        let c = d2b.rectified(&d2.rectified(&b));
        let d = d3b.rectified(&d3.rectified(&c));
        let e = d4.rectified(&d);
        let answers = h2.sums(&h1.rectified(&e.clone().whole())).values.iter().copied().collect();
        Seen { scales: [a, b, c, d, e], answers }
    }

    /// The numbers about the whole and the maps.
    fn run(&self, planes: Vec<f32>, print: Vec<f32>) -> (Vec<f32>, Maps) {
        let [.., u2, u1, u0, uf, out, _, _] = self.layers.as_slice() else {
            unreachable!("there are as many layers as shapes")
        };
        let Seen { scales: [a, b, c, d, e], answers } = self.seen(planes, print);
        let u = u2.rectified(&e.doubled().beside(&d));
        let u = u1.rectified(&u.doubled().beside(&c));
        let u = u0.rectified(&u.doubled().beside(&b));
        let u = uf.rectified(&u.doubled().beside(&a));
        (answers, out.sums(&u))
    }
}

/// What the way down gives.
struct Seen {
    /// The maps from the finest scale to the coarsest.
    scales: [Maps; 5],
    /// The numbers about the whole, [`ANSWERS`].
    answers: Vec<f32>,
}

/// Places of the loops among the kinds; a mirror makes one of the other.
const LEFT_LOOP: usize = 2;
const RIGHT_LOOP: usize = 3;

/// Shares of the kinds from the numbers about the whole.
fn shares(answers: &[f32]) -> [f64; KINDS] {
    let mut kinds: [f64; KINDS] = std::array::from_fn(|k| f64::from(answers[k]));
    let top = kinds.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    kinds.iter_mut().for_each(|k| *k = (*k - top).exp());
    let total: f64 = kinds.iter().sum();
    kinds.map(|k| k / total)
}

/// The peaks of map `k`, places in ridge periods from the middle. Every cell about a peak tells where the point lies; those that mean
/// the same one are heard together.
fn peaks(maps: &Maps, k: usize, mark: Mark) -> Vec<Peak> {
    let value = |map: usize, cell: usize| f64::from(maps.values[[map, cell]]);
    let from_middle = |i: usize| i as f64 + 0.5 - 0.5 * CELLS as f64;
    let told = |cell: usize| {
        Point::new(
            from_middle(cell % CELLS) + value(3 + 2 * k, cell),
            from_middle(cell / CELLS) + value(4 + 2 * k, cell),
        )
    };
    let mut found: Vec<(usize, f64)> = (0..CELLS * CELLS)
        .map(|cell| (cell, 1.0 / (1.0 + (-value(k, cell)).exp())))
        .filter(|(_, strength)| *strength >= FAINTEST)
        .collect();
    found.sort_by(|a, b| b.1.total_cmp(&a.1));
    let mut kept: Vec<(usize, Peak)> = Vec::new();
    for (cell, strength) in found {
        let at = told(cell);
        if kept.iter().all(|(_, k)| k.at.distance(at) >= SAME_PERIODS) {
            kept.push((cell, Peak { mark, at, strength }));
        }
    }
    let near = |i: usize| i.saturating_sub(HEARD_CELLS)..=(i + HEARD_CELLS).min(CELLS - 1);
    for (cell, peak) in &mut kept {
        let (mut x, mut y, mut voices) = (0.0, 0.0, 0.0);
        for (row, column) in near(*cell / CELLS).flat_map(|r| near(*cell % CELLS).map(move |c| (r, c))) {
            let at = told(row * CELLS + column);
            if at.distance(peak.at) < ONE_POINT_PERIODS {
                (x, y, voices) = (x + at.x, y + at.y, voices + 1.0);
            }
        }
        peak.at = Point::new(x / voices, y / voices);
    }
    kept.into_iter().map(|(_, peak)| peak).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A field and a print by formula, for comparisons with a reference library.
    pub(super) fn by_formula() -> (Vec<f32>, Vec<f32>) {
        let mut planes = Vec::new();
        for plane in 0..PLANES {
            for i in 0..CELLS * CELLS {
                let (x, y) = ((i % CELLS) as f32, (i / CELLS) as f32);
                let turn = 0.1 * x + 0.05 * y;
                planes.push([turn.cos(), turn.sin(), 1.0, 0.5 + 0.4 * (0.07 * x).cos()][plane]);
            }
        }
        let wave = |i: usize| {
            let (x, y) = ((i % SAMPLES) as f64, (i / SAMPLES) as f64);
            (0.8 * (0.9 * x + 0.4 * y + 0.0008 * x * y).cos()) as f32
        };
        (planes, (0..SAMPLES * SAMPLES).map(wave).collect())
    }

    /// Against PyTorch 2.15 on the same weights and a sample by formula (`models/network/fit.py`, its `Net`): an independent
    /// implementation of every layer.
    #[test]
    fn the_layers_agree_with_a_reference_library() {
        let (planes, print) = by_formula();
        let (answers, maps) = Network::embedded().run(planes, print);
        let expected = [
            0.91063, -1.18435, 0.01589, -1.62922, -2.65766, -1.09024, -2.70991, -1.4868, 0.66375, -0.07232, 1.45606,
            -0.27932,
        ];
        for (got, wanted) in answers.iter().zip(expected) {
            approx::assert_abs_diff_eq!(*got, wanted, epsilon = 2e-4);
        }
        let expected = [
            (-5.95438, -6.34475),
            (-5.68953, -5.54441),
            (-5.74026, -6.04968),
            (0.05893, 0.08974),
            (-0.30392, -0.42849),
            (-0.06221, -0.14472),
            (0.03901, -0.08422),
            (-0.24539, -0.28371),
            (0.56683, 0.72105),
        ];
        for (map, (mean, one)) in maps.values.rows().into_iter().zip(expected) {
            approx::assert_abs_diff_eq!(map.mean().unwrap_or(f32::NAN), mean, epsilon = 2e-4);
            approx::assert_abs_diff_eq!(map[20 * CELLS + 37], one, epsilon = 2e-4);
        }
    }

    #[test]
    fn a_mirror_image_is_looked_at_as_itself_with_the_loops_exchanged() {
        let (planes, print) = by_formula();
        let sample = Sample { middle: Point::default(), period: 9.0, planes, print };
        let straight = Network::embedded().look(&sample.mirrored()).kinds;
        let in_mirror = Network::embedded().kinds_in_mirror(&sample);
        assert!((straight[LEFT_LOOP] - straight[RIGHT_LOOP]).abs() > 1e-3, "{straight:?}");
        assert_eq!(straight[LEFT_LOOP], in_mirror[RIGHT_LOOP]);
        assert_eq!((straight[0], straight[7]), (in_mirror[0], in_mirror[7]));
    }
}
