//! Fits how the ridges between delta and core speak for a loop and against a tented arch, and writes `models/decision/tented.json`.
//!
//! `cargo run --release --example fit_tented -- [FINGERS]` (default 3,000; some twenty-five minutes on two cores). Draws so many fingers with a loop of one to five ridges whose delta lies under the
//! core, as many with a tented arch and an eighth as many with a usual loop of one to five ridges, two impressions each, the same every time and with seeds that nothing else uses; screens them; and takes
//! those that look like a tented arch with a loop among the references and where single ridges are looked at. Needed again whenever `fit` was run, or the lines and the points that a loop is counted by change, or a fact
//! of `pattern/loop_or_tent.rs`.

mod shared;

use rayon::prelude::*;
use recurve::Screener;
use recurve::draw::{Kind, Tent, Wish};
use recurve::pattern::decide::{DecisionModel, Pattern};
use recurve::pattern::loop_or_tent::{FACTS, LoopOrTent, NAMES, facts, weighed};
use shared::logistic::{Row, fit_multinomial};
use shared::{FIT_FRAMINGS, LOOPS, READ_QUALITIES, chance, draw_often, pick, wish, write_model};

const FIRST_UNDER_CORE: u64 = 1_920_000_000;
const FIRST_USUAL: u64 = 1_923_000_000;
const FIRST_TENTED: u64 = 1_926_000_000;
const TENTS: [(Kind, f64); 3] = [
    (Kind::TentedArch(Tent::Angle), 1.0),
    (Kind::TentedArch(Tent::Upthrust), 1.0),
    (Kind::TentedArch(Tent::LoopLike), 1.0),
];
/// Impressions of a finger: growing and reading one takes several times as long.
const IMPRESSIONS: u64 = 2;
/// Most ridges of a loop that is mistaken for a tented arch.
const MOST_RIDGES: f64 = 5.0;
/// Every so many fingers are kept back in turn.
const FOLDS: u64 = 5;
/// The place of what was told before among the facts.
const TOLD: usize = FACTS - 1;

/// One print that is asked.
struct Asked {
    finger: u64,
    kind: Kind,
    facts: [f64; FACTS],
    /// Probabilities of the patterns before it was asked.
    before: [f64; 5],
}

impl Asked {
    fn is_loop(&self) -> bool {
        matches!(self.kind, Kind::LeftLoop | Kind::RightLoop)
    }
}

fn main() {
    let fingers: u64 = std::env::args().nth(1).and_then(|a| a.parse().ok()).unwrap_or(3000);
    let screener = Screener::default();
    let few_ridges = |seed| Wish {
        ridge_count: Some(1 + (chance(seed, 9) * MOST_RIDGES) as u16),
        ..wish(pick(&LOOPS, chance(seed, 1)), seed, &READ_QUALITIES, &FIT_FRAMINGS)
    };
    let under = asked(&screener, FIRST_UNDER_CORE, fingers, |seed| Wish { delta_under_core: true, ..few_ridges(seed) });
    let usual = asked(&screener, FIRST_USUAL, fingers / 8, few_ridges);
    let tented = asked(&screener, FIRST_TENTED, fingers, |seed| {
        wish(pick(&TENTS, chance(seed, 1)), seed, &READ_QUALITIES, &FIT_FRAMINGS)
    });
    let counts = [under.len(), usual.len(), tented.len()];
    let all: Vec<Asked> = under.into_iter().chain(usual).chain(tented).collect();
    if all.iter().filter(|a| a.is_loop()).count() < FACTS || counts[2] < FACTS {
        eprintln!("of {fingers} fingers too few look like a tented arch: {counts:?}; nothing is written");
        return;
    }
    let kept: Vec<LoopOrTent> = (0..FOLDS).map(|fold| fit(all.iter().filter(|a| a.finger % FOLDS != fold))).collect();
    println!("before:");
    judge(&all, |_| 1.0);
    println!("weighed, by fingers that were kept back:");
    judge(&all, |a| kept[(a.finger % FOLDS) as usize].ratio(&a.facts));
    let weights = fit(all.iter()).weights;
    for (name, weight) in NAMES.iter().zip(&weights) {
        println!("{name}: {weight:.3}");
    }
    let note = format!(
        "Fitted on prints that look like a tented arch with a loop among the references: {} of drawn loops of few ridges with the delta under the core, {} of usual ones and {} of \
         tented arches, seeds from {FIRST_UNDER_CORE}, {FIRST_USUAL} and {FIRST_TENTED}, loops and tented arches counted alike, by `cargo run --release --example fit_tented -- {fingers}`.",
        counts[0], counts[1], counts[2]
    );
    write_model("tented.json", &serde_json::json!({ "note": note, "facts": NAMES, "weights": weights }));
}

