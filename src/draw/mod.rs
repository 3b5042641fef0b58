//! Practice prints and cards with known truth.
//!
//! A print is drawn in four steps, a file each: where cores and deltas lie ([`design`](self) solves for a wanted ridge count or
//! tracing), how the ridges flow (`flow`), the ridges themselves (`ridges`), and the impression on a card or a scanner's glass
//! (`impress`). The truth goes through every geometric step with the picture. What the drawn ridges really show is read off
//! them by `verify`, which shares nothing with the screening rooms, and held against the ridge picture once more by `second`,
//! which knows neither the design nor how `verify` reads; a wish that the ridges do not meet is tried again with other chance
//! and refused in the end, never mislabelled.
//!
//! ```
//! use recurve::draw::{Framing, Kind, Wish, draw};
//! let print = draw(&Wish { framing: Framing::Plain, ..Wish::of(Kind::LeftLoop) }, 7).unwrap();
//! assert_eq!(print.truth.cores.len(), 1);
//! assert_eq!(print.pixels, draw(&Wish { framing: Framing::Plain, ..Wish::of(Kind::LeftLoop) }, 7).unwrap().pixels);
//! ```

pub mod card;
mod chance;
pub mod choose;
mod design;
mod flow;
mod impress;
mod ink;
mod lettering;
mod ridges;
mod second;
mod skeleton;
pub mod truth_file;
mod verify;

pub use flow::orientation;

use crate::error::Error;
use crate::geometry::Point;
use crate::proposal::{General, Subclass, Tracing};
use chance::Dice;
use ndarray::Array2;

/// What makes a tented arch one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Tent {
    /// Ridges meet in an angle of 90 degrees or less.
    Angle,
    /// A ridge ends in an upthrust of 45 degrees or more.
    Upthrust,
    /// Two of the three essentials of a loop, the third lacking.
    LoopLike,
}

/// How the circuit of a plain whorl is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Circuit {
    /// Concentric circles.
    Circle,
    /// Ovals.
    Oval,
    /// A spiral that winds inward clockwise.
    SpiralClockwise,
    /// A spiral that winds inward counter-clockwise.
    SpiralCounterclockwise,
    /// A circuit of two recurves that do not join.
    Incomplete,
    /// One ridge makes both recurves; a plain whorl by rule.
    SType,
    /// Two loops that hook into each other; a plain whorl by rule.
    Interlocking,
}

/// What stands before the inner delta of a central pocket loop.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Pocket {
    /// A second recurve.
    Recurve,
    /// An obstruction at right angles to the line of flow.
    Obstruction,
}

/// Which way the two loops of a double loop turn about each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Winding {
    /// Clockwise toward the centre.
    Clockwise,
    /// Counter-clockwise toward the centre.
    Counterclockwise,
}

/// What an accidental combines.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mixture {
    /// A loop over a tented arch.
    LoopAndTentedArch,
    /// A loop beside a whorl; three deltas.
    LoopAndWhorl,
    /// A loop beside a double loop; three deltas.
    LoopAndDoubleLoop,
}

/// The kind of print wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Ridges run through with a rise at most.
    PlainArch,
    /// Tented arch.
    TentedArch(Tent),
    /// Loop whose open end leaves to the left of the image.
    LeftLoop,
    /// Loop whose open end leaves to the right of the image.
    RightLoop,
    /// Plain whorl.
    PlainWhorl(Circuit),
    /// Central pocket loop.
    CentralPocket(Pocket),
    /// Double loop.
    DoubleLoop(Winding),
    /// Accidental.
    Accidental(Mixture),
}

