//! The whole print of a whorl to the number of ridges between its traced ridge and its right delta, by a convolutional network.
//!
//! It has learned on drawn whorls where cores and deltas lie and where the traced ridge runs, and from that how many ridges lie between. One
//! wrong limb of a fork leads elsewhere altogether, so it may tell two numbers with their shares (a mixture after Bishop 1994). Two of
//! one shape, trained apart, are heard alike: where they err is partly chance (Hansen and Salamon 1990).
//! Shape as in [`super`]. How the weights came to be is told in `models/network/README.md`.

use super::layers::{Convolution, Maps, Shape, deepened};
use super::sample::{CELLS, PLANES, SAMPLES, Sample};
use super::{Guess, RIDGES, numbers, shape, taken, two_normals};
use std::sync::OnceLock;

/// Three layers on the print, one that joins it with the field, three at each of three coarser scales, one more down, two on the whole.
const SHAPES: [Shape; 16] = [
    shape(1, 16, 5, 2),
    shape(16, 24, 3, 1),
    shape(24, 40, 3, 2),
    shape(PLANES + 40, 56, 3, 1),
    shape(56, 64, 3, 2),
    shape(64, 64, 3, 1),
    shape(64, 64, 3, 1),
    shape(64, 96, 3, 2),
    shape(96, 96, 3, 1),
    shape(96, 96, 3, 1),
    shape(96, 128, 3, 2),
    shape(128, 128, 3, 1),
    shape(128, 128, 3, 1),
    shape(128, 128, 3, 2),
    shape(128 * 16, 160, 1, 1),
    shape(160, ANSWERS, 1, 1),
];
/// Value and logarithm of the deviation of either number, and how the shares part.
const ANSWERS: usize = 5;

/// The weights of either network, little-endian; another length does not compile.
static WEIGHTS: [&[u8; 4 * numbers(&SHAPES)]; NETWORKS] =
    [include_bytes!("../../models/network/trace.bin"), include_bytes!("../../models/network/trace_second.bin")];
/// Networks that are heard.
const NETWORKS: usize = 2;

/// The logarithm of a deviation was held between these in training.
const LOG_DEVIATION: [f64; 2] = [-1.0, 2.5];

/// Ridges between as the networks tell them: numbers, inside positive, with shares that add to 1.
#[derive(Debug, Clone, PartialEq)]
pub struct Between {
    /// Share and number; at least one.
    pub parts: Vec<(f64, Guess)>,
}

impl Between {
    /// The likeliest of the numbers; its deviation spans all.
    pub fn guess(&self) -> Guess {
        let density = |at: f64| -> f64 {
            let at_part =
                |(s, g): &(f64, Guess)| s / g.deviation * (-0.5 * ((at - g.value) / g.deviation).powi(2)).exp();
            self.parts.iter().map(at_part).sum()
        };
        let values = self.parts.iter().map(|(_, g)| (g.value, density(g.value)));
        let value = values.fold((0.0, 0.0), |most, v| if v.1 > most.1 { v } else { most }).0;
        let squares: f64 = self.parts.iter().map(|(s, g)| s * (g.deviation.powi(2) + (g.value - value).powi(2))).sum();
        Guess { value, deviation: squares.sqrt() }
    }
}

/// The trained networks.
#[derive(Debug, Clone)]
pub struct TraceNetwork {
    layers: [Vec<Convolution>; NETWORKS],
}

impl TraceNetwork {
    /// The networks that come with the program.
    pub fn embedded() -> &'static Self {
        static NETWORK: OnceLock<TraceNetwork> = OnceLock::new();
        NETWORK.get_or_init(|| TraceNetwork { layers: WEIGHTS.map(|w| taken(w, &SHAPES)) })
    }

    /// Tells the ridges between of the whorl on a sample.
    pub fn between(&self, sample: &Sample) -> Between {
        let in_ridges = |guess: Guess| Guess { value: RIDGES * guess.value, ..guess };
        let told = self
            .layers
            .iter()
            .flat_map(|layers| two_normals(&run(layers, sample.planes.clone(), sample.print.clone()), LOG_DEVIATION));
        Between { parts: told.map(|(share, guess)| (share / NETWORKS as f64, in_ridges(guess))).collect() }
    }
}

/// The answers of one network.
fn run(layers: &[Convolution], planes: Vec<f32>, print: Vec<f32>) -> Vec<f32> {
    let [i1, i2, i3, f1, d1, d1b, d1c, d2, d2b, d2c, d3, d3b, d3c, d4, h1, h2] = layers else {
        unreachable!("there are as many layers as shapes")
    };
    let seen = i3.rectified(&i2.rectified(&i1.rectified(&Maps::of(print, (SAMPLES, SAMPLES)))));
    let a = f1.rectified(&Maps::of(planes, (CELLS, CELLS)).beside(&seen));
    let b = deepened([d1, d1b, d1c], &a);
    let c = deepened([d2, d2b, d2c], &b);
    let d = deepened([d3, d3b, d3c], &c);
    let e = d4.rectified(&d);
    h2.sums(&h1.rectified(&e.whole())).values.iter().copied().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against PyTorch 2.15 on the same weights and a print by formula (`models/network/fit_trace.py`, its `Trace`): an independent
    /// implementation of every layer.
    #[test]
    fn the_layers_agree_with_a_reference_library() {
        let (planes, print) = super::super::tests::by_formula();
        let wanted = [[1.13056, 1.50452, 0.27118, 1.66979, -1.01503], [0.90163, 1.01973, 1.15013, 0.98845, -1.12162]];
        for (layers, wanted) in TraceNetwork::embedded().layers.iter().zip(wanted) {
            for (got, wanted) in run(layers, planes.clone(), print.clone()).iter().zip(wanted) {
                approx::assert_abs_diff_eq!(*got, wanted, epsilon = 2e-4);
            }
        }
    }

    #[test]
    fn two_numbers_that_differ_leave_a_wide_doubt() {
        let guess = |value| Guess { value, deviation: 0.5 };
        let both = Between { parts: vec![(0.75, guess(6.0)), (0.25, guess(-2.0))] };
        assert_eq!(both.guess().value, 6.0);
        // By hand: 0.25 + 0.25 * 64.
        approx::assert_abs_diff_eq!(both.guess().deviation, 16.25f64.sqrt(), epsilon = 1e-12);
        let one = Between { parts: vec![(1.0, guess(6.0)), (0.0, guess(-2.0))] };
        assert_eq!(one.guess(), guess(6.0));
        // Two that nearly agree are likelier together than one with a larger share of its own.
        let agreed = Between { parts: vec![(0.4, guess(-5.0)), (0.3, guess(3.0)), (0.3, guess(3.2))] };
        assert_eq!(agreed.guess().value, 3.0);
    }
}
