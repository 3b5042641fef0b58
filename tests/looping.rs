//! The third essential of a loop, a ridge count across a looping ridge, where a print looks like a tented arch: drawn prints whose kind is known, and the handbook's own figures.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Loops" (the three essentials) and "The tented arch" (what
//! lacks one of them); figures 73 and 307 are loops there.

use approx::assert_abs_diff_eq;
use recurve::draw::{Kind, Quality, Tent, Wish, draw};
use recurve::intake::{self, IntakeSettings};
use recurve::pattern::reading::{RidgeReading, with_looping_ridge};
use recurve::pattern::ridge_count::{around_loop, count_ridges};
use recurve::proposal::{General, Subclass};
use recurve::ridge::{RidgeLines, RidgeSettings};
use recurve::{Impression, Proposal, Screener};

fn figure(number: u16) -> Proposal {
    let file = format!("testdata/handbook/fig{number:03}.png");
    let print = intake::read(std::path::Path::new(&file), &IntakeSettings::default()).unwrap().remove(0);
    Screener::default().screen(&print).unwrap()
}

fn loop_share(proposal: &Proposal) -> f64 {
    let readings = proposal.pattern.iter().chain(&proposal.references);
    readings.filter(|r| matches!(r.general, General::Ls | General::Rs)).map(|r| r.probability).sum()
}

#[test]
fn a_looping_ridge_makes_a_loop_of_figure_307_and_leaves_73_in_doubt() {
    let looped = figure(307);
    assert_eq!(looped.pattern.map(|p| p.general), Some(General::Rs), "{:?}", looped.pattern);
    assert!(looped.reasons.iter().any(|r| r.rule == "loop essential: looping ridge"), "{:?}", looped.reasons);
    assert!(looped.references.iter().any(|r| r.subclass == Some(Subclass::Ta)), "{:?}", looped.references);
    let doubtful = figure(73);
    assert!(loop_share(&doubtful) > 0.3, "{:?} {:?}", doubtful.pattern, doubtful.references);
    let said =
        |r: &recurve::proposal::Reason| r.text.contains("round over the core and out on the open side: if that holds");
    assert!(doubtful.reasons.iter().any(said), "{:?}", doubtful.reasons);
    // A tented arch of the handbook without a looping ridge stays one.
    let tented = figure(125);
    assert_eq!(tented.pattern.and_then(|p| p.subclass), Some(Subclass::Ta), "{:?}", tented.pattern);
    assert!(loop_share(&tented) < 0.15, "{:?} {:?}", tented.pattern, tented.references);
}

/// How many of some drawn prints have a looping ridge between delta and core, and on how many that was looked at, whatever they are called.
fn looping(kind: Kind, ridge_count: Option<u16>, seeds: std::ops::Range<u64>) -> (usize, usize) {
    let (screener, settings) = (Screener::default(), RidgeSettings::default());
    let seen = seeds.filter_map(|seed| {
        let drawn = draw(&Wish { quality: Quality::Good, ridge_count, ..Wish::of(kind) }, seed).ok()?;
        let (rows, columns) = drawn.pixels.dim();
        let gray: Vec<u8> = drawn.pixels.iter().map(|v| (v * 255.0).round() as u8).collect();
        let print = Impression::from_gray8(columns, rows, &gray, Some(500.0)).ok()?;
        let seen = screener.examine(&print).ok()?;
        let (field, (core, delta)) = (seen.field?, seen.found.core_and_delta()?);
        let (region, period) = around_loop(&field, [delta.at, core.at]);
        let filtered = RidgeLines::of(&field, region, period, &settings);
        let counted = count_ridges(&field, &filtered, delta, core, &settings);
        RidgeReading { counted, ..Default::default() }.crosses_looping_ridge()
    });
    let seen: Vec<bool> = seen.collect();
    (seen.iter().filter(|s| **s).count(), seen.len())
}

#[test]
fn drawn_loops_have_a_looping_ridge_between_delta_and_core_and_drawn_tented_arches_hardly_ever() {
    let (loops, of_loops) = looping(Kind::LeftLoop, Some(3), 9_700_000..9_700_008);
    assert!(of_loops >= 5 && 4 * loops >= 3 * of_loops, "{loops} of {of_loops} loops");
    let (tents, of_tents) = looping(Kind::TentedArch(Tent::LoopLike), None, 9_710_000..9_710_012);
    assert!(of_tents >= 8 && 3 * tents <= of_tents, "{tents} of {of_tents} tented arches");
}

#[test]
fn what_speaks_for_a_loop_is_weighed_by_the_looping_ridge_and_nothing_is_lost() {
    // Plain and tented arch, loop to the left, to the right, whorl. By hand: 0.9 against 0.05 and 0.05 times 10.9 each.
    let weighed = with_looping_ridge(&[0.0, 0.9, 0.05, 0.05, 0.0]);
    assert_abs_diff_eq!(weighed.as_slice(), [0.0, 0.4523, 0.2739, 0.2739, 0.0].as_slice(), epsilon = 1e-4);
    assert_abs_diff_eq!(weighed.iter().sum::<f64>(), 1.0, epsilon = 1e-12);
    assert_eq!(with_looping_ridge(&[0.0; 5]), [0.0; 5]);
}
