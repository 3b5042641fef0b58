//! Fits the numbers of the decision on drawn prints and writes them to `models/decision`.
//!
//! `cargo run --release --example fit -- [PRINTS]` (default 2,400; minutes on two cores). The same prints are drawn every
//! time; they share no seed with those of `measure`.

mod shared;

use rayon::prelude::*;
use recurve::field::{self, FieldSettings};
use recurve::intake::{self, IntakeSettings};
use recurve::pattern::decide::{self, CLASSES, DecisionModel, FACTS, Pattern, facts};
use recurve::singular::choose::{self, BUCKETS, ChooseSettings, FEATURES};
use recurve::singular::{self, PointKind, SingularSettings, Singularities};
use recurve::trees::Forest;
use shared::boost::{self, BoostSettings, Example};
use shared::logistic::{Row, fit_multinomial};
use shared::{Class, Drawn, FIT_FRAMINGS, FIT_QUALITIES, class, draw_one, match_points, true_points, write_model};

const FIRST_SEED: u64 = 1_000_000;

/// A candidate this near to a true point is that point, pixels at 500 ppi.
const REACH_PX: f64 = 10.0;
/// A candidate whose partner is real is the other point of the pair even when the tight bend has pushed it this far, pixels: the
/// second core of a pocket may sit two ridges off while its delta is certain.
const PARTNER_REACH_PX: f64 = 26.0;

/// One candidate in so many is learned a second time without the network's sight.
const BLIND_EVERY: usize = 4;

/// One drawn print as far as the weights do not matter.
struct Looked {
    field: field::RidgeField,
    found: Singularities,
    /// For each candidate, whether it is a true point.
    real: Vec<bool>,
    /// Number of true points on the print.
    points: usize,
    class: Class,
}

fn main() {
    let prints: u64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(2400);
    let looked: Vec<Looked> = (0..prints)
        .into_par_iter()
        .filter_map(|i| draw_one(FIRST_SEED + i, &FIT_QUALITIES, &FIT_FRAMINGS))
        .filter_map(|drawn| look(&drawn))
        .collect();
    println!("{} prints drawn and looked at", looked.len());
    let [first, second] = [0, 1].map(|half| looked.iter().skip(half).step_by(2).collect::<Vec<_>>());
    let whole: Vec<&Looked> = looked.iter().collect();
    let grown = |part: &[&Looked]| ChooseSettings {
        core: fit_points(part, PointKind::Core),
        delta: fit_points(part, PointKind::Delta),
        ..Default::default()
    };
    let (by_first, by_second, by_all) = (grown(&first), grown(&second), grown(&whole));
    judge_points(&first, &by_second);
    judge_points(&second, &by_first);
    let note = format!(
        "Fitted on {} drawn prints, seeds from {FIRST_SEED}, by `cargo run --release --example fit -- {prints}`. Two classes: not \
         real, real. Facts in the order: {}.",
        looked.len(),
        FEATURES.join(", ")
    );
    write_model("points.json", &serde_json::json!({ "note": note, "core": by_all.core, "delta": by_all.delta }));
    // The patterns are fitted on sets that were chosen by trees which had not seen the print.
    fit_pattern(&looked, [by_second, by_first], prints);
}

fn look(drawn: &Drawn) -> Option<Looked> {
    let settings = FieldSettings::default();
    let mut analyser = field::spectrum::SpectrumAnalyser::new(settings.spectrum.clone());
    let working = intake::prepare(&drawn.print, &IntakeSettings::default()).ok()?;
    let field = field::estimate(working.pixels.view(), &settings, &mut analyser);
    let found = singular::find(
        &field,
        &SingularSettings { sole_core_shift_periods: 0.0, close_cores_shift_periods: 0.0, ..Default::default() },
    );
    let truth: Vec<_> =
        true_points(&drawn.truth).into_iter().map(|(k, p)| (k, working.to_original.invert(p))).collect();
    let places: Vec<_> = found.candidates.iter().map(|c| (c.kind, c.at)).collect();
    let points = truth.len();
    let mut matched = match_points(&places, &truth, REACH_PX);
    for i in 0..matched.len() {
        let partner_is_real = found.candidates[i].partner.is_some_and(|p| matched[p].is_some());
        if matched[i].is_none() && partner_is_real {
            matched[i] = (0..truth.len()).find(|&j| {
                let (kind, at) = truth[j];
                kind == places[i].0 && at.distance(places[i].1) < PARTNER_REACH_PX && !matched.contains(&Some(j))
            });
        }
    }
    let real = matched.iter().map(Option::is_some).collect();
    Some(Looked { field, found, real, points, class: class(drawn.truth.kind) })
}

