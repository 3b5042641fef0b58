//! Which points hold together as a set.
//!
//! A point that appears at a fine scale appears as one of a pair, and both are real or neither is. Points that were
//! there at the coarsest scale stand alone. Every combination of these units is weighed by the evidence for each of its
//! points and by how often such a set occurs in prints at all; the confidence of a point is the weight of all
//! combinations that hold it (after Zhou, Chen and Gu 2009: the set is chosen, not the point).

use super::refine::for_cells_near;
use super::{Candidate, PointKind, PointSet, Singularities};
use crate::field::RidgeField;
use crate::geometry::Point;
use image::{GrayImage, Luma};
use imageproc::distance_transform::euclidean_squared_distance_transform;
use ndarray::Array2;
use serde::{Deserialize, Serialize};

/// Weights of the evidence for one point: a logistic sum, fitted on drawn prints.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PointWeights {
    /// Constant term.
    pub constant: f64,
    /// For each of [`FEATURES`], in order.
    pub weights: Vec<f64>,
}

/// Names of the evidence for one point, in the order of the weights.
pub const FEATURES: [&str; 13] = [
    "persistence",
    "clarity, fleeting",
    "clarity, persistent",
    "ring error, persistent",
    "ring error, fleeting",
    "partner close",
    "near border, fleeting",
    "near border, persistent",
    "not followed",
    "crowd, fleeting",
    "below the top core",
    "seen in the bend only",
    "seen in the bend only, with a crowd",
];

/// Settings of the choice.
#[derive(Debug, Clone)]
pub struct ChooseSettings {
    /// Evidence for cores.
    pub core: PointWeights,
    /// Evidence for deltas.
    pub delta: PointWeights,
    /// Units that are decided one by one only when there are more than this many doubtful ones (each combination of the
    /// rest is weighed: 2 to this power).
    pub most_doubtful: usize,
    /// Prior weight of a set by its number of cores (rows 0, 1, 2, 3 or more) and deltas (columns likewise), relative
    /// to points being independent. Deltas without a core and more than two cores hardly occur.
    pub set_prior: [[f64; 4]; 4],
}

#[derive(Deserialize)]
struct PointModel {
    core: PointWeights,
    delta: PointWeights,
}

impl Default for ChooseSettings {
    fn default() -> Self {
        let model: PointModel = serde_json::from_str(include_str!("../../models/decision/points.json"))
            .unwrap_or_else(|_| PointModel { core: PointWeights::none(), delta: PointWeights::none() });
        Self {
            core: model.core,
            delta: model.delta,
            most_doubtful: 10,
            set_prior: [[1.0, 0.25, 0.05, 0.01], [1.0, 1.0, 0.6, 0.05], [1.0, 1.0, 1.0, 0.2], [0.1, 0.1, 0.1, 0.2]],
        }
    }
}

impl PointWeights {
    fn none() -> Self {
        Self { constant: 0.0, weights: vec![0.0; FEATURES.len()] }
    }

    /// Probability that a point with this evidence is real, taken alone.
    pub fn probability(&self, features: &[f64; FEATURES.len()]) -> f64 {
        let sum: f64 = self.constant + self.weights.iter().zip(features).map(|(w, f)| w * f).sum::<f64>();
        1.0 / (1.0 + (-sum).exp())
    }
}

/// The evidence for candidate `i`, in the order of [`FEATURES`].
pub fn features(candidates: &[Candidate], i: usize) -> [f64; FEATURES.len()] {
    let c = &candidates[i];
    let partner_close = c.partner.map_or(0.0, |p| (-c.at.distance(candidates[p].at) / 18.0).exp());
    let crowd = candidates.iter().filter(|o| o.at.distance(c.at) < 45.0).count() as f64 - 1.0;
    let top_core = candidates
        .iter()
        .filter(|o| o.kind == PointKind::Core && o.persistence_px > 10.0)
        .map(|o| o.at.y)
        .min_by(f64::total_cmp);
    let below = top_core.map_or(0.0, |y| ((c.at.y - y) / 60.0).clamp(-1.5, 1.5));
    // 0 at the finest scale, 1 at the coarsest of the default settings.
    let persistent = ((c.persistence_px.max(3.0) / 3.0).ln() / (20.0f64 / 3.0).ln()).min(1.0);
    let fleeting = 1.0 - persistent;
    let ring = (c.ring_error / 0.2).min(3.0);
    let border = 1.0 - (c.border_px / 24.0).min(1.0);
    let bend = f64::from(u8::from(c.in_bend));
    [
        persistent,
        fleeting * c.clarity.min(0.5) * 2.0,
        persistent * c.clarity.min(0.25) * 4.0,
        ring * persistent,
        ring * fleeting,
        partner_close,
        border * fleeting,
        border * persistent,
        f64::from(u8::from(!c.followed)),
        fleeting * crowd.min(8.0) / 4.0,
        below,
        bend,
        bend * crowd.min(8.0) / 4.0,
    ]
}

