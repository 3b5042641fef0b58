//! From evidence to the probability of each pattern.
//!
//! The points are not certain, so the decision is made for every kind of set that has weight (one core and one delta, two
//! cores, ...) and the answers are added with the weights of the sets. Within a kind plain arch, tented arch, loop and
//! whorl are told apart by small trees ([`crate::trees`]) that ask the named facts of [`super::evidence`]; the side of a
//! loop is a logistic sum over the facts that a mirror changes. Both are fitted on drawn prints. Left and right are mirror
//! images by construction: the trees never see a fact with a side, the sum is fitted on every print and its mirror image.

use super::evidence::{Evidence, Ground, gather};
use crate::field::RidgeField;
use crate::network::Sight;
use crate::singular::choose::{BUCKETS, cores_and_deltas};
use crate::singular::{PointSet, Singularities};
use crate::trees::Forest;
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

/// Plain arch, tented arch, loop, whorl.
pub const CLASSES: usize = 4;

/// Number of facts that enter the sum.
pub const FACTS: usize = 29;

/// Under which kinds of sets a fact is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Asked {
    /// Under every kind.
    Always,
    /// Without a core.
    NoCore,
    /// With one core and no delta.
    LoneCore,
    /// With one core and a delta: here tented arch and loop part by the ridges between them and by nothing else
    /// (handbook, chapter II, the three essentials of a loop), so no measure of shape may enter.
    CoreAndDelta,
    /// With one core, with or without delta.
    OneCore,
    /// With any core.
    AnyCore,
    /// With two or more cores.
    TwoCores,
}

impl Asked {
    fn under(self, bucket: usize) -> bool {
        let (cores, deltas) = cores_and_deltas(bucket);
        match self {
            Asked::Always => true,
            Asked::NoCore => cores == 0,
            Asked::LoneCore => cores == 1 && deltas == 0,
            Asked::CoreAndDelta => cores == 1 && deltas > 0,
            Asked::OneCore => cores == 1,
            Asked::AnyCore => cores > 0,
            Asked::TwoCores => cores == 2,
        }
    }
}

/// Names of the facts, in the order of the weights, whether a mirror changes their sign, and under which kinds of sets they
/// are asked for.
const FACT_TABLE: [(&str, bool, Asked); FACTS] = [
    ("constant", false, Asked::Always),
    ("side of exit", true, Asked::OneCore),
    ("spread of exits", false, Asked::LoneCore),
    ("lean of the opening", true, Asked::OneCore),
    ("tilt near", true, Asked::OneCore),
    ("tilt far", true, Asked::OneCore),
    ("curl", false, Asked::AnyCore),
    ("curl beyond half a turn", false, Asked::AnyCore),
    ("complete circuit", false, Asked::AnyCore),
    ("three-quarter circuits", false, Asked::AnyCore),
    ("no ridge between", false, Asked::CoreAndDelta),
    ("ridges between", false, Asked::CoreAndDelta),
    ("delta sideways", true, Asked::CoreAndDelta),
    ("bend", false, Asked::NoCore),
    ("bend squared", false, Asked::NoCore),
    ("bend of the crest", false, Asked::NoCore),
    ("steepness", false, Asked::NoCore),
    ("rise", false, Asked::NoCore),
    ("border: more cores than deltas", false, Asked::Always),
    ("border: fewer cores than deltas", false, Asked::Always),
    ("point left out", false, Asked::AnyCore),
    ("cores apart", false, Asked::TwoCores),
    ("cores opposed", false, Asked::TwoCores),
    ("little room where it opens", false, Asked::OneCore),
    ("side of exit, little room", true, Asked::OneCore),
    ("lean of the opening, little room", true, Asked::OneCore),
    ("lean of the outline", true, Asked::OneCore),
    ("enclosed valley", false, Asked::AnyCore),
    ("enclosed valley but for winding", false, Asked::AnyCore),
];

/// Names of the facts, in the order of the weights.
pub fn fact_names() -> Vec<String> {
    FACT_TABLE.iter().map(|(name, _, _)| (*name).to_string()).collect()
}

