//! Which points hold together as a set.
//!
//! A point that appears at a fine scale appears as one of a pair, and both are real or neither is. Points that were
//! there at the coarsest scale stand alone. Every combination of these units is weighed by the evidence for each of its
//! points and by how often such a set occurs in prints at all; the confidence of a point is the weight of all
//! combinations that hold it (after Zhou, Chen and Gu 2009: the set is chosen, not the point).

use super::refine::for_cells_near;
use super::{Candidate, PointKind, PointSet, Singularities};
use crate::field::RidgeField;
use crate::geometry::{Point, direction_difference};
use crate::network::Sight;
use crate::trees::Forest;
use image::{GrayImage, Luma};
use imageproc::distance_transform::euclidean_squared_distance_transform;
use ndarray::Array2;
use serde::Deserialize;
use std::f64::consts::{FRAC_PI_2, PI};

/// Names of the facts about one point, in the order in which the trees number them.
pub const FEATURES: [&str; 32] = [
    "persistence",
    "ring error",
    "clarity",
    "to the border",
    "uncertainty",
    "not followed",
    "seen in the bend only",
    "to the partner",
    "to the next of its kind",
    "to the next of the other kind",
    "to a firmer one of its kind",
    "to a firmer one of the other kind",
    "cores",
    "deltas",
    "firm cores",
    "firm deltas",
    "firmest cores",
    "firmest deltas",
    "beside the middle of the print",
    "below the middle of the print",
    "turned from the usual direction",
    "below the top core",
    "beside the top core",
    "crowd",
    "sight",
    "cores seen",
    "deltas seen",
    "plain arch by sight",
    "tented arch by sight",
    "loop by sight",
    "whorl by sight",
    "firmest of its kind by sight",
];

/// What facts of the sight are where nothing was looked at.
const NOT_LOOKED_AT: f64 = -1.0;

/// Settings of the choice.
#[derive(Debug, Clone)]
pub struct ChooseSettings {
    /// Whether a core is real, by its facts: two classes, not real and real; grown on drawn prints.
    pub core: Forest,
    /// Likewise for deltas.
    pub delta: Forest,
    /// Units that are decided one by one only when there are more than this many doubtful ones (each combination of the
    /// rest is weighed: 2 to this power).
    pub most_doubtful: usize,
    /// Prior weight of a set by its number of cores (rows 0, 1, 2, 3 or more) and deltas (columns likewise), relative
    /// to points being independent. Deltas without a core and more than two cores hardly occur.
    pub set_prior: [[f64; 4]; 4],
}

#[derive(Deserialize)]
struct PointModel {
    core: Forest,
    delta: Forest,
}

impl Default for ChooseSettings {
    fn default() -> Self {
        let model: PointModel = serde_json::from_str(include_str!("../../models/decision/points.json"))
            .unwrap_or_else(|_| PointModel { core: Forest::default(), delta: Forest::default() });
        Self {
            core: model.core,
            delta: model.delta,
            most_doubtful: 10,
            set_prior: [[1.0, 0.25, 0.05, 0.01], [1.0, 1.0, 0.6, 0.05], [1.0, 1.0, 1.0, 0.2], [0.1, 0.1, 0.1, 0.2]],
        }
    }
}

/// Distances beyond this tell nothing more, pixels at 500 ppi.
const FAR_PX: f64 = 200.0;
/// Candidates within five ridge periods crowd each other, pixels at 500 ppi.
const CROWD_PX: f64 = 45.0;
/// Scale from which a point is firm, and firmest, pixels: the two coarsest of the default settings.
const FIRM_PX: (f64, f64) = (13.0, 20.0);

