//! Draws prints as records for `models/network/fit.py`, strips of loops for `fit_count.py`, patches about points for `fit_points.py` and
//! traced whorls for `fit_trace.py`.
//!
//! `cargo run --release --example network_prints -- FIRST_SEED PRINTS WHOLE STRIPS POINTS WHORLS` (half an hour for 20,000 on two cores)
//! writes four files; `-` for a name leaves that one out. Where strips, with or without points, are all that is wanted, only loops are drawn, where only whorls are, only whorls; of each finger
//! then three impressions.
//!
//! A record of WHOLE: 92 numbers (f32, little-endian): place in `Kind::ALL`, class, quality, framing, ridge count (-1: none), ridges between
//! (-99: none), 5 left at 0, ridge period and middle in working pixels, 2 at 0, 4 at 0, then 8 points of 5 (0 core or 1 delta, right and
//! down of the middle in periods, printed, direction), 32 at 0; four planes of 64 x 64 signed bytes, a period a cell (cosine and sine of
//! twice the orientation, foreground, coherence; 127 is one); the filtered print as 256 x 256 signed bytes, four a period.
//!
//! A record of STRIPS: 99 numbers: ridge count, periods from delta to core as found, quality, framing, then places in the strip's periods
//! (`network::strip`): delta and core by the handbook, number of ridges counted, one at 0, up to 40 of these ridges; the count as nine readings
//! of the drawn ridges give it (the first is the middle of all); the strip of the filtered print as 64 x 240 signed bytes, then that of the print
//! at even contrast.
//!
//! A record of POINTS: 8 numbers: 0 core or 1 delta, how far right and down of the found place the true one lies in the patch's periods
//! (`network::patch`), quality, framing, how firmly it was seen, its deviation in pixels, ridge period in pixels; 72 x 72 signed bytes of
//! the filtered print, then of the print at even contrast.
//!
//! A record of WHORLS: as one of WHOLE, but with 137 more numbers after the first 92: 64 places along the traced ridge (right and down of
//! the middle in periods), and the ridges between as nine readings give them (the first is the middle of all).

mod shared;

use rayon::prelude::*;
use recurve::draw::Kind;
use recurve::field::{self, FieldSettings, RidgeField};
use recurve::geometry::Point;
use recurve::impression::Impression;
use recurve::intake::{self, IntakeSettings};
use recurve::network::patch::Patch;
use recurve::network::sample::Sample;
use recurve::network::strip::Strip;
use recurve::proposal::General;
use recurve::singular::{self, PointKind, SingularSettings, Singularities};
use shared::{Drawn, FIT_FRAMINGS, FIT_QUALITIES, SHARES, chance, class, draw_often, draw_one, pick, under_core, wish};
use std::io::Write;

/// Points of a print that are written, and the numbers of a record's head.
const POINTS: usize = 8;
const HEAD: usize = 92;
/// Farthest that a found core or delta may lie from the one counted from, ridge periods.
const FAR: f64 = 4.5;
/// Prints drawn between two writes.
const CHUNK: u64 = 1600;
/// Impressions of a finger that is drawn for its strip or its tracing.
const IMPRESSIONS: u64 = 3;
/// Share of the fingers drawn for strips that are wished with the delta under the core, more than in nature, for counting along the legs is hardest. The networks for lines across the legs learned without such fingers.
const UNDER_CORE: f64 = 0.3;
/// Ridges of a count that a record of a strip has room for.
const COUNTED: usize = 40;
/// Numbers of a strip's head, and readings of a count or a tracing that are written.
const STRIP_HEAD: usize = 10 + 2 * COUNTED + READINGS;
const READINGS: usize = 9;
/// Places along a traced ridge that are written.
const TRACED: usize = 64;

/// Samples along an edge of a patch that is written: wider than the network's, so that it can be moved and turned.
const PATCH_EDGE: usize = 72;
/// Numbers of a patch's head.
const PATCH_HEAD: usize = 8;
/// Farthest that a found point may lie from a true one to be that one, ridge periods.
const SAME: f64 = 1.6;

