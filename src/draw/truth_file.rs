//! The truth of drawn prints as JSON Lines: what is scored, and everything else that is known.

use super::{DrawnPrint, Framing, Kind, Quality, TrueField, TruePoint, Truth};
use crate::geometry::Point;
use crate::proposal::{General, Tracing};
use serde::{Deserialize, Serialize};

/// A true point as it is scored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthMark {
    /// Pixels from the left.
    pub x: f64,
    /// Pixels from the top.
    pub y: f64,
    /// Radius of uncertainty in pixels; a drawn point is known better than any reader can place it.
    #[serde(default)]
    pub r: f64,
    /// One of two cores that a reader may mark as one.
    #[serde(default)]
    pub tight: bool,
    /// Core: where it opens to; delta: where one of its ridges leaves to. Degrees counter-clockwise from image right.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub direction_deg: Option<f64>,
}

/// A place where a reported point is neither right nor wrong.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct EdgeHint {
    /// What may be reported there, as in "right delta".
    pub what: String,
    /// Pixels from the left.
    pub x: f64,
    /// Pixels from the top.
    pub y: f64,
    /// Radius of uncertainty in pixels.
    #[serde(default)]
    pub r: f64,
}

/// The truth of one print: one line of a truth file.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TruthLine {
    /// Name of the set.
    #[serde(default)]
    pub set: String,
    /// File name of the picture.
    pub file: String,
    /// `PLAIN_ARCH`, `TENTED_ARCH`, `LEFT_LOOP`, `RIGHT_LOOP` or `WHORL`.
    pub pattern: String,
    /// Whorls: `PLAIN`, `CENTRAL_POCKET`, `DOUBLE_LOOP` or `ACCIDENTAL`.
    #[serde(default)]
    pub subtype: Option<String>,
    /// Whorls: I, M or O.
    #[serde(default)]
    pub tracing: Option<Tracing>,
    /// Loops: ridges between delta and core.
    #[serde(default)]
    pub ridge_count: Option<u16>,
    /// Printed cores; null when not marked.
    #[serde(default)]
    pub cores: Option<Vec<TruthMark>>,
    /// Printed deltas, left to right; null when not marked.
    #[serde(default)]
    pub deltas: Option<Vec<TruthMark>>,
    /// Points that lie outside the print.
    #[serde(default)]
    pub outside: Vec<String>,
    /// Places where a mark counts neither way.
    #[serde(default)]
    pub edge_hint: Vec<EdgeHint>,
    /// Pixels per inch.
    #[serde(default)]
    pub ppi: Option<f64>,
    /// Mean distance from ridge to ridge in pixels.
    #[serde(default)]
    pub ridge_period_px: Option<f64>,
    /// What a drawn print has besides.
    #[serde(default, flatten, skip_serializing_if = "Option::is_none")]
    pub drawn: Option<DrawnFacts>,
}

/// What is known of a drawn print beyond what is scored.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DrawnFacts {
    /// The kind by the name that `recurve draw --kind` takes.
    pub kind: String,
    /// good, fair or poor.
    pub quality: String,
    /// rolled, plain or crop.
    pub framing: String,
    /// Finger position 1 to 10 of a card, else null.
    pub finger: Option<u8>,
    /// Turn of the print in degrees counter-clockwise.
    pub turn_deg: f64,
    /// Whorls: ridges between traced ridge and right delta, positive inside.
    pub ridges_between: Option<i32>,
    /// Plain whorls and central pocket loops: circuit ridges that the line between the deltas cuts.
    pub recurves_cut: Option<u16>,
    /// Loops: delta and core between which was counted, `[x, y]` each.
    pub count_line: Option<[[f64; 2]; 2]>,
    /// Whorls: the traced ridge, `[x, y]` every few pixels.
    pub trace: Vec<[f64; 2]>,
    /// The seed that draws this print again.
    pub seed: u64,
}

/// The field beside a print: arrays by rows of cells.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FieldFile {
    /// The truth line.
    #[serde(flatten)]
    pub line: TruthLine,
    /// Edge of a cell in pixels; the cell `[r][c]` is centred at `(c + 0.5) * cell - 0.5`, `(r + 0.5) * cell - 0.5`.
    pub cell_px: usize,
    /// Ridge orientation in whole degrees modulo 180, -1 where nothing is printed.
    pub orientation_deg: Vec<Vec<i16>>,
    /// Ridge-to-ridge distance in tenths of a pixel, 0 where nothing is printed.
    pub period_tenth_px: Vec<Vec<u16>>,
}