/// The facts of one print as the model takes them under a kind of set, each of order one; 0 where not asked for.
pub fn facts(e: &Evidence, bucket: usize) -> [f64; FACTS] {
    // Two independent readings of the same count; their mean is steadier than either.
    let count = e.between.map_or(0.0, |b| 0.5 * (f64::from(b.ridges) + b.turns));
    let curl = e.curl.abs() / std::f64::consts::PI;
    let cramped = 1.0 / (1.0 + (ROOM_SLOPE * (e.room - LITTLE_ROOM)).exp());
    let is = |condition: bool| f64::from(u8::from(condition));
    let mut facts = [
        1.0,
        (e.exit / 0.3).tanh(),
        e.exit_spread,
        e.lean().sin(),
        2.0 * e.tilt_near,
        2.0 * e.tilt_far,
        curl.min(3.0) / 2.0,
        1.0 / (1.0 + (-8.0 * (curl - 0.9)).exp()),
        1.0 - (1.0 - (e.circuits / SURE_CIRCUITS).min(1.0)) * (1.0 - (e.ring.second / SURE_RINGS).min(1.0)),
        e.half_circuits,
        1.0 / (1.0 + (5.0 * (count - NO_RIDGE)).exp()),
        (count / 4.0).min(1.0),
        (e.delta_sideways / 3.0).tanh(),
        e.sharpest_bend,
        e.sharpest_bend.powi(2),
        e.crest_bend,
        e.steepness,
        e.rise,
        is(e.border_half_turns > 0) + is(e.border_half_turns > 1),
        is(e.border_half_turns < 0),
        e.unchosen_pair,
        (e.core_distance / 8.0).min(2.0),
        e.cores_opposed,
        cramped,
        cramped * (e.exit / 0.3).tanh(),
        cramped * e.lean().sin(),
        4.0 * e.outline_lean,
        e.enclosure.any_way,
        e.enclosure.without_winding,
    ];
    for (fact, (_, _, asked)) in facts.iter_mut().zip(&FACT_TABLE) {
        if !asked.under(bucket) {
            *fact = 0.0;
        }
    }
    facts
}

/// What the trees are asked: the facts without side (0 in place of the others), then the number of cores and of deltas.
pub fn forest_facts(bucket: usize, facts: &[f64; FACTS]) -> [f64; FACTS + 2] {
    std::array::from_fn(|i| match i {
        i if i < FACTS => {
            if is_sided(i) {
                0.0
            } else {
                facts[i]
            }
        }
        FACTS => cores_and_deltas(bucket).0 as f64,
        _ => cores_and_deltas(bucket).1 as f64,
    })
}

/// Share of followed ridges that turn through a whole circuit from which on there is one for certain: hardly a drawn loop
/// reaches it.
const SURE_CIRCUITS: f64 = 0.2;
/// Contrast of two closed rings, relative to the ridges around, from which on there is a circuit for certain: of a hundred
/// drawn loops one reaches 0.3.
const SURE_RINGS: f64 = 0.45;
/// Distance from core to border, ridge periods, at which half of what decides the side is taken for lost, and how fast
/// that share falls with each further period.
const LITTLE_ROOM: f64 = 4.0;
const ROOM_SLOPE: f64 = 0.8;

/// Half way between no ridge and one: line and flow read about 0.4 when nothing but the recurve's own ridge is crossed at a
/// slant, and 1 or more from the first ridge on.
const NO_RIDGE: f64 = 0.85;

/// Whether a fact changes its sign in a mirror, in the order of the weights.
pub fn is_sided(fact: usize) -> bool {
    FACT_TABLE[fact].1
}

/// Probability of a whorl at least, if two deltas are right: of drawn prints under such a set, 2 in 100 are none.
const TWO_DELTAS: f64 = 0.97;

