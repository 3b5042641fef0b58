//! Flat live scans: the impressions of one finger must get one pattern.

use super::real::{Marked, Screened, marks, pattern_words, screen};
use super::shared::Class;
use super::shared::points::{Matched, compare};
use super::shared::tally::broad;
use super::tables::{NONE, Table, figures, heading};
use super::worst::{Gallery, worst};
use super::{Arguments, Failure};
use recurve::singular::PointKind;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Resolution of the scanners; the files' own tag says 1.
const SCANNER_PPI: f64 = 500.0;

/// Columns of the table of calls: general classes by their code.
const CLASSES: [&str; 4] = ["AU", "LS", "RS", "WU"];

/// Screens every impression twice: at the scanner's resolution, and with the scale taken from the ridges.
pub fn measure(arguments: &Arguments) -> Result<String, Failure> {
    let files = impressions(&arguments.data)?;
    let marked = marks(&arguments.data)?;
    let told = screen(&arguments.data, &files, Some(SCANNER_PPI), "live-scan")?;
    let untold = screen(&arguments.data, &files, None, "live-scan, scale from ridges")?;
    show_worst(&told, arguments)?;
    let data = format!("{} flat live scans of {} fingers (two sensors).", files.len(), fingers(&told).len());
    let mut parts = vec![heading(arguments, "live-scan", &data)];
    for (words, prints) in [("At the scanner's 500 ppi", &told), ("Scale taken from the ridges", &untold)] {
        parts.push(format!("{words}:\n\n{}", figures_table(prints, &marked)));
    }
    parts.push(format!("Calls of the impressions of each finger, at 500 ppi:\n\n{}", calls_table(&told, &marked)));
    Ok(parts.join("\n"))
}

/// Every impression, by sensor, finger and number.
fn impressions(data: &Path) -> Result<Vec<PathBuf>, Failure> {
    let mut files: Vec<PathBuf> = walkdir::WalkDir::new(data.join("live_scan"))
        .into_iter()
        .collect::<Result<Vec<_>, _>>()?
        .into_iter()
        .filter(|e| e.path().extension().is_some_and(|x| x == "tif"))
        .filter_map(|e| e.path().strip_prefix(data).ok().map(Path::to_owned))
        .collect();
    files.sort();
    if files.is_empty() { Err("live_scan holds no .tif files".into()) } else { Ok(files) }
}

/// The general class that was proposed.
fn code(print: &Screened) -> Option<&'static str> {
    print.call().map(|(class, _)| match class {
        Class::LeftLoop => "LS",
        Class::RightLoop => "RS",
        other => {
            if broad(other) == "arch" {
                "AU"
            } else {
                "WU"
            }
        }
    })
}

/// Sensor and name of a source such as `live_scan/SENSOR/101_1.tif`.
fn sensor_and_name(print: &Screened) -> (&str, &str) {
    let mut parts = print.print.source.rsplit('/');
    let name = parts.next().unwrap_or_default();
    (parts.next().unwrap_or_default(), name)
}

/// The impressions of each finger.
fn fingers(prints: &[Screened]) -> BTreeMap<(&str, &str), Vec<&Screened>> {
    let mut out: BTreeMap<(&str, &str), Vec<&Screened>> = BTreeMap::new();
    for print in prints {
        let (sensor, name) = sensor_and_name(print);
        out.entry((sensor, name.split('_').next().unwrap_or(name))).or_default().push(print);
    }
    out
}

/// How often each class was proposed, in the order of [`CLASSES`].
fn tally(prints: &[&Screened]) -> [usize; 4] {
    CLASSES.map(|class| prints.iter().filter(|p| code(p) == Some(class)).count())
}

/// The class proposed most often; of equals the first in the order of [`CLASSES`].
fn majority(prints: &[&Screened]) -> Option<&'static str> {
    let counts = tally(prints);
    let most = counts.iter().copied().max().filter(|&m| m > 0)?;
    counts.iter().position(|&c| c == most).map(|i| CLASSES[i])
}

