//! What the handbook answers about its figures, `testdata/handbook/answers.csv`, and what a proposal says to the same question.

use super::Class;
use super::tally::{broad, class_of, named};
use recurve::Proposal;
use recurve::proposal::{General, Subclass, Tracing};
use serde::Deserialize;
use std::path::{Path, PathBuf};

/// What is asked about a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Rule {
    /// Plain arch, tented arch, loop or whorl.
    Pattern,
    /// Kind of whorl.
    Kind,
    /// Ridges between delta and core of a loop.
    Count,
    /// Tracing of a whorl.
    Tracing,
}

impl Rule {
    /// All, in the order of the tables.
    pub const ALL: [Rule; 4] = [Rule::Pattern, Rule::Kind, Rule::Count, Rule::Tracing];

    /// The word of the table.
    pub fn word(self) -> &'static str {
        ["pattern", "kind", "count", "tracing"][self as usize]
    }
}

/// A row of the table.
#[derive(Debug, Clone, Deserialize)]
pub struct Answer {
    /// Number of the figure.
    pub figure: u16,
    /// What is asked.
    pub rule: Rule,
    /// The handbook's answer.
    pub answer: String,
    /// Lines of the handbook's text that give it.
    pub lines: String,
    /// The single detail that decides, where the form of the whole does not; a picture of 190 px hardly shows it.
    pub turns_on: String,
}

/// What a proposal says to a question.
pub struct Ours {
    /// In words.
    pub text: String,
    /// Whether the preferred answer is the handbook's.
    pub right: bool,
    /// Whether the handbook's answer is the preferred one, a reference or inside the range given.
    pub shown: bool,
    /// By how much a count is off.
    pub off: Option<u16>,
}

/// All rows.
pub fn answers() -> Result<Vec<Answer>, csv::Error> {
    csv::Reader::from_path(folder().join("answers.csv"))?.deserialize().collect()
}

/// Where the figures lie in the project.
pub fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("testdata/handbook")
}

/// The words of a class as the handbook's answers have them: a figure's slant is not told.
pub fn class_words(class: Class) -> &'static str {
    match class {
        Class::PlainArch => "plain arch",
        Class::TentedArch => "tented arch",
        other => broad(other),
    }
}

/// The words of a kind of whorl.
pub fn kind_words(kind: Subclass) -> &'static str {
    match kind {
        Subclass::Pa => "plain arch",
        Subclass::Ta => "tented arch",
        Subclass::Pw => "plain whorl",
        Subclass::Cp => "central pocket loop",
        Subclass::Dl => "double loop",
        Subclass::Aw => "accidental",
    }
}

/// The words of a tracing.
pub fn tracing_words(tracing: Tracing) -> &'static str {
    match tracing {
        Tracing::I => "inner",
        Tracing::M => "meeting",
        Tracing::O => "outer",
    }
}

impl Answer {
    /// The file of the figure.
    pub fn file(&self) -> String {
        format!("fig{:03}.png", self.figure)
    }

    /// What a proposal says to this question. What is not answered is said by the pattern that is proposed instead.
    pub fn ours(&self, proposal: &Proposal) -> Ours {
        let pattern = proposal.pattern.as_ref().and_then(class_of).map_or("abstained", class_words);
        let readings = || proposal.pattern.iter().chain(&proposal.references);
        let instead = |shown: bool| Ours { text: format!("none ({pattern})"), right: false, shown, off: None };
        let said = |word: &str, shown: bool| Ours {
            text: word.to_owned(),
            right: word == self.answer,
            shown: shown || word == self.answer,
            off: None,
        };
        let whorl = proposal.pattern.filter(|p| p.general == General::Wu);
        match self.rule {
            Rule::Pattern => said(pattern, named(proposal, |c| class_words(c) == self.answer)),
            Rule::Kind => {
                let is = |s: Subclass| kind_words(s) == self.answer;
                let shown = readings().filter_map(|r| r.subclass).any(is);
                whorl.and_then(|p| p.subclass).map_or_else(|| instead(shown), |kind| said(kind_words(kind), shown))
            }
            Rule::Tracing => {
                let shown = readings().filter_map(|r| r.tracing).any(|t| tracing_words(t) == self.answer);
                let facts = proposal.whorl.and_then(|w| w.tracing);
                facts.map_or_else(|| instead(shown), |t| said(tracing_words(t.best), shown))
            }
            Rule::Count => match (proposal.loop_.and_then(|l| l.ridge_count), self.answer.parse::<u16>()) {
                (Some(count), Ok(truth)) => Ours {
                    text: format!("{} ({} to {})", count.best, count.min, count.max),
                    right: count.best == truth,
                    shown: (count.min..=count.max).contains(&truth),
                    off: Some(count.best.abs_diff(truth)),
                },
                _ => instead(false),
            },
        }
    }
}
