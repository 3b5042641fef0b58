//! Practice cards: ten rolled fingers, the plain row, and what a scanner makes of the sheet.

use super::chance::{self, Dice};
use super::{
    Circuit, Finger, Framing, Kind, Mixture, Pocket, Quality, RIDGE_COUNTS, Tent, TruePoint, Truth, Winding, Wish,
};
use super::{ink, lettering};
use crate::error::Error;
use crate::formula::{self, Call, FingerCall, Pattern, TenFingers, WhorlKind};
use crate::geometry::{Frame, Point};
use crate::proposal::{Hand, Tracing};
use ndarray::Array2;
use rayon::prelude::*;
use serde::Deserialize;
use std::sync::LazyLock;

/// Resolution at which a card is drawn, pixels per inch.
pub const CARD_PPI: f64 = 500.0;

#[derive(Debug, Deserialize)]
struct Shares {
    arch_loop_whorl: [[f64; 3]; 10],
    radial: [f64; 10],
    arch_kinds: [f64; 2],
    whorl_kinds: [f64; 4],
}

#[derive(Debug, Deserialize)]
struct Sheet {
    size_in: [f64; 2],
    rolled_in: [[f64; 4]; 10],
    left_four_in: [f64; 4],
    left_thumb_in: [f64; 4],
    right_thumb_in: [f64; 4],
    right_four_in: [f64; 4],
    rules_in: Vec<f64>,
    given_names: Vec<String>,
    family_names: Vec<String>,
    notes: Vec<String>,
}

fn models() -> Result<&'static (Shares, Sheet), Error> {
    static MODELS: LazyLock<Result<(Shares, Sheet), String>> = LazyLock::new(|| {
        let shares =
            toml::from_str(include_str!("../../models/prints/shares.toml")).map_err(|e| format!("shares: {e}"))?;
        let sheet = toml::from_str(include_str!("../../models/prints/card.toml")).map_err(|e| format!("card: {e}"))?;
        Ok((shares, sheet))
    });
    MODELS.as_ref().map_err(|e| Error::bad_value("card design", e.clone()))
}

/// What card is wanted.
#[derive(Debug, Clone)]
pub struct CardWish {
    /// The wanted calls; None draws patterns by the trade's shares per finger.
    pub calls: Option<TenFingers>,
    /// Quality of the impressions.
    pub quality: Quality,
    /// Turn of the card on the scanner in degrees counter-clockwise; None draws a small one by chance.
    pub turn_deg: Option<f64>,
    /// Resolution of the scan in pixels per inch, 100 to 1200.
    pub ppi: f64,
}

impl Default for CardWish {
    fn default() -> Self {
        Self { calls: None, quality: Quality::Good, turn_deg: None, ppi: CARD_PPI }
    }
}

/// A finger on a drawn card; places are pixels of the scan.
#[derive(Debug, Clone)]
pub struct CardFinger {
    /// Finger position 1 to 10.
    pub finger: u8,
    /// Corners of its rolled block, clockwise from the top left.
    pub block: [Point; 4],
    /// What is true of the rolled print; points on the scan, the field still that of the block's own picture.
    pub truth: Truth,
}

/// A drawn card.
#[derive(Debug, Clone)]
pub struct DrawnCard {
    /// Grey values 0 (black) to 255 (white), `[row, column]`.
    pub pixels: Array2<u8>,
    /// Resolution of the scan, pixels per inch.
    pub ppi: f64,
    /// Turn on the scanner, degrees counter-clockwise.
    pub turn_deg: f64,
    /// Fingers 1 to 10.
    pub fingers: Vec<CardFinger>,
    /// What the drawn ridges of the ten fingers call for.
    pub calls: TenFingers,
    /// The written classification of these calls in one line.
    pub formula: String,
    /// Home-made name and exercise on the sheet.
    pub title: [String; 2],
}

