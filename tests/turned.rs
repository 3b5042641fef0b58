//! Drawn prints mirrored and turned: a mirrored finger is the other hand's, a turned one is the same finger laid down askew.
//!
//! What must hold is geometry. A mirror image exchanges left and right slant and keeps every ridge between delta and core. A tracing
//! always runs from the left delta (handbook, chapter II, "Whorl tracing"), so on the mirror image it runs from the other end: of a
//! spiral that passes well inside the right delta the mirror image passes well outside, and ridges that meet, meet. By how many
//! ridges is another question, which is not asked here. The floors are our own, a little below what holds today.

#[path = "../examples/shared/mod.rs"]
mod shared;

use rayon::prelude::*;
use recurve::draw::{Circuit, Kind, Pocket, Winding, Wish, draw};
use recurve::geometry::{Frame, Point};
use recurve::proposal::{DeltaMark, Tracing};
use recurve::{Impression, Proposal, Screener};
use shared::tally::{call, class_of};
use shared::{Class, impression};
use std::sync::LazyLock;

/// Apart from the seeds of fitting, measuring and the other tests.
const FIRST_SEED: u64 = 9_500_000;

/// One drawn print as it is and what was made of it.
struct Case {
    seed: u64,
    kind: Kind,
    /// Wished for and drawn so.
    tracing: Option<Tracing>,
    print: Impression,
    upright: Proposal,
    mirrored: Proposal,
}

fn mirrored(print: &Impression) -> Impression {
    let mut pixels = print.pixels.clone();
    pixels.invert_axis(ndarray::Axis(1));
    Impression { pixels: pixels.as_standard_layout().into_owned(), ..print.clone() }
}

/// The print turned counter-clockwise as seen by so many degrees about its middle, on a larger white sheet.
fn turned(print: &Impression, degrees: f64) -> Impression {
    let (rows, columns) = print.pixels.dim();
    let (s, c) = degrees.to_radians().sin_cos();
    let size = |a: usize, b: usize| (a as f64 * c.abs() + b as f64 * s.abs()).ceil() as usize;
    let (height, width) = (size(rows, columns), size(columns, rows));
    let middle = |n: usize| (n as f64 - 1.0) / 2.0;
    let read = |y: f64, x: f64| {
        let inside = y >= 0.0 && x >= 0.0 && y < rows as f64 - 1.0 && x < columns as f64 - 1.0;
        if !inside {
            return 1.0;
        }
        let (r, q) = (y as usize, x as usize);
        let (fy, fx) = ((y - r as f64) as f32, (x - q as f64) as f32);
        let along = |row: usize| print.pixels[[row, q]] * (1.0 - fx) + print.pixels[[row, q + 1]] * fx;
        along(r) * (1.0 - fy) + along(r + 1) * fy
    };
    let pixels = ndarray::Array2::from_shape_fn((height, width), |(row, column)| {
        let (dx, dy) = (column as f64 - middle(width), middle(height) - row as f64);
        // Back to the print as it was: turned clockwise.
        let (x, y) = (dx * c + dy * s, dy * c - dx * s);
        read(middle(rows) - y, middle(columns) + x)
    });
    Impression { pixels, original_size: (width, height), ..print.clone() }
}

/// Loops of middling count, whorls that are clearly inner, outer or meeting.
fn wishes() -> Vec<Wish> {
    let loop_ = |kind, count| Wish { ridge_count: Some(count), ..Wish::of(kind) };
    let whorl =
        |kind, tracing, between| Wish { tracing: Some(tracing), ridges_between: Some(between), ..Wish::of(kind) };
    let mut wishes: Vec<Wish> =
        (0..6).flat_map(|i| [loop_(Kind::LeftLoop, 6 + 2 * i), loop_(Kind::RightLoop, 7 + 2 * i)]).collect();
    for between in [5, 6, 7] {
        wishes.push(whorl(Kind::PlainWhorl(Circuit::SpiralClockwise), Tracing::I, between));
        wishes.push(whorl(Kind::PlainWhorl(Circuit::SpiralCounterclockwise), Tracing::O, between));
        wishes.push(whorl(Kind::PlainWhorl(Circuit::Oval), Tracing::I, between));
        wishes.push(whorl(Kind::DoubleLoop(Winding::Clockwise), Tracing::O, between));
        wishes.push(whorl(Kind::PlainWhorl(Circuit::Oval), Tracing::M, 0));
        wishes.push(whorl(Kind::PlainWhorl(Circuit::Circle), Tracing::M, 0));
    }
    wishes
}