/// What is written of a print: its whole, its strip, its patches, its tracing.
type Records = [Vec<u8>; 4];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let given: Vec<String> = std::env::args().skip(1).collect();
    let [first, prints, names @ ..] = given.as_slice() else { return Err(USAGE.into()) };
    let names: &[String; 4] = names.try_into().map_err(|_| USAGE)?;
    let (first, prints): (u64, u64) = (first.parse()?, prints.parse()?);
    let wanted = names.each_ref().map(|name| name != "-");
    let mut files = Vec::new();
    for name in names {
        let file = (name != "-").then(|| std::fs::File::create(name)).transpose()?;
        files.push(file.map(std::io::BufWriter::new));
    }
    let draw = match wanted {
        [false, true, _, false] => a_loop,
        [false, false, false, true] => a_whorl,
        _ => any_kind,
    };
    for start in (0..prints).step_by(CHUNK as usize) {
        let end = (start + CHUNK).min(prints);
        let all: Vec<Records> = (start..end)
            .into_par_iter()
            .flat_map_iter(|i| draw(first + i))
            .filter_map(|drawn| records(&drawn, wanted))
            .collect();
        for of_print in all {
            for (file, bytes) in files.iter_mut().zip(&of_print) {
                file.iter_mut().try_for_each(|f| f.write_all(bytes))?;
            }
        }
        eprintln!("{end} of {prints}");
    }
    files.iter_mut().flatten().try_for_each(Write::flush)?;
    Ok(())
}

const USAGE: &str = "give FIRST_SEED PRINTS WHOLE STRIPS POINTS WHORLS, the last four file names or -";

/// A print of any kind, in the shares used for fitting.
fn any_kind(seed: u64) -> Vec<Drawn> {
    draw_one(seed, &FIT_QUALITIES, &FIT_FRAMINGS).into_iter().collect()
}

/// A loop of either slant, several times.
fn a_loop(seed: u64) -> Vec<Drawn> {
    let kind = if chance(seed, 1) < 0.5 { Kind::LeftLoop } else { Kind::RightLoop };
    let usual = wish(kind, seed, &FIT_QUALITIES, &FIT_FRAMINGS);
    let wish = if chance(seed, 6) < UNDER_CORE { under_core(usual, chance(seed, 7)) } else { usual };
    draw_often(&wish, seed, &FIT_QUALITIES, IMPRESSIONS)
}

/// A whorl of any kind, in the shares used for fitting, several times.
fn a_whorl(seed: u64) -> Vec<Drawn> {
    let kinds: Vec<(Kind, f64)> = SHARES.iter().copied().filter(|(k, _)| k.general() == General::Wu).collect();
    let wish = wish(pick(&kinds, chance(seed, 1)), seed, &FIT_QUALITIES, &FIT_FRAMINGS);
    draw_often(&wish, seed, &FIT_QUALITIES, IMPRESSIONS)
}

/// What is wanted of a print.
fn records(drawn: &Drawn, [whole, strip, points, whorl]: [bool; 4]) -> Option<Records> {
    let settings = FieldSettings::default();
    let mut analyser = field::spectrum::SpectrumAnalyser::new(settings.spectrum.clone());
    let working = intake::prepare(&drawn.print, &IntakeSettings::default()).ok()?;
    let field = field::estimate(working.pixels.view(), &settings, &mut analyser);
    if field.foreground_area() < f64::from(settings.least_area_px2) {
        return None;
    }
    let strip = strip && drawn.truth.count_line.is_some();
    let found = if strip || points { singular::find(&field, &SingularSettings::default()) } else { Default::default() };
    let wanted = |wanted: bool, of: &dyn Fn() -> Option<Vec<u8>>| wanted.then(of).flatten().unwrap_or_default();
    Some([
        wanted(whole, &|| record(drawn, &working, &field)),
        wanted(strip, &|| strip_record(drawn, &working, &field, &found)),
        wanted(points, &|| Some(patch_records(drawn, &working, &field, &found))),
        wanted(whorl, &|| whorl_record(drawn, &working, &field)),
    ])
}

