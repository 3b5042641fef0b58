//! Drawn cards as scanners and copiers give them: turned, shifted, scaled, cut off, faint, copied, cluttered. Truth stays known.
#![allow(dead_code, reason = "each example and test uses its part")]

use ndarray::Array2;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use recurve::card::{BlockKind, Card, Holds};
use recurve::draw::card::{CARD_PPI, CardWish, DrawnCard, draw_card};
use recurve::geometry::{Frame, Point};
use recurve::impression::Impression;

/// What was done to a card.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Handling {
    /// Turn in degrees counter-clockwise, any.
    pub turn_deg: f64,
    /// Pixels per inch of the scan.
    pub ppi: f64,
    /// Shift of the card's middle from the scan's, inches.
    pub shift_in: [f64; 2],
    /// Taken off each side of the card before scanning, inches: left, top, right, bottom.
    pub cut_in: [f64; 4],
    /// Grey of the form's lines and all ink made lighter: 0 as drawn, 0.6 faint.
    pub faded: f32,
    /// Copied: contrast driven to black and white.
    pub copied: bool,
    /// Straight pen strokes laid over the card.
    pub strokes: usize,
}

impl Handling {
    /// A handling by chance, within what is promised: turn to 10 degrees, upside down or not, 200 to 1200 pixels per inch, a cropped edge.
    pub fn by_chance(seed: u64) -> Self {
        let mut dice = ChaCha8Rng::seed_from_u64(seed);
        let over = if dice.random_bool(0.5) { 180.0 } else { 0.0 };
        let mut cut_in = [0.0; 4];
        if dice.random_bool(0.4) {
            cut_in[dice.random_range(0..4usize)] = dice.random_range(0.0..0.25);
        }
        Self {
            turn_deg: over + dice.random_range(-10.0..10.0),
            ppi: [200.0, 300.0, 500.0, 600.0, 1000.0, 1200.0]
                [[0, 1, 1, 2, 2, 2, 3, 4, 5][dice.random_range(0..9usize)]],
            shift_in: [dice.random_range(-0.6..0.6), dice.random_range(-0.6..0.6)],
            cut_in,
            faded: if dice.random_bool(0.3) { dice.random_range(0.2..0.6) } else { 0.0 },
            copied: dice.random_bool(0.25),
            strokes: if dice.random_bool(0.5) { dice.random_range(1..12) } else { 0 },
        }
    }
}

/// A flat card of a seed.
pub fn flat_card(seed: u64) -> Result<DrawnCard, recurve::Error> {
    draw_card(&CardWish { turn_deg: Some(0.0), ..CardWish::default() }, seed)
}

