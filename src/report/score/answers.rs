//! What was answered: proposals as JSON Lines, or a trainee's sheet.

use super::truth::subclass_code;
use crate::error::Error;
use serde::Deserialize;
use std::collections::HashMap;

/// The answer for one print.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Answer {
    /// General class by its code; None when nothing was answered.
    pub general: Option<String>,
    /// Subclass by its code.
    pub subclass: Option<String>,
    /// I, M or O.
    pub tracing: Option<String>,
    /// Ridge count of a loop.
    pub ridge_count: Option<i64>,
    /// Probability of the reading, where one was given.
    pub probability: Option<f64>,
    /// The other readings named.
    pub references: Vec<OtherReading>,
    /// Reported cores and deltas; None when the answers hold no points.
    pub points: Option<[Vec<(f64, f64)>; 2]>,
    /// Whether a reading was proposed at all.
    pub proposed: bool,
}

/// Another reading that an answer names.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct OtherReading {
    /// General class by its code.
    pub general: Option<String>,
    /// Subclass by its code.
    pub subclass: Option<String>,
    /// I, M or O.
    pub tracing: Option<String>,
}

/// All answers, in the order of their rows.
#[derive(Debug, Clone, Default)]
pub struct Answers {
    /// What a row calls its print, and its answer.
    rows: Vec<(String, Answer)>,
    /// The rows that answer to a name.
    by_name: HashMap<String, Vec<usize>>,
}

/// As much of a proposal as is scored; anything else in the line is passed over.
#[derive(Debug, Deserialize)]
struct Line {
    source: String,
    #[serde(default)]
    status: String,
    #[serde(default)]
    pattern: Option<LineReading>,
    #[serde(default)]
    references: Vec<LineReading>,
    #[serde(default, rename = "loop")]
    loop_: Option<LineLoop>,
    #[serde(default)]
    cores: Vec<LinePoint>,
    #[serde(default)]
    deltas: Vec<LinePoint>,
}

#[derive(Debug, Deserialize)]
struct LineReading {
    general: Option<String>,
    #[serde(default)]
    subclass: Option<String>,
    #[serde(default)]
    tracing: Option<String>,
    #[serde(default)]
    probability: Option<f64>,
}

#[derive(Debug, Deserialize)]
struct LineLoop {
    #[serde(default)]
    ridge_count: Option<LineCount>,
}

#[derive(Debug, Deserialize)]
struct LineCount {
    #[serde(default)]
    best: Option<u32>,
}

#[derive(Debug, Deserialize)]
struct LinePoint {
    x: f64,
    y: f64,
}

/// A row of a trainee's sheet.
#[derive(Debug, Deserialize)]
struct SheetRow {
    file: String,
    #[serde(default)]
    pattern: String,
    #[serde(default)]
    subtype: String,
    #[serde(default)]
    tracing: String,
    #[serde(default)]
    ridge_count: String,
}

impl Answers {
    /// Reads answers: a sheet (`file,pattern,subtype,tracing,ridge_count`) when `name` ends in `.csv`, else proposals as JSON
    /// Lines.
    ///
    /// # Errors
    /// Naming the file, the line and what is wrong.
    pub fn read(name: &str, text: &str) -> Result<Self, Error> {
        if name.to_ascii_lowercase().ends_with(".csv") {
            Self::from_sheet(name, text)
        } else {
            Self::from_json_lines(name, text)
        }
    }

    fn from_json_lines(name: &str, text: &str) -> Result<Self, Error> {
        let mut answers = Self::default();
        for (index, line) in text.lines().enumerate().filter(|(_, line)| !line.trim().is_empty()) {
            let line: Line = serde_json::from_str(line)
                .map_err(|e| Error::bad_value(format!("{name}, line {}", index + 1), format!("no proposal: {e}")))?;
            answers.add(line.source.clone(), Answer::of(line));
        }
        Ok(answers)
    }

    fn from_sheet(name: &str, text: &str) -> Result<Self, Error> {
        let mut answers = Self::default();
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
        for (index, row) in reader.deserialize::<SheetRow>().enumerate() {
            let place = format!("{name}, row {}", index + 2);
            let row = row.map_err(|e| Error::bad_value(&place, e.to_string()))?;
            // Spreadsheets leave rows of separators behind.
            if row.file.is_empty() && row.pattern.is_empty() {
                continue;
            }
            answers.add(row.file.clone(), row.answer(&place)?);
        }
        Ok(answers)
    }

