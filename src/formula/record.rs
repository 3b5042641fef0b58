//! The result as JSON.

use super::division::Over;
use super::margin::Margins;
use super::reference::{Change, Reference};
use super::standard::{StandardCode, standard_code};
use super::substitute::File;
use super::text::written_readings;
use super::written::Formula;
use super::{Classification, marks, ncic};
use crate::proposal::{ADVISORY, CardNotation, Reason};
use serde::Serialize;

/// The name and version of the format.
pub const FORMULA_SCHEMA: &str = "recurve.formula/1";

/// A classification as it is written to JSON.
#[derive(Debug, Clone, Serialize)]
pub struct Record {
    schema: &'static str,
    advisory: &'static str,
    fingers: Vec<FingerRecord>,
    file: File,
    formula: FormulaRecord,
    extensions: Vec<ExtensionRecord>,
    ncic: Option<String>,
    ncic_gap: Option<String>,
    search: Margins,
    preferred_probability: Option<f64>,
    references: Vec<ReferenceRecord>,
    references_cut: bool,
    reasons: Vec<Reason>,
}

#[derive(Debug, Clone, Serialize)]
struct FingerRecord {
    finger: u8,
    name: &'static str,
    call: String,
    classified_as: String,
    card_notation: CardNotation,
    ncic: Option<String>,
    #[serde(flatten)]
    standard: StandardCode,
}

#[derive(Debug, Clone, Serialize)]
struct FormulaRecord {
    line: String,
    numerator: String,
    denominator: String,
    amputation: bool,
    key: Option<u8>,
    major: Option<Over<String>>,
    primary: Over<u8>,
    secondary: Over<String>,
    small_letter_group: bool,
    subsecondary: Option<Over<String>>,
    #[serde(rename = "final")]
    final_: Option<u8>,
}

#[derive(Debug, Clone, Serialize)]
struct ExtensionRecord {
    name: &'static str,
    rows: Over<String>,
}

#[derive(Debug, Clone, Serialize)]
struct ReferenceRecord {
    #[serde(flatten)]
    formula: FormulaRecord,
    file: File,
    probability: Option<f64>,
    changes: Vec<ChangeRecord>,
}

#[derive(Debug, Clone, Serialize)]
struct ChangeRecord {
    finger: u8,
    from: String,
    to: String,
    because: &'static str,
    settle: String,
}

fn formula_record(formula: &Formula) -> FormulaRecord {
    FormulaRecord {
        line: formula.line(),
        numerator: formula.row(true),
        denominator: formula.row(false),
        amputation: formula.amputation,
        key: formula.key.map(|counted| counted.ridges),
        major: formula.major.map(|division| Over::new(division.row(true), division.row(false))),
        primary: formula.primary,
        secondary: Over::new(formula.secondary.numerator.to_string(), formula.secondary.denominator.to_string()),
        small_letter_group: formula.secondary.is_small_letter_group(),
        subsecondary: formula.subsecondary.map(|division| Over::new(division.row(true), division.row(false))),
        final_: formula.final_.map(|counted| counted.ridges),
    }
}

fn reference_record(reference: &Reference) -> ReferenceRecord {
    let change = |change: &Change| ChangeRecord {
        finger: change.finger.number(),
        from: change.from.clone(),
        to: change.to.clone(),
        because: change.because,
        settle: change.settle.clone(),
    };
    ReferenceRecord {
        formula: formula_record(&reference.formula),
        file: reference.file,
        probability: reference.probability,
        changes: reference.changes.iter().map(change).collect(),
    }
}

impl Classification {
    /// The classification as it is written to JSON.
    pub fn record(&self) -> Record {
        let finger = |call: &super::FingerCall| FingerRecord {
            finger: call.finger.number(),
            name: call.finger.name(),
            call: written_readings(call),
            classified_as: self.patterns.finger(call.finger).words(),
            card_notation: marks::mark(call, self.patterns.finger(call.finger)),
            ncic: ncic::encode_finger(call, self.settings.ncic).ok(),
            standard: standard_code(call),
        };
        let (ncic, ncic_gap) = match &self.ncic {
            Ok(code) => (Some(code.clone()), None),
            Err(error) => (None, Some(error.to_string())),
        };
        Record {
            schema: FORMULA_SCHEMA,
            advisory: ADVISORY,
            fingers: self.fingers.iter().map(finger).collect(),
            file: self.file,
            formula: formula_record(&self.formula),
            extensions: self.extensions.named().map(|(name, rows)| ExtensionRecord { name, rows }).collect(),
            ncic,
            ncic_gap,
            search: self.margins,
            preferred_probability: self.references.preferred_probability,
            references: self.references.list.iter().map(reference_record).collect(),
            references_cut: self.references.cut,
            reasons: self.reasons.clone(),
        }
    }
}
