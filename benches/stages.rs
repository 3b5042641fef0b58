//! What each room and the whole print cost, on one drawn rolled print of 800 x 750 px; how the cost grows with the pixels;
//! what a second thread is worth.
//!
//! `cargo bench --bench stages` takes a minute or two. Times of `stage` and `print` are of one thread. `size` names its
//! elements, so that the pixels per second of its three rows can be compared: equal rates are a cost linear in pixels.
//! `print` is the whole print with what is read on its ridges, a whorl and a loop; `stage/ridges` is that reading alone.
//! `batch` screens the same 16 prints in a pool of one and of two threads: the ratio of the two rates is what the second
//! thread is worth (on a machine that has nothing else to do). The last line gives that ratio from rounds of one and of two threads in
//! turn, so that what else the machine does falls on both.

#[path = "../examples/shared/mod.rs"]
mod shared;

use criterion::{BenchmarkId, Criterion, SamplingMode, Throughput, criterion_group, criterion_main};
use ndarray::Array2;
use rayon::prelude::*;
use recurve::draw::{Kind, Wish, draw};
use recurve::field::spectrum::SpectrumAnalyser;
use recurve::field::{self, FieldSettings};
use recurve::intake::{self, IntakeSettings};
use recurve::pattern::decide::{self, Pattern};
use recurve::pattern::reading::{self, Asked};
use recurve::pattern::subtype::{Prior, WhorlModel};
use recurve::ridge::RidgeSettings;
use recurve::singular::{self, SingularSettings};
use recurve::{Impression, Screener};
use std::hint::black_box;
use std::time::{Duration, Instant};

/// Width and height of the print that the speed is promised for, pixels: a thumb's block of a card at 500 ppi.
const BLOCK: (usize, usize) = (800, 750);
/// A print that fills its picture, and how often it is laid beside and below itself (each time mirrored, so that ridges run
/// on): 400 x 375, 800 x 750 and 1600 x 1500 px with the same share of ridges.
const TILE: (usize, usize) = (400, 375);
const TILES_A_SIDE: [usize; 3] = [1, 2, 4];
/// Prints of a batch: eight for each of two threads, so that the last one hardly counts.
const BATCH: u64 = 16;
/// Any seed would do; a whorl has every stage busy.
const SEED: u64 = 8_000_000;

fn print(size: (usize, usize), seed: u64) -> Impression {
    let kinds = [Kind::PlainWhorl(recurve::draw::Circuit::SpiralClockwise), Kind::LeftLoop, Kind::PlainArch];
    let wish = Wish { size: Some(size), ..Wish::of(kinds[(seed - SEED) as usize % kinds.len()]) };
    match draw(&wish, seed) {
        Ok(drawn) => shared::impression(&drawn, seed),
        Err(refusal) => panic!("the bench's own print cannot be drawn: {refusal}"),
    }
}

/// The print laid beside and below itself, mirrored at every seam.
fn tiled(tile: &Impression, width: usize, height: usize) -> Impression {
    let (rows, columns) = tile.pixels.dim();
    let folded = |i: usize, n: usize| if (i / n).is_multiple_of(2) { i % n } else { n - 1 - i % n };
    let pixels = Array2::from_shape_fn((height, width), |(r, c)| tile.pixels[[folded(r, rows), folded(c, columns)]]);
    Impression { pixels, original_size: (width, height), ..tile.clone() }
}

fn stages(criterion: &mut Criterion) {
    let given = print(BLOCK, SEED);
    let (intake_settings, field_settings) = (IntakeSettings::default(), FieldSettings::default());
    let singular_settings = SingularSettings::default();
    let mut analyser = SpectrumAnalyser::new(field_settings.spectrum.clone());
    let working = match intake::prepare(&given, &intake_settings) {
        Ok(working) => working,
        Err(unfit) => panic!("the bench's own print is unfit: {unfit}"),
    };
    let flow = field::estimate(working.pixels.view(), &field_settings, &mut analyser);
    let found = singular::find(&flow, &singular_settings);
    let mut group = criterion.benchmark_group("stage");
    group.bench_function("prepare", |b| b.iter(|| intake::prepare(black_box(&given), &intake_settings)));
    group.bench_function("field", |b| {
        b.iter(|| field::estimate(black_box(working.pixels.view()), &field_settings, &mut analyser))
    });
    group.bench_function("cores and deltas", |b| b.iter(|| singular::find(black_box(&flow), &singular_settings)));
    group.bench_function("evidence", |b| b.iter(|| decide::readings(black_box(&flow), black_box(&found))));
    let (ridge_settings, model) = (RidgeSettings::default(), WhorlModel::embedded());
    group.bench_function("ridges", |b| {
        b.iter(|| {
            // A whorl: deltas traced, circuits looked for.
            let asked = Asked { pattern: Pattern::Whorl, whorl: 1.0, tented: 0.0, looped: 0.0, bend: None };
            reading::read(black_box(&flow), black_box(&found), asked, &ridge_settings, &model, Prior::default())
        })
    });
    group.finish();
}

