//! Drawn cohorts for fitting and measuring.
#![allow(dead_code, reason = "each example uses its part")]

pub mod answers;
pub mod boost;
pub mod logistic;
pub mod points;
pub mod scans;
pub mod tally;

use recurve::draw::{Circuit, Finger, Framing, Kind, Mixture, Pocket, Quality, Tent, Truth, Winding, Wish, draw};
use recurve::geometry::Point;
use recurve::impression::{Impression, PpiFrom};
use recurve::singular::PointKind;

/// One drawn print as the program receives it, with what is true of it.
pub struct Drawn {
    /// The print.
    pub print: Impression,
    /// Its truth.
    pub truth: Truth,
}

/// The five classes that a pattern is decided into.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Class {
    PlainArch,
    TentedArch,
    LeftLoop,
    RightLoop,
    Whorl,
}

/// The class of a kind.
pub fn class(kind: Kind) -> Class {
    match kind {
        Kind::PlainArch => Class::PlainArch,
        Kind::TentedArch(_) => Class::TentedArch,
        Kind::LeftLoop => Class::LeftLoop,
        Kind::RightLoop => Class::RightLoop,
        _ => Class::Whorl,
    }
}

/// Kinds in the shares in which fitting draws them: arches and rare whorls far oftener than in nature, because a rule is
/// learned at its border and the prior can be put back later.
pub const SHARES: [(Kind, f64); 20] = [
    (Kind::PlainArch, 13.0),
    (Kind::TentedArch(Tent::Angle), 3.0),
    (Kind::TentedArch(Tent::Upthrust), 4.0),
    (Kind::TentedArch(Tent::LoopLike), 5.0),
    (Kind::LeftLoop, 17.0),
    (Kind::RightLoop, 17.0),
    (Kind::PlainWhorl(Circuit::Circle), 3.0),
    (Kind::PlainWhorl(Circuit::Oval), 3.0),
    (Kind::PlainWhorl(Circuit::SpiralClockwise), 2.0),
    (Kind::PlainWhorl(Circuit::SpiralCounterclockwise), 2.0),
    (Kind::PlainWhorl(Circuit::Incomplete), 2.0),
    (Kind::PlainWhorl(Circuit::SType), 2.0),
    (Kind::PlainWhorl(Circuit::Interlocking), 2.0),
    (Kind::CentralPocket(Pocket::Recurve), 6.0),
    (Kind::CentralPocket(Pocket::Obstruction), 4.0),
    (Kind::DoubleLoop(Winding::Clockwise), 4.0),
    (Kind::DoubleLoop(Winding::Counterclockwise), 4.0),
    (Kind::Accidental(Mixture::LoopAndTentedArch), 2.0),
    (Kind::Accidental(Mixture::LoopAndWhorl), 2.0),
    (Kind::Accidental(Mixture::LoopAndDoubleLoop), 2.0),
];

/// Qualities and framings in the shares in which the decision and the network are fitted.
pub const FIT_QUALITIES: [(Quality, f64); 3] = [(Quality::Good, 4.0), (Quality::Fair, 4.0), (Quality::Poor, 3.0)];
pub const FIT_FRAMINGS: [(Framing, f64); 3] = [(Framing::Rolled, 3.0), (Framing::Plain, 3.0), (Framing::Crop, 4.0)];

/// Qualities in the shares in which what is read on the ridges is fitted.
pub const READ_QUALITIES: [(Quality, f64); 3] = [(Quality::Good, 4.0), (Quality::Fair, 4.0), (Quality::Poor, 2.0)];
/// Loops of either slant alike.
pub const LOOPS: [(Kind, f64); 2] = [(Kind::LeftLoop, 1.0), (Kind::RightLoop, 1.0)];

/// A number in 0..1 that depends on `seed` and `lane` only (SplitMix64, Steele, Lea and Flood 2014).
pub fn chance(seed: u64, lane: u64) -> f64 {
    let mut z = seed.wrapping_mul(0x9E37_79B9_7F4A_7C15).wrapping_add(lane.wrapping_mul(0xD1B5_4A32_D192_ED03));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
}

/// One of `shares` by a number in 0..1.
pub fn pick<T: Copy>(shares: &[(T, f64)], at: f64) -> T {
    let total: f64 = shares.iter().map(|s| s.1).sum();
    let mut rest = at * total;
    for (value, share) in shares {
        rest -= share;
        if rest <= 0.0 {
            return *value;
        }
    }
    shares[shares.len() - 1].0
}

/// Draws print number `seed` of a cohort; `None` when the wish was refused.
pub fn draw_one(seed: u64, qualities: &[(Quality, f64)], framings: &[(Framing, f64)]) -> Option<Drawn> {
    draw_kind(pick(&SHARES, chance(seed, 1)), seed, qualities, framings)
}