/// The wish for one finger by the trade's shares.
///
/// # Errors
/// When the built-in shares cannot be read.
pub(super) fn by_shares(finger: u8, quality: Quality, dice: &mut Dice) -> Result<Wish, Error> {
    let shares = &models()?.0;
    let index = usize::from(finger - 1);
    let right_hand = finger <= 5;
    let kind = match dice.weighted(&shares.arch_loop_whorl[index]) {
        0 if dice.weighted(&shares.arch_kinds) == 0 => Kind::PlainArch,
        0 => Kind::TentedArch([Tent::Angle, Tent::Upthrust, Tent::LoopLike][dice.weighted(&[1.0, 2.0, 1.0])]),
        1 if dice.chance(shares.radial[index]) == right_hand => Kind::LeftLoop,
        1 => Kind::RightLoop,
        _ => whorl(WhorlKind::ALL[dice.weighted(&shares.whorl_kinds)], dice),
    };
    Ok(Wish { quality, ..Wish::of(kind) })
}

/// One of the ways to make a whorl of a kind.
fn whorl(kind: WhorlKind, dice: &mut Dice) -> Kind {
    match kind {
        WhorlKind::Plain => Kind::PlainWhorl(
            [Circuit::Circle, Circuit::Oval, Circuit::SpiralClockwise, Circuit::SpiralCounterclockwise, Circuit::SType]
                [dice.weighted(&[2.0, 3.0, 2.0, 2.0, 0.5])],
        ),
        WhorlKind::CentralPocket => {
            Kind::CentralPocket([Pocket::Recurve, Pocket::Obstruction][dice.weighted(&[4.0, 1.0])])
        }
        WhorlKind::DoubleLoop => {
            Kind::DoubleLoop(if dice.chance(0.5) { Winding::Clockwise } else { Winding::Counterclockwise })
        }
        WhorlKind::Accidental => Kind::Accidental(
            [Mixture::LoopAndTentedArch, Mixture::LoopAndWhorl, Mixture::LoopAndDoubleLoop]
                [dice.weighted(&[1.0, 1.0, 1.0])],
        ),
    }
}

/// The wish that a call stands for.
///
/// # Errors
/// When the call is no pattern that can be drawn: an amputation, a scar, a count above 30.
fn wish_for(call: &FingerCall, quality: Quality, dice: &mut Dice) -> Result<Wish, Error> {
    let finger = call.finger.number();
    let refuse = |reason: &str| Error::bad_value(format!("finger {finger}"), reason.to_owned());
    let Call::Printed(pattern) = &call.call else {
        return Err(refuse("only printed patterns can be drawn: an arch, a loop or a whorl"));
    };
    let wish = match pattern {
        Pattern::PlainArch => Wish::of(Kind::PlainArch),
        Pattern::TentedArch => {
            Wish::of(Kind::TentedArch(if dice.chance(0.6) { Tent::Upthrust } else { Tent::LoopLike }))
        }
        Pattern::Loop { hand, count } => {
            let right = (*hand == Hand::Ulnar) == (finger <= 5);
            let count = count.and_then(|c| c.best()).map(u16::from);
            if count.is_some_and(|c| !RIDGE_COUNTS.contains(&c)) {
                return Err(refuse("a loop can be drawn with 1 to 30 ridges"));
            }
            Wish { ridge_count: count, ..Wish::of(if right { Kind::RightLoop } else { Kind::LeftLoop }) }
        }
        Pattern::Whorl { kind, tracing, .. } => {
            Wish { tracing: *tracing, ..Wish::of(whorl(kind.unwrap_or(WhorlKind::Plain), dice)) }
        }
    };
    Ok(Wish { quality, ..wish })
}

/// The call that a drawn finger's ridges ask for, in the words of the formula's calls.
fn call_of(finger: u8, truth: &Truth) -> String {
    let right_hand = finger <= 5;
    match truth.kind {
        Kind::PlainArch => "AA".to_owned(),
        Kind::TentedArch(_) => "TT".to_owned(),
        Kind::LeftLoop | Kind::RightLoop => {
            let ulnar = (truth.kind == Kind::RightLoop) == right_hand;
            let count = truth.ridge_count.unwrap_or(1);
            format!("{:02}", if ulnar { count } else { count + 50 })
        }
        kind => {
            let letter = match kind {
                Kind::CentralPocket(_) => 'C',
                Kind::DoubleLoop(_) => 'd',
                Kind::Accidental(_) => 'X',
                _ => 'P',
            };
            let tracing = match truth.tracing {
                Some(Tracing::I) => 'I',
                Some(Tracing::O) => 'O',
                _ => 'M',
            };
            format!("{letter}{tracing}")
        }
    }
}

