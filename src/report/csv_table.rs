//! Proposals as rows of a CSV table for spreadsheets and statistics.

use crate::error::Error;
use crate::proposal::{Proposal, Reading};
use serde::Serialize;
use std::fs::File;
use std::path::{Path, PathBuf};

/// Separates several values in one cell.
const SEPARATOR: &str = "; ";

/// A CSV file that grows by a row a proposal; the header is written with the first row.
#[derive(Debug)]
pub struct CsvTable {
    path: PathBuf,
    writer: csv::Writer<File>,
}

/// One row. Codes are those of the result format; an unknown value is an empty cell.
#[derive(Debug, Serialize)]
struct Row<'a> {
    source: &'a str,
    part: Option<&'a str>,
    finger: Option<u8>,
    status: &'static str,
    general: Option<String>,
    subclass: Option<String>,
    tracing: Option<String>,
    probability: Option<f64>,
    hand: Option<String>,
    ridge_count: Option<u16>,
    ridge_count_min: Option<u16>,
    ridge_count_max: Option<u16>,
    references: String,
    cores: usize,
    deltas: usize,
    off_print: String,
    ncic: Option<&'a str>,
    ppi: Option<f64>,
    ppi_from: Option<String>,
    ridge_period_px: Option<f64>,
    reasons: String,
    seconds: Option<f64>,
    advisory: &'a str,
}

impl CsvTable {
    /// Creates or replaces the file.
    ///
    /// # Errors
    /// [`Error::Io`] when that is not possible.
    pub fn create(path: &Path) -> Result<Self, Error> {
        let file = File::create(path).map_err(|source| failure(path, source))?;
        Ok(Self { path: path.to_owned(), writer: csv::Writer::from_writer(file) })
    }

    /// Adds a proposal.
    ///
    /// # Errors
    /// [`Error::Io`] when it cannot be written.
    pub fn add(&mut self, proposal: &Proposal) -> Result<(), Error> {
        self.writer.serialize(row(proposal)).map_err(|e| failure(&self.path, std::io::Error::other(e)))
    }

    /// Writes what is still held back.
    ///
    /// # Errors
    /// [`Error::Io`] when it cannot be written.
    pub fn finish(mut self) -> Result<(), Error> {
        self.writer.flush().map_err(|source| failure(&self.path, source))
    }
}

fn failure(path: &Path, source: std::io::Error) -> Error {
    Error::Io { path: path.to_owned(), action: "writing", source }
}

fn row(proposal: &Proposal) -> Row<'_> {
    let count = proposal.loop_.and_then(|facts| facts.ridge_count);
    let reference = |r: &Reading| format!("{} {:.3}", codes(r).join("/"), r.probability);
    let reason = |r: &crate::proposal::Reason| format!("{}: {}", r.rule, r.text);
    Row {
        source: &proposal.source,
        part: proposal.part.as_deref(),
        finger: proposal.finger,
        status: match proposal.status {
            crate::Status::Proposed => "proposed",
            crate::Status::Abstained => "abstained",
        },
        general: proposal.pattern.and_then(|p| code(&p.general)),
        subclass: proposal.pattern.and_then(|p| p.subclass).and_then(|s| code(&s)),
        tracing: proposal.pattern.and_then(|p| p.tracing).and_then(|t| code(&t)),
        probability: proposal.pattern.map(|p| p.probability),
        hand: proposal.loop_.and_then(|facts| facts.hand).and_then(|h| code(&h)),
        ridge_count: count.map(|c| c.best),
        ridge_count_min: count.map(|c| c.min),
        ridge_count_max: count.map(|c| c.max),
        references: proposal.references.iter().map(reference).collect::<Vec<_>>().join(SEPARATOR),
        cores: proposal.cores.len(),
        deltas: proposal.deltas.len(),
        off_print: proposal.off_print.join(SEPARATOR),
        ncic: proposal.ncic.as_deref(),
        ppi: proposal.image.ppi,
        ppi_from: code(&proposal.image.ppi_from),
        ridge_period_px: proposal.field.map(|f| f.ridge_period_px),
        reasons: proposal.reasons.iter().map(reason).collect::<Vec<_>>().join(SEPARATOR),
        seconds: proposal.seconds,
        advisory: &proposal.advisory,
    }
}

/// General class, subclass and tracing, as far as they are settled.
fn codes(reading: &Reading) -> Vec<String> {
    [code(&reading.general), reading.subclass.and_then(|s| code(&s)), reading.tracing.and_then(|t| code(&t))]
        .into_iter()
        .flatten()
        .collect()
}

/// The code under which a value stands in the result format.
fn code(value: &impl Serialize) -> Option<String> {
    serde_json::to_value(value).ok()?.as_str().map(str::to_owned)
}