/// Draws print number `seed` of a kind; `None` when the wish was refused.
pub fn draw_kind(kind: Kind, seed: u64, qualities: &[(Quality, f64)], framings: &[(Framing, f64)]) -> Option<Drawn> {
    let drawn = draw(&wish(kind, seed, qualities, framings), seed).ok()?;
    Some(Drawn { print: impression(&drawn, seed), truth: drawn.truth })
}

/// What is wished for print number `seed` of a kind.
pub fn wish(kind: Kind, seed: u64, qualities: &[(Quality, f64)], framings: &[(Framing, f64)]) -> Wish {
    let (quality, framing) = (pick(qualities, chance(seed, 2)), pick(framings, chance(seed, 3)));
    // A third of the loops have few ridges between delta and core, where loop and tented arch meet.
    let is_loop = matches!(kind, Kind::LeftLoop | Kind::RightLoop);
    let ridge_count = (is_loop && chance(seed, 4) < 0.3).then(|| 1 + (chance(seed, 5) * 4.0) as u16);
    Wish { quality, framing, ridge_count, ..Wish::of(kind) }
}

/// The same loop with its delta under the core and, by a number in 0..1, one to nine ridges between.
pub fn under_core(wish: Wish, at: f64) -> Wish {
    const MOST: f64 = 9.0;
    Wish { delta_under_core: true, ridge_count: Some(1 + (at * MOST) as u16), ..wish }
}

/// Draws what is wished for, with further impressions of the same finger, each of another quality: growing and reading a finger takes several
/// times as long as an impression. None when the wish was refused.
pub fn draw_often(wish: &Wish, seed: u64, qualities: &[(Quality, f64)], impressions: u64) -> Vec<Drawn> {
    let Ok(finger) = Finger::grow(wish, seed) else { return Vec::new() };
    let further = |k: u64| {
        let quality = pick(qualities, chance(seed, 100 + k));
        finger.impress_as(wish.framing, quality, wish.size, seed.wrapping_add(k << 40))
    };
    (0..impressions)
        .map(|k| if k == 0 { finger.impress(seed) } else { further(k) })
        .map(|drawn| Drawn { print: impression(&drawn, seed), truth: drawn.truth })
        .collect()
}

/// The drawn picture as an 8-bit impression; a close-cut figure has no resolution, as in a book.
pub fn impression(drawn: &recurve::draw::DrawnPrint, seed: u64) -> Impression {
    let (rows, columns) = drawn.pixels.dim();
    let known = drawn.truth.framing != Framing::Crop;
    Impression {
        pixels: drawn.pixels.mapv(|v| (v * 255.0).round() / 255.0),
        ppi: known.then_some(drawn.truth.ppi),
        ppi_from: if known { PpiFrom::File } else { PpiFrom::Ridges },
        finger: None,
        source: format!("drawn/{seed:06}.png"),
        part: None,
        to_original: Default::default(),
        original_size: (columns, rows),
        remarks: Vec::new(),
    }
}

/// Pairs found points with true ones of the same kind, nearest first, at most `reach` apart; the index of the true point
/// for each found one.
pub fn match_points(found: &[(PointKind, Point)], truth: &[(PointKind, Point)], reach: f64) -> Vec<Option<usize>> {
    let mut pairs = Vec::new();
    for (i, f) in found.iter().enumerate() {
        for (j, t) in truth.iter().enumerate() {
            if f.0 == t.0 && f.1.distance(t.1) < reach {
                pairs.push((f.1.distance(t.1), i, j));
            }
        }
    }
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let (mut result, mut used) = (vec![None; found.len()], vec![false; truth.len()]);
    for (_, i, j) in pairs {
        if result[i].is_none() && !used[j] {
            result[i] = Some(j);
            used[j] = true;
        }
    }
    result
}

/// The true printed points.
pub fn true_points(truth: &Truth) -> Vec<(PointKind, Point)> {
    let cores = truth.cores.iter().filter(|p| p.printed).map(|p| (PointKind::Core, p.at));
    let deltas = truth.deltas.iter().filter(|p| p.printed).map(|p| (PointKind::Delta, p.at));
    cores.chain(deltas).collect()
}

/// Writes a model into `models/decision`, with one line for each of its parts and each tree.
pub fn write_model(name: &str, value: &serde_json::Value) {
    let path = format!("{}/models/decision/{name}", env!("CARGO_MANIFEST_DIR"));
    match std::fs::write(&path, boost::in_lines(value, 0) + "\n") {
        Ok(()) => println!("wrote {path}"),
        Err(fault) => eprintln!("{path}: {fault}"),
    }
}
