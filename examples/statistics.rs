//! Drawn prints beside real ones in figures: the same instrument, the program's own field and ridge lines, reads both.
//!
//! ```text
//! cargo run --release --example statistics [-- DATA]
//! ```
//!
//! `DATA` (default `../shared/data`) holds `handbook/prints`, `standard_records` and `live_scan`; a set that is not there is left
//! out, but the handbook's figures are then taken from `testdata`. Writes three tables with drawn and real prints in rows of their own: the
//! prints as a whole, how straight the legs of their loops run, and how loops lie.

mod shared;

use recurve::draw::choose::Series;
use recurve::draw::{Framing, Kind, Quality, Wish, draw};
use recurve::field::{RidgeField, estimate, spectrum::SpectrumAnalyser};
use recurve::geometry::{Point, direction_difference, orientation_difference};
use recurve::impression::Impression;
use recurve::ridge::formation::Formation;
use recurve::ridge::lines::{Region, RidgeLines};
use recurve::singular::PointKind;
use recurve::{Screener, Settings, intake};
use shared::impression;
use std::f64::consts::PI;
use std::path::{Path, PathBuf};

type Failure = Box<dyn std::error::Error>;

/// Seeds of these drawn prints: of no fit, measurement or test.
const FIRST_SEED: u64 = 12_000_000;
/// Drawn prints for each set of real ones.
const DRAWN: u64 = 60;
/// Formations nearer to the edge of the ridges than this are the edge's, not the finger's: ridge periods.
const FROM_EDGE: f64 = 2.0;
/// Side of the square in which minutiae are counted, ridge periods.
const SQUARE: f64 = 10.0;

/// What is read on one print.
struct Facts {
    /// Median ridge period, pixels at 500 ppi where the scale is known.
    period: f64,
    /// Relative deviation of the period over the print.
    period_spread: f64,
    coherence: f64,
    clarity: f64,
    /// Endings and forks for each square.
    endings: f64,
    forks: f64,
    /// Grey at 5, 25, 50, 75 and 95 percent of the pixels on ridges and valleys, 0 black to 1 white.
    grey: [f64; 5],
    /// Share of the pixels of the picture on the print.
    printed: f64,
}

fn read_print(print: &Impression, settings: &Settings, analyser: &mut SpectrumAnalyser) -> Option<Facts> {
    let working = intake::prepare(print, &settings.intake).ok()?;
    let field = estimate(working.pixels.view(), &settings.field, analyser);
    if field.foreground_area() < f64::from(settings.field.least_area_px2) {
        return None;
    }
    let mut periods: Vec<f64> =
        field.period.iter().zip(&field.foreground).filter(|(_, on)| **on).map(|(p, _)| f64::from(*p)).collect();
    periods.sort_by(f64::total_cmp);
    let mean = periods.iter().sum::<f64>() / periods.len() as f64;
    let variance = periods.iter().map(|p| (p - mean).powi(2)).sum::<f64>() / periods.len() as f64;
    let clear = field.clarity.iter().zip(&field.foreground).filter(|(_, on)| **on).map(|(c, _)| f64::from(*c));
    let period = field.median_period();
    let (endings, forks) = minutiae(&field, period, settings);
    let mut grey: Vec<f32> = working
        .pixels
        .indexed_iter()
        .filter(|((r, c), _)| field.foreground.get([r / field.cell, c / field.cell]).copied().unwrap_or(false))
        .map(|(_, v)| *v)
        .collect();
    grey.sort_by(f32::total_cmp);
    Some(Facts {
        period,
        period_spread: variance.sqrt() / mean,
        coherence: field.mean_coherence(),
        clarity: clear.sum::<f64>() / periods.len() as f64,
        endings,
        forks,
        grey: [0.05, 0.25, 0.5, 0.75, 0.95].map(|q| f64::from(grey[((grey.len() - 1) as f64 * q) as usize])),
        printed: field.foreground_fraction(),
    })
}

