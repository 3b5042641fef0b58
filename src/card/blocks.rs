//! Cutting the blocks out of a registered card: each print with the ink that crosses its frame, and without its neighbour's.

use super::form::BlockKind;
use super::ink::{Ink, Rect};
use super::plain;
use super::register::{Place, Registration};
use super::settings::CardSettings;
use super::view::{View, bilinear};
use crate::geometry::{Frame, Point};
use crate::impression::{Impression, PpiFrom};
use ndarray::Array2;
use std::f64::consts::FRAC_PI_2;

/// Turns smaller than this are left as they are: cutting along pixels keeps the ridges sharp. Radians, about 0.6 degrees.
const LEVEL_ENOUGH: f64 = 0.0105;
/// A second patch of ink with at least this share of the first one's area is a second print.
const SECOND_PRINT: f64 = 0.6;
/// A print with less than this share of its ink inside its block lies across the frame.
const WELL_INSIDE: f64 = 0.6;
/// Ink in a block, as a share of it, from which there is at least writing.
const WRITING: f64 = 0.01;
/// Tags within this share of the resolution that follows from the frame are believed.
const TAG_PLAY: f64 = 0.04;

/// What a block holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Holds {
    /// Ink as large as a print.
    Print,
    /// Nothing.
    Nothing,
    /// Ink, but no patch as large as a print: pen marks, a note.
    Marks,
    /// The block lies beyond the edge of the scan.
    CutOff,
}

/// One print of a card, or one block without.
#[derive(Debug, Clone)]
pub struct Found {
    /// The block's name; for one of several fingers in a block with the finger's number.
    pub part: String,
    /// Finger position 1 to 10.
    pub finger: u8,
    /// Rolled or plain.
    pub kind: BlockKind,
    /// What is there.
    pub holds: Holds,
    /// The frame of the block, or of the fingertip found in it.
    pub place: Place,
    /// What is cut out: the frame with the ink that crosses it.
    pub cut: Place,
    /// What an examiner should know.
    pub remarks: Vec<String>,
    block: usize,
}

/// The prints of a card and what it takes to cut them out.
#[derive(Debug)]
pub struct Blocks {
    /// Rolled prints in finger order, then plain ones in block order.
    pub found: Vec<Found>,
    /// What an examiner should know of the card as a whole.
    pub remarks: Vec<String>,
    view: View,
    ink: Ink,
    frames: Vec<Rect>,
}

/// A place on the scan as a rectangle of the upright view.
fn on_view(place: &Place, view: &View) -> Rect {
    let corner = view.to_scan.invert(place.to_scan.apply(Point::default()));
    let scale = view.to_scan.scale();
    Rect {
        left: corner.x,
        top: corner.y,
        right: corner.x + place.width / scale,
        bottom: corner.y + place.height / scale,
    }
}

/// A rectangle of the upright view as a place on the scan.
fn on_scan(rect: &Rect, view: &View) -> Place {
    let at = view.to_scan.apply(Point::new(rect.left, rect.top));
    let scale = view.to_scan.scale();
    Place {
        to_scan: Frame::new(1.0, view.to_scan.turn(), at.x, at.y),
        width: scale * (rect.right - rect.left),
        height: scale * (rect.bottom - rect.top),
    }
}

/// Finds the prints of a registered card.
pub fn find_blocks(registration: &Registration, settings: &CardSettings) -> Blocks {
    let view = registration.upright();
    let per_inch = registration.pixels_per_inch / view.to_scan.scale();
    let places: Vec<Place> = (0..registration.form.blocks.len()).filter_map(|i| registration.block(i)).collect();
    let frames: Vec<Rect> = places.iter().map(|place| on_view(place, &view)).collect();
    let lines: Vec<(bool, f64, f64, f64)> = registration
        .printed_lines()
        .iter()
        .filter(|(_, seen)| *seen)
        .map(|(ends, _)| {
            let [a, b] = ends.map(|p| view.to_scan.invert(p));
            if (a.x - b.x).abs() > (a.y - b.y).abs() {
                (true, 0.5 * (a.y + b.y), a.x.min(b.x), a.x.max(b.x))
            } else {
                (false, 0.5 * (a.x + b.x), a.y.min(b.y), a.y.max(b.y))
            }
        })
        .collect();
    let ink = Ink::read(&view, &frames, &lines, per_inch, settings);
    let mut blocks = Blocks { found: Vec::new(), remarks: Vec::new(), view, ink, frames };
    for (index, place) in places.iter().enumerate() {
        let found = blocks.in_block(index, *place, registration, per_inch, settings);
        blocks.found.extend(found);
    }
    let stray =
        blocks.ink.patches.iter().filter(|p| p.block.is_none() && is_print(p.area / (per_inch * per_inch))).count();
    if stray > 0 {
        blocks.remarks.push(format!("Ink as large as a print lies outside all blocks, in {stray} place(s)."));
    }
    blocks
}