/// Joins points that appear together: each fine point with the nearest opposite one of about the same persistence.
pub(super) fn pair(candidates: &mut [Candidate]) {
    let coarsest = candidates.iter().map(|c| c.persistence_px).fold(0.0, f64::max);
    let mut links: Vec<(f64, usize, usize)> = Vec::new();
    for i in 0..candidates.len() {
        for j in i + 1..candidates.len() {
            let (a, b) = (&candidates[i], &candidates[j]);
            // Neighbouring scales differ by a factor of 1.6: partners vanish in the same step.
            let same = (a.persistence_px / b.persistence_px.max(1e-9)).ln().abs() < 0.1 && a.in_bend == b.in_bend;
            if a.kind != b.kind && same && a.persistence_px < coarsest.max(20.0) {
                links.push((a.at.distance(b.at), i, j));
            }
        }
    }
    links.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    for (_, i, j) in links {
        if candidates[i].partner.is_none() && candidates[j].partner.is_none() {
            candidates[i].partner = Some(j);
            candidates[j].partner = Some(i);
        }
    }
}

/// Takes out points seen in the bend only that have no partner: they are a known point, shifted.
pub(super) fn drop_widows(candidates: &mut Vec<Candidate>) {
    let kept: Vec<bool> = candidates.iter().map(|c| !c.in_bend || c.partner.is_some()).collect();
    let place: Vec<usize> = kept
        .iter()
        .scan(0, |n, k| {
            let at = *n;
            *n += usize::from(*k);
            Some(at)
        })
        .collect();
    let mut index = 0;
    candidates.retain(|_| {
        index += 1;
        kept[index - 1]
    });
    for c in candidates.iter_mut() {
        c.partner = c.partner.map(|p| place[p]);
    }
}

/// Weighs all combinations and marks the best.
pub fn choose(mut candidates: Vec<Candidate>, border_half_turns: i32, settings: &ChooseSettings) -> Singularities {
    let alone: Vec<f64> = (0..candidates.len())
        .map(|i| {
            let weights = if candidates[i].kind == PointKind::Core { &settings.core } else { &settings.delta };
            weights.probability(&features(&candidates, i)).clamp(1e-4, 1.0 - 1e-4)
        })
        .collect();
    let units = units(&candidates, &alone);
    let (doubtful, sure) = split(&units, settings.most_doubtful);
    let mut result = Singularities { border_half_turns, ..Default::default() };
    let mut weight_of_unit = vec![0.0; units.len()];
    let (mut total, mut best) = (0.0, (f64::NEG_INFINITY, 0u32));
    let mut best_in_bucket = [(0.0f64, 0u32); BUCKETS];
    let mut weight_of_bucket = [0.0f64; BUCKETS];
    for combination in 0..1u32 << doubtful.len() {
        let (mut cores, mut deltas, mut weight) = (0usize, 0usize, 1.0);
        let holds = |k: usize| combination >> k & 1 == 1;
        for u in sure.iter().copied().chain(doubtful.iter().enumerate().filter(|(k, _)| holds(*k)).map(|(_, u)| *u)) {
            cores += units[u].cores(&candidates);
            deltas += units[u].deltas(&candidates);
        }
        for (k, &u) in doubtful.iter().enumerate() {
            weight *= if holds(k) { units[u].probability } else { 1.0 - units[u].probability };
        }
        weight *= settings.set_prior[cores.min(3)][deltas.min(3)];
        total += weight;
        result.core_count[cores.min(2)] += weight;
        result.delta_count[deltas.min(2)] += weight;
        for (k, &u) in doubtful.iter().enumerate().filter(|(k, _)| holds(*k)) {
            debug_assert!(k < 32);
            weight_of_unit[u] += weight;
        }
        if weight > best.0 {
            best = (weight, combination);
        }
        let bucket = bucket(cores, deltas);
        weight_of_bucket[bucket] += weight;
        if weight > best_in_bucket[bucket].0 {
            best_in_bucket[bucket] = (weight, combination);
        }
    }
    let total = f64::max(total, 1e-300);
    result.core_count.iter_mut().chain(&mut result.delta_count).for_each(|p| *p /= total);
    for (bucket, &(weight, combination)) in best_in_bucket.iter().enumerate().filter(|(_, b)| b.0 > 0.0) {
        debug_assert!(weight > 0.0);
        let held = doubtful.iter().enumerate().filter(|(k, _)| combination >> k & 1 == 1).map(|(_, u)| *u);
        let mut members: Vec<usize> = sure.iter().copied().chain(held).flat_map(|u| units[u].members.clone()).collect();
        members.sort_unstable();
        result.sets.push(PointSet { bucket, probability: weight_of_bucket[bucket] / total, members });
    }
    result.sets.sort_by(|a, b| b.probability.total_cmp(&a.probability).then(a.bucket.cmp(&b.bucket)));
    for (u, unit) in units.iter().enumerate() {
        let place = doubtful.iter().position(|&d| d == u);
        let (confidence, chosen) = match place {
            Some(k) => (weight_of_unit[u] / total, best.1 >> k & 1 == 1),
            None => (unit.probability, sure.contains(&u)),
        };
        for &i in &unit.members {
            candidates[i].confidence = confidence;
            candidates[i].chosen = chosen;
        }
    }
    result.candidates = candidates;
    result
}

