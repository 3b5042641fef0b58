//! From ridge facts to probabilities: kind of whorl, tracing, and the doubt of a count.
//!
//! The handbook decides the kinds in an order of preference (chapter II): is it an accidental; if not, a double loop; if not, a central
//! pocket loop; else it is a plain whorl. The facts ([`super::whorl::FACT_NAMES`]) measure what those questions turn on; small trees
//! ([`crate::trees`]) weigh them together, because a fact means another thing on a print that shows one delta than on one that shows
//! both. They were grown on drawn prints (`examples/fit_whorl.rs`, `models/decision/whorl.json`).

use super::ridge_count::{ALONG_THE_LEGS, CountedLine};
use super::trace::{Tracings, tracing_of};
use super::whorl::{FACT_NAMES, FACTS};
use crate::network::sample::Sample;
use crate::network::trace::Between;
use crate::network::{self, Network, Sight};
use crate::proposal::{LEAST_REFERENCE_PROBABILITY, RidgeCount, Subclass, Tracing, TracingFacts, TracingProbabilities};
use crate::trees::Forest;
use serde::{Deserialize, Serialize};

/// Kinds of whorl in the order of the probabilities.
pub const KINDS: [Subclass; 4] = [Subclass::Pw, Subclass::Cp, Subclass::Dl, Subclass::Aw];

/// What is assumed about the shares of whorl kinds before a print is seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Prior {
    /// The shares that are common practice of the trade: of whorls about 72 % plain, 13 % central pocket, 12 % double loop, 3 %
    /// accidental (remembered shares, no counted source), at [`PRIOR_STRENGTH`].
    #[default]
    Trade,
    /// None: every kind alike.
    None,
}

/// Common practice, in the order of [`KINDS`].
const TRADE_SHARES: [f64; 4] = [0.72, 0.13, 0.12, 0.03];
/// The power to which the shares are taken. Their source is weak, and a print whose ridges leave the kind open is no random print: the plain
/// ones among all whorls are mostly those that leave nothing open. So they count a quarter.
pub const PRIOR_STRENGTH: f64 = 0.25;

/// Shares of the kinds among the whorls that the network was trained on, in the order of [`KINDS`].
const SEEN_SHARES: [f64; 4] = [0.4, 0.25, 0.2, 0.15];
/// By how much a line between the deltas that clearly cuts a circuit, or none, makes plain whorl or central pocket loop more probable than the
/// other: the definition itself, which neither drawn prints nor a first sight can outweigh entirely. Chosen, not fitted.
const DEFINITION_ODDS: f64 = 3.0;
/// Place of the first kind of whorl among those that the network tells.
const FIRST_WHORL: usize = network::KINDS - 4;
/// The network never rules a kind out.
const LEAST_BY_SIGHT: f64 = 1e-4;

/// Probability of each kind by the network if the print is a whorl, the mean over the print and its mirror image, in the order of [`KINDS`],
/// every kind weighing alike.
pub fn by_sight(sight: &Sight, sample: &Sample) -> [f64; 4] {
    let in_mirror = Network::embedded().kinds_in_mirror(sample);
    let mean = |kind: usize| 0.5 * (sight.kinds[kind] + in_mirror[kind]);
    let seen: [f64; 4] = std::array::from_fn(|k| mean(FIRST_WHORL + k));
    let total = seen.iter().sum::<f64>().max(1e-12);
    let alike: [f64; 4] = std::array::from_fn(|k| (seen[k] / total).max(LEAST_BY_SIGHT) / SEEN_SHARES[k]);
    let total: f64 = alike.iter().sum();
    alike.map(|p| p / total)
}

