//! Draws prints as records for `models/network/fit.py` and strips of loops for `models/network/fit_count.py`.
//!
//! `cargo run --release --example network_prints -- FILE FIRST_SEED PRINTS [STRIPS]` (twenty minutes for 20,000 on two cores). With `-` for
//! FILE only loops are drawn, and only their strips written.
//!
//! A record of FILE: 92 numbers (f32, little-endian): place in `Kind::ALL`, class, quality, framing, ridge count (-1: none), ridges between
//! (-99: none), 5 left at 0, ridge period and middle in working pixels, 2 at 0, 4 at 0, then 8 points of 5 (0 core or 1 delta, right and
//! down of the middle in periods, printed, direction), 32 at 0; four planes of 64 x 64 signed bytes, a period a cell (cosine and sine of
//! twice the orientation, foreground, coherence; 127 is one); the filtered print as 256 x 256 signed bytes, four a period.
//!
//! A record of STRIPS: 92 numbers: ridge count, periods from delta to core as found, quality, framing, then places in the strip's periods
//! (`network::strip`): delta and core by the handbook, number of ridges counted, one at 0, up to 40 of these ridges, 2 at 0; the strip as
//! 64 x 240 signed bytes.

mod shared;

use rayon::prelude::*;
use recurve::draw::Kind;
use recurve::field::{self, FieldSettings, RidgeField};
use recurve::geometry::Point;
use recurve::impression::Impression;
use recurve::intake::{self, IntakeSettings};
use recurve::network::sample::Sample;
use recurve::network::strip::Strip;
use recurve::singular::{self, SingularSettings};
use shared::{Drawn, FIT_FRAMINGS, FIT_QUALITIES, chance, class, draw_kind, draw_one};
use std::io::Write;

/// Points of a print that are written, and the numbers of a record's head.
const POINTS: usize = 8;
const HEAD: usize = 92;
/// Farthest that a found core or delta may lie from the one counted from, ridge periods.
const FAR: f64 = 4.5;
/// Prints drawn between two writes.
const CHUNK: u64 = 1600;
/// Ridges of a count that a record of a strip has room for.
const COUNTED: usize = 40;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let [path, first, prints, strips @ ..] = given.as_slice() else {
        return Err("give FILE FIRST_SEED PRINTS [STRIPS]".into());
    };
    let (first, prints): (u64, u64) = (first.parse()?, prints.parse()?);
    let created = |path: &String| std::fs::File::create(path).map(std::io::BufWriter::new);
    let mut whole = Some(path).filter(|p| *p != "-").map(created).transpose()?;
    let mut strips = strips.first().map(created).transpose()?;
    let (all_kinds, wants_strips) = (whole.is_some(), strips.is_some());
    for start in (0..prints).step_by(CHUNK as usize) {
        let end = (start + CHUNK).min(prints);
        let records: Vec<[Option<Vec<u8>>; 2]> = (start..end)
            .into_par_iter()
            .filter_map(
                |i| if all_kinds { draw_one(first + i, &FIT_QUALITIES, &FIT_FRAMINGS) } else { a_loop(first + i) },
            )
            .filter_map(|drawn| records(&drawn, all_kinds, wants_strips))
            .collect();
        for [print, strip] in records {
            if let (Some(file), Some(bytes)) = (&mut whole, print) {
                file.write_all(&bytes)?;
            }
            if let (Some(file), Some(bytes)) = (&mut strips, strip) {
                file.write_all(&bytes)?;
            }
        }
        eprintln!("{end} of {prints}");
    }
    whole.iter_mut().chain(&mut strips).try_for_each(Write::flush)?;
    Ok(())
}

/// A loop of either slant.
fn a_loop(seed: u64) -> Option<Drawn> {
    let kind = if chance(seed, 1) < 0.5 { Kind::LeftLoop } else { Kind::RightLoop };
    draw_kind(kind, seed, &FIT_QUALITIES, &FIT_FRAMINGS)
}

/// The record of a print and that of its strip.
fn records(drawn: &Drawn, whole: bool, strip: bool) -> Option<[Option<Vec<u8>>; 2]> {
    let settings = FieldSettings::default();
    let mut analyser = field::spectrum::SpectrumAnalyser::new(settings.spectrum.clone());
    let working = intake::prepare(&drawn.print, &IntakeSettings::default()).ok()?;
    let field = field::estimate(working.pixels.view(), &settings, &mut analyser);
    if field.foreground_area() < f64::from(settings.least_area_px2) {
        return None;
    }
    let print = if whole { record(drawn, &working, &field) } else { None };
    let strip = if strip && drawn.truth.count_line.is_some() { strip_record(drawn, &working, &field) } else { None };
    Some([print, strip])
}

/// The record of the strip between core and delta as the program finds them.
fn strip_record(drawn: &Drawn, working: &Impression, field: &RidgeField) -> Option<Vec<u8>> {
    let (count, line) = (drawn.truth.ridge_count?, drawn.truth.count_line?);
    let found = singular::find(field, &SingularSettings::default());
    let (core, delta) = found.core_and_delta()?;
    let strip = Strip::of(field, delta.at, core.at)?;
    let place = |p: Point| strip.periods_of(working.to_original.invert(p));
    let [true_delta, true_core] = line.map(place);
    // Another delta or core than the one counted from: nothing to learn from.
    if true_delta.distance(Point::new(0.0, 0.0)) > FAR || true_core.distance(Point::new(strip.periods(), 0.0)) > FAR {
        return None;
    }
    let mut head = vec![0.0f32; HEAD];
    head[0] = f32::from(count);
    head[1] = strip.periods() as f32;
    head[2] = drawn.truth.quality as usize as f32;
    head[3] = drawn.truth.framing as usize as f32;
    let counted: Vec<Point> = drawn.truth.counted.iter().map(|p| place(*p)).collect();
    let ends = [true_delta, true_core];
    for (slot, p) in head[4..8].as_chunks_mut::<2>().0.iter_mut().zip(ends) {
        *slot = [p.x as f32, p.y as f32];
    }
    head[8] = counted.len().min(COUNTED) as f32;
    for (slot, p) in head[10..].as_chunks_mut::<2>().0.iter_mut().zip(counted.iter().take(COUNTED)) {
        *slot = [p.x as f32, p.y as f32];
    }
    let mut bytes: Vec<u8> = head.iter().flat_map(|v| v.to_le_bytes()).collect();
    bytes.extend(strip.print.iter().map(byte));
    Some(bytes)
}

fn record(drawn: &Drawn, working: &Impression, field: &RidgeField) -> Option<Vec<u8>> {
    let sample = Sample::of(field)?;
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
