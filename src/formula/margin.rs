//! How far around key and final a search goes.

use super::call::{Call, Count, FingerCall, GREATEST_COUNT, LEAST_COUNT, Patterns, TenFingers};
use super::key::Counted;
use super::settings::ReferenceSettings;
use super::written::Formula;
use serde::Serialize;

/// Counts from least to greatest, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Margin {
    /// Least count to be searched.
    pub least: u8,
    /// Greatest count to be searched.
    pub most: u8,
}

/// What is searched inside a group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
pub struct Margins {
    /// Finals to be searched.
    #[serde(rename = "final")]
    pub final_: Option<Margin>,
    /// Keys to be searched inside each final.
    pub key: Option<Margin>,
}

/// The margins of a search: two ridges on each side of final and key, and where the count is doubtful, two on each side of
/// its extremes.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. VII: final 17 is searched from 15 to 19; a final of 6, 7, 8 or 9 from
/// 4 to 11.
pub fn margins(card: &TenFingers, patterns: &Patterns, formula: &Formula, settings: &ReferenceSettings) -> Margins {
    let around = |counted: Option<Counted>| {
        let finger = counted?.finger;
        Some(margin(card.finger(finger), patterns.finger(finger).count()?, settings))
    };
    Margins { final_: around(formula.final_), key: around(formula.key) }
}

fn margin(call: &FingerCall, count: Count, settings: &ReferenceSettings) -> Margin {
    let noted = matches!(call.call, Call::Unprinted(Some(_)));
    let beyond = if noted { settings.naked_eye_margin } else { settings.search_margin };
    let (mut least, mut most) = extremes(call, count, settings);
    // Another count named for the same finger is another extreme of possibility.
    for other in call.references.iter().filter_map(|other| other.pattern.count()) {
        (least, most) = (least.min(other.least()), most.max(other.most()));
    }
    Margin {
        least: least.saturating_sub(beyond).max(LEAST_COUNT),
        most: most.saturating_add(beyond).min(GREATEST_COUNT),
    }
}

/// The extremes of possibility of a count: as given, or, where it is only marked doubtful, by the setting.
pub(crate) fn extremes(call: &FingerCall, count: Count, settings: &ReferenceSettings) -> (u8, u8) {
    if call.doubtful && count.least() == count.most() {
        let doubt = settings.doubtful_count;
        let least = count.least().saturating_sub(doubt).max(LEAST_COUNT);
        (least, count.most().saturating_add(doubt).min(GREATEST_COUNT))
    } else {
        (count.least(), count.most())
    }
}