static CASES: LazyLock<Vec<Case>> = LazyLock::new(|| {
    let screener = Screener::default();
    let case = |(i, wish): (usize, Wish)| {
        let seed = FIRST_SEED + i as u64;
        let drawn = draw(&wish, seed).ok()?;
        let print = impression(&drawn, seed);
        let screen = |p: &Impression| screener.screen(p).unwrap();
        let (upright, other) = (screen(&print), screen(&mirrored(&print)));
        Some(Case { seed, kind: wish.kind, tracing: drawn.truth.tracing, print, upright, mirrored: other })
    };
    wishes().into_iter().enumerate().collect::<Vec<_>>().into_par_iter().filter_map(case).collect()
});

fn class(proposal: &Proposal) -> Option<Class> {
    proposal.pattern.as_ref().and_then(class_of)
}

fn count(proposal: &Proposal) -> Option<u16> {
    proposal.loop_.and_then(|l| l.ridge_count).map(|c| c.best)
}

fn tracing(proposal: &Proposal) -> Option<Tracing> {
    proposal.whorl.and_then(|w| w.tracing).map(|t| t.best)
}

#[test]
fn nearly_every_wish_is_drawn() {
    assert!(CASES.len() >= 28, "{} of {}", CASES.len(), wishes().len());
}

#[test]
fn a_mirror_image_of_a_loop_has_the_other_slant_and_of_a_whorl_is_a_whorl() {
    let other = |class| match class {
        Class::LeftLoop => Class::RightLoop,
        Class::RightLoop => Class::LeftLoop,
        same => same,
    };
    let astray: Vec<_> = CASES
        .iter()
        .filter(|c| class(&c.upright).map(other) != class(&c.mirrored))
        .map(|c| (c.seed, c.kind, class(&c.upright), class(&c.mirrored)))
        .collect();
    println!("mirrored calls: {} of {} agree", CASES.len() - astray.len(), CASES.len());
    assert!(astray.len() <= MIRRORED_CALLS_ASTRAY, "{astray:?}");
}

/// Floor: so many prints may be called otherwise in the mirror.
const MIRRORED_CALLS_ASTRAY: usize = 1;

#[test]
fn a_mirror_image_keeps_the_ridge_count_down_to_the_floor() {
    let pairs: Vec<(u64, u16, u16)> =
        CASES.iter().filter_map(|c| Some((c.seed, count(&c.upright)?, count(&c.mirrored)?))).collect();
    let within = |n: u16| pairs.iter().filter(|(_, a, b)| a.abs_diff(*b) <= n).count();
    println!("counts of mirror images: {} equal, {} within one, of {}", within(0), within(1), pairs.len());
    assert!(pairs.len() >= COUNTED, "{pairs:?}");
    assert!(within(0) >= EQUAL_COUNTS && within(1) >= NEAR_COUNTS, "{pairs:?}");
}

/// Floors of the counts: loops counted both ways, counts equal, counts within one.
const COUNTED: usize = 9;
const EQUAL_COUNTS: usize = 7;
const NEAR_COUNTS: usize = 9;