/// Endings and forks for each square of ten periods' side, away from the edge.
fn minutiae(field: &RidgeField, period: f64, settings: &Settings) -> (f64, f64) {
    let (rows, columns) = field.filtered.dim();
    let region = Region { left: 0, top: 0, right: columns, bottom: rows };
    let lines = RidgeLines::of(field, region, period, &settings.ridge);
    let reach = (FROM_EDGE * period / field.cell as f64).ceil() as i64;
    let inside = |r: usize, c: usize| {
        (-reach..=reach).all(|d| {
            let at = |r: i64, c: i64| {
                r >= 0 && c >= 0 && field.foreground.get([r as usize, c as usize]).copied().unwrap_or(false)
            };
            at(r as i64 + d, c as i64) && at(r as i64, c as i64 + d)
        })
    };
    let (mut area, mut endings, mut forks) = (0.0, 0.0, 0.0);
    for ((r, c), on) in field.foreground.indexed_iter() {
        if !on || !inside(r, c) {
            continue;
        }
        let cell = field.cell;
        area += (cell * cell) as f64;
        for i in 0..cell * cell {
            let p = Point::new((c * cell + i % cell) as f64, (r * cell + i / cell) as f64);
            let Some(pixel) = lines.pixel_at(p).filter(|pixel| lines.is_line(*pixel)) else { continue };
            match lines.formation(pixel) {
                Formation::Ending => endings += 1.0,
                Formation::Fork => forks += 1.0,
                _ => {}
            }
        }
    }
    let squares = area / (SQUARE * period).powi(2);
    (endings / squares.max(1e-9), forks / squares.max(1e-9))
}

fn real(folder: &Path, keep: impl Fn(&str) -> bool, ppi: Option<f64>) -> Result<Vec<Impression>, Failure> {
    let mut files: Vec<PathBuf> = std::fs::read_dir(folder)?.filter_map(|e| e.ok().map(|e| e.path())).collect();
    files.retain(|p| p.file_name().is_some_and(|n| keep(&n.to_string_lossy())));
    files.sort();
    let mut prints = Vec::new();
    for file in files {
        for mut print in intake::read(&file, &Settings::default().intake)? {
            print.ppi = ppi;
            prints.push(print);
        }
    }
    Ok(prints)
}

/// Drawn prints in the trade's shares, qualities as they come.
fn drawn(framing: Framing) -> Result<Vec<Impression>, Failure> {
    let wish = Wish { framing, ..Wish::of(Kind::PlainArch) };
    let qualities = vec![Quality::Good, Quality::Fair, Quality::Fair, Quality::Poor];
    let series = Series { kinds: Vec::new(), wish, qualities };
    let mut prints = Vec::new();
    for index in 0..DRAWN {
        let (wish, seed) = series.print(FIRST_SEED, index)?;
        let Ok(print) = draw(&wish, seed) else { continue };
        prints.push(impression(&print, seed));
    }
    Ok(prints)
}

fn row(name: &str, prints: &[Impression], scale_known: bool) {
    let settings = Settings::default();
    let mut analyser = SpectrumAnalyser::new(settings.field.spectrum.clone());
    let facts: Vec<Facts> = prints.iter().filter_map(|p| read_print(p, &settings, &mut analyser)).collect();
    let n = facts.len().max(1) as f64;
    let shown = |of: &dyn Fn(&Facts) -> f64| {
        let mean = facts.iter().map(of).sum::<f64>() / n;
        let deviation = (facts.iter().map(|f| (of(f) - mean).powi(2)).sum::<f64>() / n).sqrt();
        format!("{mean:.2} ({deviation:.2})")
    };
    let grey: Vec<String> =
        (0..5).map(|i| format!("{:.2}", facts.iter().map(|f| f.grey[i]).sum::<f64>() / n)).collect();
    println!(
        "| {name} | {} of {} | {} | {} | {} | {} | {} | {} | {} | {} |",
        facts.len(),
        prints.len(),
        if scale_known { shown(&|f| f.period) } else { "scaled to 9".into() },
        shown(&|f| f.period_spread),
        shown(&|f| f.coherence),
        shown(&|f| f.clarity),
        shown(&|f| f.endings),
        shown(&|f| f.forks),
        grey.join(" / "),
        shown(&|f| f.printed),
    );
}

/// Distances from the core at which the flow around it is read, ridge periods.
const AROUND: [f64; 3] = [1.5, 4.0, 6.0];
/// Places on each circle, and how many of them must be on the print.
const PLACES: usize = 72;
const ON_PRINT: usize = 66;
/// Nearer than this to a delta the flow about a core is the delta's as well, ridge periods.
const FREE_OF_DELTA: f64 = 9.0;
/// Least probability of the core.
const SURE: f64 = 0.6;

