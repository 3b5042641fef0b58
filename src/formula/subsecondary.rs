//! The subsecondary: index, middle and ring fingers by count or tracing.

use super::call::{Pattern, Patterns};
use super::division::{LeftOut, Over};
use super::finger::{Finger, Place};
use super::settings::SubsecondaryGap;
use crate::proposal::Tracing;

/// Greatest count of the inner group (I); one more is O. Handbook, ch. IV and fig. 351.
const INDEX_INNER: u8 = 9;
/// The same for the middle finger.
const MIDDLE_INNER: u8 = 10;
/// The same for the ring finger.
const RING_INNER: u8 = 13;

/// The subsecondary: three places a hand, an arch leaving its place empty.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Subsecondary {
    /// Index, middle and ring of the right hand over those of the left.
    pub rows: Over<[Option<Tracing>; 3]>,
    /// Whether an empty place is written as a dash.
    pub dashed: bool,
}

impl Subsecondary {
    /// One row as written.
    pub fn row(&self, numerator: bool) -> String {
        let row = if numerator { self.rows.numerator } else { self.rows.denominator };
        row.iter()
            .map(|place| {
                place.map_or_else(
                    || {
                        if self.dashed { "-".to_owned() } else { String::new() }
                    },
                    |symbol| format!("{symbol:?}"),
                )
            })
            .collect()
    }
}

/// The symbol of one finger: I or O from the count of a loop, I, M or O from the tracing of a whorl, nothing from an arch.
///
/// # Errors
/// When count or tracing are lacking.
pub(crate) fn symbol(finger: Finger, pattern: &Pattern) -> Result<Option<Tracing>, LeftOut> {
    match pattern {
        Pattern::PlainArch | Pattern::TentedArch => Ok(None),
        Pattern::Whorl { tracing, .. } => tracing.map(Some).ok_or(LeftOut::NoTracing(finger)),
        Pattern::Loop { count, .. } => count
            .and_then(|count| count.group(|ridges| if ridges <= inner_limit(finger) { Tracing::I } else { Tracing::O }))
            .map(Some)
            .ok_or(LeftOut::NoCount(finger)),
    }
}

fn inner_limit(finger: Finger) -> u8 {
    match finger.place() {
        Place::Middle => MIDDLE_INNER,
        Place::Ring => RING_INNER,
        Place::Thumb | Place::Index | Place::Little => INDEX_INNER,
    }
}

/// The subsecondary classification of fingers 2, 3, 4 over 7, 8, 9.
///
/// Source: FBI, *The Science of Fingerprints* (1963), ch. IV, "The subsecondary classification", fig. 351.
///
/// # Errors
/// When a count or tracing that it needs is lacking.
pub fn subsecondary(patterns: &Patterns, gap: SubsecondaryGap) -> Result<Subsecondary, LeftOut> {
    let rows = Over::rows(|right| {
        let [index, middle, ring] = Finger::middle_three(right);
        let of = |finger| symbol(finger, patterns.finger(finger));
        Ok([of(index)?, of(middle)?, of(ring)?])
    })?;
    Ok(Subsecondary { rows, dashed: gap == SubsecondaryGap::Dash })
}