/// Lays a flat card on a scanner. Returns the scan, without resolution tag, and the way from card to scan.
pub fn scanned(card: &DrawnCard, handling: &Handling, seed: u64) -> Result<(Impression, Frame), recurve::Error> {
    const LID: f32 = 0.97;
    let mut dice = ChaCha8Rng::seed_from_u64(seed ^ 0x5ca1_ab1e);
    let mut sheet = card.pixels.mapv(|v| f32::from(v) / 255.0);
    for _ in 0..handling.strokes {
        stroke(&mut sheet, &mut dice);
    }
    let (rows, columns) = sheet.dim();
    let scale = handling.ppi / CARD_PPI;
    let (sin, cos) = (handling.turn_deg.to_radians().sin().abs(), handling.turn_deg.to_radians().cos().abs());
    let side = |a: usize, b: usize| (scale * (a as f64 * cos + b as f64 * sin) + 1.3 * handling.ppi).round();
    let (width, height) = (side(columns, rows), side(rows, columns));
    let turned = Frame::new(scale, handling.turn_deg.to_radians(), 0.0, 0.0);
    let middle = turned.apply(Point::new(0.5 * columns as f64, 0.5 * rows as f64));
    let [dx, dy] = handling.shift_in.map(|v| v * handling.ppi);
    let to_scan = turned.then(&Frame::new(1.0, 0.0, 0.5 * width + dx - middle.x, 0.5 * height + dy - middle.y));
    let [left, top, right, bottom] = handling.cut_in.map(|v| v * CARD_PPI);
    // A coarser scan sees the mean of what lies under a pixel.
    let samples = ((1.0 / scale).round() as usize).max(1);
    let at = |p: Point| -> f32 {
        let inside =
            p.x >= left && p.y >= top && p.x < columns as f64 - right - 1.0 && p.y < rows as f64 - bottom - 1.0;
        if !inside {
            return LID;
        }
        let (c, r) = (p.x as usize, p.y as usize);
        let (tx, ty) = ((p.x - c as f64) as f32, (p.y - r as f64) as f32);
        let upper = sheet[[r, c]] + tx * (sheet[[r, c + 1]] - sheet[[r, c]]);
        let lower = sheet[[r + 1, c]] + tx * (sheet[[r + 1, c + 1]] - sheet[[r + 1, c]]);
        upper + ty * (lower - upper)
    };
    let (width, height) = (width as usize, height as usize);
    let mut grey = Vec::with_capacity(width * height);
    for y in 0..height {
        for x in 0..width {
            let mut sum = 0.0;
            for i in 0..samples * samples {
                let part = |i: usize| (i as f64 + 0.5) / samples as f64 - 0.5;
                sum += at(to_scan.invert(Point::new(x as f64 + part(i % samples), y as f64 + part(i / samples))));
            }
            let mut v = sum / (samples * samples) as f32;
            v = 1.0 - (1.0 - v) * (1.0 - handling.faded);
            if handling.copied {
                v = 0.5 + 6.0 * (v - 0.72 + 0.03 * dice.random_range(-1.0..1.0f32));
            }
            grey.push((255.0 * v.clamp(0.0, 1.0)) as u8);
        }
    }
    Ok((Impression::from_gray8(width, height, &grey, None)?.named("drawn card"), to_scan))
}

/// A pen stroke from somewhere to somewhere, a third of an inch to four inches long.
fn stroke(sheet: &mut Array2<f32>, dice: &mut ChaCha8Rng) {
    let (rows, columns) = sheet.dim();
    let (x, y) = (dice.random_range(0.0..columns as f64), dice.random_range(0.0..rows as f64));
    let (direction, length) = (dice.random_range(0.0..std::f64::consts::TAU), dice.random_range(150.0..2000.0));
    let half = dice.random_range(2..6i64);
    for i in 0..length as usize {
        let p = Point::new(x, y).step(direction, i as f64);
        for dy in -half..=half {
            for dx in -half..=half {
                let (r, c) = (p.y as i64 + dy, p.x as i64 + dx);
                if r >= 0 && c >= 0 && (r as usize) < rows && (c as usize) < columns {
                    sheet[[r as usize, c as usize]] = 0.25;
                }
            }
        }
    }
}

/// Of the ten rolled blocks of a drawn card, those that were found: the truth's middle lies near the middle of the block of the same
/// finger, by a tenth of its width, and every true core on the card lies in its cut.
pub fn right_blocks(card: &Card, truth: &DrawnCard, to_scan: &Frame) -> usize {
    let right = |finger: &&recurve::draw::card::CardFinger| {
        let Some(found) = card
            .blocks
            .found
            .iter()
            .find(|f| f.kind == BlockKind::Rolled && f.finger == finger.finger && f.holds == Holds::Print)
        else {
            return false;
        };
        let middle = |corners: [Point; 4]| corners[0].lerp(corners[2], 0.5);
        let off = middle(found.place.corners()).distance(to_scan.apply(middle(finger.block)));
        let cores = finger.truth.cores.iter().filter(|c| c.printed);
        off < 0.1 * found.place.width && cores.into_iter().all(|c| found.cut.contains(to_scan.apply(c.at)))
    };
    truth.fingers.iter().filter(right).count()
}
