//! Which rows of the answers meet which prints of the truth.

use super::answers::{Answers, names_of};
use super::truth::TruthTable;
use std::collections::HashSet;

/// What did not pair off one to one between answers and truth.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Matching<'a> {
    /// Prints of the truth with a row.
    pub matched: usize,
    /// What the rows that meet no print of the truth call theirs.
    pub strangers: Vec<&'a str>,
    /// Prints with more than one row.
    pub repeated: Vec<&'a str>,
    /// Prints without a row.
    pub lacking: Vec<&'a str>,
}

impl<'a> Matching<'a> {
    /// Holds answers against the truth. A row for a print that the truth sets aside is no stranger.
    pub fn of(truth: &'a TruthTable, answers: &'a Answers) -> Self {
        let mut matching = Self::default();
        let mut known: HashSet<&str> = truth.set_aside.iter().map(String::as_str).collect();
        for print in truth.prints.iter().map(|print| print.name.as_str()) {
            known.insert(print);
            match answers.rows_for(print) {
                0 => matching.lacking.push(print),
                1 => matching.matched += 1,
                _ => {
                    matching.matched += 1;
                    matching.repeated.push(print);
                }
            }
        }
        matching.strangers =
            answers.prints().filter(|row| !names_of(row).iter().any(|name| known.contains(name.as_str()))).collect();
        matching
    }
}