/// The fitted numbers.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct WhorlModel {
    /// How the numbers were made.
    pub note: String,
    /// Names of the facts, for the reader.
    pub facts: Vec<String>,
    /// The kinds by the facts, in the order of [`KINDS`], every kind weighing alike.
    pub forest: Forest,
    /// Flattens (above 1) or sharpens the probabilities of the trees.
    pub temperature: f64,
    /// The same for what the trees and the network come to together.
    pub together_temperature: f64,
    /// Standard deviation of the ridges between traced ridge and right delta: constant, by the spread of the tracings, by the
    /// disagreement of ridges and flow.
    pub tracing_sigma: [f64; 3],
    /// Share of tracings that go wrong altogether.
    pub tracing_stray: f64,
    /// Powers of the tracing's probabilities and of the network's in what both come to together, and of the network's where it is alone.
    pub tracing_powers: [f64; 3],
    /// Ridges that the flow reads too many inside.
    pub flow_bias: f64,
    /// Half the range of a ridge count in units of its doubt, where the network has none ([`read_count`]).
    pub count_range: f64,
}

impl WhorlModel {
    /// The model that comes with the program.
    pub fn embedded() -> Self {
        serde_json::from_str(include_str!("../../models/decision/whorl.json")).unwrap_or_else(|_| Self::blank())
    }

    /// A model that knows nothing about the kinds: what the fit starts from.
    pub fn blank() -> Self {
        Self {
            note: String::new(),
            facts: FACT_NAMES.iter().map(|name| (*name).to_owned()).collect(),
            forest: Forest::default(),
            temperature: 1.0,
            together_temperature: 1.0,
            tracing_sigma: [1.2, 0.6, 0.3],
            tracing_stray: 0.08,
            tracing_powers: [0.5, 0.5, 1.0],
            flow_bias: 0.6,
            count_range: 1.0,
        }
    }

    /// Probability of each kind, in the order of [`KINDS`], by the facts and by the network's sight ([`by_sight`]), where there is one: the
    /// geometric mean of both. What the line between the deltas says by the handbook's definition is a witness of its own between plain whorl
    /// and central pocket loop.
    pub fn kinds(&self, facts: &[f64; FACTS], sight: Option<[f64; 4]>, prior: Prior) -> [f64; 4] {
        let sharper = 1.0 / self.temperature.max(0.1);
        let mut p = self.forest.probabilities::<4>(facts).map(|p| p.max(1e-9).powf(sharper));
        if let Some(seen) = sight {
            let sharper = 0.5 / self.together_temperature.max(0.1);
            p.iter_mut().zip(seen).for_each(|(p, seen)| *p = (*p * seen).powf(sharper));
        }
        if let Some(cuts) = super::whorl::delta_line_verdict(facts) {
            let both = p[0] + p[1];
            p[usize::from(!cuts)] *= DEFINITION_ODDS;
            let share = both / (p[0] + p[1]).max(1e-300);
            (p[0], p[1]) = (p[0] * share, p[1] * share);
        }
        if prior == Prior::Trade {
            p.iter_mut().zip(TRADE_SHARES).for_each(|(p, share)| *p *= share.powf(PRIOR_STRENGTH));
        }
        let total: f64 = p.iter().sum();
        p.map(|p| p / total.max(1e-12))
    }

    /// Signed ridges between and their standard deviation, from all tracings; none where nothing came round.
    pub fn between(&self, t: &Tracings) -> Option<(f64, f64)> {
        let flows: Vec<f64> = t.by_flow.iter().flatten().map(|d| d - self.flow_bias).collect();
        let flow = mean(&flows);
        let ridges: Vec<f64> = t.on_ridges.iter().map(|d| f64::from(*d)).collect();
        let on_ridges = median(&ridges);
        let spread = on_ridges.map_or(0.0, |m| ridges.iter().map(|r| (r - m).abs()).sum::<f64>() / ridges.len() as f64);
        let d = match (on_ridges, flow) {
            (Some(r), Some(f)) => (1.0 - FLOW_SHARE) * r + FLOW_SHARE * f,
            (Some(d), None) | (None, Some(d)) => d,
            (None, None) => return None,
        };
        let apart = match (on_ridges, flow) {
            (Some(r), Some(f)) => (r - f).abs(),
            _ => 4.0,
        };
        let [constant, by_spread, by_apart] = self.tracing_sigma;
        Some((d, constant + by_spread * spread + by_apart * apart))
    }