/// Twice the lag of the flow about a print's only core behind a parabola's, as sines of once, twice and three times the angle seen from the
/// opening, at each distance.
fn legs(print: &Impression, screener: &Screener) -> Option<[[f64; 3]; AROUND.len()]> {
    let examined = screener.examine(print).ok()?;
    let field = examined.field.as_ref()?;
    let mut cores = examined.found.chosen(PointKind::Core);
    let core = cores.next().filter(|core| cores.next().is_none() && core.confidence >= SURE)?;
    let period = field.median_period();
    if examined.found.chosen(PointKind::Delta).any(|delta| delta.at.distance(core.at) < FREE_OF_DELTA * period) {
        return None;
    }
    let opening = core.opening()?;
    let mut lags = [[0.0; 3]; AROUND.len()];
    for (around, lag) in AROUND.into_iter().zip(&mut lags) {
        *lag = opened(field, core.at, around * period, opening)?.0;
    }
    Some(lags)
}

/// The lag on one circle as three sines, and the opening that the flow on it shows, radians: the direction on whose two sides the lag is alike,
/// looked for from a first guess.
fn opened(field: &RidgeField, core: Point, radius: f64, guess: f64) -> Option<([f64; 3], f64)> {
    let (mut lag, mut opening) = ([0.0; 3], guess);
    for _ in 0..8 {
        let (read, turn) = lag_at(field, core, radius, opening)?;
        lag = read;
        opening -= 2.0 * turn;
    }
    Some((lag, opening))
}

/// The lag on one circle as three sines, and its mean, radians.
fn lag_at(field: &RidgeField, core: Point, radius: f64, opening: f64) -> Option<([f64; 3], f64)> {
    let (mut sums, mut sum, mut read) = ([0.0; 3], 0.0, 0);
    for k in 0..PLACES {
        let seen = -PI + (k as f64 + 0.5) * 2.0 * PI / PLACES as f64;
        let at = core.step(opening + seen, radius);
        if !field.on_print(at) {
            continue;
        }
        let behind = orientation_difference(opening + 0.5 * seen, field.orientation_at(at));
        sum += behind;
        read += 1;
        for (i, term) in sums.iter_mut().enumerate() {
            *term += behind * ((i + 1) as f64 * seen).sin();
        }
    }
    (read >= ON_PRINT).then(|| (sums.map(|term| 4.0 * term / read as f64), sum / read as f64))
}

/// Shortest line from delta to core that is read, ridge periods.
const SHORTEST: f64 = 7.0;

/// How a print with one core and one delta lies: its axis off straight down (positive: it opens away from the delta), the delta below the level of the core, and the
/// line from delta to core against the axis, degrees; the length of that line in ridge periods.
fn lie(print: &Impression, screener: &Screener) -> Option<[f64; 4]> {
    let examined = screener.examine(print).ok()?;
    let field = examined.field.as_ref()?;
    let only = |kind| {
        let mut points = examined.found.chosen(kind);
        points.next().filter(|point| points.next().is_none() && point.confidence >= SURE)
    };
    let (core, delta) = (only(PointKind::Core)?, only(PointKind::Delta)?);
    let period = field.median_period();
    let length = core.at.distance(delta.at) / period;
    if length < SHORTEST {
        return None;
    }
    // On a circle that the delta does not bend.
    let radius = AROUND[1].min(0.5 * length) * period;
    let opening = opened(field, core.at, radius, core.opening()?)?.1;
    let way = core.at.direction_to(delta.at);
    let side = direction_difference(way, opening).signum();
    Some([
        -side * direction_difference(opening, 1.5 * PI).to_degrees(),
        ((delta.at.y - core.at.y) / core.at.distance(delta.at)).asin().to_degrees(),
        orientation_difference(way, opening).abs().to_degrees(),
        length,
    ])
}

/// Drawn loops with six ridges or more between delta and core.
fn drawn_loops(framing: Framing) -> Result<Vec<Impression>, Failure> {
    let wish = Wish { framing, ..Wish::of(Kind::LeftLoop) };
    let series = Series { kinds: vec![Kind::LeftLoop, Kind::RightLoop], wish, qualities: vec![Quality::Good] };
    let mut prints = Vec::new();
    for index in 0..2 * DRAWN {
        let (wish, seed) = series.print(FIRST_SEED, index)?;
        let Ok(print) = draw(&wish, seed) else { continue };
        if print.truth.ridge_count.is_none_or(|count| count < 6) {
            continue;
        }
        prints.push(impression(&print, seed));
    }
    Ok(prints)
}