/// Checks a card wish without drawing anything.
///
/// # Errors
/// As [`draw_card`], for what can be known beforehand.
pub fn check_card(wish: &CardWish) -> Result<(), Error> {
    if !(100.0..=1200.0).contains(&wish.ppi) {
        return Err(Error::bad_value("ppi", format!("{} is not between 100 and 1200 pixels per inch", wish.ppi)));
    }
    if wish.turn_deg.is_some_and(|t| !(-180.0..=180.0).contains(&t)) {
        return Err(Error::bad_value("turn", "a card is turned by -180 to 180 degrees"));
    }
    let mut dice = Dice::new(0, 0);
    for call in wish.calls.iter().flat_map(TenFingers::iter) {
        wish_for(call, wish.quality, &mut dice)?.check()?;
    }
    Ok(())
}

/// Draws a card; the same wish and seed give the same bytes. Fingers are drawn side by side on the cores at hand.
///
/// # Errors
/// When a finger's wish is impossible or could not be met.
pub fn draw_card(wish: &CardWish, seed: u64) -> Result<DrawnCard, Error> {
    const CARD_STREAM: u64 = 1 << 50;
    check_card(wish)?;
    let sheet = &models()?.1;
    let mut dice = Dice::new(seed, CARD_STREAM);
    let wishes: Vec<Wish> = (1..=10u8)
        .map(|finger| match &wish.calls {
            Some(calls) => wish_for(calls.finger(formula::Finger::new(finger)?), wish.quality, &mut dice),
            None => by_shares(finger, wish.quality, &mut dice),
        })
        .collect::<Result<_, Error>>()?;
    let seeds: Vec<u64> = (0..10).map(|_| dice.seed()).collect();
    let fingers: Vec<Finger> =
        wishes.par_iter().zip(&seeds).map(|(wish, seed)| Finger::grow(wish, *seed)).collect::<Result<_, _>>()?;

    let mut paper = Paper::new(sheet, &mut dice);
    let title = paper.head(sheet, &mut dice);
    let mut truths = paper.rolled(sheet, &fingers, &seeds, wish.quality, &mut dice);
    paper.plain_row(sheet, &fingers, &seeds, wish.quality, &mut dice);
    let turn_deg = wish.turn_deg.unwrap_or_else(|| dice.normal(0.0, 0.6));
    let (pixels, to_scan) = paper.scan(turn_deg, wish.ppi, &mut dice);
    let calls: Vec<String> =
        truths.iter().enumerate().map(|(i, truth)| format!("{}={}", i + 1, call_of(i as u8 + 1, truth))).collect();
    let calls = TenFingers::from_text(&calls.join(" "))?;
    let formula = formula::classify(&calls, &formula::Settings::default())?.formula.line();
    for truth in &mut truths {
        move_truth(truth, &to_scan);
    }
    let fingers = truths
        .into_iter()
        .enumerate()
        .map(|(i, truth)| {
            let [x, y, w, h] = sheet.rolled_in[i].map(|v| v * CARD_PPI);
            let corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h)];
            CardFinger { finger: i as u8 + 1, block: corners.map(|(x, y)| to_scan.apply(Point::new(x, y))), truth }
        })
        .collect();
    Ok(DrawnCard { pixels, ppi: wish.ppi, turn_deg, fingers, calls, formula, title })
}

/// Moves the points of a truth into another frame.
fn move_truth(truth: &mut Truth, frame: &Frame) {
    let turn = frame.turn();
    let move_point = |p: &mut TruePoint| {
        p.at = frame.apply(p.at);
        p.direction = crate::geometry::wrap_direction(p.direction + turn);
    };
    truth.cores.iter_mut().chain(&mut truth.deltas).for_each(move_point);
    for p in truth.count_line.iter_mut().flatten().chain(&mut truth.counted).chain(&mut truth.trace) {
        *p = frame.apply(*p);
    }
    truth.ppi *= frame.scale();
    truth.ridge_period *= frame.scale();
    truth.turn += turn;
}

