//! What is true of each print.

use crate::draw::truth_file::{EdgeHint, TruthLine, TruthMark};
use crate::error::Error;
use serde::Deserialize;
use std::collections::HashSet;

/// The truth of one print in the codes that proposals use.
#[derive(Debug, Clone, PartialEq)]
pub struct True {
    /// The name under which a result is looked up.
    pub name: String,
    /// General class by its code, or `LOOP` where the slant is not given.
    pub general: String,
    /// Subclass by its code.
    pub subclass: Option<String>,
    /// I, M or O.
    pub tracing: Option<String>,
    /// Ridge count of a loop.
    pub ridge_count: Option<i64>,
    /// Pixels per inch.
    pub ppi: Option<f64>,
    /// Ridge period in pixels, for prints of unknown scale.
    pub period: Option<f64>,
    /// Cores and deltas; None when no points were marked.
    pub points: Option<(Vec<TruthMark>, Vec<TruthMark>)>,
    /// Places where a reported point counts neither way.
    pub hints: Vec<EdgeHint>,
}

/// The truth of a set of prints.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct TruthTable {
    /// One a print, in the order of the file.
    pub prints: Vec<True>,
    /// Names of prints that the file holds but that are not scored: of another difficulty, or of no pattern that is scored.
    pub set_aside: HashSet<String>,
}

/// A row of the handbook's table.
#[derive(Debug, Deserialize)]
struct Row {
    file: String,
    pattern: String,
    subtype: String,
    ridge_count: String,
    difficulty: String,
    #[serde(default)]
    est_ridge_period_px: String,
}

/// The last part of a path, whichever way its folders are parted.
pub(super) fn base_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

impl TruthTable {
    /// Reads truth: a table with the columns file, pattern, subtype, ridge_count, difficulty when `name` ends in `.csv`, else
    /// JSON Lines ([`TruthLine`]). With `difficulty`, only rows of that difficulty are taken from a table.
    ///
    /// # Errors
    /// Naming the file, the line and what is wrong; and a wished difficulty where JSON Lines tell none.
    pub fn read(name: &str, text: &str, difficulty: Option<&str>) -> Result<Self, Error> {
        if name.to_ascii_lowercase().ends_with(".csv") {
            Self::from_csv(name, text, difficulty)
        } else if let Some(difficulty) = difficulty {
            let reason =
                format!("`{difficulty}` cannot be chosen: {name} tells no difficulty, only a table (.csv) does");
            Err(Error::bad_value("--difficulty", reason))
        } else {
            Self::from_json_lines(name, text)
        }
    }

    fn from_csv(name: &str, text: &str, difficulty: Option<&str>) -> Result<Self, Error> {
        let mut table = Self::default();
        for (index, row) in csv::Reader::from_reader(text.as_bytes()).deserialize::<Row>().enumerate() {
            let place = || format!("{name}, row {}", index + 2);
            let row = row.map_err(|e| Error::bad_value(place(), e.to_string()))?;
            if difficulty.is_some_and(|d| d != row.difficulty) || row.pattern.is_empty() {
                table.set_aside.insert(base_name(&row.file).to_owned());
                continue;
            }
            let general = match row.pattern.as_str() {
                "arch" => "AU",
                "loop" => "LOOP",
                "whorl" => "WU",
                other => return Err(Error::bad_value(place(), format!("`{other}` is not arch, loop or whorl"))),
            };
            let ridge_count: Option<i64> = row.ridge_count.trim().parse().ok();
            if let Some(count) = ridge_count.filter(|count| *count < 0) {
                return Err(Error::bad_value(place(), format!("`{count}` is no ridge count: none is below 0")));
            }
            let number = |text: &str| text.trim().parse::<f64>().ok().filter(|v| *v > 0.0);
            table.add(True {
                name: base_name(&row.file).to_owned(),
                general: general.to_owned(),
                subclass: subclass_code(&row.subtype).map(str::to_owned),
                tracing: None,
                ridge_count,
                ppi: None,
                period: number(&row.est_ridge_period_px),
                points: None,
                hints: Vec::new(),
            });
        }
        Ok(table)
    }

    fn from_json_lines(name: &str, text: &str) -> Result<Self, Error> {
        let mut table = Self::default();
        for (index, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
            let truth: TruthLine = serde_json::from_str(line).map_err(|e| {
                Error::bad_value(format!("{name}, line {}", index + 1), format!("no truth of a print: {e}"))
            })?;
            let name = name_of(&truth);
            if let Some(truth) = True::of(truth) {
                table.add(truth);
            } else {
                table.set_aside.insert(name);
            }
        }
        Ok(table)
    }

    /// Adds a print; a later line of the same name replaces the earlier one.
    fn add(&mut self, truth: True) {
        match self.prints.iter_mut().find(|p| p.name == truth.name) {
            Some(before) => *before = truth,
            None => self.prints.push(truth),
        }
    }
}

/// The name under which the result for a line of truth is looked up.
fn name_of(line: &TruthLine) -> String {
    let file = base_name(&line.file);
    // Sets that name their files alike are told apart by their folder.
    if line.set.starts_with("FVC") { format!("{}/{file}", line.set) } else { file.to_owned() }
}

impl True {
    /// From a line of a truth file; None for patterns that are not scored.
    fn of(line: TruthLine) -> Option<Self> {
        let (general, arch) = match line.pattern.as_str() {
            "PLAIN_ARCH" => ("AU", Some("PA")),
            "TENTED_ARCH" => ("AU", Some("TA")),
            "LEFT_LOOP" => ("LS", None),
            "RIGHT_LOOP" => ("RS", None),
            "WHORL" => ("WU", None),
            _ => return None,
        };
        let subclass = line.subtype.as_deref().and_then(subclass_code).or(arch);
        Some(Self {
            name: name_of(&line),
            general: general.to_owned(),
            subclass: subclass.map(str::to_owned),
            tracing: line.tracing.map(|t| format!("{t:?}")),
            ridge_count: line.ridge_count.map(i64::from),
            ppi: line.ppi.filter(|v| *v > 0.0),
            period: line.ridge_period_px.filter(|v| *v > 0.0),
            points: line.cores.map(|cores| (cores, line.deltas.unwrap_or_default())),
            hints: line.edge_hint,
        })
    }

    /// The pattern in five classes (six where a slant is not given): PA, TA, LS, RS, LOOP, WU.
    pub fn five_class(&self) -> &str {
        match (self.general.as_str(), self.subclass.as_deref()) {
            ("AU", Some(kind)) => kind,
            (general, _) => general,
        }
    }
}

/// The code of a subclass, from the handbook's words, from those of a truth file, or from the code itself.
pub(super) fn subclass_code(words: &str) -> Option<&'static str> {
    let normal = words.trim().to_ascii_lowercase().replace(['_', '-'], " ");
    Some(match normal.as_str() {
        "plain arch" | "pa" => "PA",
        "tented arch" | "ta" => "TA",
        "plain whorl" | "plain" | "pw" => "PW",
        "central pocket loop" | "central pocket" | "cp" => "CP",
        "double loop" | "dl" => "DL",
        "accidental" | "accidental whorl" | "aw" => "AW",
        _ => return None,
    })
}
