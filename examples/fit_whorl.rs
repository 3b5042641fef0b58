//! Fits what is decided on the ridges below the pattern and writes `models/decision/whorl.json`.
//!
//! `cargo run --release --example fit_whorl -- [WHORLS]` (default 4,000; some twenty minutes on two cores). Draws so many whorls and a third as many loops, the
//! same every time and with seeds that neither `fit` nor `measure` uses; runs `intake`, `field` and `singular`; and fits the
//! trees for the kind of whorl, the doubt of the tracing and the range of a count by the readings. `-- WHORLS range` fits the range alone anew, in four
//! minutes, and keeps the rest: enough where only how loops are drawn or counted has changed. Prints whose deltas lie off the print are among them in
//! the shares in which the framings leave them off. Needed again whenever `field`, `singular` or a fact of `pattern/whorl.rs` changes.

mod shared;

use rayon::prelude::*;
use recurve::draw::{Framing, Kind, Wish, draw};
use recurve::field::{self, FieldSettings};
use recurve::geometry::Point;
use recurve::intake::{self, IntakeSettings};
use recurve::network::sample::Sample;
use recurve::network::trace::{Between, TraceNetwork};
use recurve::pattern::ridge_count::{around_loop, count_ridges};
use recurve::pattern::subtype::{KINDS, Prior, WhorlModel, by_sight, read_count};
use recurve::pattern::trace::{Tracings, trace, tracing_of};
use recurve::pattern::whorl::{FACTS, view};
use recurve::proposal::{General, Subclass};
use recurve::ridge::{Region, RidgeLines, RidgeSettings};
use recurve::singular::{self, SingularSettings, Singularities};
use shared::boost::{self, BoostSettings, Example};
use shared::{LOOPS, READ_QUALITIES, SHARES, chance, impression, pick, write_model};

const FIRST_SEED: u64 = 35_000_000;
const FIRST_LOOP_SEED: u64 = 40_000_000;
const FRAMINGS: [(Framing, f64); 3] = [(Framing::Rolled, 3.0), (Framing::Plain, 2.0), (Framing::Crop, 4.0)];

/// Forests whose mean tells the kinds.
const PARTS: usize = 3;
/// Least temperature of what trees and network come to together: drawn prints alone would sharpen it more, and real ones are not like them.
const LEAST_TEMPERATURE: f64 = 0.9;

/// One whorl as the model sees it.
struct Whorl {
    facts: [f64; FACTS],
    sight: Option<[f64; 4]>,
    kind: usize,
    tracings: Option<Tracings>,
    by_network: Option<Between>,
    between: Option<i32>,
}

struct Seen {
    field: field::RidgeField,
    found: Singularities,
}

fn see(kind: Kind, seed: u64) -> Option<(Seen, recurve::draw::Truth)> {
    let wish = Wish {
        quality: pick(&READ_QUALITIES, chance(seed, 2)),
        framing: pick(&FRAMINGS, chance(seed, 3)),
        ..Wish::of(kind)
    };
    let drawn = draw(&wish, seed).ok()?;
    let settings = FieldSettings::default();
    let mut analyser = field::spectrum::SpectrumAnalyser::new(settings.spectrum.clone());
    let working = intake::prepare(&impression(&drawn, seed), &IntakeSettings::default()).ok()?;
    let field = field::estimate(working.pixels.view(), &settings, &mut analyser);
    let found = singular::find(&field, &SingularSettings::default());
    Some((Seen { field, found }, drawn.truth))
}

