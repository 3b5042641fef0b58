//! Fits the numbers of the decision on drawn prints and writes them to `models/decision`.
//!
//! `cargo run --release --example fit -- [PRINTS]` (default 2,400; minutes on two cores). The same prints are drawn every
//! time; they share no seed with those of `measure`.

mod shared;

use rayon::prelude::*;
use recurve::draw::{Framing, Quality};
use recurve::field::{self, FieldSettings};
use recurve::intake::{self, IntakeSettings};
use recurve::pattern::decide::{DecisionModel, FACT_NAMES, FACTS, Pattern, facts, mirrored};
use recurve::pattern::evidence;
use recurve::singular::choose::{self, ChooseSettings, FEATURES, PointWeights};
use recurve::singular::{self, PointKind, Singularities, SingularSettings};
use shared::{Class, Drawn, class, draw_one, match_points, true_points};

const FIRST_SEED: u64 = 1_000_000;
const QUALITIES: [(Quality, f64); 3] = [(Quality::Good, 4.0), (Quality::Fair, 4.0), (Quality::Poor, 3.0)];
const FRAMINGS: [(Framing, f64); 3] = [(Framing::Rolled, 3.0), (Framing::Plain, 3.0), (Framing::Crop, 4.0)];

/// One drawn print as far as the weights do not matter.
struct Looked {
    field: field::RidgeField,
    found: Singularities,
    /// For each candidate, whether it is a true point.
    real: Vec<bool>,
    class: Class,
}

fn main() {
    let prints: u64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(2400);
    let looked: Vec<Looked> = (0..prints)
        .into_par_iter()
        .filter_map(|i| draw_one(FIRST_SEED + i, &QUALITIES, &FRAMINGS))
        .filter_map(|drawn| look(&drawn))
        .collect();
    println!("{} prints drawn and looked at", looked.len());
    let (core, delta) = (fit_points(&looked, PointKind::Core), fit_points(&looked, PointKind::Delta));
    let note = format!(
        "Fitted on {} drawn prints, seeds from {FIRST_SEED}, by `cargo run --release --example fit -- {prints}`. \
         Evidence in the order: {}.",
        looked.len(),
        FEATURES.join(", ")
    );
    write("points.json", &serde_json::json!({ "note": note, "core": core, "delta": delta }));
    let settings = ChooseSettings { core, delta, ..Default::default() };
    fit_pattern(&looked, &settings, prints);
}

fn look(drawn: &Drawn) -> Option<Looked> {
    let settings = FieldSettings::default();
    let mut analyser = field::spectrum::SpectrumAnalyser::new(settings.spectrum.clone());
    let working = intake::prepare(&drawn.print, &IntakeSettings::default()).ok()?;
    let field = field::estimate(working.pixels.view(), &settings, &mut analyser);
    let found = singular::find(&field, &SingularSettings::default());
    let reach = 10.0;
    let truth: Vec<_> =
        true_points(&drawn.truth).into_iter().map(|(k, p)| (k, working.to_original.invert(p))).collect();
    let places: Vec<_> = found.candidates.iter().map(|c| (c.kind, c.at)).collect();
    let real = match_points(&places, &truth, reach).iter().map(Option::is_some).collect();
    Some(Looked { field, found, real, class: class(drawn.truth.kind) })
}

fn fit_points(looked: &[Looked], kind: PointKind) -> PointWeights {
    let mut rows = Vec::new();
    for l in looked {
        for (i, c) in l.found.candidates.iter().enumerate().filter(|(_, c)| c.kind == kind) {
            let _ = c;
            let mut row = vec![1.0];
            row.extend(choose::features(&l.found.candidates, i));
            rows.push((row, usize::from(l.real[i])));
        }
    }
    let weights = fit_multinomial(&rows, 2, 1e-3, 400);
    let sum: Vec<f64> = (0..=FEATURES.len()).map(|k| weights[1][k] - weights[0][k]).collect();
    let wrong = rows
        .iter()
        .filter(|(row, y)| (row.iter().zip(&sum).map(|(a, b)| a * b).sum::<f64>() > 0.0) != (*y == 1))
        .count();
    println!("{kind:?}: {} candidates, {} real, {wrong} on the wrong side", rows.len(), rows.iter().filter(|r| r.1 == 1).count());
    for (name, w) in FEATURES.iter().zip(&sum[1..]) {
        println!("  {name:28} {w:8.3}");
    }
    PointWeights { constant: sum[0], weights: sum[1..].to_vec() }
}