impl Kind {
    /// Every kind with every way of making it.
    pub const ALL: [Kind; 20] = [
        Kind::PlainArch,
        Kind::TentedArch(Tent::Angle),
        Kind::TentedArch(Tent::Upthrust),
        Kind::TentedArch(Tent::LoopLike),
        Kind::LeftLoop,
        Kind::RightLoop,
        Kind::PlainWhorl(Circuit::Circle),
        Kind::PlainWhorl(Circuit::Oval),
        Kind::PlainWhorl(Circuit::SpiralClockwise),
        Kind::PlainWhorl(Circuit::SpiralCounterclockwise),
        Kind::PlainWhorl(Circuit::Incomplete),
        Kind::PlainWhorl(Circuit::SType),
        Kind::PlainWhorl(Circuit::Interlocking),
        Kind::CentralPocket(Pocket::Recurve),
        Kind::CentralPocket(Pocket::Obstruction),
        Kind::DoubleLoop(Winding::Clockwise),
        Kind::DoubleLoop(Winding::Counterclockwise),
        Kind::Accidental(Mixture::LoopAndTentedArch),
        Kind::Accidental(Mixture::LoopAndWhorl),
        Kind::Accidental(Mixture::LoopAndDoubleLoop),
    ];

    fn is_loop(self) -> bool {
        matches!(self, Self::LeftLoop | Self::RightLoop)
    }

    /// General class by its code.
    pub fn general(self) -> General {
        match self {
            Kind::PlainArch | Kind::TentedArch(_) => General::Au,
            Kind::LeftLoop => General::Ls,
            Kind::RightLoop => General::Rs,
            _ => General::Wu,
        }
    }

    /// Subclass by its code; loops have none.
    pub fn subclass(self) -> Option<Subclass> {
        match self {
            Kind::PlainArch => Some(Subclass::Pa),
            Kind::TentedArch(_) => Some(Subclass::Ta),
            Kind::LeftLoop | Kind::RightLoop => None,
            Kind::PlainWhorl(_) => Some(Subclass::Pw),
            Kind::CentralPocket(_) => Some(Subclass::Cp),
            Kind::DoubleLoop(_) => Some(Subclass::Dl),
            Kind::Accidental(_) => Some(Subclass::Aw),
        }
    }
}

/// How good the impression is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Quality {
    /// Even ink, clean ridges.
    Good,
    /// Patches of dry or heavy ink, a crease or two.
    Fair,
    /// Much dry or heavy ink, smears, creases, scars.
    Poor,
}

/// What kind of picture the finger is seen in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Framing {
    /// A rolled inked print in its block of a card, 500 ppi, with the card's lines and writing.
    Rolled,
    /// A flat live scan, 500 ppi, 300 to 390 px wide: the core and what is around it.
    Plain,
    /// A close-cut book figure, about 30 ridges wide at a scale of its own, nearly black and white, without margin.
    Crop,
}

/// Greatest side of a drawn picture, pixels: four times the largest block of a card at 500 ppi.
pub const LARGEST_SIDE: usize = 3200;
/// Smallest side of a drawn picture, pixels: about ten ridges.
pub const SMALLEST_SIDE: usize = 100;
/// Ridge counts that can be wished for.
pub const RIDGE_COUNTS: std::ops::RangeInclusive<u16> = 1..=30;
/// Most ridges between traced ridge and right delta that can be wished for.
pub const MOST_RIDGES_BETWEEN: u16 = 12;

/// What is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wish {
    /// The kind of print.
    pub kind: Kind,
    /// Loops only: ridges between delta and core, 1 to 30. None draws it by chance.
    pub ridge_count: Option<u16>,
    /// Whorls only: inner, meeting or outer. None draws it by chance.
    pub tracing: Option<Tracing>,
    /// Whorls with a wanted tracing only: ridges between the traced ridge and the right delta, 3 to 12 for inner and outer,
    /// 0 to 2 for meeting. None draws it by chance.
    pub ridges_between: Option<u16>,
    /// A case near the limit to another kind, where the kind has one: a loop of one or two counts, a whorl with 2 to 4 ridges
    /// between traced ridge and right delta, a steep plain arch, a short tent.
    pub borderline: bool,
    /// Loops only: the delta lies about straight under the core, as in a tented arch, and not out to its side; most have few ridges between.
    pub delta_under_core: bool,
    /// Takes a loop as well whose count less than [`SETTLED`] of the readings of its ridges give: then no print shows it for certain.
    pub unsettled: bool,
    /// Quality of the impression.
    pub quality: Quality,
    /// What kind of picture.
    pub framing: Framing,
    /// Width and height in pixels; None takes what is usual for the framing (rolled 600 x 720 to 800 x 750).
    pub size: Option<(usize, usize)>,
}