/// Whether ink outside the blocks may be a print, by its square inches: more is a photo, a stamp or the scanner's lid.
fn is_print(area_in2: f64) -> bool {
    (0.25..2.4).contains(&area_in2)
}

impl Blocks {
    fn in_block(
        &self,
        index: usize,
        place: Place,
        registration: &Registration,
        per_inch: f64,
        settings: &CardSettings,
    ) -> Vec<Found> {
        let block = &registration.form.blocks[index];
        let frame = self.frames[index];
        let area = (frame.right - frame.left) * (frame.bottom - frame.top);
        let own: Vec<_> = self.ink.patches.iter().filter(|patch| patch.block == Some(index)).collect();
        let least = settings.least_print_in2 * per_inch * per_inch;
        let holds = if place.share_beyond(registration.scan_size()) > settings.cut_off {
            Holds::CutOff
        } else if self.ink.print_px[index] >= least {
            Holds::Print
        } else if self.ink.any_px[index] > WRITING * area {
            Holds::Marks
        } else {
            Holds::Nothing
        };
        let found = |part: String, finger: u8, place: Place, cut: Place, holds: Holds, remarks: Vec<String>| Found {
            part,
            finger,
            kind: block.kind,
            holds,
            place,
            cut,
            remarks,
            block: index,
        };
        if let (BlockKind::Plain, [_, _, ..]) = (block.kind, block.fingers.as_slice()) {
            let whole = found(block.part.clone(), 0, place, place, holds, Vec::new());
            let tips = (holds == Holds::Print)
                .then(|| plain::tips(&self.ink.owner, index as u8 + 1, frame, block.fingers.len(), per_inch, settings));
            return block
                .fingers
                .iter()
                .enumerate()
                .map(|(i, finger)| {
                    let part = format!("{}, finger {finger}", block.part);
                    match tips.as_ref().and_then(|tips| tips[i]) {
                        Some(tip) => {
                            let tip = on_scan(&tip, &self.view);
                            found(part, *finger, tip, tip, Holds::Print, Vec::new())
                        }
                        None if holds == Holds::Print => {
                            Found { part, finger: *finger, holds: Holds::Nothing, ..whole.clone() }
                        }
                        None => Found { part, finger: *finger, ..whole.clone() },
                    }
                })
                .collect();
        }
        let mut remarks = Vec::new();
        let mut areas: Vec<f64> = own.iter().map(|patch| patch.area).collect();
        areas.sort_by(|a, b| b.total_cmp(a));
        if let [first, second, ..] = areas[..]
            && second > SECOND_PRINT * first
        {
            remarks.push(
                "Two patches of ink of like size lie in this block: two prints, or one that was not rolled through."
                    .into(),
            );
        }
        if own.iter().any(|patch| patch.inside < WELL_INSIDE && patch.area > 2.0 * least) {
            remarks.push("The print lies across the frame of its block; it may belong to a neighbour.".into());
        }
        let cut = self.widened(index, place, per_inch, settings);
        vec![found(block.part.clone(), block.fingers[0], place, cut, holds, remarks)]
    }

    /// The block's frame with the ink that crosses it.
    fn widened(&self, index: usize, place: Place, per_inch: f64, settings: &CardSettings) -> Place {
        let frame = self.frames[index];
        let most = settings.most_spill_in * per_inch;
        let mut spill = [0f64; 4];
        for ((y, x), owner) in self.ink.owner.indexed_iter() {
            if usize::from(*owner) == index + 1 {
                let (x, y) = (x as f64, y as f64);
                let beyond = [frame.left - x, frame.top - y, x + 1.0 - frame.right, y + 1.0 - frame.bottom];
                spill.iter_mut().zip(beyond).for_each(|(spill, beyond)| *spill = spill.max(beyond.min(most)));
            }
        }
        let margin = settings.margin_in * per_inch;
        let scale = self.view.to_scan.scale();
        place.widened(spill.map(|s| scale * if s > 0.0 { s + margin } else { margin }))
    }