fn fit_pattern(looked: &[Looked], settings: &ChooseSettings, prints: u64) {
    let rows: Vec<([f64; FACTS], usize)> = looked
        .par_iter()
        .map(|l| {
            let mut candidates = l.found.candidates.clone();
            candidates.iter_mut().for_each(|c| c.chosen = false);
            let found = choose::choose(candidates, l.found.border_half_turns, settings);
            (facts(&evidence::gather(&l.field, &found)), l.class as usize)
        })
        .collect();
    if let Ok(path) = std::env::var("RECURVE_FACTS") {
        let text: String = rows
            .iter()
            .map(|(f, y)| f.iter().map(|v| format!("{v:.5},")).collect::<String>() + &format!("{y}\n"))
            .collect();
        let _ = std::fs::write(path, FACT_NAMES.join(";") + "\n" + &text);
    }
    let mirror = |class: usize| match class {
        2 => 3,
        3 => 2,
        other => other,
    };
    let both: Vec<(Vec<f64>, usize)> = rows
        .iter()
        .flat_map(|(f, y)| [(f.to_vec(), *y), (mirrored(f).to_vec(), mirror(*y))])
        .collect();
    // Half of the prints fit the weights that judge the other half, for an honest figure; the written model uses all.
    let (first, second): (Vec<_>, Vec<_>) = both.chunks(2).enumerate().partition(|(i, _)| i % 2 == 0);
    let flat = |part: Vec<(usize, &[(Vec<f64>, usize)])>| part.iter().flat_map(|(_, c)| c.to_vec()).collect::<Vec<_>>();
    let (first, second) = (flat(first), flat(second));
    let model = |weights| DecisionModel {
        note: format!("Fitted on {} drawn prints and their mirror images, seeds from {FIRST_SEED}, by `cargo run --release --example fit -- {prints}`.", looked.len()),
        facts: FACT_NAMES.map(String::from).to_vec(),
        weights,
        temperature: 1.0,
    };
    for (train, test) in [(&first, &second), (&second, &first)] {
        report(&model(fit_multinomial(train, 5, 1e-3, 600)), test);
    }
    let whole = model(fit_multinomial(&both, 5, 1e-3, 800));
    for (k, name) in FACT_NAMES.iter().enumerate() {
        println!("  {name:28} {:?}", whole.weights.iter().map(|w| (w[k] * 100.0).round() / 100.0).collect::<Vec<_>>());
    }
    write("pattern.json", &whole);
}

fn report(model: &DecisionModel, test: &[(Vec<f64>, usize)]) {
    let mut confusion = [[0usize; 5]; 5];
    for (row, y) in test {
        let mut f = [0.0; FACTS];
        f.copy_from_slice(row);
        let p = model.probabilities(&f);
        let best = (0..5).max_by(|&a, &b| p[a].total_cmp(&p[b])).unwrap_or(0);
        confusion[*y][best] += 1;
    }
    let right: usize = (0..5).map(|i| confusion[i][i]).sum();
    println!("held-out half: {:.2} % right of {}", 100.0 * right as f64 / test.len() as f64, test.len());
    for (i, row) in confusion.iter().enumerate() {
        println!("  {:?}: {row:?}", Pattern::ALL[i]);
    }
}

/// Multinomial logistic regression with a ridge penalty, by gradient descent with momentum (Nesterov 1983) on scaled inputs.
fn fit_multinomial(rows: &[(Vec<f64>, usize)], classes: usize, penalty: f64, rounds: usize) -> Vec<Vec<f64>> {
    let n = rows.first().map_or(0, |r| r.0.len());
    let scale: Vec<f64> = (0..n)
        .map(|k| (rows.iter().map(|r| r.0[k] * r.0[k]).sum::<f64>() / rows.len().max(1) as f64).sqrt().max(1e-6))
        .collect();
    let (mut w, mut previous) = (vec![vec![0.0; n]; classes], vec![vec![0.0; n]; classes]);
    let rate = 4.0 / n.max(1) as f64;
    for round in 0..rounds * 3 {
        let momentum = round as f64 / (round as f64 + 3.0);
        let ahead: Vec<Vec<f64>> =
            w.iter().zip(&previous).map(|(a, b)| a.iter().zip(b).map(|(x, y)| x + momentum * (x - y)).collect()).collect();
        let gradient = rows
            .par_chunks(256)
            .map(|chunk| {
                let mut g = vec![vec![0.0; n]; classes];
                for (row, y) in chunk {
                    let sums: Vec<f64> =
                        ahead.iter().map(|w| w.iter().zip(row).zip(&scale).map(|((w, x), s)| w * x / s).sum()).collect();
                    let top = sums.iter().copied().fold(f64::NEG_INFINITY, f64::max);
                    let total: f64 = sums.iter().map(|s| (s - top).exp()).sum();
                    for (c, g) in g.iter_mut().enumerate() {
                        let d = (sums[c] - top).exp() / total - f64::from(u8::from(c == *y));
                        for ((g, x), s) in g.iter_mut().zip(row).zip(&scale) {
                            *g += d * x / s;
                        }
                    }
                }
                g
            })
            .collect::<Vec<_>>()
            .into_iter()
            .fold(vec![vec![0.0; n]; classes], |mut sum, g| {
                for (a, b) in sum.iter_mut().zip(g) {
                    a.iter_mut().zip(b).for_each(|(x, y)| *x += y);
                }
                sum
            });
        previous = w;
        w = ahead
            .into_iter()
            .zip(gradient)
            .map(|(a, g)| {
                a.into_iter().zip(g).map(|(x, g)| x - rate * (g / rows.len() as f64 + penalty * x)).collect()
            })
            .collect();
    }
    w.into_iter().map(|row| row.into_iter().zip(&scale).map(|(x, s)| x / s).collect()).collect()
}

fn write(name: &str, value: &impl serde::Serialize) {
    let path = format!("{}/models/decision/{name}", env!("CARGO_MANIFEST_DIR"));
    match serde_json::to_string_pretty(value).map(|text| std::fs::write(&path, text + "\n")) {
        Ok(Ok(())) => println!("wrote {path}"),
        other => eprintln!("{path}: {other:?}"),
    }
}