/// The sheet while it is being filled, at 500 pixels an inch.
struct Paper {
    grey: Array2<f32>,
}

impl Paper {
    fn new(sheet: &Sheet, dice: &mut Dice) -> Self {
        let [width, height] = sheet.size_in.map(|v| (v * CARD_PPI) as usize);
        Self { grey: Array2::from_elem((height, width), dice.between(0.93, 1.0) as f32) }
    }

    /// A dark line.
    fn line(&mut self, a: Point, b: Point, thickness: f64, darkness: f32) {
        let width = self.grey.ncols();
        let Some(layer) = self.grey.as_slice_mut() else { return };
        ink::darken(layer, width, a, b, 0.5 * thickness, darkness);
    }

    fn write(&mut self, text: &str, at: Point, height: f64) {
        for (a, b) in lettering::write(text, at, height) {
            self.line(a, b, 0.13 * height, 0.85);
        }
    }

    /// Frame, rules, block lines and the home-made head.
    fn head(&mut self, sheet: &Sheet, dice: &mut Dice) -> [String; 2] {
        const LINE: f64 = 2.2;
        let [width, height] = sheet.size_in.map(|v| v * CARD_PPI);
        for y in &sheet.rules_in {
            self.line(Point::new(0.0, y * CARD_PPI), Point::new(width, y * CARD_PPI), LINE, 0.85);
        }
        let whole = [0.0, 0.0, sheet.size_in[0], sheet.size_in[1]];
        let blocks = [whole, sheet.left_four_in, sheet.left_thumb_in, sheet.right_thumb_in, sheet.right_four_in];
        for [x, y, w, h] in blocks.into_iter().chain(sheet.rolled_in) {
            let clip = |v: f64, most: f64| (v * CARD_PPI).clamp(2.0, most - 3.0);
            let corner = |x: f64, y: f64| Point::new(clip(x, width), clip(y, height));
            let corners = [corner(x, y), corner(x + w, y), corner(x + w, y + h), corner(x, y + h)];
            for i in 0..4 {
                self.line(corners[i], corners[(i + 1) % 4], LINE, 0.85);
            }
        }
        let pick = |list: &[String], dice: &mut Dice| {
            let index = dice.whole(0, list.len().max(1) as i64 - 1) as usize;
            list.get(index).cloned().unwrap_or_default()
        };
        let name = format!("{}, {}", pick(&sheet.family_names, dice), pick(&sheet.given_names, dice));
        let note = pick(&sheet.notes, dice);
        self.write("PRACTICE CARD - DRAWN BY A PROGRAM - NOT A REAL PERSON", Point::new(60.0, 60.0), 40.0);
        self.write(&format!("NAME: {name}"), Point::new(60.0, 250.0), 46.0);
        self.write(&note, Point::new(60.0, 570.0), 46.0);
        [name, note]
    }

    /// Lays a print on the sheet: ink darkens what is there. `at` is the picture's top left corner.
    fn lay(&mut self, picture: &Array2<f32>, at: (i64, i64)) {
        let (rows, columns) = self.grey.dim();
        for ((r, c), value) in picture.indexed_iter() {
            let (y, x) = (at.1 + r as i64, at.0 + c as i64);
            if y >= 0 && x >= 0 && (y as usize) < rows && (x as usize) < columns {
                let paper = &mut self.grey[[y as usize, x as usize]];
                *paper = paper.min(*value);
            }
        }
    }

