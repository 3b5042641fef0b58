//! The third essential of a loop, a ridge count across a looping ridge, where a print looks like a tented arch: drawn prints whose kind is known, and the handbook's own figures.
//!
//! Source: FBI, *The Science of Fingerprints: Classification and Uses* (1963 revision, public domain), chapter II, "Loops" (the three essentials) and "The tented arch" (what
//! lacks one of them); figures 73 and 307 are loops there.

use approx::assert_abs_diff_eq;
use recurve::draw::{Kind, Quality, Tent, Truth, Wish, draw};
use recurve::intake::{self, IntakeSettings};
use recurve::network::count::CountNetwork;
use recurve::network::strip::Strip;
use recurve::pattern::loop_or_tent::{LoopOrTent, facts};
use recurve::pattern::reading::{LOOPING, RidgeReading};
use recurve::pattern::ridge_count::{ALONG_THE_LEGS, CountedLine, around_loop, count_ridges};
use recurve::picture::{self, Overlay, Role, Shape};
use recurve::proposal::{General, Subclass, refine};
use recurve::ridge::{RidgeLines, RidgeSettings};
use recurve::{Impression, Proposal, Screener};

fn read_figure(number: u16) -> Impression {
    let file = format!("testdata/handbook/fig{number:03}.png");
    intake::read(std::path::Path::new(&file), &IntakeSettings::default()).unwrap().remove(0)
}

fn figure(number: u16) -> Proposal {
    Screener::default().screen(&read_figure(number)).unwrap()
}

fn loop_share(proposal: &Proposal) -> f64 {
    let readings = proposal.pattern.iter().chain(&proposal.references);
    readings.filter(|r| matches!(r.general, General::Ls | General::Rs)).map(|r| r.probability).sum()
}

#[test]
fn a_looping_ridge_makes_loops_of_figures_73_and_307() {
    for (number, slant) in [(73, General::Ls), (307, General::Rs)] {
        let looped = figure(number);
        assert_eq!(looped.pattern.map(|p| p.general), Some(slant), "{number}: {:?}", looped.pattern);
        assert!(looped.reasons.iter().any(|r| r.rule == "loop essential: looping ridge"), "{:?}", looped.reasons);
        assert!(looped.references.iter().any(|r| r.subclass == Some(Subclass::Ta)), "{:?}", looped.references);
    }
    // A tented arch of the handbook without a looping ridge stays one.
    let tented = figure(125);
    assert_eq!(tented.pattern.and_then(|p| p.subclass), Some(Subclass::Ta), "{:?}", tented.pattern);
    assert!(loop_share(&tented) < 0.15, "{:?} {:?}", tented.pattern, tented.references);
}

fn drawn(wish: &Wish, seed: u64) -> Option<(Truth, Impression)> {
    let drawn = draw(wish, seed).ok()?;
    let (rows, columns) = drawn.pixels.dim();
    let gray: Vec<u8> = drawn.pixels.iter().map(|v| (v * 255.0).round() as u8).collect();
    Some((drawn.truth, Impression::from_gray8(columns, rows, &gray, Some(500.0)).ok()?))
}

/// What is counted between delta and core of a print, whatever it is called.
fn counted(print: &Impression) -> Option<CountedLine> {
    Some(counted_on_strip(print)?.0)
}

/// The same with the strip that the networks are given.
fn counted_on_strip(print: &Impression) -> Option<(CountedLine, Strip)> {
    let settings = RidgeSettings::default();
    let seen = Screener::default().examine(print).ok()?;
    let (field, (core, delta)) = (seen.field?, seen.found.core_and_delta()?);
    let (region, period) = around_loop(&field, [delta.at, core.at]);
    let filtered = RidgeLines::of(&field, region, period, &settings);
    let line = count_ridges(&field, &filtered, delta, core, &settings)?;
    Some((line, Strip::of(&field, delta.at, core.at)?))
}