    fn add(&mut self, print: String, answer: Answer) {
        for name in names_of(&print) {
            self.by_name.entry(name).or_default().push(self.rows.len());
        }
        self.rows.push((print, answer));
    }

    /// The answer for a print, if there is one: that of its last row.
    pub fn get(&self, name: &str) -> Option<&Answer> {
        let row = *self.by_name.get(name)?.last()?;
        self.rows.get(row).map(|(_, answer)| answer)
    }

    /// How many rows answer for a print.
    pub fn rows_for(&self, name: &str) -> usize {
        self.by_name.get(name).map_or(0, Vec::len)
    }

    /// What each row calls its print, in order.
    pub fn prints(&self) -> impl ExactSizeIterator<Item = &str> {
        self.rows.iter().map(|(print, _)| print.as_str())
    }
}

/// The names to which a row answers: its file name, and its folder and file name, since sets may name their files alike.
pub(super) fn names_of(print: &str) -> Vec<String> {
    let mut parts = print.rsplit(['/', '\\']);
    let file = parts.next().unwrap_or(print);
    let mut names = vec![file.to_owned()];
    names.extend(parts.next().map(|folder| format!("{folder}/{file}")));
    names
}

impl Answer {
    fn of(line: Line) -> Self {
        let places = |points: Vec<LinePoint>| points.into_iter().map(|p| (p.x, p.y)).collect();
        let proposed = line.status == "proposed" && line.pattern.is_some();
        let reading = line.pattern;
        Self {
            general: reading.as_ref().and_then(|r| r.general.clone()),
            subclass: reading.as_ref().and_then(|r| r.subclass.clone()),
            tracing: reading.as_ref().and_then(|r| r.tracing.clone()),
            ridge_count: line.loop_.and_then(|l| l.ridge_count).and_then(|c| c.best).map(i64::from),
            probability: reading.as_ref().and_then(|r| r.probability),
            references: line
                .references
                .into_iter()
                .map(|r| OtherReading { general: r.general, subclass: r.subclass, tracing: r.tracing })
                .collect(),
            points: Some([places(line.cores), places(line.deltas)]),
            proposed,
        }
    }
}

impl SheetRow {
    fn answer(self, place: &str) -> Result<Answer, Error> {
        let normal = self.pattern.trim().to_ascii_lowercase().replace(['_', '-'], " ");
        let (general, arch) = match normal.as_str() {
            "" | "?" => return Ok(Answer::default()),
            "plain arch" | "arch" | "pa" | "a" | "aa" => ("AU", Some("PA")),
            "tented arch" | "ta" | "t" | "tt" => ("AU", Some("TA")),
            "left loop" | "ls" => ("LS", None),
            "right loop" | "rs" => ("RS", None),
            "whorl" | "wu" | "w" => ("WU", None),
            "plain whorl" | "central pocket loop" | "double loop" | "accidental" => ("WU", subclass_code(&normal)),
            other => {
                let reason =
                    format!("`{other}` is no pattern: PLAIN_ARCH, TENTED_ARCH, LEFT_LOOP, RIGHT_LOOP or WHORL");
                return Err(Error::bad_value(place, reason));
            }
        };
        let subtype = self.subtype.trim();
        let named = subclass_code(subtype);
        if named.is_none() && !subtype.is_empty() && subtype != "?" {
            let reason = format!("`{subtype}` is no subtype: PLAIN, CENTRAL_POCKET, DOUBLE_LOOP or ACCIDENTAL");
            return Err(Error::bad_value(place, reason));
        }
        let tracing = match self.tracing.trim().to_ascii_uppercase().as_str() {
            "" | "?" => None,
            "I" | "INNER" => Some("I"),
            "M" | "MEETING" => Some("M"),
            "O" | "OUTER" => Some("O"),
            other => return Err(Error::bad_value(place, format!("`{other}` is no tracing: I, M or O"))),
        };
        let ridge_count = match self.ridge_count.trim() {
            "" | "?" => None,
            text => Some(text.parse::<u32>().map(i64::from).map_err(|_| {
                Error::bad_value(place, format!("`{text}` is no ridge count: a whole number, none below 0"))
            })?),
        };
        let subclass = if general == "WU" { named.or(arch) } else { arch };
        Ok(Answer {
            general: Some(general.to_owned()),
            subclass: subclass.map(str::to_owned),
            tracing: tracing.map(str::to_owned),
            ridge_count,
            proposed: true,
            ..Answer::default()
        })
    }
}