/// The records of the patches about the chosen points that are true ones.
fn patch_records(drawn: &Drawn, working: &Impression, field: &RidgeField, found: &Singularities) -> Vec<u8> {
    let mut bytes = Vec::new();
    for point in found.candidates.iter().filter(|c| c.chosen) {
        let patch = Patch::of(field, point.at, point.opening(), PATCH_EDGE);
        let all = if point.kind == PointKind::Core { &drawn.truth.cores } else { &drawn.truth.deltas };
        let off = |p: Point| p.distance(Point::new(0.0, 0.0));
        let places = all.iter().filter(|p| p.printed).map(|p| patch.periods_of(working.to_original.invert(p.at)));
        let Some(true_place) = places.min_by(|a, b| off(*a).total_cmp(&off(*b))).filter(|p| off(*p) <= SAME) else {
            continue;
        };
        let head: [f32; PATCH_HEAD] = [
            point.kind as usize as f32,
            true_place.x as f32,
            true_place.y as f32,
            drawn.truth.quality as usize as f32,
            drawn.truth.framing as usize as f32,
            point.sight as f32,
            point.sigma_px as f32,
            field.median_period() as f32,
        ];
        bytes.extend(little_endian(&head));
        bytes.extend(patch.planes.iter().map(byte));
    }
    bytes
}

/// The record of the strip between core and delta as the program finds them.
fn strip_record(drawn: &Drawn, working: &Impression, field: &RidgeField, found: &Singularities) -> Option<Vec<u8>> {
    let (count, line) = (drawn.truth.ridge_count?, drawn.truth.count_line?);
    let (core, delta) = found.core_and_delta()?;
    let strip = Strip::of(field, delta.at, core.at)?;
    let place = |p: Point| strip.periods_of(working.to_original.invert(p));
    let [true_delta, true_core] = line.map(place);
    // Another delta or core than the one counted from: nothing to learn from.
    if true_delta.distance(Point::new(0.0, 0.0)) > FAR || true_core.distance(Point::new(strip.periods(), 0.0)) > FAR {
        return None;
    }
    let mut head = vec![0.0f32; STRIP_HEAD];
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
    head[10 + 2 * COUNTED..].copy_from_slice(&readings(drawn));
    let mut bytes = little_endian(&head);
    bytes.extend(strip.print.iter().map(byte));
    Some(bytes)
}

/// The count or the ridges between by many readings of the drawn ridges: the middle one, then some that stand evenly in their order.
fn readings(drawn: &Drawn) -> [f32; READINGS] {
    let all = &drawn.truth.readings;
    let of = |at: usize| all.get(at).copied().unwrap_or_default() as f32;
    let mut written = [of(all.len() / 2); READINGS];
    let others = READINGS - 1;
    for (i, slot) in written[1..].iter_mut().enumerate() {
        *slot = of((2 * i + 1) * all.len() / (2 * others));
    }
    written
}

fn record(drawn: &Drawn, working: &Impression, field: &RidgeField) -> Option<Vec<u8>> {
    let sample = Sample::of(field)?;
    Some(record_bytes(&whole_head(drawn, working, &sample)?, &sample))
}

fn whorl_record(drawn: &Drawn, working: &Impression, field: &RidgeField) -> Option<Vec<u8>> {
    drawn.truth.ridges_between?;
    let sample = Sample::of(field)?;
    let mut head = whole_head(drawn, working, &sample)?;
    let (trace, last) = (&drawn.truth.trace, drawn.truth.trace.len().checked_sub(1)?);
    for i in 0..TRACED {
        let along = last as f64 * i as f64 / (TRACED - 1) as f64;
        let from = along as usize;
        let p = trace[from].lerp(trace[(from + 1).min(last)], along.fract());
        let at = working.to_original.invert(p);
        head.extend([at.x - sample.middle.x, at.y - sample.middle.y].map(|v| (v / sample.period) as f32));
    }
    head.extend(readings(drawn));
    Some(record_bytes(&head, &sample))
}

fn record_bytes(head: &[f32], sample: &Sample) -> Vec<u8> {
    let mut bytes = little_endian(head);
    bytes.extend(sample.planes.iter().chain(&sample.print).map(byte));
    bytes
}

/// The numbers that every record of a whole print begins with.
fn whole_head(drawn: &Drawn, working: &Impression, sample: &Sample) -> Option<Vec<f32>> {
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
    Some(head)
}

fn little_endian(numbers: &[f32]) -> Vec<u8> {
    numbers.iter().flat_map(|v| v.to_le_bytes()).collect()
}

/// A number of -1 to 1 in a byte.
fn byte(v: &f32) -> u8 {
    (v * 127.0).round() as i8 as u8
}