fn whole_print(criterion: &mut Criterion) {
    let screener = Screener::default();
    let mut group = criterion.benchmark_group("print");
    // The kinds follow each other seed by seed.
    for (name, seed) in [("800x750", SEED), ("800x750 loop", SEED + 1)] {
        let given = print(BLOCK, seed);
        group.bench_function(name, |b| b.iter(|| screener.screen(black_box(&given))));
    }
    group.finish();
}

fn sizes(criterion: &mut Criterion) {
    let screener = Screener::default();
    let mut group = criterion.benchmark_group("size");
    group.sampling_mode(SamplingMode::Flat);
    let tile = print(TILE, SEED);
    for tiles in TILES_A_SIDE {
        let (width, height) = (tiles * TILE.0, tiles * TILE.1);
        let given = tiled(&tile, width, height);
        group.throughput(Throughput::Elements((width * height) as u64));
        group.bench_with_input(BenchmarkId::from_parameter(format!("{width}x{height}")), &given, |b, given| {
            b.iter(|| screener.screen(black_box(given)))
        });
    }
    group.finish();
}

fn batch(criterion: &mut Criterion) {
    let prints: Vec<Impression> = (0..BATCH).map(|i| print(BLOCK, SEED + i)).collect();
    let mut group = criterion.benchmark_group("batch");
    group.sampling_mode(SamplingMode::Flat);
    group.throughput(Throughput::Elements(BATCH));
    for threads in [1, 2] {
        let pool = match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
            Ok(pool) => pool,
            Err(error) => panic!("{threads} threads cannot be had: {error}"),
        };
        let screener = Screener::default();
        group.bench_function(BenchmarkId::new("threads", threads), |b| {
            b.iter(|| pool.install(|| prints.par_iter().map(|p| screener.screen(p)).collect::<Vec<_>>()))
        });
    }
    group.finish();
}

/// Rounds of one and of two threads in turn from which the ratio is taken.
const ROUNDS: usize = 7;

/// How many times as fast two threads are as one: the median of the rounds, with the least and the greatest.
fn second_thread(_: &mut Criterion) {
    let prints: Vec<Impression> = (0..BATCH).map(|i| print(BLOCK, SEED + i)).collect();
    let screener = Screener::default();
    let seconds = |threads: usize| {
        let pool = match rayon::ThreadPoolBuilder::new().num_threads(threads).build() {
            Ok(pool) => pool,
            Err(error) => panic!("{threads} threads cannot be had: {error}"),
        };
        let started = Instant::now();
        pool.install(|| prints.par_iter().for_each(|p| drop(black_box(screener.screen(p)))));
        started.elapsed().as_secs_f64()
    };
    // The first round fills tables and caches.
    seconds(2);
    let mut ratios: Vec<f64> = (0..ROUNDS).map(|_| seconds(1) / seconds(2)).collect();
    ratios.sort_by(f64::total_cmp);
    let (least, median, most) = (ratios[0], ratios[ROUNDS / 2], ratios[ROUNDS - 1]);
    println!("two threads against one: {median:.2} times as fast ({least:.2} to {most:.2} in {ROUNDS} rounds)");
}

criterion_group! {
    name = benches;
    // Tens of milliseconds a round: ten samples are steady to a few percent.
    config = Criterion::default()
        .sample_size(10)
        .warm_up_time(Duration::from_secs(1))
        .measurement_time(Duration::from_secs(3));
    targets = stages, whole_print, sizes, batch, second_thread
}
criterion_main!(benches);