fn figures_table(prints: &[Screened], marked: &[Marked]) -> Table {
    let mut table = figures();
    let proposed = prints.iter().filter(|p| code(p).is_some()).count();
    let by_finger = fingers(prints);
    let agreeing: usize = by_finger.values().map(|of| tally(of).into_iter().max().unwrap_or(0)).sum();
    table.share("agree with their finger's majority class, of proposed", agreeing, proposed);
    table.share("abstained", prints.len() - proposed, prints.len());
    let unanimous = by_finger.values().filter(|of| tally(of).iter().filter(|&&c| c > 0).count() == 1).count();
    table.share("fingers with one class in all proposals", unanimous, by_finger.len());
    let read: Vec<(Option<&str>, &str)> =
        by_finger.iter().filter_map(|(f, of)| Some((majority(of), eye(*f, marked)?.1))).collect();
    let agreed = read.iter().filter(|(m, e)| *m == Some(*e)).count();
    table.share("majority class as one reader saw it", agreed, read.len());
    for (kind, name) in [(PointKind::Core, "core"), (PointKind::Delta, "delta")] {
        let sum = points(prints, marked, kind);
        table.share(&format!("{name} recall within 10 px of one reader's marks"), sum.distances.len(), sum.truths());
        table.share(&format!("{name} precision within 10 px of one reader's marks"), sum.distances.len(), sum.marks());
    }
    table
}

/// Marks of the proposals against those made by eye, over all prints that have some.
fn points(prints: &[Screened], marked: &[Marked], kind: PointKind) -> Matched {
    let mut sum = Matched::default();
    for print in prints {
        let (sensor, name) = sensor_and_name(print);
        let line = marked.iter().find(|m| m.line.set == sensor && m.line.file == name);
        // Where the reader could not tell the pattern, the points are not marked either.
        let matched =
            line.filter(|m| m.line.pattern != "UNCLEAR").and_then(|m| compare(&print.seen.proposal, &m.line, kind));
        if let Some(matched) = matched {
            sum.add(&matched);
        }
    }
    sum
}

/// What a reader called the finger: words and code; none where it was unclear.
fn eye((sensor, finger): (&str, &str), marked: &[Marked]) -> Option<(String, &'static str)> {
    let m = marked.iter().find(|m| m.line.set == sensor && m.line.file.split('_').next() == Some(finger))?;
    let code = match m.line.pattern.as_str() {
        "PLAIN_ARCH" | "TENTED_ARCH" => "AU",
        "LEFT_LOOP" => "LS",
        "RIGHT_LOOP" => "RS",
        "WHORL" => "WU",
        _ => return None,
    };
    let second = m.second_choice.as_deref().map(|s| format!(", or {}", pattern_words(s))).unwrap_or_default();
    Some((pattern_words(&m.line.pattern) + &second, code))
}

fn calls_table(prints: &[Screened], marked: &[Marked]) -> Table {
    let columns = ["sensor", "finger"].into_iter().chain(CLASSES).chain(["abstained", "majority", "one reader"]);
    let mut table = Table::new(columns);
    for ((sensor, finger), of) in fingers(prints) {
        let counts = tally(&of);
        let mut row = vec![sensor.to_owned(), finger.to_owned()];
        row.extend(counts.iter().map(ToString::to_string));
        row.push((of.len() - counts.iter().sum::<usize>()).to_string());
        row.push(majority(&of).unwrap_or(NONE).to_owned());
        row.push(eye((sensor, finger), marked).map_or("unclear".to_owned(), |e| e.0));
        table.row(row);
    }
    table
}

fn show_worst(prints: &[Screened], arguments: &Arguments) -> Result<(), Failure> {
    let Some(folder) = &arguments.worst else { return Ok(()) };
    let by_finger = fingers(prints);
    let usual = |print: &Screened| {
        let (sensor, name) = sensor_and_name(print);
        by_finger.get(&(sensor, name.split('_').next().unwrap_or(name))).and_then(|of| majority(of))
    };
    let bad = |print: &Screened| match (print.call(), code(print) == usual(print)) {
        (Some((_, probability)), false) => 1.0 + probability,
        (None, _) => 1.0,
        _ => 0.0,
    };
    let mut gallery = Gallery::open(folder, "live-scan")?;
    for i in worst(&prints.iter().map(bad).collect::<Vec<_>>()) {
        let print = &prints[i];
        let (sensor, name) = sensor_and_name(print);
        let (called, most) = (code(print).unwrap_or("nothing"), usual(print).unwrap_or("nothing"));
        gallery.add(
            &print.print,
            &print.seen,
            &format!("{sensor} {name} called {called}, its finger mostly {most}"),
        )?;
    }
    gallery.close()
}
