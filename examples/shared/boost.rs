//! Growing the trees of a decision.

use rayon::prelude::*;
use recurve::trees::{Forest, Tree, soft_maximum};
use std::cmp::Reverse;

/// One example: facts, class, and how much it counts.
#[derive(Debug, Clone)]
pub struct Example {
    pub facts: Vec<f32>,
    pub class: usize,
    pub weight: f64,
}

/// How trees are grown.
#[derive(Debug, Clone)]
pub struct BoostSettings {
    /// Trees a class.
    pub rounds: usize,
    /// How much of each tree's advice is taken.
    pub rate: f64,
    /// Leaves of a tree.
    pub leaves: usize,
    /// Weight of examples that a leaf needs at least.
    pub least_weight: f64,
    /// Penalty on what a leaf adds, in examples.
    pub penalty: f64,
}

impl Default for BoostSettings {
    fn default() -> Self {
        Self { rounds: 120, rate: 0.06, leaves: 6, least_weight: 10.0, penalty: 5.0 }
    }
}

/// Most thresholds tried for a fact.
const STEPS: usize = 48;
/// Greatest number of classes.
const MOST_CLASSES: usize = 4;

/// Grows a forest that tells `classes` (at most four) apart: in every round one tree a class is fitted to what is still
/// wrong, by Newton's step (Friedman 2001).
pub fn grow(examples: &[Example], classes: usize, settings: &BoostSettings) -> Forest {
    let facts = examples.first().map_or(0, |e| e.facts.len());
    let thresholds: Vec<Vec<f32>> = (0..facts).map(|f| thresholds(examples, f)).collect();
    // For each example and fact the number of thresholds below it.
    let steps: Vec<Vec<u8>> = examples
        .iter()
        .map(|e| e.facts.iter().zip(&thresholds).map(|(v, t)| t.partition_point(|t| t < v) as u8).collect())
        .collect();
    let total: f64 = examples.iter().map(|e| e.weight).sum();
    let share = |c: usize| examples.iter().filter(|e| e.class == c).map(|e| e.weight).sum::<f64>() / total.max(1e-9);
    let start: Vec<f64> = (0..classes).map(|c| share(c).max(1e-6).ln()).collect();
    let mut sums: Vec<[f64; MOST_CLASSES]> =
        vec![std::array::from_fn(|c| start.get(c).copied().unwrap_or(f64::NEG_INFINITY)); examples.len()];
    let mut forest = Forest { start, trees: vec![Vec::new(); classes] };
    for _ in 0..settings.rounds {
        let probabilities: Vec<[f64; MOST_CLASSES]> = sums.iter().map(|s| soft_maximum(*s)).collect();
        let grown: Vec<Tree> = (0..classes)
            .into_par_iter()
            .map(|c| {
                let slopes: Vec<(f64, f64)> = examples
                    .iter()
                    .zip(&probabilities)
                    .map(|(e, p)| {
                        let miss = f64::from(u8::from(e.class == c)) - p[c];
                        (e.weight * miss, e.weight * (p[c] * (1.0 - p[c])).max(1e-6))
                    })
                    .collect();
                tree(examples, &steps, &thresholds, &slopes, settings)
            })
            .collect();
        for (c, tree) in grown.into_iter().enumerate() {
            for (sum, e) in sums.iter_mut().zip(examples) {
                let facts: Vec<f64> = e.facts.iter().map(|v| f64::from(*v)).collect();
                sum[c] += tree.value(&facts);
            }
            forest.trees[c].push(tree);
        }
    }
    forest
}

/// The mean of as many forests as `parts`, each grown without one part of the examples: a single one tells close cases by which prints were
/// drawn (bootstrap aggregation after Breiman 1996, with parts left out in place of samples).
pub fn grow_mean(examples: &[Example], classes: usize, settings: &BoostSettings, parts: usize) -> Forest {
    let mut mean = Forest { start: vec![0.0; classes], trees: vec![Vec::new(); classes] };
    for part in 0..parts {
        let some: Vec<Example> =
            examples.iter().enumerate().filter(|(i, _)| i % parts != part).map(|(_, e)| e.clone()).collect();
        let forest = grow(&some, classes, settings);
        mean.start.iter_mut().zip(&forest.start).for_each(|(to, from)| *to += from / parts as f64);
        for (to, trees) in mean.trees.iter_mut().zip(forest.trees) {
            to.extend(trees.into_iter().map(|mut tree| {
                tree.leaves.iter_mut().for_each(|leaf| *leaf /= parts as f32);
                tree
            }));
        }
    }
    mean
}

/// Values between which at most one part in [`STEPS`] of the examples lies.
fn thresholds(examples: &[Example], fact: usize) -> Vec<f32> {
    let mut values: Vec<f32> = examples.iter().map(|e| e.facts[fact]).collect();
    values.sort_by(f32::total_cmp);
    values.dedup();
    let n = values.len();
    let middle = |i: usize| 0.5 * (values[i] + values[i + 1]);
    let mut found: Vec<f32> = if n <= STEPS {
        (0..n.saturating_sub(1)).map(middle).collect()
    } else {
        (1..STEPS).map(|k| middle(k * (n - 1) / STEPS)).collect()
    };
    found.dedup();
    found
}