    /// Inner, meeting, outer with their probabilities, from all tracings, where both deltas were found, and from the network that has learned
    /// tracing, where it looked; from that alone where no tracing came round. Where that leaves the likeliest less likely than the others together, it is the probable
    /// one and all others are kept in sight (handbook, chapter V: the probable value, with a reference to all other possibilities). None without either.
    pub fn tracing(&self, t: Option<&Tracings>, seen: Option<&Between>) -> Option<TracingFacts> {
        let (d, sigma, p) = self.tracing_shares(t, seen)?;
        let came_round = t.is_some_and(|t| self.between(t).is_some());
        let ways = t.map_or(&[][..], |t| &t.on_ridges);
        let facts = told(d, sigma, p, ways);
        Some(if came_round || facts.is_likely() { facts } else { told(d, sigma, p, &ONE_OF_EACH) })
    }

    /// Ridges between, their standard deviation, and the probabilities of inner, meeting and outer as [`WhorlModel::tracing`] weighs them, however
    /// little they say, and before it keeps in sight what is near.
    pub fn tracing_shares(&self, t: Option<&Tracings>, seen: Option<&Between>) -> Option<(f64, f64, [f64; 3])> {
        let [traced, beside, alone] = self.tracing_powers;
        let powers = |p: [f64; 3], power: f64| p.map(|p| p.powf(power));
        let (d, sigma, p) = match (t.and_then(|t| self.between(t)), seen) {
            (None, None) => return None,
            (None, Some(seen)) => {
                let guess = seen.guess();
                (guess.value, guess.deviation / alone.sqrt(), powers(by_network(seen), alone))
            }
            (Some((d, sigma)), None) => (d, sigma, tracing_probabilities(d, sigma, self.tracing_stray)),
            (Some((d, sigma)), Some(seen)) => {
                let mut p = powers(tracing_probabilities(d, sigma, self.tracing_stray), traced);
                p.iter_mut().zip(powers(by_network(seen), beside)).for_each(|(p, q)| *p *= q);
                let guess = seen.guess();
                let weights = [traced / sigma.powi(2), beside / guess.deviation.powi(2)];
                let weight = weights[0] + weights[1];
                let apart = 0.5 * (d - guess.value);
                let d = (weights[0] * d + weights[1] * guess.value) / weight;
                (d, weight.sqrt().recip().hypot(apart), p)
            }
        };
        let total: f64 = p.iter().sum();
        Some((d, sigma, p.map(|p| p / total)))
    }

    /// A ridge count with its range. Where the networks counted the range leaves out few of their counts, weighed with those read along the legs, at either end, more widely where the line
    /// runs along the legs; elsewhere it grows with the doubt of the readings. It holds the counts from every other formation that may be the delta.
    pub fn count(&self, line: &CountedLine) -> RidgeCount {
        let [best, least, most] = match line.shares() {
            Some(told) => {
                let (least, most) = told.range(COUNT_TAIL);
                let wider = wider_along_the_legs(line.slant);
                [f64::from(told.likeliest()), f64::from(least) - wider, f64::from(most) + wider]
            }
            None => {
                let (best, doubt) = read_count(line);
                let half = doubt * self.count_range;
                [best.round(), (best - half).floor(), (best + half + f64::from(line.on_forks)).ceil()]
            }
        };
        ranged([best, least, most], &line.by_other_deltas)
    }
}

/// A count whose range holds what other deltas would make of it: so many ridges more each.
fn ranged([best, least, most]: [f64; 3], more: &[i32]) -> RidgeCount {
    let whole = |v: f64| v.clamp(0.0, 99.0) as u16;
    // A count of none makes no loop (handbook, chapter II, the third essential).
    let best = best.max(1.0);
    let others = || more.iter().map(|more| best + f64::from(*more));
    RidgeCount {
        best: whole(best),
        min: whole(others().fold(least, f64::min).clamp(1.0, best)),
        max: whole(others().fold(most.max(best), f64::max)),
    }
}

/// Share of the counts told that the range leaves out at either end: with it ranges of drawn loops are about as broad in the mean as when they reached equally
/// far to either side by the counts' spread.
const COUNT_TAIL: f64 = 0.007;