#[test]
fn a_mirror_image_exchanges_inner_and_outer_and_leaves_meeting_down_to_the_floor() {
    let other = |tracing| match tracing {
        Tracing::I => Tracing::O,
        Tracing::M => Tracing::M,
        Tracing::O => Tracing::I,
    };
    let traced: Vec<_> = CASES
        .iter()
        .filter_map(|c| Some((c.seed, c.kind, c.tracing?, tracing(&c.upright)?, tracing(&c.mirrored)?)))
        .collect();
    let mirrors = traced.iter().filter(|t| other(t.3) == t.4).count();
    let right = traced.iter().filter(|t| t.2 == t.3).count();
    let right_mirrored = traced.iter().filter(|t| other(t.2) == t.4).count();
    println!("tracings: {mirrors} mirror, {right} right upright, {right_mirrored} right mirrored, of {}", traced.len());
    assert!(traced.len() >= TRACED, "{traced:?}");
    assert!(mirrors >= MIRRORED_TRACINGS && right_mirrored >= RIGHT_MIRRORED, "{traced:?}");
    // Hardly ever the opposite of what is there: inner for outer.
    let opposite = traced.iter().filter(|t| t.2 != Tracing::M && (t.3 == other(t.2) || t.4 == t.2)).count();
    assert!(opposite <= MOST_OPPOSITE, "{traced:?}");
}

/// Floors of the tracings: traced both ways, mirror images of each other, right on the mirror image.
const TRACED: usize = 11;
const MIRRORED_TRACINGS: usize = 9;
const RIGHT_MIRRORED: usize = 9;
/// A ceiling: tracings that are the opposite of the true one upright or mirrored.
const MOST_OPPOSITE: usize = 1;

#[test]
fn a_print_turned_by_20_or_30_degrees_is_called_the_same_down_to_the_floor() {
    let screener = Screener::default();
    for (degrees, floor) in TURNED {
        let results: Vec<_> = CASES
            .par_iter()
            .map(|c| {
                let proposal = screener.screen(&turned(&c.print, degrees)).unwrap();
                (c.seed, c.kind, call(&c.upright), call(&proposal))
            })
            .collect();
        let same = results.iter().filter(|r| r.2.map(|c| c.0) == r.3.map(|c| c.0)).count();
        let wrong: Vec<_> = results.iter().filter(|r| r.2.map(|c| c.0) != r.3.map(|c| c.0)).collect();
        println!("turned by {degrees} degrees: {same} of {} called the same", results.len());
        assert!(same >= floor, "turned by {degrees} degrees: {same} the same; {wrong:?}");
    }
}

/// Degrees counter-clockwise, and of the prints so many must be called the same.
const TURNED: [(f64, usize); 4] = [(20.0, 28), (-20.0, 28), (30.0, 28), (-30.0, 28)];

/// What is said about how a print lies.
fn lie(proposal: &Proposal) -> Option<&str> {
    proposal.reasons.iter().find(|r| r.rule == "print upright").map(|r| r.text.as_str())
}

#[test]
fn a_print_on_its_head_or_its_side_is_turned_said_to_be_and_read_as_the_upright_one_down_to_the_floor() {
    let screener = Screener::default();
    // A loop's own slant hides a quarter turn, so only whorls are asked for that.
    for (degrees, words, loops, floor) in LYING {
        let asked: Vec<&Case> = CASES.iter().filter(|c| loops || c.tracing.is_some()).collect();
        let read: Vec<_> = asked
            .par_iter()
            .map(|c| {
                let proposal = screener.screen(&turned(&c.print, degrees)).unwrap();
                let told = lie(&proposal).is_some_and(|t| t.contains(words));
                (c.seed, told, told && class(&proposal) == class(&c.upright))
            })
            .collect();
        let (told, same) = (read.iter().filter(|r| r.1).count(), read.iter().filter(|r| r.2).count());
        println!("turned by {degrees} degrees: {told} turned back, {same} of them called the same, of {}", read.len());
        assert!(same >= floor && same == told, "{degrees}: {read:?}");
    }
}

