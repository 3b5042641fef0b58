//! The strip between delta and core of a loop to the number of ridges counted along it, by a small convolutional network.
//!
//! It has learned on drawn loops where the handbook puts delta and core, on which ridges, and which of the ridges between are met. The sum
//! over a map of ridges is the centre of the count, after Lempitsky and Zisserman 2010 (counting by the integral of a density).
//! Where two counts are likely it tells both with their shares. Two of one shape are heard, trained from two beginnings, one of them
//! longer: where they err is partly chance (Hansen and Salamon 1990). Where the line runs along the legs of the loop it is another pair, which has
//! learned on such loops as well. Shape as in [`super`]. How the weights came to be is told in `models/network/README.md`.

use super::layers::{Convolution, Maps, Shape, deepened};
use super::strip::{BREADTH, LENGTH, STRIP_PLANES, Strip};
use super::{numbers, shape, taken, two_normals};
use std::sync::OnceLock;

/// Two layers on the strip, three at each of four coarser scales; three up; the maps; two on the whole.
const SHAPES: [Shape; 20] = [
    shape(STRIP_PLANES, 16, 5, 1),
    shape(16, 24, 3, 1),
    shape(24, 40, 3, 2),
    shape(40, 40, 3, 1),
    shape(40, 40, 3, 1),
    shape(40, 64, 3, 2),
    shape(64, 64, 3, 1),
    shape(64, 64, 3, 1),
    shape(64, 96, 3, 2),
    shape(96, 96, 3, 1),
    shape(96, 96, 3, 1),
    shape(96, 128, 3, 2),
    shape(128, 128, 3, 1),
    shape(128, 128, 3, 1),
    shape(128 + 96, 64, 3, 1),
    shape(64 + 64, 48, 3, 1),
    shape(48 + 40, 24, 3, 1),
    shape(24, MAPS, 1, 1),
    shape(128 * (LENGTH / 16), 96, 1, 1),
    shape(96, ANSWERS, 1, 1),
];
/// Ridges counted, delta, core. The last two only taught the network where to look.
const MAPS: usize = 3;
/// What either count has more than the sum of the map, and the logarithm of its deviation; how the shares part.
const ANSWERS: usize = 5;

/// The weights of a network, little-endian; another length does not compile.
type Weights = [u8; 4 * numbers(&SHAPES)];
/// Those for lines across the legs.
static ACROSS: [&Weights; NETWORKS] =
    [include_bytes!("../../models/network/count.bin"), include_bytes!("../../models/network/count_second.bin")];
/// Those for lines along the legs.
static ALONG: [&Weights; NETWORKS] = [
    include_bytes!("../../models/network/count_along.bin"),
    include_bytes!("../../models/network/count_along_second.bin"),
];
/// Networks that are heard.
const NETWORKS: usize = 2;
/// The share in which each is heard: they err alike often.
const HEARD: [f64; NETWORKS] = [0.5, 0.5];

/// Most ridges that it tells apart.
const MOST: usize = 48;

/// The logarithm of a deviation was held between these in training.
const LOG_DEVIATION: [f64; 2] = [-1.5, 2.0];

/// Counts with their shares, as the networks tell them or weighed with what is read.
#[derive(Debug, Clone, PartialEq)]
pub struct CountShares {
    /// Share of every count from one on, adding to 1.
    pub shares: Vec<f64>,
}

impl CountShares {
    /// The likeliest count.
    pub fn likeliest(&self) -> u16 {
        let shares = self.shares.iter().enumerate();
        1 + shares.fold((0, 0.0), |best, (k, p)| if *p > best.1 { (k, *p) } else { best }).0 as u16
    }

    /// Least and most count when at most a share `beyond` (below one half) is left out at either end.
    pub fn range(&self, beyond: f64) -> (u16, u16) {
        let left_out = |counts: &mut dyn Iterator<Item = &f64>| {
            let so_far = counts.scan(0.0, |sum, share| {
                *sum += share;
                Some(*sum)
            });
            so_far.take_while(|sum| *sum <= beyond).count() as u16
        };
        let most = self.shares.len() as u16;
        (1 + left_out(&mut self.shares.iter()), most - left_out(&mut self.shares.iter().rev()))
    }
}

/// The trained networks.
#[derive(Debug, Clone)]
pub struct CountNetwork {
    layers: [Vec<Convolution>; NETWORKS],
}

impl CountNetwork {
    /// The networks that come with the program for lines across the legs of a loop.
    pub fn across_the_legs() -> &'static Self {
        static NETWORK: OnceLock<CountNetwork> = OnceLock::new();
        NETWORK.get_or_init(|| Self::of(ACROSS))
    }

    /// The networks that come with the program for lines along the legs of a loop.
    pub fn along_the_legs() -> &'static Self {
        static NETWORK: OnceLock<CountNetwork> = OnceLock::new();
        NETWORK.get_or_init(|| Self::of(ALONG))
    }

    fn of(weights: [&Weights; NETWORKS]) -> Self {
        Self { layers: weights.map(|w| taken(w, &SHAPES)) }
    }

    /// Counts the ridges on a strip.
    pub fn count(&self, strip: &Strip) -> CountShares {
        let told = self.layers.iter().zip(HEARD).flat_map(|(layers, heard)| {
            let (answers, maps) = run(layers, strip.planes());
            let ridges = maps.values.row(0);
            let sum: f64 = ridges.iter().map(|v| softplus(f64::from(*v))).sum();
            two_normals(&answers, LOG_DEVIATION)
                .map(move |(share, more)| (heard * share, sum + more.value, more.deviation))
        });
        counted(&told.collect::<Vec<_>>())
    }
}

