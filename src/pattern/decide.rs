//! From evidence to the probability of each pattern.
//!
//! A multinomial logistic sum over the named facts of [`super::evidence`], fitted on drawn prints: few enough numbers to
//! print and argue about. Left and right are mirror images by construction: the model is fitted on every print and its
//! mirror image alike.

use super::evidence::Evidence;
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
pub const FACTS: usize = 36;

/// Names of the facts, in the order of the weights.
pub const FACT_NAMES: [&str; FACTS] = [
    "constant",
    "no core",
    "two or more cores",
    "no delta",
    "two or more deltas",
    "side of exit",
    "one-sided exit",
    "spread of exits",
    "lean of the opening",
    "lean, unsigned",
    "curl",
    "curl beyond half a turn",
    "count near zero",
    "count",
    "turns near zero",
    "delta sideways",
    "delta straight below",
    "delta below",
    "bend without core",
    "square of bend without core",
    "steepness without core",
    "rise without core",
    "border: one core more",
    "border: two cores more",
    "unchosen pair",
    "unchosen pair without core",
    "weakest chosen",
    "clarity",
    "bend with core",
    "delta opposite the exit",
    "circuits",
    "circuits, squared",
    "three-quarter circuits",
    "circuits with one core",
    "no core and no ridge steep",
    "count near one",
];

/// Facts that change sign in a mirror.
const SIDED: [usize; 3] = [5, 8, 15];

/// The facts of one print as the model takes them, each of order one.
pub fn facts(e: &Evidence) -> [f64; FACTS] {
    let core = if e.main_core.is_some() { 1.0 } else { 0.0 };
    let no_core = 1.0 - core;
    let delta = if e.main_delta.is_some() { 1.0 } else { 0.0 };
    let count = e.between.map_or(0.0, |b| 0.5 * (f64::from(b.ridges) + b.turns));
    let turns = e.between.map_or(0.0, |b| b.turns);
    let curl = e.curl.abs() / std::f64::consts::PI;
    let lean = e.lean().sin();
    [
        1.0,
        e.core_count[0],
        e.core_count[2],
        e.delta_count[0],
        e.delta_count[2],
        core * e.exit,
        core * e.exit.abs(),
        core * e.exit_spread,
        core * lean,
        core * lean.abs(),
        core * curl.min(3.0) / 2.0,
        core / (1.0 + (-8.0 * (curl - 0.9)).exp()),
        delta * (-count).exp(),
        delta * (count / 6.0).min(1.5),
        delta * (-turns).exp(),
        delta * (e.delta_sideways / 3.0).tanh(),
        delta * (-e.delta_sideways.abs()).exp(),
        delta * (e.delta_below / 5.0).tanh(),
        no_core * e.sharpest_bend,
        no_core * e.sharpest_bend.powi(2),
        no_core * e.steepness,
        no_core * e.rise,
        f64::from(u8::from(e.border_half_turns == 1)),
        f64::from(u8::from(e.border_half_turns >= 2)),
        e.unchosen_pair,
        no_core * e.unchosen_pair,
        e.weakest_chosen,
        e.clarity,
        core * e.sharpest_bend / 2.0,
        -core * delta * e.exit * (e.delta_sideways / 3.0).tanh(),
        core * e.circuits,
        core * e.circuits * e.circuits,
        core * e.half_circuits,
        core * e.circuits * e.core_count[1],
        no_core * (1.0 - e.steepness) * (1.0 - e.sharpest_bend / 2.0),
        delta * (-(count - 1.5).powi(2)).exp(),
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

/// The fitted weights.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct DecisionModel {
    /// How the numbers were made.
    pub note: String,
    /// Names of the facts, for the reader.
    pub facts: Vec<String>,
    /// One row a pattern in the order of [`Pattern::ALL`], one weight a fact.
    pub weights: Vec<Vec<f64>>,
    /// Divides the sums before they become probabilities (calibration; 1 = as fitted).
    pub temperature: f64,
}

impl DecisionModel {
    /// The model that comes with the program.
    pub fn embedded() -> Self {
        serde_json::from_str(include_str!("../../models/decision/pattern.json")).unwrap_or_else(|_| Self {
            note: "no model".into(),
            facts: Vec::new(),
            weights: vec![vec![0.0; FACTS]; Pattern::ALL.len()],
            temperature: 1.0,
        })
    }

    /// Probability of each pattern, in the order of [`Pattern::ALL`]; sums to one.
    pub fn probabilities(&self, facts: &[f64; FACTS]) -> [f64; 5] {
        let mut sums = [0.0; 5];
        for (sum, weights) in sums.iter_mut().zip(&self.weights) {
            *sum = weights.iter().zip(facts).map(|(w, f)| w * f).sum::<f64>() / self.temperature;
        }
        let largest = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let exps = sums.map(|s| (s - largest).exp());
        let total: f64 = exps.iter().sum();
        exps.map(|e| e / total)
    }
}