/// Degrees counter-clockwise that the print lies turned, what must be said, whether loops are asked as well, and of how many the least.
const LYING: [(f64, &str, bool, usize); 3] = [
    (180.0, "turned by 180 degrees", true, 20),
    (90.0, "turned by 90 degrees clockwise", false, 12),
    (-90.0, "turned by 90 degrees counter-clockwise", false, 12),
];

#[test]
fn no_upright_print_is_turned() {
    let astray: Vec<_> = CASES
        .iter()
        .flat_map(|c| [&c.upright, &c.mirrored].map(|p| (c.seed, lie(p))))
        .filter(|(_, said)| said.is_some_and(|t| t.contains("then read")))
        .collect();
    assert!(astray.is_empty(), "{astray:?}");
}

#[test]
fn an_inner_delta_beside_the_cores_turns_hardly_an_upright_pocket() {
    // The inner delta of a central pocket loop may stand above, below or beside its cores (handbook, figures 213 to 236).
    let screener = Screener::default();
    let astray: Vec<_> = (FIRST_SEED..FIRST_SEED + 30)
        .into_par_iter()
        .filter_map(|seed| {
            let drawn = draw(&Wish::of(Kind::CentralPocket(Pocket::Recurve)), seed).ok()?;
            let proposal = screener.screen(&impression(&drawn, seed)).unwrap();
            lie(&proposal).filter(|t| t.contains("then read")).map(|t| (seed, t.to_owned()))
        })
        .collect();
    // One of the thirty still is.
    assert!(astray.len() <= 1, "{astray:?}");
}

#[test]
fn marks_of_a_turned_print_lie_on_the_image_as_it_was_given() {
    let screener = Screener::default();
    let case = CASES.iter().find(|c| c.kind == Kind::PlainWhorl(Circuit::Oval)).unwrap();
    let over = turned(&case.print, 180.0);
    let proposal = screener.screen(&over).unwrap();
    assert!(lie(&proposal).is_some(), "{:?}", proposal.reasons);
    let (width, height) = over.original_size;
    for mark in &case.upright.deltas {
        let there = (width as f64 - 1.0 - mark.x, height as f64 - 1.0 - mark.y);
        let near = proposal.deltas.iter().map(|d| (d.x - there.0).hypot(d.y - there.1)).fold(f64::INFINITY, f64::min);
        assert!(near < 3.0, "{near:.1} px from {there:?}: {:?}", proposal.deltas);
    }
}

#[test]
fn deltas_are_numbered_from_the_left_of_the_print_however_it_lies_on_the_scan() {
    // As a block of a card that was scanned upside down, or of a mirrored scan, is cut out upright.
    let case = CASES.iter().find(|c| c.kind == Kind::PlainWhorl(Circuit::Oval)).unwrap();
    let mut scan = case.print.turned(2);
    scan.to_original = Frame::IDENTITY;
    let mut mirrored = case.print.clone().mirrored();
    mirrored.to_original = Frame::IDENTITY;
    for cut in [scan.turned(2), mirrored.mirrored()] {
        assert_eq!(cut.pixels, case.print.pixels);
        let proposal = Screener::default().screen(&cut).unwrap();
        let shown = |d: &DeltaMark| cut.to_original.invert(Point::new(d.x, d.y)).x;
        let [left, right] = proposal.deltas.as_slice() else { panic!("{:?}", proposal.deltas) };
        assert!(shown(left) < shown(right), "{:?}", proposal.deltas);
    }
}

#[test]
fn a_loop_that_lies_a_little_askew_says_nothing_of_it() {
    // A known gap: its own slant and the turn of the print cannot be told apart by its points.
    let screener = Screener::default();
    let case = &CASES[0];
    let proposal = screener.screen(&turned(&case.print, 30.0)).unwrap();
    assert!(lie(&proposal).is_none() && lie(&case.upright).is_none(), "{:?}", proposal.reasons);
}