/// Two deltas make a whorl, whatever else it looks like: a loop or a tented arch has one (handbook, chapter II). That the second may be no
/// delta is weighed among the sets.
fn by_deltas(bucket: usize, classes: [f64; CLASSES]) -> [f64; CLASSES] {
    let [.., whorl] = classes;
    if cores_and_deltas(bucket).1 < 2 || whorl >= TWO_DELTAS {
        return classes;
    }
    let left = (1.0 - TWO_DELTAS) / (1.0 - whorl);
    let [plain, tented, looping, _] = classes.map(|p| p * left);
    [plain, tented, looping, TWO_DELTAS]
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
    let sets = found.sets.iter().enumerate().filter(|(i, s)| *i == 0 || s.probability >= LEAST_SET_PROBABILITY);
    let sets: Vec<&PointSet> = sets.map(|(_, s)| s).collect();
    let ground = Ground::of(field, found, &sets);
    sets.iter()
        .map(|s| Reading { bucket: s.bucket, probability: s.probability, evidence: gather(&ground, found, s) })
        .collect()
}

/// The fitted weights.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct DecisionModel {
    /// How the numbers were made.
    pub note: String,
    /// Names of the facts, for the reader.
    pub facts: Vec<String>,
    /// Plain arch, tented arch, loop or whorl, asked of [`forest_facts`].
    pub forest: Forest,
    /// For each kind of set the weights for a loop to open right rather than left; 0 for facts without side.
    pub side: Vec<Vec<f64>>,
    /// Sharpens (below 1) or flattens the added probabilities, [`DecisionModel::calibrated`].
    pub temperature: f64,
    /// The same for what the facts and the network come to together, [`DecisionModel::with_sight`]; at least 1.
    pub together_temperature: f64,
}

/// The network's share in the decision, 0 (the facts alone) to 1. On drawn prints the network is right far oftener than the facts, on
/// real ones neither is: half and half was best on the handbook's figures and the live scans, which were in sight when it was chosen.
const SIGHT_SHARE: f64 = 0.5;
/// The network never rules a pattern out.
const LEAST_BY_SIGHT: f64 = 1e-5;

/// Probability of each pattern by the network, in the order of [`Pattern::ALL`].
pub fn by_sight(sight: &Sight) -> [f64; 5] {
    let [plain, tented, left, right, whorls @ ..] = sight.kinds;
    [plain, tented, left, right, whorls.iter().sum()].map(|p: f64| p.max(LEAST_BY_SIGHT))
}

impl DecisionModel {
    /// The model that comes with the program.
    pub fn embedded() -> Self {
        serde_json::from_str(include_str!("../../models/decision/pattern.json")).unwrap_or_else(|_| Self {
            note: "no model".into(),
            facts: Vec::new(),
            forest: Forest::default(),
            side: vec![vec![0.0; FACTS]; BUCKETS],
            temperature: 1.0,
            together_temperature: 1.0,
        })
    }

    /// Probability of each pattern over all readings, in the order of [`Pattern::ALL`]; sums to one.
    pub fn probabilities(&self, readings: &[Reading]) -> [f64; 5] {
        let mut sum = [0.0; 5];
        let total: f64 = readings.iter().map(|r| r.probability).sum();
        for r in readings {
            let under = self.under(r.bucket, &facts(&r.evidence, r.bucket));
            for (s, p) in sum.iter_mut().zip(under) {
                *s += p * r.probability / total.max(1e-12);
            }
        }
        self.calibrated(sum)
    }

    /// Probabilities raised to the power of one over the temperature and made to sum to one again. Adding the answers
    /// under several kinds of sets leaves them too cautious; one number puts that right (temperature scaling: Guo, Pleiss,
    /// Sun and Weinberger 2017).
    pub fn calibrated(&self, probabilities: [f64; 5]) -> [f64; 5] {
        sharpened(probabilities, self.temperature)
    }

    /// Probability of each pattern by the facts and by the network together: the weighted geometric mean (a logarithmic pool, Genest and
    /// Zidek 1986).
    pub fn with_sight(&self, by_facts: [f64; 5], by_sight: [f64; 5]) -> [f64; 5] {
        let pooled = std::array::from_fn(|k| by_facts[k].powf(1.0 - SIGHT_SHARE) * by_sight[k].powf(SIGHT_SHARE));
        sharpened(pooled, self.together_temperature)
    }