/// How many of some drawn prints have a looping ridge between delta and core, and on how many that was looked at, whatever they are called.
fn looping(kind: Kind, ridge_count: Option<u16>, seeds: std::ops::Range<u64>) -> (usize, usize) {
    let wish = Wish { quality: Quality::Good, ridge_count, ..Wish::of(kind) };
    let seen = seeds.filter_map(|seed| {
        let counted = counted(&drawn(&wish, seed)?.1);
        Some(RidgeReading { counted, ..Default::default() }.crossing_looping_ridge()? >= LOOPING)
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
fn the_looping_ridge_that_makes_a_loop_is_on_the_picture() {
    let seen = Screener::default().examine(&read_figure(73)).unwrap();
    let shown: Vec<Overlay> =
        picture::working(&seen.ridges).into_iter().filter(|o| o.role == Role::LoopingRidge).collect();
    let [Overlay { shape: Shape::Line(way), .. }] = shown.as_slice() else { panic!("{shown:?}") };
    // It goes round over the core: from its highest place both ends lie lower than the core.
    let core = seen.found.core_and_delta().unwrap().0.at;
    let tented = Screener::default().examine(&read_figure(125)).unwrap();
    assert!(picture::working(&tented.ridges).iter().all(|o| o.role != Role::LoopingRidge));
    let top = way.iter().map(|p| p.y).fold(f64::INFINITY, f64::min);
    assert!(top < core.y && way[0].y > core.y && way[way.len() - 1].y > core.y, "{core:?} {way:?}");
}

#[test]
fn loops_whose_delta_lies_under_the_core_are_called_and_counted() {
    let wish = |seed: u64| {
        let (kind, count) =
            (if seed.is_multiple_of(2) { Kind::LeftLoop } else { Kind::RightLoop }, 2 + (seed % 5) as u16);
        Wish { delta_under_core: true, ridge_count: Some(count), ..Wish::of(kind) }
    };
    let prints: Vec<_> = (9_720_000..9_720_024).filter_map(|seed| drawn(&wish(seed), seed)).collect();
    let proposals: Vec<_> =
        prints.iter().map(|(truth, print)| (truth, Screener::default().screen(print).unwrap())).collect();
    let called = proposals.iter().filter(|(t, p)| p.pattern.is_some_and(|p| p.general == t.kind.general())).count();
    assert!(prints.len() >= 10 && 10 * called >= 8 * prints.len(), "{called} of {} called loops", prints.len());
    let off = |(truth, p): &(&Truth, Proposal)| Some(p.loop_.as_ref()?.ridge_count?.best.abs_diff(truth.ridge_count?));
    let off: Vec<u16> = proposals.iter().filter_map(off).collect();
    let (exact, within_one) = (off.iter().filter(|o| **o == 0).count(), off.iter().filter(|o| **o <= 1).count());
    assert!(off.len() >= 8 && 10 * exact >= 7 * off.len() && 20 * within_one >= 19 * off.len(), "{off:?}");
}

#[test]
fn the_third_essential_speaks_for_a_loop() {
    let (_, print) = drawn(&Wish { ridge_count: Some(3), ..Wish::of(Kind::LeftLoop) }, 9_700_000).unwrap();
    let line = counted(&print).unwrap();
    let before = [0.0, 0.8, 0.15, 0.05, 0.0];
    let told = |share: f64, by_flow: f64, before: &[f64; 5]| {
        let mut line = CountedLine { by_flow, ..line.clone() };
        line.looping.as_mut().unwrap().share = share;
        let facts = facts(&line, before).unwrap();
        (facts, LoopOrTent::embedded().ratio(&facts))
    };
    // By hand: three ridges are counted, 0.2 against 0.8; four by the flow tell no more than three.
    assert_abs_diff_eq!(
        told(0.5, 4.0, &before).0.as_slice(),
        [1.0, 0.5, 3.0, 0.25_f64.ln()].as_slice(),
        epsilon = 1e-12
    );
    assert_eq!(told(0.5, -2.0, &[0.0, 1.0, 0.0, 0.0, 0.0]).0, [1.0, 0.5, 0.0, -4.0]);
    let [neither, looping, both] = [told(0.0, 0.0, &before).1, told(1.0, 0.0, &before).1, told(1.0, 3.0, &before).1];
    assert!(neither < 1.0 && looping > 4.0 * neither && both > 4.0 * looping, "{neither} {looping} {both}");
    // Where it is not looked at nothing is weighed.
    assert_eq!(facts(&CountedLine { looping: None, ..line }, &before), None);
}

#[test]
fn a_tented_arch_that_stays_one_says_what_was_weighed_and_one_that_does_not_says_why() {
    let why = |proposal: &Proposal, rule: &str| {
        proposal.reasons.iter().filter(|r| r.rule == rule).map(|r| r.text.clone()).collect::<Vec<_>>()
    };
    let tented = figure(125);
    let told = why(&tented, "loop among the references: ridge count");
    assert!(told.len() == 1 && told[0].contains("No ridge") && told[0].contains("takes that into account"), "{told:?}");
    let seen = Screener::default().examine(&read_figure(73)).unwrap();
    // The figure is called a loop by the ridges, whatever was told before them.
    let before = seen.before_ridges.unwrap();
    assert!(before[1] > 0.5 && before[2] + before[3] < before[1], "{before:?}");
    assert!(seen.ridges.by_ridges && why(&seen.proposal, "loop essential: looping ridge").len() == 1);
    // Seen on half the lines only, that is said as a doubt.
    let mut half = seen.ridges.clone();
    half.counted.as_mut().unwrap().looping.as_mut().unwrap().share = 0.5;
    let mut proposal = Proposal { reasons: Vec::new(), ..seen.proposal };
    refine::refine(&mut proposal, &half);
    let doubt = why(&proposal, "loop essential: looping ridge: doubt");
    assert!(doubt.len() == 1 && doubt[0].contains("on some of the lines"), "{doubt:?}");
}

#[test]
fn lines_along_the_legs_have_networks_of_their_own() {
    let usual = Wish { ridge_count: Some(6), ..Wish::of(Kind::RightLoop) };
    let (mut along, mut across) = (0, 0);
    for seed in 9_730_000..9_730_010 {
        for delta_under_core in [true, false] {
            let drawn = drawn(&Wish { delta_under_core, ..usual }, seed);
            let Some((line, strip)) = drawn.and_then(|(_, print)| counted_on_strip(&print)) else { continue };
            let by = [CountNetwork::along_the_legs(), CountNetwork::across_the_legs()].map(|n| Some(n.count(&strip)));
            assert_ne!(by[0], by[1], "seed {seed}");
            assert_eq!(line.seen, by[usize::from(line.slant >= ALONG_THE_LEGS)], "seed {seed}, {}", line.slant);
            if line.slant < ALONG_THE_LEGS { along += 1 } else { across += 1 }
        }
    }
    assert!(along >= 2 && across >= 5, "{along} along, {across} across");
}

#[test]
fn along_the_legs_what_is_read_on_the_ridges_is_heard_beside_the_networks() {
    let mut line =
        counted(&drawn(&Wish { ridge_count: Some(3), ..Wish::of(Kind::LeftLoop) }, 9_700_000).unwrap().1).unwrap();
    // Two counts about as likely to the networks; every sampled line reads one of them.
    let mut seen = line.seen.clone().unwrap();
    seen.shares.fill(0.0);
    (seen.shares[3], seen.shares[4]) = (0.48, 0.52);
    line.sampled.iter_mut().for_each(|line| line.count = 4);
    line.seen = Some(seen);
    line.slant = 1.1 * ALONG_THE_LEGS;
    assert_eq!(line.shares().map(|s| (s.likeliest(), s.shares[3])), Some((5, 0.48)));
    line.slant = 0.9 * ALONG_THE_LEGS;
    let told = line.shares().unwrap();
    // By hand: what is read has 1 / 1.6 for four and 0.3 / 1.6 for five; 0.48^0.86 x 0.725^0.87 against 0.52^0.86 x 0.2875^0.87.
    assert_abs_diff_eq!(told.shares[3], 0.6761, epsilon = 1e-3);
    assert_abs_diff_eq!(told.shares.iter().sum::<f64>(), 1.0, epsilon = 1e-12);
    assert_eq!(told.likeliest(), 4);
}
