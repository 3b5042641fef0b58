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
use recurve::field::{self, FieldSettings};
use recurve::intake::{self, IntakeSettings};
use recurve::network::sample::Sample;
use shared::{Drawn, FIT_FRAMINGS, FIT_QUALITIES, class, draw_one};
use std::io::Write;

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
    let sample = Sample::of(&field)?;
    let (period, middle, truth) = (sample.period, sample.middle, &drawn.truth);
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
    bytes.extend(sample.planes.iter().chain(&sample.print).map(byte));
    Some(bytes)
}

/// A number of -1 to 1 in a byte.
fn byte(v: &f32) -> u8 {
    (v * 127.0).round() as i8 as u8
}
