//! Drawn prints beside real ones for the eye: `docs/practice-prints.png`.
//!
//! ```text
//! cargo run --release --example contact_sheet [-- OUT.png]
//! ```
//!
//! Rows by turns: figures of the handbook from `testdata` (real), and drawn ones of the same kinds in the same order; then the rolled
//! fingers of the reference record (real) and drawn rolled prints, good to poor.

use image::imageops::{FilterType, replace, resize};
use image::{GrayImage, Luma};
use recurve::draw::{Circuit, Framing, Kind, Mixture, Pocket, Quality, Tent, Winding, Wish, draw};
use std::path::Path;

type Failure = Box<dyn std::error::Error>;

/// Side of a print on the sheet, pixels.
const CELL: u32 = 150;
/// Space between prints, pixels.
const GAP: u32 = 4;
/// Prints in a row.
const ACROSS: u32 = 9;
/// Seeds of the sheet: the first ones, not chosen ones.
const FIRST_SEED: u64 = 13_000_000;
/// Ground of the rows of real prints and of drawn ones.
const GROUNDS: [u8; 2] = [90, 200];

/// Fingers of the reference record that are in `testdata`.
const RECORD: [u8; 4] = [1, 4, 7, 10];

/// A handbook figure and a wish of the same kind.
const FIGURES: [[(u16, Kind, Option<u16>); ACROSS as usize]; 3] = [
    [
        (1, Kind::PlainArch, None),
        (107, Kind::PlainArch, None),
        (3, Kind::TentedArch(Tent::Upthrust), None),
        (131, Kind::TentedArch(Tent::Angle), None),
        (73, Kind::RightLoop, Some(2)),
        (85, Kind::LeftLoop, Some(2)),
        (97, Kind::RightLoop, Some(1)),
        (75, Kind::LeftLoop, Some(7)),
        (79, Kind::RightLoop, Some(16)),
    ],
    [
        (7, Kind::PlainWhorl(Circuit::Circle), None),
        (201, Kind::PlainWhorl(Circuit::Oval), None),
        (207, Kind::PlainWhorl(Circuit::SpiralClockwise), None),
        (267, Kind::PlainWhorl(Circuit::SType), None),
        (213, Kind::CentralPocket(Pocket::Recurve), None),
        (217, Kind::CentralPocket(Pocket::Recurve), None),
        (225, Kind::CentralPocket(Pocket::Obstruction), None),
        (233, Kind::CentralPocket(Pocket::Recurve), None),
        (237, Kind::CentralPocket(Pocket::Obstruction), None),
    ],
    [
        (255, Kind::DoubleLoop(Winding::Clockwise), None),
        (257, Kind::DoubleLoop(Winding::Counterclockwise), None),
        (259, Kind::DoubleLoop(Winding::Clockwise), None),
        (261, Kind::DoubleLoop(Winding::Counterclockwise), None),
        (265, Kind::DoubleLoop(Winding::Counterclockwise), None),
        (269, Kind::Accidental(Mixture::LoopAndTentedArch), None),
        (271, Kind::Accidental(Mixture::LoopAndTentedArch), None),
        (273, Kind::Accidental(Mixture::LoopAndWhorl), None),
        (277, Kind::Accidental(Mixture::LoopAndDoubleLoop), None),
    ],
];

fn drawn(wish: Wish, seed: u64) -> Result<GrayImage, Failure> {
    let print = draw(&wish, seed)?;
    let (height, width) = print.pixels.dim();
    Ok(GrayImage::from_fn(width as u32, height as u32, |x, y| {
        Luma([(255.0 * print.pixels[[y as usize, x as usize]]).round() as u8])
    }))
}

fn place(sheet: &mut GrayImage, picture: &GrayImage, row: u32, column: u32) {
    let longest = picture.width().max(picture.height());
    let size = |v: u32| (v * CELL / longest).max(1);
    let small = resize(picture, size(picture.width()), size(picture.height()), FilterType::CatmullRom);
    replace(sheet, &small, i64::from(GAP + column * (CELL + GAP)), i64::from(GAP + row * (CELL + GAP)));
}

fn main() -> Result<(), Failure> {
    let out = std::env::args().nth(1).unwrap_or_else(|| "docs/practice-prints.png".into());
    let rows = 2 * FIGURES.len() as u32 + 3;
    let mut sheet = GrayImage::from_fn(GAP + ACROSS * (CELL + GAP), GAP + rows * (CELL + GAP), |_, y| {
        let row = y.saturating_sub(GAP / 2) / (CELL + GAP);
        Luma([GROUNDS[usize::from(row % 2 == 1 || row == rows - 1)]])
    });
    for (i, figures) in FIGURES.iter().enumerate() {
        for (column, (figure, kind, ridge_count)) in figures.iter().enumerate() {
            let real = image::open(Path::new("testdata/handbook").join(format!("fig{figure:03}.png")))?.to_luma8();
            place(&mut sheet, &real, 2 * i as u32, column as u32);
            let quality = [Quality::Good, Quality::Fair][column % 2];
            let wish = Wish { framing: Framing::Crop, quality, ridge_count: *ridge_count, ..Wish::of(*kind) };
            let seed = FIRST_SEED + 10 * i as u64 + column as u64;
            place(&mut sheet, &drawn(wish, seed)?, 2 * i as u32 + 1, column as u32);
        }
    }
    let kinds = [Kind::RightLoop, Kind::PlainWhorl(Circuit::Oval), Kind::LeftLoop];
    for column in 0..ACROSS {
        if let Some(finger) = RECORD.get(column as usize) {
            let real = image::open(format!("testdata/records/tpcard_{finger:02}.png"))?;
            place(&mut sheet, &real.to_luma8(), rows - 3, column);
        }
        for (k, row) in [rows - 2, rows - 1].into_iter().enumerate() {
            let quality = [Quality::Good, Quality::Fair, Quality::Poor][(column / 3) as usize];
            let framing = [Framing::Rolled, Framing::Plain][k];
            let wish = Wish { framing, quality, ..Wish::of(kinds[(column % 3) as usize]) };
            place(&mut sheet, &drawn(wish, FIRST_SEED + 100 + 10 * k as u64 + u64::from(column))?, row, column);
        }
    }
    // Eight greys: the sheet is for the eye and stays small.
    sheet.pixels_mut().for_each(|p| p.0[0] = ((f32::from(p.0[0]) / 36.5).round() * 36.4) as u8);
    if let Some(folder) = Path::new(&out).parent() {
        std::fs::create_dir_all(folder)?;
    }
    sheet.save(&out)?;
    println!("{out}");
    Ok(())
}
