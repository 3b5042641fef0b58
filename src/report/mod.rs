//! Proposals as JSON Lines, CSV and a table for people.
//!
//! Everything here reads a [`Proposal`] and decides nothing; every form carries the advisory sentence.

mod card_sheet;
mod card_text;
mod csv_table;
pub mod score;
mod summary;
mod words;

pub use card_sheet::{SheetFinger, card_page, sheet_html};
pub use card_text::{card_lines, form_in_words};
pub use csv_table::CsvTable;
pub use summary::{Counts, Summary};
pub use words::{percent, reading_in_words};

use crate::error::Error;
use crate::proposal::Proposal;

/// One line of JSON Lines, without the line's end.
///
/// # Errors
/// When the proposal cannot be expressed in JSON.
pub fn json_line(proposal: &Proposal) -> Result<String, Error> {
    serde_json::to_string(proposal)
        .map_err(|e| Error::bad_value(format!("proposal of {}", proposal.source), e.to_string()))
}

/// A text whose control characters (which a file name may hold) cannot steer a terminal.
///
/// ```
/// assert_eq!(recurve::report::printable("a\u{1b}[31m.png"), "a?[31m.png");
/// ```
pub fn printable(text: &str) -> String {
    text.chars().map(|c| if c.is_control() { '?' } else { c }).collect()
}