fn row_of_legs(name: &str, prints: &[Impression], screener: &Screener) {
    let lags: Vec<_> = prints.iter().filter_map(|print| legs(print, screener)).collect();
    let quartile = |around: usize, term: usize, share: f64| {
        let mut values: Vec<f64> = lags.iter().map(|lag| lag[around][term]).collect();
        values.sort_by(f64::total_cmp);
        values.get(((values.len().max(1) - 1) as f64 * share).round() as usize).copied().unwrap_or(f64::NAN)
    };
    let three =
        |around, term| [0.25, 0.5, 0.75].map(|share| format!("{:.2}", quartile(around, term, share))).join(" / ");
    let cells: Vec<String> =
        (0..AROUND.len()).map(|around| three(around, 0)).chain([three(1, 1), three(1, 2)]).collect();
    println!("| {name} | {} of {} | {} |", lags.len(), prints.len(), cells.join(" | "));
}

fn row_of_lie(name: &str, prints: &[Impression], screener: &Screener) {
    let lies: Vec<_> = prints.iter().filter_map(|print| lie(print, screener)).collect();
    let cells: Vec<String> = (0..4)
        .map(|of| {
            let mut values: Vec<f64> = lies.iter().map(|lie| lie[of]).collect();
            values.sort_by(f64::total_cmp);
            [0.1, 0.25, 0.5, 0.75, 0.9]
                .map(|share| {
                    let at = ((values.len().max(1) - 1) as f64 * share).round() as usize;
                    values.get(at).map_or("-".to_owned(), |v| format!("{v:.0}"))
                })
                .join(" / ")
        })
        .collect();
    println!("| {name} | {} of {} | {} |", lies.len(), prints.len(), cells.join(" | "));
}

fn main() -> Result<(), Failure> {
    let data = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| "../shared/data".into()));
    let handbook = data.join("handbook/prints");
    let handbook = if handbook.is_dir() { handbook } else { Path::new("testdata/handbook").into() };
    let mut sets = vec![("figures of the handbook".to_owned(), real(&handbook, |n| n.ends_with(".png"), None)?, false)];
    let records = data.join("standard_records");
    if records.is_dir() {
        let rolled = |n: &str| n.starts_with("tpcard_") && n.ends_with(".png") && n < "tpcard_11";
        sets.push(("rolled fingers of the reference record".to_owned(), real(&records, rolled, Some(500.0))?, true));
    }
    for set in ["FVC2002_DB1_B", "FVC2002_DB3_B"] {
        let folder = data.join("live_scan").join(set);
        if folder.is_dir() {
            let prints = real(&folder, |n| n.ends_with(".tif"), Some(500.0))?;
            sets.push((format!("flat live scans, {}", set.trim_end_matches("_B")), prints, true));
        }
    }
    let framings = [
        ("book figures", Framing::Crop, false),
        ("rolled", Framing::Rolled, true),
        ("flat live scans", Framing::Plain, true),
    ];
    println!(
        "| prints | read | period, px | its spread inside a print | coherence | clarity | endings | forks | grey at 5 / 25 / 50 / 75 / 95 % | printed share |\n|---|---|---|---|---|---|---|---|---|---|"
    );
    for (name, prints, scale_known) in &sets {
        row(&format!("**real**: {name}"), prints, *scale_known);
    }
    for (name, framing, scale_known) in framings {
        row(&format!("drawn: {name}"), &drawn(framing)?, scale_known);
    }
    println!(
        "\n| prints with one core | read | first sine at 1.5 periods | at 4 | at 6 | second sine at 4 | third at 4 |\n|---|---|---|---|---|---|---|"
    );
    let screener = Screener::default();
    for (name, prints, _) in &sets {
        row_of_legs(&format!("**real**: {name}"), prints, &screener);
    }
    for (name, framing, _) in framings {
        row_of_legs(&format!("drawn loops: {name}"), &drawn_loops(framing)?, &screener);
    }
    println!(
        "\n| prints with one core and one delta | read | axis off straight down, degrees | delta below the core's level | line from delta to core against the axis | its length, periods |\n|---|---|---|---|---|---|"
    );
    for (name, prints, _) in &sets {
        row_of_lie(&format!("**real**: {name}"), prints, &screener);
    }
    for (name, framing, _) in framings {
        row_of_lie(&format!("drawn loops: {name}"), &drawn_loops(framing)?, &screener);
    }
    Ok(())
}