impl Wish {
    /// A good rolled print of a kind, everything else by chance.
    pub fn of(kind: Kind) -> Self {
        Self {
            kind,
            ridge_count: None,
            tracing: None,
            ridges_between: None,
            borderline: false,
            delta_under_core: false,
            unsettled: false,
            quality: Quality::Good,
            framing: Framing::Rolled,
            size: None,
        }
    }

    /// Whether the wish can be drawn at all.
    ///
    /// # Errors
    /// A ridge count outside 1 to 30 or on anything but a loop, a delta under the core on anything but a loop, a tracing on anything but a whorl, ridges between that do not
    /// fit the tracing, a picture side outside 100 to 3200 px.
    pub fn check(&self) -> Result<(), Error> {
        let is_loop = matches!(self.kind, Kind::LeftLoop | Kind::RightLoop);
        let is_whorl = self.kind.general() == General::Wu;
        if let Some(count) = self.ridge_count {
            if !is_loop {
                return Err(Error::bad_value("ridge count", "only a loop has a ridge count"));
            }
            if !RIDGE_COUNTS.contains(&count) {
                return Err(Error::bad_value("ridge count", format!("{count} is not between 1 and 30")));
            }
        }
        if self.delta_under_core && !is_loop {
            return Err(Error::bad_value("delta under the core", "only of a loop the delta can be wished for there"));
        }
        if self.tracing.is_some() && !is_whorl {
            return Err(Error::bad_value("tracing", "only a whorl is traced"));
        }
        if let Some(between) = self.ridges_between {
            let fits = match self.tracing {
                Some(Tracing::M) => between <= 2,
                Some(_) => (3..=MOST_RIDGES_BETWEEN).contains(&between),
                None => false,
            };
            if !fits {
                let reason = format!(
                    "{between} does not fit: 0 to 2 for meeting, 3 to 12 for inner and outer, and a tracing must be given"
                );
                return Err(Error::bad_value("ridges between", reason));
            }
        }
        if let Some((width, height)) = self.size {
            let allowed = SMALLEST_SIDE..=LARGEST_SIDE;
            if !allowed.contains(&width) || !allowed.contains(&height) {
                let reason = format!("{width} x {height} px: each side must be {SMALLEST_SIDE} to {LARGEST_SIDE} px");
                return Err(Error::bad_value("picture size", reason));
            }
        }
        Ok(())
    }

    /// Signed ridges between traced ridge and right delta (positive: inside) that the wish asks for.
    fn wanted_between(&self) -> Option<f64> {
        let between = self.ridges_between.map(f64::from);
        // Half a ridge on, so that the wanted number of whole ridges lies between.
        match self.tracing? {
            Tracing::I => Some(between.unwrap_or(5.0) + 0.9),
            Tracing::M => Some(between.unwrap_or(0.0) + 0.4),
            Tracing::O => Some(-between.unwrap_or(5.0) - 0.9),
        }
    }
}

/// A true core or delta.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TruePoint {
    /// Where, in pixels of the picture; may lie outside it.
    pub at: Point,
    /// Core: where it opens to. Delta: one of the three directions in which its ridges leave. Radians.
    pub direction: f64,
    /// Whether it lies on the printed area with a ridge's width of print around it.
    pub printed: bool,
    /// Not printed in that sense, but within three ridges of the print: a mark there is neither right nor wrong.
    pub near_edge: bool,
    /// A core and a delta less than two ridges apart (the angle of a tented arch): a reader may mark neither.
    pub doubtful: bool,
    /// Of two cores less than two ridge periods apart: one mark between them finds both.
    pub tight: bool,
}

/// The true field on cells of [`TrueField::CELL`] pixels, `[row, column]`; the cell at `[r, c]` is centred at
/// `x = (c + 0.5) * CELL - 0.5`, `y` likewise.
#[derive(Debug, Clone)]
pub struct TrueField {
    /// Ridge orientation, radians in `[0, pi)`.
    pub orientation: Array2<f32>,
    /// Ridge-to-ridge distance in pixels of the picture.
    pub period: Array2<f32>,
    /// Whether the cell's centre lies on the printed area.
    pub foreground: Array2<bool>,
}