    /// The ten rolled prints; returns their truth on the sheet.
    fn rolled(
        &mut self,
        sheet: &Sheet,
        fingers: &[Finger],
        seeds: &[u64],
        quality: Quality,
        dice: &mut Dice,
    ) -> Vec<Truth> {
        const NAMES: [&str; 5] = ["THUMB", "INDEX", "MIDDLE", "RING", "LITTLE"];
        // The picture is larger than the block: ink may cross the lines, as it does on real cards.
        const SPILL: f64 = 40.0;
        let places: Vec<(i64, i64)> = sheet
            .rolled_in
            .iter()
            .map(|[x, y, _, _]| {
                let shift = |dice: &mut Dice| dice.normal(0.0, 12.0);
                let (dx, dy) = (shift(dice), shift(dice) + 22.0);
                ((x * CARD_PPI - SPILL + dx).round() as i64, (y * CARD_PPI - SPILL + dy).round() as i64)
            })
            .collect();
        let prints: Vec<_> = fingers
            .par_iter()
            .zip(seeds)
            .zip(&sheet.rolled_in)
            .map(|((finger, seed), [_, _, w, h])| {
                let size = ((w * CARD_PPI + 2.0 * SPILL) as usize, (h * CARD_PPI + 2.0 * SPILL) as usize);
                finger.impress_on_paper(Framing::Rolled, quality, size, *seed)
            })
            .collect();
        let mut truths = Vec::new();
        for (index, (print, at)) in prints.into_iter().zip(places).enumerate() {
            self.lay(&print.pixels, at);
            let hand = if index < 5 { "RIGHT" } else { "LEFT" };
            let [x, y, _, _] = sheet.rolled_in[index].map(|v| v * CARD_PPI);
            self.write(&format!("{}. {hand} {}", index + 1, NAMES[index % 5]), Point::new(x + 170.0, y + 16.0), 24.0);
            let mut truth = print.truth;
            move_truth(&mut truth, &Frame::new(1.0, 0.0, at.0 as f64, at.1 as f64));
            truths.push(truth);
        }
        truths
    }

    /// Plain impressions: left four, thumbs, right four.
    fn plain_row(&mut self, sheet: &Sheet, fingers: &[Finger], seeds: &[u64], quality: Quality, dice: &mut Dice) {
        let four = |block: [f64; 4], order: [usize; 4]| {
            order
                .into_iter()
                .enumerate()
                .map(move |(k, finger)| (block, finger, (k as f64 + 0.5) / 4.0))
                .collect::<Vec<_>>()
        };
        let mut places = four(sheet.left_four_in, [9, 8, 7, 6]);
        places.extend(four(sheet.right_four_in, [1, 2, 3, 4]));
        places.push((sheet.left_thumb_in, 5, 0.5));
        places.push((sheet.right_thumb_in, 0, 0.5));
        // The middle finger reaches highest, the little finger lies lowest.
        const LOWER: [f64; 5] = [0.0, 0.12, 0.0, 0.08, 0.3];
        const SIZE: (usize, usize) = (390, 480);
        for (block, finger, across) in places {
            let print = fingers[finger].impress_on_paper(Framing::Plain, quality, SIZE, seeds[finger] ^ 1);
            let [x, y, w, h] = block.map(|v| v * CARD_PPI);
            let left = x + across * w - 0.5 * SIZE.0 as f64 + dice.normal(0.0, 8.0);
            let top = y + 0.5 * (h - SIZE.1 as f64) + CARD_PPI * (LOWER[finger % 5] - 0.1) + dice.normal(0.0, 10.0);
            self.lay(&print.pixels, (left.round() as i64, top.round() as i64));
        }
        let label = |paper: &mut Self, block: [f64; 4], text: &str| {
            paper.write(text, Point::new(block[0] * CARD_PPI + 30.0, block[1] * CARD_PPI + 16.0), 22.0);
        };
        label(self, sheet.left_four_in, "LEFT FOUR FINGERS");
        label(self, sheet.left_thumb_in, "LEFT THUMB");
        label(self, sheet.right_thumb_in, "RIGHT THUMB");
        label(self, sheet.right_four_in, "RIGHT FOUR FINGERS");
    }