/// Names by which kinds are asked for on the command line and in manifests.
pub const KIND_NAMES: [(&str, Kind); 20] = {
    let names = [
        "plain-arch",
        "tented-arch-angle",
        "tented-arch-upthrust",
        "tented-arch-loop-like",
        "left-loop",
        "right-loop",
        "plain-whorl-circle",
        "plain-whorl-oval",
        "plain-whorl-spiral-clockwise",
        "plain-whorl-spiral-counterclockwise",
        "plain-whorl-incomplete",
        "plain-whorl-s-type",
        "plain-whorl-interlocking",
        "central-pocket-recurve",
        "central-pocket-obstruction",
        "double-loop-clockwise",
        "double-loop-counterclockwise",
        "accidental-loop-and-tented-arch",
        "accidental-loop-and-whorl",
        "accidental-loop-and-double-loop",
    ];
    let mut out = [("", Kind::PlainArch); 20];
    let mut i = 0;
    while i < 20 {
        out[i] = (names[i], Kind::ALL[i]);
        i += 1;
    }
    out
};

/// The name of a kind.
pub fn kind_name(kind: Kind) -> &'static str {
    KIND_NAMES.iter().find(|(_, k)| *k == kind).map_or("", |(name, _)| name)
}

/// Lengths in a truth file are kept to hundredths.
fn rounded(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

fn place(p: Point) -> [f64; 2] {
    [rounded(p.x), rounded(p.y)]
}

fn mark(p: &TruePoint) -> TruthMark {
    TruthMark {
        x: rounded(p.at.x),
        y: rounded(p.at.y),
        r: 0.0,
        tight: p.tight,
        direction_deg: Some(rounded(p.direction.to_degrees())),
    }
}

/// What a point is called, by its side where there are several.
fn called(points: &[TruePoint], index: usize, what: &str, middle: f64) -> String {
    if what == "core" {
        return what.to_owned();
    }
    let side = match points.len() {
        3 => ["left", "middle", "right"][index.min(2)],
        _ if points[index].at.x < middle => "left",
        _ => "right",
    };
    format!("{side} {what}")
}

impl TruthLine {
    /// The truth of a drawn print under a file name.
    pub fn of(truth: &Truth, set: &str, file: &str, finger: Option<u8>, seed: u64) -> Self {
        let middle = truth.cores.iter().map(|c| c.at.x).sum::<f64>() / truth.cores.len().max(1) as f64;
        let (mut outside, mut edge_hint) = (Vec::new(), Vec::new());
        for (points, what) in [(&truth.cores, "core"), (&truth.deltas, "delta")] {
            for (index, point) in points.iter().enumerate() {
                let name = called(points, index, what, middle);
                if point.near_edge || (point.doubtful && point.printed) {
                    edge_hint.push(EdgeHint {
                        what: name.clone(),
                        x: rounded(point.at.x),
                        y: rounded(point.at.y),
                        r: 0.0,
                    });
                }
                if !point.printed {
                    outside.push(name);
                }
            }
        }
        let marked = |points: &[TruePoint]| points.iter().filter(|p| p.printed && !p.doubtful).map(mark).collect();
        Self {
            set: set.to_owned(),
            file: file.to_owned(),
            pattern: pattern_word(truth).to_owned(),
            subtype: subtype_word(truth).map(str::to_owned),
            tracing: truth.tracing,
            ridge_count: truth.ridge_count,
            cores: Some(marked(&truth.cores)),
            deltas: Some(marked(&truth.deltas)),
            outside,
            edge_hint,
            ppi: Some(rounded(truth.ppi)),
            ridge_period_px: Some(rounded(truth.ridge_period)),
            drawn: Some(DrawnFacts {
                kind: kind_name(truth.kind).to_owned(),
                quality: quality_word(truth.quality).to_owned(),
                framing: framing_word(truth.framing).to_owned(),
                finger,
                turn_deg: rounded(truth.turn.to_degrees()),
                ridges_between: truth.ridges_between,
                recurves_cut: truth.recurves_cut,
                count_line: truth.count_line.map(|line| line.map(place)),
                trace: truth.trace.iter().map(|p| place(*p)).collect(),
                seed,
            }),
        }
    }
}

impl FieldFile {
    /// The truth of a print with its field.
    pub fn of(print: &DrawnPrint, line: TruthLine) -> Self {
        let field = &print.truth.field;
        let rows = |f: &dyn Fn(usize, usize) -> f32| -> Vec<Vec<f32>> {
            let (rows, columns) = field.foreground.dim();
            (0..rows).map(|r| (0..columns).map(|c| f(r, c)).collect()).collect()
        };
        let degrees = rows(&|r, c| {
            if field.foreground[[r, c]] { field.orientation[[r, c]].to_degrees().round() % 180.0 } else { -1.0 }
        });
        let tenths = rows(&|r, c| if field.foreground[[r, c]] { (10.0 * field.period[[r, c]]).round() } else { 0.0 });
        Self {
            line,
            cell_px: TrueField::CELL,
            orientation_deg: degrees.into_iter().map(|row| row.into_iter().map(|v| v as i16).collect()).collect(),
            period_tenth_px: tenths.into_iter().map(|row| row.into_iter().map(|v| v as u16).collect()).collect(),
        }
    }
}

fn pattern_word(truth: &Truth) -> &'static str {
    match (truth.general, truth.kind) {
        (_, Kind::PlainArch) => "PLAIN_ARCH",
        (_, Kind::TentedArch(_)) => "TENTED_ARCH",
        (General::Ls, _) => "LEFT_LOOP",
        (General::Rs, _) => "RIGHT_LOOP",
        _ => "WHORL",
    }
}

