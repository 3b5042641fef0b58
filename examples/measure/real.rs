//! Real prints: files, truth lines, screening many.

use super::Failure;
use super::shared::Class;
use super::shared::tally::call;
use indicatif::ProgressBar;
use rayon::prelude::*;
use recurve::draw::truth_file::TruthLine;
use recurve::intake::{self, IntakeSettings};
use recurve::screener::Examination;
use recurve::{Impression, Screener};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// Refuses with the name of what is not there.
pub fn require(data: &Path, needed: &[&str], set: &str) -> Result<(), Failure> {
    let missing: Vec<&str> = needed.iter().copied().filter(|name| !data.join(name).exists()).collect();
    if missing.is_empty() {
        return Ok(());
    }
    let there = if data.is_dir() { "the folder lacks" } else { "there is no such folder; needed are" };
    let names = missing.join(", ");
    Err(format!("{set} needs real prints in {}: {there} {names}. Name the folder with --data DIR.", data.display())
        .into())
}

/// One real print with what was seen on it.
pub struct Screened {
    /// The print.
    pub print: Impression,
    /// What was seen.
    pub seen: Examination,
}

impl Screened {
    /// The proposed class with its probability.
    pub fn call(&self) -> Option<(Class, f64)> {
        call(&self.seen.proposal)
    }
}

/// Screens the first print of each file, in the order of the files. Sources are named relative to `data`.
pub fn screen(data: &Path, files: &[PathBuf], ppi: Option<f64>, set: &str) -> Result<Vec<Screened>, Failure> {
    let screener = Screener::default();
    let settings = IntakeSettings { ppi, ..Default::default() };
    let progress = ProgressBar::new(files.len() as u64).with_message(set.to_owned());
    let screened = files
        .par_iter()
        .map(|file| {
            let mut prints = intake::read(&data.join(file), &settings)?;
            if prints.is_empty() {
                return Err(Failure::from(format!("{}: holds no print", file.display())));
            }
            let mut print = prints.remove(0);
            print.source = file.to_string_lossy().into_owned();
            let seen = screener.examine(&print)?;
            progress.inc(1);
            Ok(Screened { print, seen })
        })
        .collect();
    progress.finish_and_clear();
    screened
}

/// What one reader marked by eye on one print.
#[derive(Debug, Clone, Deserialize)]
pub struct Marked {
    /// Pattern and points.
    #[serde(flatten)]
    pub line: TruthLine,
    /// What else the reader thought possible.
    #[serde(default)]
    pub second_choice: Option<String>,
}

/// Reads the marks made by eye.
pub fn marks(data: &Path) -> Result<Vec<Marked>, Failure> {
    let text = std::fs::read_to_string(data.join("points.jsonl")).map_err(|e| format!("points.jsonl: {e}"))?;
    let read = |(i, line)| serde_json::from_str(line).map_err(|e| format!("points.jsonl, line {}: {e}", i + 1).into());
    text.lines().enumerate().filter(|(_, l)| !l.trim().is_empty()).map(read).collect()
}

/// The words of a pattern as readers and tables write it.
pub fn pattern_words(word: &str) -> String {
    word.to_lowercase().replace('_', " ")
}

/// The words of a class.
pub fn class_words(class: Class) -> &'static str {
    match class {
        Class::PlainArch => "plain arch",
        Class::TentedArch => "tented arch",
        Class::LeftLoop => "left loop",
        Class::RightLoop => "right loop",
        Class::Whorl => "whorl",
    }
}

/// The call with its probability in words.
pub fn call_words(call: Option<(Class, f64)>) -> String {
    call.map_or("abstained".into(), |(c, p)| format!("{} {p:.2}", class_words(c)))
}