impl TrueField {
    /// Edge of a cell in pixels.
    pub const CELL: usize = 8;
}

/// What is true of a drawn print.
#[derive(Debug, Clone)]
pub struct Truth {
    /// The kind drawn.
    pub kind: Kind,
    /// General class.
    pub general: General,
    /// Subclass.
    pub subclass: Option<Subclass>,
    /// Tracing of a whorl, read off the drawn ridges.
    pub tracing: Option<Tracing>,
    /// Ridges between traced ridge and right delta, positive inside.
    pub ridges_between: Option<i32>,
    /// Ridge count of a loop, read off the drawn ridges.
    pub ridge_count: Option<u16>,
    /// The ridge count, or the ridges between, as each of several readings of the drawn ridges gives it, in rising order; the middle one is
    /// the truth, the upper of two where a reading shows none.
    pub readings: Vec<i32>,
    /// The line along which a loop was counted, from delta to core by the handbook's placement, in pixels of the picture.
    pub count_line: Option<[Point; 2]>,
    /// Where it meets the ridges counted, a fork twice, in pixels of the picture.
    pub counted: Vec<Point>,
    /// The traced ridge of a whorl, from the left delta to the place nearest the right one, in pixels of the picture.
    pub trace: Vec<Point>,
    /// Recurving ridges of the circuit that the line between the deltas cuts, for plain whorls and central pocket loops.
    pub recurves_cut: Option<u16>,
    /// Every core of the finger.
    pub cores: Vec<TruePoint>,
    /// Every delta of the finger, left to right.
    pub deltas: Vec<TruePoint>,
    /// Orientation, period and foreground.
    pub field: TrueField,
    /// Pixels per inch of the picture.
    pub ppi: f64,
    /// Mean ridge-to-ridge distance on the foreground, pixels of the picture.
    pub ridge_period: f64,
    /// Turn of the print, radians counter-clockwise as seen.
    pub turn: f64,
    /// Quality drawn.
    pub quality: Quality,
    /// Framing drawn.
    pub framing: Framing,
}

impl Truth {
    /// Share of the readings of a loop's ridges that give its count, 0 to 1 ([`SETTLED`]); `None` of anything but a loop.
    pub fn agreement(&self) -> Option<f64> {
        self.ridge_count.map(|count| agreement(&self.readings, count))
    }
}

/// Share of readings that give a count.
fn agreement(readings: &[i32], count: u16) -> f64 {
    let alike = readings.iter().filter(|reading| **reading == i32::from(count)).count();
    alike as f64 / readings.len().max(1) as f64
}

/// A drawn print.
#[derive(Debug, Clone)]
pub struct DrawnPrint {
    /// Grey values from 0 (black) to 1 (white), `[row, column]`.
    pub pixels: Array2<f32>,
    /// What is true of it.
    pub truth: Truth,
}

/// Share of the readings of a drawn loop's ridges that give its count, as a rule at least ([`Wish::unsettled`]). They differ in what no print shows
/// to less: where exactly the flow's core and delta lie, how broad the ridges are, where a rod ends.
pub const SETTLED: f64 = 0.75;

/// Attempts with other chance before a wish is refused.
const ATTEMPTS: u64 = 40;

/// A finger: its flow and its ridges, of which any number of impressions can be made.
#[derive(Debug, Clone)]
pub struct Finger {
    wish: Wish,
    design: design::Design,
    ridges: ridges::Ridges,
    reading: verify::RidgeReading,
    attempts: u64,
    unsettled: u64,
    doubted: u64,
}

