//! The print about a core or delta to its exact place, by a small convolutional network.
//!
//! The flow near a point is smoothed before its turn is found, and the network of the whole print sees four samples a ridge: this one has
//! learned on drawn prints where the point of the undisturbed flow lies among the ridges that are there. Shape as in [`super`].
//! How the weights came to be is told in `models/network/README.md`.

use super::layers::{Convolution, Maps};
use super::patch::{EDGE, PATCH_PLANES, Patch};
use super::{numbers, shape, taken};
use crate::field::RidgeField;
use crate::geometry::Point;
use std::sync::OnceLock;

/// Two layers at each of three scales, two on the whole.
const SHAPES: [super::layers::Shape; 8] = [
    shape(PATCH_PLANES, 16, 5, 2),
    shape(16, 24, 3, 1),
    shape(24, 32, 3, 2),
    shape(32, 32, 3, 1),
    shape(32, 48, 3, 2),
    shape(48, 48, 3, 1),
    shape(48 * (EDGE / 8) * (EDGE / 8), 64, 1, 1),
    shape(64, 6, 1, 1),
];

/// The weights, little-endian; another length does not compile.
static WEIGHTS: &[u8; 4 * numbers(&SHAPES)] = include_bytes!("../../models/network/points.bin");

/// The logarithm of a deviation was held between these in training.
const LOG_DEVIATION: [f64; 2] = [-4.0, 1.0];
/// Farther than this from where it was found, in ridge periods, the network has not learned to look: it keeps its place.
const FARTHEST_PERIODS: f64 = 1.6;

/// A place of a point with its doubt.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Place in working pixels.
    pub at: Point,
    /// Standard deviation of the place on each axis, working pixels, above 0.
    pub sigma_px: f64,
}

/// The trained network.
#[derive(Debug, Clone)]
pub struct PlaceNetwork {
    layers: Vec<Convolution>,
}

impl PlaceNetwork {
    /// The network that comes with the program.
    pub fn embedded() -> &'static Self {
        static NETWORK: OnceLock<PlaceNetwork> = OnceLock::new();
        NETWORK.get_or_init(|| PlaceNetwork { layers: taken(WEIGHTS, &SHAPES) })
    }

    /// Places a core that was found at `at` (working pixels) and opens toward `opening` (radians), or, without one, a delta; none where it
    /// would lie too far off.
    pub fn place(&self, field: &RidgeField, at: Point, opening: Option<f64>) -> Option<Placed> {
        let patch = Patch::of(field, at, opening, EDGE);
        let answers = self.run(patch.planes.clone());
        let first = if opening.is_some() { 0 } else { 3 };
        let [x, y, log_deviation] = [0, 1, 2].map(|i| f64::from(answers[first + i]));
        let sigma = log_deviation.clamp(LOG_DEVIATION[0], LOG_DEVIATION[1]).exp();
        (x.hypot(y) <= FARTHEST_PERIODS)
            .then(|| Placed { at: patch.place(Point::new(x, y)), sigma_px: sigma * patch.period })
    }

    /// Right, down and logarithm of the deviation of a core, then of a delta, in ridge periods.
    fn run(&self, planes: Vec<f32>) -> Vec<f32> {
        let [a, b, c1, c2, d1, d2, h1, h2] = self.layers.as_slice() else {
            unreachable!("there are as many layers as shapes")
        };
        let fine = b.rectified(&a.rectified(&Maps::of(planes, (EDGE, EDGE))));
        let coarse = d2.rectified(&d1.rectified(&c2.rectified(&c1.rectified(&fine))));
        h2.sums(&h1.rectified(&coarse.whole())).values.iter().copied().collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against PyTorch 2.15 on the same weights and a patch by formula (`models/network/fit_points.py`, its `Place`): an independent
    /// implementation of every layer.
    #[test]
    fn the_layers_agree_with_a_reference_library() {
        let place = |i: usize| ((i % EDGE) as f64, (i / EDGE) as f64);
        let filtered = |(x, y): (f64, f64)| 0.8 * (1.5 * x + 0.1 * y + 0.004 * x * y).cos();
        let plain = |(x, y): (f64, f64)| 0.6 * (1.4 * x + 0.2 * y + 0.005 * x * y).cos();
        let all = || (0..EDGE * EDGE).map(place);
        let planes = all().map(filtered).chain(all().map(plain)).map(|v| v as f32).collect();
        let expected = [0.09463, 0.00537, -0.88197, 0.09139, 0.02798, -0.95204];
        for (got, wanted) in PlaceNetwork::embedded().run(planes).iter().zip(expected) {
            approx::assert_abs_diff_eq!(*got, wanted, epsilon = 2e-4);
        }
    }
}
