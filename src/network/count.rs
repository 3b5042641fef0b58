//! The strip between delta and core of a loop to the number of ridges counted along it, by a small convolutional network.
//!
//! It has learned on drawn loops where the handbook puts delta and core, on which ridges, and which of the ridges between are met. The sum
//! over a map of ridges is the centre of the count, after Lempitsky and Zisserman 2010 (counting by the integral of a density).
//! Shape as in [`super`]. How the weights came to be is told in `models/network/README.md`.

use super::layers::{Convolution, Maps};
use super::strip::{BREADTH, LENGTH, STRIP_PLANES, Strip};
use super::{Guess, numbers, shape, taken};
use std::sync::OnceLock;

/// Two layers at each of five scales but the first, which has one; three up; the maps; two on the whole.
const SHAPES: [super::layers::Shape; 15] = [
    shape(STRIP_PLANES, 16, 5, 1),
    shape(16, 32, 3, 2),
    shape(32, 32, 3, 1),
    shape(32, 48, 3, 2),
    shape(48, 48, 3, 1),
    shape(48, 64, 3, 2),
    shape(64, 64, 3, 1),
    shape(64, 96, 3, 2),
    shape(96, 96, 3, 1),
    shape(96 + 64, 64, 3, 1),
    shape(64 + 48, 48, 3, 1),
    shape(48 + 32, 32, 3, 1),
    shape(32, MAPS, 1, 1),
    shape(96 * (LENGTH / 16), 64, 1, 1),
    shape(64, 2, 1, 1),
];
/// Ridges counted, delta, core. The last two only taught the network where to look.
const MAPS: usize = 3;

/// The weights, little-endian; another length does not compile.
static WEIGHTS: &[u8; 4 * numbers(&SHAPES)] = include_bytes!("../../models/network/count.bin");

/// Most ridges that it tells apart.
const MOST: usize = 48;
/// A count is never surer than this, ridges; readings of the drawn ridges themselves differ by more.
const LEAST_DEVIATION: f64 = 0.2;

/// The logarithm of a deviation was held between these in training.
const LOG_DEVIATION: [f64; 2] = [-1.5, 2.0];

/// The trained network.
#[derive(Debug, Clone)]
pub struct CountNetwork {
    layers: Vec<Convolution>,
}

impl CountNetwork {
    /// The network that comes with the program.
    pub fn embedded() -> &'static Self {
        static NETWORK: OnceLock<CountNetwork> = OnceLock::new();
        NETWORK.get_or_init(|| CountNetwork { layers: taken(WEIGHTS, &SHAPES) })
    }

    /// Counts the ridges on a strip.
    pub fn count(&self, strip: &Strip) -> Guess {
        let (answers, maps) = self.run(strip.planes());
        let ridges = maps.values.row(0);
        let sum: f64 = ridges.iter().map(|v| softplus(f64::from(*v))).sum();
        let deviation = f64::from(answers[1]).clamp(LOG_DEVIATION[0], LOG_DEVIATION[1]).exp();
        counted(sum + f64::from(answers[0]), deviation)
    }

    /// The numbers about the whole and the maps.
    fn run(&self, planes: Vec<f32>) -> (Vec<f32>, Maps) {
        let [a, b1, b2, c1, c2, d1, d2, e1, e2, ud, uc, ub, out, h1, h2] = self.layers.as_slice() else {
            unreachable!("there are as many layers as shapes")
        };
        let b = b2.rectified(&b1.rectified(&a.rectified(&Maps::of(planes, (BREADTH, LENGTH)))));
        let c = c2.rectified(&c1.rectified(&b));
        let d = d2.rectified(&d1.rectified(&c));
        let e = e2.rectified(&e1.rectified(&d));
        let answers = h2.sums(&h1.rectified(&e.mean_of_rows().whole()));
        let u = ud.rectified(&e.doubled().beside(&d));
        let u = uc.rectified(&u.doubled().beside(&c));
        let u = ub.rectified(&u.doubled().beside(&b));
        (answers.values.iter().copied().collect(), out.sums(&u))
    }
}

/// Mean and deviation of a whole count of at least one and at most [`MOST`] ridges: so it was learned, and near one the centre of the
/// distribution says little. Where the deviation is small the mean is drawn to the nearest whole number.
fn counted(centre: f64, deviation: f64) -> Guess {
    let logs = |k: usize| -0.5 * ((k as f64 - centre) / deviation).powi(2);
    let top = (1..=MOST).map(logs).fold(f64::NEG_INFINITY, f64::max);
    let shares: Vec<(f64, f64)> = (1..=MOST).map(|k| (k as f64, (logs(k) - top).exp())).collect();
    let total: f64 = shares.iter().map(|(_, p)| p).sum();
    let value = shares.iter().map(|(k, p)| k * p).sum::<f64>() / total;
    let square = shares.iter().map(|(k, p)| (k - value).powi(2) * p).sum::<f64>() / total;
    Guess { value, deviation: square.sqrt().max(LEAST_DEVIATION) }
}

fn softplus(v: f64) -> f64 {
    v.max(0.0) + (-v.abs()).exp().ln_1p()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_is_one_at_least_and_whole() {
        let far = counted(12.3, 1.1);
        approx::assert_abs_diff_eq!(far.value, 12.3, epsilon = 1e-3);
        approx::assert_abs_diff_eq!(far.deviation, 1.1, epsilon = 1e-3);
        let sure = counted(12.3, 0.25);
        assert!(sure.value > 12.0 && sure.value < 12.1, "{sure:?}");
        // By hand: of the distribution about -1 with deviation 1, one keeps 0.922, two 0.0757 and three 0.0023.
        let few = counted(-1.0, 1.0);
        approx::assert_abs_diff_eq!(few.value, 1.0803, epsilon = 1e-3);
        assert!(few.deviation < 0.35);
    }

    /// Against PyTorch 2.15 on the same weights and a strip by formula (`models/network/fit_count.py`, its `Count`): an independent
    /// implementation of every layer.
    #[test]
    fn the_layers_agree_with_a_reference_library() {
        let place = |i: usize| ((i % LENGTH) as f64, (i / LENGTH) as f64);
        let wave = |(x, y): (f64, f64)| 0.8 * (1.2 * x + 0.1 * y + 0.0008 * x * y).cos();
        let bump = |(x, y): (f64, f64), at: f64| (-((x - at).powi(2) + (y - 32.0).powi(2)) / 112.0).exp();
        let plain = |(x, y): (f64, f64)| 0.6 * (1.2 * x + 0.12 * y + 0.0009 * x * y).cos();
        let mark = |p| bump(p, 30.0) - bump(p, 130.0);
        let all = || (0..LENGTH * BREADTH).map(place);
        let planes = all().map(wave).chain(all().map(plain)).chain(all().map(mark)).map(|v| v as f32).collect();
        let (answers, maps) = CountNetwork::embedded().run(planes);
        for (got, wanted) in answers.iter().zip([0.1209, -0.17097]) {
            approx::assert_abs_diff_eq!(*got, wanted, epsilon = 2e-4);
        }
        for (map, (mean, one)) in
            maps.values.rows().into_iter().zip([(-14.12284, -2.5233), (-12.4072, -6.99691), (-11.48777, -5.79826)])
        {
            approx::assert_abs_diff_eq!(map.mean().unwrap_or(f32::NAN), mean, epsilon = 2e-4);
            approx::assert_abs_diff_eq!(map[15 * LENGTH / 2 + 37], one, epsilon = 2e-4);
        }
    }
}
