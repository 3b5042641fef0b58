//! The result format of a whole card, `recurve.card/1`: one JSON line a card.

use super::doubts::Doubt;
use crate::card::{Card, Found, Holds};
use crate::error::Error;
use crate::formula::record::Record;
use crate::formula::text::written_readings;
use crate::formula::{self, Classification, TenFingers};
use crate::geometry::{Frame, direction_difference};
use crate::proposal::write::round;
use crate::proposal::{ADVISORY, Proposal};
use serde::Serialize;
use std::f64::consts::FRAC_PI_2;

/// The name and version of the format.
pub const CARD_SCHEMA: &str = "recurve.card/1";

/// How a form lies on the scan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FormRecord {
    /// The form's name.
    pub name: String,
    /// How sure the fingers are numbered right, 0 to 1.
    pub confidence: f64,
    /// Whether that is enough; otherwise the layout is a guess to be checked.
    pub sure: bool,
    /// Turn of the card on the image as given, degrees counter-clockwise, -180 to 180.
    pub turn_deg: f64,
    /// Pixels of the scan to an inch of the form.
    pub pixels_per_inch: f64,
}

/// One block, or one finger of a plain block.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BlockRecord {
    /// The block's name on the form, or the file of a print that was given singly.
    pub part: String,
    /// Finger position 1 to 10.
    pub finger: u8,
    /// What it holds; null for a print that was given singly.
    pub holds: Option<Holds>,
    /// Corners of the frame in pixels of the image as given, clockwise on the card from the block's own top left; null for a print that was
    /// given singly.
    pub corners: Option<[[f64; 2]; 4]>,
    /// The code of the proposed pattern (field 9.307 of ANSI/NIST-ITL); null when abstained.
    pub pattern: Option<String>,
    /// Its probability.
    pub probability: Option<f64>,
}

/// Everything said of a card.
#[derive(Debug, Clone, Serialize)]
pub struct CardRecord {
    /// Always [`CARD_SCHEMA`].
    pub schema: &'static str,
    /// Always [`ADVISORY`].
    pub advisory: &'static str,
    /// The scan, or the first of the single prints.
    pub source: String,
    /// Page of the scan, if it has several.
    pub part: Option<String>,
    /// The form and how it lies; null for a card of single prints.
    pub form: Option<FormRecord>,
    /// The ten rolled blocks, in finger order.
    pub rolled: Vec<BlockRecord>,
    /// The plain impressions.
    pub plain: Vec<BlockRecord>,
    /// What an examiner should look at.
    pub doubts: Vec<Doubt>,
    /// The classification; null when the calls allow none.
    pub formula: Option<Record>,
    /// Why there is no classification.
    pub formula_gap: Option<String>,
}

fn pattern_of(proposal: Option<&Proposal>) -> (Option<String>, Option<f64>) {
    let reading = proposal.and_then(|p| p.pattern);
    (reading.map(|r| format!("{:?}", r.general).to_ascii_uppercase()), reading.map(|r| r.probability))
}

impl BlockRecord {
    /// A block of a scanned card; `to_original` leads from the pixels of the scan, as it was read, to those of the image.
    pub fn of_block(found: &Found, proposal: Option<&Proposal>, to_original: &Frame) -> Self {
        let (pattern, probability) = pattern_of(proposal);
        let corners = found.place.corners().map(|p| to_original.apply(p)).map(|p| [round(p.x, 1), round(p.y, 1)]);
        Self {
            part: found.part.clone(),
            finger: found.finger,
            holds: Some(found.holds),
            corners: Some(corners),
            pattern,
            probability,
        }
    }

    /// A print that was given singly.
    pub fn of_single(proposal: &Proposal) -> Self {
        let (pattern, probability) = pattern_of(Some(proposal));
        Self {
            part: proposal.source.clone(),
            finger: proposal.finger.unwrap_or_default(),
            holds: None,
            corners: None,
            pattern,
            probability,
        }
    }
}

/// A turn as it is seen on the image that `to_original` leads to, radians.
fn turn_on(to_original: &Frame, turn: f64) -> f64 {
    direction_difference(to_original.direction(turn + FRAC_PI_2), FRAC_PI_2)
}

impl FormRecord {
    /// How the form of a card lies; `to_original` leads from the scan as it was read to the image as given.
    pub fn of(card: &Card, to_original: &Frame) -> Self {
        let lies = &card.registration;
        Self {
            name: lies.form.name.clone(),
            confidence: round(lies.confidence, 3),
            sure: card.sure,
            turn_deg: round(turn_on(to_original, lies.turn).to_degrees(), 2),
            pixels_per_inch: round(lies.pixels_per_inch, 1),
        }
    }
}

/// The classification of ten proposals in finger order.
///
/// A finger on which the program abstained is not one that cannot be classified: the rules of substitution are for the latter, and using
/// them would invent a pattern. Until an examiner calls it there is no classification.
///
/// # Errors
/// When a finger was not read, a finger is lacking or the settings refuse a substitution; finger and reason are named.
pub fn classification(proposals: &[Proposal], settings: &formula::Settings) -> Result<Classification, Error> {
    let card = TenFingers::from_proposals(proposals)?;
    let unread: Vec<String> =
        proposals.iter().filter(|p| p.pattern.is_none()).filter_map(|p| Some(p.finger?.to_string())).collect();
    if unread.is_empty() {
        return formula::classify(&card, settings);
    }
    let fingers = if unread.len() == 1 { "finger" } else { "fingers" };
    let reason =
        format!("not read; call it by eye and complete the calls with `recurve formula`: {}", calls(&card, &unread));
    Err(Error::bad_value(format!("{fingers} {}", unread.join(", ")), reason))
}

/// The calls as `recurve formula` takes them, a question mark for each finger that was not read.
fn calls(card: &TenFingers, unread: &[String]) -> String {
    let call = |call: &formula::FingerCall| {
        let number = call.finger.number().to_string();
        let read = if unread.contains(&number) { "?".to_owned() } else { written_readings(call) };
        format!("{number}={read}")
    };
    card.iter().map(call).collect::<Vec<_>>().join(" ")
}

impl CardRecord {
    /// A record with its classification filled in.
    pub fn new(
        source: String,
        part: Option<String>,
        form: Option<FormRecord>,
        blocks: (Vec<BlockRecord>, Vec<BlockRecord>),
        doubts: Vec<Doubt>,
        classification: &Result<Classification, Error>,
    ) -> Self {
        let (formula, formula_gap) = match classification {
            Ok(classification) => (Some(classification.record()), None),
            Err(error) => (None, Some(error.to_string())),
        };
        let (rolled, plain) = blocks;
        Self {
            schema: CARD_SCHEMA,
            advisory: ADVISORY,
            source,
            part,
            form,
            rolled,
            plain,
            doubts,
            formula,
            formula_gap,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn a_card_lies_turned_the_other_way_on_a_mirrored_scan() {
        assert_abs_diff_eq!(turn_on(&Frame::IDENTITY, 0.3), 0.3, epsilon = 1e-12);
        assert_abs_diff_eq!(turn_on(&Frame::mirror(80), 0.3), -0.3, epsilon = 1e-12);
        assert_abs_diff_eq!(turn_on(&Frame::new(2.0, 1.0, 5.0, 5.0), 0.3), 1.3, epsilon = 1e-12);
    }
}