/// Share of the tracings by flow in the ridges between, where ridges were traced as well: a ridge cannot be crossed, a flow line can. Of 207 drawn whorls
/// shares of 0 and 0.1 told the tracing alike, 0.25 and 0.4 worse.
const FLOW_SHARE: f64 = 0.1;

/// The handbook's count less the turns of the pattern between the core and the delta of the flow, the mean over drawn loops: the
/// core for counting lies on a shoulder, half a ridge beyond the flow's core as seen from the delta, and takes back most of the
/// half ridges that are lost at either end. Found, as [`END_RIDGES`] and [`PLACED_SHARE`], against drawn counts as they were read before 27 November 2026; against
/// those of today what the readings come to is 0.4 ridges too few; they make the count only where the network has none.
const END_TURNS: f64 = 0.1;

/// The handbook's count less the ridges met by phase between the core and the delta of the flow, the mean over drawn loops: ridges that lie
/// on the ends themselves are not met.
const END_RIDGES: f64 = 0.7;

/// Share of the ridges counted from the placed points in the count; the rest is the turns of the pattern. Found by least squares
/// on drawn loops: the places of core and delta on single ridges are the weaker witnesses, because one wrong rod shifts them
/// by a whole ridge.
const PLACED_SHARE: f64 = 0.2;

/// The doubt of the readings: of its own, by the count, and by how far they lie apart.
const DOUBT_READ: [f64; 3] = [0.6, 0.05, 0.4];

/// By how many ridges the range reaches farther to either side for the way the line runs.
fn wider_along_the_legs(slant: f64) -> f64 {
    if slant < ALONG_THE_LEGS { 1.0 } else { 0.0 }
}

/// The count and its doubt, in ridges, from readings that err in different ways: the turns of the pattern between the core and the delta of the
/// flow, and the mean of the counts that start from points placed on ridges. Used where the network has no count.
pub fn read_count(line: &CountedLine) -> (f64, f64) {
    let sampled: Vec<f64> = line.sampled.iter().map(|l| f64::from(l.count)).collect();
    let placed = sampled.first().copied().unwrap_or_default();
    let on_ridges = mean(&sampled).unwrap_or_default();
    let by_turns = line.turns_between_points + END_TURNS;
    let readings = [placed, on_ridges, f64::from(line.between_points) + END_RIDGES, by_turns];
    let least = readings.iter().copied().fold(f64::INFINITY, f64::min);
    let most = readings.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let read = ((1.0 - PLACED_SHARE) * by_turns + PLACED_SHARE * on_ridges).max(0.0);
    (read, DOUBT_READ[0] + DOUBT_READ[1] * read + DOUBT_READ[2] * (most - least))
}

/// Least share of a tracing that is near: what a reference needs to be shown, and half as much again for the doubt whether there is a whorl.
const NEAR_SHARE: f64 = 1.5 * LEAST_REFERENCE_PROBABILITY;
/// Ridges between that two more or two less carry over the limit of three.
const NEAR: std::ops::RangeInclusive<i32> = 1..=4;

/// Keeps the tracings in sight that are near: both sides of the limit where what is told is near it, and those that one of the ways along the
/// ridges came to.
fn keep_near(p: [f64; 3], d: f64, ways: &[i32]) -> [f64; 3] {
    let mut kept = p;
    let told = d.round() as i32;
    let limit = NEAR.contains(&told.abs()).then_some([*NEAR.start(), *NEAR.end()]);
    let both_sides = limit.into_iter().flatten().map(|between| between * told.signum());
    for way in both_sides.chain(ways.iter().copied()) {
        let share = &mut kept[tracing_of(way) as usize];
        *share = share.max(NEAR_SHARE);
    }
    let total: f64 = kept.iter().sum();
    kept.map(|p| p / total)
}

