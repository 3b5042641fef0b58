//! Draws prints as records for `models/network/fit.py`.
//!
//! `cargo run --release --example network_prints -- FILE FIRST_SEED PRINTS` (twenty minutes for 20,000 on two cores).
//!
//! A record: 92 numbers (f32, little-endian): place in `Kind::ALL`, class, quality, framing, ridge count (-1: none), ridges between (-99:
//! none), 5 left at 0, ridge period and middle in working pixels, 2 at 0, 4 at 0, then 8 points of 5 (0 core or 1 delta, right and down of the
//! middle in periods, printed, direction), 32 at 0; four planes of 64 x 64 signed bytes, a period a cell (cosine and sine of
//! twice the orientation, foreground, coherence; 127 is one); the filtered print as 256 x 256 signed bytes, four a period.

mod shared;

use rayon::prelude::*;
use recurve::draw::Kind;
use recurve::field::{self, FieldSettings, RidgeField, grid::read_between};
use recurve::geometry::Point;
use recurve::intake::{self, IntakeSettings};
use shared::{Drawn, FIT_FRAMINGS, FIT_QUALITIES, class, draw_one};
use std::io::Write;

/// Cells along an edge of the field's window, one ridge period each.
const CELLS: usize = 64;
/// Samples along an edge of the print's window, four to a period.
const SAMPLES: usize = 256;
/// Amplitude of the filtered print that fills the byte, in shares of the print's best strength.
const FULL: f32 = 1.6;
/// Points of a print that are written, and the numbers of a record's head.
const POINTS: usize = 8;
const HEAD: usize = 92;
/// Prints drawn between two writes.
const CHUNK: u64 = 200;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let [path, first, prints] = given.as_slice() else { return Err("give FILE FIRST_SEED PRINTS".into()) };
    let (first, prints): (u64, u64) = (first.parse()?, prints.parse()?);
    let mut file = std::io::BufWriter::new(std::fs::File::create(path)?);
    for start in (0..prints).step_by(CHUNK as usize) {
        let end = (start + CHUNK).min(prints);
        let records: Vec<Vec<u8>> = (start..end)
            .into_par_iter()
            .filter_map(|i| draw_one(first + i, &FIT_QUALITIES, &FIT_FRAMINGS))
            .filter_map(|drawn| record(&drawn))
            .collect();
        records.iter().try_for_each(|r| file.write_all(r))?;
        eprintln!("{end} of {prints}");
    }
    file.flush()?;
    Ok(())
}

fn record(drawn: &Drawn) -> Option<Vec<u8>> {
    let settings = FieldSettings::default();
    let mut analyser = field::spectrum::SpectrumAnalyser::new(settings.spectrum.clone());
    let working = intake::prepare(&drawn.print, &IntakeSettings::default()).ok()?;
    let field = field::estimate(working.pixels.view(), &settings, &mut analyser);
    if field.foreground_area() < f64::from(settings.least_area_px2) {
        return None;
    }
    let (period, middle, truth) = (field.median_period(), middle(&field), &drawn.truth);
    let mut head = vec![0.0f32; HEAD];
    head[0] = Kind::ALL.iter().position(|k| *k == truth.kind)? as f32;
    head[1] = class(truth.kind) as usize as f32;
    head[2] = truth.quality as usize as f32;
    head[3] = truth.framing as usize as f32;
    head[4] = truth.ridge_count.map_or(-1.0, f32::from);
    head[5] = truth.ridges_between.map_or(-99.0, |v| v as f32);
    head[11] = period as f32;
    head[12] = middle.x as f32;
    head[13] = middle.y as f32;
    let turn = working.to_original.turn();
    let points = truth.cores.iter().map(|p| (0.0, p)).chain(truth.deltas.iter().map(|p| (1.0, p)));
    let mut written = [[-1.0f32; 5]; POINTS];
    for (slot, (kind, p)) in written.iter_mut().zip(points) {
        let at = working.to_original.invert(p.at);
        let (x, y) = ((at.x - middle.x) / period, (at.y - middle.y) / period);
        *slot = [kind, x as f32, y as f32, f32::from(u8::from(p.printed)), (p.direction - turn) as f32];
    }
    for (to, v) in head[20..].iter_mut().zip(written.as_flattened()) {
        *to = *v;
    }
    let mut bytes: Vec<u8> = head.iter().flat_map(|v| v.to_le_bytes()).collect();
    bytes.extend(planes(&field, middle, period));
    bytes.extend(window(&field, middle, period));
    Some(bytes)
}

/// Middle of the foreground, working pixels.
fn middle(field: &RidgeField) -> Point {
    let (mut x, mut y, mut n) = (0.0, 0.0, 0.0);
    for ((r, c), _) in field.foreground.indexed_iter().filter(|(_, on)| **on) {
        let p = field.centre(r as f64, c as f64);
        x += p.x;
        y += p.y;
        n += 1.0;
    }
    Point::new(x / f64::max(n, 1.0), y / f64::max(n, 1.0))
}

/// The flow, foreground and coherence, each cell the mean of two by two looks.
fn planes(field: &RidgeField, middle: Point, period: f64) -> Vec<u8> {
    let mut planes = vec![0u8; 4 * CELLS * CELLS];
    let offset = |cell: usize, look: usize| (cell as f64 + (look as f64 + 0.5) / 2.0 - 0.5 * CELLS as f64) * period;
    for row in 0..CELLS {
        for column in 0..CELLS {
            let mut sums = [0.0f64; 4];
            for look in 0..4 {
                let p = Point::new(middle.x + offset(column, look % 2), middle.y + offset(row, look / 2));
                let Some(cell) = field.cell_at(p).filter(|at| field.foreground[*at]) else { continue };
                let (cos2, sin2) = field.double_angle_at(p);
                for (sum, v) in sums.iter_mut().zip([cos2, sin2, 1.0, f64::from(field.coherence[cell])]) {
                    *sum += v;
                }
            }
            for (plane, sum) in sums.iter().enumerate() {
                planes[(plane * CELLS + row) * CELLS + column] = (sum / 4.0 * 127.0).round() as i8 as u8;
            }
        }
    }
    planes
}

/// The filtered print around the middle.
fn window(field: &RidgeField, middle: Point, period: f64) -> Vec<u8> {
    let (rows, columns) = field.filtered.dim();
    let scale = 127.0 / (FULL * field.best_strength.max(1e-3));
    let offset = |i: usize| (i as f64 + 0.5 - 0.5 * SAMPLES as f64) * 0.25 * period;
    let sample = |i: usize| {
        let (x, y) = (middle.x + offset(i % SAMPLES), middle.y + offset(i / SAMPLES));
        let inside = x >= 0.0 && y >= 0.0 && x < columns as f64 - 1.0 && y < rows as f64 - 1.0;
        let v = if inside { read_between(&field.filtered, y as f32, x as f32) } else { 0.0 };
        (v * scale).clamp(-127.0, 127.0).round() as i8 as u8
    };
    (0..SAMPLES * SAMPLES).map(sample).collect()
}