fn subtype_word(truth: &Truth) -> Option<&'static str> {
    match truth.kind {
        Kind::PlainWhorl(_) => Some("PLAIN"),
        Kind::CentralPocket(_) => Some("CENTRAL_POCKET"),
        Kind::DoubleLoop(_) => Some("DOUBLE_LOOP"),
        Kind::Accidental(_) => Some("ACCIDENTAL"),
        _ => None,
    }
}

fn quality_word(quality: Quality) -> &'static str {
    match quality {
        Quality::Good => "good",
        Quality::Fair => "fair",
        Quality::Poor => "poor",
    }
}

fn framing_word(framing: Framing) -> &'static str {
    match framing {
        Framing::Rolled => "rolled",
        Framing::Plain => "plain",
        Framing::Crop => "crop",
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Tent, Wish, draw};
    use super::*;

    #[test]
    fn every_kind_has_a_name_of_its_own() {
        let mut names: Vec<_> = Kind::ALL.iter().map(|k| kind_name(*k)).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), Kind::ALL.len());
        assert!(!names.contains(&""));
    }

    #[test]
    fn points_off_the_print_are_named_outside_and_not_marked() {
        let wish = Wish { framing: Framing::Plain, ..Wish::of(Kind::RightLoop) };
        for seed in 0..12 {
            let truth = draw(&wish, seed).unwrap().truth;
            let line = TruthLine::of(&truth, "drawn", "a.png", None, seed);
            let marked = line.deltas.as_ref().map_or(0, Vec::len);
            assert_eq!(marked + line.outside.iter().filter(|w| w.contains("delta")).count(), 1);
            // A loop that opens to the right has its delta on the left (handbook, chapter II).
            assert!(line.outside.iter().all(|w| w != "right delta"));
        }
    }

    #[test]
    fn the_angle_of_a_tented_arch_asks_for_no_points() {
        let wish = Wish { framing: Framing::Crop, ..Wish::of(Kind::TentedArch(Tent::Angle)) };
        let mut asked_for_none = 0;
        for seed in 0..8 {
            let truth = draw(&wish, seed).unwrap().truth;
            let line = TruthLine::of(&truth, "drawn", "a.png", None, seed);
            // Core and delta less than two ridges apart: a reader may mark neither. Some angles are a little taller.
            let (core, delta) = (truth.cores[0], truth.deltas[0]);
            if core.doubtful && core.printed && delta.printed {
                assert!(delta.doubtful && core.at.distance(delta.at) < 2.4 * truth.ridge_period, "seed {seed}");
                assert_eq!((line.cores, line.deltas, line.edge_hint.len()), (Some(vec![]), Some(vec![]), 2));
                asked_for_none += 1;
            }
        }
        assert!(asked_for_none >= 4, "{asked_for_none} of 8");
    }
}