/// Number of kinds of sets that are told apart: none, one, two or more cores times none, one, two or more deltas.
pub const BUCKETS: usize = 9;

/// The kind of a set by its number of cores and deltas.
pub fn bucket(cores: usize, deltas: usize) -> usize {
    3 * cores.min(2) + deltas.min(2)
}

/// Points that are real together or not at all.
struct Unit {
    members: Vec<usize>,
    probability: f64,
}

impl Unit {
    fn cores(&self, candidates: &[Candidate]) -> usize {
        self.members.iter().filter(|&&i| candidates[i].kind == PointKind::Core).count()
    }

    fn deltas(&self, candidates: &[Candidate]) -> usize {
        self.members.len() - self.cores(candidates)
    }
}

fn units(candidates: &[Candidate], alone: &[f64]) -> Vec<Unit> {
    let mut units = Vec::new();
    for (i, c) in candidates.iter().enumerate() {
        match c.partner {
            // Two witnesses of one event, not independent: their mean log odds.
            Some(j) if j > i => {
                let odds = 0.5 * (logit(alone[i]) + logit(alone[j]));
                units.push(Unit { members: vec![i, j], probability: 1.0 / (1.0 + (-odds).exp()) });
            }
            Some(_) => {}
            None => units.push(Unit { members: vec![i], probability: alone[i] }),
        }
    }
    units
}

fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

/// Doubtful units (at most `most`, nearest to even odds) and units taken as given; improbable ones are in neither.
fn split(units: &[Unit], most: usize) -> (Vec<usize>, Vec<usize>) {
    const DECIDED: f64 = 0.003;
    let mut doubtful: Vec<usize> =
        (0..units.len()).filter(|&u| (DECIDED..1.0 - DECIDED).contains(&units[u].probability)).collect();
    doubtful.sort_by(|&a, &b| {
        (units[a].probability - 0.5).abs().total_cmp(&(units[b].probability - 0.5).abs()).then(a.cmp(&b))
    });
    let rest = doubtful.split_off(doubtful.len().min(most));
    let sure = (0..units.len())
        .filter(|u| units[*u].probability >= 1.0 - DECIDED || rest.contains(u) && units[*u].probability > 0.5)
        .collect();
    (doubtful, sure)
}

/// Mean clarity within about a ridge period and a half.
pub(super) fn clarity_around(field: &RidgeField, at: Point) -> f64 {
    let (mut sum, mut count) = (0.0, 0.0f64);
    for_cells_near(field, at, 14.0, |r, c, _, _| {
        sum += f64::from(field.clarity[[r, c]]);
        count += 1.0;
    });
    sum / count.max(1.0)
}

/// Distance in cells from every foreground cell to the nearest cell that is not. The image border counts as not.
pub(super) fn border_distance(field: &RidgeField) -> Array2<f32> {
    let (rows, columns) = field.foreground.dim();
    let blank = GrayImage::from_fn(columns as u32 + 2, rows as u32 + 2, |x, y| {
        let inside = (1..=columns as u32).contains(&x) && (1..=rows as u32).contains(&y);
        Luma([if inside && field.foreground[[y as usize - 1, x as usize - 1]] { 0 } else { 255 }])
    });
    let squared = euclidean_squared_distance_transform(&blank);
    Array2::from_shape_fn((rows, columns), |(r, c)| squared.get_pixel(c as u32 + 1, r as u32 + 1).0[0].sqrt() as f32)
}

pub(super) fn distance_at(field: &RidgeField, distance: &Array2<f32>, at: Point) -> f64 {
    field.cell_at(at).map_or(0.0, |cell| (f64::from(distance[cell]) * field.cell as f64).min(60.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_weights_that_come_with_the_program_are_read_one_for_each_feature() {
        let settings = ChooseSettings::default();
        for weights in [&settings.core, &settings.delta] {
            assert_eq!(weights.weights.len(), FEATURES.len());
            assert!(weights.weights.iter().any(|w| w.abs() > 0.1));
        }
    }
}