    /// Cuts a print out of its scan: upright, at the scan's own resolution, with the way back to the scan's pixels.
    ///
    /// Inside the frame everything is kept but the neighbours' ink and the printed lines where no print lies on them; outside it only the
    /// block's own ink.
    pub fn impression(&self, found: &Found, scan: &Impression, registration: &Registration) -> Impression {
        let snapped = snapped(found.cut.to_scan);
        let (width, height) = ((found.cut.width.round() as usize).max(1), (found.cut.height.round() as usize).max(1));
        let frame = self.frames[found.block];
        let paper = self.ink.paper;
        let mine = found.block as u8 + 1;
        // Both ways are straight: a step to the right on the cut is always the same step on scan and view.
        let on_scan = |x: f64, y: f64| snapped.apply(Point::new(x, y));
        let on_view = |x: f64, y: f64| self.view.to_scan.invert(on_scan(x, y));
        let step = |from: Point, to: Point| Point::new(to.x - from.x, to.y - from.y);
        let (scan_step, view_step) =
            (step(on_scan(0.0, 0.0), on_scan(1.0, 0.0)), step(on_view(0.0, 0.0), on_view(1.0, 0.0)));
        let mut pixels = Array2::from_elem((height, width), paper);
        for (r, mut row) in pixels.rows_mut().into_iter().enumerate() {
            let (scan_start, view_start) = (on_scan(0.0, r as f64), on_view(0.0, r as f64));
            let along = |start: Point, step: Point, c: usize| {
                Point::new(start.x + c as f64 * step.x, start.y + c as f64 * step.y)
            };
            for (c, pixel) in row.iter_mut().enumerate() {
                let Some(grey) = bilinear(&scan.pixels, along(scan_start, scan_step, c)) else { continue };
                let p = along(view_start, view_step, c);
                let owner = if p.x < -0.5 || p.y < -0.5 {
                    0
                } else {
                    self.ink.owner.get([(p.y + 0.5) as usize, (p.x + 0.5) as usize]).copied().unwrap_or(0)
                };
                let keep = owner == mine || (owner == 0 && frame.contains(p.x, p.y));
                *pixel = if keep { grey } else { paper.max(grey) };
            }
        }
        let (ppi, ppi_from, remark) = resolution(scan, registration);
        let mut remarks = scan.remarks.clone();
        remarks.extend(remark);
        remarks.extend(found.remarks.iter().cloned());
        Impression {
            pixels,
            ppi,
            ppi_from,
            finger: Some(found.finger),
            source: scan.source.clone(),
            part: Some(match &scan.part {
                Some(page) => format!("{page}, {}", found.part),
                None => found.part.clone(),
            }),
            to_original: snapped.then(&scan.to_original),
            original_size: scan.original_size,
            remarks,
        }
    }
}

/// The same frame along the pixels of the scan, if it nearly is.
fn snapped(frame: Frame) -> Frame {
    let quarters = (frame.turn() / FRAC_PI_2).round();
    if (frame.turn() - quarters * FRAC_PI_2).abs() > LEVEL_ENOUGH {
        return frame;
    }
    let corner = frame.apply(Point::default());
    // Sine and cosine of whole quarters, without the rounding of pi.
    let exact = Frame::new(1.0, quarters * FRAC_PI_2, corner.x.round(), corner.y.round());
    if quarters == 0.0 { Frame::new(1.0, 0.0, corner.x.round(), corner.y.round()) } else { exact }
}

/// The resolution of a card's prints: what the caller or a believable tag says; else, for a form of known size, what its frame says.
fn resolution(scan: &Impression, registration: &Registration) -> (Option<f64>, PpiFrom, Option<String>) {
    let measured = registration.pixels_per_inch;
    match (scan.ppi, scan.ppi_from) {
        (Some(ppi), PpiFrom::Option | PpiFrom::Record) => (Some(ppi), scan.ppi_from, None),
        (given, from) if !registration.form.true_to_size => (given, from, None),
        (Some(ppi), from) if (ppi / measured - 1.0).abs() <= TAG_PLAY => (Some(ppi), from, None),
        (given, _) if (Impression::MIN_PPI..=Impression::MAX_PPI).contains(&measured) => {
            let ppi = (10.0 * measured).round() / 10.0;
            let remark = given.map_or_else(
                || format!("The file states no resolution; the card's frame gives {ppi:.0} pixels per inch."),
                |stated| format!("The file states {stated:.0} pixels per inch, the card's frame gives {ppi:.0}: the frame is believed."),
            );
            (Some(ppi), PpiFrom::Form, Some(remark))
        }
        (given, from) => (given, from, None),
    }
}