fn fit_points(looked: &[&Looked], kind: PointKind) -> Forest {
    let examples: Vec<Example> = looked
        .iter()
        .flat_map(|l| {
            (0..l.found.candidates.len()).filter(|&i| l.found.candidates[i].kind == kind).map(move |i| (l, i))
        })
        .enumerate()
        .flat_map(|(n, (l, i))| {
            let example = move |sight| Example {
                facts: choose::features(&l.found.candidates, i, sight).iter().map(|v| *v as f32).collect(),
                class: usize::from(l.real[i]),
                weight: 1.0,
            };
            // Some once more as if nothing but the flow were there to look at.
            let blind = n.is_multiple_of(BLIND_EVERY).then(|| example(None));
            std::iter::once(example(l.found.sight.as_ref())).chain(blind)
        })
        .collect();
    boost::grow(&examples, 2, &BoostSettings { leaves: 8, penalty: 3.0, ..Default::default() })
}

/// Tells how well trees judge the candidates of prints that they have not seen.
fn judge_points(looked: &[&Looked], settings: &ChooseSettings) {
    for (kind, forest) in [(PointKind::Core, &settings.core), (PointKind::Delta, &settings.delta)] {
        let (mut count, mut wrong, mut loss) = (0usize, 0usize, 0.0);
        for l in looked {
            for i in (0..l.found.candidates.len()).filter(|&i| l.found.candidates[i].kind == kind) {
                let [_, p] =
                    forest.probabilities::<2>(&choose::features(&l.found.candidates, i, l.found.sight.as_ref()));
                count += 1;
                wrong += usize::from((p > 0.5) != l.real[i]);
                loss -= (if l.real[i] { p } else { 1.0 - p }).max(1e-4).ln();
            }
        }
        let n = count.max(1) as f64;
        println!("{kind:?}: {count} candidates unseen, {wrong} on the wrong side, log loss {:.4}", loss / n);
    }
    let whole = looked.iter().filter(|l| {
        let found =
            choose::choose(l.found.candidates.clone(), l.found.border_half_turns, l.found.sight.clone(), settings);
        let all_real = found.candidates.iter().zip(&l.real).all(|(c, real)| c.chosen == *real);
        all_real && l.real.iter().filter(|r| **r).count() == l.points
    });
    println!("whole set right: {} of {}", whole.count(), looked.len());
}

/// The readings of one print as rows: kind of set, weight, facts.
type Rows = Vec<(usize, f64, [f64; FACTS])>;
/// The readings, the network's patterns, the class.
type Print = (Rows, Option<[f64; 5]>, usize);

fn fit_pattern(looked: &[Looked], chosen_by: [ChooseSettings; 2], prints: u64) {
    let settings = chosen_by.map(|choose| SingularSettings { choose, ..Default::default() });
    let prints_rows: Vec<Print> = looked
        .par_iter()
        .enumerate()
        .map(|(i, l)| {
            let (candidates, sight) = (l.found.candidates.clone(), l.found.sight.clone());
            let found = singular::settle(&l.field, candidates, l.found.border_half_turns, sight, &settings[i % 2]);
            let rows = decide::readings(&l.field, &found)
                .iter()
                .map(|r| (r.bucket, r.probability, facts(&r.evidence, r.bucket)))
                .collect();
            let by_sight = l.found.sight.as_ref().map(decide::by_sight);
            (rows, by_sight, l.class as usize)
        })
        .collect();
    if let Ok(path) = std::env::var("RECURVE_FACTS") {
        let line = |(i, (rows, _, y)): (usize, &Print)| {
            rows.iter()
                .map(|(b, p, f)| {
                    format!("{i},{b},{p:.4},{}{y}\n", f.iter().map(|v| format!("{v:.5},")).collect::<String>())
                })
                .collect::<String>()
        };
        let _ = std::fs::write(path, prints_rows.iter().enumerate().map(line).collect::<String>());
    }
    // Half of the prints fit the weights that judge the other half, for an honest figure; the written model uses all.
    let (first, second): (Vec<_>, Vec<_>) = prints_rows.iter().cloned().enumerate().partition(|(i, _)| i % 2 == 0);
    let strip = |part: Vec<(usize, Print)>| part.into_iter().map(|(_, p)| p).collect::<Vec<_>>();
    let (first, second) = (strip(first), strip(second));
    let model = |part: &[Print]| DecisionModel {
        note: format!(
            "Fitted on {} drawn prints and their mirror images, seeds from {FIRST_SEED}, by `cargo run --release --example fit -- {prints}`.",
            looked.len()
        ),
        facts: decide::fact_names(),
        forest: fit_classes(part),
        side: (0..BUCKETS).map(|b| fit_side(part, b)).collect(),
        temperature: 1.0,
        together_temperature: 1.0,
    };
    let mut folds = [(model(&first), &second), (model(&second), &first)];
    // The temperature under which the halves explain each other best.
    let loss = |t: f64| {
        folds.iter().map(|(m, test)| log_loss(&DecisionModel { temperature: t, ..m.clone() }, test)).sum::<f64>()
    };
    let temperature = (8..=30).map(|k| f64::from(k) * 0.05).min_by(|a, b| loss(*a).total_cmp(&loss(*b))).unwrap_or(1.0);
    folds.iter_mut().for_each(|(m, _)| m.temperature = temperature);
    let together_loss = |t: f64| {
        let loss = |(m, test): &(DecisionModel, &Vec<Print>)| {
            let m = DecisionModel { together_temperature: t, ..m.clone() };
            test.iter().map(|p| -together(&m, p)[p.2].max(1e-9).ln()).sum::<f64>()
        };
        folds.iter().map(loss).sum::<f64>()
    };
    // Never below 1: drawn prints bear out that the two together are surer than either, real ones do not.
    let together_temperature = (20..=30)
        .map(|k| f64::from(k) * 0.05)
        .min_by(|a, b| together_loss(*a).total_cmp(&together_loss(*b)))
        .unwrap_or(1.0);
    println!("temperature {temperature:.2}, together {together_temperature:.2}");
    for (model, test) in &mut folds {
        model.together_temperature = together_temperature;
        println!("by the facts alone:");
        report(test, |p| added(model, &p.0));
        println!("with the network:");
        report(test, |p| together(model, p));
    }
    let model = DecisionModel { temperature, together_temperature, ..model(&prints_rows) };
    write_model("pattern.json", &serde_json::json!(model));
}