fn whorl(seed: u64, kinds: &[(Kind, f64)]) -> Option<Whorl> {
    let kind = pick(kinds, chance(seed, 1));
    let (seen, truth) = see(kind, seed)?;
    let whorl = view(&seen.field, &seen.found, &RidgeSettings::default())?;
    let tracings = whorl.points.extreme_deltas().map(|(left, right)| {
        let points: Vec<Point> = whorl.points.cores.iter().chain(&whorl.points.deltas).map(|c| c.at).collect();
        let region = Region::around(&points, 12.0 * whorl.period, seen.field.filtered.dim());
        let lines = RidgeLines::of(&seen.field, region, whorl.period, &RidgeSettings::default());
        trace(&seen.field, &lines, left, right, whorl.centre)
    });
    let subclass = kind.subclass().unwrap_or(Subclass::Pw);
    let kind = KINDS.iter().position(|k| *k == subclass)?;
    let sample = Sample::of(&seen.field);
    let sight = seen.found.sight.as_ref().zip(sample.as_ref()).map(|(sight, sample)| by_sight(sight, sample));
    let by_network = sample.map(|sample| TraceNetwork::embedded().between(&sample));
    Some(Whorl { facts: whorl.facts(), sight, kind, tracings, by_network, between: truth.ridges_between })
}

/// A loop's count by the readings and its doubt, and the truth.
struct Loop {
    told: (f64, f64),
    truth: f64,
}

fn looped(seed: u64) -> Option<Loop> {
    let kind = pick(&LOOPS, chance(seed, 1));
    let (seen, truth) = see(kind, seed)?;
    let (core, delta) = seen.found.core_and_delta()?;
    let (settings, (region, period)) = (RidgeSettings::default(), around_loop(&seen.field, [delta.at, core.at]));
    let filtered = RidgeLines::of(&seen.field, region, period, &settings);
    let line = count_ridges(&seen.field, &filtered, delta, core, &settings)?;
    Some(Loop { told: read_count(&line), truth: f64::from(truth.ridge_count?) })
}

fn main() {
    let prints: u64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(4000);
    let loops: Vec<Loop> = (FIRST_LOOP_SEED..FIRST_LOOP_SEED + prints / 3).into_par_iter().filter_map(looped).collect();
    if std::env::args().nth(2).is_some_and(|only| only == "range") {
        let mut model = WhorlModel::embedded();
        fit_range(&mut model, &loops);
        println!("{} loops drawn and looked at", loops.len());
        const ANEW: &str = " The ranges of a count were fitted anew";
        let said = model.note.find(ANEW).unwrap_or(model.note.len());
        model.note.truncate(said);
        model.note += &format!(
            "{ANEW} on {} drawn loops by `cargo run --release --example fit_whorl -- {prints} range`.",
            loops.len()
        );
        return write_model("whorl.json", &serde_json::json!(model));
    }
    let kinds: Vec<(Kind, f64)> = SHARES.iter().copied().filter(|(k, _)| k.general() == General::Wu).collect();
    let whorls: Vec<Whorl> =
        (FIRST_SEED..FIRST_SEED + prints).into_par_iter().filter_map(|seed| whorl(seed, &kinds)).collect();
    println!("{} whorls and {} loops drawn and looked at", whorls.len(), loops.len());
    // Halves judge each other for an honest figure; the model that is written uses all.
    let halves: Vec<Vec<&Whorl>> = (0..2).map(|k| whorls.iter().skip(k).step_by(2).collect()).collect();
    let fitted = [kinds_by(&halves[0]), kinds_by(&halves[1])];
    let steps = || (4..=50).map(|k| 0.05 * f64::from(k));
    let best = |loss: &dyn Fn(f64) -> f64| steps().min_by(|a, b| loss(*a).total_cmp(&loss(*b))).unwrap_or(1.0);
    let temperature = best(&|t| {
        let judge = |k: usize| WhorlModel { temperature: t, ..fitted[k].clone() };
        (0..2).map(|k| log_loss(&judge(k), &halves[1 - k], |_| None)).sum()
    });
    let fitted = fitted.map(|model| WhorlModel { temperature, ..model });
    // The network is surer of itself than real prints bear out: what both come to together is hardly sharpened.
    let together_temperature = best(&|t| {
        let judge = |k: usize| WhorlModel { together_temperature: t, ..fitted[k].clone() };
        (0..2).map(|k| log_loss(&judge(k), &halves[1 - k], |w| w.sight)).sum()
    })
    .max(LEAST_TEMPERATURE);
    println!("temperature {temperature:.2}, together {together_temperature:.2}");
    for k in 0..2 {
        let model = WhorlModel { together_temperature, ..fitted[k].clone() };
        println!("by the facts alone, then with the network:");
        report(&model, &halves[1 - k], |_| None);
        report(&model, &halves[1 - k], |w| w.sight);
    }
    let all: Vec<&Whorl> = whorls.iter().collect();
    let mut model = WhorlModel { temperature, together_temperature, ..kinds_by(&all) };
    fit_tracing(&mut model, &whorls);
    fit_range(&mut model, &loops);
    model.note = format!(
        "Fitted on {} drawn whorls, seeds from {FIRST_SEED}, and {} drawn loops, seeds from {FIRST_LOOP_SEED}, every kind of whorl \
         weighing alike, by `cargo run --release --example fit_whorl -- {prints}`.",
        whorls.len(),
        loops.len()
    );
    write_model("whorl.json", &serde_json::json!(model));
}

