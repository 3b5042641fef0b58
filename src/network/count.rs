//! The strip between delta and core of a loop to the number of ridges counted along it, by a small convolutional network.
//!
//! It has learned on drawn loops where the handbook puts delta and core, on which ridges, and which of the ridges between are met. The sum
//! over a map of ridges is the count, after Lempitsky and Zisserman 2010 (counting by the integral of a density).
//! Shape as in [`super`]. How the weights came to be is told in `models/network/README.md`.

use super::layers::{Convolution, Maps};
use super::strip::{BREADTH, LENGTH, STRIP_PLANES, Strip};
use super::{Guess, numbers, shape, taken};
use std::sync::OnceLock;

/// Two layers at each of five scales but the first, which has one; three up; the maps; two on the whole.
const SHAPES: [super::layers::Shape; 15] = [
    shape(STRIP_PLANES, 12, 5, 1),
    shape(12, 24, 3, 2),
    shape(24, 24, 3, 1),
    shape(24, 32, 3, 2),
    shape(32, 32, 3, 1),
    shape(32, 48, 3, 2),
    shape(48, 48, 3, 1),
    shape(48, 64, 3, 2),
    shape(64, 64, 3, 1),
    shape(64 + 48, 48, 3, 1),
    shape(48 + 32, 32, 3, 1),
    shape(32 + 24, 24, 3, 1),
    shape(24, MAPS, 1, 1),
    shape(64 * (LENGTH / 16), 64, 1, 1),
    shape(64, 2, 1, 1),
];
/// Ridges counted, delta, core. The last two only taught the network where to look.
const MAPS: usize = 3;

/// The weights, little-endian; another length does not compile.
static WEIGHTS: &[u8; 4 * numbers(&SHAPES)] = include_bytes!("../../models/network/count.bin");

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
        Guess {
            value: sum + f64::from(answers[0]),
            deviation: f64::from(answers[1]).clamp(LOG_DEVIATION[0], LOG_DEVIATION[1]).exp(),
        }
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

fn softplus(v: f64) -> f64 {
    v.max(0.0) + (-v.abs()).exp().ln_1p()
}

#[cfg(test)]
mod tests {
    use super::*;

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
        for (got, wanted) in answers.iter().zip([0.52033, -0.0555]) {
            approx::assert_abs_diff_eq!(*got, wanted, epsilon = 2e-4);
        }
        for (map, (mean, one)) in
            maps.values.rows().into_iter().zip([(-13.23807, -2.55313), (-7.52617, -3.6104), (-8.69204, -3.29926)])
        {
            approx::assert_abs_diff_eq!(map.mean().unwrap_or(f32::NAN), mean, epsilon = 2e-4);
            approx::assert_abs_diff_eq!(map[15 * LENGTH / 2 + 37], one, epsilon = 2e-4);
        }
    }
}