/// The probabilities of one print's readings added and calibrated.
fn added(model: &DecisionModel, readings: &Rows) -> [f64; 5] {
    let total: f64 = readings.iter().map(|r| r.1).sum();
    let mut p = [0.0; 5];
    for (bucket, weight, f) in readings {
        for (sum, q) in p.iter_mut().zip(model.under(*bucket, f)) {
            *sum += q * weight / total;
        }
    }
    model.calibrated(p)
}

/// The same, with what the network says.
fn together(model: &DecisionModel, (readings, by_sight, _): &Print) -> [f64; 5] {
    let by_facts = added(model, readings);
    by_sight.map_or(by_facts, |p| model.with_sight(by_facts, p))
}

fn log_loss(model: &DecisionModel, test: &[Print]) -> f64 {
    test.iter().map(|(readings, _, y)| -added(model, readings)[*y].max(1e-9).ln()).sum()
}

/// The readings under one kind of set, with the facts that are kept by `keep` and the class by `class_of`.
fn bucket_rows(
    prints: &[Print],
    bucket: usize,
    keep: impl Fn(usize) -> bool,
    class_of: impl Fn(usize) -> Option<usize>,
) -> Vec<Row> {
    let mut rows = Vec::new();
    for (readings, _, y) in prints {
        let Some(class) = class_of(*y) else { continue };
        for (_, weight, f) in readings.iter().filter(|(b, _, _)| *b == bucket) {
            let facts = f.iter().enumerate().map(|(i, v)| if keep(i) { *v } else { 0.0 }).collect();
            rows.push(Row { facts, class, weight: *weight });
        }
    }
    rows
}

/// Plain arch, tented arch, loop or whorl, by the facts without side.
fn fit_classes(prints: &[Print]) -> Forest {
    let examples: Vec<Example> = prints
        .iter()
        .flat_map(|(readings, _, y)| {
            let class = [0, 1, 2, 2, 3][*y];
            readings.iter().map(move |(bucket, weight, f)| Example {
                facts: decide::forest_facts(*bucket, f).iter().map(|v| *v as f32).collect(),
                class,
                weight: *weight,
            })
        })
        .collect();
    boost::grow(&examples, CLASSES, &BoostSettings::default())
}

/// The side of a loop, by the facts that change sign in a mirror, on every loop and its mirror image.
fn fit_side(prints: &[Print], bucket: usize) -> Vec<f64> {
    let mut rows = bucket_rows(prints, bucket, decide::is_sided, |y| [None, None, Some(0), Some(1), None][y]);
    if rows.is_empty() {
        return vec![0.0; FACTS];
    }
    let mirrored: Vec<Row> = rows
        .iter()
        .map(|r| Row { facts: r.facts.iter().map(|v| -v).collect(), class: 1 - r.class, weight: r.weight })
        .collect();
    rows.extend(mirrored);
    let weights = fit_multinomial(&rows, 2, 12.0, 500);
    weights[1].iter().zip(&weights[0]).map(|(right, left)| right - left).collect()
}

fn report(test: &[Print], probabilities: impl Fn(&Print) -> [f64; 5]) {
    let mut confusion = [[0usize; 5]; 5];
    let (mut sure, mut sure_wrong) = (0, 0);
    for print in test {
        let (p, y) = (probabilities(print), &print.2);
        let best = (0..5).max_by(|&a, &b| p[a].total_cmp(&p[b])).unwrap_or(0);
        confusion[*y][best] += 1;
        if p[best] > 0.95 {
            sure += 1;
            sure_wrong += usize::from(best != *y);
        }
    }
    let right: usize = (0..5).map(|i| confusion[i][i]).sum();
    println!(
        "held-out half: {:.2} % right of {}; above 0.95: {sure}, wrong among them {sure_wrong}",
        100.0 * right as f64 / test.len() as f64,
        test.len()
    );
    for (i, row) in confusion.iter().enumerate() {
        println!("  {:?}: {row:?}", Pattern::ALL[i]);
    }
}