/// Grows the trees that tell the kinds apart, every kind weighing alike.
fn kinds_by(whorls: &[&Whorl]) -> WhorlModel {
    let of_kind = |k: usize| whorls.iter().filter(|w| w.kind == k).count().max(1) as f64;
    let weight: Vec<f64> = (0..KINDS.len()).map(|k| whorls.len() as f64 / (KINDS.len() as f64 * of_kind(k))).collect();
    let examples: Vec<Example> = whorls
        .iter()
        .map(|w| Example { facts: w.facts.iter().map(|v| *v as f32).collect(), class: w.kind, weight: weight[w.kind] })
        .collect();
    let settings = BoostSettings { rounds: 150, leaves: 8, ..Default::default() };
    WhorlModel { forest: boost::grow_mean(&examples, KINDS.len(), &settings, PARTS), ..WhorlModel::blank() }
}

fn log_loss(model: &WhorlModel, test: &[&Whorl], sight: fn(&Whorl) -> Option<[f64; 4]>) -> f64 {
    test.iter().map(|w| -model.kinds(&w.facts, sight(w), Prior::None)[w.kind].max(1e-9).ln()).sum()
}

fn report(model: &WhorlModel, test: &[&Whorl], sight: fn(&Whorl) -> Option<[f64; 4]>) {
    let mut confusion = [[0usize; 4]; 4];
    for w in test {
        let p = model.kinds(&w.facts, sight(w), Prior::None);
        confusion[w.kind][(0..4).fold(0, |b, k| if p[k] > p[b] { k } else { b })] += 1;
    }
    let right: usize = (0..4).map(|k| confusion[k][k]).sum();
    println!("held-out half: {:.1} % right of {}; {confusion:?}", 100.0 * right as f64 / test.len() as f64, test.len());
}