/// The facts about candidate `i`, in the order of [`FEATURES`].
pub fn features(candidates: &[Candidate], i: usize, sight: Option<&Sight>) -> [f64; FEATURES.len()] {
    let c = &candidates[i];
    let others = || candidates.iter().enumerate().filter(|(j, _)| *j != i).map(|(_, o)| o);
    let nearest = |same: bool, firmer: bool| {
        others()
            .filter(|o| (o.kind == c.kind) == same && (!firmer || o.persistence_px >= c.persistence_px))
            .map(|o| o.at.distance(c.at))
            .fold(FAR_PX, f64::min)
    };
    let count = |kind: PointKind, least: f64| {
        candidates.iter().filter(|o| o.kind == kind && o.persistence_px >= least).count() as f64
    };
    let top_core = candidates
        .iter()
        .filter(|o| o.kind == PointKind::Core && o.persistence_px >= FIRM_PX.0)
        .min_by(|a, b| a.at.y.total_cmp(&b.at.y));
    // A core opens downward, and one leg of a delta points upward, in an upright print.
    let turned = match c.kind {
        PointKind::Core => direction_difference(c.directions[0], -FRAC_PI_2).abs(),
        PointKind::Delta => c.directions.iter().map(|d| direction_difference(*d, FRAC_PI_2).abs()).fold(PI, f64::min),
    };
    let flag = |b: bool| f64::from(u8::from(b));
    let seen = |kind: PointKind| candidates.iter().filter(|o| o.kind == kind).map(|o| o.sight).sum::<f64>();
    let by_sight = sight.map_or([NOT_LOOKED_AT; 8], |s| {
        let [plain, tented, left, right, whorls @ ..] = s.kinds;
        [
            c.sight,
            seen(PointKind::Core),
            seen(PointKind::Delta),
            plain,
            tented,
            left + right,
            whorls.iter().sum(),
            others().filter(|o| o.kind == c.kind).map(|o| o.sight).fold(0.0, f64::max),
        ]
    });
    let by_flow = [
        c.persistence_px,
        c.ring_error,
        c.clarity,
        c.border_px,
        c.sigma_px,
        flag(!c.followed),
        flag(c.in_bend),
        c.partner.map_or(FAR_PX, |p| c.at.distance(candidates[p].at)),
        nearest(true, false),
        nearest(false, false),
        nearest(true, true),
        nearest(false, true),
        count(PointKind::Core, 0.0),
        count(PointKind::Delta, 0.0),
        count(PointKind::Core, FIRM_PX.0),
        count(PointKind::Delta, FIRM_PX.0),
        count(PointKind::Core, FIRM_PX.1),
        count(PointKind::Delta, FIRM_PX.1),
        c.on_print.0.abs(),
        c.on_print.1,
        turned,
        top_core.map_or(-FAR_PX, |t| c.at.y - t.at.y),
        top_core.map_or(0.0, |t| (c.at.x - t.at.x).abs()),
        others().filter(|o| o.at.distance(c.at) < CROWD_PX).count() as f64,
    ];
    let mut facts = [0.0; FEATURES.len()];
    facts.iter_mut().zip(by_flow.iter().chain(&by_sight)).for_each(|(to, v)| *to = *v);
    facts
}

/// The probability of a point alone: the share of real ones among drawn candidates with these facts.
fn alone(forest: &Forest, facts: &[f64; FEATURES.len()]) -> f64 {
    let [_, real] = forest.probabilities::<2>(facts);
    real.clamp(1e-4, 1.0 - 1e-4)
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
pub fn choose(
    mut candidates: Vec<Candidate>,
    border_half_turns: i32,
    sight: Option<Sight>,
    settings: &ChooseSettings,
) -> Singularities {
    let alone: Vec<f64> = (0..candidates.len())
        .map(|i| {
            let forest = if candidates[i].kind == PointKind::Core { &settings.core } else { &settings.delta };
            alone(forest, &features(&candidates, i, sight.as_ref()))
        })
        .collect();
    let units = units(&candidates, &alone);
    let (doubtful, sure) = split(&units, settings.most_doubtful);
    let mut result = Singularities { border_half_turns, sight, ..Default::default() };
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

/// The number of cores and of deltas of a kind of set, two standing for more.
pub fn cores_and_deltas(bucket: usize) -> (usize, usize) {
    (bucket / 3, bucket % 3)
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

/// Tells where on the print a place lies: sideways from the foreground's middle and below it, in its breadths and heights.
pub(super) fn place_on_print(field: &RidgeField) -> impl Fn(Point) -> (f64, f64) {
    let (mut count, mut sum) = (0.0f64, (0.0, 0.0));
    let (mut least, mut most) = ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
    for ((r, c), _) in field.foreground.indexed_iter().filter(|(_, on)| **on) {
        let (x, y) = (c as f64, r as f64);
        count += 1.0;
        sum = (sum.0 + x, sum.1 + y);
        least = (least.0.min(x), least.1.min(y));
        most = (most.0.max(x), most.1.max(y));
    }
    let middle = field.centre(sum.1 / count.max(1.0), sum.0 / count.max(1.0));
    let cell = field.cell as f64;
    let size = ((most.0 - least.0 + 1.0).max(1.0) * cell, (most.1 - least.1 + 1.0).max(1.0) * cell);
    move |p| ((p.x - middle.x) / size.0, (p.y - middle.y) / size.1)
}

pub(super) fn distance_at(field: &RidgeField, distance: &Array2<f32>, at: Point) -> f64 {
    field.cell_at(at).map_or(0.0, |cell| (f64::from(distance[cell]) * field.cell as f64).min(60.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_trees_that_come_with_the_program_ask_only_facts_that_there_are() {
        let settings = ChooseSettings::default();
        for forest in [&settings.core, &settings.delta] {
            assert_eq!((forest.start.len(), forest.trees.len()), (2, 2));
            let mut asked =
                forest.trees.iter().flatten().flat_map(|t| &t.questions).map(|q| usize::from(q.0)).peekable();
            assert!(asked.peek().is_some());
            assert!(asked.all(|fact| fact < FEATURES.len()));
        }
    }
}
