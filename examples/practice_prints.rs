//! Practice prints looked at from outside: how often wishes are met, and how drawn prints compare with real ones.
//!
//! ```text
//! cargo run --release --example practice_prints -- tally 1000
//! cargo run --release --example practice_prints -- compare OUT ROLLED_FOLDER FLAT_FOLDER FIGURES_FOLDER
//! ```
//!
//! `tally N` draws N fingers of every kind (half of the loops with a wanted count, three quarters of the whorls with a wanted
//! tracing) and prints how many a second look at the ridges bore out, how many wishes were refused, and the time; it fails
//! when one print was not borne out. `compare`
//! writes a contact sheet (real above drawn, three rows each) and a table of statistics, both sides measured by one instrument.

use recurve::draw::choose::kinds_named;
use recurve::draw::truth_file::kind_name;
use recurve::draw::{Finger, Framing, Kind, Quality, RIDGE_COUNTS, Wish, draw};
use recurve::proposal::{General, Tracing};
use std::collections::BTreeMap;
use std::error::Error;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// Seeds of the tally: of no fit, measurement or test.
const FIRST_SEED: u64 = 11_000_000;

fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["tally", count] => tally(count.parse()?),
        ["compare", out, rolled, flat, figures] => compare(Path::new(out), [rolled, flat, figures]),
        _ => Err("usage: tally N | compare OUT ROLLED_FOLDER FLAT_FOLDER FIGURES_FOLDER".into()),
    }
}

/// What became of the wishes of one kind.
#[derive(Default)]
struct Tally {
    /// Fingers whose ridges met the wish.
    drawn: u64,
    /// Of these, borne out by the second look.
    verified: u64,
    /// Wishes that were refused.
    refused: u64,
    /// Fingers that the first reading accepted and the second did not; others were grown in their place.
    doubted: u64,
    /// Fingers grown for the drawn ones.
    attempts: u64,
    /// What the second look did not bear out.
    doubts: Vec<String>,
}

/// The wishes of a kind, one a seed: no wish, and by turns every count or tracing that can be wished for.
fn wish(kind: Kind, seed: u64) -> Wish {
    let plain = Wish { framing: Framing::Plain, ..Wish::of(kind) };
    match kind.general() {
        General::Ls | General::Rs => {
            let counts = u64::from(*RIDGE_COUNTS.end());
            Wish {
                ridge_count: seed.checked_rem(2).filter(|odd| *odd == 1).map(|_| (seed / 2 % counts + 1) as u16),
                ..plain
            }
        }
        General::Wu => {
            let tracing = [None, Some(Tracing::I), Some(Tracing::M), Some(Tracing::O)][(seed % 4) as usize];
            Wish { tracing, ..plain }
        }
        _ => plain,
    }
}

/// Draws `count` fingers of every kind and looks at each a second time.
fn tally(count: u64) -> Result<(), Box<dyn Error>> {
    println!(
        "| kind | drawn | verified | refused | doubted | fingers grown a print | ms a print |\n|---|---|---|---|---|---|---|"
    );
    let (mut doubts, mut reasons) = (Vec::new(), BTreeMap::new());
    for kind in Kind::ALL {
        let started = Instant::now();
        let mut t = Tally::default();
        for seed in 0..count {
            match Finger::grow(&wish(kind, seed), FIRST_SEED + seed) {
                Ok(finger) => {
                    t.drawn += 1;
                    t.attempts += finger.attempts();
                    t.doubted += finger.doubted();
                    let said = finger.disagreements();
                    t.verified += u64::from(said.is_empty());
                    t.doubts.extend(
                        said.into_iter().map(|s| format!("{} seed {}: {s}", kind_name(kind), FIRST_SEED + seed)),
                    );
                }
                Err(e) => {
                    t.refused += 1;
                    *reasons.entry(format!("{}: {e}", kind_name(kind))).or_insert(0u64) += 1;
                }
            }
        }
        let mean = t.attempts as f64 / t.drawn.max(1) as f64;
        let ms = started.elapsed().as_secs_f64() * 1e3 / count as f64;
        let name = kind_name(kind);
        println!("| {name} | {} | {} | {} | {} | {mean:.2} | {ms:.0} |", t.drawn, t.verified, t.refused, t.doubted);
        doubts.append(&mut t.doubts);
    }
    for (reason, count) in &reasons {
        eprintln!("refused {count} times: {reason}");
    }
    for doubt in &doubts {
        eprintln!("{doubt}");
    }
    if doubts.is_empty() { Ok(()) } else { Err(format!("{} claims were not borne out", doubts.len()).into()) }
}

/// A grey picture by rows, 0 black to 1 white.
struct Picture {
    width: usize,
    height: usize,
    grey: Vec<f32>,
}

impl Picture {
    fn read(path: &Path) -> Result<Self, Box<dyn Error>> {
        let image = image::open(path)?.to_luma8();
        let grey = image.as_raw().iter().map(|v| f32::from(*v) / 255.0).collect();
        Ok(Self { width: image.width() as usize, height: image.height() as usize, grey })
    }

