//! From evidence to the probability of each pattern.
//!
//! The points are not certain, so the decision is made for every kind of set that has weight (one core and one delta, two
//! cores, ...) and the answers are added with the weights of the sets. Within a kind the decision is a multinomial
//! logistic sum over the named facts of [`super::evidence`], fitted on drawn prints. Left and right are mirror images by
//! construction: the model is fitted on every print and its mirror image alike.

use super::evidence::{Evidence, Ground, gather};
use crate::field::RidgeField;
use crate::singular::Singularities;
use crate::singular::choose::BUCKETS;
use serde::{Deserialize, Serialize};

/// The patterns that are told apart here.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub enum Pattern {
    /// Plain arch.
    PlainArch,
    /// Tented arch.
    TentedArch,
    /// Loop that opens to the left of the image.
    LeftLoop,
    /// Loop that opens to the right of the image.
    RightLoop,
    /// Whorl of any kind.
    Whorl,
}

impl Pattern {
    /// All, in the order of the model's rows.
    pub const ALL: [Pattern; 5] =
        [Pattern::PlainArch, Pattern::TentedArch, Pattern::LeftLoop, Pattern::RightLoop, Pattern::Whorl];
}

/// Number of facts that enter the sum.
pub const FACTS: usize = 26;

/// Names of the facts, in the order of the weights.
pub const FACT_NAMES: [&str; FACTS] = [
    "constant",
    "side of exit",
    "one-sided exit",
    "spread of exits, no delta",
    "lean of the opening",
    "curl",
    "curl beyond half a turn",
    "circuits",
    "any circuit",
    "three-quarter circuits",
    "no ridge between",
    "ridges between",
    "delta sideways",
    "delta sideways, unsigned",
    "delta below",
    "bend",
    "bend squared",
    "steepness",
    "rise",
    "border: one core more",
    "border: two cores more",
    "border: one delta more",
    "unchosen point",
    "clarity",
    "cores apart",
    "cores opposed",
];

/// Facts that change sign in a mirror.
const SIDED: [usize; 3] = [1, 4, 12];

/// The facts of one print as the model takes them, each of order one.
pub fn facts(e: &Evidence) -> [f64; FACTS] {
    let core = if e.main_core.is_some() { 1.0 } else { 0.0 };
    let delta = if e.main_delta.is_some() { 1.0 } else { 0.0 };
    // Two independent readings of the same count; their mean is steadier than either.
    let count = e.between.map_or(0.0, |b| 0.5 * (f64::from(b.ridges) + b.turns));
    let curl = e.curl.abs() / std::f64::consts::PI;
    let is = |condition: bool| f64::from(u8::from(condition));
    [
        1.0,
        core * e.exit,
        core * e.exit.abs(),
        core * (1.0 - delta) * e.exit_spread,
        core * e.lean().sin(),
        core * curl.min(3.0) / 2.0,
        core / (1.0 + (-8.0 * (curl - 0.9)).exp()),
        core * e.circuits,
        core * (e.circuits / 0.2).min(1.0),
        core * e.half_circuits,
        delta / (1.0 + (4.0 * (count - 0.85)).exp()),
        delta * (count / 4.0).min(1.5),
        delta * (e.delta_sideways / 3.0).tanh(),
        delta * (e.delta_sideways / 3.0).tanh().abs(),
        delta * (e.delta_below / 5.0).tanh(),
        (1.0 - core) * e.sharpest_bend,
        (1.0 - core) * e.sharpest_bend.powi(2),
        (1.0 - core) * e.steepness,
        (1.0 - core) * e.rise,
        is(e.border_half_turns == 1),
        is(e.border_half_turns >= 2),
        is(e.border_half_turns < 0),
        e.unchosen_pair,
        e.clarity,
        (e.core_distance / 8.0).min(2.0),
        e.cores_opposed,
    ]
}

/// The facts of the mirror image.
pub fn mirrored(facts: &[f64; FACTS]) -> [f64; FACTS] {
    let mut out = *facts;
    for i in SIDED {
        out[i] = -out[i];
    }
    out
}

/// The evidence under one kind of set.
#[derive(Debug, Clone)]
pub struct Reading {
    /// Kind of set, [`crate::singular::choose::bucket`].
    pub bucket: usize,
    /// Its probability.
    pub probability: f64,
    /// What speaks for the patterns if it is right.
    pub evidence: Evidence,
}

/// Kinds of sets less probable than this are left out of the sum.
const LEAST_SET_PROBABILITY: f64 = 0.02;

/// Gathers the evidence under every kind of set that has weight, most probable first.
pub fn readings(field: &RidgeField, found: &Singularities) -> Vec<Reading> {
    let ground = Ground::of(field, found);
    let sets = found.sets.iter().enumerate().filter(|(i, s)| *i == 0 || s.probability >= LEAST_SET_PROBABILITY);
    sets.map(|(_, s)| Reading { bucket: s.bucket, probability: s.probability, evidence: gather(&ground, found, s) }).collect()
}

/// The fitted weights.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct DecisionModel {
    /// How the numbers were made.
    pub note: String,
    /// Names of the facts, for the reader.
    pub facts: Vec<String>,
    /// For each kind of set one row a pattern in the order of [`Pattern::ALL`], one weight a fact.
    pub weights: Vec<Vec<Vec<f64>>>,
    /// Divides the sums before they become probabilities (calibration; 1 = as fitted).
    pub temperature: f64,
}

impl DecisionModel {
    /// The model that comes with the program.
    pub fn embedded() -> Self {
        serde_json::from_str(include_str!("../../models/decision/pattern.json")).unwrap_or_else(|_| Self {
            note: "no model".into(),
            facts: Vec::new(),
            weights: vec![vec![vec![0.0; FACTS]; Pattern::ALL.len()]; BUCKETS],
            temperature: 1.0,
        })
    }

    /// Probability of each pattern over all readings, in the order of [`Pattern::ALL`]; sums to one.
    pub fn probabilities(&self, readings: &[Reading]) -> [f64; 5] {
        let mut sum = [0.0; 5];
        let total: f64 = readings.iter().map(|r| r.probability).sum();
        for r in readings {
            let under = self.under(r.bucket, &facts(&r.evidence));
            for (s, p) in sum.iter_mut().zip(under) {
                *s += p * r.probability / total.max(1e-12);
            }
        }
        sum
    }

    /// Probability of each pattern under one kind of set.
    pub fn under(&self, bucket: usize, facts: &[f64; FACTS]) -> [f64; 5] {
        let mut sums = [0.0; 5];
        if let Some(rows) = self.weights.get(bucket) {
            for (sum, weights) in sums.iter_mut().zip(rows) {
                *sum = weights.iter().zip(facts).map(|(w, f)| w * f).sum::<f64>() / self.temperature;
            }
        }
        let largest = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let exps = sums.map(|s| (s - largest).exp());
        let total: f64 = exps.iter().sum();
        exps.map(|e| e / total)
    }
}