/// The doubt of a tracing under which the true numbers of ridges between are most probable.
fn fit_tracing(model: &mut WhorlModel, whorls: &[Whorl]) {
    let traced: Vec<(&Tracings, Option<&Between>, i32)> =
        whorls.iter().filter_map(|w| Some((w.tracings.as_ref()?, w.by_network.as_ref(), w.between?))).collect();
    let mut off: Vec<f64> =
        traced.iter().flat_map(|(t, _, d)| t.by_flow.iter().flatten().map(move |f| f - f64::from(*d))).collect();
    off.sort_by(f64::total_cmp);
    model.flow_bias = (off.get(off.len() / 2).copied().unwrap_or(0.0) * 100.0).round() / 100.0;
    let mut best = f64::INFINITY;
    let start = model.clone();
    for constant in [0.4, 0.6, 0.8, 1.0, 1.3, 1.6, 2.0] {
        for spread in [0.0, 0.3, 0.6, 0.9] {
            for apart in [0.0, 0.15, 0.3, 0.5] {
                for stray in [0.02, 0.05, 0.08, 0.12] {
                    let tried =
                        WhorlModel { tracing_sigma: [constant, spread, apart], tracing_stray: stray, ..start.clone() };
                    let loss: f64 = traced.iter().map(|(t, _, d)| tracing_loss(&tried, Some(t), None, *d)).sum();
                    if loss < best {
                        best = loss;
                        *model = tried;
                    }
                }
            }
        }
    }
    let right = |model: &WhorlModel, with: bool| {
        let is_right = |t: &Tracings, seen: Option<&Between>, d: i32| {
            model.tracing(Some(t), seen.filter(|_| with)).is_some_and(|f| f.best == tracing_of(d))
        };
        traced.iter().filter(|(t, seen, d)| is_right(t, *seen, *d)).count()
    };
    let alone = right(model, false);
    // Two numbers over as many prints: no half is held back.
    let powers = || (1..=8).map(|k| f64::from(k) / 5.0);
    // Drawn whorls alone would have the network louder than it speaks; what it has learned on is drawn as well.
    let at_most_one = || powers().filter(|power| *power <= 1.0);
    let mut best = f64::INFINITY;
    let start = model.clone();
    for pair in powers().flat_map(|a| at_most_one().map(move |b| [a, b])) {
        let tried = WhorlModel { tracing_powers: [pair[0], pair[1], 1.0], ..start.clone() };
        let loss: f64 = traced.iter().map(|(t, seen, d)| tracing_loss(&tried, Some(t), *seen, *d)).sum();
        if loss < best {
            best = loss;
            *model = tried;
        }
    }
    // Where no tracing came round, mostly because not both deltas were found.
    let untraced: Vec<(&Between, i32)> = whorls
        .iter()
        .filter(|w| w.tracings.as_ref().is_none_or(|t| model.between(t).is_none()))
        .filter_map(|w| Some((w.by_network.as_ref()?, w.between?)))
        .collect();
    let mut best = f64::INFINITY;
    let start = model.clone();
    for alone in at_most_one() {
        let [traced, beside, _] = start.tracing_powers;
        let tried = WhorlModel { tracing_powers: [traced, beside, alone], ..start.clone() };
        let loss: f64 = untraced.iter().map(|(seen, d)| tracing_loss(&tried, None, Some(seen), *d)).sum();
        if loss < best {
            best = loss;
            *model = tried;
        }
    }
    let right_alone =
        |(seen, d): &&(&Between, i32)| model.tracing(None, Some(seen)).is_some_and(|f| f.best == tracing_of(*d));
    println!("by the network alone: {} of {} right", untraced.iter().filter(right_alone).count(), untraced.len());
    println!(
        "tracing: {alone} of {} right, {} with the network; sigma {:?}, stray {}, powers {:?}",
        traced.len(),
        right(model, true),
        model.tracing_sigma,
        model.tracing_stray,
        model.tracing_powers
    );
}

fn tracing_loss(model: &WhorlModel, t: Option<&Tracings>, seen: Option<&Between>, between: i32) -> f64 {
    let Some((_, _, p)) = model.tracing_shares(t, seen) else { return 0.0 };
    -p[tracing_of(between) as usize].max(1e-6).ln()
}

/// The range about what the readings tell that holds the true count of 98 in 100 drawn loops, in units of their doubt: of real ones, which are
/// read worse, it is to hold 97 in 100. Found on all loops, also those that the network counts, and without what forks on the line and other deltas add.
fn fit_range(model: &mut WhorlModel, loops: &[Loop]) {
    const HELD: f64 = 0.98;
    let needed = |l: &Loop| ((l.truth - l.told.0).abs() - 0.5).max(0.0) / l.told.1;
    let mut all: Vec<f64> = loops.iter().map(needed).collect();
    all.sort_by(f64::total_cmp);
    let factor = all.get((HELD * all.len() as f64) as usize).copied().unwrap_or(1.0);
    model.count_range = (factor * 1000.0).round() / 1000.0;
    let share = |within: f64| {
        loops.iter().filter(|l| (l.told.0.round() - l.truth).abs() <= within).count() as f64 / loops.len().max(1) as f64
    };
    let bias = loops.iter().map(|l| l.told.0 - l.truth).sum::<f64>() / loops.len().max(1) as f64;
    println!(
        "count by the readings: {bias:+.2} off in the mean, exact {:.3}, within one {:.3}, range {:.3}",
        share(0.0),
        share(1.0),
        model.count_range
    );
}