    /// The preferred pattern: arches are first taken together, because plain and tented arch are one class that is then
    /// divided.
    pub fn prefer(probabilities: &[f64; 5]) -> Pattern {
        let [plain, tented, left, right, whorl] = *probabilities;
        let arch = if plain >= tented { Pattern::PlainArch } else { Pattern::TentedArch };
        let groups =
            [(arch, plain + tented), (Pattern::LeftLoop, left), (Pattern::RightLoop, right), (Pattern::Whorl, whorl)];
        groups.iter().fold(groups[0], |best, g| if g.1 > best.1 { *g } else { best }).0
    }

    /// Probability of each pattern under one kind of set.
    pub fn under(&self, bucket: usize, facts: &[f64; FACTS]) -> [f64; 5] {
        let [plain, tented, looping, whorl] =
            by_deltas(bucket, self.forest.probabilities::<CLASSES>(&forest_facts(bucket, facts)));
        let sum = |weights: &[f64]| weights.iter().zip(facts).map(|(w, f)| w * f).sum::<f64>();
        let right = self.side.get(bucket).map_or(0.5, |weights| 1.0 / (1.0 + (-sum(weights)).exp()));
        [plain, tented, looping * (1.0 - right), looping * right, whorl]
    }
}

/// Probabilities raised to the power of one over the temperature, adding to 1 again.
fn sharpened(probabilities: [f64; 5], temperature: f64) -> [f64; 5] {
    let raised = probabilities.map(|p| p.max(0.0).powf(1.0 / temperature));
    let total: f64 = raised.iter().sum();
    if total > 0.0 { raised.map(|p| p / total) } else { probabilities }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_model_that_comes_with_the_program_is_read_and_has_weights_for_every_fact() {
        let model = DecisionModel::embedded();
        assert_eq!(model.facts, fact_names());
        assert_eq!((model.forest.trees.len(), model.forest.start.len(), model.side.len()), (CLASSES, CLASSES, BUCKETS));
        let asked = model.forest.trees.iter().flatten().flat_map(|t| &t.questions).map(|q| usize::from(q.0));
        assert!(asked.clone().count() > 100 && asked.clone().all(|f| f < FACTS + 2 && (f >= FACTS || !is_sided(f))));
        assert!(model.side[4].iter().any(|w| w.abs() > 0.1));
        assert!(model.temperature > 0.0);
    }

    #[test]
    fn the_probabilities_of_a_mirror_image_are_mirrored() {
        let model = DecisionModel::embedded();
        let e = Evidence {
            main_core: Some(Default::default()),
            exit: 0.4,
            exit_spread: 0.1,
            opening: 4.4,
            ..Default::default()
        };
        let here = facts(&e, 3);
        let mut there = here;
        (0..FACTS).filter(|&i| is_sided(i)).for_each(|i| there[i] = -there[i]);
        let (p, q) = (model.under(3, &here), model.under(3, &there));
        for (a, b) in [(0, 0), (1, 1), (2, 3), (3, 2), (4, 4)] {
            assert!((p[a] - q[b]).abs() < 1e-9, "{p:?} {q:?}");
        }
    }

    #[test]
    fn two_deltas_make_a_whorl_whatever_else_the_facts_say() {
        // Handbook, chapter II: a loop has one delta, a whorl at least two.
        let like_a_loop =
            Evidence { main_core: Some(Default::default()), exit: 0.6, opening: 4.4, ..Default::default() };
        let model = DecisionModel::embedded();
        for bucket in [2, 5, 8] {
            let p = model.under(bucket, &facts(&like_a_loop, bucket));
            assert!(p[4] >= TWO_DELTAS - 1e-9, "{bucket}: {p:?}");
            assert!((p.iter().sum::<f64>() - 1.0).abs() < 1e-9);
        }
        assert!(model.under(4, &facts(&like_a_loop, 4))[4] < 0.5);
    }

    #[test]
    fn no_measure_of_shape_parts_loop_and_tented_arch_where_core_and_delta_are_printed() {
        // Handbook, chapter II: with recurve and delta present the ridge count decides.
        let unsided = FACT_TABLE.iter().filter(|(_, sided, asked)| !sided && asked.under(4)).map(|(name, _, _)| *name);
        for name in unsided {
            assert!(!name.starts_with("exit") && !name.contains("tilt") && !name.contains("sideways"), "{name}");
        }
    }
}