/// Draws and screens, and keeps what is asked and looked at.
fn asked(screener: &Screener, first: u64, fingers: u64, wished: impl Fn(u64) -> Wish + Sync) -> Vec<Asked> {
    // None where a print is asked and not looked at.
    let one = |seed: u64| -> Vec<Option<Asked>> {
        let drawn = draw_often(&wished(seed), seed, &READ_QUALITIES, IMPRESSIONS);
        let seen = drawn.into_iter().filter_map(|drawn| {
            let seen = screener.examine(&drawn.print).ok()?;
            let read = if seen.ridges.by_ridges { &seen.ridges } else { seen.ridges.if_loop.as_deref()? };
            let (line, before) = (read.counted.as_ref()?, seen.before_ridges?);
            Some(facts(line, &before).map(|facts| Asked { finger: seed, kind: drawn.truth.kind, facts, before }))
        });
        seen.collect()
    };
    let all: Vec<Option<Asked>> = (first..first + fingers).into_par_iter().flat_map_iter(one).collect();
    let asked = all.len();
    let looked: Vec<Asked> = all.into_iter().flatten().collect();
    println!("seeds from {first}, {fingers} fingers: {asked} prints asked, {} looked at", looked.len());
    looked
}

/// What the facts speak for on prints of which as much was told before: the weights of all facts, less that of what was told before alone.
fn fit<'a>(asked: impl Iterator<Item = &'a Asked>) -> LoopOrTent {
    let asked: Vec<&Asked> = asked.collect();
    let of_all = logistic(&asked, |a| a.facts.to_vec());
    let of_told = logistic(&asked, |a| vec![a.facts[0], a.facts[TOLD]]);
    let mut weights: [f64; FACTS] = std::array::from_fn(|k| of_all[k]);
    weights[0] -= of_told[0];
    weights[TOLD] -= of_told[1];
    LoopOrTent { note: String::new(), facts: NAMES.map(str::to_owned).into(), weights }
}

/// A logistic sum that tells loops from tented arches, both counted alike.
fn logistic(asked: &[&Asked], facts: impl Fn(&Asked) -> Vec<f64>) -> Vec<f64> {
    let weight = |is_loop: bool| {
        asked.len() as f64 / (2.0 * asked.iter().filter(|a| a.is_loop() == is_loop).count().max(1) as f64)
    };
    let weights = [false, true].map(weight);
    let row = |a: &&Asked| {
        let class = usize::from(a.is_loop());
        Row { facts: facts(a), class, weight: weights[class] }
    };
    let rows: Vec<Row> = asked.iter().map(row).collect();
    let fitted = fit_multinomial(&rows, 2, 1.0, 2000);
    fitted[1].iter().zip(&fitted[0]).map(|(looped, tented)| looped - tented).collect()
}

/// Tells what prints of every kind are called, and how likely the truth is told to be.
fn judge(all: &[Asked], ratio: impl Fn(&Asked) -> f64) {
    type IsOf = fn(&Asked) -> bool;
    let groups: [(&str, IsOf); 5] = [
        ("loops with the delta under the core", |a| a.is_loop() && a.finger < FIRST_USUAL),
        ("usual loops", |a| a.is_loop() && a.finger >= FIRST_USUAL),
        ("tented arches with an angle", |a| a.kind == Kind::TentedArch(Tent::Angle)),
        ("tented arches with an upthrust", |a| a.kind == Kind::TentedArch(Tent::Upthrust)),
        ("tented arches like a loop", |a| a.kind == Kind::TentedArch(Tent::LoopLike)),
    ];
    for (words, is_of) in groups {
        let (mut n, mut loops, mut tented, mut loss) = (0, 0, 0, 0.0);
        for a in all.iter().filter(|a| is_of(a)) {
            let told = weighed(&a.before, ratio(a));
            let called = DecisionModel::prefer(&told);
            n += 1;
            loops += usize::from(matches!(called, Pattern::LeftLoop | Pattern::RightLoop));
            tented += usize::from(called == Pattern::TentedArch);
            let truth = match a.kind {
                Kind::LeftLoop => told[Pattern::LeftLoop as usize],
                Kind::RightLoop => told[Pattern::RightLoop as usize],
                _ => told[Pattern::TentedArch as usize],
            };
            loss -= truth.max(1e-6).ln();
        }
        println!(
            "  {words}: of {n} {loops} loops, {tented} tented arches; mean negative log likelihood {:.3}",
            loss / f64::from(n.max(1))
        );
    }
}