impl Finger {
    /// Grows a finger that meets the wish, the same for the same seed.
    ///
    /// # Errors
    /// When the wish is impossible ([`Wish::check`]) or could not be met on the drawn ridges in a fair number of attempts.
    pub fn grow(wish: &Wish, seed: u64) -> Result<Self, Error> {
        wish.check()?;
        let (mut offset, mut unsettled, mut doubted) = (0.0, 0, 0);
        let mut refusal = Error::bad_value("wish", "no attempt was made");
        for attempt in 0..ATTEMPTS {
            let mut dice = Dice::new(seed, 16 * attempt);
            let design = match design::lay_out(wish, offset, &mut dice) {
                Ok(design) => design,
                Err(e) => {
                    refusal = e;
                    continue;
                }
            };
            let mut ridges = impress::grow_for(wish, &design, &mut dice);
            if wish.kind.is_loop() {
                verify::free_rods(&design, &mut ridges, &mut dice);
                verify::part_rods(&design, &mut ridges);
            }
            match verify::read(wish, &design, &ridges) {
                Ok(reading)
                    if !wish.unsettled
                        && reading.ridge_count.is_some_and(|n| agreement(&reading.readings, n) < SETTLED) =>
                {
                    unsettled += 1;
                    refusal = Error::bad_value("wish", "too few readings of the drawn ridges give the same count");
                }
                Ok(reading) => {
                    let finger =
                        Self { wish: *wish, design, ridges, reading, attempts: attempt + 1, unsettled, doubted };
                    // Where two ways of reading the ridges differ, an examiner may differ as well: no print to learn from.
                    let Some(doubt) = finger.disagreements().into_iter().next() else { return Ok(finger) };
                    refusal = Error::bad_value("wish", doubt);
                    doubted += 1;
                }
                Err(verify::Miss { reason, by }) => {
                    // Learn half of the miss: the rest is chance of the next finger.
                    offset = (offset - 0.5 * by).clamp(-3.0, 3.0);
                    refusal = Error::bad_value("wish", reason);
                }
            }
        }
        Err(refusal)
    }

    /// How many fingers were grown until the drawn ridges met the wish.
    pub fn attempts(&self) -> u64 {
        self.attempts
    }

    /// How many of these met the wish but for a count that the readings of their ridges do not agree on ([`SETTLED`]).
    pub fn unsettled(&self) -> u64 {
        self.unsettled
    }

    /// How many of these met the wish by the first reading of their ridges and not by the second.
    pub fn doubted(&self) -> u64 {
        self.doubted
    }

    /// Looks at the drawn ridges a second time, by another way than the one that accepted them: what they do not bear out, in
    /// words. Empty for a finger whose truth holds.
    pub fn disagreements(&self) -> Vec<String> {
        let (cores, deltas) = (self.design.flow.cores(), self.design.flow.deltas());
        let period = self.design.period.mean;
        let claim =
            second::Claim { kind: self.wish.kind, cores: &cores, deltas: &deltas, period, reading: &self.reading };
        second::disagreements(&self.ridges, &claim)
    }

    /// Makes an impression of the finger as wished, the same for the same seed; another seed makes another impression.
    pub fn impress(&self, seed: u64) -> DrawnPrint {
        impress::impress(&self.wish, &self.design, &self.ridges, &self.reading, seed)
    }

    /// Makes an impression in another framing, quality or size than the finger was grown for. A finger grown for a rolled
    /// print serves every framing; others show less of the finger than a rolled print would.
    pub fn impress_as(
        &self,
        framing: Framing,
        quality: Quality,
        size: Option<(usize, usize)>,
        seed: u64,
    ) -> DrawnPrint {
        let wish = Wish { framing, quality, size, ..self.wish };
        impress::impress(&wish, &self.design, &self.ridges, &self.reading, seed)
    }
}

impl Finger {
    /// An impression on blank white paper, for a card that draws its own lines.
    fn impress_on_paper(&self, framing: Framing, quality: Quality, size: (usize, usize), seed: u64) -> DrawnPrint {
        let wish = Wish { framing, quality, size: Some(size), ..self.wish };
        impress::impress_on(&wish, &self.design, &self.ridges, &self.reading, ink::Ground::BlankPaper, seed)
    }
}

/// Draws one print that meets the wish; the same wish and seed give the same bytes.
///
/// # Errors
/// As [`Finger::grow`].
pub fn draw(wish: &Wish, seed: u64) -> Result<DrawnPrint, Error> {
    Ok(Finger::grow(wish, seed)?.impress(seed))
}
