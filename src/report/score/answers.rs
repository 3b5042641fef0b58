//! What was answered: proposals as JSON Lines, or a trainee's sheet.

use super::truth::{base_name, subclass_code};
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

/// All answers by name.
#[derive(Debug, Clone, Default)]
pub struct Answers(HashMap<String, Answer>);

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
    best: Option<i64>,
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
            let source = line.source.clone();
            let answer = Answer::of(line);
            // A result answers to its file name and to its folder and file name.
            let parts: Vec<&str> = source.rsplit(['/', '\\']).take(2).collect();
            answers.0.insert(base_name(&source).to_owned(), answer.clone());
            if let [file, folder] = parts[..] {
                answers.0.insert(format!("{folder}/{file}"), answer);
            }
        }
        Ok(answers)
    }

    fn from_sheet(name: &str, text: &str) -> Result<Self, Error> {
        let mut answers = Self::default();
        let mut reader = csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
        for (index, row) in reader.deserialize::<SheetRow>().enumerate() {
            let place = format!("{name}, row {}", index + 2);
            let row = row.map_err(|e| Error::bad_value(&place, e.to_string()))?;
            answers.0.insert(base_name(&row.file).to_owned(), row.answer(&place)?);
        }
        Ok(answers)
    }

    /// The answer for a print, if there is one.
    pub fn get(&self, name: &str) -> Option<&Answer> {
        self.0.get(name)
    }
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
            ridge_count: line.loop_.and_then(|l| l.ridge_count).and_then(|c| c.best),
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
            text => Some(
                text.parse()
                    .map_err(|_| Error::bad_value(place, format!("`{text}` is no ridge count: a whole number")))?,
            ),
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