    fn at(&self, x: i64, y: i64) -> f32 {
        let clamp = |v: i64, most: usize| v.clamp(0, most as i64 - 1) as usize;
        self.grey[clamp(y, self.height) * self.width + clamp(x, self.width)]
    }

    fn smoothed(&self, reach: i64) -> Self {
        let weights: Vec<f32> =
            (-reach..=reach).map(|i| (-4.5 * (i * i) as f32 / (reach * reach) as f32).exp()).collect();
        let total: f32 = weights.iter().sum();
        let pass = |from: &Self, dx: i64, dy: i64| {
            let grey = (0..from.grey.len())
                .map(|i| {
                    let (x, y) = ((i % from.width) as i64, (i / from.width) as i64);
                    let terms = (-reach..=reach).zip(&weights);
                    terms.map(|(k, w)| w * from.at(x + k * dx, y + k * dy)).sum::<f32>() / total
                })
                .collect();
            Self { grey, ..*from }
        };
        pass(&pass(self, 1, 0), 0, 1)
    }
}

/// What is measured on one print.
#[derive(Default, Clone, Copy)]
struct Facts {
    period: f64,
    coherence: f64,
    endings_and_forks: f64,
    grey: [f64; 5],
}

/// Side of the blocks in which prints are judged, pixels.
const BLOCK: usize = 16;

fn measure(picture: &Picture) -> Option<Facts> {
    let smooth = picture.smoothed(3);
    let (mut period, mut coherence, mut blocks) = (0.0, 0.0, 0.0);
    let mut foreground = vec![false; picture.grey.len()];
    for by in 1..(picture.height / BLOCK).saturating_sub(1) {
        for bx in 1..(picture.width / BLOCK).saturating_sub(1) {
            let (mut sum, mut square, mut gxx, mut gyy, mut gxy) = (0.0f64, 0.0, 0.0, 0.0, 0.0);
            for i in 0..BLOCK * BLOCK {
                let (x, y) = ((bx * BLOCK + i % BLOCK) as i64, (by * BLOCK + i / BLOCK) as i64);
                let v = f64::from(smooth.at(x, y));
                let gx = f64::from(smooth.at(x + 1, y) - smooth.at(x - 1, y)) / 2.0;
                let gy = f64::from(smooth.at(x, y + 1) - smooth.at(x, y - 1)) / 2.0;
                (sum, square) = (sum + v, square + v * v);
                (gxx, gyy, gxy) = (gxx + gx * gx, gyy + gy * gy, gxy + gx * gy);
            }
            let n = (BLOCK * BLOCK) as f64;
            let variance = (square / n - (sum / n).powi(2)).max(0.0);
            let directed = ((gxx - gyy).powi(2) + 4.0 * gxy * gxy).sqrt() / (gxx + gyy).max(1e-12);
            // Ridges: enough contrast and one direction.
            if variance.sqrt() < 0.06 || directed < 0.35 || gxx + gyy < 1e-6 {
                continue;
            }
            // A sine of period p has gradients (2 pi / p)^2 times its own variance.
            period += 2.0 * std::f64::consts::PI * (variance / ((gxx + gyy) / n)).sqrt();
            coherence += directed;
            blocks += 1.0;
            for i in 0..BLOCK * BLOCK {
                foreground[(by * BLOCK + i / BLOCK) * picture.width + bx * BLOCK + i % BLOCK] = true;
            }
        }
    }
    if blocks < 30.0 {
        return None;
    }
    let period = period / blocks;
    let points = endings_and_forks(&smooth, &foreground, period) as f64;
    let mut values: Vec<f32> = picture.grey.iter().zip(&foreground).filter(|(_, on)| **on).map(|(v, _)| *v).collect();
    values.sort_by(f32::total_cmp);
    let share = |q: f64| f64::from(values[((values.len() - 1) as f64 * q) as usize]);
    Some(Facts {
        period,
        coherence: coherence / blocks,
        // Per square of ten ridge periods' side, so that scale does not matter.
        endings_and_forks: points * 100.0 * period * period / values.len() as f64,
        grey: [0.05, 0.25, 0.5, 0.75, 0.95].map(share),
    })
}