    /// Lays the sheet on a scanner: turned, resampled, with the scanner's noise. Returns the way from sheet to scan.
    fn scan(&self, turn_deg: f64, ppi: f64, dice: &mut Dice) -> (Array2<u8>, Frame) {
        let (rows, columns) = self.grey.dim();
        let scale = ppi / CARD_PPI;
        let (sin, cos) = chance::sin_cos(turn_deg.to_radians());
        let size =
            |a: usize, b: usize| ((a as f64 * cos.abs() + b as f64 * sin.abs()) * scale).round().max(1.0) as usize;
        let (width, height) = (size(columns, rows), size(rows, columns));
        // Turned about the sheet's middle, which comes to lie in the middle of the scan.
        let turned = Frame::new(scale, turn_deg.to_radians(), 0.0, 0.0);
        let middle = turned.apply(Point::new(0.5 * (columns - 1) as f64, 0.5 * (rows - 1) as f64));
        let shift = Frame::new(1.0, 0.0, 0.5 * (width - 1) as f64 - middle.x, 0.5 * (height - 1) as f64 - middle.y);
        let to_scan = turned.then(&shift);
        let noise = dice.white(1 << 16);
        let offset = dice.whole(0, 65_535) as usize;
        let pixels: Vec<u8> = (0..height)
            .into_par_iter()
            .flat_map_iter(|y| {
                let (noise, to_scan) = (&noise, &to_scan);
                (0..width).map(move |x| {
                    let p = to_scan.invert(Point::new(x as f64, y as f64));
                    let grain = noise[(offset + x * 7919 + y * 104_729) & 0xffff];
                    ((self.at(p) + 0.012 * grain) * 255.0).clamp(0.0, 255.0) as u8
                })
            })
            .collect();
        (Array2::from_shape_vec((height, width), pixels).unwrap_or_default(), to_scan)
    }

    /// Grey at a place; the scanner's dark lid outside.
    fn at(&self, p: Point) -> f32 {
        const LID: f32 = 0.75;
        let (rows, columns) = self.grey.dim();
        if p.x < 0.0 || p.y < 0.0 || p.x >= (columns - 1) as f64 || p.y >= (rows - 1) as f64 {
            return LID;
        }
        let (c, r) = (p.x as usize, p.y as usize);
        let (tx, ty) = ((p.x - c as f64) as f32, (p.y - r as f64) as f32);
        let g = |r: usize, c: usize| self.grey[[r, c]];
        let upper = g(r, c) + tx * (g(r, c + 1) - g(r, c));
        let lower = g(r + 1, c) + tx * (g(r + 1, c + 1) - g(r + 1, c));
        upper + ty * (lower - upper)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_come_in_galtons_shares() {
        // Galton, 5,000 digits: right thumb 3 / 53 / 44, right little finger 1 / 86 / 13 percent arches, loops, whorls.
        for (finger, share) in [(1u8, [0.03, 0.53, 0.44]), (5, [0.01, 0.86, 0.13])] {
            let mut dice = Dice::new(11, 0);
            let mut counted = [0.0f64; 3];
            for _ in 0..4000 {
                let kind = by_shares(finger, Quality::Good, &mut dice).unwrap().kind;
                counted[match kind {
                    Kind::PlainArch | Kind::TentedArch(_) => 0,
                    Kind::LeftLoop | Kind::RightLoop => 1,
                    _ => 2,
                }] += 1.0 / 4000.0;
            }
            for (got, wanted) in counted.iter().zip(share) {
                assert!((got - wanted).abs() < 0.03, "finger {finger}: {counted:?}");
            }
        }
    }

    #[test]
    fn most_loops_of_the_right_little_finger_open_to_the_right() {
        // Ulnar loops of the right hand open to the image right (handbook, chapter II, "ulnar and radial").
        let mut dice = Dice::new(5, 0);
        let kinds: Vec<Kind> = (0..300).map(|_| by_shares(5, Quality::Good, &mut dice).unwrap().kind).collect();
        let right = kinds.iter().filter(|k| **k == Kind::RightLoop).count();
        let left = kinds.iter().filter(|k| **k == Kind::LeftLoop).count();
        assert!(right > 20 * left.max(1), "{right} to {left}");
    }

    #[test]
    fn an_amputated_finger_or_a_count_of_45_cannot_be_drawn() {
        for calls in
            ["1=XX 2=09 3=09 4=09 5=09 6=09 7=09 8=09 9=09 10=09", "1=45 2=09 3=09 4=09 5=09 6=09 7=09 8=09 9=09 10=09"]
        {
            let wish = CardWish { calls: Some(TenFingers::from_text(calls).unwrap()), ..CardWish::default() };
            assert!(check_card(&wish).unwrap_err().to_string().contains("finger 1"));
        }
    }
}