/// What is told of a tracing: ridges between with their doubt, and the probabilities of inner, meeting and outer.
fn told(d: f64, sigma: f64, p: [f64; 3], ways: &[i32]) -> TracingFacts {
    let p = keep_near(p, d, ways);
    let best = [Tracing::I, Tracing::M, Tracing::O][(0..3).fold(0, |b, k| if p[k] > p[b] { k } else { b })];
    // The number given is the best tracing's own.
    let signed = match best {
        Tracing::I => d.round().max(3.0),
        Tracing::M => d.round().clamp(-2.0, 2.0),
        Tracing::O => d.round().min(-3.0),
    };
    let whole = |v: f64| v.abs().round().min(99.0) as u16;
    let (low, high) = (d - 2.0 * sigma, d + 2.0 * sigma);
    let least = if low <= 0.0 && high >= 0.0 { 0 } else { whole(low.abs().min(high.abs()).floor()) };
    let most = whole(low.abs().max(high.abs()).ceil());
    let round4 = |v: f64| (v * 1e4).floor() / 1e4;
    TracingFacts {
        best,
        ridges_between: whole(signed),
        min: least.min(whole(signed)),
        max: most.max(whole(signed)),
        probabilities: TracingProbabilities { I: round4(p[0]), M: round4(p[1]), O: round4(p[2]) },
    }
}

/// Share of the network's numbers of ridges between that go wrong altogether; most of those it tells itself.
const STRAY_BY_NETWORK: f64 = 0.01;

/// Ridges between that make an inner, a meeting and an outer tracing.
const ONE_OF_EACH: [i32; 3] = [5, 0, -5];

/// Ridges between are whole; half way between two and three, tracings part (handbook, chapter II: three or more intervening ridges make inner
/// or outer).
const LIMIT: f64 = 2.5;

/// Probabilities of inner, meeting and outer as the network tells them.
fn by_network(seen: &Between) -> [f64; 3] {
    let below = |limit: f64| -> f64 {
        seen.parts.iter().map(|(share, guess)| share * normal((limit - guess.value) / guess.deviation)).sum()
    };
    let (outer, inner) = (below(-LIMIT), 1.0 - below(LIMIT));
    some_stray([inner, 1.0 - inner - outer, outer], STRAY_BY_NETWORK)
}

fn some_stray(p: [f64; 3], stray: f64) -> [f64; 3] {
    p.map(|p| (1.0 - stray) * p.max(0.0) + stray / 3.0)
}

/// Probabilities of inner, meeting and outer for a number of ridges between with its standard deviation.
fn tracing_probabilities(d: f64, sigma: f64, stray: f64) -> [f64; 3] {
    let above = |limit: f64| normal((d - limit) / sigma);
    let (inner, outer) = (above(LIMIT), 1.0 - above(-LIMIT));
    some_stray([inner, 1.0 - inner - outer, outer], stray)
}

fn mean(values: &[f64]) -> Option<f64> {
    (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64)
}

fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    (n > 0).then(|| 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]))
}