/// Endings and forks of the thinned ridges, both sides measured alike: on real prints many are breaks of the ink.
fn endings_and_forks(picture: &Picture, foreground: &[bool], period: f64) -> usize {
    let local = picture.smoothed((1.2 * period).round().max(4.0) as i64);
    let (w, h) = (picture.width, picture.height);
    let mut on: Vec<bool> = (0..w * h).map(|i| picture.grey[i] < local.grey[i]).collect();
    let around = [0i64, 1, 2, 3, 4, 5, 6, 7]
        .map(|k| [(0, -1), (1, -1), (1, 0), (1, 1), (0, 1), (-1, 1), (-1, 0), (-1, -1)][k as usize]);
    let ring = |on: &[bool], i: usize| around.map(|(dx, dy): (i64, i64)| on[(i as i64 + dx + dy * w as i64) as usize]);
    let steps = |ring: &[bool; 8]| (0..8).filter(|k| !ring[*k] && ring[(k + 1) % 8]).count();
    let inner: Vec<usize> = (0..w * h).filter(|i| i % w > 0 && i % w < w - 1 && i / w > 0 && i / w < h - 1).collect();
    loop {
        let mut gone = 0;
        for pass in 0..2 {
            let off: Vec<usize> = inner
                .iter()
                .copied()
                .filter(|&i| {
                    let r = ring(&on, i);
                    let count = r.iter().filter(|v| **v).count();
                    let sides =
                        if pass == 0 { !(r[2] && r[4] && (r[0] || r[6])) } else { !(r[0] && r[6] && (r[2] || r[4])) };
                    on[i] && (2..=6).contains(&count) && steps(&r) == 1 && sides
                })
                .collect();
            gone += off.len();
            off.into_iter().for_each(|i| on[i] = false);
        }
        if gone == 0 {
            break;
        }
    }
    inner.into_iter().filter(|&i| on[i] && foreground[i] && matches!(steps(&ring(&on, i)), 1 | 3 | 4)).count()
}

fn pictures_in(folder: &str) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)?.filter_map(|e| e.ok().map(|e| e.path())).collect();
    files.retain(|p| p.extension().is_some_and(|e| ["png", "tif", "tiff"].iter().any(|x| e.eq_ignore_ascii_case(x))));
    files.sort();
    Ok(files)
}

/// Drawn prints of a framing, in qualities as they come on real files.
fn drawn(framing: Framing, count: usize) -> Result<Vec<Picture>, Box<dyn Error>> {
    let kinds = kinds_named("all")?;
    let qualities = [Quality::Good, Quality::Fair, Quality::Fair, Quality::Poor];
    let mut pictures = Vec::new();
    for i in 0..count {
        let wish = Wish { framing, quality: qualities[i % 4], ..Wish::of(kinds[(7 * i) % kinds.len()]) };
        if let Ok(print) = draw(&wish, i as u64) {
            let (height, width) = print.pixels.dim();
            pictures.push(Picture { width, height, grey: print.pixels.iter().copied().collect() });
        }
    }
    Ok(pictures)
}

fn compare(out: &Path, folders: [&str; 3]) -> Result<(), Box<dyn Error>> {
    const ACROSS: usize = 8;
    const CELL: u32 = 240;
    std::fs::create_dir_all(out)?;
    let mut sheet = image::GrayImage::from_pixel(ACROSS as u32 * CELL, 6 * CELL, image::Luma([160]));
    println!(
        "| prints | count | period px | coherence | endings and forks per 100 periods^2 | grey 5 / 25 / 50 / 75 / 95 % |\n|---|---|---|---|---|---|"
    );
    for (row, (folder, framing)) in
        folders.into_iter().zip([Framing::Rolled, Framing::Plain, Framing::Crop]).enumerate()
    {
        let files = pictures_in(folder)?;
        let every = (files.len() / 40).max(1);
        let real: Vec<Picture> = files.iter().step_by(every).map(|p| Picture::read(p)).collect::<Result<_, _>>()?;
        let made = drawn(framing, 40)?;
        for (k, (name, pictures)) in [("real", &real), ("drawn", &made)].into_iter().enumerate() {
            let facts: Vec<Facts> = pictures.iter().filter_map(measure).collect();
            let mean = |f: &dyn Fn(&Facts) -> f64| facts.iter().map(f).sum::<f64>() / facts.len().max(1) as f64;
            let deviation = |f: &dyn Fn(&Facts) -> f64| mean(&|x| (f(x) - mean(f)).powi(2)).sqrt();
            let shown = |f: &dyn Fn(&Facts) -> f64| format!("{:.2} (SD {:.2})", mean(f), deviation(f));
            let grey: Vec<String> = (0..5).map(|i| format!("{:.2}", mean(&|x| x.grey[i]))).collect();
            println!(
                "| {framing:?}, {name} | {} | {} | {} | {} | {} |",
                facts.len(),
                shown(&|x| x.period),
                shown(&|x| x.coherence),
                shown(&|x| x.endings_and_forks),
                grey.join(" / ")
            );
            for (column, picture) in pictures.iter().step_by((pictures.len() / ACROSS).max(1)).take(ACROSS).enumerate()
            {
                let bytes = picture.grey.iter().map(|v| (v * 255.0) as u8).collect();
                let full = image::GrayImage::from_raw(picture.width as u32, picture.height as u32, bytes)
                    .ok_or("picture size")?;
                let longest = full.width().max(full.height());
                let size = |v: u32| (v * (CELL - 6) / longest).max(1);
                let small = image::imageops::resize(
                    &full,
                    size(full.width()),
                    size(full.height()),
                    image::imageops::FilterType::Triangle,
                );
                image::imageops::replace(
                    &mut sheet,
                    &small,
                    i64::from(column as u32 * CELL),
                    i64::from((2 * row + k) as u32 * CELL),
                );
            }
        }
    }
    sheet.save(out.join("contact_sheet.png"))?;
    Ok(())
}