/// The numbers about the whole and the maps of one network.
fn run(layers: &[Convolution], planes: Vec<f32>) -> (Vec<f32>, Maps) {
    let [a1, a2, b1, b2, b3, c1, c2, c3, d1, d2, d3, e1, e2, e3, ud, uc, ub, out, h1, h2] = layers else {
        unreachable!("there are as many layers as shapes")
    };
    let a = a2.rectified(&a1.rectified(&Maps::of(planes, (BREADTH, LENGTH))));
    let b = deepened([b1, b2, b3], &a);
    let c = deepened([c1, c2, c3], &b);
    let d = deepened([d1, d2, d3], &c);
    let e = deepened([e1, e2, e3], &d);
    let answers = h2.sums(&h1.rectified(&e.mean_of_rows().whole()));
    let u = ud.rectified(&e.doubled().beside(&d));
    let u = uc.rectified(&u.doubled().beside(&c));
    let u = ub.rectified(&u.doubled().beside(&b));
    (answers.values.iter().copied().collect(), out.sums(&u))
}

/// The shares of whole counts of at least one and at most [`MOST`] ridges, from the shares, centres and deviations of normal
/// distributions: so it was learned, and near one the centre of a distribution says little.
fn counted(parts: &[(f64, f64, f64)]) -> CountShares {
    let mut shares = vec![0.0; MOST];
    for &(share, centre, deviation) in parts {
        let logs = |k: usize| -0.5 * (((k + 1) as f64 - centre) / deviation).powi(2);
        let top = (0..MOST).map(logs).fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = (0..MOST).map(|k| (logs(k) - top).exp()).sum();
        for (k, slot) in shares.iter_mut().enumerate() {
            *slot += share * (logs(k) - top).exp() / total;
        }
    }
    CountShares { shares }
}

fn softplus(v: f64) -> f64 {
    v.max(0.0) + (-v.abs()).exp().ln_1p()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_count_is_one_at_least_and_whole() {
        let one = |centre, deviation| counted(&[(1.0, centre, deviation), (0.0, 30.0, 1.0)]);
        assert_eq!(one(12.3, 1.1).likeliest(), 12);
        assert_eq!(one(12.6, 0.25).likeliest(), 13);
        // By hand: of the distribution about -1 with deviation 1, one keeps 0.922, two 0.0757 and three 0.0023.
        let few = one(-1.0, 1.0);
        assert_eq!(few.likeliest(), 1);
        approx::assert_abs_diff_eq!(&few.shares[..3], &[0.922, 0.0757, 0.0023][..], epsilon = 5e-4);
    }

    #[test]
    fn two_counts_that_differ_keep_their_shares() {
        let both = counted(&[(0.75, 8.0, 0.3), (0.25, 12.0, 0.3)]);
        // By hand: each is whole to 0.008.
        assert_eq!(both.likeliest(), 8);
        approx::assert_abs_diff_eq!(both.shares[7], 0.75, epsilon = 0.01);
        approx::assert_abs_diff_eq!(both.shares[11], 0.25, epsilon = 0.01);
        assert_eq!(both.range(0.01), (8, 12));
    }

    #[test]
    fn a_range_leaves_out_no_more_than_its_share_at_either_end() {
        let told = CountShares { shares: vec![0.004, 0.1, 0.7, 0.15, 0.04, 0.006] };
        // By hand, from the sums 0.004, 0.104 and 0.006, 0.046, 0.196.
        assert_eq!(told.range(0.0), (1, 6));
        assert_eq!(told.range(0.007), (2, 5));
        assert_eq!(told.range(0.05), (2, 4));
        assert_eq!(told.range(0.11), (3, 4));
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
        let planes: Vec<f32> =
            all().map(wave).chain(all().map(plain)).chain(all().map(mark)).map(|v| v as f32).collect();
        let wanted = [
            (
                [-0.09399, -0.60666, 0.10284, 0.40627, -0.72979],
                [(-13.11062, -14.28823), (-11.19206, -12.07915), (-7.20776, -8.31726)],
            ),
            (
                [-0.11738, -0.48901, -0.37074, 0.26763, -0.37272],
                [(-12.90779, -13.69344), (-8.26248, -8.46418), (-6.39012, -6.99961)],
            ),
            (
                [-0.0059, -0.5202, 0.28394, 0.26384, -0.72231],
                [(-12.75889, -13.32591), (-10.34472, -10.8502), (-7.40321, -7.78057)],
            ),
            (
                [-0.12468, -0.62061, 0.72309, 0.4788, -0.36376],
                [(-12.91101, -13.47149), (-8.58228, -8.73052), (-6.16604, -6.62341)],
            ),
        ];
        let all = [CountNetwork::across_the_legs(), CountNetwork::along_the_legs()].into_iter().flat_map(|n| &n.layers);
        for (layers, (numbers, of_maps)) in all.zip(wanted) {
            let (answers, maps) = run(layers, planes.clone());
            for (got, wanted) in answers.iter().zip(numbers) {
                approx::assert_abs_diff_eq!(*got, wanted, epsilon = 2e-4);
            }
            for (map, (mean, one)) in maps.values.rows().into_iter().zip(of_maps) {
                approx::assert_abs_diff_eq!(map.mean().unwrap_or(f32::NAN), mean, epsilon = 2e-4);
                approx::assert_abs_diff_eq!(map[15 * LENGTH / 2 + 37], one, epsilon = 2e-4);
            }
        }
    }
}