/// Distribution function of the standard normal distribution (approximation 26.2.17 of Abramowitz and Stegun 1964, error below
/// 1e-7).
fn normal(x: f64) -> f64 {
    const B: [f64; 5] = [0.319_381_530, -0.356_563_782, 1.781_477_937, -1.821_255_978, 1.330_274_429];
    let t = 1.0 / (1.0 + 0.231_641_9 * x.abs());
    let sum = B.iter().rev().fold(0.0, |s, b| (s + b) * t);
    let tail = (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt() * sum;
    if x >= 0.0 { 1.0 - tail } else { tail }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::network::Guess;
    use proptest::prelude::*;

    fn tracings(on_ridges: Vec<i32>, flow: Option<f64>) -> Tracings {
        Tracings { preferred: None, on_ridges, by_flow: [flow, None], right: None, left: None }
    }

    #[test]
    fn the_trees_that_come_with_the_program_ask_only_facts_that_there_are() {
        let model = WhorlModel::embedded();
        assert_eq!(model.facts, WhorlModel::blank().facts);
        assert_eq!((model.forest.start.len(), model.forest.trees.len()), (KINDS.len(), KINDS.len()));
        let mut asked =
            model.forest.trees.iter().flatten().flat_map(|t| &t.questions).map(|q| usize::from(q.0)).peekable();
        assert!(asked.peek().is_some());
        assert!(asked.all(|fact| fact < FACTS));
    }

    #[test]
    fn a_range_holds_the_counts_from_other_deltas_and_none_below_one() {
        let of = |told, more: &[i32]| {
            let RidgeCount { best, min, max } = ranged(told, more);
            (min, best, max)
        };
        assert_eq!(of([17.0, 15.0, 19.0], &[]), (15, 17, 19));
        assert_eq!(of([17.0, 15.0, 19.0], &[3, 0, -1]), (15, 17, 20));
        assert_eq!(of([17.0, 16.0, 19.0], &[-3]), (14, 17, 19));
        assert_eq!(of([2.0, -1.0, 3.0], &[-4]), (1, 2, 3));
        // Readings alone may come to none; the range never leaves the count out.
        assert_eq!(of([0.0, -1.0, 1.0], &[]), (1, 1, 1));
        assert_eq!(of([5.0, 6.0, 4.0], &[]), (5, 5, 5));
    }

    #[test]
    fn a_count_along_the_legs_has_a_wider_range_and_one_across_them_has_not() {
        let degrees = [0.0f64, 12.0, 49.0, 90.0, 180.0];
        assert_eq!(degrees.map(|d| wider_along_the_legs(d.to_radians())), [1.0, 1.0, 0.0, 0.0, 0.0]);
    }

    #[test]
    fn three_ridges_inside_are_inner_two_are_meeting_and_both_keep_the_other_in_sight() {
        // Handbook, chapter II, "Whorl tracing": three or more intervening ridges.
        let model = WhorlModel::embedded();
        for (d, best) in [(6, Tracing::I), (0, Tracing::M), (-6, Tracing::O), (1, Tracing::M), (4, Tracing::I)] {
            let t = model.tracing(Some(&tracings(vec![d; 3], Some(f64::from(d) + model.flow_bias))), None).unwrap();
            assert_eq!(t.best, best, "{d}");
        }
        let near = model.tracing(Some(&tracings(vec![3; 3], Some(3.0 + model.flow_bias))), None).unwrap();
        assert!(near.probabilities.M > 0.1 && near.probabilities.I > 0.1, "{near:?}");
    }

    #[test]
    fn a_tracing_near_the_limit_or_that_one_way_came_to_is_kept_in_sight() {
        // Handbook, chapter II, "Whorl tracing": two intervening ridges are meeting, three and four are not.
        let sure = |k: usize| -> [f64; 3] { std::array::from_fn(|i| if i == k { 1.0 } else { 0.0 }) };
        let shown = |k, d, ways: &[i32]| keep_near(sure(k), d, ways).map(|p| p >= LEAST_REFERENCE_PROBABILITY);
        assert_eq!(shown(0, 3.0, &[3, 3]), [true, true, false]);
        assert_eq!(shown(0, 4.0, &[4]), [true, true, false]);
        assert_eq!(shown(0, 5.0, &[5]), [true, false, false]);
        assert_eq!(shown(1, 1.0, &[]), [true, true, false]);
        assert_eq!(shown(1, -2.0, &[]), [false, true, true]);
        assert_eq!(shown(1, 0.0, &[0, 1, -5]), [false, true, true]);
        assert_eq!(shown(2, -7.0, &[-7, -7]), [false, false, true]);
        assert_eq!(keep_near(sure(2), -7.0, &[-7]), sure(2));
        let lifted = keep_near(sure(1), -2.0, &[]);
        approx::assert_abs_diff_eq!(lifted.iter().sum::<f64>(), 1.0, epsilon = 1e-12);
    }

    #[test]
    fn tracing_and_network_that_agree_are_surer_and_the_surer_of_two_that_differ_prevails() {
        let model = WhorlModel::embedded();
        let traced = tracings(vec![5; 3], Some(5.0 + model.flow_bias));
        let seen = |value, deviation| {
            let guess = Guess { value, deviation };
            Between { parts: vec![(1.0, guess), (0.0, guess)] }
        };
        let alone = model.tracing(Some(&traced), None).unwrap();
        let agreed = model.tracing(Some(&traced), Some(&seen(5.0, 1.0))).unwrap();
        assert!(agreed.best == Tracing::I && agreed.probabilities.I > alone.probabilities.I);
        let unsure = model.tracing(Some(&traced), Some(&seen(0.0, 8.0))).unwrap();
        assert_eq!(unsure.best, Tracing::I);
        let wild = tracings(vec![-6, 5, 9], Some(-4.0));
        let outvoted = model.tracing(Some(&wild), Some(&seen(0.0, 0.6))).unwrap();
        assert_eq!(outvoted.best, Tracing::M);
        assert!(outvoted.min <= outvoted.ridges_between && outvoted.ridges_between <= outvoted.max);
        let lost = tracings(Vec::new(), None);
        assert!(model.tracing(Some(&lost), None).is_none());
        assert_eq!(model.tracing(Some(&lost), Some(&seen(-7.0, 1.0))).map(|t| t.best), Some(Tracing::O));
    }

    #[test]
    fn where_nothing_can_be_traced_the_probable_tracing_is_told_with_all_others_in_sight() {
        // Handbook, chapter V, "Classification of scarred patterns": the probable value, referenced to all other possibilities.
        let model = WhorlModel::embedded();
        let guess = |value, deviation| Guess { value, deviation };
        let clear = Between { parts: vec![(1.0, guess(8.0, 1.0)), (0.0, guess(8.0, 1.0))] };
        let told = model.tracing(None, Some(&clear)).unwrap();
        assert_eq!(told.best, Tracing::I);
        let open = Between { parts: vec![(0.5, guess(-1.0, 6.0)), (0.5, guess(1.0, 6.0))] };
        let probable = model.tracing(None, Some(&open)).unwrap().probabilities;
        assert!([probable.I, probable.M, probable.O].iter().all(|p| (LEAST_REFERENCE_PROBABILITY..0.5).contains(p)));
        assert!(model.tracing(None, None).is_none());
        let either = Between { parts: vec![(0.5, guess(-9.0, 4.0)), (0.5, guess(9.0, 4.0))] };
        let split = model.tracing(None, Some(&either)).unwrap().probabilities;
        assert!(split.I > 0.4 && split.O > 0.4 && split.M < 0.2, "{split:?}");
        // The weaker a witness is held, the wider is its doubt.
        let [traced, beside, _] = model.tracing_powers;
        let weaker = WhorlModel { tracing_powers: [traced, beside, 0.25], ..model.clone() };
        let wide = weaker.tracing(None, Some(&clear)).unwrap();
        assert!(wide.max - wide.min > told.max - told.min || model.tracing_powers[2] <= 0.25);
        assert!(wide.probabilities.I <= told.probabilities.I || model.tracing_powers[2] <= 0.25);
    }

    proptest! {
        #[test]
        fn kinds_sum_to_one_and_a_trade_prior_favours_plain(v in proptest::collection::vec(-2.0..2.0f64, FACTS)) {
            let model = WhorlModel::embedded();
            let mut facts = [0.0; FACTS];
            facts.copy_from_slice(&v);
            let (with, without) = (model.kinds(&facts, None, Prior::Trade), model.kinds(&facts, None, Prior::None));
            prop_assert!((with.iter().sum::<f64>() - 1.0).abs() < 1e-9);
            prop_assert!(with[0] >= without[0] - 1e-12 && with[3] <= without[3] + 1e-12);
        }

        #[test]
        fn tracing_probabilities_sum_to_at_most_one_and_mirror(d in -12i32..12, flow in -12.0..12.0f64) {
            let model = WhorlModel { flow_bias: 0.0, ..WhorlModel::embedded() };
            let t = model.tracing(Some(&tracings(vec![d], Some(flow))), None).unwrap();
            let m = model.tracing(Some(&tracings(vec![-d], Some(-flow))), None).unwrap();
            let p = t.probabilities;
            prop_assert!(p.I + p.M + p.O <= 1.0 + 1e-9 && p.I + p.M + p.O > 0.999);
            prop_assert!((p.I - m.probabilities.O).abs() < 2e-4);
            prop_assert!(t.min <= t.ridges_between && t.ridges_between <= t.max);
        }
    }
}