/// A leaf while the tree grows.
struct Leaf {
    members: Vec<usize>,
    /// Gain of the best question, the fact, the threshold's number.
    best: Option<(f64, usize, usize)>,
    /// The question and the side that lead here.
    parent: Option<(usize, bool)>,
}

fn tree(
    examples: &[Example],
    steps: &[Vec<u8>],
    thresholds: &[Vec<f32>],
    slopes: &[(f64, f64)],
    settings: &BoostSettings,
) -> Tree {
    let leaf = |members: Vec<usize>, parent| {
        let best = best_question(&members, examples, steps, thresholds, slopes, settings);
        Leaf { members, best, parent }
    };
    let mut leaves = vec![leaf((0..examples.len()).collect(), None)];
    let mut tree = Tree { questions: Vec::new(), leaves: Vec::new() };
    while leaves.len() < settings.leaves {
        let gain = |l: &Leaf| l.best.map_or(0.0, |b| b.0);
        let Some(i) = (0..leaves.len())
            .max_by(|&a, &b| gain(&leaves[a]).total_cmp(&gain(&leaves[b])).then(Reverse(a).cmp(&Reverse(b))))
        else {
            break;
        };
        let Some((_, fact, step)) = leaves[i].best else { break };
        let divided = leaves.swap_remove(i);
        let number = tree.questions.len();
        point(&mut tree, divided.parent, number as i16);
        tree.questions.push((fact as u8, thresholds[fact][step], 0, 0));
        let (low, high) = divided.members.into_iter().partition(|&m| usize::from(steps[m][fact]) <= step);
        leaves.push(leaf(low, Some((number, true))));
        leaves.push(leaf(high, Some((number, false))));
    }
    for leaf in leaves {
        let (g, h) = leaf.members.iter().fold((0.0, 0.0), |(g, h), &m| (g + slopes[m].0, h + slopes[m].1));
        let value = (1e4 * settings.rate * g / (h + settings.penalty)).round() / 1e4;
        let target = -1 - tree.leaves.len() as i16;
        point(&mut tree, leaf.parent, target);
        tree.leaves.push(value as f32);
    }
    tree
}

fn point(tree: &mut Tree, parent: Option<(usize, bool)>, target: i16) {
    if let Some((question, low)) = parent {
        let question = &mut tree.questions[question];
        if low { question.2 = target } else { question.3 = target }
    }
}

fn best_question(
    members: &[usize],
    examples: &[Example],
    steps: &[Vec<u8>],
    thresholds: &[Vec<f32>],
    slopes: &[(f64, f64)],
    settings: &BoostSettings,
) -> Option<(f64, usize, usize)> {
    let gain = |g: f64, h: f64| g * g / (h + settings.penalty);
    let mut best: Option<(f64, usize, usize)> = None;
    let (all_g, all_h, all_w) = members
        .iter()
        .fold((0.0, 0.0, 0.0), |(g, h, w), &m| (g + slopes[m].0, h + slopes[m].1, w + examples[m].weight));
    for (fact, thresholds) in thresholds.iter().enumerate().filter(|(_, t)| !t.is_empty()) {
        let mut bins = vec![(0.0, 0.0, 0.0); thresholds.len() + 1];
        for &m in members {
            let bin = &mut bins[usize::from(steps[m][fact])];
            bin.0 += slopes[m].0;
            bin.1 += slopes[m].1;
            bin.2 += examples[m].weight;
        }
        let (mut g, mut h, mut w) = (0.0, 0.0, 0.0);
        for (step, bin) in bins[..thresholds.len()].iter().enumerate() {
            g += bin.0;
            h += bin.1;
            w += bin.2;
            if w < settings.least_weight || all_w - w < settings.least_weight {
                continue;
            }
            let won = gain(g, h) + gain(all_g - g, all_h - h) - gain(all_g, all_h);
            if won > best.map_or(1e-6, |b| b.0) {
                best = Some((won, fact, step));
            }
        }
    }
    best
}

/// JSON with a line for each part down to the trees, so that a change of the model can be read.
pub fn in_lines(value: &serde_json::Value, depth: usize) -> String {
    const DEEPEST: usize = 3;
    let indent = "  ".repeat(depth + 1);
    let close = "  ".repeat(depth);
    let list = |open: char, parts: Vec<String>, end: char| {
        if parts.is_empty() {
            return format!("{open}{end}");
        }
        format!("{open}\n{indent}{}\n{close}{end}", parts.join(&format!(",\n{indent}")))
    };
    match value {
        serde_json::Value::Object(map) if depth < DEEPEST => list(
            '{',
            map.iter().map(|(k, v)| format!("{}: {}", serde_json::json!(k), in_lines(v, depth + 1))).collect(),
            '}',
        ),
        serde_json::Value::Array(items) if depth < DEEPEST && items.iter().any(|i| i.is_object() || i.is_array()) => {
            list('[', items.iter().map(|v| in_lines(v, depth + 1)).collect(), ']')
        }
        other => other.to_string(),
    }
}
